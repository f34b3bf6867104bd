//! Beam/frequency options of a sensor.

use acoustics::units::{Beamwidth, Db, FullAngle, HalfAngle, Hertz, Seconds, SourceLevel, Watts, WidthLevel};
use domain::{BeamOption, Fact, FaultReason, Id, PatternKind, PatternPoint, Provenance, Source, defaults};
use proto::v1;

use super::{Reading, fact};
use domain::scale::Scale as Unit;

/// Stands in for an id that cannot be read; the fault that goes with it keeps it from ever being stored.
const STAND_IN: &str = "unreadable";

/// Reads an option. Faults of form go into `reading`, figures are judged by the sensor's check.
pub(crate) fn from(reading: &mut Reading, message: v1::BeamOption) -> Option<BeamOption> {
    let hertz = |khz| Hertz::new(Unit::Kilohertz.to_si(khz));
    let id = match Id::parse(&message.option_id) {
        Ok(id) => Some(id),
        Err(error) => {
            let reason = if message.option_id.is_empty() { FaultReason::Missing } else { FaultReason::BadForm };
            reading.refuse("option_id", reason, format!("option_id: {error}"));
            Id::parse(STAND_IN).ok()
        }
    };
    let pulse_length = fact::required(reading, "pulse_length_us", message.pulse_length_us, |micros| {
        Seconds::new(Unit::Microseconds.to_si(micros))
    });
    let sweep_bandwidth = fact::optional(reading, "sweep_bandwidth_khz", message.sweep_bandwidth_khz, hertz);
    let bandwidth = fact::optional(reading, "receiver_bandwidth_khz", message.receiver_bandwidth_khz, hertz);
    Some(BeamOption {
        id: id?,
        frequency: fact::required(reading, "frequency_khz", message.frequency_khz, hertz),
        pattern: pattern(reading, &message),
        floor: fact::optional(reading, "floor_db", message.floor_db, Db::new).unwrap_or(defaults::PATTERN_FLOOR),
        source: source(reading, &message),
        pulse_length,
        sweep_bandwidth,
        receiver_bandwidth: bandwidth.unwrap_or_else(|| {
            defaults::receiver_bandwidth(usual(pulse_length.value), sweep_bandwidth.map(|sweep| sweep.value))
        }),
        display_name: message.display_name,
    })
}

/// The pulse length that the default bandwidth goes by: where it is refused anyway, it must not make the default absurd,
/// or a caller would be told of a second fault in a field that was not given.
fn usual(pulse: Seconds) -> Seconds {
    let seconds = pulse.get();
    Seconds::new(if seconds.is_nan() { 1.0e-4 } else { seconds.clamp(1.0e-6, 1.0) })
}

fn pattern(reading: &mut Reading, message: &v1::BeamOption) -> PatternKind {
    let shape = v1::BeamShape::try_from(message.shape).unwrap_or(v1::BeamShape::Unspecified);
    let read = |shape| (shape != v1::BeamShape::Unspecified).then_some(());
    let known = reading.choice("shape", message.shape, read, v1::BeamShape::as_str_name).is_some();
    if known {
        refuse_out_of_place(reading, message, shape);
    }
    match shape {
        v1::BeamShape::Unspecified => PatternKind::Tabulated { points: Vec::new(), provenance: Provenance::Assumed },
        v1::BeamShape::CircularPiston => PatternKind::CircularPiston { beamwidth: beamwidth(reading, message) },
        v1::BeamShape::ShadedCircular => PatternKind::ShadedCircular {
            beamwidth: beamwidth(reading, message),
            peak_side_lobe: fact::required(reading, "peak_side_lobe_db", message.peak_side_lobe_db, Db::new),
        },
        v1::BeamShape::Rectangular => {
            let along = beamwidth(reading, message);
            let at = along.value.at;
            let across = fact::required(reading, "cross_beamwidth_deg", message.cross_beamwidth_deg, |degrees| {
                Beamwidth { full: FullAngle::new(Unit::Degrees.to_si(degrees)), at }
            });
            PatternKind::Rectangular { along, across }
        }
        v1::BeamShape::Tabulated => {
            if message.pattern_points.is_empty() {
                reading.missing("pattern_points", "give angle and level pairs from the axis outwards");
            }
            PatternKind::Tabulated {
                points: message.pattern_points.iter().map(point).collect(),
                provenance: fact::provenance(reading, "pattern_provenance", message.pattern_provenance)
                    .unwrap_or(Provenance::Assumed),
            }
        }
    }
}

/// Fields that belong to another shape would be lost without a word, so they are refused.
fn refuse_out_of_place(reading: &mut Reading, message: &v1::BeamOption, shape: v1::BeamShape) {
    if shape == v1::BeamShape::Tabulated {
        fact::out_of_place(reading, "beamwidth_deg", message.beamwidth_deg, "shapes other than BEAM_SHAPE_TABULATED");
        if message.beamwidth_level != 0 {
            let text = "beamwidth_level is given; it belongs to shapes other than BEAM_SHAPE_TABULATED only; drop it";
            reading.refuse("beamwidth_level", FaultReason::Contradiction, text);
        }
    } else {
        if !message.pattern_points.is_empty() {
            let text = "pattern_points are given; they belong to BEAM_SHAPE_TABULATED only; drop them";
            reading.refuse("pattern_points", FaultReason::Contradiction, text);
        }
        if message.pattern_provenance != 0 {
            let text = "pattern_provenance is given; it belongs to BEAM_SHAPE_TABULATED only; drop it";
            reading.refuse("pattern_provenance", FaultReason::Contradiction, text);
        }
    }
    if shape != v1::BeamShape::Rectangular {
        fact::out_of_place(reading, "cross_beamwidth_deg", message.cross_beamwidth_deg, "BEAM_SHAPE_RECTANGULAR");
    }
    if shape != v1::BeamShape::ShadedCircular {
        fact::out_of_place(reading, "peak_side_lobe_db", message.peak_side_lobe_db, "BEAM_SHAPE_SHADED_CIRCULAR");
    }
}

fn beamwidth(reading: &mut Reading, message: &v1::BeamOption) -> Fact<Beamwidth> {
    let read = |level| match level {
        v1::BeamwidthLevel::Unspecified => None,
        v1::BeamwidthLevel::Minus3Db => Some(WidthLevel::Minus3),
        v1::BeamwidthLevel::Minus10Db => Some(WidthLevel::Minus10),
    };
    let at = reading
        .choice("beamwidth_level", message.beamwidth_level, read, v1::BeamwidthLevel::as_str_name)
        .unwrap_or(WidthLevel::Minus3);
    fact::required(reading, "beamwidth_deg", message.beamwidth_deg, |degrees| Beamwidth {
        full: FullAngle::new(Unit::Degrees.to_si(degrees)),
        at,
    })
}

fn source(reading: &mut Reading, message: &v1::BeamOption) -> Source {
    let level = fact::optional(reading, "source_level_db", message.source_level_db, SourceLevel::new);
    let power = fact::optional(reading, "electrical_power_w", message.electrical_power_w, Watts::new);
    let efficiency = fact::optional(reading, "efficiency_percent", message.efficiency_percent, |percent| {
        Unit::Percent.to_si(percent)
    });
    let accepted = "accepted: source_level_db, or electrical_power_w with efficiency_percent";
    let (field, reason, text) = match (level, power, efficiency) {
        (Some(level), None, None) => return Source::Stated(level),
        (None, Some(electrical), efficiency) => {
            return Source::Power { electrical, efficiency: efficiency.unwrap_or(defaults::EFFICIENCY) };
        }
        (None, None, None) => ("source_level_db", FaultReason::Missing, "nothing says how strong the option is"),
        (None, None, Some(_)) => ("electrical_power_w", FaultReason::Missing, "an efficiency is given without a power"),
        (Some(_), Some(_), _) => {
            ("electrical_power_w", FaultReason::Contradiction, "a power is given beside a source level")
        }
        (Some(_), None, Some(_)) => {
            ("efficiency_percent", FaultReason::Contradiction, "an efficiency is given beside a source level")
        }
    };
    reading.refuse(field, reason, format!("{text}; {accepted}"));
    Source::Stated(level.unwrap_or(Fact::assumed(SourceLevel::new(200.0))))
}

/// Writes an option.
pub(crate) fn to(option: &BeamOption) -> v1::BeamOption {
    let khz = |hertz: Hertz| Unit::Kilohertz.from_si(hertz.get());
    let micros = |seconds: Seconds| Unit::Microseconds.from_si(seconds.get());
    let percent = |fraction: f64| Unit::Percent.from_si(fraction);
    let mut message = v1::BeamOption {
        option_id: option.id.to_string(),
        display_name: option.display_name.clone(),
        frequency_khz: Some(fact::to(&option.frequency, khz)),
        floor_db: Some(fact::to(&option.floor, Db::get)),
        pulse_length_us: Some(fact::to(&option.pulse_length, micros)),
        sweep_bandwidth_khz: option.sweep_bandwidth.as_ref().map(|sweep| fact::to(sweep, khz)),
        receiver_bandwidth_khz: Some(fact::to(&option.receiver_bandwidth, khz)),
        ..v1::BeamOption::default()
    };
    pattern_to(&mut message, &option.pattern);
    match &option.source {
        Source::Stated(level) => message.source_level_db = Some(fact::to(level, SourceLevel::get)),
        Source::Power { electrical, efficiency } => {
            message.electrical_power_w = Some(fact::to(electrical, Watts::get));
            message.efficiency_percent = Some(fact::to(efficiency, percent));
        }
    }
    message
}

fn pattern_to(message: &mut v1::BeamOption, pattern: &PatternKind) {
    let width = |width: Beamwidth| Unit::Degrees.from_si(width.full.get());
    let mut stated = |shape: v1::BeamShape, beamwidth: &Fact<Beamwidth>| {
        message.shape = shape.into();
        message.beamwidth_deg = Some(fact::to(beamwidth, width));
        message.beamwidth_level = match beamwidth.value.at {
            WidthLevel::Minus3 => v1::BeamwidthLevel::Minus3Db,
            WidthLevel::Minus10 => v1::BeamwidthLevel::Minus10Db,
        }
        .into();
    };
    match pattern {
        PatternKind::CircularPiston { beamwidth } => stated(v1::BeamShape::CircularPiston, beamwidth),
        PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => {
            stated(v1::BeamShape::ShadedCircular, beamwidth);
            message.peak_side_lobe_db = Some(fact::to(peak_side_lobe, Db::get));
        }
        PatternKind::Rectangular { along, across } => {
            stated(v1::BeamShape::Rectangular, along);
            message.cross_beamwidth_deg = Some(fact::to(across, width));
        }
        PatternKind::Tabulated { points, provenance } => {
            message.shape = v1::BeamShape::Tabulated.into();
            message.pattern_provenance = fact::provenance_to(*provenance).into();
            message.pattern_points = points.iter().map(point_to).collect();
        }
    }
}

/// Reads one pair of a pattern.
pub(crate) fn point(point: &v1::PatternPoint) -> PatternPoint {
    PatternPoint { angle: HalfAngle::new(Unit::Degrees.to_si(point.angle_deg)), level: Db::new(point.level_db) }
}

/// Writes one pair of a pattern.
pub(crate) fn point_to(point: &PatternPoint) -> v1::PatternPoint {
    v1::PatternPoint { angle_deg: Unit::Degrees.from_si(point.angle.get()), level_db: point.level.get() }
}
