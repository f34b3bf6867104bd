//! Why a decision could not be computed.

use acoustics::units::Metres;
use domain::{Cancelled, Fault};

/// Errors of this crate. Messages say what was given, what is accepted and what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanningError {
    /// The input has faults; all of them are listed.
    #[error("the run has {} fault(s); the first: {}", .0.len(), .0.first().map_or("", |fault| fault.message.as_str()))]
    Faults(Vec<Fault>),
    /// A shelter's floor, less its wall clearance, has no room for a hole.
    #[error(
        "shelter '{shelter}' has no room for a hole {} m from every wall; use a larger floor or a smaller wall clearance",
        clearance.get()
    )]
    NoRoomForHole {
        /// The shelter.
        shelter: String,
        /// Its wall clearance.
        clearance: Metres,
    },
    /// The holes come closer together than the ice between them allows.
    #[error(
        "shelter '{shelter}' cannot take {people} holes: the best layout found leaves {:.3} m between centres and {:.3} m are needed; use fewer people, a larger floor or a smaller web of ice",
        spacing.get(), needed.get()
    )]
    HolesTooClose {
        /// The shelter.
        shelter: String,
        /// How many holes were asked for.
        people: u32,
        /// Least distance between centres in the best layout found.
        spacing: Metres,
        /// Least distance that is allowed.
        needed: Metres,
    },
    /// The caller cancelled the work.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// A spot or an option that the run does not have.
    #[error("{what} {given} is asked for; accepted: 0 to {last}; use an index of the run")]
    UnknownIndex {
        /// `spot` or `option`.
        what: &'static str,
        /// What was given.
        given: usize,
        /// The last one there is.
        last: usize,
    },
}
