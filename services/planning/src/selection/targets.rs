//! Target strengths at an option's frequency.

use std::f64::consts::PI;

use acoustics::ModelError;
use acoustics::target;
use acoustics::units::{Angle, Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond, TargetStrength};

use domain::TargetShape;

/// Water in which target strengths are taken: 0 to 4 °C under ice, fresh. Between any two lakes the sound speed differs by a
/// few per cent, which moves a target strength by less than half a decibel.
const SPEED: MetresPerSecond = MetresPerSecond::new(1_412.0);
const DENSITY: KilogramsPerCubicMetre = KilogramsPerCubicMetre::new(999.95);

/// Least and greatest ka at which each form of the models holds.
const DISC_KA: (f64, f64) = (1.0, 1.0e4);
const CYLINDER_KA: (f64, f64) = (0.8, 1.0e4);
const SPHERE_KA: (f64, f64) = (0.02, 80.0);

/// A target strength and how it was come by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Strength {
    pub(crate) db: f64,
    /// Whether the model of the shape does not reach this frequency and a scaling law took over.
    pub(crate) extrapolated: bool,
}

/// Target strength of a shape at a frequency.
///
/// Below a model's least ka the strength falls as Rayleigh scattering does, 40 lg of the frequency; above its greatest the
/// geometric limit no longer changes. Both are marked as extrapolated.
pub(crate) fn strength(shape: &TargetShape, frequency: Hertz) -> Result<Strength, ModelError> {
    let radius = |diameter: Metres| 0.5 * diameter.get();
    match *shape {
        TargetShape::Known(strength) => Ok(Strength { db: strength.value.get(), extrapolated: false }),
        TargetShape::Fish { length, class } => {
            target::fish(class, length, frequency).map(|strength| Strength { db: strength.get(), extrapolated: false })
        }
        TargetShape::Disc { diameter } => scaled(frequency, radius(diameter), DISC_KA, |frequency| {
            target::disc(diameter, Angle::new(0.0), frequency, SPEED)
        }),
        TargetShape::Cylinder { length, diameter } => scaled(frequency, radius(diameter), CYLINDER_KA, |frequency| {
            target::cylinder(length, diameter, Angle::new(0.0), frequency, SPEED)
        }),
        TargetShape::Sphere { diameter, material } => scaled(frequency, radius(diameter), SPHERE_KA, |frequency| {
            target::solid_sphere(diameter, material.elastic(), frequency, SPEED, DENSITY)
        }),
    }
}

/// Calls the model at the nearest frequency that it covers, and scales from there.
fn scaled(
    frequency: Hertz,
    radius: f64,
    (least, most): (f64, f64),
    model: impl Fn(Hertz) -> Result<TargetStrength, ModelError>,
) -> Result<Strength, ModelError> {
    // A hair inside, so that rounding does not put the limit itself outside.
    let (least, most) = (least * (1.0 + 1.0e-9), most * (1.0 - 1.0e-9));
    let per_ka = SPEED.get() / (2.0 * PI * radius);
    let ka = frequency.get() / per_ka;
    if ka < least {
        let db = model(Hertz::new(least * per_ka))?.get() + 40.0 * libm::log10(ka / least);
        Ok(Strength { db, extrapolated: true })
    } else if ka > most {
        Ok(Strength { db: model(Hertz::new(most * per_ka))?.get(), extrapolated: true })
    } else {
        Ok(Strength { db: model(frequency)?.get(), extrapolated: false })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::SphereMaterial;

    #[test]
    fn strengths_join_where_the_models_end() {
        let mm = |value: f64| Metres::new(value * 1.0e-3);
        for shape in [
            TargetShape::Disc { diameter: mm(8.0) },
            TargetShape::Cylinder { length: mm(25.0), diameter: mm(3.0) },
            TargetShape::Sphere { diameter: mm(100.0), material: SphereMaterial::Steel },
        ] {
            let mut before: Option<Strength> = None;
            let mut joins = 0;
            let mut khz = 10.0;
            while khz < 2_000.0 {
                let now = strength(&shape, Hertz::from_khz(khz)).unwrap();
                if let Some(before) = before
                    && before.extrapolated != now.extrapolated
                {
                    joins += 1;
                    // A sphere's resonances leave a ripple at the join.
                    assert!((before.db - now.db).abs() < 1.0, "{shape:?} at {khz} kHz: {before:?} {now:?}");
                }
                before = Some(now);
                khz *= 1.001;
            }
            assert_eq!(joins, 1, "{shape:?}");
        }
    }
}
