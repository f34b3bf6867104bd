//! A time of load, and what came of it.

use std::fmt;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::mix::{Caller, Known, METHODS};
use crate::service::{Growth, Memory, Service};
use crate::tally::Tally;

/// How much load, and how long.
pub(crate) struct Load {
    pub(crate) callers: usize,
    pub(crate) time: Duration,
    /// Callers besides that start one run after the other.
    pub(crate) runners: usize,
}

/// What came of it.
pub(crate) struct Outcome {
    tally: Arc<Tally>,
    pub(crate) growth: Growth,
    callers: usize,
    took: Duration,
    /// Whether it went on long enough to expect every method of every caller.
    whole: bool,
}

impl Load {
    /// Puts it on a service with an empty database.
    pub(crate) async fn put_on(&self, service: &Service, demo: &Path) -> Outcome {
        let known = Arc::new(Known::prepare(service.connect().await, demo).await);
        let tally = Arc::new(Tally::default());
        let over = Arc::new(AtomicBool::new(false));
        let memory =
            Memory::watch(service.process(), Duration::from_millis(if self.time.as_secs() < 30 { 100 } else { 1_000 }));
        let began = Instant::now();
        let mut tasks = Vec::new();
        for number in 0..self.callers + self.runners {
            let caller = Caller::new(service, number, Arc::clone(&known), Arc::clone(&tally)).await;
            let (over, runs) = (Arc::clone(&over), number >= self.callers);
            tasks.push(tokio::spawn(async move {
                let mut caller = caller;
                while !over.load(Ordering::Relaxed) {
                    if runs { caller.run_to_the_end().await } else { caller.next().await }
                }
            }));
        }
        tokio::time::sleep(self.time).await;
        over.store(true, Ordering::Relaxed);
        for task in tasks {
            // What is in hand may take as long as a report in a debug build.
            match tokio::time::timeout(Duration::from_secs(120), task).await {
                Ok(Ok(())) => {}
                Ok(Err(panicked)) => tally.fault(format!("a caller panicked: {panicked}")),
                Err(_) => tally.fault("a call was not answered within two minutes".to_owned()),
            }
        }
        let whole = self.time >= Duration::from_secs(30);
        Outcome { tally, growth: memory.end(), callers: self.callers, took: began.elapsed(), whole }
    }
}

impl Outcome {
    /// What must not be: undocumented errors, memory that grew, methods that were never answered.
    pub(crate) fn faults(&self) -> Vec<String> {
        let mut faults = self.tally.faults();
        if !self.growth.is_flat() {
            faults.push(format!("memory grew: {:?}", self.growth));
        }
        let missing = METHODS.iter().filter(|method| self.whole && self.tally.answered(method) == 0);
        faults.extend(missing.map(|method| format!("{method} was never answered")));
        faults
    }

    /// What was counted.
    pub(crate) fn tally(&self) -> &Tally {
        &self.tally
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (answered, _) = self.tally.sums();
        let Growth { first_kib, last_kib, most_kib, samples } = self.growth;
        writeln!(f, "{}", self.tally.table())?;
        writeln!(
            f,
            "{} callers, {:.1} s, {:.0} answers a second",
            self.callers,
            self.took.as_secs_f64(),
            answered as f64 / self.took.as_secs_f64()
        )?;
        write!(
            f,
            "memory, medians of the first and of the last third: {} and {} MiB; most {} MiB; {samples} samples",
            first_kib / 1024,
            last_kib / 1024,
            most_kib / 1024
        )
    }
}
