//! Disks and files that refuse: a clear message, an exit code, and data that is as it was.

use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::os::unix::process::CommandExt as _;
use std::path::Path;
use std::process::Command;

use crate::ledger::Ledger;
use crate::support::{Server, lakebeam, of_its_own};
use crate::{call, catalog, told, work};

/// The binary with a bound on how large a file may grow: what a full disk looks like to a program. The signal that comes with it is
/// ignored, so that the write fails as it would on a full disk.
fn confined(dir: &Path, kibibytes: u64) -> Command {
    let binary = lakebeam(dir);
    let mut command = of_its_own(Command::new("sh"), dir);
    // `ulimit -f` counts blocks of 512 bytes (POSIX).
    let script = format!("trap '' XFSZ; ulimit -f {}; exec \"$0\" \"$@\"", kibibytes * 2);
    command.args(["-c", &script]).arg(binary.get_program());
    command
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_disk_refuses_what_does_not_fit_and_keeps_the_rest() {
    let dir = tempfile::tempdir().unwrap();
    catalog(dir.path());
    let database = dir.path().join("lakebeam.db");
    let mut server = Server::launch(confined(dir.path(), 2 * std::fs::metadata(&database).unwrap().len() / 1024), &[]);
    assert!(server.listens());
    let channel = work::connect(&server.url()).await.unwrap();
    let ledger = Ledger::default();
    let mut number = 0;
    let refused = loop {
        assert!(number < 2_000, "the disk never filled up");
        match work::import(&channel, &ledger, &format!("full{number}")).await {
            Ok(()) => number += 1,
            Err(refused) => break refused,
        }
    };
    assert_eq!(refused.code(), tonic::Code::ResourceExhausted, "{refused}");
    assert!(refused.message().contains("free some space"), "{refused}");
    assert!(number > 0, "nothing fitted");
    // It goes on answering what needs no room.
    let (code, said) = call(dir.path(), &["--server", &server.url(), "show", "spots/full0-0"]);
    assert_eq!(code, 0, "{said}");
    server.kill();
    let kept = ledger.check_files(&database, "").await;
    assert_eq!(kept.batches, number);
    // With room again, the batch that was refused goes in.
    let roomy = Server::start(dir.path(), &[]);
    let channel = work::connect(&roomy.url()).await.unwrap();
    work::import(&channel, &ledger, &format!("full{number}")).await.unwrap();
    drop(roomy);
    assert_eq!(ledger.check_files(&database, "").await.batches, number + 1);
}

#[test]
fn a_backup_that_does_not_fit_leaves_nothing_behind() {
    let dir = tempfile::tempdir().unwrap();
    catalog(dir.path());
    let before = std::fs::read(dir.path().join("lakebeam.db")).unwrap();
    for arguments in [&["backup", "--out", "copy.db"][..], &["restore", "lakebeam.db", "--database", "copy.db"]] {
        let (code, said) = told(&confined(dir.path(), 64).args(arguments).output().unwrap());
        assert!(code == 2 && said.contains("no room") && said.contains("free some space"), "{code}: {said}");
    }
    let left: Vec<_> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains("copy.db"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
    assert_eq!(std::fs::read(dir.path().join("lakebeam.db")).unwrap(), before);
}

/// The binary as somebody whom file modes hold back: root ignores them, so as root it becomes the user that owns nothing.
fn unprivileged(dir: &Path) -> Command {
    const NOBODY: u32 = 65_534;
    let mut command = lakebeam(dir);
    if std::fs::metadata(dir).unwrap().uid() == 0 {
        command.uid(NOBODY).gid(NOBODY);
    }
    command
}

#[test]
fn a_file_that_may_not_be_written_is_told_of_and_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    catalog(at);
    let database = at.join("lakebeam.db");
    let before = std::fs::read(&database).unwrap();
    let modes = |folder, file| {
        std::fs::set_permissions(at, std::fs::Permissions::from_mode(folder)).unwrap();
        std::fs::set_permissions(&database, std::fs::Permissions::from_mode(file)).unwrap();
    };
    modes(0o555, 0o444);
    let refusals = [
        (&["import", "spots.csv", "--replace"][..], 3),
        (&["serve", "--listen", "127.0.0.1:0"], 3),
        (&["restore", "lakebeam.db", "--database", "other.db"], 2),
    ]
    .map(|(arguments, code)| (arguments, code, told(&unprivileged(at).args(arguments).output().unwrap())));
    modes(0o755, 0o644);
    for (arguments, expected, (code, said)) in refusals {
        assert_eq!(code, expected, "{arguments:?}: {said}");
        assert!(said.contains("may not be written") || said.contains("may be written"), "{arguments:?}: {said}");
    }
    assert_eq!(std::fs::read(&database).unwrap(), before);
}

#[test]
fn damage_is_named_by_every_verb_and_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    catalog(at);
    let file = at.join("lakebeam.db");
    let sound = std::fs::read(&file).unwrap();
    std::fs::write(&file, &sound[..sound.len() / 2]).unwrap();
    for arguments in [&["backup", "--out", "copy.db"][..], &["restore", "lakebeam.db", "--database", "x.db"]] {
        let (code, said) = call(at, arguments);
        assert!(code == 2 && said.contains("not a sound database") && said.contains("lakebeam.db"), "{code}: {said}");
        assert_eq!(std::fs::read(&file).unwrap().len(), sound.len() / 2);
    }
}
