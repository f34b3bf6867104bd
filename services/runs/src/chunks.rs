//! How a run is cut into chunks.

use std::ops::Range;

/// Most spots of a chunk.
const MAX_SPOTS: u32 = 64;
/// About as many evaluations as a chunk should hold: large enough that a transaction is worth its sync, small enough that
/// a chunk is done well within the time that a stopping service has.
const EVALUATIONS: u64 = 40_000;

/// How many spots go into one chunk. Draws are evaluations too.
pub(crate) fn spots_per_chunk(options: usize, draws: u32) -> u32 {
    // A count beyond 64 bits is as good as the largest.
    let options = u64::try_from(options).unwrap_or(u64::MAX);
    let per_spot = options.saturating_mul(u64::from(draws) + 1).max(1);
    u32::try_from(EVALUATIONS / per_spot).unwrap_or(MAX_SPOTS).clamp(1, MAX_SPOTS)
}

/// The spots of a chunk.
pub(crate) fn spots_of(chunk: u32, size: u32, spots: u32) -> Range<usize> {
    let start = chunk.saturating_mul(size).min(spots);
    let end = start.saturating_add(size).min(spots);
    index(start)..index(end)
}

/// An index; every target that this builds for has at least 32 bits of them.
fn index(number: u32) -> usize {
    usize::try_from(number).unwrap_or(usize::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn draws_make_chunks_smaller() {
        assert_eq!(spots_per_chunk(24, 0), 64);
        assert_eq!(spots_per_chunk(1_000, 0), 40);
        assert_eq!(spots_per_chunk(24, 1_000), 1);
        assert_eq!(spots_per_chunk(0, 0), 64);
        assert_eq!(spots_per_chunk(usize::MAX, u32::MAX), 1);
    }

    proptest! {
        #[test]
        fn chunks_make_up_the_whole(spots in 0_u32..500, size in 1_u32..70) {
            let all: Vec<usize> = (0..spots.div_ceil(size)).flat_map(|chunk| spots_of(chunk, size, spots)).collect();
            prop_assert_eq!(all, (0..usize::try_from(spots).unwrap()).collect::<Vec<_>>());
        }
    }
}
