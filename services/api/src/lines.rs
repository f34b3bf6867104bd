//! Lines of refusals in the log: so many a second, and one that counts the rest. Whoever is refused pays nothing for a line, and the disk does.

use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Most lines of refusals in a second.
const MOST: u32 = 50;
const SECOND: Duration = Duration::from_secs(1);

/// The lines of the second that goes on.
#[derive(Debug, Default)]
pub(crate) struct Lines(Mutex<Written>);

#[derive(Debug, Default)]
struct Written {
    since: Option<Instant>,
    lines: u32,
    left_out: u64,
}

/// Whether a refusal gets a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Line {
    /// It does, after so many that got none.
    Write { left_out: u64 },
    /// It is counted only.
    LeaveOut,
}

impl Lines {
    /// Asks for a line.
    pub(crate) fn ask(&self, now: Instant) -> Line {
        let mut written = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if written.since.is_none_or(|since| now.saturating_duration_since(since) >= SECOND) {
            written.since = Some(now);
            written.lines = 0;
        }
        if written.lines >= MOST {
            written.left_out += 1;
            return Line::LeaveOut;
        }
        written.lines += 1;
        Line::Write { left_out: std::mem::take(&mut written.left_out) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_has_so_many_lines_and_the_next_tells_of_the_rest() {
        let (lines, start) = (Lines::default(), Instant::now());
        let written = (0..1_000).filter(|_| lines.ask(start) == Line::Write { left_out: 0 }).count();
        assert_eq!(written, usize::try_from(MOST).unwrap());
        assert_eq!(lines.ask(start + SECOND), Line::Write { left_out: 950 });
        assert_eq!(lines.ask(start + SECOND), Line::Write { left_out: 0 });
    }
}
