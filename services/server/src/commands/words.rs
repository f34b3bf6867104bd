//! Names of the protocol as people write them.

/// `BOTTOM_CLASS_ORGANIC_OOZE`, of the enum whose names begin with `BOTTOM_CLASS_`, as people write it: `organic ooze`.
pub(super) fn words(prefix: &str, name: &str) -> String {
    name.strip_prefix(prefix).unwrap_or(name).to_lowercase().replace('_', " ")
}
