//! Names as people write them.

/// Lets people leave out the collection: `jig-5` for `targets/jig-5`.
pub(super) fn full_name(name: &str, collection: &str) -> String {
    if name.contains('/') { name.to_owned() } else { format!("{collection}/{name}") }
}

/// Names of a collection, which may be left out.
pub(super) fn full_names(names: &[String], collection: &str) -> Vec<String> {
    names.iter().map(|name| full_name(name, collection)).collect()
}

/// The filter of spots with a label.
pub(super) fn label_filter(label: &str) -> String {
    format!("label = \"{}\"", label.replace('\\', "\\\\").replace('"', "\\\""))
}
