//! Second implementations, stored: the echo of a plane bottom, and balls that lose sound.

use acoustics::bottom::BottomClass;
use acoustics::pattern::{Aperture, Pattern};
use acoustics::plane_echo::{BeamOnPlane, PlaneEcho};
use acoustics::target::{Elastic, solid_sphere};
use acoustics::units::{
    Angle, Beamwidth, Db, FullAngle, Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond, WidthLevel,
};
use serde::Deserialize;

/// tests/reference/second.json, made by second.py beside it with the library versions that it names.
#[derive(Deserialize)]
struct Stored {
    made_by: String,
    planes: Vec<Plane>,
    balls: Vec<Ball>,
}

#[derive(Deserialize, Debug)]
struct Plane {
    class: String,
    khz: f64,
    width_deg: f64,
    tilt_deg: f64,
    window: f64,
    peak_db: f64,
}

#[derive(Deserialize, Debug)]
struct Ball {
    diameter_mm: f64,
    khz: f64,
    density: f64,
    longitudinal: f64,
    shear: f64,
    loss: f64,
    strength_db: f64,
}

fn stored() -> Stored {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/second.json");
    let stored: Stored = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    assert!(stored.made_by.contains("NumPy"), "{}", stored.made_by);
    stored
}

#[test]
fn the_echo_of_a_plane_agrees_with_numpy_to_half_a_decibel() {
    let mut most: f64 = 0.0;
    for case in stored().planes {
        let class = match case.class.as_str() {
            "SILT" => BottomClass::Silt,
            "FINE_SAND" => BottomClass::FineSand,
            "MEDIUM_SAND" => BottomClass::MediumSand,
            "COARSE_SAND" => BottomClass::CoarseSand,
            "GRAVEL" => BottomClass::Gravel,
            "COBBLE" => BottomClass::Cobble,
            "ROCK" => BottomClass::Rock,
            other => panic!("no class is called {other}"),
        };
        let beamwidth = Beamwidth { full: FullAngle::from_degrees(case.width_deg), at: WidthLevel::Minus3 };
        let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(-40.0)).unwrap();
        let beam = BeamOnPlane::new(&pattern, Angle::from_degrees(30.0));
        let echo = PlaneEcho::new(&beam, class, Hertz::from_khz(case.khz)).unwrap();
        let got = echo.peak(Angle::from_degrees(case.tilt_deg), case.window.log10()).get();
        most = most.max((got - case.peak_db).abs());
        assert!((got - case.peak_db).abs() <= 0.5, "{got} dB: {case:?}");
    }
    println!("echo of a plane: at most {most:.3} dB apart");
}

#[test]
fn balls_that_lose_sound_agree_with_numpy() {
    for case in stored().balls {
        let solid =
            Elastic { density: case.density, longitudinal: case.longitudinal, shear: case.shear, loss: case.loss };
        let (diameter, frequency) = (Metres::new(case.diameter_mm / 1e3), Hertz::from_khz(case.khz));
        let water = (MetresPerSecond::new(1421.635), KilogramsPerCubicMetre::new(999.975));
        let got = solid_sphere(diameter, solid, frequency, water.0, water.1).unwrap().get();
        assert!((got - case.strength_db).abs() <= 0.01, "{got} dB: {case:?}");
    }
}
