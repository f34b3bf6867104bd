//! What came of the calls: how many, how long, which errors; and the rule by which they are judged.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Mutex;
use std::time::Duration;

use tonic::{Code, Status};
use tonic_types::StatusExt as _;

/// What a caller has to take of a call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Takes {
    /// An answer, or the documented overload.
    Answers,
    /// Also that its own deadline passed.
    ItsDeadline,
}

/// How a call ended.
pub(crate) enum End {
    Answered,
    /// Refused for overload, with the time after which to try again.
    Overloaded(Duration),
    /// Refused for anything else.
    Refused,
}

#[derive(Default)]
struct Figures {
    micros: Vec<u64>,
    overloaded: usize,
    late: usize,
    /// Calls that their caller dropped.
    left: usize,
    undocumented: usize,
}

/// All calls so far.
#[derive(Default)]
pub(crate) struct Tally {
    methods: Mutex<BTreeMap<&'static str, Figures>>,
    faults: Mutex<Vec<String>>,
}

impl Tally {
    fn of(&self, method: &'static str, change: impl FnOnce(&mut Figures)) {
        change(self.methods.lock().unwrap().entry(method).or_default());
    }

    /// Notes a call that was answered or refused.
    pub(crate) fn ended(&self, method: &'static str, took: Duration, takes: Takes, status: Option<&Status>) -> End {
        let Some(status) = status else {
            self.of(method, |figures| figures.micros.push(u64::try_from(took.as_micros()).unwrap_or(u64::MAX)));
            return End::Answered;
        };
        if let Some(again) = overload(status) {
            self.of(method, |figures| figures.overloaded += 1);
            return End::Overloaded(again);
        }
        // The library of the caller keeps the deadline as well, and calls it a cancellation.
        if takes == Takes::ItsDeadline && matches!(status.code(), Code::DeadlineExceeded | Code::Cancelled) {
            self.of(method, |figures| figures.late += 1);
            return End::Refused;
        }
        self.of(method, |figures| figures.undocumented += 1);
        let details = status.get_error_details();
        let reason = details.error_info().map(|info| info.reason.clone()).unwrap_or_default();
        self.fault(format!("{method}: {:?} {reason} {}", status.code(), status.message()));
        End::Refused
    }

    /// Notes a call that its caller dropped before the end.
    pub(crate) fn left(&self, method: &'static str) {
        self.of(method, |figures| figures.left += 1);
    }

    /// Notes what must not be.
    pub(crate) fn fault(&self, fault: String) {
        self.faults.lock().unwrap().push(fault);
    }

    /// What must not be and was.
    pub(crate) fn faults(&self) -> Vec<String> {
        self.faults.lock().unwrap().clone()
    }

    /// How many calls of a method were answered.
    pub(crate) fn answered(&self, method: &str) -> usize {
        self.methods.lock().unwrap().get(method).map_or(0, |figures| figures.micros.len())
    }

    /// The methods that were called.
    pub(crate) fn methods(&self) -> Vec<&'static str> {
        self.methods.lock().unwrap().keys().copied().collect()
    }

    /// All calls that were answered, and those that were refused for overload.
    pub(crate) fn sums(&self) -> (usize, usize) {
        let methods = self.methods.lock().unwrap();
        (methods.values().map(|f| f.micros.len()).sum(), methods.values().map(|f| f.overloaded).sum())
    }

    /// A line a method, and one of all.
    pub(crate) fn table(&self) -> String {
        let mut methods = self.methods.lock().unwrap();
        let mut lines = format!(
            "{:<44} {:>8} {:>6} {:>6} {:>6} {:>6} {:>9} {:>9} {:>9}\n",
            "method", "answered", "over", "late", "left", "other", "p50 ms", "p99 ms", "most ms"
        );
        let mut all: Vec<u64> = Vec::new();
        for (method, figures) in methods.iter_mut() {
            figures.micros.sort_unstable();
            all.extend(&figures.micros);
            let _ = writeln!(
                lines,
                "{method:<44} {:>8} {:>6} {:>6} {:>6} {:>6} {:>9} {:>9} {:>9}",
                figures.micros.len(),
                figures.overloaded,
                figures.late,
                figures.left,
                figures.undocumented,
                ms(quantile(&figures.micros, 50)),
                ms(quantile(&figures.micros, 99)),
                ms(quantile(&figures.micros, 100)),
            );
        }
        all.sort_unstable();
        let sum = |of: fn(&Figures) -> usize| methods.values().map(of).sum::<usize>();
        let _ = write!(
            lines,
            "{:<44} {:>8} {:>6} {:>6} {:>6} {:>6} {:>9} {:>9} {:>9}",
            "all",
            all.len(),
            sum(|f| f.overloaded),
            sum(|f| f.late),
            sum(|f| f.left),
            sum(|f| f.undocumented),
            ms(quantile(&all, 50)),
            ms(quantile(&all, 99)),
            ms(quantile(&all, 100)),
        );
        lines
    }
}

/// When to try again, if a refusal is the documented one for overload: its code, its reason, and that time.
fn overload(status: &Status) -> Option<Duration> {
    let details = status.get_error_details();
    let overloaded = details.error_info().is_some_and(|info| info.reason == "OVERLOADED" && info.domain == "lakebeam");
    let again = details.retry_info().and_then(|retry| retry.retry_delay).filter(|again| !again.is_zero());
    again.filter(|_| overloaded && matches!(status.code(), Code::ResourceExhausted | Code::Unavailable))
}

/// The least value that so many per cent of the sorted ones do not exceed.
fn quantile(sorted: &[u64], percent: usize) -> u64 {
    let rank = (sorted.len() * percent).div_ceil(100).max(1);
    sorted.get(rank - 1).copied().unwrap_or(0)
}

fn ms(micros: u64) -> String {
    format!("{}.{:02}", micros / 1_000, micros % 1_000 / 10)
}
