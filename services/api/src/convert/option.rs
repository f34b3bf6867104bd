//! Beam/frequency options of a sensor.

use acoustics::units::{Db, HalfAngle, WidthLevel};
use domain::scale::Scale;
use domain::sensor::{BeamShape, PowerKind};
use domain::{FaultReason, Id, OptionRecord, PatternPoint};
use proto::v1;

use super::{Reading, fact};

/// Reads an option. Faults of form go into `reading`, figures are judged by the sensor's check.
pub(crate) fn from(reading: &mut Reading, message: v1::BeamOption) -> OptionRecord {
    let id = Id::parse(&message.option_id).unwrap_or_else(|error| {
        let reason = if message.option_id.is_empty() { FaultReason::Missing } else { FaultReason::BadForm };
        reading.refuse("option_id", reason, format!("option_id: {error}"));
        Id::stand_in()
    });
    let shape = |shape| match shape {
        v1::BeamShape::Unspecified => None,
        v1::BeamShape::CircularPiston => Some(BeamShape::CircularPiston),
        v1::BeamShape::ShadedCircular => Some(BeamShape::ShadedCircular),
        v1::BeamShape::Rectangular => Some(BeamShape::Rectangular),
        v1::BeamShape::Tabulated => Some(BeamShape::Tabulated),
    };
    let level = |level| match level {
        v1::BeamwidthLevel::Unspecified => None,
        v1::BeamwidthLevel::Minus3Db => Some(WidthLevel::Minus3),
        v1::BeamwidthLevel::Minus6Db => Some(WidthLevel::Minus6),
        v1::BeamwidthLevel::Minus10Db => Some(WidthLevel::Minus10),
    };
    let kind = |kind| match kind {
        v1::PowerKind::Unspecified => None,
        v1::PowerKind::Rms => Some(PowerKind::Rms),
        v1::PowerKind::Peak => Some(PowerKind::Peak),
        v1::PowerKind::PeakToPeak => Some(PowerKind::PeakToPeak),
    };
    let from = message.pattern_provenance;
    let mut figure = |field: &str, given| fact::figure(reading, field, given);
    OptionRecord {
        id,
        display_name: message.display_name,
        frequency_khz: figure("frequency_khz", message.frequency_khz),
        beamwidth_deg: figure("beamwidth_deg", message.beamwidth_deg),
        cross_beamwidth_deg: figure("cross_beamwidth_deg", message.cross_beamwidth_deg),
        peak_side_lobe_db: figure("peak_side_lobe_db", message.peak_side_lobe_db),
        floor_db: figure("floor_db", message.floor_db),
        source_level_db: figure("source_level_db", message.source_level_db),
        electrical_power_w: figure("electrical_power_w", message.electrical_power_w),
        efficiency_percent: figure("efficiency_percent", message.efficiency_percent),
        pulse_length_us: figure("pulse_length_us", message.pulse_length_us),
        sweep_bandwidth_khz: figure("sweep_bandwidth_khz", message.sweep_bandwidth_khz),
        receiver_bandwidth_khz: figure("receiver_bandwidth_khz", message.receiver_bandwidth_khz),
        ring_down_us: figure("ring_down_us", message.ring_down_us),
        pattern_points: message.pattern_points.iter().map(point).collect(),
        shape: reading.optional_choice("shape", message.shape, shape, v1::BeamShape::as_str_name),
        beamwidth_level: reading.optional_choice(
            "beamwidth_level",
            message.beamwidth_level,
            level,
            v1::BeamwidthLevel::as_str_name,
        ),
        power_kind: reading.optional_choice("power_kind", message.power_kind, kind, v1::PowerKind::as_str_name),
        pattern_provenance: if from == 0 { None } else { fact::provenance(reading, "pattern_provenance", from) },
    }
}

/// Writes an option.
pub(crate) fn to(option: &OptionRecord) -> v1::BeamOption {
    let shape = option.shape.map_or(v1::BeamShape::Unspecified, |shape| match shape {
        BeamShape::CircularPiston => v1::BeamShape::CircularPiston,
        BeamShape::ShadedCircular => v1::BeamShape::ShadedCircular,
        BeamShape::Rectangular => v1::BeamShape::Rectangular,
        BeamShape::Tabulated => v1::BeamShape::Tabulated,
    });
    let level = option.beamwidth_level.map_or(v1::BeamwidthLevel::Unspecified, |level| match level {
        WidthLevel::Minus3 => v1::BeamwidthLevel::Minus3Db,
        WidthLevel::Minus6 => v1::BeamwidthLevel::Minus6Db,
        WidthLevel::Minus10 => v1::BeamwidthLevel::Minus10Db,
    });
    let kind = option.power_kind.map_or(v1::PowerKind::Unspecified, |kind| match kind {
        PowerKind::Rms => v1::PowerKind::Rms,
        PowerKind::Peak => v1::PowerKind::Peak,
        PowerKind::PeakToPeak => v1::PowerKind::PeakToPeak,
    });
    let from = option.pattern_provenance.map_or(v1::Provenance::Unspecified, fact::provenance_to);
    v1::BeamOption {
        option_id: option.id.to_string(),
        display_name: option.display_name.clone(),
        frequency_khz: fact::to(option.frequency_khz),
        shape: shape.into(),
        beamwidth_deg: fact::to(option.beamwidth_deg),
        beamwidth_level: level.into(),
        cross_beamwidth_deg: fact::to(option.cross_beamwidth_deg),
        peak_side_lobe_db: fact::to(option.peak_side_lobe_db),
        pattern_points: option.pattern_points.iter().map(point_to).collect(),
        pattern_provenance: from.into(),
        floor_db: fact::to(option.floor_db),
        source_level_db: fact::to(option.source_level_db),
        electrical_power_w: fact::to(option.electrical_power_w),
        power_kind: kind.into(),
        efficiency_percent: fact::to(option.efficiency_percent),
        pulse_length_us: fact::to(option.pulse_length_us),
        sweep_bandwidth_khz: fact::to(option.sweep_bandwidth_khz),
        receiver_bandwidth_khz: fact::to(option.receiver_bandwidth_khz),
        ring_down_us: fact::to(option.ring_down_us),
    }
}

/// Reads one pair of a pattern.
pub(crate) fn point(point: &v1::PatternPoint) -> PatternPoint {
    PatternPoint { angle: HalfAngle::new(Scale::Degrees.to_si(point.angle_deg)), level: Db::new(point.level_db) }
}

/// Writes one pair of a pattern.
pub(crate) fn point_to(point: &PatternPoint) -> v1::PatternPoint {
    v1::PatternPoint { angle_deg: Scale::Degrees.from_si(point.angle.get()), level_db: point.level.get() }
}
