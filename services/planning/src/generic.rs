//! Generic units: classes that stand for units whose figures are unknown, and how often each occurs in a list of sensors.
//!
//! A unit that is not in any list is one of nine: three widths of beam by three bands of frequency. Few classes, so that few tables of what
//! neighbours do serve all sensors; wide spreads, so that nothing narrow is concluded from them.

use acoustics::units::{Beamwidth, Db, FullAngle, Hertz, Level, Seconds, Watts, WidthLevel};

use crate::selection::count;
use domain::selection::OptionRef;
use domain::sensor::PowerKind;
use domain::{BeamOption, DialPoint, DialScale, Fact, GainDial, Id, PatternKind, Sensor, Source, defaults};

/// How wide the beam is at −3 dB.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum WidthClass {
    /// Under 10°, from 6°.
    Narrow,
    /// 10 to 16°.
    Middle,
    /// Over 16°, to 30°.
    Wide,
}

/// Band of frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum FrequencyClass {
    /// Under 150 kHz.
    Low,
    /// 150 to 300 kHz.
    Middle,
    /// Over 300 kHz.
    High,
}

/// A class of units whose figures are unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct GenericUnit {
    /// Width of the beam.
    pub width: WidthClass,
    /// Band of frequency.
    pub frequency: FrequencyClass,
}

/// Spread (one standard deviation) of the source level and of the threshold of a unit of a class, dB: figures of units on sale lie that far apart. Common
/// practice, no published source.
pub const CLASS_LEVEL_SPREAD: Db = Db::new(6.0);

impl GenericUnit {
    /// Every class, narrow before wide and low before high.
    pub const ALL: [Self; 9] = {
        use FrequencyClass::{High, Low};
        use WidthClass::{Narrow, Wide};
        const fn class(width: WidthClass, frequency: FrequencyClass) -> GenericUnit {
            GenericUnit { width, frequency }
        }
        [
            class(Narrow, Low),
            class(Narrow, FrequencyClass::Middle),
            class(Narrow, High),
            class(WidthClass::Middle, Low),
            class(WidthClass::Middle, FrequencyClass::Middle),
            class(WidthClass::Middle, High),
            class(Wide, Low),
            class(Wide, FrequencyClass::Middle),
            class(Wide, High),
        ]
    };

    /// The class of a beam of a width at a frequency; beams beyond the widths of the classes belong to the nearest.
    #[must_use]
    pub fn of(width: FullAngle, frequency: Hertz) -> Self {
        let (degrees, khz) = (width.to_degrees(), frequency.to_khz());
        let width = if degrees < 10.0 {
            WidthClass::Narrow
        } else if degrees < 16.0 {
            WidthClass::Middle
        } else {
            WidthClass::Wide
        };
        let frequency = if khz < 150.0 {
            FrequencyClass::Low
        } else if khz <= 300.0 {
            FrequencyClass::Middle
        } else {
            FrequencyClass::High
        };
        Self { width, frequency }
    }

    /// Widths of the class, degrees.
    #[must_use]
    pub const fn degrees(self) -> (f64, f64) {
        match self.width {
            WidthClass::Narrow => (6.0, 10.0),
            WidthClass::Middle => (10.0, 16.0),
            WidthClass::Wide => (16.0, 30.0),
        }
    }

    /// Frequencies of the class, kHz; the outer ends are those that the models of the bottom cover well.
    #[must_use]
    pub const fn khz(self) -> (f64, f64) {
        match self.frequency {
            FrequencyClass::Low => (50.0, 150.0),
            FrequencyClass::Middle => (150.0, 300.0),
            FrequencyClass::High => (300.0, 800.0),
        }
    }

    /// A unit in the middle of the class, everything assumed: the geometric means of width and frequency, a pulse of 20 waves, 20 W of sound.
    #[must_use]
    pub fn unit(self, id: Id) -> Sensor {
        let middle = |(low, high): (f64, f64)| libm::sqrt(low * high);
        let (degrees, khz) = (middle(self.degrees()), middle(self.khz()));
        let (full, pulse) = (FullAngle::from_degrees(degrees), Seconds::new(20.0e-3 / khz));
        let option = BeamOption {
            width_level_known: true,
            id: id.clone(),
            display_name: format!("{:.0}° at {:.0} kHz", degrees, khz),
            frequency: Fact::assumed(Hertz::from_khz(khz)),
            pattern: PatternKind::CircularPiston {
                beamwidth: Fact::assumed(Beamwidth { full, at: WidthLevel::Minus3 }),
            },
            floor: defaults::PATTERN_FLOOR,
            source: Source::Power {
                electrical: Fact::assumed(Watts::new(40.0)),
                kind: Some(PowerKind::Rms),
                efficiency: defaults::EFFICIENCY,
            },
            pulse_length: Fact::assumed(pulse),
            sweep_bandwidth: None,
            receiver_bandwidth: defaults::receiver_bandwidth(pulse, None),
            ring_down: None,
        };
        let points = [(0.0, 0.0), (100.0, 70.0)].map(|(position, gain)| DialPoint { position, gain: Db::new(gain) });
        Sensor {
            id,
            display_name: "A unit that is not in the list".to_owned(),
            notes: "Generic: every figure is assumed.".to_owned(),
            price: None,
            options: vec![option],
            threshold: Fact::assumed(Level::new(150.0)),
            max_gain: Fact::assumed(Db::new(70.0)),
            dial: GainDial { scale: DialScale::Percent, points: points.to_vec() },
            receiver_noise: defaults::RECEIVER_NOISE,
            ping_interval: defaults::PING_INTERVAL,
            ping_jitter: defaults::PING_JITTER,
            confirmation: defaults::CONFIRMATION,
        }
    }
}

/// A unit that may be met where nobody knows what others have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Usual {
    pub(crate) class: GenericUnit,
    /// Position of its class among those that occur.
    pub(crate) kind: usize,
    /// The option, among those asked for, whose frequency and loudness it has; none where no width is quoted.
    pub(crate) option: Option<usize>,
    /// How often it is met.
    pub(crate) weight: f64,
}

/// The units that are usual by some options, class by class in the order of [`GenericUnit::ALL`]: each sensor counts once, shared evenly by its
/// options whose width is quoted. One of each class where no width is.
pub(crate) fn usual(sensors: &[Sensor], options: &[OptionRef]) -> Vec<Usual> {
    let class_of = |at: &OptionRef| {
        let option = sensors.get(at.sensor)?.options.get(at.option)?;
        Some(GenericUnit::of(option.pattern.quoted()?, option.frequency.value))
    };
    let quoted: Vec<_> =
        options.iter().enumerate().filter_map(|(option, at)| Some((class_of(at)?, option, at.sensor))).collect();
    let of_sensor = |sensor: usize| count(quoted.iter().filter(|(_, _, other)| *other == sensor).count());
    let mut units: Vec<(GenericUnit, Option<usize>, f64)> =
        quoted.iter().map(|(class, option, sensor)| (*class, Some(*option), 1.0 / of_sensor(*sensor))).collect();
    if units.is_empty() {
        units = GenericUnit::ALL.map(|class| (class, None, 1.0)).into();
    }
    units.sort_by_key(|(class, ..)| *class);
    let sum: f64 = units.iter().map(|(.., weight)| weight).sum();
    let mut classes: Vec<GenericUnit> = units.iter().map(|(class, ..)| *class).collect();
    classes.dedup();
    let kind = |class: GenericUnit| classes.binary_search(&class).unwrap_or_default();
    let unit = |(class, option, weight): (GenericUnit, Option<usize>, f64)| Usual {
        class,
        kind: kind(class),
        option,
        weight: weight / sum,
    };
    units.into_iter().map(unit).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn id() -> Id {
        Id::parse("generic").unwrap()
    }

    #[test]
    fn the_unit_of_a_class_belongs_to_it_and_passes_the_checks() {
        for class in GenericUnit::ALL {
            let unit = class.unit(id());
            let option = &unit.options[0];
            assert_eq!(GenericUnit::of(option.pattern.quoted().unwrap(), option.frequency.value), class);
            let met = usual(&[unit], &[OptionRef { sensor: 0, option: 0 }]);
            assert_eq!(met, [Usual { class, kind: 0, option: Some(0), weight: 1.0 }]);
        }
        let unknown = usual(&[], &[]);
        assert_eq!(unknown.iter().map(|unit| unit.class).collect::<Vec<_>>(), GenericUnit::ALL);
        assert!(
            unknown.iter().enumerate().all(|(at, unit)| unit.kind == at && (unit.weight - 1.0 / 9.0).abs() < 1e-12)
        );
    }

    proptest! {
        #[test]
        fn weights_are_parts_of_one_and_each_sensor_counts_once(
            beams in proptest::collection::vec((3.0..60.0_f64, 30.0..900.0_f64, 1usize..4), 1..12),
        ) {
            let sensors: Vec<Sensor> = beams
                .iter()
                .map(|(degrees, khz, options)| {
                    let mut sensor = GenericUnit::ALL[0].unit(id());
                    let full = FullAngle::from_degrees(*degrees);
                    let beamwidth = Fact::assumed(Beamwidth { full, at: WidthLevel::Minus3 });
                    sensor.options[0].pattern = PatternKind::CircularPiston { beamwidth };
                    sensor.options[0].frequency = Fact::assumed(Hertz::from_khz(*khz));
                    sensor.options = vec![sensor.options[0].clone(); *options];
                    sensor
                })
                .collect();
            let all = sensors.iter().enumerate();
            let all = all.flat_map(|(sensor, one)| (0..one.options.len()).map(move |option| OptionRef { sensor, option }));
            let units = usual(&sensors, &all.collect::<Vec<_>>());
            prop_assert!((units.iter().map(|unit| unit.weight).sum::<f64>() - 1.0).abs() < 1e-9);
            prop_assert!(units.windows(2).all(|pair| pair[0].class <= pair[1].class
                && pair[1].kind - pair[0].kind == usize::from(pair[0].class != pair[1].class)));
            for class in &GenericUnit::ALL {
                let weight: f64 = units.iter().filter(|unit| unit.class == *class).map(|unit| unit.weight).sum();
                let of_class = beams.iter().filter(|(degrees, khz, _)| {
                    GenericUnit::of(FullAngle::from_degrees(*degrees), Hertz::from_khz(*khz)) == *class
                });
                let expected = of_class.count() as f64 / beams.len() as f64;
                prop_assert!((weight - expected).abs() < 1e-9, "{class:?}: {weight} against {expected}");
            }
        }
    }
}
