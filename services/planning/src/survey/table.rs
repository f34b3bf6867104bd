//! A fitted beam as a table of angles and levels, and the stated one at the same angles.

use acoustics::units::{Db, HalfAngle};

use super::beam::Beam;
use super::input::Scene;
use super::likelihood::Parameters;
use domain::PatternPoint;

/// Points of the main lobe.
const LOBE_POINTS: u32 = 24;
/// Points beside it.
const SIDE_POINTS: u32 = 72;
/// No pattern falls under this where it is tabulated, dB.
const LEAST: f64 = -60.0;

/// The measured pattern: the fitted main lobe, the fitted lobes and floor beside it as far as readings reach (`side_reach`,
/// radians), and the stated pattern where nothing was measured, which never passes the fitted one.
pub(super) fn fitted(scene: &Scene, parameters: &Parameters, side_reach: Option<f64>) -> Vec<PatternPoint> {
    let [width, _, _, side, _] = parameters.0;
    let floor = if side_reach.is_some() { side } else { scene.floor };
    let beam = Beam::new(width, floor);
    let edge = beam.edge();
    let end = std::f64::consts::FRAC_PI_2;
    let lobe = (0..=LOBE_POINTS).map(|i| edge * f64::from(i) / f64::from(LOBE_POINTS));
    let beside = (1..=SIDE_POINTS).map(|i| edge + (end - edge) * f64::from(i) / f64::from(SIDE_POINTS));
    let reach = side_reach.filter(|reach| *reach > edge && *reach < end);
    let mut angles: Vec<f64> = lobe.chain(beside).chain(reach).filter(|angle| *angle <= end).collect();
    angles.sort_by(f64::total_cmp);
    angles.dedup_by(|a, b| *a - *b < 1.0e-4);
    let level = |angle: f64| {
        if angle <= edge || side_reach.is_some_and(|reach| angle <= reach) {
            return beam.level(angle);
        }
        let stated = scene.sounding.pattern().level(HalfAngle::new(angle)).get();
        if side_reach.is_some() { stated.min(beam.level(angle).max(side)) } else { stated }
    };
    let point = |angle: f64| PatternPoint {
        angle: HalfAngle::new(angle),
        level: Db::new(if angle == 0.0 { 0.0 } else { level(angle).clamp(LEAST, 0.0) }),
    };
    angles.into_iter().map(point).collect()
}

/// The stated pattern at the angles of another table.
pub(super) fn stated(scene: &Scene, angles: &[PatternPoint]) -> Vec<PatternPoint> {
    let level = |angle: HalfAngle| Db::new(scene.sounding.pattern().level(angle).get().clamp(LEAST, 0.0));
    angles.iter().map(|point| PatternPoint { angle: point.angle, level: level(point.angle) }).collect()
}
