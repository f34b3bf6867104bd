//! The scatter table against direct numerical integration, and the laws that the foreign-mark fraction keeps.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::indexing_slicing
)]

use std::sync::Arc;

use acoustics::bottom::{BistaticScatter, BottomClass};
use acoustics::interference::{
    BottomScatter, CURVE_POINTS, Confirmer, Curve, HungBeam, Link, Pair, Received, ScatterTable,
};
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{
    Beamwidth, Db, DbPerMetre, FullAngle, Hertz, Level, Metres, MetresPerSecond, Seconds, SourceLevel, WidthLevel,
};
use proptest::prelude::*;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

fn piston(degrees: f64) -> HungBeam {
    let beamwidth = Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 };
    HungBeam::upright(Arc::new(Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(-40.0)).unwrap()))
}

/// Intensity scattered from unit area at a point of a level bottom, all lengths over the depth, the units at ∓s/2 on the x axis.
fn scattered_intensity(beams: [&Pattern; 2], bottom: &BistaticScatter, spacing: f64, (x, y): (f64, f64)) -> f64 {
    let [one, two] = [x + 0.5 * spacing, x - 0.5 * spacing];
    let [r1, r2] = [one, two].map(|x| (x * x + y * y + 1.0).sqrt());
    let reached = beams[0].power_towards(one / r1, y / r1) * beams[1].power_towards(two / r2, y / r2);
    let (across, along, down) = (one / r1 + two / r2, y / r1 + y / r2, 1.0 / r1 + 1.0 / r2);
    let cosines = 1.0 / (r1 * r2);
    reached * bottom.ratio((across * across + along * along) / (down * down), cosines) * cosines * cosines
}

fn scatter(class: BottomClass) -> BistaticScatter {
    BistaticScatter::new(class, Hertz::from_khz(200.0)).unwrap()
}

/// What arrives up to each path length, by small squares of bottom: a square's share arrives evenly between the path lengths of its
/// nearest and its farthest corner.
struct Squares {
    /// Path length of the first arrival, and how far apart the others stand.
    first: f64,
    bin: f64,
    cumulated: Vec<f64>,
}

impl Squares {
    /// Half a width of the bottom that is summed, past the units, in depths.
    const REACH: f64 = 5.0;

    fn new(beams: [&Pattern; 2], bottom: &BistaticScatter, spacing: f64, pulse: f64) -> Self {
        let bin = (pulse / 24.0).min(0.0005);
        let first = 2.0 * (1.0 + 0.25 * spacing * spacing).sqrt();
        let bins = (2.3 * Self::REACH / bin) as usize;
        // Arrivals per path length, as their second differences: a square begins to arrive and ends.
        let mut bends = vec![0.0; bins + 2];
        let mut bend = |path: f64, slope: f64| {
            let position = ((path - first) / bin).max(0.0);
            let (index, part) = (position as usize, position.fract());
            if index < bins {
                bends[index] += slope * (1.0 - part);
                bends[index + 1] += slope * part;
            }
        };
        // Finer squares where the beams and the facets are, coarser further out; each square once.
        let fine = 0.001;
        let near = 0.5 * spacing + 1.2;
        let mut sum = |(left, right): (f64, f64), (low, high): (f64, f64), step: f64| {
            let count = |width: f64| (width / step).round() as i32;
            for i in 0..count(right - left) {
                let x = left + (f64::from(i) + 0.5) * step;
                for j in 0..count(high - low) {
                    let y = low + (f64::from(j) + 0.5) * step;
                    let r1 = ((x + 0.5 * spacing).powi(2) + y * y + 1.0).sqrt();
                    let r2 = ((x - 0.5 * spacing).powi(2) + y * y + 1.0).sqrt();
                    let slopes = [(x + 0.5 * spacing) / r1 + (x - 0.5 * spacing) / r2, y / r1 + y / r2];
                    let extent = (step * (slopes[0].abs() + slopes[1].abs())).max(0.2 * bin);
                    // The other half of the bottom mirrors this one.
                    let arrives = 2.0 * step * step * scattered_intensity(beams, bottom, spacing, (x, y));
                    bend(r1 + r2 - 0.5 * extent, arrives / extent);
                    bend(r1 + r2 + 0.5 * extent, -arrives / extent);
                }
            }
        };
        let reach = near + Self::REACH;
        sum((-near, near), (0.0, 1.2), fine);
        sum((-reach, reach), (1.2, Self::REACH), 0.005);
        sum((-reach, -near), (0.0, 1.2), 0.005);
        sum((near, reach), (0.0, 1.2), 0.005);
        let (mut slope, mut total) = (0.0, 0.0);
        let cumulated = bends
            .iter()
            .map(|bend| {
                let now = total;
                slope += bend;
                total += slope * bin;
                now
            })
            .collect();
        Self { first, bin, cumulated }
    }

    fn up_to(&self, path: f64) -> f64 {
        let position = ((path - self.first) / self.bin).max(0.0);
        let (index, part) = (position as usize, position.fract());
        let at = |index: usize| self.cumulated[index.min(self.cumulated.len() - 1)];
        at(index) + part * (at(index + 1) - at(index))
    }

    /// The level that is passed for each of some durations.
    fn levels(&self, pulse: f64, durations: &[f64]) -> Vec<f64> {
        let step = self.bin / 2.0;
        let count = (self.cumulated.len() as f64 * 2.0) as usize;
        let mut heard: Vec<f64> = (0..count)
            .map(|i| self.first + (i as f64 + 0.5) * step)
            .map(|path| self.up_to(path) - self.up_to(path - pulse))
            .collect();
        heard.sort_by(|a, b| b.total_cmp(a));
        durations.iter().map(|duration| 10.0 * heard[(duration / step) as usize].max(1e-30).log10()).collect()
    }
}

/// A beam of any kind that the catalog holds.
fn any_beam(random: &mut ChaCha8Rng) -> Arc<Pattern> {
    let degrees = 6.0 * (40.0_f64 / 6.0).powf(random.random());
    let beamwidth = Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 };
    let aperture = match random.random_range(0..4) {
        0 | 1 => Aperture::CircularPiston { beamwidth },
        2 => Aperture::ShadedCircular { beamwidth, peak_side_lobe: Db::new(random.random_range(-38.0..-21.0)) },
        _ => Aperture::Rectangular { along: beamwidth, across: beamwidth },
    };
    Arc::new(Pattern::new(&aperture, Db::new(-40.0)).unwrap())
}

#[test]
fn table_agrees_with_direct_integration_to_half_a_decibel() {
    // Support: direct numerical integration of model.md section 7 on a square grid, which shares neither the elliptic coordinates
    // nor the interpolation of the table; only the integrand is the same. Beams, bottoms, spacings and pulses are drawn.
    const CASES: u64 = 64;
    let classes =
        [BottomClass::Silt, BottomClass::FineSand, BottomClass::MediumSand, BottomClass::Gravel, BottomClass::Rock];
    let mut differences: Vec<(f64, String)> = (0..CASES)
        .into_par_iter()
        .flat_map_iter(|case| {
            let mut random = ChaCha8Rng::seed_from_u64(case);
            let transmitter = any_beam(&mut random);
            let receiver = if random.random() { transmitter.clone() } else { any_beam(&mut random) };
            let class = classes[random.random_range(0..classes.len())];
            let spacing = 0.05 * 60.0_f64.powf(random.random());
            let pulse = 0.003 * 150.0_f64.powf(random.random());
            let squares = Squares::new([&transmitter, &receiver], &scatter(class), spacing, pulse);
            let hung = [&transmitter, &receiver].map(|pattern| HungBeam::upright(pattern.clone()));
            let [talker, listener] = hung;
            // The table for one half, the pair without a table for the other.
            let mut curve = Curve::SILENT;
            if case % 2 == 0 {
                ScatterTable::new(Pair::level(talker, listener, scatter(class))).curve(1, spacing, pulse, &mut curve);
            } else {
                Pair::level(talker, listener, scatter(class)).curve(1, spacing, pulse, &mut curve);
            }
            let durations: Vec<f64> = (0..24).map(|k| 0.004 * (4.0_f64 / 0.004).powf(f64::from(k) / 23.0)).collect();
            let direct = squares.levels(pulse, &durations);
            let what = format!(
                "{:.2} and {:.2}, {class:?}, s/d {spacing:.3}, cτ/d {pulse:.4}",
                transmitter.along().reference_sine(),
                receiver.along().reference_sine()
            );
            // Down to 40 dB under the peak: what no dial shows is not compared.
            let faint = direct[0] - 40.0;
            let compared: Vec<_> = durations
                .iter()
                .zip(direct)
                .filter(|(_, direct)| *direct > faint)
                .map(|(duration, direct)| {
                    let got = level_for(&curve, *duration);
                    ((got - direct).abs(), format!("{what}, duration {duration:.3}: {got:.2} against {direct:.2} dB"))
                })
                .collect();
            compared
        })
        .collect();
    differences.sort_by(|a, b| a.0.total_cmp(&b.0));
    let count = differences.len();
    for (share, index) in [(50, count / 2), (95, count * 95 / 100), (99, count * 99 / 100), (100, count - 1)] {
        println!("{share} % of {count} points within {:.3} dB; {}", differences[index].0, differences[index].1);
    }
    assert!(count > 1_000, "{count} points compared");
    assert!(differences[count - 1].0 <= 0.5, "{}", differences[count - 1].1);
}

/// The level that is passed for a duration.
fn level_for(curve: &Curve, duration: f64) -> f64 {
    let right = curve.durations.partition_point(|passed| f64::from(*passed) < duration).clamp(1, CURVE_POINTS - 1);
    let (early, late) = (f64::from(curve.durations[right - 1]), f64::from(curve.durations[right]));
    let part = ((duration - early) / (late - early)).clamp(0.0, 1.0);
    curve.peak - (Curve::drop(right - 1) + part * (Curve::drop(right) - Curve::drop(right - 1)))
}

fn shelter(table: &ScatterTable, spacings: &[f64], depth: f64) -> Received {
    let confirmer = Arc::new(Confirmer::at_once(Seconds::new(0.1)));
    let mut received = Received::new();
    for spacing in spacings {
        received.add(&Link {
            scatter: table,
            bottom_shift: Db::new(0.0),
            spacing: Metres::new(*spacing),
            depth: Metres::new(depth),
            speed: MetresPerSecond::new(1412.0),
            absorption: DbPerMetre::new(0.016),
            source: SourceLevel::new(207.0),
            pulse: Seconds::from_micros(100.0),
            confirmer: &confirmer,
            band_loss: Db::new(0.0),
            direct: None,
            bounce_loss: Db::new(16.0),
        });
    }
    received
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn marks_get_rarer_as_the_threshold_rises(low in 40.0..180.0_f64, step in 0.0..40.0_f64, spacing in 0.5..4.0_f64) {
        let plane = piston(12.0);
        let table = ScatterTable::new(Pair::level(plane.clone(), plane, scatter(BottomClass::FineSand)));
        let received = shelter(&table, &[spacing, 2.0 * spacing], 6.0);
        let often = received.drawn_fraction(Level::new(low));
        let rarer = received.drawn_fraction(Level::new(low + step));
        prop_assert!(rarer <= often + 1e-12);
        prop_assert!((0.0..=1.0).contains(&often));
    }

    #[test]
    fn critical_level_is_where_the_tolerance_is_met(tolerance in 0.001..0.2_f64, spacing in 0.5..3.0_f64) {
        let plane = piston(19.0);
        let table = ScatterTable::new(Pair::level(plane.clone(), plane, scatter(BottomClass::Silt)));
        let received = shelter(&table, &[spacing, spacing, 1.4 * spacing], 5.0);
        let critical = received.critical_level(tolerance).unwrap();
        prop_assert!(received.drawn_fraction(critical) <= tolerance);
        let under = received.drawn_fraction(critical - Db::new(0.02));
        prop_assert!(under > tolerance || critical.get() < 60.0);
    }

    #[test]
    fn more_neighbours_never_raise_the_clear_gain(count in 1usize..6, spacing in 0.5..3.0_f64) {
        let plane = piston(12.0);
        let table = ScatterTable::new(Pair::level(plane.clone(), plane, scatter(BottomClass::FineSand)));
        let few = shelter(&table, &vec![spacing; count], 8.0).critical_level(0.02).unwrap();
        let more = shelter(&table, &vec![spacing; count + 1], 8.0).critical_level(0.02).unwrap();
        prop_assert!(more.get() >= few.get() - 1e-9);
    }
}
