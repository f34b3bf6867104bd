//! Records that a decision was made without.

use domain::{Fault, Id};

/// A record that could not be used. It is listed and stops nothing else.
#[derive(Debug, Clone, PartialEq)]
pub struct LeftOut {
    /// Its resource name, such as `bookings/saturday`.
    pub name: String,
    /// All that is wrong with it, or what of it is not used.
    pub faults: Vec<Fault>,
}

impl LeftOut {
    /// All that is wrong with it, in a line.
    #[must_use]
    pub fn text(&self) -> String {
        self.faults.iter().map(|fault| fault.message.as_str()).collect::<Vec<_>>().join("; ")
    }

    /// A record of a collection.
    pub(crate) fn new(collection: &str, id: &Id, faults: Vec<Fault>) -> Self {
        Self { name: format!("{collection}/{id}"), faults }
    }
}
