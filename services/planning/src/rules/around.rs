//! Other shelters around one: where their holes are, in the worst of some arrangements.
//!
//! Copies of the shelter stand on all sides at one clear distance, in two rings: 24 around a rectangular floor, 18 around a round one. All stand as
//! the shelter does, or each is the mirror image of the one beside it, so that the holes nearest to a wall face each other across the gap, which is as near as holes of two
//! such shelters can be. Each hole of the shelter is judged in both arrangements. More shelters than these do not fit at that distance within two rings; what lies beyond
//! them is left out: it is farther than twice the clear distance and a floor. The arrangement is ASSUMED: none was found published.
//!
//! Distances lie in bins of [`RATIO`], and whatever is in a bin counts as the worse of its two ends: a rule then does not hang on where a null of a beam
//! happens to lie.

use domain::{Floor, Point, Shelter};

/// Rings of shelters around one.
const RINGS: i32 = 2;
/// Distances at the ends of bins: the first, m, the ratio from one to the next, and how many, up to 118 m. Nearer and farther ones count as the ends.
const FIRST: f64 = 0.4;
const RATIO: f64 = 1.04;
const NODES: u32 = 146;

/// Distances at the ends of the bins, m.
pub(super) fn nodes() -> Vec<f64> {
    (0..NODES).map(|node| FIRST * libm::pow(RATIO, f64::from(node))).collect()
}

/// What one hole of a shelter sees of the shelters around.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Outlook {
    pub(super) hole: usize,
    /// Bins with the number of holes in each.
    pub(super) bins: Vec<(u16, u16)>,
}

/// What the holes of a shelter see of shelters like it at a clear distance between their floors, m.
pub(super) fn outlooks(shelter: &Shelter, holes: &[Point], clear: f64) -> Vec<Outlook> {
    let holes: Vec<[f64; 2]> = holes.iter().map(|hole| [hole.x.get(), hole.y.get()]).collect();
    let nodes = nodes();
    let mut found: Vec<Outlook> = Vec::new();
    for mirrored in [false, true] {
        let others = copies(&shelter.floor, &holes, clear, mirrored);
        for (hole, own) in holes.iter().enumerate() {
            let mut counts = vec![0_u16; nodes.len()];
            for other in &others {
                let distance = libm::hypot(other[0] - own[0], other[1] - own[1]);
                if let Some(count) = counts.get_mut(bin(&nodes, distance)) {
                    *count = count.saturating_add(1);
                }
            }
            let bins = (0_u16..).zip(counts).filter(|(_, count)| *count > 0).collect();
            let outlook = Outlook { hole, bins };
            if !found.contains(&outlook) {
                found.push(outlook);
            }
        }
    }
    found
}

/// The bin of a distance: from the node of its number to the next. Rounding must not lift a distance over the end of its bin.
fn bin(nodes: &[f64], distance: f64) -> usize {
    let passed = nodes.partition_point(|node| *node <= distance * (1.0 + 1.0e-9));
    passed.saturating_sub(1).min(nodes.len().saturating_sub(2))
}

/// Holes of the shelters around one.
fn copies(floor: &Floor, holes: &[[f64; 2]], clear: f64, mirrored: bool) -> Vec<[f64; 2]> {
    let steps = || (-RINGS..=RINGS).flat_map(|a| (-RINGS..=RINGS).map(move |b| (a, b))).filter(|at| *at != (0, 0));
    let mut found = Vec::new();
    match floor {
        Floor::Rectangle { length, width } => {
            let (length, width) = (length.get(), width.get());
            let along = |step: i32, side: f64, hole: f64| {
                let flipped = mirrored && step % 2 != 0;
                f64::from(step) * (side + clear) + if flipped { side - hole } else { hole }
            };
            for (a, b) in steps() {
                found.extend(holes.iter().map(|[x, y]| [along(a, length, *x), along(b, width, *y)]));
            }
        }
        Floor::Circle { diameter } => {
            let (pitch, middle) = (diameter.get() + clear, 0.5 * diameter.get());
            for (a, b) in steps().filter(|(a, b)| (a + b).abs() <= RINGS) {
                // Centres of a triangular lattice.
                let (east, north) = (f64::from(a) + 0.5 * f64::from(b), f64::from(b) * 0.5 * libm::sqrt(3.0));
                let far = libm::hypot(east, north);
                let (ex, ey) = (east / far, north / far);
                for [x, y] in holes {
                    let (px, py) = (x - middle, y - middle);
                    let towards = if mirrored { 2.0 * (px * ex + py * ey) } else { 0.0 };
                    found.push([middle + pitch * east + px - towards * ex, middle + pitch * north + py - towards * ey]);
                }
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLEAR: f64 = 3.0;

    fn least(others: &[[f64; 2]], own: [f64; 2]) -> f64 {
        others.iter().map(|other| libm::hypot(other[0] - own[0], other[1] - own[1])).fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn two_rings_stand_around_each_floor_and_holes_at_facing_walls_are_nearest() {
        use acoustics::units::Metres;
        let rectangle = Floor::Rectangle { length: Metres::new(4.0), width: Metres::new(2.4) };
        let circle = Floor::Circle { diameter: Metres::new(3.0) };
        // A hole 0.4 m from the wall on the right, half way up.
        for (floor, hole, rings) in [(&rectangle, [3.6, 1.2], 24), (&circle, [2.6, 1.5], 18)] {
            for mirrored in [false, true] {
                let others = copies(floor, &[hole], CLEAR, mirrored);
                assert_eq!(others.len(), rings);
                if mirrored {
                    assert!((least(&others, hole) - (CLEAR + 0.8)).abs() < 1e-9);
                } else {
                    // Nearest across the short side, or at one diameter.
                    let side = if rings == 24 { 2.4 } else { 3.0 };
                    assert!((least(&others, hole) - (CLEAR + side)).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn a_distance_lies_between_the_ends_of_its_bin() {
        let nodes = nodes();
        for step in 0..2_000_u32 {
            let distance = 0.4 + 0.05 * f64::from(step);
            let bin = bin(&nodes, distance);
            assert!(nodes[bin] <= distance * (1.0 + 1e-9) && distance <= nodes[bin + 1] * (1.0 + 1e-9), "{distance}");
        }
        for node in 0..nodes.len() - 1 {
            assert_eq!(bin(&nodes, nodes[node]), node);
        }
        assert_eq!((bin(&nodes, 0.0), bin(&nodes, 1_000.0)), (0, NODES as usize - 2));
    }
}
