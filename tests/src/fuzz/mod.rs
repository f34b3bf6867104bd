//! Fuzz targets: functions of any bytes that panic where the code under them breaks one of its promises.
//!
//! `cargo test` replays the inputs of `tests/fuzz/<target>`; `.ci/fuzz` looks for new ones. A target never fails because its input is bad,
//! and asserts more than that nothing panics.

mod acoustics;
mod bytes;
mod convert;
mod csv;
mod filter;
mod gpx;
mod json_lines;
mod page_token;
mod records;
mod resource_name;
mod wire;

/// A function of any bytes that panics at a broken promise.
pub type Target = fn(&[u8]);

/// Every target with its name, which is also that of the folder with its inputs.
pub const TARGETS: &[(&str, Target)] = &[
    ("acoustics", acoustics::target),
    ("convert", convert::target),
    ("csv", csv::target),
    ("filter", filter::target),
    ("gpx", gpx::target),
    ("json_lines", json_lines::target),
    ("page_token", page_token::target),
    ("resource_name", resource_name::target),
    ("wire", wire::target),
];

/// The target of a name.
#[must_use]
pub fn find(name: &str) -> Option<Target> {
    TARGETS.iter().find(|(known, _)| *known == name).map(|(_, target)| *target)
}

/// The names of all targets.
#[must_use]
pub fn names() -> Vec<&'static str> {
    TARGETS.iter().map(|(name, _)| *name).collect()
}
