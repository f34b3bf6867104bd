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
    /// No fault itself: so many more were found than are listed.
    More(u32),
}

/// Most faults that are listed of one record or one request; those beyond are counted.
pub const MAX_FAULTS: usize = 100;

/// One fault of one record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Path of the field in the public API, such as `options[1].frequency_khz`.
    pub field: String,
    /// The kind of fault.
    pub reason: FaultReason,
    /// A sentence: what was given, what is accepted, what to do.
    pub message: String,
    /// Path of the other field of the record that bounds this one, if one does.
    pub beside: Option<String>,
}

impl Fault {
    /// Builds a fault.
    pub fn new(field: impl Into<String>, reason: FaultReason, message: impl Into<String>) -> Self {
        Self { field: field.into(), reason, message: message.into(), beside: None }
    }

    /// Prefixes the path, for a record inside a record.
    #[must_use]
    pub fn under(mut self, prefix: &str) -> Self {
        self.field = if self.field.is_empty() { prefix.to_owned() } else { format!("{prefix}.{}", self.field) };
        self
    }
}

/// A list of faults that does not grow without bound: the first [`MAX_FAULTS`] are kept and the rest are counted, so that
/// whatever is done with them afterwards takes a bounded time.
#[derive(Debug, Clone, Default)]
pub struct FaultList {
    listed: Vec<Fault>,
    more: u32,
}

impl FaultList {
    /// Adds one. The last entry of another list adds its count.
    pub fn push(&mut self, fault: Fault) {
        if let FaultReason::More(more) = fault.reason {
            self.more = self.more.saturating_add(more);
        } else if self.listed.len() < MAX_FAULTS {
            self.listed.push(fault);
        } else {
            self.more = self.more.saturating_add(1);
        }
    }

    /// Adds a fault of a field that has none yet, as far as the list shows.
    pub fn push_first_of_field(&mut self, fault: Fault) {
        if self.listed.iter().all(|known| known.field != fault.field) {
            self.push(fault);
        }
    }

    /// How many are listed.
    #[must_use]
    pub fn len(&self) -> usize {
        self.listed.len()
    }

    /// Whether there is no fault.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.listed.is_empty()
    }

    /// Those that are listed.
    pub fn iter(&self) -> std::slice::Iter<'_, Fault> {
        self.listed.iter()
    }

    /// The listed faults, and behind them the count of the others where there are any.
    #[must_use]
    pub fn into_vec(self) -> Vec<Fault> {
        let Self { mut listed, more } = self;
        if more > 0 {
            let message = format!("and {more} more; correct these first");
            listed.push(Fault::new("", FaultReason::More(more), message));
        }
        listed
    }
}

impl Extend<Fault> for FaultList {
    fn extend<I: IntoIterator<Item = Fault>>(&mut self, faults: I) {
        for fault in faults {
            self.push(fault);
        }
    }
}

impl FromIterator<Fault> for FaultList {
    fn from_iter<I: IntoIterator<Item = Fault>>(faults: I) -> Self {
        let mut list = Self::default();
        list.extend(faults);
        list
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault(number: usize) -> Fault {
        Fault::new(format!("holes[{number}]"), FaultReason::OutOfRange, "too far")
    }

    #[test]
    fn the_first_hundred_are_listed_and_the_rest_are_counted() {
        let inner: FaultList = (0..MAX_FAULTS + 7).map(fault).collect();
        let inner = inner.into_vec();
        assert_eq!(inner.len(), MAX_FAULTS + 1);
        assert_eq!(inner.last().unwrap().reason, FaultReason::More(7));
        let mut outer: FaultList = [fault(0)].into_iter().collect();
        outer.extend(inner.into_iter().map(|fault| fault.under("shelter")));
        let outer = outer.into_vec();
        assert_eq!(outer.len(), MAX_FAULTS + 1);
        assert_eq!(outer.last().unwrap().message, "and 8 more; correct these first");
    }

    #[test]
    fn a_short_list_is_a_plain_one() {
        let list: FaultList = (0..3).map(fault).collect();
        assert_eq!(list.into_vec(), (0..3).map(fault).collect::<Vec<_>>());
    }
}
