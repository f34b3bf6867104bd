//! Gain dials: positions to decibels and back, as people read and write them.
//!
//! Positions of a clock face are minutes past the dial's own twelve o'clock, running on past noon: a dial from 7:00 up
//! over 12:00 to 5:00 has positions 420 to 1020. A position before the one preceding it is therefore a turn later.

use crate::{DialScale, GainDial};
use acoustics::units::Db;

/// Minutes of one turn of a clock face.
const TURN: f64 = 720.0;
/// How finely a clock dial is read aloud, minutes: a twelfth of an hour is the finest that a hand can set.
const CLOCK_READING: f64 = 5.0;

/// A position on a dial that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{given}' is not a position on this dial; accepted: {accepted}; write it as the dial shows it")]
pub struct DialError {
    /// What was given, cut to 40 characters.
    pub given: String,
    /// The accepted form.
    pub accepted: &'static str,
}

/// Which way a reading is rounded to what a hand can set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounding {
    /// To the nearest mark.
    Nearest,
    /// To the next mark up: at least this gain.
    Up,
    /// To the next mark down: at most this gain.
    Down,
}

impl GainDial {
    /// Gain at a position, linear between the marked ones; none outside of the dial.
    #[must_use]
    pub fn gain_at(&self, position: f64) -> Option<Db> {
        let last = self.points.last()?;
        if position == last.position {
            return Some(last.gain);
        }
        self.points.windows(2).find_map(|pair| match pair {
            [a, b] if (a.position..b.position).contains(&position) => {
                let share = (position - a.position) / (b.position - a.position);
                Some(a.gain + (b.gain - a.gain) * share)
            }
            _ => None,
        })
    }

    /// The least position with that gain; none where the dial does not reach it.
    #[must_use]
    pub fn position_of(&self, gain: Db) -> Option<f64> {
        let first = self.points.first()?;
        if gain == first.gain {
            return Some(first.position);
        }
        self.points.windows(2).find_map(|pair| match pair {
            [a, b] if a.gain < gain && gain <= b.gain => {
                Some(a.position + (b.position - a.position) * ((gain - a.gain) / (b.gain - a.gain)))
            }
            _ => None,
        })
    }

    /// The reading nearest to that gain, such as `10:30`, `40 %` or `step 12`; none where the dial does not reach it.
    #[must_use]
    pub fn dial_reading(&self, gain: Db) -> Option<String> {
        self.reading(gain, Rounding::Nearest)
    }

    /// The reading for that gain, rounded to what a hand can set; none where the dial does not reach it.
    #[must_use]
    pub fn reading(&self, gain: Db, rounding: Rounding) -> Option<String> {
        self.rounded_position(gain, rounding).map(|position| self.scale.format(position))
    }

    /// The position for that gain, rounded to what a hand can set; none where the dial does not reach it.
    pub fn rounded_position(&self, gain: Db, rounding: Rounding) -> Option<f64> {
        let mark = self.scale.mark();
        let (first, last) = (self.points.first()?.position, self.points.last()?.position);
        let marks = self.position_of(gain)? / mark;
        // A position on a mark may come out a rounding error beside it.
        let near = libm::round(marks);
        let on_mark = (marks - near).abs() < 1.0e-6;
        let rounded = match rounding {
            Rounding::Nearest => near,
            _ if on_mark => near,
            Rounding::Up => libm::ceil(marks),
            Rounding::Down => libm::floor(marks),
        };
        Some((rounded * mark).clamp(first, last))
    }
}

impl DialScale {
    /// The finest that a hand can set.
    #[must_use]
    pub const fn mark(self) -> f64 {
        match self {
            Self::ClockHour => CLOCK_READING,
            Self::Percent | Self::Step => 1.0,
        }
    }

    /// A position as it is read aloud: `10:30`, `40 %`, `step 12`.
    #[must_use]
    pub fn format(self, position: f64) -> String {
        match self {
            Self::ClockHour => self.write(position),
            Self::Percent => format!("{} %", crate::check::plain(position)),
            Self::Step => format!("step {}", crate::check::plain(position)),
        }
    }

    /// A position as it is written in a record, which reads back to it: `10:30` (whole minutes), `40`, `12`.
    #[must_use]
    pub fn write(self, position: f64) -> String {
        match self {
            Self::ClockHour => {
                let minutes = libm::fmod(libm::round(position), TURN);
                let hour = libm::floor(minutes / 60.0);
                let shown = if hour == 0.0 { 12.0 } else { hour };
                format!("{shown:.0}:{:02.0}", minutes - 60.0 * hour)
            }
            // Every digit, and never an exponent, which a dial does not show.
            Self::Percent | Self::Step => position.to_string(),
        }
    }

    /// Reads the positions of a dial in their order. On a clock face each one lies after the one before it, so `7:00`,
    /// `12:00`, `5:00` read as 420, 720 and 1020. The refused positions come back with their index.
    pub fn parse_all(self, texts: &[&str]) -> Result<Vec<f64>, Vec<(usize, DialError)>> {
        let mut positions = Vec::with_capacity(texts.len());
        let mut refused = Vec::new();
        for (index, text) in texts.iter().enumerate() {
            match self.parse(text, positions.last().copied()) {
                Ok(position) => positions.push(position),
                Err(error) => refused.push((index, error)),
            }
        }
        if refused.is_empty() { Ok(positions) } else { Err(refused) }
    }

    /// Reads one position; `after` is the one before it on the dial.
    pub fn parse(self, text: &str, after: Option<f64>) -> Result<f64, DialError> {
        let refused = |accepted| DialError { given: text.chars().take(40).collect(), accepted };
        let trimmed = text.trim();
        match self {
            Self::ClockHour => {
                let minutes =
                    clock_minutes(trimmed).ok_or_else(|| refused("hours and minutes such as 9:30, 1:00 to 12:59"))?;
                Ok(unwrap_turn(minutes, after))
            }
            Self::Percent => {
                number(trimmed.trim_end_matches('%').trim_end(), 100.0).ok_or_else(|| refused("a number from 0 to 100"))
            }
            Self::Step => {
                let digits = trimmed.strip_prefix("step").map_or(trimmed, str::trim_start);
                number(digits, 1_000.0).ok_or_else(|| refused("a number from 0 to 1000"))
            }
        }
    }
}

/// Moves a clock position to the first one not before `after`.
fn unwrap_turn(minutes: f64, after: Option<f64>) -> f64 {
    match after {
        // Equal positions stay equal, so that a repeated one is refused as not rising instead of read as a full turn.
        Some(after) if minutes < after => {
            let turned = minutes + TURN * libm::floor(after / TURN);
            if turned < after { turned + TURN } else { turned }
        }
        _ => minutes,
    }
}

/// `9:30` or `9` as minutes past twelve.
fn clock_minutes(text: &str) -> Option<f64> {
    let (hour, minute) = text.split_once(':').unwrap_or((text, "00"));
    let digits = |part: &str, most: usize| (1..=most).contains(&part.len()) && part.chars().all(|c| c.is_ascii_digit());
    if !digits(hour, 2) || !digits(minute, 2) || minute.len() != 2 {
        return None;
    }
    let (hour, minute): (u32, u32) = (hour.parse().ok()?, minute.parse().ok()?);
    ((1..=12).contains(&hour) && minute < 60).then(|| f64::from((hour % 12) * 60 + minute))
}

fn number(text: &str, most: f64) -> Option<f64> {
    // `parse` would also take "inf", "nan" and "1e3"; a dial shows none of these.
    let plain = !text.is_empty() && text.chars().all(|c| c.is_ascii_digit() || c == '.');
    let value: f64 = if plain { text.parse().ok()? } else { return None };
    (0.0..=most).contains(&value).then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::DialPoint;
    use proptest::prelude::*;

    fn clock() -> GainDial {
        let points = [(420.0, 0.0), (720.0, 40.0), (1_020.0, 70.0)];
        GainDial {
            scale: DialScale::ClockHour,
            points: points.map(|(position, gain)| DialPoint { position, gain: Db::new(gain) }).to_vec(),
        }
    }

    #[test]
    fn clock_positions_run_clockwise_from_the_first() {
        let positions = DialScale::ClockHour.parse_all(&["7:00", "9:30", "12:00", "12:30", "5:00"]);
        assert_eq!(positions, Ok(vec![420.0, 570.0, 720.0, 750.0, 1_020.0]));
    }

    #[test]
    fn a_repeated_clock_position_is_not_a_full_turn() {
        assert_eq!(DialScale::ClockHour.parse_all(&["7:00", "7:00"]), Ok(vec![420.0, 420.0]));
        assert_eq!(DialScale::ClockHour.parse_all(&["7:00", "1:00", "1:00"]), Ok(vec![420.0, 780.0, 780.0]));
    }

    #[test]
    fn gains_read_as_people_say_them() {
        let dial = clock();
        for (gain, reading) in [(0.0, "7:00"), (28.0, "10:30"), (40.0, "12:00"), (43.0, "12:30"), (70.0, "5:00")] {
            assert_eq!(dial.dial_reading(Db::new(gain)).as_deref(), Some(reading));
        }
        assert_eq!(dial.dial_reading(Db::new(70.1)), None);
        assert_eq!(dial.dial_reading(Db::new(-0.1)), None);
        assert_eq!(dial.reading(Db::new(28.1), Rounding::Up).as_deref(), Some("10:35"));
        assert_eq!(dial.reading(Db::new(28.5), Rounding::Down).as_deref(), Some("10:30"));
        assert_eq!(DialScale::Percent.format(40.0), "40 %");
        assert_eq!(DialScale::Step.format(12.0), "step 12");
    }

    #[test]
    fn positions_that_no_dial_shows_are_refused() {
        for text in ["", "13:00", "0:30", "9:60", "9:3", "-1", "9.30", "nan", "९:३०", "7:00 pm"] {
            assert!(DialScale::ClockHour.parse(text, None).is_err(), "{text}");
        }
        for text in ["", "101", "-1", "inf", "1e1", "forty"] {
            assert!(DialScale::Percent.parse(text, None).is_err(), "{text}");
        }
        assert_eq!(DialScale::Percent.parse("40 %", None), Ok(40.0));
        assert_eq!(DialScale::Step.parse("step 12", None), Ok(12.0));
    }

    proptest! {
        #[test]
        fn position_and_gain_are_inverse(gain in 0.0..=70.0_f64) {
            let dial = clock();
            let back = dial.gain_at(dial.position_of(Db::new(gain)).unwrap()).unwrap();
            prop_assert!((back.get() - gain).abs() < 1.0e-9);
        }

        #[test]
        fn written_clock_positions_read_back(minutes in 1_u32..1_440) {
            let position = f64::from(minutes);
            let text = DialScale::ClockHour.write(position);
            prop_assert_eq!(DialScale::ClockHour.parse(&text, Some(position)), Ok(position));
        }

        #[test]
        fn written_positions_of_any_fineness_read_back(position in 0.0..=100.0_f64, power in 0_i32..12) {
            for scale in [DialScale::Percent, DialScale::Step] {
                let fine = position / libm::pow(10.0, f64::from(power));
                prop_assert_eq!(scale.parse(&scale.write(fine), None), Ok(fine), "{}", scale.write(fine));
            }
        }

        #[test]
        fn more_gain_never_reads_lower(a in 0.0..=70.0_f64, b in 0.0..=70.0_f64) {
            let dial = clock();
            let (low, high) = (a.min(b), a.max(b));
            prop_assert!(dial.position_of(Db::new(low)).unwrap() <= dial.position_of(Db::new(high)).unwrap());
        }
    }
}
