//! The ways in which a unit and its neighbour may hang over a bottom where nobody said how.

use std::f64::consts::FRAC_PI_2;
use std::sync::Arc;

use acoustics::bottom::BistaticScatter;
use acoustics::interference::{HungBeam, Pair};
use acoustics::pattern::Pattern;
use acoustics::units::Angle;

/// Headings of an oblong beam against the line to the other unit, with the part of all headings that each stands for: it hangs on its cable and
/// is turned as it comes. The two extremes stand for all between them: what is heard for longest is one of them, and four pairs of headings on both lies of a
/// slope cost a quarter of what nine do.
const OBLONG: [(f64, f64); 2] = [(0.0, 0.5), (FRAC_PI_2, 0.5)];
/// A round one has none.
const ROUND: [(f64, f64); 1] = [(0.0, 1.0)];
/// How a slope lies against that line: along it and across it. A shelter stands as it comes.
const UPHILL: [f64; 2] = [0.0, FRAC_PI_2];

fn headings(pattern: &Pattern) -> &'static [(f64, f64)] {
    if pattern.is_round() { &ROUND } else { &OBLONG }
}

/// Every way of two beams over a bottom, with how likely each is; the likelihoods add up to one. The listener leans by that much along the line, one way
/// or the other.
pub(crate) fn ways(
    [talker, listener]: [&Arc<Pattern>; 2],
    scatter: BistaticScatter,
    (slope, lean): (f64, f64),
) -> Vec<(Pair, f64)> {
    let alike = Arc::ptr_eq(talker, listener) && slope == 0.0 && lean == 0.0;
    let uphill: &[f64] = if slope == 0.0 { &[0.0] } else { &UPHILL };
    let leans: &[f64] = if lean == 0.0 { &[0.0] } else { &[lean, -lean] };
    let hung = |pattern: &Arc<Pattern>, heading, lean| {
        HungBeam::new(Arc::clone(pattern), Angle::new(heading), Angle::new(lean))
    };
    let mut ways = Vec::new();
    for (first, (from, from_part)) in headings(talker).iter().enumerate() {
        for (second, (to, to_part)) in headings(listener).iter().enumerate() {
            // What one sends and the other hears is the same the other way round.
            if alike && second < first {
                continue;
            }
            let twice = if alike && second > first { 2.0 } else { 1.0 };
            for uphill in uphill {
                for lean in leans {
                    let (talker, listener) = (hung(talker, *from, 0.0), hung(listener, *to, *lean));
                    let pair = Pair::sloping(talker, listener, scatter, Angle::new(slope), Angle::new(*uphill));
                    ways.push((pair, twice * from_part * to_part));
                }
            }
        }
    }
    let total: f64 = ways.iter().map(|(_, part)| part).sum();
    ways.iter_mut().for_each(|(_, part)| *part /= total);
    ways
}
