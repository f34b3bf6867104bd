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
use acoustics::interference::{CURVE_POINTS, Link, Received, ScatterTable, scattered_intensity};
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{
    Beamwidth, Db, DbPerMetre, FullAngle, Hertz, Level, Metres, MetresPerSecond, Seconds, SourceLevel, WidthLevel,
};
use proptest::prelude::*;

fn piston(degrees: f64) -> Pattern {
    let beamwidth = Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 };
    Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(-40.0)).unwrap()
}

fn scatter(class: BottomClass) -> BistaticScatter {
    BistaticScatter::new(class, Hertz::from_khz(200.0)).unwrap()
}

/// Level that the scattered intensity exceeds for each of some durations, by summing small squares of bottom into bins of path length.
fn by_squares(beam: &Pattern, bottom: &BistaticScatter, spacing: f64, pulse: f64, durations: &[f64]) -> Vec<f64> {
    const BIN: f64 = 5e-4;
    let bins = (11.0 / BIN) as usize;
    let mut arrived = vec![0.0; bins];
    let first = 2.0 * (1.0 + 0.25 * spacing * spacing).sqrt();
    // Finer squares where the beams and the facets are, coarser further out; each square once.
    for (inner, outer, step) in [(0.0, 1.2, 0.0025), (1.2, 5.0, 0.01)] {
        let count = (2.0 * outer / step) as i32;
        for i in 0..count {
            let x = -outer + (f64::from(i) + 0.5) * step;
            for j in 0..count / 2 {
                let y = (f64::from(j) + 0.5) * step;
                if x.abs() < inner && y < inner {
                    continue;
                }
                let r1 = ((x + 0.5 * spacing).powi(2) + y * y + 1.0).sqrt();
                let r2 = ((x - 0.5 * spacing).powi(2) + y * y + 1.0).sqrt();
                let bin = ((r1 + r2 - first) / BIN) as usize;
                if bin < bins {
                    let plane = beam.along();
                    arrived[bin] += 2.0 * step * step * scattered_intensity(plane, plane, bottom, spacing, (x, y));
                }
            }
        }
    }
    let window = (pulse / BIN).round() as usize;
    let mut levels: Vec<f64> = (0..bins + window)
        .map(|i| (i.saturating_sub(window)..i.min(bins)).map(|k| arrived[k]).sum::<f64>())
        .map(|p| 10.0 * p.max(1e-30).log10())
        .collect();
    levels.sort_by(|a, b| b.total_cmp(a));
    durations.iter().map(|d| levels[(d / BIN) as usize]).collect()
}

#[test]
fn table_agrees_with_direct_integration_to_half_a_decibel() {
    // Support: direct numerical integration of model.md section 7 on a square grid, which shares neither the elliptic coordinates
    // nor the interpolation of the table; only the integrand is the same.
    let durations = [0.01, 0.03, 0.1, 0.3];
    let mut worst: f64 = 0.0;
    for (degrees, class, spacing, pulse) in [
        (12.0, BottomClass::Silt, 0.21, 0.0213),
        (19.0, BottomClass::FineSand, 0.47, 0.0137),
        (9.0, BottomClass::Gravel, 0.33, 0.031),
        (30.0, BottomClass::MediumSand, 0.9, 0.05),
    ] {
        let beam = piston(degrees);
        let plane = Arc::new(beam.along().clone());
        let table = ScatterTable::new(plane.clone(), plane, scatter(class));
        let mut curve = [0.0; CURVE_POINTS];
        table.curve(spacing, pulse, &mut curve);
        let direct = by_squares(&beam, &scatter(class), spacing, pulse, &durations);
        for (duration, expected) in durations.iter().zip(direct) {
            let got = level_for(&curve, *duration);
            println!(
                "{degrees}° {class:?} s/d {spacing} cτ/d {pulse} duration {duration}: {got:.2} against {expected:.2} dB"
            );
            worst = worst.max((got - expected).abs());
        }
    }
    assert!(worst <= 0.5, "worst difference {worst:.2} dB");
}

/// Reads a curve at a duration; durations run geometrically from 1e-3 to 12 after a first point of zero.
fn level_for(curve: &[f64; CURVE_POINTS], duration: f64) -> f64 {
    let position = 1.0 + (duration / 1e-3_f64).ln() / (12.0 / 1e-3_f64).ln() * (CURVE_POINTS as f64 - 2.0);
    let (left, part) = (position as usize, position.fract());
    curve[left] + part * (curve[left + 1] - curve[left])
}

fn shelter(table: &ScatterTable, spacings: &[f64], depth: f64) -> Received {
    let mut received = Received::new();
    for spacing in spacings {
        received.add(&Link {
            table,
            bottom_shift: Db::new(0.0),
            spacing: Metres::new(*spacing),
            depth: Metres::new(depth),
            speed: MetresPerSecond::new(1412.0),
            absorption: DbPerMetre::new(0.016),
            source: SourceLevel::new(207.0),
            pulse: Seconds::from_micros(100.0),
            interval: Seconds::new(0.1),
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
        let plane = Arc::new(piston(12.0).along().clone());
        let table = ScatterTable::new(plane.clone(), plane, scatter(BottomClass::FineSand));
        let received = shelter(&table, &[spacing, 2.0 * spacing], 6.0);
        let often = received.mark_probability(Level::new(low));
        let rarer = received.mark_probability(Level::new(low + step));
        prop_assert!(rarer <= often + 1e-12);
        prop_assert!((0.0..=1.0).contains(&often));
    }

    #[test]
    fn critical_level_is_where_the_tolerance_is_met(tolerance in 0.001..0.2_f64, spacing in 0.5..3.0_f64) {
        let plane = Arc::new(piston(19.0).along().clone());
        let table = ScatterTable::new(plane.clone(), plane, scatter(BottomClass::Silt));
        let received = shelter(&table, &[spacing, spacing, 1.4 * spacing], 5.0);
        let critical = received.critical_level(tolerance).unwrap();
        prop_assert!(received.mark_probability(critical) <= tolerance);
        let under = received.mark_probability(critical - Db::new(0.02));
        prop_assert!(under > tolerance || critical.get() < 60.0);
    }

    #[test]
    fn more_neighbours_never_raise_the_clear_gain(count in 1usize..6, spacing in 0.5..3.0_f64) {
        let plane = Arc::new(piston(12.0).along().clone());
        let table = ScatterTable::new(plane.clone(), plane, scatter(BottomClass::FineSand));
        let few = shelter(&table, &vec![spacing; count], 8.0).critical_level(0.02).unwrap();
        let more = shelter(&table, &vec![spacing; count + 1], 8.0).critical_level(0.02).unwrap();
        prop_assert!(more.get() >= few.get() - 1e-9);
    }
}
