//! The binary, and a server of it that ends with the test.
#![allow(dead_code, clippy::unwrap_used, reason = "a test fixture: each test binary uses a part of it")]

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// What a test must not inherit from whoever runs it.
const VARIABLES: [&str; 7] = [
    "LAKEBEAM_SERVER",
    "LAKEBEAM_DATABASE",
    "LAKEBEAM_TOKEN",
    "LAKEBEAM_TOKEN_FILE",
    "LAKEBEAM_SERVER_CA",
    "LAKEBEAM_CLIENT_CERTIFICATE",
    "LAKEBEAM_CLIENT_KEY",
];

pub(crate) fn lakebeam(dir: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lakebeam"));
    command.current_dir(dir).env("NO_COLOR", "1");
    for variable in VARIABLES {
        command.env_remove(variable);
    }
    command
}

/// A server that ends with the test.
pub(crate) struct Server {
    child: Child,
    pub(crate) address: String,
}

impl Server {
    pub(crate) fn start(dir: &Path, flags: &[&str]) -> Self {
        Self::start_as(lakebeam(dir).args(["serve", "--listen", "127.0.0.1:0", "--log", "warn"]).args(flags))
    }

    /// Starts it with a command line of the test's own.
    pub(crate) fn start_as(command: &mut Command) -> Self {
        let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.trim().rsplit(' ').next().unwrap().to_owned();
        Self { child, address }
    }

    /// Asks it to stop and gives how long it took.
    pub(crate) fn terminate(&mut self) -> (Duration, std::process::ExitStatus) {
        let start = Instant::now();
        let sent = Command::new("kill").args(["-TERM", &self.child.id().to_string()]).status().unwrap();
        assert!(sent.success());
        (start.elapsed(), self.child.wait().unwrap())
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
