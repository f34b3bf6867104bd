//! What people read: tables, JSON, errors.

pub(crate) mod error;
pub(crate) mod json;
pub(crate) mod table;
