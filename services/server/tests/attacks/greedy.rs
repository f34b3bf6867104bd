//! What the one who means harm does beside the calls that are made over and over.

use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use tests::kit::raw::connect;

use crate::rim::from_a_page;
use crate::support::{Server, lakebeam};

/// How many of each kind were made.
#[derive(Debug, Default)]
pub(crate) struct Made {
    /// Calls that came to their end, whatever that was.
    pub(crate) calls: AtomicUsize,
    pub(crate) watches: AtomicUsize,
    pub(crate) foreign_pages: AtomicUsize,
    pub(crate) full_disks: AtomicUsize,
    pub(crate) killed_restores: AtomicUsize,
}

/// Threads of the one who means harm. They give way to the service and to the others: who attacks has a machine of another kind, whose work is none of the service's.
pub(crate) fn threads() -> tokio::runtime::Runtime {
    let mut threads = tokio::runtime::Builder::new_multi_thread();
    let gives_way = || {
        let _ = rustix::process::nice(15);
    };
    threads.worker_threads(2).enable_all().on_thread_start(gives_way).build().unwrap()
}

/// A small disk for the database; none where this user may not mount one.
pub(crate) struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    pub(crate) fn mount(mebibytes: u64) -> Option<Self> {
        let dir = tempfile::tempdir().unwrap();
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &format!("size={mebibytes}m"), "tmpfs"]).arg(dir.path());
        mount.output().is_ok_and(|done| done.status.success()).then_some(Self(dir))
    }

    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("--lazy").arg(self.path()).status();
    }
}

/// Fills the disk to its last byte and makes room again, over and over.
pub(crate) fn fill_the_disk(at: &Path, over: &Arc<AtomicBool>, made: &Arc<Made>) -> std::thread::JoinHandle<()> {
    let (filler, over, made) = (at.join("filler"), Arc::clone(over), Arc::clone(made));
    std::thread::spawn(move || {
        while !over.load(Ordering::Relaxed) {
            let room = rustix::fs::statvfs(filler.parent().unwrap()).unwrap();
            let room = usize::try_from(room.f_bavail * room.f_frsize).unwrap();
            // It may end early: others write at the same time.
            let _ = std::fs::write(&filler, vec![1; room]);
            made.full_disks.fetch_add(1, Ordering::Relaxed);
            std::thread::sleep(Duration::from_millis(1_500));
            std::fs::remove_file(&filler).unwrap();
            std::thread::sleep(Duration::from_millis(1_500));
        }
    })
}

/// Restores a backup of another database beside, and is killed in the middle.
pub(crate) fn kill_restores(at: &Path, over: &Arc<AtomicBool>, made: &Arc<Made>) -> std::thread::JoinHandle<()> {
    let (at, over, made) = (at.to_owned(), Arc::clone(over), Arc::clone(made));
    std::thread::spawn(move || {
        let (mut number, mut after) = (0_u32, Duration::from_millis(400));
        while !over.load(Ordering::Relaxed) {
            number += 1;
            let other = format!("other-{}.db", number % 4);
            let mut verb = lakebeam(&at);
            verb.args(["restore", "copy.db", "--replace", "--database", &other]);
            let mut child = verb.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
            std::thread::sleep(after);
            child.kill().unwrap();
            let ended = child.wait().unwrap();
            after = if ended.code().is_some() { after * 3 / 4 } else { after * 9 / 8 };
            made.killed_restores.fetch_add(usize::from(ended.code().is_none()), Ordering::Relaxed);
        }
    })
}

/// Asks by the names of other sites, as a page in a browser does.
pub(crate) fn ask_from_pages(server: &Server, over: &Arc<AtomicBool>, made: &Arc<Made>) -> std::thread::JoinHandle<()> {
    let (address, over, made) = (server.address.clone(), Arc::clone(over), Arc::clone(made));
    std::thread::spawn(move || {
        let cases = [("rebound.example", None), (address.as_str(), Some("https://other.example"))];
        for (host, origin) in cases.into_iter().cycle() {
            if over.load(Ordering::Relaxed) {
                return;
            }
            assert_eq!(from_a_page(&address, host, origin), "7", "{host} from {origin:?}");
            made.foreign_pages.fetch_add(1, Ordering::Relaxed);
            std::thread::sleep(Duration::from_millis(50));
        }
    })
}

/// Watches the health without a token, as often as that is allowed and more.
pub(crate) async fn watch(url: &str, over: &Arc<AtomicBool>, made: &Arc<Made>) -> Vec<tokio::task::JoinHandle<()>> {
    let mut tasks = Vec::new();
    for _ in 0..100 {
        let (channel, over, made) = (connect(url).await, Arc::clone(over), Arc::clone(made));
        tasks.push(tokio::spawn(async move {
            let mut client = tonic_health::pb::health_client::HealthClient::new(channel);
            while !over.load(Ordering::Relaxed) {
                let asked = client.watch(tonic_health::pb::HealthCheckRequest::default()).await;
                made.watches.fetch_add(1, Ordering::Relaxed);
                tokio::time::sleep(Duration::from_secs(1)).await;
                drop(asked);
            }
        }));
    }
    tasks
}

/// A picture of 4,096 by 4,096 points of eight bytes, all black: under a megabyte as a file, 134 as points.
pub(crate) fn picture() -> Vec<u8> {
    const SIDE: u32 = 4_096;
    let raw = (SIDE as usize * 8 + 1) * SIDE as usize;
    let mut bits = Bits::default();
    // One last block with fixed codes (RFC 1951): a zero, then "258 times what stood there last", over and over.
    bits.put(0b1, 1);
    bits.put(0b01, 2);
    let (literal, repeat) = (
        |bits: &mut Bits| bits.code(0b0011_0000, 8),
        |bits: &mut Bits| {
            bits.code(0b1100_0101, 8);
            bits.code(0, 5);
        },
    );
    let first = 1 + (raw - 1) % 258;
    (0..first).for_each(|_| literal(&mut bits));
    (0..(raw - first) / 258).for_each(|_| repeat(&mut bits));
    bits.code(0, 7);
    let mut data = vec![0x78, 0x01];
    data.extend(bits.bytes);
    let adler = u32::try_from(raw % 65_521).unwrap() << 16 | 1;
    data.extend(adler.to_be_bytes());
    let head = [&SIDE.to_be_bytes()[..], &SIDE.to_be_bytes(), &[16, 6, 0, 0, 0]].concat();
    let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
    for (name, content) in [(b"IHDR", head), (b"IDAT", data), (b"IEND", Vec::new())] {
        png.extend(u32::try_from(content.len()).unwrap().to_be_bytes());
        let named = [&name[..], &content].concat();
        png.extend(&named);
        png.extend(crc(&named).to_be_bytes());
    }
    png
}

#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    used: u32,
}

impl Bits {
    /// Bits of a number, the least first.
    fn put(&mut self, number: u32, count: u32) {
        for bit in 0..count {
            if self.used.is_multiple_of(8) {
                self.bytes.push(0);
            }
            let last = self.bytes.last_mut().unwrap();
            *last |= u8::try_from(number >> bit & 1).unwrap() << (self.used % 8);
            self.used += 1;
        }
    }

    /// A code, whose first bit comes first.
    fn code(&mut self, code: u32, count: u32) {
        (0..count).rev().for_each(|bit| self.put(code >> bit, 1));
    }
}

/// The checksum of a part of a PNG.
fn crc(bytes: &[u8]) -> u32 {
    let byte = |sum: u32, byte: &u8| {
        (0..8).fold(sum ^ u32::from(*byte), |sum, _| if sum & 1 == 1 { sum >> 1 ^ 0xedb8_8320 } else { sum >> 1 })
    };
    !bytes.iter().fold(u32::MAX, byte)
}
