//! The real binary on a loopback port and an empty database, and what memory it takes.

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use tonic::transport::{Channel, Endpoint};

/// A service that ends with its owner.
pub(crate) struct Service {
    child: Child,
    pub(crate) url: String,
    _data: tempfile::TempDir,
}

impl Service {
    pub(crate) fn start(binary: &Path, flags: &[&str], variables: &[(&str, &str)]) -> Self {
        let data = tempfile::tempdir().unwrap();
        let mut child = Command::new(binary)
            .current_dir(data.path())
            .envs(variables.iter().copied())
            .args(["--database", "load.db", "serve", "--listen", "127.0.0.1:0", "--log", "warn"])
            .args(flags)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap_or_else(|error| panic!("{} cannot be started: {error}", binary.display()));
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.trim().rsplit(' ').next().unwrap_or_default();
        assert!(!address.is_empty(), "the service did not start");
        Self { url: format!("http://{address}"), child, _data: data }
    }

    /// Its process.
    pub(crate) fn process(&self) -> u32 {
        self.child.id()
    }

    /// A connection of its own.
    pub(crate) async fn connect(&self) -> Channel {
        Endpoint::from_shared(self.url.clone()).unwrap().connect().await.unwrap()
    }

    /// A connection that takes no more than 64 KiB before its reader asks for it.
    pub(crate) async fn connect_narrow(&self) -> Channel {
        narrow(&self.url).await
    }
}

pub(crate) async fn narrow(url: &str) -> Channel {
    let endpoint = Endpoint::from_shared(url.to_owned()).unwrap();
    let endpoint = endpoint.initial_stream_window_size(65_535).initial_connection_window_size(65_535);
    endpoint.connect().await.unwrap()
}

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Memory of a process, in KiB, noted again and again.
pub(crate) struct Memory {
    samples: Arc<Mutex<Vec<u64>>>,
    task: tokio::task::JoinHandle<()>,
}

impl Memory {
    pub(crate) fn watch(process: u32, every: Duration) -> Self {
        let samples = Arc::new(Mutex::new(Vec::new()));
        let kept = Arc::clone(&samples);
        let task = tokio::spawn(async move {
            let mut ticks = tokio::time::interval(every);
            loop {
                ticks.tick().await;
                if let Some(kib) = resident_kib(process) {
                    kept.lock().unwrap().push(kib);
                }
            }
        });
        Self { samples, task }
    }

    /// Ends watching, and judges.
    pub(crate) fn end(self) -> Growth {
        self.task.abort();
        Growth::of(&self.samples.lock().unwrap())
    }
}

/// How the memory of the last third of the time compares with that of the first.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Growth {
    pub(crate) first_kib: u64,
    pub(crate) last_kib: u64,
    pub(crate) most_kib: u64,
    pub(crate) samples: usize,
}

impl Growth {
    /// What the last third may have over the first: a tenth of it, or what two reports in hand take, if that is more.
    const ALLOWED: (u64, u64) = (10, 48 * 1024);

    fn of(samples: &[u64]) -> Self {
        let third = samples.len() / 3;
        let most_kib = samples.iter().copied().max().unwrap_or(0);
        let (first_kib, last_kib) = (median(&samples[..third]), median(&samples[samples.len() - third..]));
        Self { first_kib, last_kib, most_kib, samples: samples.len() }
    }

    /// Whether memory stayed flat: the median of the last third is at most a tenth (or 48 MiB) over that of the first.
    pub(crate) fn is_flat(&self) -> bool {
        self.first_kib > 0 && self.last_kib <= self.first_kib + (self.first_kib / Self::ALLOWED.0).max(Self::ALLOWED.1)
    }
}

fn median(samples: &[u64]) -> u64 {
    let mut sorted = samples.to_vec();
    sorted.sort_unstable();
    sorted.get(sorted.len() / 2).copied().unwrap_or(0)
}

/// Memory of a process that is in RAM, KiB.
pub(crate) fn resident_kib(process: u32) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"))?;
    line.trim().strip_suffix("kB")?.trim().parse().ok()
}
