//! gRPC handlers of lakebeam.v1: validate, convert, call, convert.
//!
//! This crate holds the edge between the protocol and the domain: conversions, errors with rich details, paging, field
//! masks, the JSON mapping, and the tower layer around every call. It must never contain SQL, physics or scoring, and
//! nothing below it may know of tonic or prost.

mod convert;
mod error;
mod json;
mod json_lines;
mod layer;
mod mask;
mod names;
mod paging;
mod reflect;
mod render;
mod resource;

pub use error::{ERROR_DOMAIN, Error, Reason, fault_reason};
pub use layer::{CallLayer, CallService, REQUEST_ID};
pub use render::{
    LengthUnit, Paper, RenderError, RenderJob, Rendered, Renderer, ReportSettings, TemplateCheck, TemplateFault,
    TemplateInfo,
};

/// Makes identifiers of requests, runs and errors. A trait, because randomness stays out of tests.
pub trait Ids: Send + Sync {
    /// A new identifier: 1 to 40 lower-case letters and digits, never given out before.
    fn next(&self) -> String;
}

/// Random identifiers.
#[derive(Debug, Clone, Copy, Default)]
pub struct RandomIds;

impl Ids for RandomIds {
    fn next(&self) -> String {
        uuid::Uuid::new_v4().simple().to_string()
    }
}
