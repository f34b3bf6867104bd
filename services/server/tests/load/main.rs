//! Many callers at once, and badly behaved readers, on the real binary. The driver is that of `tests/examples/load`, for a shorter time.
#![allow(missing_docs, dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

#[path = "../../../../tests/examples/load/drive.rs"]
mod drive;
#[path = "../../../../tests/examples/load/mix/mod.rs"]
mod mix;
mod readers;
#[path = "../../../../tests/examples/load/service.rs"]
mod service;
#[path = "../../../../tests/examples/load/tally.rs"]
mod tally;

use std::path::{Path, PathBuf};
use std::time::Duration;

use drive::Load;
use service::Service;

/// Held by each test: what one measures, the other must not disturb.
static ALONE: tokio::sync::Mutex<()> = tokio::sync::Mutex::const_new(());

fn start(flags: &[&str]) -> Service {
    Service::start(Path::new(env!("CARGO_BIN_EXE_lakebeam")), flags, &[])
}

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog")
}

#[tokio::test(flavor = "multi_thread")]
async fn many_callers_of_everything_get_an_answer_or_the_documented_overload() {
    let _alone = ALONE.lock().await;
    let service = start(&[]);
    let load = Load { callers: 64, time: Duration::from_secs(8), runners: 2 };
    let outcome = load.put_on(&service, &demo()).await;
    assert!(outcome.faults().is_empty(), "{:#?}\n{outcome}", outcome.faults());
    let (answered, _) = outcome.tally().sums();
    // Each had at least one answer, and every service was among those who gave them.
    assert!(answered >= 64, "{outcome}");
    for service in ["Catalog", "Selection", "Rules", "Fleet", "Report", "Admin"] {
        let methods = outcome.tally().methods();
        let called = methods.iter().filter(|method| method.starts_with(&format!("{service}Service/")));
        assert!(called.map(|method| outcome.tally().answered(method)).sum::<usize>() > 0, "{service}: {outcome}");
    }
}
