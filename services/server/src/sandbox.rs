//! Templates of one's own are compiled in a process of their own: this same binary again, with limits on memory and time.
//!
//! A template is a program. One that loops, or that takes all memory there is, ends with its process and a sentence that says so, and the
//! service goes on. The child is given everything it needs through its standard input and answers on its standard output; it opens no
//! file and no connection, and ends with the service.

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
        .args([VERB, &limits.memory_mib.to_string(), &limits.seconds.to_string(), &std::process::id().to_string()])
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

/// How this process is to be a child.
pub(crate) struct Errand {
    limits: Limits,
    parent: u64,
}

/// The errand of this process, if it is to be a child.
pub(crate) fn asked(mut arguments: impl Iterator<Item = OsString>) -> Option<Errand> {
    arguments.nth(1).filter(|verb| verb == VERB)?;
    let mut number = || arguments.next()?.to_str()?.parse().ok();
    Some(Errand { limits: Limits { memory_mib: number()?, seconds: number()? }, parent: number()? })
}

/// The child: takes its limits upon itself, then does the job.
pub(crate) fn child(errand: &Errand) -> ExitCode {
    match answer(errand) {
        Ok(()) => ExitCode::SUCCESS,
        Err(text) => {
            eprintln!("{text}");
            ExitCode::FAILURE
        }
    }
}

fn answer(errand: &Errand) -> Result<(), String> {
    let limits = errand.limits;
    die_with(errand.parent)?;
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
    confine()?;
    let job = Job::read(BufReader::new(std::io::stdin().lock())).map_err(|e| e.to_string())?;
    let outcome = reports::typeset(&job).map_err(|e| e.to_string())?;
    outcome.write(std::io::stdout().lock()).map_err(|e| e.to_string())
}

/// Ends this process with the one that started it, whose thread waits for the answer.
#[cfg(target_os = "linux")]
fn die_with(parent: u64) -> Result<(), String> {
    use rustix::process::{Signal, getppid, set_parent_process_death_signal};
    set_parent_process_death_signal(Some(Signal::KILL)).map_err(|e| e.to_string())?;
    // It may have ended before this was asked for.
    let current = getppid().and_then(|pid| u64::try_from(pid.as_raw_nonzero().get()).ok());
    if current == Some(parent) { Ok(()) } else { Err("the service that asked for this is gone".to_owned()) }
}

/// Other systems have no such signal; the limit of time holds there.
#[cfg(not(target_os = "linux"))]
fn die_with(_: u64) -> Result<(), String> {
    Ok(())
}

/// Takes from this process what a typesetter never needs: files, the network, other programs, other processes. The interpreter of
/// templates keeps them from all that already; this holds even if it has a fault. It gains no privileges either, which the filter asks for.
#[cfg(target_os = "linux")]
fn confine() -> Result<(), String> {
    use seccompiler::{BpfProgram, SeccompAction, SeccompFilter, TargetArch};
    let mut refused = vec![
        libc::SYS_openat,
        libc::SYS_openat2,
        libc::SYS_open_by_handle_at,
        libc::SYS_socket,
        libc::SYS_socketpair,
        libc::SYS_connect,
        libc::SYS_bind,
        libc::SYS_execve,
        libc::SYS_execveat,
        libc::SYS_unlinkat,
        libc::SYS_renameat2,
        libc::SYS_linkat,
        libc::SYS_symlinkat,
        libc::SYS_mkdirat,
        libc::SYS_fchmodat,
        libc::SYS_mount,
        libc::SYS_kill,
        libc::SYS_pidfd_open,
        libc::SYS_ptrace,
        libc::SYS_process_vm_readv,
        libc::SYS_process_vm_writev,
        libc::SYS_bpf,
        libc::SYS_io_uring_setup,
        libc::SYS_userfaultfd,
        libc::SYS_unshare,
        libc::SYS_setns,
    ];
    #[cfg(target_arch = "x86_64")]
    refused.extend([
        libc::SYS_open,
        libc::SYS_creat,
        libc::SYS_fork,
        libc::SYS_vfork,
        libc::SYS_unlink,
        libc::SYS_rename,
        libc::SYS_renameat,
        libc::SYS_link,
        libc::SYS_symlink,
        libc::SYS_mkdir,
        libc::SYS_chmod,
    ]);
    // A filter for another machine than the one it runs on would let nothing through.
    let Ok(machine) = TargetArch::try_from(std::env::consts::ARCH) else { return Ok(()) };
    let rules = refused.into_iter().map(|call| (call, Vec::new())).collect();
    let not_permitted = SeccompAction::Errno(libc::EPERM.unsigned_abs());
    let filter = SeccompFilter::new(rules, SeccompAction::Allow, not_permitted, machine).map_err(|e| e.to_string())?;
    let program = BpfProgram::try_from(filter).map_err(|e| e.to_string())?;
    seccompiler::apply_filter(&program).map_err(|e| format!("this system filters no calls: {e}"))
}

/// Other systems have no such filter.
#[cfg(not(target_os = "linux"))]
fn confine() -> Result<(), String> {
    Ok(())
}
