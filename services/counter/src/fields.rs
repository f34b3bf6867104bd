//! What a form or an address holds: names with values, in their order.

/// Longest value, in characters; a longer one is cut, and then refused by what reads it.
const MAX_VALUE: usize = 4_000;
/// Most fields of a form.
const MAX_FIELDS: usize = 20_000;

/// Fields as they came.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Fields(Vec<(String, String)>);

impl Fields {
    /// Reads `a=1&b=2`.
    pub(crate) fn read(text: &[u8]) -> Self {
        let pairs = form_urlencoded::parse(text).take(MAX_FIELDS);
        Self(pairs.map(|(name, value)| (name.into_owned(), value.chars().take(MAX_VALUE).collect())).collect())
    }

    /// The value of a field without the white space around it; empty where there is none.
    pub(crate) fn get(&self, name: &str) -> &str {
        self.0.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value.trim())
    }

    /// Every value of a field.
    pub(crate) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.0.iter().filter(move |(known, _)| known == name).map(|(_, value)| value.trim())
    }

    pub(crate) fn has(&self, name: &str) -> bool {
        self.0.iter().any(|(known, _)| known == name)
    }

    /// Adds a field, unless it is empty: an address says only what was said.
    pub(crate) fn put(&mut self, name: impl Into<String>, value: impl Into<String>) {
        let value = value.into();
        if !value.is_empty() {
            self.0.push((name.into(), value));
        }
    }

    /// As it stands in an address.
    pub(crate) fn written(&self) -> String {
        form_urlencoded::Serializer::new(String::new()).extend_pairs(&self.0).finish()
    }
}

/// The fields of an address.
pub(crate) fn query(raw: Option<String>) -> Fields {
    Fields::read(raw.unwrap_or_default().as_bytes())
}

/// One value as it stands in an address.
pub(crate) fn encoded(value: &str) -> String {
    form_urlencoded::byte_serialize(value.as_bytes()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_are_read_in_any_script_and_written_back() {
        let fields = Fields::read("depth=18%27&name=%C3%BC+%26&empty=".as_bytes());
        assert_eq!((fields.get("depth"), fields.get("name"), fields.get("none")), ("18'", "ü &", ""));
        assert!(fields.has("empty") && !fields.has("none"));
        let mut again = Fields::default();
        for (name, value) in fields.0 {
            again.put(name, value);
        }
        assert_eq!(again.written(), "depth=18%27&name=%C3%BC+%26");
        assert_eq!(Fields::read(b"%ff=%00&&=x").get("none"), "");
    }
}
