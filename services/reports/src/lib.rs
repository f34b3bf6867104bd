//! PDF reports: the typst world, the templates' data, and rendering.
//!
//! The only crate that knows typst. It takes stored results with what was computed for drawing, never a database, and hands back bytes
//! that depend on nothing else. It must never contain physics, scoring, SQL or protocol types.

mod clean;
mod comparison;
mod error;
mod render;
mod templates;
mod world;

pub use comparison::{Comparison, LengthUnit, Paper, Settings, SpotPicture};
pub use error::{ReportError, TemplateFault};
pub use render::{Checked, Rendered, Renderer};
pub use templates::{TemplateInfo, TemplateSource};
