//! The binary, and a server of it that ends with the test.
#![allow(dead_code, clippy::unwrap_used, reason = "a test fixture: each test binary uses a part of it")]

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Output, Stdio};
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
    of_its_own(Command::new(env!("CARGO_BIN_EXE_lakebeam")), dir)
}

/// A command in that folder that inherits nothing of ours.
pub(crate) fn of_its_own(mut command: Command, dir: &Path) -> Command {
    command.current_dir(dir).env("NO_COLOR", "1");
    for variable in VARIABLES {
        command.env_remove(variable);
    }
    command
}

pub(crate) fn call(dir: &Path, arguments: &[&str]) -> Output {
    lakebeam(dir).args(arguments).output().unwrap()
}

pub(crate) fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Ends well, and gives what it printed.
pub(crate) fn said(dir: &Path, arguments: &[&str]) -> String {
    let output = call(dir, arguments);
    assert!(output.status.success(), "{arguments:?}: {}{}", text(&output.stdout), text(&output.stderr));
    text(&output.stdout)
}

/// Ends with an exit code, and gives what it complained of.
pub(crate) fn complained(dir: &Path, arguments: &[&str], code: i32) -> String {
    let output = call(dir, arguments);
    assert_eq!(output.status.code(), Some(code), "{arguments:?}: {}{}", text(&output.stdout), text(&output.stderr));
    text(&output.stdout) + &text(&output.stderr)
}

/// A server that ends with the test.
pub(crate) struct Server {
    child: Child,
    pub(crate) address: String,
}

impl Server {
    pub(crate) fn start(dir: &Path, flags: &[&str]) -> Self {
        let mut server = Self::launch(lakebeam(dir), flags);
        server.listens();
        server
    }

    /// Starts it with a command line of the test's own.
    pub(crate) fn start_as(command: &mut Command) -> Self {
        let mut server = Self { child: command.stdout(Stdio::piped()).spawn().unwrap(), address: String::new() };
        server.listens();
        server
    }

    /// Starts one, from a command that ends in the binary, without waiting for it.
    pub(crate) fn launch(mut binary: Command, flags: &[&str]) -> Self {
        binary.args(["serve", "--listen", "127.0.0.1:0", "--log", "warn"]).args(flags).stdout(Stdio::piped());
        Self { child: binary.spawn().unwrap(), address: String::new() }
    }

    /// Waits until it takes calls; says whether it ever did.
    pub(crate) fn listens(&mut self) -> bool {
        let mut line = String::new();
        BufReader::new(self.child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        line.trim().rsplit(' ').next().unwrap().clone_into(&mut self.address);
        !self.address.is_empty()
    }

    /// Its process.
    pub(crate) fn process(&self) -> u32 {
        self.child.id()
    }

    pub(crate) fn url(&self) -> String {
        format!("http://{}", self.address)
    }

    /// Asks it to stop and gives how long it took.
    pub(crate) fn terminate(&mut self) -> (Duration, ExitStatus) {
        let start = Instant::now();
        let sent = Command::new("kill").args(["-TERM", &self.child.id().to_string()]).status().unwrap();
        assert!(sent.success());
        (start.elapsed(), self.child.wait().unwrap())
    }

    /// Kills it where it stands.
    pub(crate) fn kill(&mut self) -> ExitStatus {
        self.child.kill().unwrap();
        self.child.wait().unwrap()
    }

    /// How it ended, if it has.
    pub(crate) fn ended(&mut self) -> Option<ExitStatus> {
        self.child.try_wait().unwrap()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
