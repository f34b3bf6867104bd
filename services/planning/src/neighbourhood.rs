//! Who is how far from whom among the holes of a shelter.

use domain::Point;

/// Two distances nearer than this are one, m: finer than a hole is drilled, coarser than the search for a layout leaves them.
const SAME: f64 = 1.0e-4;

/// Holes as each of their units sees the others. A distance between two holes counts for both, and regular layouts repeat theirs: each
/// stands once, so that what comes over it is worked out once.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Neighbourhood {
    /// The distances that occur, rising, m.
    pub(crate) distances: Vec<f64>,
    /// What the holes see, but for holes whose neighbours are equally far as those of one before. A farther neighbour is not always
    /// the quieter one, as beams have side lobes and nulls, so that no other hole can be left out.
    pub(crate) views: Vec<View>,
}

/// What one hole sees.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct View {
    /// Which hole.
    pub(crate) hole: usize,
    /// The distance of each neighbour, as its place among the distances; rising.
    pub(crate) neighbours: Vec<usize>,
}

impl Neighbourhood {
    /// The neighbourhood of some holes; without views for fewer than two.
    pub(crate) fn new(holes: &[Point]) -> Self {
        let between = |a: &Point, b: &Point| libm::hypot(b.x.get() - a.x.get(), b.y.get() - a.y.get());
        let others = |hole: usize| holes.iter().enumerate().filter(move |(other, _)| *other != hole);
        let mut distances: Vec<f64> = Vec::new();
        for (hole, own) in holes.iter().enumerate() {
            distances.extend(others(hole).map(|(_, other)| between(own, other)));
        }
        let distances = apart(distances);
        let mut views: Vec<View> = Vec::new();
        for (hole, own) in holes.iter().enumerate() {
            let mut neighbours: Vec<usize> =
                others(hole).map(|(_, other)| place(&distances, between(own, other))).collect();
            neighbours.sort_unstable();
            if !neighbours.is_empty() && !views.iter().any(|known| known.neighbours == neighbours) {
                views.push(View { hole, neighbours });
            }
        }
        Self { distances, views }
    }

    /// The same with a view of each hole, in their order: for holes that see the others alike and what lies around them not.
    pub(crate) fn of_each(holes: &[Point]) -> Self {
        let between = |a: &Point, b: &Point| libm::hypot(b.x.get() - a.x.get(), b.y.get() - a.y.get());
        let distances = Self::new(holes).distances;
        let view = |(hole, own): (usize, &Point)| {
            let others = holes.iter().enumerate().filter(|(other, _)| *other != hole);
            View { hole, neighbours: others.map(|(_, other)| place(&distances, between(own, other))).collect() }
        };
        let views = holes.iter().enumerate().map(view).collect();
        Self { distances, views }
    }

    /// One hole with neighbours at some distances.
    pub(crate) fn around(neighbours: Vec<f64>) -> Self {
        let distances = apart(neighbours.clone());
        let mut neighbours: Vec<usize> = neighbours.into_iter().map(|distance| place(&distances, distance)).collect();
        neighbours.sort_unstable();
        Self { distances, views: vec![View { hole: 0, neighbours }] }
    }
}

/// Distances in order, those that are one once.
fn apart(mut distances: Vec<f64>) -> Vec<f64> {
    distances.sort_by(f64::total_cmp);
    distances.dedup_by(|next, kept| *next - *kept < SAME);
    distances
}

/// Which of the distances another one is: the last that does not pass it.
fn place(distances: &[f64], distance: f64) -> usize {
    distances.partition_point(|known| *known <= distance).saturating_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use acoustics::units::Metres;

    #[test]
    fn holes_farther_from_their_neighbours_are_judged_too() {
        // Three in a line: the ends see 1 and 2 m, the middle twice 1 m; the second end sees what the first does.
        let line = [0.0, 1.0, 2.0].map(|x| Point { x: Metres::new(x), y: Metres::new(0.0) });
        let seen = Neighbourhood::new(&line);
        assert_eq!(seen.distances, [1.0, 2.0]);
        let views = [View { hole: 0, neighbours: vec![0, 1] }, View { hole: 1, neighbours: vec![0, 0] }];
        assert_eq!(seen.views, views);
    }

    #[test]
    fn distances_that_no_drill_could_tell_apart_are_one() {
        let seen = Neighbourhood::around(vec![2.0, 1.0, 1.000_05, 1.000_2]);
        assert_eq!(seen.distances, [1.0, 1.000_2, 2.0]);
        assert_eq!(seen.views, [View { hole: 0, neighbours: vec![0, 0, 1, 2] }]);
    }

    #[test]
    fn who_is_alone_sees_nobody() {
        let alone = Neighbourhood::new(&[Point { x: Metres::new(0.0), y: Metres::new(0.0) }]);
        assert_eq!(alone, Neighbourhood { distances: Vec::new(), views: Vec::new() });
    }
}
