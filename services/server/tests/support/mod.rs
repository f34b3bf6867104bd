//! The binary, and a server of it that ends with the test.
#![allow(dead_code, clippy::unwrap_used, reason = "a test fixture: each test binary uses a part of it")]

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

pub(crate) fn lakebeam(dir: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lakebeam"));
    command.current_dir(dir).env_remove("LAKEBEAM_SERVER").env_remove("LAKEBEAM_DATABASE").env("NO_COLOR", "1");
    command
}

/// A server that ends with the test.
pub(crate) struct Server {
    child: Child,
    pub(crate) address: String,
}

impl Server {
    pub(crate) fn start(dir: &Path, flags: &[&str]) -> Self {
        let mut child = lakebeam(dir)
            .args(["serve", "--listen", "127.0.0.1:0", "--log", "warn"])
            .args(flags)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
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
