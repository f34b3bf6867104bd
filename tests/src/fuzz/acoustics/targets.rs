//! What sends sound back: bottoms, fish, lures and plants; and what hides what.

use acoustics::bottom::{BistaticScatter, BottomClass, rayleigh_reflection, strength as of_bottom};
use acoustics::cover::cell_strength;
use acoustics::geometry::{
    dead_zone_height, first_bottom_range, flat_dead_height, flat_dead_volume_m3, footprint_radius,
};
use acoustics::target::{Elastic, FishClass, SphereMaterial, cylinder, disc, fish, solid_sphere};
use acoustics::units::{
    Angle, HalfAngle, Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond, Steradians, VolumeStrength,
};
use arbitrary::{Result, Unstructured};

use crate::fuzz::bytes::{answer, bounded, inside, number, refusal};

pub(super) fn bottom(input: &mut Unstructured<'_>) -> Result<()> {
    let class = *input.choose(&BottomClass::ALL)?;
    let frequency = Hertz::new(number(input, 8e3, 2.2e6)?);
    let grazing = Angle::from_degrees(number(input, 29.0, 91.0)?);
    // Clay and softer lie under silt by the difference of their reflection losses, up to 16 dB.
    if let Some(strength) = answer(of_bottom(class, frequency, grazing), |s| s.get()) {
        bounded("a bottom strength", strength, -50.0, -3.0);
    }
    match BistaticScatter::new(class, frequency) {
        Err(error) => refusal(&error),
        Ok(scatter) => {
            assert!(scatter.tan2_sigma > 0.0 && scatter.diffuse > 0.0 && scatter.facet >= 0.0, "{scatter:?}");
            let (tilt, cosines) = (inside(input, 0.0, 50.0)?, inside(input, 0.0, 1.0)?);
            let most = scatter.facet + scatter.diffuse;
            bounded("a scattering ratio", scatter.ratio(tilt, cosines), 0.0, most * (1.0 + 1e-12));
            assert!(scatter.ratio(0.0, cosines) >= scatter.ratio(tilt, cosines), "a facet is louder when tilted");
        }
    }
    let fluid = [inside(input, 0.5, 5.0)?, inside(input, 0.5, 5.0)?, inside(input, 0.0, 0.5)?];
    let [density, speed, loss] = fluid;
    let incidence = Angle::from_degrees(inside(input, 0.0, 90.0)?);
    let reflection = rayleigh_reflection(density, speed, loss, incidence);
    bounded("a reflection coefficient", reflection, 0.0, 1.0 + 1e-9);
    Ok(())
}

pub(super) fn strength(input: &mut Unstructured<'_>) -> Result<()> {
    let class = *input.choose(&[
        FishClass::General,
        FishClass::ClosedSwimBladder,
        FishClass::OpenSwimBladder,
        FishClass::Smelt,
        FishClass::Vendace,
        FishClass::Alewife,
    ])?;
    let frequency = Hertz::new(number(input, 10e3, 2e6)?);
    if let Some(level) = answer(fish(class, Metres::new(number(input, 0.005, 2.1)?), frequency), |ts| ts.get()) {
        bounded("the strength of a fish", level, -90.0, 0.0);
    }
    let speed = MetresPerSecond::new(number(input, 1_400.0, 1_600.0)?);
    let (diameter, length) = (Metres::new(number(input, 1e-4, 0.2)?), Metres::new(number(input, 1e-3, 0.3)?));
    let tilt = Angle::from_degrees(number(input, 0.0, 90.0)?);
    let flat = |tilt: Angle| answer(disc(diameter, tilt, frequency, speed), |ts| ts.get());
    let round = |tilt: Angle| answer(cylinder(length, diameter, tilt, frequency, speed), |ts| ts.get());
    for (tilted, normal) in [(flat(tilt), flat(Angle::new(0.0))), (round(tilt), round(Angle::new(0.0)))] {
        if let (Some(tilted), Some(normal)) = (tilted, normal) {
            assert!(tilted <= normal + 1e-9, "tilted by {tilt:?} it is stronger: {tilted} against {normal}");
        }
    }
    let known = *input.choose(&[
        SphereMaterial::TungstenCarbide,
        SphereMaterial::Tungsten,
        SphereMaterial::Lead,
        SphereMaterial::Brass,
        SphereMaterial::Steel,
    ])?;
    let solid = if input.arbitrary()? {
        known.elastic()
    } else {
        Elastic {
            density: number(input, 1_000.0, 20_000.0)?,
            longitudinal: number(input, 1_500.0, 7_000.0)?,
            shear: number(input, 500.0, 4_500.0)?,
            loss: number(input, 0.0, 0.3)?,
        }
    };
    let water = KilogramsPerCubicMetre::new(number(input, 990.0, 1_040.0)?);
    answer(solid_sphere(diameter, solid, frequency, speed, water), |ts| ts.get());
    Ok(())
}

/// Functions without a refusal: the depths, heights and angles that a checked spot and an edge of a beam have.
pub(super) fn geometry(input: &mut Unstructured<'_>) -> Result<()> {
    let depth = Metres::new(inside(input, 0.5, 200.0)?);
    let (slope, edge) = (inside(input, 0.0, 60.0)?, inside(input, 0.0, 80.0)?);
    let (alpha, theta) = (Angle::from_degrees(slope), HalfAngle::from_degrees(edge));
    let d = depth.get();
    let first = first_bottom_range(depth, alpha, theta);
    bounded("the first range of the bottom", first.get(), 0.5 * d * (1.0 - 1e-12), d * (1.0 + 1e-12));
    let wider = first_bottom_range(depth, alpha, HalfAngle::from_degrees(inside(input, edge, 80.0)?));
    assert!(wider.get() <= first.get() * (1.0 + 1e-12), "a wider beam sees the bottom later");
    let cell = Metres::new(inside(input, 0.0, 5.0)?);
    let hidden = dead_zone_height(depth, first, cell).get();
    bounded("the hidden height", hidden, cell.get().min(d) - 1e-9, d);
    bounded("the dead height", flat_dead_height(depth, theta, cell).get(), cell.get(), d + cell.get());
    bounded("the dead volume", flat_dead_volume_m3(depth, theta), -1e-9 * d * d * d, f64::MAX);
    bounded("a footprint", footprint_radius(depth, theta).get(), 0.0, 6.0 * d);
    let plants = VolumeStrength::new(inside(input, -80.0, 0.0)?);
    let cell = Metres::new(inside(input, 1e-4, 40.0)?);
    let psi = Steradians::new(inside(input, 1e-5, 6.3)?);
    assert!(cell_strength(plants, cell, psi, depth).get().is_finite());
    Ok(())
}
