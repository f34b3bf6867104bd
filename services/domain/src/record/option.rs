//! One beam at one frequency as it is given.

use acoustics::units::{Beamwidth, Db, FullAngle, HalfAngle, Hertz, Seconds, SourceLevel, Watts, WidthLevel};

use super::{fact, given, lacks};
use crate::check::{Faults, Given, plain};
use crate::field::{Accepted, Field, Figure, Holds, MAX_NAME_CHARS, NOT_GIVEN, above, name_of, named, names, within};
use crate::notation;
use crate::scale::Scale;
use crate::sensor::{BEAM_SHAPES, BeamShape, POWER_KINDS, PROVENANCES, PowerKind, WIDTH_LEVELS};
use crate::wording::beam_name;
use crate::{BeamOption, Fact, Fault, FaultReason, Id, PatternKind, PatternPoint, Provenance, Source, defaults};

type PointField = Field<PatternPoint>;
type OptionField = Field<OptionRecord>;

/// Fewest and most points of a tabulated pattern.
const PATTERN_POINTS: (usize, usize) = (3, 361);
/// How far a tabulated pattern's first level may be from 0 dB and still count as the axis.
const AXIS_SLACK_DB: f64 = 1.0e-6;
/// Beamwidths from edge to edge.
const WIDTH: Accepted = within(1.0, 180.0, "degrees");

/// One beam at one frequency as it is given.
#[derive(Debug, Clone, PartialEq)]
pub struct OptionRecord {
    /// Unique in its sensor.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Centre frequency.
    pub frequency_khz: Figure,
    /// Shape of the beam.
    pub shape: Option<BeamShape>,
    /// Full beamwidth.
    pub beamwidth_deg: Figure,
    /// The one-way level at which it is stated.
    pub beamwidth_level: Option<WidthLevel>,
    /// Full beamwidth of the second side of a rectangle.
    pub cross_beamwidth_deg: Figure,
    /// Peak side lobe of a shaded aperture.
    pub peak_side_lobe_db: Figure,
    /// Angle and level pairs of a tabulated beam.
    pub pattern_points: Vec<PatternPoint>,
    /// Where the pairs come from.
    pub pattern_provenance: Option<Provenance>,
    /// Side and back level.
    pub floor_db: Figure,
    /// Source level.
    pub source_level_db: Figure,
    /// Electrical power as it is rated.
    pub electrical_power_w: Figure,
    /// What the rating means.
    pub power_kind: Option<PowerKind>,
    /// Electro-acoustic efficiency.
    pub efficiency_percent: Figure,
    /// Length of the pulse.
    pub pulse_length_us: Figure,
    /// Swept bandwidth.
    pub sweep_bandwidth_khz: Figure,
    /// Bandwidth of the receiver.
    pub receiver_bandwidth_khz: Figure,
    /// How long after its ping begins it hears nothing.
    pub ring_down_us: Figure,
}

const SHAPE_NAMES: &[&str] = &names(&BEAM_SHAPES);
const LEVEL_NAMES: &[&str] = &names(&WIDTH_LEVELS);
const KIND_NAMES: &[&str] = &names(&POWER_KINDS);
const PROVENANCE_NAMES: &[&str] = &names(&PROVENANCES);

/// The fields of one pair of a tabulated pattern.
pub const POINT_FIELDS: &[Field<PatternPoint>] = &[
    PointField::number(
        "angle_deg",
        within(0.0, 90.0, "degrees"),
        |p| Some(Scale::Degrees.from_si(p.angle.get())),
        |p, v| p.angle = HalfAngle::new(Scale::Degrees.to_si(v)),
    )
    .advice("give the angle from the axis"),
    PointField::number(
        "level_db",
        within(-200.0, 0.0, "dB relative to the axis"),
        |p| Some(p.level.get()),
        |p, v| p.level = Db::new(v),
    )
    .advice("subtract the level on the axis"),
];

impl OptionRecord {
    /// Its fields, in the order of the columns of files.
    pub const FIELDS: &'static [Field<Self>] = &[
        OptionField::id(|o| &o.id, |o, id| o.id = id)
            .named("option_id")
            .example("narrow")
            .words(&["option", "beam_id"]),
        OptionField::text("display_name", MAX_NAME_CHARS, |o| &o.display_name, |o, text| o.display_name = text)
            .column("option_display_name")
            .example("14° at 180 kHz")
            .words(&["option_name", "beam_name", "switch", "switch_position"]),
        OptionField::figure(
            "frequency_khz",
            within(10.0, 2_000.0, "kHz"),
            |o| o.frequency_khz,
            |o, f| o.frequency_khz = f,
        )
        .required()
        .advice("give the centre frequency")
        .example("180")
        .words(&["frequency", "freq", "frequencies", "operating_frequency", "sonar_frequency", "frequenz"]),
        OptionField::choice(
            "shape",
            SHAPE_NAMES,
            |o| o.shape.and_then(|shape| name_of(&BEAM_SHAPES, &shape)),
            |o, name| o.shape = named(&BEAM_SHAPES, name),
        )
        .left_out("circular_piston")
        .example("circular_piston"),
        OptionField::figure("beamwidth_deg", WIDTH, |o| o.beamwidth_deg, |o, f| o.beamwidth_deg = f)
            .accepts("full angle; required unless the shape is tabulated")
            .advice("give the full angle from edge to edge")
            .example("14")
            .words(&[
                "beamwidth",
                "beam_width",
                "beam_angle",
                "beam_angles",
                "cone_angle",
                "cone",
                "cone_degrees",
                "beam",
                "angle",
                "opening_angle",
                "transducer_angle",
                "oeffnungswinkel",
                "öffnungswinkel",
                "winkel",
            ]),
        OptionField::choice(
            "beamwidth_level",
            LEVEL_NAMES,
            |o| o.beamwidth_level.and_then(|level| name_of(&WIDTH_LEVELS, &level)),
            |o, name| o.beamwidth_level = named(&WIDTH_LEVELS, name),
        )
        .accepts("the level at which the beamwidth is stated")
        .left_out("not known: -3 dB is recorded, and draws go over all three")
        .example("minus_3_db")
        .words(&["beam_level", "angle_level", "angle_at", "beam_angle_level"])
        .means(&[
            ("3_db", "minus_3_db"),
            ("3db", "minus_3_db"),
            ("6_db", "minus_6_db"),
            ("6db", "minus_6_db"),
            ("10_db", "minus_10_db"),
            ("10db", "minus_10_db"),
            ("unknown", NOT_GIVEN),
        ])
        .beside("beamwidth_deg"),
        OptionField::figure("cross_beamwidth_deg", WIDTH, |o| o.cross_beamwidth_deg, |o, f| o.cross_beamwidth_deg = f)
            .accepts("full angle; required for a rectangular shape")
            .advice("give the full angle from edge to edge"),
        OptionField::figure(
            "peak_side_lobe_db",
            within(-40.0, -20.0, "dB relative to the axis"),
            |o| o.peak_side_lobe_db,
            |o, f| o.peak_side_lobe_db = f,
        )
        .accepts("required for shaded_circular")
        .advice("give the peak side lobe; for a plain aperture use the circular piston"),
        OptionField::new(
            "pattern_points",
            Holds::List {
                unit: "",
                write: |o| notation::write_pattern(&o.pattern_points),
                read: |o, text, numbers| notation::read_pattern(text, numbers).map(|points| o.pattern_points = points),
            },
        )
        .accepts("3 to 361 of angle in degrees=level in dB, rising from 0=0, blanks between; required for tabulated"),
        OptionField::choice(
            "pattern_provenance",
            PROVENANCE_NAMES,
            |o| o.pattern_provenance.and_then(|from| name_of(&PROVENANCES, &from)),
            |o, name| o.pattern_provenance = named(&PROVENANCES, name),
        )
        .accepts("where the pairs come from; required for tabulated"),
        OptionField::figure(
            "floor_db",
            within(-80.0, -10.0, "dB relative to the axis"),
            |o| o.floor_db,
            |o, f| o.floor_db = f,
        )
        .left_out("-40, assumed")
        .advice("give the side and back level, or leave it out for -40 dB")
        .example("-40 assumed"),
        OptionField::figure(
            "source_level_db",
            within(120.0, 260.0, "dB re 1 µPa m"),
            |o| o.source_level_db,
            |o, f| o.source_level_db = f,
        )
        .accepts("or else electrical_power_w")
        .advice("give the source level on the axis, or electrical power and efficiency")
        .words(&["source_level"]),
        OptionField::figure(
            "electrical_power_w",
            above(0.0, 10_000.0, "W"),
            |o| o.electrical_power_w,
            |o, f| o.electrical_power_w = f,
        )
        .accepts("in the pulse, as it is rated; or else source_level_db")
        .left_out("without a source level 40, assumed")
        .advice("give the power during the pulse, and its kind in power_kind")
        .example("40")
        .words(&[
            "power",
            "watts",
            "output_power",
            "rms_power",
            "power_rms",
            "peak_power",
            "power_peak",
            "peak_to_peak_power",
            "power_peak_to_peak",
            "transmit_power",
            "leistung",
        ]),
        OptionField::choice(
            "power_kind",
            KIND_NAMES,
            |o| o.power_kind.and_then(|kind| name_of(&POWER_KINDS, &kind)),
            |o, name| o.power_kind = named(&POWER_KINDS, name),
        )
        .accepts("what the rating of the power means; with electrical_power_w")
        .left_out("not known: rms is recorded, and draws go over all three")
        .example("rms")
        .words(&["kind_of_power", "power_rating", "rating"])
        .means(&[
            ("peak_to_peak", "peak_to_peak"),
            ("p_p", "peak_to_peak"),
            ("pp", "peak_to_peak"),
            ("ptp", "peak_to_peak"),
            ("peak", "peak"),
            ("rms", "rms"),
            ("unknown", NOT_GIVEN),
        ])
        .beside("electrical_power_w"),
        OptionField::figure(
            "efficiency_percent",
            above(0.0, 100.0, "%"),
            |o| o.efficiency_percent,
            |o, f| o.efficiency_percent = f,
        )
        .accepts("with electrical_power_w")
        .left_out("50, assumed")
        .advice("give the electro-acoustic efficiency, or leave it out for 50 %")
        .example("50 assumed")
        .words(&["efficiency"]),
        OptionField::figure(
            "pulse_length_us",
            within(5.0, 10_000.0, "µs"),
            |o| o.pulse_length_us,
            |o, f| o.pulse_length_us = f,
        )
        .left_out("twenty waves, assumed")
        .advice("give the pulse length")
        .example("100")
        .words(&["pulse_length", "pulse"]),
        OptionField::figure(
            "sweep_bandwidth_khz",
            above(0.0, 2_000.0, "kHz"),
            |o| o.sweep_bandwidth_khz,
            |o, f| o.sweep_bandwidth_khz = f,
        )
        .left_out("an unmodulated pulse")
        .advice("leave it out for an unmodulated pulse"),
        // A receiver may be wider than its carrier is high (a short pulse at a low frequency), so only the range is checked.
        OptionField::figure(
            "receiver_bandwidth_khz",
            above(0.0, 2_000.0, "kHz"),
            |o| o.receiver_bandwidth_khz,
            |o, f| o.receiver_bandwidth_khz = f,
        )
        .left_out("the larger of 1/pulse length and the sweep, assumed")
        .advice("leave it out for the larger of 1/pulse length and the sweep")
        .example("10"),
        OptionField::figure("ring_down_us", within(5.0, 20_000.0, "µs"), |o| o.ring_down_us, |o, f| o.ring_down_us = f)
            .accepts("from the beginning of the ping, the pulse included")
            .left_out("what a transducer of its kind rings after its pulse, assumed")
            .advice("give the time after which the nearest mark shows, or leave it out")
            .words(&["ring_down", "ringdown"]),
    ];

    /// An option of which nothing is given.
    #[must_use]
    pub fn blank(id: Id) -> Self {
        Self {
            id,
            display_name: String::new(),
            frequency_khz: None,
            shape: None,
            beamwidth_deg: None,
            beamwidth_level: None,
            cross_beamwidth_deg: None,
            peak_side_lobe_db: None,
            pattern_points: Vec::new(),
            pattern_provenance: None,
            floor_db: None,
            source_level_db: None,
            electrical_power_w: None,
            power_kind: None,
            efficiency_percent: None,
            pulse_length_us: None,
            sweep_bandwidth_khz: None,
            receiver_bandwidth_khz: None,
            ring_down_us: None,
        }
    }

    /// The shape of its beam; a plain disc where none is given.
    #[must_use]
    pub fn beam_shape(&self) -> BeamShape {
        self.shape.unwrap_or(BeamShape::CircularPiston)
    }

    /// Every fault of this option, with paths relative to it.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::of(self, Self::FIELDS);
        self.check_shape(&mut faults);
        self.check_source(&mut faults);
        if let Some((sweep, centre)) = self.sweep_bandwidth_khz.zip(self.frequency_khz)
            && !faults.has("sweep_bandwidth_khz")
            && centre.value.is_finite()
            && sweep.value >= 2.0 * centre.value
        {
            faults.add(
                "sweep_bandwidth_khz",
                FaultReason::Contradiction,
                format!(
                    "sweep_bandwidth_khz is {}; accepted: less than twice frequency_khz, which is {}; check which of the two is wrong",
                    plain(sweep.value),
                    plain(centre.value)
                ),
            );
        }
        if let Some((ring_down, pulse)) = self.ring_down_us.zip(self.pulse_length_us)
            && !faults.has("ring_down_us")
            && ring_down.value < pulse.value
        {
            faults.add(
                "ring_down_us",
                FaultReason::Contradiction,
                format!(
                    "ring_down_us is {}; accepted: not under pulse_length_us, which is {}; count from the beginning of the ping",
                    plain(ring_down.value),
                    plain(pulse.value)
                ),
            );
        }
        faults.found.into_vec()
    }

    /// Fields that a shape needs, and those that belong to another one and would be lost without a word.
    fn check_shape(&self, faults: &mut Faults) {
        let shape = self.beam_shape();
        let advice = "give the full angle from edge to edge";
        if shape == BeamShape::Tabulated {
            let only = "shapes other than tabulated";
            faults.out_of_place("beamwidth_deg", (&self.beamwidth_deg).into(), only);
            faults.out_of_place("beamwidth_level", (&self.beamwidth_level).into(), only);
            check_table(faults, &self.pattern_points);
            if self.pattern_provenance.is_none() {
                faults.missing("pattern_provenance", &format!("accepted: {}", PROVENANCE_NAMES.join(", ")));
            }
        } else {
            let only = "the shape tabulated";
            let points = if self.pattern_points.is_empty() { Given::No } else { Given::Yes };
            faults.out_of_place("pattern_points", points, only);
            faults.out_of_place("pattern_provenance", (&self.pattern_provenance).into(), only);
            if self.beamwidth_deg.is_none() {
                faults.missing("beamwidth_deg", advice);
            }
        }
        match (shape, &self.cross_beamwidth_deg) {
            (BeamShape::Rectangular, None) => faults.missing("cross_beamwidth_deg", advice),
            (BeamShape::Rectangular, Some(_)) => {}
            (_, given) => faults.out_of_place("cross_beamwidth_deg", given.into(), "the shape rectangular"),
        }
        match (shape, &self.peak_side_lobe_db) {
            (BeamShape::ShadedCircular, None) => faults.missing("peak_side_lobe_db", "give the peak side lobe"),
            (BeamShape::ShadedCircular, Some(_)) => {}
            (_, given) => faults.out_of_place("peak_side_lobe_db", given.into(), "the shape shaded_circular"),
        }
    }

    fn check_source(&self, faults: &mut Faults) {
        if self.electrical_power_w.is_none() {
            faults.out_of_place("power_kind", (&self.power_kind).into(), "an electrical_power_w");
        }
        let (field, reason, text) = match (self.source_level_db, self.electrical_power_w, self.efficiency_percent) {
            (_, None, None) | (None, Some(_), _) => return,
            (None, None, Some(_)) => {
                ("electrical_power_w", FaultReason::Missing, "an efficiency is given without a power")
            }
            (Some(_), Some(_), _) => {
                ("electrical_power_w", FaultReason::Contradiction, "a power is given beside a source level")
            }
            (Some(_), None, Some(_)) => {
                ("efficiency_percent", FaultReason::Contradiction, "an efficiency is given beside a source level")
            }
        };
        let accepted = "accepted: source_level_db, or electrical_power_w with efficiency_percent; correct it";
        faults.add(field, reason, format!("{text}; {accepted}"));
    }

    /// The option as it is computed with: what is not given is assumed.
    ///
    /// # Errors
    /// The record lacks a field that its check asks for.
    pub fn resolve(&self) -> Result<BeamOption, Fault> {
        let frequency = fact(self.frequency_khz, Scale::Kilohertz, Hertz::new).ok_or_else(|| lacks("frequency_khz"))?;
        let pulse_length = fact(self.pulse_length_us, Scale::Microseconds, Seconds::new)
            .unwrap_or_else(|| defaults::pulse_length(frequency.value));
        let sweep_bandwidth = fact(self.sweep_bandwidth_khz, Scale::Kilohertz, Hertz::new);
        let mut option = BeamOption {
            id: self.id.clone(),
            display_name: self.display_name.clone(),
            frequency,
            pattern: self.pattern()?,
            width_level_known: self.beamwidth_level.is_some() || self.beam_shape() == BeamShape::Tabulated,
            floor: fact(self.floor_db, Scale::One, Db::new).unwrap_or(defaults::PATTERN_FLOOR),
            source: match fact(self.source_level_db, Scale::One, SourceLevel::new) {
                Some(level) => Source::Stated(level),
                None => Source::Power {
                    electrical: fact(self.electrical_power_w, Scale::One, Watts::new)
                        .unwrap_or(defaults::ELECTRICAL_POWER),
                    // The usual power is one in the pulse.
                    kind: if self.electrical_power_w.is_some() { self.power_kind } else { Some(PowerKind::Rms) },
                    efficiency: fact(self.efficiency_percent, Scale::Percent, |share| share)
                        .unwrap_or(defaults::EFFICIENCY),
                },
            },
            pulse_length,
            sweep_bandwidth,
            receiver_bandwidth: fact(self.receiver_bandwidth_khz, Scale::Kilohertz, Hertz::new).unwrap_or_else(|| {
                defaults::receiver_bandwidth(pulse_length.value, sweep_bandwidth.map(|sweep| sweep.value))
            }),
            ring_down: fact(self.ring_down_us, Scale::Microseconds, Seconds::new),
        };
        if option.display_name.is_empty() {
            option.display_name = beam_name(&option);
        }
        Ok(option)
    }

    fn pattern(&self) -> Result<PatternKind, Fault> {
        let at = self.beamwidth_level.unwrap_or(WidthLevel::Minus3);
        let width = |figure: Figure, field: &str| {
            fact(figure, Scale::Degrees, |radians| Beamwidth { full: FullAngle::new(radians), at })
                .ok_or_else(|| lacks(field))
        };
        let beamwidth = || width(self.beamwidth_deg, "beamwidth_deg");
        Ok(match self.beam_shape() {
            BeamShape::CircularPiston => PatternKind::CircularPiston { beamwidth: beamwidth()? },
            BeamShape::ShadedCircular => PatternKind::ShadedCircular {
                beamwidth: beamwidth()?,
                peak_side_lobe: fact(self.peak_side_lobe_db, Scale::One, Db::new)
                    .ok_or_else(|| lacks("peak_side_lobe_db"))?,
            },
            BeamShape::Rectangular => PatternKind::Rectangular {
                along: beamwidth()?,
                across: width(self.cross_beamwidth_deg, "cross_beamwidth_deg")?,
            },
            BeamShape::Tabulated => PatternKind::Tabulated {
                points: self.pattern_points.clone(),
                provenance: self.pattern_provenance.ok_or_else(|| lacks("pattern_provenance"))?,
            },
        })
    }

    /// Puts a pattern in, in place of the one that is there.
    pub fn set_pattern(&mut self, pattern: &PatternKind) {
        let width = |beamwidth: &Fact<Beamwidth>| given(*beamwidth, Scale::Degrees, |width| width.full.get());
        (self.beamwidth_deg, self.cross_beamwidth_deg, self.peak_side_lobe_db) = (None, None, None);
        (self.beamwidth_level, self.pattern_provenance) = (None, None);
        self.pattern_points.clear();
        let shape = match pattern {
            PatternKind::CircularPiston { beamwidth } => {
                (self.beamwidth_deg, self.beamwidth_level) = (width(beamwidth), Some(beamwidth.value.at));
                BeamShape::CircularPiston
            }
            PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => {
                (self.beamwidth_deg, self.beamwidth_level) = (width(beamwidth), Some(beamwidth.value.at));
                self.peak_side_lobe_db = given(*peak_side_lobe, Scale::One, Db::get);
                BeamShape::ShadedCircular
            }
            PatternKind::Rectangular { along, across } => {
                (self.beamwidth_deg, self.beamwidth_level) = (width(along), Some(along.value.at));
                self.cross_beamwidth_deg = width(across);
                BeamShape::Rectangular
            }
            PatternKind::Tabulated { points, provenance } => {
                self.pattern_points.clone_from(points);
                self.pattern_provenance = Some(*provenance);
                BeamShape::Tabulated
            }
        };
        self.shape = Some(shape);
    }
}

impl From<&BeamOption> for OptionRecord {
    fn from(o: &BeamOption) -> Self {
        let khz = |fact| given(fact, Scale::Kilohertz, Hertz::get);
        let mut record = Self {
            display_name: o.display_name.clone(),
            frequency_khz: khz(o.frequency),
            floor_db: given(o.floor, Scale::One, Db::get),
            pulse_length_us: given(o.pulse_length, Scale::Microseconds, Seconds::get),
            sweep_bandwidth_khz: o.sweep_bandwidth.and_then(khz),
            receiver_bandwidth_khz: khz(o.receiver_bandwidth),
            ring_down_us: o.ring_down.and_then(|time| given(time, Scale::Microseconds, Seconds::get)),
            ..Self::blank(o.id.clone())
        };
        record.set_pattern(&o.pattern);
        record.beamwidth_level = record.beamwidth_level.filter(|_| o.width_level_known);
        match o.source {
            Source::Stated(level) => record.source_level_db = given(level, Scale::One, SourceLevel::get),
            Source::Power { electrical, kind, efficiency } => {
                record.power_kind = kind;
                record.electrical_power_w = given(electrical, Scale::One, Watts::get);
                record.efficiency_percent = given(efficiency, Scale::Percent, |share| share);
            }
        }
        record
    }
}

impl BeamOption {
    /// Every fault of what is computed with, with paths relative to it.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        OptionRecord::from(self).check()
    }
}

/// A tabulated pattern: angles rising from 0, levels 0 on the axis and never above.
fn check_table(faults: &mut Faults, points: &[PatternPoint]) {
    let (least, most) = PATTERN_POINTS;
    if !faults.count("pattern_points", points.len(), least, most, "give angle and level pairs from the axis outwards") {
        return;
    }
    let known = faults.found.len();
    let mut before: Option<f64> = None;
    for (index, point) in points.iter().enumerate() {
        let mut inner = Faults::of(point, POINT_FIELDS);
        let (angle, level) = (point.angle.to_degrees(), point.level.get());
        let angle_fine = !inner.has("angle_deg");
        if angle_fine && before.is_some_and(|last| angle <= last) {
            inner.add(
                "angle_deg",
                FaultReason::Contradiction,
                format!(
                    "angle_deg is {}; accepted: above the angle before it; sort the pairs and drop doubles",
                    plain(angle)
                ),
            );
        }
        if index == 0 {
            check_axis(&mut inner, angle_fine.then_some(angle), level);
        }
        if !inner.found.is_empty() {
            let at = format!("pattern_points[{index}]");
            faults.found.extend(inner.found.into_vec().into_iter().map(|fault| fault.under(&at)));
        }
        before = if angle_fine { Some(angle) } else { before };
    }
    let pairs: Vec<_> = points.iter().map(|point| (point.angle, point.level)).collect();
    if faults.found.len() == known
        && let Err(error) = acoustics::pattern::check_table(&pairs)
    {
        let message = format!(
            "pattern_points make no beam: {error}; accepted: a beam of 1 degree or more; correct the pairs, or measure a wider beam"
        );
        faults.add("pattern_points", FaultReason::OutOfRange, message);
    }
}

/// The first pair of a table is the axis.
fn check_axis(faults: &mut Faults, angle: Option<f64>, level: f64) {
    if let Some(angle) = angle.filter(|angle| *angle != 0.0) {
        let given = plain(angle);
        faults.add(
            "angle_deg",
            FaultReason::BadForm,
            format!("angle_deg is {given}; accepted: 0 for the first pair; add the pair on the axis"),
        );
    }
    if level.is_finite() && level < -AXIS_SLACK_DB {
        let given = plain(level);
        faults.add(
            "level_db",
            FaultReason::BadForm,
            format!("level_db is {given}; accepted: 0 on the axis; subtract the level on the axis from all pairs"),
        );
    }
}
