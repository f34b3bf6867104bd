//! gRPC handlers of lakebeam.v1: validate, convert, call, convert.
//!
//! This crate holds the edge between the protocol and the domain: conversions, errors with rich details, paging, field
//! masks, the JSON mapping, and the tower layers around every call: who may call, request ids, deadlines. It must never contain SQL, physics or scoring, and
//! nothing below it may know of tonic or prost.

mod access;
mod admin_service;
mod ahead;
mod budget;
mod call;
mod catalog_service;
mod context;
mod convert;
mod crud;
mod documents;
pub mod edge;
mod error;
mod fleet_service;
mod ids;
mod json;
mod json_lines;
mod layer;
mod lines;
mod mask;
mod names;
mod paging;
mod parts;
mod reflect;
mod render;
mod report_service;
mod request;
mod resolve;
mod resource;
mod rules_service;
mod selection_service;
mod services;

pub use access::{Access, AccessLayer, AccessService, CallerLimits, Denial, Entry, Need, Secret, least_role};
pub use call::{CallEnd, CallObserver};
pub use context::{Caller, Context, Ids, Limits, RandomIds};
pub use convert::target::to as target_message;
pub use error::{ERROR_DOMAIN, Error, Reason, fault_reason};
pub use layer::{CallLayer, CallService, REQUEST_ID};
pub use render::{
    DocumentSource, LengthUnit, Paper, RenderError, RenderJob, RenderSource, Rendered, Renderer, ReportSettings,
    RunSource, TemplateCheck, TemplateFault, TemplateInfo,
};
pub use services::Services;
