//! The lakebeam.v1 protocol: generated messages, clients, servers, and the descriptor set.
//!
//! What is generated from the .proto files beside this crate, the codec that all methods share, and which messages are kept.

#![allow(missing_docs, unreachable_pub, clippy::all, clippy::pedantic, clippy::restriction)]

pub mod codec;
mod kept;

pub use kept::{COLLECTIONS, Document, Kept};

/// Package lakebeam.v1.
pub mod v1 {
    tonic::include_proto!("lakebeam.v1");
}

/// The encoded descriptor set of lakebeam.v1 and all that it imports, field behaviour annotations included.
pub const FILE_DESCRIPTOR_SET: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/lakebeam.v1.fds"));
