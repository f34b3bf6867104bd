//! What is counted of the service for a collector: every instrument, made once.
//!
//! Names and units of calls and of the process are those of OpenTelemetry's semantic conventions; ours begin with `lakebeam.`. The crates
//! below know nothing of it: each tells an observer of its own.

use std::time::Duration;

use api::{CallEnd, CallObserver, Reason};
use opentelemetry::metrics::{Counter, Histogram, Meter, UpDownCounter};
use opentelemetry::{KeyValue, StringValue};
use runs::{ChunkEnd, Observer, RunEnd, RunEngine};
use tonic::Code;

/// Bounds of durations that the conventions advise, s.
const OF_CALLS: [f64; 14] = [0.005, 0.01, 0.025, 0.05, 0.075, 0.1, 0.25, 0.5, 0.75, 1.0, 2.5, 5.0, 7.5, 10.0];
/// Bounds of durations from a commit on a fast disk to a report of a hundred pages, s.
const OF_WORK: [f64; 15] = [0.000_1, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 60.0];
/// Reasons of refusals by a limit.
const OF_LIMITS: [Reason; 4] = [Reason::Overloaded, Reason::RunTooLarge, Reason::UploadTooLarge, Reason::StreamIdle];
/// What the conventions put in the place of a method that there is not, so that no caller can make series at will.
const NO_METHOD: &str = "_OTHER";

/// The instruments.
pub(crate) struct Metrics {
    meter: Meter,
    calls: Histogram<f64>,
    calls_in_hand: UpDownCounter<i64>,
    refused: Counter<u64>,
    findings: Counter<u64>,
    computing: Histogram<f64>,
    storing: Histogram<f64>,
    runs: Counter<u64>,
    waiting: Histogram<f64>,
    renders: Histogram<f64>,
    writers: Histogram<f64>,
}

impl Metrics {
    /// Every instrument that is told of something. Those that are asked follow with [`Metrics::ask`].
    pub(crate) fn new(meter: Meter) -> Self {
        let duration = |name: &'static str, bounds: &[f64], description: &'static str| {
            meter
                .f64_histogram(name)
                .with_unit("s")
                .with_description(description)
                .with_boundaries(bounds.to_vec())
                .build()
        };
        let count = |name: &'static str, unit: &'static str, description: &'static str| {
            meter.u64_counter(name).with_unit(unit).with_description(description).build()
        };
        Self {
            calls: duration(
                "rpc.server.call.duration",
                &OF_CALLS,
                "Calls by method and status, to the end of their answer",
            ),
            calls_in_hand: meter
                .i64_up_down_counter("lakebeam.calls.active")
                .with_unit("{call}")
                .with_description("Calls in hand")
                .build(),
            refused: count("lakebeam.calls.refused", "{call}", "Calls that a limit refused, by its reason"),
            findings: count("lakebeam.run.findings", "{finding}", "Findings that runs computed and stored"),
            computing: duration("lakebeam.chunk.compute.duration", &OF_WORK, "Time of a chunk on the compute threads"),
            storing: duration("lakebeam.chunk.store.duration", &OF_WORK, "Time until a chunk was committed"),
            runs: count("lakebeam.runs.ended", "{run}", "Runs that ended, by state"),
            waiting: duration("lakebeam.run.wait.duration", &OF_WORK, "Time until it was a run's turn"),
            renders: duration("lakebeam.report.render.duration", &OF_WORK, "Reports that were typeset, by template"),
            writers: duration(
                "lakebeam.store.writer.wait.duration",
                &OF_WORK,
                "Time until a write to the database could begin",
            ),
            meter,
        }
    }

    /// What is asked for whenever figures are sent: what the engine has in hand, and memory.
    pub(crate) fn ask(&self, engine: &RunEngine) {
        let gauge =
            |name: &'static str, unit: &'static str, description: &'static str, figure: fn(runs::Load) -> usize| {
                let engine = engine.clone();
                // The meter keeps it as long as it lives.
                let _ = self
                    .meter
                    .u64_observable_gauge(name)
                    .with_unit(unit)
                    .with_description(description)
                    .with_callback(move |gauge| {
                        gauge.observe(u64::try_from(figure(engine.load())).unwrap_or(u64::MAX), &[])
                    })
                    .build();
            };
        gauge("lakebeam.runs.active", "{run}", "Runs that are worked on", |load| load.active_runs);
        gauge("lakebeam.runs.waiting", "{run}", "Runs that wait for their turn", |load| load.waiting_runs);
        gauge("lakebeam.computations.active", "{computation}", "Computations in hand besides runs", |load| {
            load.computations
        });
        let _ = self
            .meter
            .i64_observable_up_down_counter("process.memory.usage")
            .with_unit("By")
            .with_description("Memory of the process that is in RAM")
            .with_callback(|counter| {
                if let Some(bytes) = resident_bytes() {
                    counter.observe(bytes, &[]);
                }
            })
            .build();
    }

    /// A report was typeset, or its template was found at fault.
    pub(crate) fn rendered(&self, template: &str, took: Duration, fault: Option<&'static str>) {
        let mut attributes = vec![KeyValue::new("template", template.to_owned())];
        attributes.extend(fault.map(|fault| KeyValue::new("error.type", fault)));
        self.renders.record(took.as_secs_f64(), &attributes);
    }

    /// A write waited for its turn.
    pub(crate) fn writer_waited(&self, time: Duration) {
        self.writers.record(time.as_secs_f64(), &[]);
    }
}

impl CallObserver for Metrics {
    fn began(&self) {
        self.calls_in_hand.add(1, &[]);
    }

    fn ended(&self, call: &CallEnd<'_>) {
        self.calls_in_hand.add(-1, &[]);
        let method = method(call.path);
        if OF_LIMITS.iter().any(|reason| reason.as_str() == call.reason) {
            let attributes =
                [KeyValue::new("rpc.method", method.clone()), KeyValue::new("reason", call.reason.to_owned())];
            self.refused.add(1, &attributes);
        }
        let status = status(call.code);
        let mut attributes = vec![
            KeyValue::new("rpc.system.name", "grpc"),
            KeyValue::new("rpc.method", method),
            KeyValue::new("rpc.response.status_code", status),
        ];
        if is_fault(call.code) {
            attributes.push(KeyValue::new("error.type", status));
        }
        self.calls.record(call.took.as_secs_f64(), &attributes);
    }
}

impl Observer for Metrics {
    fn chunk(&self, chunk: &ChunkEnd) {
        self.findings.add(chunk.findings, &[]);
        self.computing.record(chunk.computing.as_secs_f64(), &[]);
        self.storing.record(chunk.storing.as_secs_f64(), &[]);
    }

    fn run(&self, run: &RunEnd) {
        self.runs.add(1, &[KeyValue::new("state", format!("{:?}", run.state).to_uppercase())]);
        self.waiting.record(run.waiting.as_secs_f64(), &[]);
    }
}

/// The method of a path, in the form of the conventions.
fn method(path: &str) -> StringValue {
    match api::least_role(path) {
        Some(_) => path.trim_start_matches('/').to_owned().into(),
        None => NO_METHOD.into(),
    }
}

/// A status code as the protocol spells it.
const fn status(code: Code) -> &'static str {
    match code {
        Code::Ok => "OK",
        Code::Cancelled => "CANCELLED",
        Code::Unknown => "UNKNOWN",
        Code::InvalidArgument => "INVALID_ARGUMENT",
        Code::DeadlineExceeded => "DEADLINE_EXCEEDED",
        Code::NotFound => "NOT_FOUND",
        Code::AlreadyExists => "ALREADY_EXISTS",
        Code::PermissionDenied => "PERMISSION_DENIED",
        Code::ResourceExhausted => "RESOURCE_EXHAUSTED",
        Code::FailedPrecondition => "FAILED_PRECONDITION",
        Code::Aborted => "ABORTED",
        Code::OutOfRange => "OUT_OF_RANGE",
        Code::Unimplemented => "UNIMPLEMENTED",
        Code::Internal => "INTERNAL",
        Code::Unavailable => "UNAVAILABLE",
        Code::DataLoss => "DATA_LOSS",
        Code::Unauthenticated => "UNAUTHENTICATED",
    }
}

/// Codes that the conventions count as errors of the service, and not of its caller.
const fn is_fault(code: Code) -> bool {
    matches!(
        code,
        Code::Unknown
            | Code::DeadlineExceeded
            | Code::Unimplemented
            | Code::Internal
            | Code::Unavailable
            | Code::DataLoss
    )
}

/// Memory of this process that is in RAM; none where the system does not tell.
fn resident_bytes() -> Option<i64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    resident(&status)
}

fn resident(status: &str) -> Option<i64> {
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"))?;
    let kib: i64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    kib.checked_mul(1024)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn memory_is_read_as_the_system_writes_it() {
        let status = "Name:\tlakebeam\nVmPeak:\t  999999 kB\nVmRSS:\t   12345 kB\nThreads:\t7\n";
        assert_eq!(resident(status), Some(12_345 * 1024));
        assert_eq!(resident("Name:\tlakebeam\n"), None);
        assert!(resident_bytes().is_none_or(|bytes| bytes > 1_000_000));
    }

    #[test]
    fn a_method_that_there_is_not_makes_no_series_of_its_own() {
        assert_eq!(method("/lakebeam.v1.CatalogService/GetSpot").as_str(), "lakebeam.v1.CatalogService/GetSpot");
        assert_eq!(method("/grpc.health.v1.Health/Check").as_str(), "grpc.health.v1.Health/Check");
        for path in ["/lakebeam.v1.CatalogService/Nothing", "/x", "", "/a/b?1"] {
            assert_eq!(method(path).as_str(), NO_METHOD, "{path}");
        }
    }
}
