//! Data contracts: what a template may count on, as JSON Schema (draft 2020-12), made from the very types that are handed over.

use schemars::generate::SchemaSettings;
use serde_json::Value;

use crate::comparison;
use crate::document;

/// The contract of the data of reports on a collection, such as `runs`; none where there are no reports on it.
#[must_use]
pub fn schema(collection: &str) -> Option<Value> {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let mut schema = if collection == "runs" {
        generator.into_root_schema_for::<comparison::Data>()
    } else {
        document::schema(&proto::Document::decode(collection, &[]).ok()??, generator)
    };
    schema.insert("title".to_owned(), format!("Data of a report on {collection}").into());
    Some(schema.to_value())
}
