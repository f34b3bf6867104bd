//! Neighbours: probabilities are probabilities, and a higher threshold shows fewer interference marks.

use std::sync::Arc;

use acoustics::bottom::{BistaticScatter, BottomClass};
use acoustics::interference::{
    Confirmer, HungBeam, JitterShape, Link, Pair, Received, ScatterTable, Timing, any_mark, band_loss, direct_level,
};
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{
    Beamwidth, Db, DbPerMetre, FullAngle, Hertz, Level, Metres, MetresPerSecond, Seconds, SourceLevel, WidthLevel,
};
use arbitrary::{Result, Unstructured};

use crate::fuzz::bytes::{bounded, inside, two};

pub(super) fn counts(input: &mut Unstructured<'_>) -> Result<()> {
    let mut times = Vec::new();
    for _ in 0..input.int_in_range(0..=6)? {
        times.push((Seconds::new(inside(input, 0.0, 1.0)?), Seconds::new(inside(input, 0.005, 2.0)?)));
    }
    let most = times.iter().map(|time| any_mark([*time])).fold(0.0, f64::max);
    bounded("a probability of marks", any_mark(times), most - 1e-12, 1.0);
    Ok(())
}

pub(super) fn bands(input: &mut Unstructured<'_>) -> Result<()> {
    let [pulse_at, own_at] = [Hertz::new(inside(input, 10e3, 2e6)?), Hertz::new(inside(input, 10e3, 2e6)?)];
    let pulse = Seconds::new(inside(input, 1e-6, 0.05)?);
    let sweep = if input.arbitrary()? { Some(Hertz::new(inside(input, 1.0, 1e6)?)) } else { None };
    let (narrow, wide) = two(input, 100.0, 2e6)?;
    let loss = |band: f64| band_loss(pulse_at, pulse, sweep, own_at, Hertz::new(band)).get();
    bounded("a loss in a band", loss(narrow), 0.0, 60.0);
    assert!(loss(wide) <= loss(narrow) + 0.05, "a wider band loses more: {} and {}", loss(narrow), loss(wide));
    Ok(())
}

fn beam(input: &mut Unstructured<'_>) -> Result<Option<HungBeam>> {
    let full = FullAngle::from_degrees(inside(input, 1.0, 180.0)?);
    let beamwidth = Beamwidth { full, at: WidthLevel::Minus3 };
    let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(inside(input, -80.0, -10.0)?));
    assert!(pattern.is_ok(), "{full:?} is refused: {pattern:?}");
    Ok(pattern.ok().map(|pattern| HungBeam::upright(Arc::new(pattern))))
}

pub(super) fn received(input: &mut Unstructured<'_>) -> Result<()> {
    let Some(own) = beam(input)? else { return Ok(()) };
    let other = if input.arbitrary()? { Some(own.clone()) } else { beam(input)? };
    let Some(other) = other else { return Ok(()) };
    let class = *input.choose(&BottomClass::ALL)?;
    let scatter = BistaticScatter::new(class, Hertz::new(inside(input, 30e3, 999e3)?));
    assert!(scatter.is_ok(), "{scatter:?}");
    let Ok(scatter) = scatter else { return Ok(()) };
    let table = ScatterTable::new(Pair::level(other.clone(), own.clone(), scatter));
    let mut sum = Received::new();
    assert!(sum.is_empty() && sum.critical_level(0.02).is_none());
    let mut present = Vec::new();
    let confirmation = (input.int_in_range(1..=12_u32)?, input.int_in_range(1..=12_u32)?);
    let shape = if input.arbitrary()? { JitterShape::Uniform } else { JitterShape::Normal };
    let timing = |input: &mut Unstructured<'_>| -> Result<Timing> {
        Ok(Timing { interval: Seconds::new(inside(input, 0.005, 2.0)?), jitter: inside(input, 0.0, 0.5)? })
    };
    let own_timing = timing(input)?;
    for place in 0..input.int_in_range(1..=3)? {
        let spacing = Metres::new(inside(input, 0.2, 30.0)?);
        let absorption = DbPerMetre::new(inside(input, 0.0, 1.0)?);
        let source = SourceLevel::new(inside(input, 120.0, 240.0)?);
        let direct = direct_level(source, &other, &own, spacing, absorption);
        assert!(direct.get().is_finite(), "{direct:?}");
        let confirmer = Arc::new(Confirmer::new(own_timing, timing(input)?, confirmation, shape));
        sum.add(&Link {
            scatter: &table,
            bottom_shift: Db::new(inside(input, -20.0, 20.0)?),
            spacing,
            depth: Metres::new(inside(input, 0.5, 200.0)?),
            speed: MetresPerSecond::new(inside(input, 1_400.0, 1_600.0)?),
            absorption,
            source,
            pulse: Seconds::new(inside(input, 5e-6, 0.01)?),
            confirmer: &confirmer,
            band_loss: Db::new(inside(input, 0.0, 60.0)?),
            direct: if input.arbitrary()? { Some(direct) } else { None },
            bounce_loss: Db::new(inside(input, 0.0, 60.0)?),
        });
        present.push(place);
        if input.arbitrary()? {
            present.push(place);
        }
    }
    sum.gather(&present);
    let (low, high) = two(input, -100.0, 260.0)?;
    let at = |level: f64| sum.drawn_fraction(Level::new(level));
    bounded("a probability of marks", at(low), 0.0, 1.0);
    assert!(at(high) <= at(low) + 0.01, "more marks at {high} dB than at {low} dB: {} and {}", at(high), at(low));
    let tolerance = inside(input, 0.0, 1.0)?;
    let critical = sum.critical_level(tolerance);
    assert!(critical.is_some(), "neighbours, but no critical level");
    if let Some(critical) = critical {
        assert!(sum.drawn_fraction(critical) <= tolerance, "{critical:?} passes {tolerance}");
    }
    Ok(())
}
