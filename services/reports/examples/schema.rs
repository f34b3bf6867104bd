//! Writes the data contract of every built-in template beside it.
//!
//! ```sh
//! cargo run -p reports --example schema -- report-templates
//! ```

use std::path::Path;

use reports::{Renderer, TemplateSource, typeset};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("name the folder of the templates")?;
    let renderer = Renderer::new(&TemplateSource::BuiltIn, std::sync::Arc::new(typeset))?;
    for template in renderer.templates() {
        let schema = reports::schema(&template.source_collection).ok_or("every template has data")?;
        let text = serde_json::to_string_pretty(&schema)? + "\n";
        std::fs::write(Path::new(&folder).join(template.id).join("schema.json"), text)?;
    }
    Ok(())
}
