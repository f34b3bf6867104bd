//! A beam pattern compiled into tables: level against angle, and the area in which a target shows against level.
//!
//! A target at depth z and angle θ lies at slant range z/cos θ, so that spreading costs another 40 lg(1/cos θ). The tables of areas hold
//! that loss too: the visible set is every direction in which a target *of that depth* keeps the wanted level, side lobes included. (The
//! absorption over the longer path is left out: α·z·(1/cos θ − 1) is under 0.3 dB in the main lobe of any beam here.)
//!
//! Nulls are filled. A pulse is a band of frequencies, 1/τ or its sweep wide, and each has its null elsewhere; the echo is what the band
//! brings together. A piston's first null under twenty periods of a tone is filled to −37 dB, one way, its second to −40 dB, which is also
//! where most stated floors lie. A measured pattern is taken as measured: its pulse has filled it already.

use std::f64::consts::FRAC_PI_2;

use acoustics::pattern::Pattern;

/// How far search gain may pass the gain that lure and bottom need, dB: one goes up until the display fills, not further.
pub(crate) const SEARCH_MARGIN: f64 = 15.0;
/// What the lure's place in the beam may cost, dB there and back: as much as a hand turns up to look for it. Past it the lure is outside
/// the beam. A piston's lobe ends there steeply: the next 4 dB, one way, come within an eighth of its width.
pub(crate) const LURE_RESERVE: f64 = SEARCH_MARGIN;
/// From what cost on the lure's place is worth a notice, dB there and back: the edge of the beam as it is stated, −3 dB one way.
pub(crate) const LURE_NOTICE: f64 = 6.0;

/// Steps of the tables of levels over 0 to 90°.
const ANGLE_STEPS: u32 = 2_048;
/// Fine steps from which areas are added up, for each step of the tables of levels.
const FINE: u32 = 4;
/// Rows of the table of areas per unit of √(−level): an area grows as −level near the axis, so the table is smooth there.
const ROOT_STEPS: f64 = 32.0;
/// Rows: down to −121 dB one way, under the lowest floor that a pattern may have, slant loss included.
const ROWS: u32 = 353;
/// Columns of the table of areas: how far out it is added up.
const COLUMNS: u32 = 32;
/// Azimuths over a quarter turn for a beam that is not round.
const AZIMUTHS: u32 = 16;
/// Frequencies of a pulse's band, as parts of its half width.
const BAND: [f64; 5] = [-0.8, -0.4, 0.0, 0.4, 0.8];

/// One compiled pattern.
#[derive(Debug, Clone)]
pub(crate) struct Beam {
    /// One-way level in the best and the worst azimuth, dB, at even steps of the angle.
    best: Vec<f64>,
    worst: Vec<f64>,
    /// The least level on the way out to an angle in the worst azimuth, for a target of one depth: once lost, the lure stays lost.
    least: Vec<f64>,
    /// By level and column: tan² θ of the disc of the same area, up to the column's angle.
    areas: Vec<[f32; COLUMNS as usize]>,
    /// Tangent to which the columns are scaled: of half the beam's own width.
    scale: f64,
}

impl Beam {
    /// Compiles a pattern for a pulse whose band is that part of its frequency.
    pub(crate) fn compile(pattern: &Pattern, band: f64) -> Self {
        let azimuths: Vec<f64> = if pattern.is_round() {
            vec![0.0]
        } else {
            (0..AZIMUTHS).map(|k| (f64::from(k) + 0.5) / f64::from(AZIMUTHS) * FRAC_PI_2).collect()
        };
        let scale = libm::tan(libm::asin(pattern.narrowest().reference_sine().min(0.9)));
        let fine: Vec<Vec<f64>> = azimuths.iter().map(|azimuth| levels(pattern, *azimuth, band)).collect();
        let over = |pick: fn(f64, f64) -> f64, start: f64| -> Vec<f64> {
            (0..=ANGLE_STEPS)
                .map(|step| {
                    let index = usize::try_from(step * FINE).unwrap_or(usize::MAX);
                    fine.iter().filter_map(|levels| levels.get(index)).fold(start, |a, b| pick(a, *b))
                })
                .collect()
        };
        let (best, worst) = (over(f64::max, f64::NEG_INFINITY), over(f64::min, f64::INFINITY));
        let mut lowest = 0.0_f64;
        let least = (0..=ANGLE_STEPS)
            .zip(&worst)
            .map(|(step, level)| {
                lowest = lowest.min(level + slant(f64::from(step) / f64::from(ANGLE_STEPS) * FRAC_PI_2));
                lowest
            })
            .collect();
        let mut areas = vec![[0.0; COLUMNS as usize]; whole(f64::from(ROWS))];
        for levels in &fine {
            add_areas(&mut areas, levels, scale, 1.0 / count(azimuths.len()));
        }
        Self { best, worst, least, areas: add_up(&areas), scale }
    }

    /// One-way level at an angle from the axis in the best azimuth, dB.
    pub(crate) fn best_level(&self, theta: f64) -> f64 {
        interpolate(&self.best, theta * f64::from(ANGLE_STEPS) / FRAC_PI_2)
    }

    /// One-way level at an angle from the axis in the worst azimuth, dB, and the least one on the way from the axis out to there, slant loss at
    /// one depth included.
    pub(crate) fn worst_and_least(&self, theta: f64) -> (f64, f64) {
        let place = split(theta * f64::from(ANGLE_STEPS) / FRAC_PI_2, self.worst.len());
        (between(&self.worst, place), between(&self.least, place))
    }

    /// The angle up to which the least level stays at or over a level, radians.
    pub(crate) fn reach(&self, level: f64) -> f64 {
        let after = self.least.partition_point(|least| *least >= level);
        let at = |i: usize| self.least.get(i).copied().unwrap_or(level);
        let before = after.saturating_sub(1);
        let (a, b) = (at(before), at(after));
        let share = if a > b { (a - level) / (a - b) } else { 0.0 };
        (count(before) + share).min(f64::from(ANGLE_STEPS)) / f64::from(ANGLE_STEPS) * FRAC_PI_2
    }

    /// Area in which targets of one depth keep a one-way level, out to an angle whose tangent's square is `limit`: as the square of the
    /// tangent of the disc with the same area.
    pub(crate) fn area(&self, level: f64, limit: f64) -> f64 {
        if level >= 0.0 || limit <= 0.0 {
            return 0.0;
        }
        let (row, row_share) = split(libm::sqrt(-level) * ROOT_STEPS, self.areas.len());
        let tangent = libm::sqrt(limit);
        let part = tangent / (tangent + self.scale);
        let column = libm::floor(part * f64::from(COLUMNS)).min(f64::from(COLUMNS - 1));
        let (inner, outer) = (column_square(column, self.scale), column_square(column + 1.0, self.scale));
        let column_share = ((limit - inner) / (outer - inner)).min(1.0);
        let index = whole(column);
        let at = |row: usize| {
            let Some(row) = self.areas.get(row) else { return 0.0 };
            let low = index.checked_sub(1).and_then(|i| row.get(i)).copied().map_or(0.0, f64::from);
            low + column_share * (row.get(index).copied().map_or(low, f64::from) - low)
        };
        at(row) + row_share * (at(row + 1) - at(row))
    }
}

/// A length as a number.
pub(crate) fn count(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}

/// Spreading to a target of one depth off the vertical, one way and relative to straight below, dB.
fn slant(theta: f64) -> f64 {
    20.0 * libm::log10(libm::cos(theta).max(1.0e-7))
}

/// Tangent's square of the inner edge of a column; the last edge stops short of 90°.
fn column_square(column: f64, scale: f64) -> f64 {
    let part = (column / f64::from(COLUMNS)).min(0.9999);
    let tangent = scale * part / (1.0 - part);
    tangent * tangent
}

/// One-way level at every fine step of the angle towards one azimuth, as the echo of the whole band has it.
fn levels(pattern: &Pattern, azimuth: f64, band: f64) -> Vec<f64> {
    let (along, across) = (libm::cos(azimuth), libm::sin(azimuth));
    let floor = libm::pow(10.0, pattern.floor().get() / 10.0);
    let power = |sine: f64| {
        if pattern.is_round() {
            pattern.along().power(sine)
        } else {
            (pattern.along().power(sine * along) * pattern.across().power(sine * across)).max(floor)
        }
    };
    (0..=ANGLE_STEPS * FINE)
        .map(|step| {
            let sine = libm::sin(f64::from(step) / f64::from(ANGLE_STEPS * FINE) * FRAC_PI_2);
            let two_way: f64 = BAND
                .iter()
                .map(|part| {
                    let b = power((sine * (1.0 + 0.5 * band * part)).min(1.0));
                    b * b
                })
                .sum();
            (5.0 * libm::log10(two_way / count(BAND.len()))).min(0.0)
        })
        .collect()
}

/// Adds the rings of one azimuth, by level and column; `share` is what the azimuth counts.
fn add_areas(areas: &mut [[f64; COLUMNS as usize]], fine: &[f64], scale: f64, share: f64) {
    let step = FRAC_PI_2 / f64::from(ANGLE_STEPS * FINE);
    // The last step ends at 90°, where a tangent is no figure.
    for (index, pair) in (0..ANGLE_STEPS * FINE - 1).zip(fine.windows(2)) {
        let [a, b] = pair else { continue };
        let (from, to) = (f64::from(index) * step, f64::from(index + 1) * step);
        let (a, b) = (a + slant(from), b + slant(to));
        let (inner, outer) = (libm::tan(from), libm::tan(to));
        let ring = share * (outer * outer - inner * inner);
        let middle = 0.5 * (inner + outer);
        let column = whole((middle / (middle + scale) * f64::from(COLUMNS)).min(f64::from(COLUMNS - 1)));
        let (high, low) = (a.max(b), a.min(b));
        // Rows of lower levels show the whole ring, those between its two edges a part of it. What a row has beyond the one before it is
        // kept, and added up in the end.
        let mut shown = 0.0;
        let mut row = libm::ceil(libm::sqrt((-high).max(0.0)) * ROOT_STEPS);
        while shown < 1.0 && row < f64::from(ROWS) {
            let root = row / ROOT_STEPS;
            let part = if high > low { ((high + root * root) / (high - low)).clamp(0.0, 1.0) } else { 1.0 };
            if let Some(slot) = areas.get_mut(whole(row)).and_then(|row| row.get_mut(column)) {
                *slot += ring * (part - shown);
            }
            shown = part;
            row += 1.0;
        }
    }
}

/// Sums over lower rows and inner columns.
fn add_up(areas: &[[f64; COLUMNS as usize]]) -> Vec<[f32; COLUMNS as usize]> {
    let mut by_column = [0.0; COLUMNS as usize];
    areas
        .iter()
        .map(|row| {
            let mut sum = 0.0;
            let mut out = [0.0; COLUMNS as usize];
            for ((total, more), slot) in by_column.iter_mut().zip(row).zip(&mut out) {
                *total += more;
                sum += *total;
                *slot = single(sum);
            }
            out
        })
        .collect()
}

/// An area in single precision, which is a ten-millionth of it.
#[allow(clippy::cast_possible_truncation, reason = "areas of a table need no more than seven digits")]
fn single(area: f64) -> f32 {
    area as f32
}

/// Index and share of a place in a table of even steps, kept inside it.
fn split(place: f64, length: usize) -> (usize, f64) {
    let index = libm::floor(place).clamp(0.0, count(length.saturating_sub(2)));
    (whole(index), (place - index).clamp(0.0, 1.0))
}

/// The index of a whole number that is not negative; a negative one becomes 0.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "callers clamp to the length of a table; the cast saturates at 0"
)]
pub(crate) fn whole(number: f64) -> usize {
    number as usize
}

/// A value of a table of even steps, linear between; the end values beyond it.
pub(crate) fn interpolate(table: &[f64], place: f64) -> f64 {
    between(table, split(place, table.len()))
}

fn between(table: &[f64], (index, share): (usize, f64)) -> f64 {
    let at = |i: usize| table.get(i).copied().unwrap_or(f64::NEG_INFINITY);
    at(index) + share * (at(index + 1) - at(index))
}
