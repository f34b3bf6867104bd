//! The time of day. A trait, because it is nondeterministic.

use std::time::{SystemTime, UNIX_EPOCH};

use jiff::Timestamp;

/// The first second that the protocol can name: the year 1 (google.protobuf.Timestamp).
const FIRST_SECOND: i64 = -62_135_596_800;
/// The last whole second of the calendar that stored times can be read back from, at the end of the year 9999.
const LAST_SECOND: i64 = 253_402_207_199;

/// Tells the time.
pub trait Clock: Send + Sync {
    /// Now, in the years 1 to 9999.
    fn now(&self) -> Timestamp;
}

/// The clock of the machine.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Timestamp {
        in_calendar(SystemTime::now())
    }
}

/// A clock beyond the calendar is set wrong; the nearest end of the calendar stands in for it.
fn in_calendar(now: SystemTime) -> Timestamp {
    let end = |second| Timestamp::from_second(second).unwrap_or(Timestamp::UNIX_EPOCH);
    let (first, last) = (end(FIRST_SECOND), end(LAST_SECOND));
    let beyond = if now < UNIX_EPOCH { first } else { last };
    Timestamp::try_from(now).map_or(beyond, |now| now.clamp(first, last))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn every_clock_is_in_the_calendar() {
        let seconds = |seconds: u64| Duration::from_secs(seconds);
        let (year_one, far) = (seconds(62_135_596_800), seconds(400_000_000_000));
        let (first, last) =
            (Timestamp::from_second(FIRST_SECOND).unwrap(), Timestamp::from_second(LAST_SECOND).unwrap());
        for (now, expected) in [
            (UNIX_EPOCH, Timestamp::UNIX_EPOCH),
            (UNIX_EPOCH - seconds(86_400), Timestamp::from_second(-86_400).unwrap()),
            (UNIX_EPOCH - year_one, first),
            (UNIX_EPOCH - year_one - seconds(1), first),
            (UNIX_EPOCH - far, first),
            (UNIX_EPOCH + far, last),
            (UNIX_EPOCH + seconds(253_402_207_200), last),
        ] {
            assert_eq!(in_calendar(now), expected, "{now:?}");
        }
        assert_eq!(first.to_string(), "0001-01-01T00:00:00Z");
        assert!(Timestamp::from_microsecond(last.as_microsecond()).is_ok());
    }
}
