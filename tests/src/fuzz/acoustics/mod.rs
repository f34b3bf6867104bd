//! Acoustics: any finite input gives a finite figure within its documented bounds, or a typed refusal that tells the truth.
//!
//! Functions that answer a `Result` are given any finite number; those that cannot refuse, the lengths, times and angles that there are.

mod interference;
mod pattern;
mod targets;
mod water;

use arbitrary::{Result, Unstructured};

/// The parts of the physics, by the first byte.
const PARTS: [fn(&mut Unstructured<'_>) -> Result<()>; 11] = [
    water::column,
    water::absorption,
    water::levels,
    targets::bottom,
    targets::strength,
    targets::geometry,
    pattern::aperture,
    pattern::table,
    interference::counts,
    interference::bands,
    interference::received,
];

pub(crate) fn target(data: &[u8]) {
    let Some((part, rest)) = data.split_first() else { return };
    if let Some(check) = PARTS.get(usize::from(*part) % PARTS.len()) {
        // Input that ends early has nothing more to check.
        let _ = check(&mut Unstructured::new(rest));
    }
}
