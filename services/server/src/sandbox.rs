//! Templates of one's own are compiled in a process of their own: this same binary again, with limits on memory and time.
//!
//! A template is a program. One that loops, or that takes all memory there is, ends with its process and a sentence that says so, and the
//! service goes on. The child is given everything it needs through its standard input and answers on its standard output.

use std::ffi::OsString;
use std::io::{BufReader, Read, Write as _};
use std::path::PathBuf;
use std::process::{Child, Command, ExitCode, ExitStatus, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use reports::{Job, ReportError, Typeset};
use rustix::process::{Resource, Rlimit, setrlimit};

/// First argument of a child; no verb for people.
const VERB: &str = "typeset-job";
/// Largest answer of a child.
const MAX_ANSWER_BYTES: u64 = 256 * 1024 * 1024;
/// As much as is read of what a child complains about.
const MAX_COMPLAINT_BYTES: u64 = 64 * 1024;
/// Open files of a child: its three streams and a few to spare.
const MAX_FILES: u64 = 16;

/// What a compilation may take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Limits {
    pub(crate) memory_mib: u64,
    pub(crate) seconds: u64,
}

/// Does a job in a child.
pub(crate) fn run(job: &Job, limits: Limits) -> Result<Typeset, ReportError> {
    let failed = |e: std::io::Error| ReportError::Process(e.to_string());
    let mut child = spawn(limits).map_err(failed)?;
    let answer = converse(&mut child, job, limits);
    if answer.is_none() {
        child.kill().map_err(failed)?;
    }
    let status = child.wait().map_err(failed)?;
    let costly = |text: String| ReportError::Costly { template: job.template().to_owned(), text };
    let Some((answer, complaint)) = answer else { return Err(costly(too_long(limits))) };
    match Typeset::read(answer.as_slice()) {
        Ok(outcome) if status.success() => Ok(outcome),
        _ => Err(costly(why(status, &complaint, limits))),
    }
}

fn spawn(limits: Limits) -> std::io::Result<Child> {
    // The file that this process was started from, even where another has taken its place since.
    let linux = PathBuf::from("/proc/self/exe");
    let binary = if linux.exists() { linux } else { std::env::current_exe()? };
    Command::new(binary)
        .args([VERB, &limits.memory_mib.to_string(), &limits.seconds.to_string()])
        .env_clear()
        // Threads reserve address space, which counts against the limit.
        .env("RAYON_NUM_THREADS", "1")
        .current_dir("/")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
}

/// Hands the job over and waits for the answer and what the child complains about; none when time is up.
fn converse(child: &mut Child, job: &Job, limits: Limits) -> Option<(Vec<u8>, String)> {
    let (mut input, output, errors) = (child.stdin.take()?, child.stdout.take()?, child.stderr.take()?);
    let mut bytes = Vec::new();
    job.write(&mut bytes).ok()?;
    // A child that ends early does not read on, and what it answers tells why.
    std::thread::spawn(move || input.write_all(&bytes).is_ok());
    let (send_answer, answer) = mpsc::channel();
    let (send_complaint, complaint) = mpsc::channel();
    std::thread::spawn(move || send_answer.send(read(output, MAX_ANSWER_BYTES)).is_ok());
    std::thread::spawn(move || send_complaint.send(read(errors, MAX_COMPLAINT_BYTES)).is_ok());
    let answer = answer.recv_timeout(Duration::from_secs(limits.seconds)).ok()?;
    let complaint = complaint.recv_timeout(Duration::from_secs(1)).unwrap_or_default();
    Some((answer, String::from_utf8_lossy(&complaint).into_owned()))
}

fn read(from: impl Read, most: u64) -> Vec<u8> {
    let mut bytes = Vec::new();
    // What came before a fault is what there is; the outcome is checked as a whole.
    let _ = from.take(most).read_to_end(&mut bytes);
    bytes
}

fn too_long(limits: Limits) -> String {
    format!(
        "took longer than {} s and was stopped; look for a loop that does not end, or allow more with --template-seconds",
        limits.seconds
    )
}

/// Why a child ended without an answer.
fn why(status: ExitStatus, complaint: &str, limits: Limits) -> String {
    use std::os::unix::process::ExitStatusExt as _;
    let cpu_time = rustix::process::Signal::XCPU.as_raw();
    if status.signal() == Some(cpu_time) {
        return too_long(limits);
    }
    if complaint.contains("memory allocation of") || complaint.contains("capacity overflow") {
        return format!(
            "took more than {} MiB of memory and was stopped; look for something that grows without end, or allow more with \
             --template-memory-mib",
            limits.memory_mib
        );
    }
    if complaint.contains("overflowed its stack") {
        return "nests too deeply and was stopped; look for a function that calls itself without end".to_owned();
    }
    let last = complaint.lines().last().unwrap_or_default();
    format!("made the typesetter end early ({status}: {last}); take out what was added last, and try again")
}

/// The limits with which this process is to be a child; none where it is not to be one.
pub(crate) fn asked(mut arguments: impl Iterator<Item = OsString>) -> Option<Limits> {
    arguments.nth(1).filter(|verb| verb == VERB)?;
    let mut number = || arguments.next()?.to_str()?.parse().ok();
    Some(Limits { memory_mib: number()?, seconds: number()? })
}

/// The child: takes its limits upon itself, then does the job.
pub(crate) fn child(limits: Limits) -> ExitCode {
    match answer(limits) {
        Ok(()) => ExitCode::SUCCESS,
        Err(text) => {
            eprintln!("{text}");
            ExitCode::FAILURE
        }
    }
}

fn answer(limits: Limits) -> Result<(), String> {
    let bounds = [
        (Resource::As, limits.memory_mib.saturating_mul(1024 * 1024)),
        // Should the service be gone, nobody else would stop a loop.
        (Resource::Cpu, limits.seconds + 1),
        (Resource::Core, 0),
        (Resource::Fsize, 0),
        (Resource::Nofile, MAX_FILES),
    ];
    for (resource, most) in bounds {
        setrlimit(resource, Rlimit { current: Some(most), maximum: Some(most) }).map_err(|e| e.to_string())?;
    }
    let job = Job::read(BufReader::new(std::io::stdin().lock())).map_err(|e| e.to_string())?;
    let outcome = reports::typeset(&job).map_err(|e| e.to_string())?;
    outcome.write(std::io::stdout().lock()).map_err(|e| e.to_string())
}
