//! A caller in another language that knows the service by reflection alone: `tests/interop/client.py`, with the Python packages
//! grpcio and grpcio-reflection. It shares no code with this workspace, so what it can do, other callers can.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic)]

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

/// What of Python is missing; none when the client can run.
fn missing() -> Option<String> {
    let asked = Command::new("python3").args(["-c", "import grpc, grpc_reflection"]).stdin(Stdio::null()).output();
    match asked {
        Ok(output) if output.status.success() => None,
        Ok(output) => {
            let told = String::from_utf8_lossy(&output.stderr);
            Some(told.lines().last().unwrap_or("python3 failed").to_owned())
        }
        Err(error) => Some(format!("python3: {error}")),
    }
}

#[test]
fn a_caller_from_another_language_does_the_whole_job_by_reflection_alone() {
    if let Some(missing) = missing() {
        let line =
            format!("skipped: the caller in Python ({missing}); pip install grpcio grpcio-reflection, and run again");
        assert!(std::env::var_os("LAKEBEAM_REQUIRE_PYTHON").is_none(), "{line}");
        // Past the capture of the test harness, so that it is read.
        writeln!(std::io::stderr(), "{line}").unwrap();
        return;
    }
    let client = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/interop/client.py");
    let output = Command::new("python3").arg(client).arg(env!("CARGO_BIN_EXE_lakebeam")).output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout);
    let sum = told.lines().last().unwrap_or_default();
    assert!(
        output.status.success() && sum.ends_with(" passed, 0 failed") && !sum.starts_with("0 "),
        "{told}{}",
        String::from_utf8_lossy(&output.stderr)
    );
}
