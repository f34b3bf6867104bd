//! A sensor as it is given. From a leaflet alone (a name, an angle, a frequency) one can be stored.

use acoustics::units::{Db, HalfAngle, Level, Seconds};

use super::{OptionRecord, fact, given};
use crate::check::{Faults, Limit, plain};
use crate::field::{Accepted, Field, Figure, Holds, List, Record, above, name_of, named, names, within};
use crate::notation;
use crate::scale::Scale;
use crate::sensor::DIAL_SCALES;
use crate::{
    Confirmation, DialPoint, DialScale, Fault, FaultReason, GainDial, Id, Money, PatternPoint, Sensor, defaults,
};

type DialField = Field<DialPoint>;
type SensorField = Field<SensorRecord>;

/// Most options of one sensor.
const MAX_OPTIONS: usize = 16;
/// Fewest and most points of a dial.
const DIAL_POINTS: (usize, usize) = (2, 64);
/// Gains of displays.
pub const GAIN: Accepted = within(0.0, 140.0, "dB");
/// How many pings are looked at.
const PINGS: Accepted = within(1.0, 10.0, "");
/// Minutes of one turn of a clock face.
const TURN: f64 = 720.0;

/// A sensor as it is given: one housing with one gain dial and one or more options.
#[derive(Debug, Clone, PartialEq)]
pub struct SensorRecord {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes.
    pub notes: String,
    /// Price: whole units and billionths.
    pub price: Option<(i64, i32)>,
    /// Three-letter code of its currency; empty without a price.
    pub currency: String,
    /// Echo level that just makes a mark at zero gain.
    pub threshold_db: Figure,
    /// Greatest gain.
    pub max_gain_db: Figure,
    /// What the dial reads.
    pub dial_scale: Option<DialScale>,
    /// The dial's marked positions.
    pub dial_points: Vec<DialPoint>,
    /// Noise of the receiver over the thermal noise of the water.
    pub receiver_noise_db: Figure,
    /// Time from ping to ping.
    pub ping_interval_ms: Figure,
    /// Spread of the interval.
    pub ping_jitter_percent: Figure,
    /// How many of the last pings must agree.
    pub confirm_marks: Option<u32>,
    /// How many pings are looked at.
    pub confirm_pings: Option<u32>,
    /// Its beams.
    pub options: Vec<OptionRecord>,
}

const SCALE_NAMES: &[&str] = &names(&DIAL_SCALES);

/// The fields of one marked position of a dial; the range of positions depends on the dial's scale.
pub const DIAL_FIELDS: &[Field<DialPoint>] = &[
    DialField::number("position", within(0.0, 1_440.0, ""), |p| Some(p.position), |p, v| p.position = v)
        .advice("give the position as it reads on the dial"),
    DialField::number("gain_db", GAIN, |p| Some(p.gain.get()), |p, v| p.gain = Db::new(v))
        .advice("give the gain over zero gain there"),
];

/// The marked positions of a sensor's dial.
pub const DIAL: List<SensorRecord, DialPoint> = List {
    path: "dial.points",
    fields: DIAL_FIELDS,
    get: |s| s.dial_points.clone(),
    set: |s, points| s.dial_points = points,
    blank: || DialPoint { position: 0.0, gain: Db::new(0.0) },
};

/// A pair of the pattern of an option, with the option's place in its sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OptionPoint {
    /// Which option, from 0.
    pub option: u32,
    /// The pair.
    pub point: PatternPoint,
}

/// The options of a sensor.
pub const OPTIONS: List<SensorRecord, OptionRecord> = List {
    path: "options",
    fields: OptionRecord::FIELDS,
    get: |s| s.options.clone(),
    set: |s, options| s.options = options,
    blank: || OptionRecord::blank(Id::stand_in()),
};

/// The points of the tabulated patterns of a sensor's options.
pub const PATTERNS: List<SensorRecord, OptionPoint> = List {
    path: "options.pattern_points",
    fields: &[
        Field::whole("option", within(0.0, 15.0, ""), |p: &OptionPoint| Some(p.option), |p, v| p.option = v),
        Field::number(
            "angle_deg",
            within(0.0, 90.0, "degrees"),
            |p: &OptionPoint| Some(Scale::Degrees.from_si(p.point.angle.get())),
            |p, v| p.point.angle = HalfAngle::new(Scale::Degrees.to_si(v)),
        ),
        Field::number(
            "level_db",
            within(-200.0, 0.0, "dB relative to the axis"),
            |p: &OptionPoint| Some(p.point.level.get()),
            |p, v| p.point.level = Db::new(v),
        ),
    ],
    get: |s| {
        let of = |(at, option): (u32, &OptionRecord)| {
            option.pattern_points.iter().map(move |point| OptionPoint { option: at, point: *point }).collect::<Vec<_>>()
        };
        (0..).zip(&s.options).flat_map(of).collect()
    },
    set: |s, points| {
        for OptionPoint { option, point } in points {
            if let Some(option) = usize::try_from(option).ok().and_then(|at| s.options.get_mut(at)) {
                option.pattern_points.push(point);
            }
        }
    },
    blank: || OptionPoint { option: 0, point: PatternPoint { angle: HalfAngle::new(0.0), level: Db::new(0.0) } },
};

impl Record for SensorRecord {
    type Known = Sensor;
    const COLLECTION: &'static str = "sensors";

    const FIELDS: &'static [Field<Self>] = &[
        SensorField::id(|s| &s.id, |s, id| s.id = id).example("two-beam"),
        SensorField::name(|s| &s.display_name, |s, text| s.display_name = text).example("Two-beam sensor"),
        SensorField::notes(|s| &s.notes, |s, text| s.notes = text),
        SensorField::new("price", Holds::Amount { get: |s| s.price, set: |s, amount| s.price = Some(amount) })
            .accepts("with currency")
            .left_out("not for sale")
            .example("129.00")
            .words(&["retail", "retail_price", "list_price", "sale_price", "unit_price", "cost", "preis"]),
        SensorField::text("price.currency_code", 12, |s| &s.currency, |s, text| s.currency = text)
            .column("currency")
            .accepts("three capital letters of ISO 4217, with a price")
            .example("EUR")
            .words(&["währung"]),
        SensorField::figure(
            "threshold_db",
            within(60.0, 240.0, "dB re 1 µPa"),
            |s| s.threshold_db,
            |s, f| s.threshold_db = f,
        )
        .accepts("the level that just makes a mark at zero gain")
        .left_out("150, assumed")
        .advice("give the echo level that just makes a mark at zero gain")
        .example("150")
        .words(&["threshold"]),
        SensorField::figure("max_gain_db", above(0.0, 140.0, "dB"), |s| s.max_gain_db, |s, f| s.max_gain_db = f)
            .left_out("the end of the dial, or 70 without one, assumed")
            .advice("give the greatest gain of the sensor")
            .example("70")
            .words(&["max_gain", "greatest_gain"]),
        SensorField::choice(
            "dial.scale",
            SCALE_NAMES,
            |s| s.dial_scale.and_then(|scale| name_of(&DIAL_SCALES, &scale)),
            |s, name| s.dial_scale = named(&DIAL_SCALES, name),
        )
        .column("dial_scale")
        .accepts("with dial_points")
        .left_out("gains are told in decibels")
        .example("clock_hour"),
        SensorField::new(
            "dial.points",
            Holds::List {
                unit: "",
                write: |s| s.dial_scale.map_or_else(String::new, |scale| notation::write_dial(&s.dial_points, scale)),
                read: |s, text, numbers| {
                    let scale = s.dial_scale.ok_or("positions mean nothing without dial_scale")?;
                    notation::read_dial(text, scale, numbers).map(|points| s.dial_points = points)
                },
            },
        )
        .column("dial_points")
        .accepts("2 to 64 of position=gain in dB, rising, blanks between, such as 7:00=0 12:00=40 5:00=70")
        .example("7:00=0 12:00=40 5:00=70"),
        SensorField::figure(
            "receiver_noise_db",
            within(0.0, 60.0, "dB"),
            |s| s.receiver_noise_db,
            |s, f| s.receiver_noise_db = f,
        )
        .accepts("over the thermal noise of the water")
        .left_out("6, assumed")
        .advice("give the receiver's noise over thermal noise, or leave it out for 6 dB")
        .example("6 assumed"),
        SensorField::figure(
            "ping_interval_ms",
            within(1.0, 10_000.0, "ms"),
            |s| s.ping_interval_ms,
            |s, f| s.ping_interval_ms = f,
        )
        .left_out("100, assumed")
        .advice("give the time from ping to ping, or leave it out for 100 ms")
        .example("100")
        .words(&["ping_interval"]),
        SensorField::figure(
            "ping_jitter_percent",
            within(0.0, 50.0, "%"),
            |s| s.ping_jitter_percent,
            |s, f| s.ping_jitter_percent = f,
        )
        .left_out("0, assumed")
        .advice("give the spread of the interval, or leave it out for a fixed interval")
        .example("0"),
        SensorField::whole("confirm_marks", PINGS, |s| s.confirm_marks, |s, v| s.confirm_marks = Some(v))
            .accepts("not more than confirm_pings")
            .left_out("1")
            .advice("say how many of those pings must agree, not more than confirm_pings")
            .example("1"),
        SensorField::whole("confirm_pings", PINGS, |s| s.confirm_pings, |s, v| s.confirm_pings = Some(v))
            .left_out("1")
            .advice("say how many of the last pings are looked at")
            .example("1"),
    ];

    fn blank(id: Id) -> Self {
        Self {
            id,
            display_name: String::new(),
            notes: String::new(),
            price: None,
            currency: String::new(),
            threshold_db: None,
            max_gain_db: None,
            dial_scale: None,
            dial_points: Vec::new(),
            receiver_noise_db: None,
            ping_interval_ms: None,
            ping_jitter_percent: None,
            confirm_marks: None,
            confirm_pings: None,
            options: Vec::new(),
        }
    }

    fn id(&self) -> &Id {
        &self.id
    }

    fn known(&self) -> Result<Sensor, Fault> {
        self.resolve()
    }

    fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::of(self, Self::FIELDS);
        self.check_price(&mut faults);
        let pings = self.confirm_pings.unwrap_or(defaults::CONFIRMATION.pings);
        if let Some(marks) = self.confirm_marks.filter(|_| !faults.has("confirm_marks") && !faults.has("confirm_pings"))
        {
            let limit = Limit { field: "confirm_pings", value: f64::from(pings), or_equal: true };
            faults.at_most("confirm_marks", f64::from(marks), limit, "say how many of those pings must agree");
        }
        self.check_dial(&mut faults);
        if faults.count("options", self.options.len(), 1, MAX_OPTIONS, "describe each beam/frequency option once") {
            for (index, option) in self.options.iter().enumerate() {
                let at = format!("options[{index}]");
                faults.found.extend(option.check().into_iter().map(|fault| fault.under(&at)));
                if self.options.iter().take(index).any(|other| other.id == option.id) {
                    let message = format!(
                        "{at}.option_id '{}' is used twice; accepted: ids unique in the sensor; rename one",
                        option.id
                    );
                    faults.add(&format!("{at}.option_id"), FaultReason::Duplicate, message);
                }
            }
        }
        faults.found.into_vec()
    }
}

impl SensorRecord {
    /// A price: ISO 4217 shape, not negative, whole and fractional part of one sign.
    fn check_price(&self, faults: &mut Faults) {
        let code = &self.currency;
        let Some((units, nanos)) = self.price else {
            if !code.is_empty() {
                faults.out_of_place("price.currency_code", crate::check::Given::Yes, "a price");
            }
            return;
        };
        if code.is_empty() {
            let message = "the price has no currency; accepted: three capital letters of ISO 4217; \
                           name the column such as 'price USD', or write the currency into the cell, such as 129 USD";
            faults.add("price.currency_code", FaultReason::Missing, message.to_owned());
        } else if code.len() != 3 || !code.chars().all(|c| c.is_ascii_uppercase()) {
            let given: String = code.chars().take(12).collect();
            let message = format!(
                "price.currency_code is '{given}'; accepted: three capital letters of ISO 4217; use one such as EUR"
            );
            faults.add("price.currency_code", FaultReason::BadForm, message);
        }
        if units < 0 {
            let message =
                format!("price.units is {units}; accepted: 0 or more; leave the price out if it is not for sale");
            faults.add("price.units", FaultReason::OutOfRange, message);
        }
        if !(0..=999_999_999).contains(&nanos) {
            let message = format!(
                "price.nanos is {nanos}; accepted: 0 to 999999999, as a price is not negative; carry the rest into units"
            );
            faults.add("price.nanos", FaultReason::OutOfRange, message);
        }
    }

    /// The dial: enough points, rising positions, gains that never fall, inside the sensor's range.
    fn check_dial(&self, faults: &mut Faults) {
        let Some(scale) = self.dial_scale else { return };
        let (least, most) = DIAL_POINTS;
        if !faults.count("dial.points", self.dial_points.len(), least, most, "give marked positions with their gain") {
            return;
        }
        let accepted = match scale {
            DialScale::ClockHour => within(0.0, 1_440.0, "minutes on the clock face"),
            DialScale::Percent => within(0.0, 100.0, "%"),
            DialScale::Step => within(0.0, 1_000.0, "steps"),
        };
        let span = if scale == DialScale::ClockHour { TURN } else { f64::INFINITY };
        let max_gain = self.max_gain_db.map_or(f64::INFINITY, |given| given.value);
        let first = self.dial_points.first().map_or(0.0, |point| point.position);
        let mut before: Option<DialPoint> = None;
        for (index, point) in self.dial_points.iter().enumerate() {
            let mut inner = Faults::default();
            let advice = "give the position as it reads on the dial";
            let position_fine = inner.number("position", point.position, accepted, advice);
            let gain_fine = inner.number("gain_db", point.gain.get(), GAIN, "give the gain over zero gain there");
            if position_fine && point.position - first >= span {
                let message = "position is a full turn or more past the first position; accepted: less than one turn; check the positions";
                inner.add("position", FaultReason::Contradiction, message.to_owned());
            }
            check_step(
                &mut inner,
                before.as_ref(),
                position_fine.then_some(point.position),
                gain_fine.then_some(point.gain),
            );
            if gain_fine && max_gain.is_finite() && point.gain.get() > max_gain + 1.0e-9 {
                let message = format!(
                    "gain_db is {}; accepted: not above max_gain_db, which is {}; check which of the two is wrong",
                    plain(point.gain.get()),
                    plain(max_gain)
                );
                inner.add("gain_db", FaultReason::Contradiction, message);
            }
            if !inner.found.is_empty() {
                let at = format!("dial.points[{index}]");
                faults.found.extend(inner.found.into_vec().into_iter().map(|fault| fault.under(&at)));
            }
            before = Some(*point).filter(|_| position_fine && gain_fine).or(before);
        }
    }

    /// The sensor as it is computed with: what is not given is assumed. Without a dial there is no position to tell.
    ///
    /// # Errors
    /// The record lacks a field that its check asks for.
    pub fn resolve(&self) -> Result<Sensor, Fault> {
        let options: Result<_, Fault> = self.options.iter().map(OptionRecord::resolve).collect();
        let money = |(units, nanos)| Money { currency: self.currency.clone(), units, nanos };
        Ok(Sensor {
            id: self.id.clone(),
            display_name: self.display_name.clone(),
            notes: self.notes.clone(),
            price: self.price.map(money),
            options: options?,
            threshold: fact(self.threshold_db, Scale::One, Level::new).unwrap_or(defaults::THRESHOLD),
            max_gain: fact(self.max_gain_db, Scale::One, Db::new).unwrap_or_else(|| self.dial_end()),
            dial: GainDial { scale: self.dial_scale.unwrap_or(DialScale::Step), points: self.dial_points.clone() },
            receiver_noise: fact(self.receiver_noise_db, Scale::One, Db::new).unwrap_or(defaults::RECEIVER_NOISE),
            ping_interval: fact(self.ping_interval_ms, Scale::Milliseconds, Seconds::new)
                .unwrap_or(defaults::PING_INTERVAL),
            ping_jitter: fact(self.ping_jitter_percent, Scale::Percent, |share| share).unwrap_or(defaults::PING_JITTER),
            confirmation: Confirmation {
                marks: self.confirm_marks.unwrap_or(defaults::CONFIRMATION.marks),
                pings: self.confirm_pings.unwrap_or(defaults::CONFIRMATION.pings),
            },
        })
    }

    /// The greatest gain where it is not given: the end of the dial where that is known, or what is usual.
    fn dial_end(&self) -> crate::Fact<Db> {
        self.dial_points.last().map_or(defaults::MAX_GAIN, |point| crate::Fact::assumed(point.gain))
    }
}

/// What of a point is sound must not fall behind the point before it.
fn check_step(faults: &mut Faults, before: Option<&DialPoint>, position: Option<f64>, gain: Option<Db>) {
    let Some(last) = before else { return };
    if position.is_some_and(|position| position <= last.position) {
        let message = "position is not after the position before it; accepted: rising positions; sort the points";
        faults.add("position", FaultReason::Contradiction, message.to_owned());
    }
    if let Some(gain) = gain.filter(|gain| *gain < last.gain) {
        let message = format!(
            "gain_db is {}; accepted: not below the gain before it, which is {}; a dial turned up never lowers the gain",
            plain(gain.get()),
            plain(last.gain.get())
        );
        faults.add("gain_db", FaultReason::Contradiction, message);
    }
}

impl From<&Sensor> for SensorRecord {
    fn from(s: &Sensor) -> Self {
        Self {
            id: s.id.clone(),
            display_name: s.display_name.clone(),
            notes: s.notes.clone(),
            price: s.price.as_ref().map(|price| (price.units, price.nanos)),
            currency: s.price.as_ref().map_or_else(String::new, |price| price.currency.clone()),
            threshold_db: given(s.threshold, Scale::One, Level::get),
            max_gain_db: given(s.max_gain, Scale::One, Db::get),
            dial_scale: (!s.dial.points.is_empty()).then_some(s.dial.scale),
            dial_points: s.dial.points.clone(),
            receiver_noise_db: given(s.receiver_noise, Scale::One, Db::get),
            ping_interval_ms: given(s.ping_interval, Scale::Milliseconds, Seconds::get),
            ping_jitter_percent: given(s.ping_jitter, Scale::Percent, |share| share),
            confirm_marks: Some(s.confirmation.marks),
            confirm_pings: Some(s.confirmation.pings),
            options: s.options.iter().map(OptionRecord::from).collect(),
        }
    }
}

impl Sensor {
    /// Every fault of what is computed with, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        SensorRecord::from(self).check()
    }
}
