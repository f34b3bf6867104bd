//! What is no water, no body and no table is refused with its name, and never answered by a figure that is none. Found by the fuzz targets.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic)]

use acoustics::ModelError;
use acoustics::levels::{source_level, thermal_noise};
use acoustics::pattern::{Aperture, Pattern, Pchip, check_table};
use acoustics::target::{Elastic, SphereMaterial, cylinder, disc, solid_sphere};
use acoustics::units::{Angle, Celsius, Db, HalfAngle, Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond, Watts};

const WATER: (f64, f64) = (1_000.0, 1_421.6);

#[track_caller]
fn refuses<T: std::fmt::Debug>(result: Result<T, ModelError>, wanted: &str) {
    match result {
        Err(ModelError::OutOfRange { quantity, value, min, max, .. }) => {
            assert_eq!(quantity, wanted);
            assert!(!(min..=max).contains(&value), "{value} lies within {min} to {max}");
        }
        other => panic!("{wanted}: {other:?}"),
    }
}

#[test]
fn a_column_of_water_is_not_upside_down_and_ends() {
    for depth in [-1.0, -1e306, 1e9, f64::NAN] {
        let column = acoustics::water::WaterColumn::under_ice(Metres::new(depth), Celsius::new(4.0));
        let speed = column.mean_sound_speed();
        match speed {
            Err(ModelError::OutOfRange { quantity: "depth", .. }) => {}
            other => panic!("{depth}: {other:?}"),
        }
    }
}

#[test]
fn levels_want_water_and_a_beam() {
    let both = |index: f64, rho: f64, c: f64, wanted: &str| {
        let (index, rho, c) = (Db::new(index), KilogramsPerCubicMetre::new(rho), MetresPerSecond::new(c));
        refuses(source_level(Watts::new(20.0), 0.5, index, rho, c), wanted);
        refuses(thermal_noise(Hertz::from_khz(200.0), Hertz::new(1e4), Celsius::new(4.0), index, rho, c), wanted);
    };
    for rho in [0.0, -1_000.0, f64::NAN, 1e300] {
        both(20.0, rho, WATER.1, "density");
    }
    for c in [0.0, -1_421.6, f64::INFINITY, 340.0] {
        both(20.0, WATER.0, c, "sound speed");
    }
    for index in [-3.0, 1e300, f64::NAN] {
        both(index, WATER.0, WATER.1, "directivity index");
    }
}

#[test]
fn bodies_have_sides_and_stand_in_water() {
    let (khz, flat) = (Hertz::from_khz(200.0), Angle::new(0.0));
    let (side, speed) = (Metres::new(0.02), MetresPerSecond::new(WATER.1));
    // Two negative factors make a ka that looks sound.
    let (minus_side, minus_speed) = (Metres::new(-0.02), MetresPerSecond::new(-WATER.1));
    refuses(disc(minus_side, flat, Hertz::from_khz(-200.0), speed), "diameter");
    refuses(disc(side, flat, Hertz::from_khz(-200.0), minus_speed), "sound speed");
    refuses(disc(side, flat, Hertz::from_khz(-200.0), speed), "ka");
    refuses(disc(side, Angle::from_degrees(91.0), khz, speed), "tilt");
    refuses(cylinder(Metres::new(0.0), side, flat, khz, speed), "length");
    refuses(cylinder(side, minus_side, flat, Hertz::from_khz(-200.0), speed), "diameter");
    refuses(cylinder(side, side, Angle::new(f64::INFINITY), khz, speed), "tilt");
}

#[test]
fn spheres_are_solid() {
    let lead = SphereMaterial::Lead.elastic();
    let of = |solid: Elastic, rho: f64, c: f64| {
        let (rho, c) = (KilogramsPerCubicMetre::new(rho), MetresPerSecond::new(c));
        solid_sphere(Metres::new(0.02), solid, Hertz::from_khz(200.0), c, rho)
    };
    assert!(of(lead, WATER.0, WATER.1).is_ok());
    // A shear speed of a millionth asked for 10⁹ terms.
    for shear in [0.0, 1e-6, -700.0, f64::NAN] {
        refuses(of(Elastic { shear, ..lead }, WATER.0, WATER.1), "shear speed");
    }
    refuses(of(Elastic { longitudinal: 1e-9, ..lead }, WATER.0, WATER.1), "longitudinal speed");
    refuses(of(Elastic { density: 0.0, ..lead }, WATER.0, WATER.1), "density of the solid");
    refuses(of(lead, -WATER.0, WATER.1), "density");
    refuses(of(lead, WATER.0, 0.0), "sound speed");
}

/// The quadrature of the index and of the equivalent angle cannot tell such narrow beams.
#[test]
fn tables_narrower_than_a_degree_are_refused() {
    let table = |narrow: f64| {
        let points = [(0.0, 0.0), (narrow, -6.0), (10.0, -60.0)];
        points.map(|(angle, level)| (HalfAngle::from_degrees(angle), Db::new(level))).to_vec()
    };
    for narrow in [1e-9, 0.001, 0.4] {
        refuses(Pattern::new(&Aperture::Tabulated { points: table(narrow) }, Db::new(-40.0)), "width at -3 dB");
    }
    // Half of a step is passed at −3 dB.
    let points = table(1.5);
    assert_eq!(check_table(&points), Ok(()));
    let pattern = Pattern::new(&Aperture::Tabulated { points }, Db::new(-40.0)).unwrap();
    // 10 lg (4π / Ω) of a cone of 1.5° and of one of 0.5° around it.
    assert!((35.0..50.0).contains(&pattern.directivity_index().get()), "{:?}", pattern.directivity_index());
}

#[test]
fn tables_of_finite_points_without_finite_slopes_are_refused() {
    for points in [
        [(0.0, 0.0), (1.0, -3.0), (f64::MAX, -20.0), (f64::MAX, -20.0)],
        [(-f64::MAX, 0.0), (0.0, -3.0), (f64::MAX, -20.0), (f64::INFINITY, -20.0)],
        [(0.0, 0.0), (5e-324, -20.0), (1.0, -30.0), (2.0, -40.0)],
    ] {
        assert!(matches!(Pchip::new(&points), Err(ModelError::BadTable { .. })), "{points:?}");
    }
    let wide = Pchip::new(&[(-1.7e308, 0.0), (1.7e308, -20.0)]);
    assert!(matches!(wide, Err(ModelError::BadTable { .. })), "{wide:?}");
}
