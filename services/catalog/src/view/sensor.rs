//! A sensor as JSON in SI units.

use acoustics::units::{Beamwidth, Db, FullAngle, HalfAngle, Hertz, Level, Seconds, SourceLevel, Watts, WidthLevel};
use domain::{
    BadId, BeamOption, Confirmation, DialPoint, DialScale, Fact, GainDial, Id, PatternKind, PatternPoint, Sensor,
    Source,
};
use serde::{Deserialize, Serialize};

use super::fact::{FactView, MoneyView, ProvenanceView};

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct SensorView {
    id: String,
    display_name: String,
    notes: String,
    price: Option<MoneyView>,
    options: Vec<OptionView>,
    threshold_db: FactView,
    max_gain_db: FactView,
    dial_scale: ScaleView,
    dial_points: Vec<(f64, f64)>,
    receiver_noise_db: FactView,
    ping_interval_s: FactView,
    ping_jitter: FactView,
    confirm_marks: u32,
    confirm_pings: u32,
}

#[derive(Debug, Serialize, Deserialize)]
struct OptionView {
    id: String,
    display_name: String,
    frequency_hz: FactView,
    pattern: PatternView,
    floor_db: FactView,
    source: SourceView,
    pulse_length_s: FactView,
    sweep_bandwidth_hz: Option<FactView>,
    receiver_bandwidth_hz: FactView,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum PatternView {
    CircularPiston { beamwidth: BeamwidthView },
    ShadedCircular { beamwidth: BeamwidthView, peak_side_lobe_db: FactView },
    Rectangular { along: BeamwidthView, across: BeamwidthView },
    Tabulated { points_rad_db: Vec<(f64, f64)>, provenance: ProvenanceView },
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
struct BeamwidthView {
    full_rad: f64,
    at: WidthView,
    provenance: ProvenanceView,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum SourceView {
    LevelDb(FactView),
    Power { electrical_w: FactView, efficiency: FactView },
}

names!(ScaleView => DialScale { ClockHour, Percent, Step });
names!(WidthView => WidthLevel { Minus3, Minus10 });

impl From<&Sensor> for SensorView {
    fn from(s: &Sensor) -> Self {
        Self {
            id: s.id.to_string(),
            display_name: s.display_name.clone(),
            notes: s.notes.clone(),
            price: s.price.as_ref().map(MoneyView::from),
            options: s.options.iter().map(OptionView::from).collect(),
            threshold_db: FactView::of(s.threshold, Level::get),
            max_gain_db: FactView::of(s.max_gain, Db::get),
            dial_scale: s.dial.scale.into(),
            dial_points: s.dial.points.iter().map(|p| (p.position, p.gain.get())).collect(),
            receiver_noise_db: FactView::of(s.receiver_noise, Db::get),
            ping_interval_s: FactView::of(s.ping_interval, Seconds::get),
            ping_jitter: FactView::of(s.ping_jitter, |j| j),
            confirm_marks: s.confirmation.marks,
            confirm_pings: s.confirmation.pings,
        }
    }
}

impl TryFrom<SensorView> for Sensor {
    type Error = BadId;

    fn try_from(v: SensorView) -> Result<Self, BadId> {
        let points = v.dial_points.into_iter().map(|(position, gain)| DialPoint { position, gain: Db::new(gain) });
        Ok(Self {
            id: Id::parse(&v.id)?,
            display_name: v.display_name,
            notes: v.notes,
            price: v.price.map(Into::into),
            options: v.options.into_iter().map(BeamOption::try_from).collect::<Result<_, _>>()?,
            threshold: v.threshold_db.to(Level::new),
            max_gain: v.max_gain_db.to(Db::new),
            dial: GainDial { scale: v.dial_scale.into(), points: points.collect() },
            receiver_noise: v.receiver_noise_db.to(Db::new),
            ping_interval: v.ping_interval_s.to(Seconds::new),
            ping_jitter: v.ping_jitter.to(|j| j),
            confirmation: Confirmation { marks: v.confirm_marks, pings: v.confirm_pings },
        })
    }
}

impl From<&BeamOption> for OptionView {
    fn from(o: &BeamOption) -> Self {
        Self {
            id: o.id.to_string(),
            display_name: o.display_name.clone(),
            frequency_hz: FactView::of(o.frequency, Hertz::get),
            pattern: (&o.pattern).into(),
            floor_db: FactView::of(o.floor, Db::get),
            source: match o.source {
                Source::Stated(level) => SourceView::LevelDb(FactView::of(level, SourceLevel::get)),
                Source::Power { electrical, efficiency } => SourceView::Power {
                    electrical_w: FactView::of(electrical, Watts::get),
                    efficiency: FactView::of(efficiency, |e| e),
                },
            },
            pulse_length_s: FactView::of(o.pulse_length, Seconds::get),
            sweep_bandwidth_hz: o.sweep_bandwidth.map(|s| FactView::of(s, Hertz::get)),
            receiver_bandwidth_hz: FactView::of(o.receiver_bandwidth, Hertz::get),
        }
    }
}

impl TryFrom<OptionView> for BeamOption {
    type Error = BadId;

    fn try_from(v: OptionView) -> Result<Self, BadId> {
        Ok(Self {
            id: Id::parse(&v.id)?,
            display_name: v.display_name,
            frequency: v.frequency_hz.to(Hertz::new),
            pattern: v.pattern.into(),
            floor: v.floor_db.to(Db::new),
            source: match v.source {
                SourceView::LevelDb(level) => Source::Stated(level.to(SourceLevel::new)),
                SourceView::Power { electrical_w, efficiency } => {
                    Source::Power { electrical: electrical_w.to(Watts::new), efficiency: efficiency.to(|e| e) }
                }
            },
            pulse_length: v.pulse_length_s.to(Seconds::new),
            sweep_bandwidth: v.sweep_bandwidth_hz.map(|s| s.to(Hertz::new)),
            receiver_bandwidth: v.receiver_bandwidth_hz.to(Hertz::new),
        })
    }
}

impl From<&PatternKind> for PatternView {
    fn from(p: &PatternKind) -> Self {
        match p {
            PatternKind::CircularPiston { beamwidth } => Self::CircularPiston { beamwidth: (*beamwidth).into() },
            PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => Self::ShadedCircular {
                beamwidth: (*beamwidth).into(),
                peak_side_lobe_db: FactView::of(*peak_side_lobe, Db::get),
            },
            PatternKind::Rectangular { along, across } => {
                Self::Rectangular { along: (*along).into(), across: (*across).into() }
            }
            PatternKind::Tabulated { points, provenance } => Self::Tabulated {
                points_rad_db: points.iter().map(|p| (p.angle.get(), p.level.get())).collect(),
                provenance: (*provenance).into(),
            },
        }
    }
}

impl From<PatternView> for PatternKind {
    fn from(v: PatternView) -> Self {
        match v {
            PatternView::CircularPiston { beamwidth } => Self::CircularPiston { beamwidth: beamwidth.into() },
            PatternView::ShadedCircular { beamwidth, peak_side_lobe_db } => {
                Self::ShadedCircular { beamwidth: beamwidth.into(), peak_side_lobe: peak_side_lobe_db.to(Db::new) }
            }
            PatternView::Rectangular { along, across } => {
                Self::Rectangular { along: along.into(), across: across.into() }
            }
            PatternView::Tabulated { points_rad_db, provenance } => Self::Tabulated {
                points: points_rad_db
                    .into_iter()
                    .map(|(angle, level)| PatternPoint { angle: HalfAngle::new(angle), level: Db::new(level) })
                    .collect(),
                provenance: provenance.into(),
            },
        }
    }
}

impl From<Fact<Beamwidth>> for BeamwidthView {
    fn from(f: Fact<Beamwidth>) -> Self {
        Self { full_rad: f.value.full.get(), at: f.value.at.into(), provenance: f.provenance.into() }
    }
}

impl From<BeamwidthView> for Fact<Beamwidth> {
    fn from(v: BeamwidthView) -> Self {
        Self { value: Beamwidth { full: FullAngle::new(v.full_rad), at: v.at.into() }, provenance: v.provenance.into() }
    }
}
