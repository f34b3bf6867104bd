//! Checks of a sensor and its options.

use super::{Faults, above, plain, within};
use crate::sensor::{BeamOption, GainDial, Money, PatternKind, PatternPoint, Sensor, Source};
use crate::{DialScale, Fault, FaultReason};
use acoustics::units::Beamwidth;

/// Most options of one sensor.
const MAX_OPTIONS: usize = 16;
/// Fewest and most points of a dial.
const DIAL_POINTS: (usize, usize) = (2, 64);
/// Fewest and most points of a tabulated pattern.
const PATTERN_POINTS: (usize, usize) = (3, 361);
/// How far a tabulated pattern's first level may be from 0 dB and still count as the axis.
const AXIS_SLACK_DB: f64 = 1.0e-6;

impl Sensor {
    /// Every fault of this record, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.name("display_name", &self.display_name);
        faults.notes(&self.notes);
        if let Some(price) = &self.price {
            check_price(&mut faults, price);
        }
        self.check_receiver(&mut faults);
        check_dial(&mut faults, &self.dial, self.max_gain.value.get());
        if faults.count("options", self.options.len(), 1, MAX_OPTIONS, "describe each beam/frequency option once") {
            for (index, option) in self.options.iter().enumerate() {
                let at = format!("options[{index}]");
                faults.found.extend(option.check().into_iter().map(|fault| fault.under(&at)));
                if self.options.iter().take(index).any(|other| other.id == option.id) {
                    faults.add(
                        &format!("{at}.option_id"),
                        FaultReason::Duplicate,
                        format!(
                            "{at}.option_id '{}' is used twice; accepted: ids unique in the sensor; rename one",
                            option.id
                        ),
                    );
                }
            }
        }
        faults.found.into_vec()
    }

    fn check_receiver(&self, faults: &mut Faults) {
        faults.number(
            "threshold_db",
            self.threshold.value.get(),
            within(60.0, 240.0, "dB re 1 µPa"),
            "give the echo level that just makes a mark at zero gain",
        );
        faults.number(
            "max_gain_db",
            self.max_gain.value.get(),
            above(0.0, 140.0, "dB"),
            "give the greatest gain of the sensor",
        );
        faults.number(
            "receiver_noise_db",
            self.receiver_noise.value.get(),
            within(0.0, 60.0, "dB"),
            "give the receiver's noise over thermal noise, or leave it out for 6 dB",
        );
        faults.number(
            "ping_interval_ms",
            self.ping_interval.value.get() * 1.0e3,
            within(1.0, 10_000.0, "ms"),
            "give the time from ping to ping, or leave it out for 100 ms",
        );
        faults.number(
            "ping_jitter_percent",
            self.ping_jitter.value * 100.0,
            within(0.0, 50.0, "%"),
            "give the spread of the interval, or leave it out for a fixed interval",
        );
        let pings = self.confirmation.pings;
        faults.number(
            "confirm_pings",
            f64::from(pings),
            within(1.0, 10.0, ""),
            "say how many of the last pings are looked at",
        );
        faults.number(
            "confirm_marks",
            f64::from(self.confirmation.marks),
            within(1.0, f64::from(pings.clamp(1, 10)), ""),
            "say how many of those pings must agree, not more than confirm_pings",
        );
    }
}

impl BeamOption {
    /// Every fault of this option, with paths relative to it.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.short_text("display_name", &self.display_name);
        let frequency = self.frequency.value.to_khz();
        faults.number("frequency_khz", frequency, within(10.0, 2_000.0, "kHz"), "give the centre frequency");
        self.check_pattern(&mut faults);
        faults.number(
            "floor_db",
            self.floor.value.get(),
            within(-80.0, -10.0, "dB relative to the axis"),
            "give the side and back level, or leave it out for -40 dB",
        );
        self.check_source(&mut faults);
        let pulse = self.pulse_length.value.to_micros();
        faults.number("pulse_length_us", pulse, within(5.0, 10_000.0, "µs"), "give the pulse length");
        let bandwidth_limit = above(0.0, 2_000.0, "kHz");
        if let Some(sweep) = self.sweep_bandwidth {
            let khz = sweep.value.to_khz();
            if faults.number("sweep_bandwidth_khz", khz, bandwidth_limit, "leave it out for an unmodulated pulse") {
                check_band(&mut faults, "sweep_bandwidth_khz", khz, frequency);
            }
        }
        // A receiver may be wider than its carrier is high (a short pulse at a low frequency), so only the range is checked.
        faults.number(
            "receiver_bandwidth_khz",
            self.receiver_bandwidth.value.to_khz(),
            bandwidth_limit,
            "leave it out for the larger of 1/pulse length and the sweep",
        );
        faults.found.into_vec()
    }

    fn check_pattern(&self, faults: &mut Faults) {
        match &self.pattern {
            PatternKind::CircularPiston { beamwidth } => check_width(faults, "beamwidth_deg", beamwidth.value),
            PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => {
                check_width(faults, "beamwidth_deg", beamwidth.value);
                faults.number(
                    "peak_side_lobe_db",
                    peak_side_lobe.value.get(),
                    within(-40.0, -20.0, "dB relative to the axis"),
                    "give the peak side lobe; for a plain aperture use the circular piston",
                );
            }
            PatternKind::Rectangular { along, across } => {
                check_width(faults, "beamwidth_deg", along.value);
                check_width(faults, "cross_beamwidth_deg", across.value);
            }
            PatternKind::Tabulated { points, .. } => check_table(faults, points),
        }
    }

    fn check_source(&self, faults: &mut Faults) {
        match self.source {
            Source::Stated(level) => {
                faults.number(
                    "source_level_db",
                    level.value.get(),
                    within(120.0, 260.0, "dB re 1 µPa m"),
                    "give the source level on the axis, or electrical power and efficiency",
                );
            }
            Source::Power { electrical, efficiency } => {
                faults.number(
                    "electrical_power_w",
                    electrical.value.get(),
                    above(0.0, 10_000.0, "W"),
                    "give the rms power during the pulse; a peak-to-peak rating is eight times that",
                );
                faults.number(
                    "efficiency_percent",
                    efficiency.value * 100.0,
                    above(0.0, 100.0, "%"),
                    "give the electro-acoustic efficiency, or leave it out for 50 %",
                );
            }
        }
    }
}

/// A beamwidth and the level it is stated at.
fn check_width(faults: &mut Faults, field: &str, width: Beamwidth) {
    faults.number(
        field,
        width.full.to_degrees(),
        within(1.0, 180.0, "degrees"),
        "give the full angle from edge to edge",
    );
}

/// A sweep must leave a positive lowest frequency.
fn check_band(faults: &mut Faults, field: &str, khz: f64, centre: f64) {
    if centre.is_finite() && khz >= 2.0 * centre {
        faults.add(
            field,
            FaultReason::Contradiction,
            format!(
                "{field} is {}; accepted: less than twice frequency_khz, which is {}; check which of the two is wrong",
                plain(khz),
                plain(centre)
            ),
        );
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
        let angle_field = format!("pattern_points[{index}].angle_deg");
        let level_field = format!("pattern_points[{index}].level_db");
        let (angle, level) = (point.angle.to_degrees(), point.level.get());
        let angle_fine =
            faults.number(&angle_field, angle, within(0.0, 90.0, "degrees"), "give the angle from the axis");
        faults.number(
            &level_field,
            level,
            within(-200.0, 0.0, "dB relative to the axis"),
            "subtract the level on the axis",
        );
        if angle_fine && before.is_some_and(|last| angle <= last) {
            faults.add(
                &angle_field,
                FaultReason::Contradiction,
                format!(
                    "{angle_field} is {}; accepted: above the angle before it; sort the pairs and drop doubles",
                    plain(angle)
                ),
            );
        }
        if index == 0 {
            if angle_fine && angle != 0.0 {
                let given = plain(angle);
                faults.add(
                    &angle_field,
                    FaultReason::BadForm,
                    format!("{angle_field} is {given}; accepted: 0 for the first pair; add the pair on the axis"),
                );
            }
            if level.is_finite() && level <= 0.0 && level < -AXIS_SLACK_DB {
                let given = plain(level);
                faults.add(
                    &level_field,
                    FaultReason::BadForm,
                    format!("{level_field} is {given}; accepted: 0 on the axis; subtract the level on the axis from all pairs"),
                );
            }
        }
        before = if angle_fine { Some(angle) } else { before };
    }
    let pairs: Vec<_> = points.iter().map(|point| (point.angle, point.level)).collect();
    if faults.found.len() == known
        && let Err(error) = acoustics::pattern::check_table(&pairs)
    {
        let message = format!("pattern_points make no beam: {error}; correct the pairs, or measure a wider beam");
        faults.add("pattern_points", FaultReason::OutOfRange, message);
    }
}

/// The dial: enough points, rising positions, gains that never fall, inside the sensor's range.
fn check_dial(faults: &mut Faults, dial: &GainDial, max_gain: f64) {
    let (least, most) = DIAL_POINTS;
    if !faults.count("dial.points", dial.points.len(), least, most, "give marked positions with their gain") {
        return;
    }
    let (accepted, span) = match dial.scale {
        DialScale::ClockHour => (within(0.0, 1_440.0, "minutes on the clock face"), 720.0),
        DialScale::Percent => (within(0.0, 100.0, "%"), f64::INFINITY),
        DialScale::Step => (within(0.0, 1_000.0, "steps"), f64::INFINITY),
    };
    let first = dial.points.first().map_or(0.0, |point| point.position);
    let mut before: Option<(f64, f64)> = None;
    for (index, point) in dial.points.iter().enumerate() {
        let position_field = format!("dial.points[{index}].position");
        let gain_field = format!("dial.points[{index}].gain_db");
        let gain = point.gain.get();
        let position_fine =
            faults.number(&position_field, point.position, accepted, "give the position as it reads on the dial");
        let gain_fine =
            faults.number(&gain_field, gain, within(0.0, 140.0, "dB"), "give the gain over zero gain there");
        if gain_fine && max_gain.is_finite() && gain > max_gain + 1.0e-9 {
            faults.add(
                &gain_field,
                FaultReason::Contradiction,
                format!(
                    "{gain_field} is {}; accepted: not above max_gain_db, which is {}; check which of the two is wrong",
                    plain(gain),
                    plain(max_gain)
                ),
            );
        }
        if let Some((last_position, last_gain)) = before {
            if position_fine && point.position <= last_position {
                faults.add(
                    &position_field,
                    FaultReason::Contradiction,
                    format!("{position_field} is not after the position before it; accepted: rising positions; sort the points"),
                );
            }
            if gain_fine && gain < last_gain {
                faults.add(
                    &gain_field,
                    FaultReason::Contradiction,
                    format!(
                        "{gain_field} is {}; accepted: not below the gain before it, which is {}; a dial turned up never lowers the gain",
                        plain(gain),
                        plain(last_gain)
                    ),
                );
            }
        }
        if position_fine && point.position - first >= span {
            faults.add(
                &position_field,
                FaultReason::Contradiction,
                format!("{position_field} is a full turn or more past the first position; accepted: less than one turn; check the positions"),
            );
        }
        before = Some((point.position, gain)).filter(|_| position_fine && gain_fine).or(before);
    }
}

/// A price: ISO 4217 shape, not negative, whole and fractional part of one sign.
fn check_price(faults: &mut Faults, price: &Money) {
    let code = &price.currency;
    if code.len() != 3 || !code.chars().all(|c| c.is_ascii_uppercase()) {
        let given: String = code.chars().take(12).collect();
        faults.add(
            "price.currency_code",
            FaultReason::BadForm,
            format!(
                "price.currency_code is '{given}'; accepted: three capital letters of ISO 4217; use one such as EUR"
            ),
        );
    }
    if price.units < 0 {
        faults.add(
            "price.units",
            FaultReason::OutOfRange,
            format!("price.units is {}; accepted: 0 or more; leave the price out if it is not for sale", price.units),
        );
    }
    if !(-999_999_999..=999_999_999).contains(&price.nanos) {
        faults.add(
            "price.nanos",
            FaultReason::OutOfRange,
            format!("price.nanos is {}; accepted: 0 to 999999999; carry the rest into units", price.nanos),
        );
    } else if price.nanos < 0 {
        faults.add(
            "price.nanos",
            FaultReason::OutOfRange,
            format!("price.nanos is {}; accepted: 0 to 999999999, as a price is not negative; correct it", price.nanos),
        );
    }
}
