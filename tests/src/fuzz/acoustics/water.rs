//! Sound speed, density, absorption and levels.

use acoustics::absorption::{fisher_simmons, francois_garrison};
use acoustics::levels::{
    bottom_area_m2, bottom_echo_level, echo_level, range_cell, source_level, thermal_noise, two_way_loss,
    two_way_spreading,
};
use acoustics::units::{
    Celsius, Db, DbPerMetre, GramsPerKilogram, Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond, Seconds,
    SourceLevel, Steradians, TargetStrength, Watts,
};
use acoustics::water::{
    WaterColumn, density, sound_speed, sound_speed_bilaniuk_wong, sound_speed_marczak, sound_speed_unesco,
};
use arbitrary::{Result, Unstructured};

use crate::fuzz::bytes::{answer, bounded, inside, number, two};

pub(super) fn column(input: &mut Unstructured<'_>) -> Result<()> {
    let (t, s) = (number(input, -5.0, 45.0)?, number(input, 0.0, 45.0)?);
    let (celsius, salt) = (Celsius::new(t), GramsPerKilogram::new(s));
    for speed in [
        answer(sound_speed_marczak(celsius), |c| c.get()),
        answer(sound_speed_bilaniuk_wong(celsius), |c| c.get()),
        answer(sound_speed_unesco(celsius, salt), |c| c.get()),
        answer(sound_speed(celsius, salt), |c| c.get()),
    ]
    .into_iter()
    .flatten()
    {
        bounded("a sound speed", speed, 1_400.0, 1_650.0);
    }
    if let Some(density) = answer(density(celsius, salt), |rho| rho.get()) {
        bounded("a density", density, 990.0, 1_040.0);
    }
    let mut column = WaterColumn::under_ice(Metres::new(number(input, 0.5, 200.0)?), Celsius::new(t));
    column.salinity = salt;
    column.ph = number(input, 5.0, 10.0)?;
    for _ in 0..input.int_in_range(0..=4)? {
        let depth = Metres::new(number(input, 0.0, 200.0)?);
        column.profile.push((depth, Celsius::new(number(input, 0.0, 30.0)?)));
    }
    answer(column.mean_density(), |rho| rho.get());
    answer(column.absorption(Hertz::new(number(input, 10e3, 2e6)?)), |alpha| alpha.get());
    let mean = answer(column.mean_sound_speed(), |c| c.get());
    if let Some(mean) = mean
        && column.profile.is_empty()
    {
        // Without a profile the temperature runs between top and bottom, and the speed with it.
        let ends = [column.surface_temperature, celsius].map(|t| answer(sound_speed(t, salt), |c| c.get()));
        if let [Some(a), Some(b)] = ends {
            // A mean of equal speeds may round either way.
            let deepest = 0.016 * column.depth.get();
            bounded("the mean speed of a column", mean, a.min(b) - 1e-9, a.max(b) + deepest + 1e-9);
        }
    }
    Ok(())
}

pub(super) fn absorption(input: &mut Unstructured<'_>) -> Result<()> {
    let (t, s) = (Celsius::new(number(input, -2.0, 30.0)?), GramsPerKilogram::new(number(input, 0.0, 40.0)?));
    let (depth, ph) = (Metres::new(number(input, 0.0, 500.0)?), number(input, 6.0, 9.5)?);
    let of = |f: f64| answer(francois_garrison(Hertz::new(f), t, s, depth, ph), |alpha| alpha.get());
    let fresh = |f: f64| answer(fisher_simmons(Hertz::new(f), t), |alpha| alpha.get());
    for figure in [of(number(input, 200.0, 2e6)?), fresh(number(input, 10e3, 2e6)?)].into_iter().flatten() {
        bounded("an absorption in dB/m", figure, 0.0, 10.0);
    }
    let (low, high) = two(input, 10e3, 2e6)?;
    for (below, above) in [(of(low), of(high)), (fresh(low), fresh(high))] {
        if let (Some(below), Some(above)) = (below, above) {
            assert!(above >= below, "absorption falls with frequency: {below} at {low} Hz, {above} at {high} Hz");
        }
    }
    Ok(())
}

pub(super) fn levels(input: &mut Unstructured<'_>) -> Result<()> {
    let index = Db::new(number(input, 0.0, 50.0)?);
    let rho = KilogramsPerCubicMetre::new(number(input, 900.0, 1_100.0)?);
    let c = MetresPerSecond::new(number(input, 1_400.0, 1_600.0)?);
    let efficiency = number(input, 0.0, 1.0)?;
    let source = |watts: f64| answer(source_level(Watts::new(watts), efficiency, index, rho, c), |level| level.get());
    source(number(input, 0.0, 1e5)?);
    let (low, high) = two(input, 1e-6, 1e5)?;
    if let (Some(below), Some(above)) = (source(low), source(high)) {
        assert!(above >= below, "the source level falls with power");
    }
    let (frequency, warm) = (Hertz::new(number(input, 10e3, 2e6)?), Celsius::new(number(input, -2.0, 40.0)?));
    let noise =
        |band: f64| answer(thermal_noise(frequency, Hertz::new(band), warm, index, rho, c), |level| level.get());
    noise(number(input, 0.0, 2e6)?);
    let (low, high) = two(input, 1.0, 2e6)?;
    if let (Some(below), Some(above)) = (noise(low), noise(high)) {
        assert!(above >= below, "the noise falls with the band");
    }
    echoes(input, c)
}

/// Functions without a refusal: what a lake and a sensor can have.
fn echoes(input: &mut Unstructured<'_>, c: MetresPerSecond) -> Result<()> {
    let ((near, far), alpha) = (two(input, 0.1, 500.0)?, DbPerMetre::new(inside(input, 0.0, 1.0)?));
    let loss = |range: f64| two_way_loss(two_way_spreading(Metres::new(range)), Metres::new(range), alpha);
    let (close, distant) = (loss(near), loss(far));
    assert!(distant >= close, "the loss falls with range: {close:?} at {near} m, {distant:?} at {far} m");
    let source = SourceLevel::new(inside(input, 100.0, 260.0)?);
    let strength = TargetStrength::new(inside(input, -120.0, 40.0)?);
    let (strong, weak) = (inside(input, -80.0, 0.0)?, Db::new(-80.0));
    let echo = |pattern: Db| echo_level(source, distant, strength, pattern);
    assert!(echo(Db::new(strong)) >= echo(weak), "an echo off the axis is louder");
    if !(1_300.0..=1_700.0).contains(&c.get()) {
        return Ok(());
    }
    let (short, long) = two(input, 1e-6, 0.05)?;
    let psi = Steradians::new(inside(input, 1e-5, 6.3)?);
    let area = |cell: f64| bottom_area_m2(psi, Metres::new(far), Metres::new(cell));
    let (less, more) = (area(0.5 * c.get() * short), area(0.5 * c.get() * long));
    bounded("the area of bottom of a shorter pulse", less, f64::MIN_POSITIVE, more);
    let plane = Db::new(inside(input, -200.0, 0.0)?);
    assert!(bottom_echo_level(source, two_way_spreading(Metres::new(far)), distant, plane).get().is_finite());
    let band = Hertz::new(inside(input, 1.0, 2e6)?);
    let sweep = if input.arbitrary()? { Some(Hertz::new(inside(input, 1.0, 2e6)?)) } else { None };
    let cell = |pulse: f64| range_cell(c, Seconds::new(pulse), sweep, band).get();
    bounded("the range cell of a shorter pulse", cell(short), f64::MIN_POSITIVE, cell(long));
    Ok(())
}
