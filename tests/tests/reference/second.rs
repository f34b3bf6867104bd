//! Second implementations, stored: the echo of a plane bottom, the area in which fish show, sheets of ice, and balls that lose sound.

use acoustics::bottom::BottomClass;
use acoustics::ice::sheet_loss;
use acoustics::pattern::{Aperture, Pattern};
use acoustics::plane_echo::{BeamOnPlane, PlaneEcho};
use acoustics::target::{Elastic, solid_sphere};
use acoustics::units::{
    Angle, Beamwidth, Db, FullAngle, Hertz, KilogramsPerCubicMetre, Level, Metres, MetresPerSecond, SourceLevel,
    WidthLevel,
};
use domain::selection::{ExplainStep, Lean};
use domain::{Cancel, Fact, FishLayer, Source};
use planning::selection::Prepared;
use serde::Deserialize;

use crate::common::{piston, run, spot};

/// tests/reference/second.json, made by second.py beside it with the library versions that it names.
#[derive(Deserialize)]
struct Stored {
    made_by: String,
    planes: Vec<Plane>,
    oblong: Vec<Oblong>,
    fish: Vec<Fish>,
    ice: Vec<Ice>,
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
struct Oblong {
    class: String,
    khz: f64,
    along_deg: f64,
    across_deg: f64,
    tilt_deg: f64,
    window: f64,
    peak_db: f64,
}

#[derive(Deserialize, Debug)]
struct Fish {
    width_deg: f64,
    lean_deg: f64,
    depth_m: f64,
    top_m: f64,
    bottom_m: f64,
    visible_db: f64,
    radius_m: f64,
}

#[derive(Deserialize, Debug)]
struct Ice {
    thickness_m: f64,
    khz: f64,
    band_khz: f64,
    loss_db: f64,
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
        let aperture = Aperture::CircularPiston { beamwidth: width(case.width_deg) };
        let got = peak(&aperture, (&case.class, case.khz), (case.tilt_deg, case.window));
        most = most.max((got - case.peak_db).abs());
        assert!((got - case.peak_db).abs() <= 0.5, "{got} dB: {case:?}");
    }
    println!("echo of a plane: at most {most:.3} dB apart");
}

#[test]
fn the_echo_of_a_plane_under_an_oblong_beam_agrees_with_numpy_to_half_a_decibel() {
    let mut most: f64 = 0.0;
    for case in stored().oblong {
        let aperture = Aperture::Rectangular { along: width(case.along_deg), across: width(case.across_deg) };
        let got = peak(&aperture, (&case.class, case.khz), (case.tilt_deg, case.window));
        most = most.max((got - case.peak_db).abs());
        assert!((got - case.peak_db).abs() <= 0.5, "{got} dB: {case:?}");
    }
    println!("echo of a plane under an oblong beam: at most {most:.3} dB apart");
}

fn width(degrees: f64) -> Beamwidth {
    Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 }
}

/// The echo of a plane at its peak, of a class at a frequency, for a tilt and a window.
fn peak(aperture: &Aperture, (class, khz): (&str, f64), (tilt, window): (f64, f64)) -> f64 {
    let class = match class {
        "SILT" => BottomClass::Silt,
        "FINE_SAND" => BottomClass::FineSand,
        "MEDIUM_SAND" => BottomClass::MediumSand,
        "COARSE_SAND" => BottomClass::CoarseSand,
        "GRAVEL" => BottomClass::Gravel,
        "COBBLE" => BottomClass::Cobble,
        "ROCK" => BottomClass::Rock,
        other => panic!("no class is called {other}"),
    };
    let pattern = Pattern::new(aperture, Db::new(-40.0)).unwrap();
    let beam = BeamOnPlane::new(&pattern, Angle::from_degrees(30.0));
    let echo = PlaneEcho::new(&beam, class, Hertz::from_khz(khz)).unwrap();
    echo.peak(Angle::from_degrees(tilt), window.log10()).get()
}

#[test]
fn where_fish_show_agrees_with_numpy_to_half_a_decibel_of_area() {
    let mut most: f64 = 0.0;
    for case in stored().fish {
        let mut place = spot("s", case.depth_m, BottomClass::Rock);
        place.fish_layer = FishLayer {
            top: Metres::new(case.top_m),
            bottom: Metres::new(case.bottom_m),
            per_cubic_metre: place.fish_layer.per_cubic_metre,
        };
        let mut sensor = piston("p", case.width_deg);
        sensor.options[0].source = Source::Stated(Fact::stated(SourceLevel::new(207.0)));
        sensor.threshold = Fact::stated(Level::new(case.visible_db + sensor.max_gain.value.get()));
        let mut input = run(vec![place], vec![sensor]);
        // Towards the lure; on level ground all ways cover alike.
        input.settings.lean = Lean { angle: Angle::from_degrees(case.lean_deg), direction: Some(Angle::new(0.0)) };
        let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
        let got = figure(&planning::explain(&prepared, 0, 0).unwrap(), "full_gain_radius_m").unwrap();
        let apart = 20.0 * ((got + 0.01) / (case.radius_m + 0.01)).log10();
        most = most.max(apart.abs());
        assert!(apart.abs() <= 0.5, "{got} m: {case:?}");
    }
    println!("area in which fish show: at most {most:.3} dB apart");
}

fn figure(step: &ExplainStep, name: &str) -> Option<f64> {
    if step.name == name { step.value } else { step.inputs.iter().find_map(|input| figure(input, name)) }
}

#[test]
fn sheets_of_ice_agree_with_numpy_to_a_tenth_of_a_decibel() {
    for case in stored().ice {
        let band = Hertz::from_khz(case.band_khz);
        let got = sheet_loss(Metres::new(case.thickness_m), Hertz::from_khz(case.khz), band).unwrap().get();
        assert!((got - case.loss_db).abs() <= 0.1, "{got} dB: {case:?}");
    }
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
