//! The SQLite store, and import and export.
//!
//! The only crate that knows SQL and file formats of records. Records are domain types; how they lie in a column or in a
//! file is this crate's own view. It must never contain protocol types, physics or scoring, and it reads no clock: every
//! write is told who writes and when.

mod document;
mod error;
pub mod exchange;
pub mod filter;
mod import;
mod key;
mod kinds;
mod nearest;
mod remove;
mod report;
mod resource;
mod rows;
mod run;
mod store;
mod token;
mod view;

pub use document::Document;
pub use error::StoreError;
pub use import::{Commit, Existing, Fed, Feed, ImportMode, ImportOutcome, LISTED_FAULTS, Skip, feed};
pub use kinds::{Resource, files_of, tables};
pub use nearest::nearest;
pub use remove::{Purge, Purged, Referrers};
pub use report::{NewReport, StoredReport};
pub use resource::{ListQuery, Page, Stored};
pub use run::{FindingKey, FindingsQuery, NewRun, RunState, StoredRun};
pub use store::{
    Aside, AuditEntry, Condition, FoundTables, OpenOptions, Role, Store, StoredToken, Synchronous, TableFile, Write,
    WriterWait, back_up, restore,
};
pub use token::NewToken;
