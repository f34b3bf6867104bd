//! Random spots, beams and parties.

use acoustics::units::{Angle, Beamwidth, FullAngle, Level, Metres, SourceLevel, WidthLevel};
use domain::selection::{Finding, RunInput};
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Fact, PatternKind, Relief, ReliefKind, Sensor, Source, Spot};
use planning::selection::Prepared;
use proptest::prelude::*;

use crate::common::{piston, run, shelter, spot};

/// One spot with a boulder and plants, one beam, alone or with neighbours.
#[derive(Debug, Clone)]
pub(crate) struct Scene {
    pub(crate) depth: f64,
    pub(crate) bottom: BottomClass,
    pub(crate) slope: f64,
    pub(crate) width: f64,
    /// Height and offset, m.
    pub(crate) boulder: Option<(f64, f64)>,
    /// Height as a part of the depth.
    pub(crate) plants: Option<f64>,
    pub(crate) threshold: f64,
    pub(crate) people: u32,
}

pub(crate) fn scenes() -> impl Strategy<Value = Scene> {
    let place = (1.5..25.0_f64, prop::sample::select(BottomClass::ALL.to_vec()), prop_oneof![Just(0.0), 2.0..25.0_f64]);
    let clutter = (prop::option::of((0.2..1.2_f64, 0.0..1.5_f64)), prop::option::of(0.1..0.4_f64));
    (place, 6.0..40.0_f64, clutter, 140.0..160.0_f64).prop_map(
        |((depth, bottom, slope), width, (boulder, plants), threshold)| Scene {
            depth,
            bottom,
            slope,
            width,
            boulder,
            plants,
            threshold,
            people: 1,
        },
    )
}

impl Scene {
    /// Level ground without anything on it.
    pub(crate) fn bare(self) -> Self {
        Self { slope: 0.0, boulder: None, plants: None, ..self }
    }

    /// Three in a shelter on open ground.
    pub(crate) fn shared(self) -> Self {
        Self { people: 3, boulder: None, plants: None, ..self }
    }

    pub(crate) fn place(&self) -> Spot {
        let boulder = self.boulder.map(|(height, offset)| Relief {
            kind: ReliefKind::Boulder,
            height: Metres::new(height),
            offset: Metres::new(offset),
        });
        let height = |part: f64| Metres::new(part * self.depth);
        Spot {
            slope: Angle::from_degrees(self.slope),
            relief: boulder.into_iter().collect(),
            canopy: self.plants.map(|part| Canopy {
                height: height(part),
                density: CanopyDensity::Moderate,
                volume_strength: None,
            }),
            ..spot("s", self.depth, self.bottom)
        }
    }

    pub(crate) fn input(&self, sensor: Sensor) -> RunInput {
        let mut input = run(vec![self.place()], vec![sensor]);
        input.sensors[0].threshold = Fact::stated(Level::new(self.threshold));
        input.shelter = (self.people > 1).then(|| shelter(4.2, 2.4, self.people));
        input
    }

    /// The finding of a sensor here, with something of the run changed.
    pub(crate) fn with(&self, sensor: Sensor, change: impl FnOnce(&mut RunInput)) -> Finding {
        let mut input = self.input(sensor);
        change(&mut input);
        first(&input)
    }

    /// The finding of a piston of the scene's width.
    pub(crate) fn judged(&self) -> Finding {
        self.changed(|_| ())
    }

    /// The same with something of the run changed.
    pub(crate) fn changed(&self, change: impl FnOnce(&mut RunInput)) -> Finding {
        self.with(piston("p", self.width), change)
    }
}

/// The first finding of a run.
pub(crate) fn first(input: &RunInput) -> Finding {
    Prepared::new(input, &Cancel::never()).unwrap().evaluate(0..1, &Cancel::never()).unwrap().remove(0)
}

/// A sensor of one source level, whatever its pattern.
pub(crate) fn sends(pattern: PatternKind) -> Sensor {
    let mut sensor = piston("p", 12.0);
    sensor.options[0].pattern = pattern;
    sensor.options[0].source = Source::Stated(Fact::stated(SourceLevel::new(207.0)));
    sensor
}

pub(crate) fn width(degrees: f64) -> Fact<Beamwidth> {
    Fact::stated(Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 })
}

pub(crate) fn round(degrees: f64) -> PatternKind {
    PatternKind::CircularPiston { beamwidth: width(degrees) }
}

pub(crate) fn oblong(along: f64, across: f64) -> PatternKind {
    PatternKind::Rectangular { along: width(along), across: width(across) }
}
