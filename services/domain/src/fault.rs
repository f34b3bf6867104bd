//! A fault in a record: which field, what was given, what is accepted. Edges turn these into field violations or row errors.

/// Why a field was refused. Matched without a wildcard at every edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FaultReason {
    /// A required field is absent or empty.
    Missing,
    /// A number that is NaN or infinite.
    NotFinite,
    /// A number outside its accepted range.
    OutOfRange,
    /// Text longer than is accepted.
    TooLong,
    /// Text or structure that is not of the accepted form.
    BadForm,
    /// A value given twice that must be unique.
    Duplicate,
    /// Fields that are each fine but contradict each other.
    Contradiction,
    /// A reference to something that does not exist.
    Unknown,
}

/// One fault of one record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Path of the field in the public API, such as `options[1].frequency_khz`.
    pub field: String,
    /// The kind of fault.
    pub reason: FaultReason,
    /// A sentence: what was given, what is accepted, what to do.
    pub message: String,
}

impl Fault {
    /// Builds a fault.
    pub fn new(field: impl Into<String>, reason: FaultReason, message: impl Into<String>) -> Self {
        Self { field: field.into(), reason, message: message.into() }
    }

    /// Prefixes the path, for a record inside a record.
    #[must_use]
    pub fn under(mut self, prefix: &str) -> Self {
        self.field = if self.field.is_empty() { prefix.to_owned() } else { format!("{prefix}.{}", self.field) };
        self
    }
}
