//! Every kept input of every fuzz target, replayed. `.ci/fuzz` looks for more of them.
#![allow(missing_docs, clippy::expect_used, clippy::panic)]

use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use tests::fuzz::{TARGETS, Target, find, names};

/// Most bytes of a target's folder: what a repository can carry along.
const MOST_BYTES: u64 = 300_000;

fn folder(target: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz").join(target)
}

/// The inputs in a folder by name; none where there is no folder.
fn inputs(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten();
    let mut found: Vec<_> = entries.map(|entry| entry.expect("a folder of inputs can be read").path()).collect();
    found.sort();
    found
}

/// The inputs of a folder that break a promise. Fails where there is nothing to replay, and where there is too much.
fn broken(check: Target, folder: &Path) -> Vec<PathBuf> {
    let inputs = inputs(folder);
    assert!(!inputs.is_empty(), "{} is missing or empty: .ci/fuzz fills it", folder.display());
    let size = |path: &PathBuf| std::fs::metadata(path).expect("an input can be read").len();
    let bytes: u64 = inputs.iter().map(size).sum();
    assert!(bytes <= MOST_BYTES, "{} holds {bytes} bytes; accepted: up to {MOST_BYTES}", folder.display());
    let breaks = |path: &PathBuf| {
        let data = std::fs::read(path).expect("an input can be read");
        catch_unwind(AssertUnwindSafe(|| check(&data))).is_err()
    };
    inputs.into_iter().filter(breaks).collect()
}

/// Replays the folder of a target and fails with the name of every input that breaks a promise.
fn replay(target: &str) {
    let broken = broken(find(target).expect("the table has every target"), &folder(target));
    assert!(broken.is_empty(), "{target} breaks on {broken:#?}; the messages stand above");
}

macro_rules! replayed {
    ($($target:ident),*) => {
        /// The targets that have a test here.
        const REPLAYED: &[&str] = &[$(stringify!($target)),*];

        $(#[test]
        fn $target() {
            replay(stringify!($target));
        })*
    };
}

// One test a target: they run at once, and each says of itself whether it holds.
replayed!(acoustics, convert, csv, filter, gpx, json_lines, page_token, resource_name, wire);

#[test]
fn every_target_is_replayed_and_every_folder_has_a_target() {
    assert_eq!(names(), REPLAYED, "left: the table of targets, right: the tests of this file");
    let folders: BTreeSet<_> = inputs(&folder(""))
        .iter()
        .filter(|path| path.is_dir())
        .filter_map(|path| path.file_name()?.to_str().map(str::to_owned))
        .collect();
    assert_eq!(folders, TARGETS.iter().map(|(name, _)| (*name).to_owned()).collect());
}

#[test]
fn broken_promises_and_empty_folders_are_told() {
    let folder = tempfile::tempdir().expect("there is room for a folder");
    let check: Target = |data| assert_ne!(data, b"bad", "as it should");
    assert!(catch_unwind(|| broken(check, folder.path())).is_err(), "an empty folder passes");
    assert!(catch_unwind(|| broken(check, &folder.path().join("missing"))).is_err(), "a missing folder passes");
    for name in ["bad", "good"] {
        std::fs::write(folder.path().join(name), name).expect("there is room for a file");
    }
    assert_eq!(broken(check, folder.path()), [folder.path().join("bad")]);
}
