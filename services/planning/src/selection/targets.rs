//! Target strengths at an option's frequency.

use std::f64::consts::PI;

use acoustics::ModelError;
use acoustics::target::{self, ASPECT_SPREAD, Aspect, LURE_SIZE_SPREAD};
use acoustics::units::{Angle, Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond, TargetStrength};

use domain::{BeamOption, TargetKind, TargetShape};

/// Water in which target strengths are taken: 0 to 4 °C under ice, fresh. Between any two lakes the sound speed differs by a
/// few per cent, which moves a target strength by less than half a decibel.
const SPEED: MetresPerSecond = MetresPerSecond::new(1_412.0);
const DENSITY: KilogramsPerCubicMetre = KilogramsPerCubicMetre::new(999.95);

/// Least and greatest ka at which each form of the models holds.
const DISC_KA: (f64, f64) = (1.0, 1.0e4);
const CYLINDER_KA: (f64, f64) = (0.8, 1.0e4);
const SPHERE_KA: (f64, f64) = (0.02, 80.0);

/// Spread of a target strength of which nothing special is known, dB: what a draw of one standard deviation is.
const USUAL_SPREAD: f64 = crate::uncertainty::spreads::TARGET_SPREAD;

/// A target strength and how it was come by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Strength {
    pub(crate) db: f64,
    /// Whether the model does not reach this frequency: of a shape, that a scaling law took over; of a fish, that it was fitted at others.
    pub(crate) extrapolated: bool,
    /// Spread over the usual one.
    pub(crate) widening: f64,
}

/// How a target is seen: by which pulse, and how it hangs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct View {
    pub(crate) frequency: Hertz,
    /// Band of the pulse.
    pub(crate) band: Hertz,
    pub(crate) aspect: Aspect,
}

impl View {
    /// By an option's pulse. Reference targets are hung level; lures turn as they like.
    pub(crate) fn new(option: &BeamOption, kind: TargetKind) -> Self {
        let band =
            option.sweep_bandwidth.map_or(0.0, |sweep| sweep.value.get()).max(1.0 / option.pulse_length.value.get());
        let aspect = match kind {
            TargetKind::Reference => Aspect::Strongest,
            TargetKind::Lure | TargetKind::Fish => Aspect::Any,
        };
        Self { frequency: option.frequency.value, band: Hertz::new(band), aspect }
    }
}

/// Target strength of a shape as a pulse sees it: the mean over the pulse's band and a few per cent of size, and over the aspects that are not known.
///
/// Below a model's least ka the strength falls as Rayleigh scattering does, 40 lg of the frequency; above its greatest the
/// geometric limit no longer changes. Both are marked as extrapolated.
pub(crate) fn strength(shape: &TargetShape, view: View) -> Result<Strength, ModelError> {
    let radius = |diameter: Metres| 0.5 * diameter.get();
    let both = |a: f64, b: f64| libm::hypot(a, b) / USUAL_SPREAD;
    match *shape {
        TargetShape::Known(strength) => Ok(Strength { db: strength.value.get(), extrapolated: false, widening: 1.0 }),
        TargetShape::Fish { length, class } => {
            let wider = target::fitted_elsewhere(class, view.frequency);
            let db = target::fish(class, length, view.frequency)?.get();
            Ok(Strength { db, extrapolated: wider > 0.0, widening: both(USUAL_SPREAD, wider) })
        }
        TargetShape::Disc { diameter } => scaled(view, radius(diameter), DISC_KA, |frequency| match view.aspect {
            Aspect::Strongest => target::disc(diameter, Angle::new(0.0), frequency, SPEED),
            Aspect::Any => target::mean_disc(diameter, frequency, SPEED),
        })
        .map(|strength| turning(strength, view.aspect)),
        TargetShape::Cylinder { length, diameter } => {
            scaled(view, radius(diameter), CYLINDER_KA, |frequency| match view.aspect {
                Aspect::Strongest => target::cylinder(length, diameter, Angle::new(0.0), frequency, SPEED),
                Aspect::Any => target::mean_cylinder(length, diameter, frequency, SPEED),
            })
            .map(|strength| turning(strength, view.aspect))
        }
        TargetShape::Sphere { diameter, material } => scaled(view, radius(diameter), SPHERE_KA, |frequency| {
            target::solid_sphere(diameter, material.elastic(), frequency, SPEED, DENSITY)
        }),
    }
}

/// A body whose aspect is not known is spread wider.
fn turning(strength: Strength, aspect: Aspect) -> Strength {
    match aspect {
        Aspect::Strongest => strength,
        Aspect::Any => Strength { widening: ASPECT_SPREAD / USUAL_SPREAD, ..strength },
    }
}

/// Calls the model at the nearest frequencies that it covers and scales from there, over the band of the pulse.
fn scaled(
    view: View,
    radius: f64,
    (least, most): (f64, f64),
    model: impl Fn(Hertz) -> Result<TargetStrength, ModelError>,
) -> Result<Strength, ModelError> {
    // A hair inside, so that rounding does not put the limit itself outside.
    let (least, most) = (least * (1.0 + 1.0e-9), most * (1.0 - 1.0e-9));
    let per_ka = SPEED.get() / (2.0 * PI * radius);
    let covered = |frequency: Hertz| {
        let ka = frequency.get() / per_ka;
        let inside = model(Hertz::new(ka.clamp(least, most) * per_ka))?.get();
        Ok(TargetStrength::new(inside + 40.0 * libm::log10(ka / least).min(0.0)))
    };
    // The size of a reference target is known.
    let spread = match view.aspect {
        Aspect::Strongest => 0.0,
        Aspect::Any => LURE_SIZE_SPREAD,
    };
    let db = target::mean_over_band(view.frequency, view.band, spread, covered)?.get();
    let ka = view.frequency.get() / per_ka;
    Ok(Strength { db, extrapolated: !(least..=most).contains(&ka), widening: 1.0 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::SphereMaterial;
    use proptest::prelude::*;

    fn seen(khz: f64, aspect: Aspect) -> View {
        View { frequency: Hertz::from_khz(khz), band: Hertz::from_khz(10.0), aspect }
    }

    #[test]
    fn strengths_join_where_the_models_end() {
        let mm = |value: f64| Metres::new(value * 1.0e-3);
        for shape in [
            TargetShape::Disc { diameter: mm(8.0) },
            TargetShape::Cylinder { length: mm(25.0), diameter: mm(3.0) },
            TargetShape::Sphere { diameter: mm(60.0), material: SphereMaterial::Steel },
        ] {
            let mut before: Option<Strength> = None;
            let mut joins = 0;
            let mut khz = 12.0;
            while khz < 1_900.0 {
                let now = strength(&shape, seen(khz, Aspect::Any)).unwrap();
                if let Some(before) = before {
                    joins += i32::from(before.extrapolated != now.extrapolated);
                    assert!((before.db - now.db).abs() < 2.5, "{shape:?} at {khz} kHz: {before:?} {now:?}");
                }
                before = Some(now);
                khz *= 1.03;
            }
            assert_eq!(joins, 1, "{shape:?}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(128))]

        #[test]
        fn three_per_cent_of_size_moves_no_strength_by_more_than_about_two_decibels(
            diameter in 2.0..20.0_f64, khz in 40.0..800.0_f64, kind in 0usize..7,
        ) {
            let material = [
                SphereMaterial::TungstenCarbide,
                SphereMaterial::Tungsten,
                SphereMaterial::Brass,
                SphereMaterial::Steel,
                SphereMaterial::Lead,
            ];
            let shape = |scale: f64| {
                let diameter = Metres::new(diameter * scale * 1.0e-3);
                match material.get(kind) {
                    Some(material) => TargetShape::Sphere { diameter, material: *material },
                    None if kind == 5 => TargetShape::Disc { diameter },
                    None => TargetShape::Cylinder { length: diameter * 4.0, diameter },
                }
            };
            let at = |scale: f64| strength(&shape(scale), seen(khz, Aspect::Any)).unwrap().db;
            prop_assert!((at(1.03) - at(1.0)).abs() <= 2.5, "{:?} at {khz} kHz: {} and {}", shape(1.0), at(1.0), at(1.03));
        }

        #[test]
        fn a_body_that_turns_is_never_stronger_than_face_on(diameter in 3.0..20.0_f64, khz in 40.0..800.0_f64) {
            for shape in [
                TargetShape::Disc { diameter: Metres::new(diameter * 1.0e-3) },
                TargetShape::Cylinder { length: Metres::new(4.0e-3 * diameter), diameter: Metres::new(diameter * 1.0e-3) },
            ] {
                let [any, strongest] = [Aspect::Any, Aspect::Strongest].map(|aspect| strength(&shape, seen(khz, aspect)).unwrap());
                prop_assert!(any.db <= strongest.db && any.widening > strongest.widening, "{any:?} {strongest:?}");
            }
        }
    }
}
