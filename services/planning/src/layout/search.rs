//! The search for a spread: points first settle under repelling forces from many starts, then overlapping discs are
//! relaxed: a wanted spacing is raised step by step and points that come closer than it are pushed apart inside the
//! area, until no step is reached any more. At last the best spread is shaken and settled again, many times.

use domain::{Cancel, Cancelled};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Up to this many points the search is thorough enough for the best-known spreads; past it, effort falls with the square
/// of the number, as each try costs so much more.
const EXACT_UP_TO: u32 = 20;
/// Below this many points there are so few ways to lie that effort falls with the number.
const SIMPLE_BELOW: u32 = 10;
/// Starts of the search.
const STARTS: u64 = 70;
/// How many of the best starts are refined.
const REFINED: usize = 4;
/// Then the best one is shaken and settled again, this many times.
const HOPS: u64 = 200;
/// Seed of the starts: any fixed number serves, it only has to stay the same.
const SEED: u64 = 0x1ce;
/// Every start first settles under repelling forces that get ever steeper, `(1/d²)^s` with s doubling this often …
const STEEPENINGS: u32 = 7;
/// … in this many moves each …
const MOVES: u32 = 30;
/// … of at most this part of the spacing; the next steepening moves by half as much.
const FIRST_MOVE: f64 = 0.3;
/// The best starts are then relaxed until a relative rise of the spacing this small is not reached …
const LAST_RISE: f64 = 1.0e-5;
/// … beginning with this one …
const FIRST_RISE: f64 = 1.0e-2;
/// … in at most this many sweeps a rise.
const SWEEPS: u32 = 3_000;
/// After each batch of this many sweeps …
const BATCH: u32 = 30;
/// … a relaxation that still misses more than this part of what it missed before is given up.
const JAMMED: f64 = 0.9;

/// Points of the frame as far apart as the search finds; deterministic.
pub(super) fn spread(frame: Frame, count: u32, cancel: &Cancel) -> Result<Vec<[f64; 2]>, Cancelled> {
    let mut tried: Vec<(f64, Vec<[f64; 2]>)> = Vec::new();
    let effort = |full: u64| {
        let few = full * u64::from(count.min(SIMPLE_BELOW)) / u64::from(SIMPLE_BELOW);
        (few * u64::from(EXACT_UP_TO.pow(2)) / u64::from(count.max(EXACT_UP_TO).pow(2))).max(8)
    };
    for start in 0..effort(STARTS) {
        cancel.check()?;
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        rng.set_stream(start);
        let mut points = if start % 2 == 0 { scattered(count, &mut rng) } else { rows(count, &mut rng) };
        for point in &mut points {
            *point = frame.clamp(frame.stretch(*point));
        }
        settle(frame, &mut points, start / 2 % u64::from(STEEPENINGS));
        tried.push((least_distance(&points), points));
    }
    tried.sort_by(|a, b| b.0.total_cmp(&a.0));
    tried.truncate(REFINED);
    for (spread, points) in &mut tried {
        *spread = spread_out(frame, points, LAST_RISE, cancel)?;
    }
    let Some((mut most, mut best)) = tried.into_iter().max_by(|a, b| a.0.total_cmp(&b.0)) else {
        return Ok(Vec::new());
    };
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    rng.set_stream(STARTS);
    for hop in 0..effort(HOPS) {
        cancel.check()?;
        let mut points = best.clone();
        let shake = most * rng.random_range(0.1..0.8);
        for [x, y] in &mut points {
            [*x, *y] = frame.clamp([*x + rng.random_range(-shake..shake), *y + rng.random_range(-shake..shake)]);
        }
        settle(frame, &mut points, 1 + hop % 4);
        if least_distance(&points) < 0.97 * most {
            continue;
        }
        // Most shakes fall back into a spread that is known; one that cannot pass it by a hair is not worth more.
        relax(frame, &mut points, most * (1.0 + LAST_RISE), SWEEPS);
        if least_distance(&points) <= most {
            continue;
        }
        let spread = spread_out(frame, &mut points, LAST_RISE, cancel)?;
        if spread > most {
            (most, best) = (spread, points);
        }
    }
    Ok(best)
}

/// An area of extent 1 about the origin.
#[derive(Clone, Copy)]
pub(super) enum Frame {
    /// Half sides.
    Rectangle([f64; 2]),
    /// Radius 0.5.
    Circle,
}

impl Frame {
    /// What tells two frames apart.
    pub(super) fn proportions(self) -> (bool, u64, u64) {
        match self {
            Self::Rectangle([x, y]) => (true, x.to_bits(), y.to_bits()),
            Self::Circle => (false, 0, 0),
        }
    }

    /// A point of the square of side 1, stretched to the sides of a rectangle.
    fn stretch(self, [x, y]: [f64; 2]) -> [f64; 2] {
        match self {
            Self::Rectangle([hx, hy]) => [2.0 * hx * x, 2.0 * hy * y],
            Self::Circle => [x, y],
        }
    }

    /// The nearest point inside.
    fn clamp(self, [x, y]: [f64; 2]) -> [f64; 2] {
        match self {
            Self::Rectangle([hx, hy]) => [x.clamp(-hx, hx), y.clamp(-hy, hy)],
            Self::Circle => {
                let r = libm::sqrt(x * x + y * y);
                if r > 0.5 { [0.5 * x / r, 0.5 * y / r] } else { [x, y] }
            }
        }
    }
}

/// Points at random in a square of side 1 about the origin.
fn scattered(count: u32, rng: &mut ChaCha8Rng) -> Vec<[f64; 2]> {
    (0..count).map(|_| [rng.random_range(-0.5..0.5), rng.random_range(-0.5..0.5)]).collect()
}

/// Points in even rows, in step or staggered, with the surplus taken out at random and the rest shaken a little. Some of
/// the best spreads come from such rows and are rarely reached from random points (15 in a square, from 4 by 4).
fn rows(count: u32, rng: &mut ChaCha8Rng) -> Vec<[f64; 2]> {
    let most = libm::ceil(libm::sqrt(f64::from(count))) + 2.0;
    let rows = libm::floor(rng.random_range(1.0..most));
    let columns = libm::ceil(f64::from(count) / rows);
    let stagger = rng.random_range(0.0..0.5);
    let mut points = Vec::new();
    let mut row = 0.0;
    while row < rows {
        let mut column = 0.0;
        while column < columns {
            let shift = if libm::fmod(row, 2.0) == 0.0 { stagger } else { 0.0 };
            let shake = 0.2 / rows.max(columns);
            points.push([
                (column + 0.25 + shift) / columns - 0.5 + rng.random_range(-shake..shake),
                (row + 0.5) / rows - 0.5 + rng.random_range(-shake..shake),
            ]);
            column += 1.0;
        }
        row += 1.0;
    }
    while points.len() > usize::try_from(count).unwrap_or(usize::MAX) {
        points.swap_remove(rng.random_range(0..points.len()));
    }
    points
}

/// Lets points settle under repelling forces that get steeper until only the nearest pairs count. Starting soft avoids
/// most of the poor arrangements (Nurmela and Östergård 1997).
fn settle(frame: Frame, points: &mut [[f64; 2]], first: u64) {
    let count = f64::from(u32::try_from(points.len()).unwrap_or(u32::MAX));
    let mut step = FIRST_MOVE / libm::sqrt(count);
    let mut room = Forces::new(points.len());
    for doublings in (1..=STEEPENINGS).filter(|doublings| u64::from(*doublings) > first) {
        for _ in 0..MOVES {
            let forces = room.repel(points, doublings);
            let most = forces.iter().map(|[x, y]| x * x + y * y).fold(0.0, f64::max);
            let scale = if most > 0.0 { step / libm::sqrt(most) } else { 0.0 };
            for (point, [fx, fy]) in points.iter_mut().zip(forces) {
                *point = frame.clamp([point[0] + scale * fx, point[1] + scale * fy]);
            }
        }
        step *= 0.5;
    }
}

/// Working memory of the forces between points.
struct Forces {
    /// Squared distances of all pairs.
    squares: Vec<f64>,
    forces: Vec<[f64; 2]>,
}

impl Forces {
    fn new(points: usize) -> Self {
        Self { squares: Vec::with_capacity(points * points / 2), forces: vec![[0.0; 2]; points] }
    }

    /// Forces of the energy Σ (m²/d²)^s with s = 2^doublings and m the least distance: along each pair, growing as (m²/d²)^(s+1).
    #[allow(
        clippy::indexing_slicing,
        reason = "i and j run below points.len(), which is forces.len(); two elements of one slice are changed at once"
    )]
    fn repel(&mut self, points: &[[f64; 2]], doublings: u32) -> &[[f64; 2]] {
        self.squares.clear();
        let mut least_square = f64::INFINITY;
        for (i, [x, y]) in points.iter().enumerate() {
            self.squares.extend(points.iter().take(i).map(|[px, py]| {
                let (dx, dy) = (x - px, y - py);
                let square = (dx * dx + dy * dy).max(1.0e-12);
                least_square = least_square.min(square);
                square
            }));
        }
        // Where (m²/d²)^s is under 1e-12 a pair moves nothing that counts; with steep forces that is all but the nearest.
        let reach = least_square * libm::exp2(40.0 / f64::from(1_u32 << doublings));
        self.forces.fill([0.0; 2]);
        let mut squares = self.squares.iter();
        for i in 1..points.len() {
            for (j, square) in squares.by_ref().take(i).enumerate() {
                if *square > reach {
                    continue;
                }
                let ratio = least_square / square;
                let mut power = ratio;
                for _ in 0..doublings {
                    power *= power;
                }
                let force = power * ratio;
                let (dx, dy) = (points[i][0] - points[j][0], points[i][1] - points[j][1]);
                self.forces[i] = [self.forces[i][0] + force * dx, self.forces[i][1] + force * dy];
                self.forces[j] = [self.forces[j][0] - force * dx, self.forces[j][1] - force * dy];
            }
        }
        &self.forces
    }
}

/// Raises the least distance of the points as far as relaxation reaches; returns it.
fn spread_out(frame: Frame, points: &mut Vec<[f64; 2]>, last_rise: f64, cancel: &Cancel) -> Result<f64, Cancelled> {
    let mut reached = least_distance(points);
    let mut wanted = reached.max(0.3 / libm::sqrt(f64::from(u32::try_from(points.len()).unwrap_or(u32::MAX))));
    let mut rise = FIRST_RISE;
    let mut trial = points.clone();
    while rise > last_rise {
        cancel.check()?;
        trial.clone_from(points);
        relax(frame, &mut trial, wanted, SWEEPS);
        let distance = least_distance(&trial);
        // A step counts when it gained at least a part of what was wanted; the points then serve as the next start.
        if distance > reached * (1.0 + 0.25 * rise) {
            reached = distance;
            points.clone_from(&trial);
        } else {
            rise *= 0.5;
        }
        wanted = reached * (1.0 + rise);
    }
    Ok(reached)
}

/// Pushes points apart until none is nearer to another than `wanted`, or they are jammed, or the sweeps are used up.
fn relax(frame: Frame, points: &mut [[f64; 2]], wanted: f64, sweeps: u32) {
    let mut missing_before = f64::INFINITY;
    for sweep in 1..=sweeps {
        let missing = push_apart(frame, points, wanted);
        if missing == 0.0 {
            break;
        }
        // Jammed points keep pushing for ever: stop where a batch of sweeps changes little.
        if sweep % BATCH == 0 {
            if missing > JAMMED * missing_before {
                break;
            }
            missing_before = missing;
        }
    }
}

/// One sweep over all pairs: pairs nearer than `wanted` move apart by half of what is missing each. Answers the most that
/// was missing.
#[allow(
    clippy::indexing_slicing,
    reason = "i and j run below points.len(); two elements of one slice are changed at once"
)]
fn push_apart(frame: Frame, points: &mut [[f64; 2]], wanted: f64) -> f64 {
    let mut most = 0.0_f64;
    for i in 1..points.len() {
        for j in 0..i {
            let (dx, dy) = (points[i][0] - points[j][0], points[i][1] - points[j][1]);
            let square = dx * dx + dy * dy;
            if square >= wanted * wanted {
                continue;
            }
            let distance = libm::sqrt(square);
            // Two points on one another part along a direction that depends on their numbers alone.
            let (ux, uy) = if distance > 1.0e-12 {
                (dx / distance, dy / distance)
            } else {
                let turn = f64::from(u32::try_from(i * 7 + j).unwrap_or(0));
                (libm::cos(turn), libm::sin(turn))
            };
            most = most.max(wanted - distance);
            let push = 0.5 * (wanted - distance);
            points[i] = frame.clamp([points[i][0] + push * ux, points[i][1] + push * uy]);
            points[j] = frame.clamp([points[j][0] - push * ux, points[j][1] - push * uy]);
        }
    }
    most
}

fn least_distance(points: &[[f64; 2]]) -> f64 {
    let mut least = f64::INFINITY;
    for (index, a) in points.iter().enumerate() {
        for b in points.iter().take(index) {
            let (dx, dy) = (a[0] - b[0], a[1] - b[1]);
            least = least.min(dx * dx + dy * dy);
        }
    }
    libm::sqrt(least)
}
