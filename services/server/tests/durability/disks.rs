//! A disk that fails in the middle of a write, and memory that runs out: what can be had of both without a machine of special make.
//!
//! The disk is a file system on a loop device whose image lies on another, small one: once that is full, the device refuses what the upper one has taken already, and
//! the fsync of the log answers with an error of input and output instead of a lack of room. What the upper file system lost of its own tables in between, the machine's
//! memory still has; a test that looked below it would try the file system and not the service. Errors of a single sector, and disks that lie about fsync, cannot be had
//! this way: they need a driver of the kernel (dm-error, dm-flakey) that the machines at hand lack.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use tonic_health::pb::health_check_response::ServingStatus;

use crate::ledger::Ledger;
use crate::support::Server;
use crate::{call, catalog, work};

fn done(program: &str, arguments: &[&str]) -> bool {
    Command::new(program).args(arguments).output().is_ok_and(|output| output.status.success())
}

/// A disk over another one.
struct Disk {
    below: tempfile::TempDir,
    at: tempfile::TempDir,
}

impl Disk {
    /// None where this user may not mount one.
    fn mount() -> Option<Self> {
        let disk = Self { below: tempfile::tempdir().unwrap(), at: tempfile::tempdir().unwrap() };
        let below = disk.below.path().to_str().unwrap();
        let made = done("mount", &["-t", "tmpfs", "-o", "size=16m", "tmpfs", below])
            && done("truncate", &["-s", "64M", disk.image().to_str().unwrap()])
            && done("mkfs.ext2", &["-q", "-F", disk.image().to_str().unwrap()])
            && disk.mount_image();
        made.then_some(disk)
    }

    fn image(&self) -> PathBuf {
        self.below.path().join("image")
    }

    fn mount_image(&self) -> bool {
        done("mount", &["-o", "loop", self.image().to_str().unwrap(), self.at.path().to_str().unwrap()])
    }

    /// Takes the room below, but for some of it.
    fn breaks(&self, left: u64) {
        assert!(done("sync", &["--file-system", self.at.path().to_str().unwrap()]));
        let room = rustix::fs::statvfs(self.below.path()).unwrap();
        let filler = room.f_bavail * room.f_frsize - left;
        std::fs::write(self.below.path().join("filler"), vec![1; usize::try_from(filler).unwrap()]).unwrap();
    }

    fn works_again(&self) {
        std::fs::remove_file(self.below.path().join("filler")).unwrap();
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        for at in [self.at.path(), self.below.path()] {
            let _ = done("umount", &["--lazy", at.to_str().unwrap()]);
        }
    }
}

/// Imports until one is refused, and says how many were not.
async fn import_until_refused(url: &str, ledger: &Ledger, word: &str) -> (usize, tonic::Status) {
    let channel = work::connect(url).await.unwrap();
    for number in 0..5_000 {
        if let Err(refused) = work::import(&channel, ledger, &format!("{word}{number}")).await {
            return (number, refused);
        }
    }
    panic!("nothing was ever refused");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_disk_that_fails_loses_nothing_acknowledged_and_is_used_again_once_it_works() {
    let Some(disk) = Disk::mount() else {
        eprintln!("skipped: no file system can be mounted on a loop device here");
        return;
    };
    let at = disk.at.path();
    catalog(at);
    let mut server = Server::start(at, &[]);
    disk.breaks(600 * 1024);
    let ledger = Ledger::default();
    let (kept, refused) = import_until_refused(&server.url(), &ledger, "before").await;
    println!("{kept} imports, then {refused}");
    assert_ne!(refused.code(), tonic::Code::InvalidArgument, "{refused}");
    let mut health = tonic_health::pb::health_client::HealthClient::new(work::connect(&server.url()).await.unwrap());
    let asked = || tonic_health::pb::HealthCheckRequest { service: "lakebeam.v1.CatalogService".to_owned() };
    let mut status = async || health.check(asked()).await.unwrap().into_inner().status();
    assert_eq!(status().await, ServingStatus::NotServing);
    // It goes on answering what needs no disk.
    let (code, said) = call(at, &["--server", &server.url(), "show", "spots/base-1"]);
    assert_eq!(code, 0, "{said}");
    disk.works_again();
    let (channel, begun) = (work::connect(&server.url()).await.unwrap(), Instant::now());
    while let Err(refused) = work::import(&channel, &ledger, "after").await {
        assert!(begun.elapsed() < Duration::from_secs(30), "{refused}");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    while status().await != ServingStatus::Serving {
        assert!(begun.elapsed() < Duration::from_secs(30), "it is sound again and does not say so");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    server.kill();
    drop((health, channel));
    assert_eq!(ledger.check_files(&at.join("lakebeam.db"), "").await.batches, kept + 1);
}

/// Bytes of memory that a process has asked for.
fn asked_for(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmData:")).unwrap();
    line.trim().trim_end_matches("kB").trim().parse::<u64>().unwrap() * 1024
}

/// Rows of the long file.
const ROWS: usize = 20_000;

/// A file of spots that takes tens of megabytes to read.
fn long_file(at: &Path) -> String {
    let file = at.join("long.csv");
    let notes = "x".repeat(1_500);
    let rows = (0..ROWS).map(|row| format!("long-{row},Spot {row},6.5,silt,{notes}\n"));
    let head = "id,display_name,depth_m,bottom_class,notes\n".to_owned();
    std::fs::write(&file, std::iter::once(head).chain(rows).collect::<String>()).unwrap();
    file.display().to_string()
}

#[tokio::test(flavor = "multi_thread")]
async fn memory_that_runs_out_loses_nothing_acknowledged() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    catalog(at);
    let long = long_file(at);
    let mut server = Server::start(at, &[]);
    let ledger = Ledger::default();
    let channel = work::connect(&server.url()).await.unwrap();
    for number in 0..5 {
        work::import(&channel, &ledger, &format!("roomy{number}")).await.unwrap();
    }
    let limit = asked_for(server.process()) + 1024 * 1024;
    if !done("prlimit", &["--pid", &server.process().to_string(), &format!("--data={limit}")]) {
        eprintln!("skipped: there is no prlimit here");
        return;
    }
    let (code, said) = call(at, &["--server", &server.url(), "import", &long, "--kind", "spots"]);
    println!("{code}: {said}");
    assert_ne!(code, 0, "memory did not run out: {said}");
    // Rust ends a process without memory, as there is nothing that it could say without some.
    let begun = Instant::now();
    while server.ended().is_none() && begun.elapsed() < Duration::from_secs(5) {
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    println!("the service ended: {:?}", server.ended());
    server.kill();
    assert_eq!(ledger.check_files(&at.join("lakebeam.db"), "").await.batches, 5);
    let again = Server::start(at, &[]);
    let stored = said_by(at, &again, &["list", "spots", "--filter", "id:\"long-1999\""]);
    assert_eq!(stored.matches("long-").count(), 0, "a part of the file is stored: {stored}");
    let stored = said_by(at, &again, &["import", &long, "--kind", "spots"]);
    assert!(stored.contains(&format!("{ROWS} spots stored")), "{stored}");
}

fn said_by(at: &Path, server: &Server, arguments: &[&str]) -> String {
    let url = server.url();
    let (code, said) = call(at, &[&["--server", &url], arguments].concat());
    assert_eq!(code, 0, "{said}");
    said
}
