//! Laws that every beam pattern keeps, and shadow heights against brute-force ray casting.
#![allow(missing_docs, clippy::unwrap_used, clippy::disallowed_methods)]

use acoustics::geometry::first_bottom_range;
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{Angle, Beamwidth, Db, FullAngle, HalfAngle, Metres, WidthLevel};
use proptest::prelude::*;

fn width(degrees: f64) -> Beamwidth {
    Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 }
}

fn apertures(degrees: f64, lobe: f64) -> [Aperture; 3] {
    [
        Aperture::CircularPiston { beamwidth: width(degrees) },
        Aperture::ShadedCircular { beamwidth: width(degrees), peak_side_lobe: Db::new(lobe) },
        Aperture::Rectangular { along: width(degrees), across: width(0.5 * degrees) },
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn patterns_are_one_on_the_axis_and_never_more(degrees in 4.0..60.0_f64, lobe in -40.0..-20.0_f64, angle in 0.0..90.0_f64) {
        for aperture in apertures(degrees, lobe) {
            let pattern = Pattern::new(&aperture, Db::new(-60.0)).unwrap();
            prop_assert!(pattern.level(HalfAngle::new(0.0)).get().abs() < 1e-9);
            let level = pattern.level(HalfAngle::from_degrees(angle)).get();
            prop_assert!((-60.0..=1e-9).contains(&level), "{aperture:?} at {angle}: {level}");
            let edge = pattern.level(width(degrees).full.half()).get();
            prop_assert!((edge + 3.0).abs() < 0.02, "{aperture:?} at its edge: {edge}");
        }
    }

    #[test]
    fn a_wider_aperture_has_a_narrower_beam(degrees in 4.0..40.0_f64, more in 1.05..1.5_f64) {
        let make = |d| Pattern::new(&Aperture::CircularPiston { beamwidth: width(d) }, Db::new(-40.0)).unwrap();
        let (narrow, wide) = (make(degrees), make(degrees * more));
        // The Rayleigh distance is the aperture's area over the wavelength.
        let size = |p: &Pattern| p.rayleigh_distance(Metres::new(0.007)).unwrap().get();
        prop_assert!(size(&narrow) > size(&wide));
        prop_assert!(narrow.directivity_index().get() > wide.directivity_index().get());
        prop_assert!(narrow.equivalent_beam_angle().get() < wide.equivalent_beam_angle().get());
    }

    #[test]
    fn an_edge_grows_with_what_still_shows(degrees in 4.0..40.0_f64, drop in 0.1..16.0_f64, more in 0.1..10.0_f64) {
        let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth: width(degrees) }, Db::new(-40.0)).unwrap();
        let edge = |d: f64| pattern.along().edge_sine(d, 1.0);
        prop_assert!(edge(drop + more) >= edge(drop));
        let at_edge = pattern.along().level(edge(drop), 1.0);
        prop_assert!((at_edge + drop).abs() < 0.05, "level {at_edge} at the edge for {drop}");
    }

    #[test]
    fn a_shaded_aperture_keeps_its_side_lobes_down(degrees in 6.0..20.0_f64, lobe in -38.0..-22.0_f64) {
        let aperture = Aperture::ShadedCircular { beamwidth: width(degrees), peak_side_lobe: Db::new(lobe) };
        let pattern = Pattern::new(&aperture, Db::new(-80.0)).unwrap();
        if let Some((_, peak)) = pattern.first_side_lobe() {
            // Taylor's design holds the near side lobes at the stated level to within a decibel (Taylor 1960, section V).
            prop_assert!(peak.get() <= lobe + 1.0, "{peak:?} for {lobe}");
        }
    }

    #[test]
    fn first_bottom_ranges_agree_with_ray_casting(depth in 2.0..30.0_f64, slope in 0.0..40.0_f64, edge in 2.0..25.0_f64) {
        // Rays in the plane of the slope over the cone's opening, each to the plane bottom: the shortest is the first echo.
        let mut shortest = f64::INFINITY;
        for i in 0..=4000 {
            let theta = (-edge + 2.0 * edge * f64::from(i) / 4000.0).to_radians();
            let approach = theta.cos() + theta.sin() * slope.to_radians().tan();
            if approach > 0.0 {
                shortest = shortest.min(depth / approach);
            }
        }
        let got = first_bottom_range(Metres::new(depth), Angle::from_degrees(slope), HalfAngle::from_degrees(edge)).get();
        prop_assert!((got - shortest).abs() < 1e-4 * depth, "{got} against {shortest}");
    }
}

#[test]
fn the_far_field_begins_at_the_square_of_the_diameter_over_the_wavelength() {
    // Support: Simmonds and MacLennan 2005, section 2.3: (2a)²/λ; 0.352 m for a radius of 25 mm at 200 kHz in water of 1421.635 m/s.
    let wavelength: f64 = 1421.635 / 200e3;
    let ka = 2.0 * std::f64::consts::PI * 0.025 / wavelength;
    let full = FullAngle::new(2.0 * (1.613_741_2 / ka).asin());
    let beamwidth = Beamwidth { full, at: WidthLevel::Minus3 };
    let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(-40.0)).unwrap();
    let distance = pattern.far_field_distance(Metres::new(wavelength)).unwrap().get();
    assert!((distance - 0.352).abs() < 0.001, "{distance}");
}
