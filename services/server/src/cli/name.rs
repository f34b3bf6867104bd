//! A resource by its name.

use clap::Args;

/// A resource name.
#[derive(Debug, Args)]
pub(crate) struct Name {
    /// Such as spots/north-bar or runs/r7k2m.
    pub(crate) name: String,
}
