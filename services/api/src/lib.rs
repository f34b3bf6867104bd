//! gRPC handlers of lakebeam.v1: validate, convert, call, convert.
//!
//! This crate holds the edge between the protocol and the domain: conversions, errors with rich details, paging, field
//! masks, the JSON mapping, and the tower layer around every call. It must never contain SQL, physics or scoring, and
//! nothing below it may know of tonic or prost.

mod convert;
mod error;
mod mask;
mod names;
mod paging;
mod reflect;

pub use error::{ERROR_DOMAIN, Error, Reason, fault_reason};
