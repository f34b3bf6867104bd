//! How a run is cut: ranges of spots, each computed and stored as one.

use std::ops::Range;

/// Most spots of a chunk.
const MAX_SPOTS: usize = 64;
/// About as many evaluations as a chunk should hold: large enough that a transaction is worth its sync, small enough that
/// a chunk is done well within the time that a stopping service has.
const EVALUATIONS: u64 = 40_000;

/// How many spots go into one chunk. Draws are evaluations too.
#[must_use]
pub(crate) fn spots_per_chunk(options: usize, draws: u32) -> usize {
    // Lossless: usize is at most 64 bits.
    let per_spot = (options as u64).saturating_mul(u64::from(draws) + 1).max(1);
    usize::try_from(EVALUATIONS / per_spot).unwrap_or(MAX_SPOTS).clamp(1, MAX_SPOTS)
}

/// The ranges of spots that are still to be done: all of them, less those that are stored, cut to `size`.
pub(crate) fn remaining(spots: usize, done: &[Range<usize>], size: usize) -> Vec<Range<usize>> {
    let mut done = done.to_vec();
    done.sort_by_key(|range| range.start);
    let mut gaps = Vec::new();
    let mut next = 0;
    for range in done.into_iter().chain([spots..spots]) {
        if range.start > next {
            gaps.push(next..range.start.min(spots));
        }
        next = next.max(range.end);
    }
    gaps.into_iter()
        .flat_map(|gap| {
            let end = gap.end;
            gap.step_by(size.max(1)).map(move |start| start..(start + size.max(1)).min(end))
        })
        .collect()
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
        /// What is done and what remains make up the whole, each spot once, in order.
        #[test]
        fn done_and_remaining_make_up_the_whole(cuts in proptest::collection::vec(0_usize..200, 0..20), size in 1_usize..40) {
            let spots = 200;
            let mut cuts = cuts;
            cuts.extend([0, spots]);
            cuts.sort_unstable();
            // Every other piece counts as done.
            let done: Vec<_> = cuts.windows(2).step_by(2).map(|pair| pair[0]..pair[1]).collect();
            let rest = remaining(spots, &done, size);
            prop_assert!(rest.iter().all(|range| !range.is_empty() && range.len() <= size));
            let mut all: Vec<usize> = done.iter().chain(&rest).cloned().flatten().collect();
            prop_assert!(rest.windows(2).all(|pair| pair[0].end <= pair[1].start));
            all.sort_unstable();
            prop_assert_eq!(all, (0..spots).collect::<Vec<_>>());
        }
    }
}
