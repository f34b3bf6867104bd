//! What one unit hears of another over slopes, with leaning and oblong beams, as NumPy integrates it.

use std::sync::Arc;

use acoustics::bottom::BistaticScatter;
use acoustics::interference::{BottomScatter, CURVE_POINTS, Curve, HungBeam, Pair};
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{Angle, Beamwidth, Db, FullAngle, WidthLevel};
use serde::Deserialize;

/// tests/reference/scatter.json, made by scatter.py beside it with the library versions that it names.
#[derive(Deserialize)]
struct Stored {
    made_by: String,
    durations: Vec<f64>,
    cases: Vec<Case>,
}

#[derive(Deserialize, Debug)]
struct Case {
    talker: Beam,
    listener: Beam,
    slope_deg: f64,
    uphill_deg: f64,
    spacing: f64,
    pulse: f64,
    facet: f64,
    tan2_sigma: f64,
    diffuse: f64,
    lambert: bool,
    levels_db: Vec<f64>,
}

#[derive(Deserialize, Debug)]
struct Beam {
    heading_deg: f64,
    lean_deg: f64,
    #[serde(flatten)]
    shape: Shape,
}

#[derive(Deserialize, Debug)]
#[serde(untagged)]
enum Shape {
    Round { width_deg: f64 },
    Oblong { along_deg: f64, across_deg: f64 },
}

fn hung(beam: &Beam) -> HungBeam {
    let width = |degrees| Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 };
    let aperture = match beam.shape {
        Shape::Round { width_deg } => Aperture::CircularPiston { beamwidth: width(width_deg) },
        Shape::Oblong { along_deg, across_deg } => {
            Aperture::Rectangular { along: width(along_deg), across: width(across_deg) }
        }
    };
    let pattern = Arc::new(Pattern::new(&aperture, Db::new(-40.0)).unwrap());
    HungBeam::new(pattern, Angle::from_degrees(beam.heading_deg), Angle::from_degrees(beam.lean_deg))
}

/// The level that is passed for a duration.
fn level_for(curve: &Curve, duration: f64) -> f64 {
    let right = curve.durations.partition_point(|passed| f64::from(*passed) < duration).clamp(1, CURVE_POINTS - 1);
    let (early, late) = (f64::from(curve.durations[right - 1]), f64::from(curve.durations[right]));
    let part = ((duration - early) / (late - early)).clamp(0.0, 1.0);
    curve.peak - (Curve::drop(right - 1) + part * (Curve::drop(right) - Curve::drop(right - 1)))
}

#[test]
fn slopes_headings_and_leans_between_neighbours_agree_with_numpy_to_half_a_decibel() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/scatter.json");
    let stored: Stored = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    assert!(stored.made_by.contains("NumPy"), "{}", stored.made_by);
    let mut differences = Vec::new();
    for case in &stored.cases {
        let scatter = BistaticScatter {
            facet: case.facet,
            tan2_sigma: case.tan2_sigma,
            diffuse: case.diffuse,
            lambert: case.lambert,
        };
        let (slope, uphill) = (Angle::from_degrees(case.slope_deg), Angle::from_degrees(case.uphill_deg));
        let pair = Pair::sloping(hung(&case.talker), hung(&case.listener), scatter, slope, uphill);
        let mut curve = Curve::SILENT;
        pair.curve(1, case.spacing, case.pulse, &mut curve);
        // Down to 40 dB under the peak: what no dial shows is not compared.
        let faint = case.levels_db[0] - 40.0;
        for (duration, level) in stored.durations.iter().zip(&case.levels_db).filter(|(_, level)| **level > faint) {
            let got = level_for(&curve, *duration);
            differences.push(((got - level).abs(), format!("{duration:.3}: {got:.2} against {level:.2}, {case:?}")));
        }
    }
    differences.sort_by(|a, b| a.0.total_cmp(&b.0));
    let count = differences.len();
    for (share, index) in [(50, count / 2), (95, count * 95 / 100), (99, count * 99 / 100), (100, count - 1)] {
        println!("{share} % of {count} points within {:.3} dB; {}", differences[index].0, differences[index].1);
    }
    assert!(count > 250, "{count} points compared");
    assert!(differences[count - 1].0 <= 0.5, "{}", differences[count - 1].1);
}
