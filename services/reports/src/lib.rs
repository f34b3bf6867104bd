//! PDF reports: the typst world, the templates' data, and rendering.
//!
//! The only crate that knows typst. It takes stored results with what was computed for drawing, never a database, and hands back bytes
//! that depend on nothing else. It must never contain physics, scoring, SQL or protocol types.

mod clean;
mod comparison;
mod contract;
mod document;
mod error;
mod job;
mod length;
mod logo;
#[cfg(test)]
mod readers;
mod render;
mod settings;
mod speech;
mod templates;
mod wording;
mod world;

pub use comparison::{Advice, Comparison, SpotPicture, Told};
pub use contract::schema;
pub use document::{AtTheDoor, Document};
pub use domain::words::{Words, put_in};
pub use error::{ReportError, TemplateFault};
pub use job::{Job, Typeset};
pub use logo::{Logo, MAX_LOGO_BYTES};
pub use render::{Checked, Rendered, Renderer, Report, Sandbox, typeset};
pub use settings::{Paper, Settings};
pub use speech::{Speaker, Speech};
pub use templates::{TemplateInfo, TemplateSource};
pub use wording::LengthUnit;
