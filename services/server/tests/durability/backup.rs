//! Backups of a service that is being written to, and the way back.

use std::sync::Arc;

use catalog::{ListQuery, OpenOptions, Store};
use domain::SpotRecord;

use crate::ledger::Ledger;
use crate::support::Server;
use crate::{call, catalog, work};

#[tokio::test(flavor = "multi_thread")]
async fn a_backup_under_write_load_holds_all_that_was_acknowledged_before_it() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    catalog(at);
    let server = Server::start(at, &[]);
    let channel = work::connect(&server.url()).await.unwrap();
    let run = work::start(&channel, &Ledger::default(), "calm").await.unwrap();
    let hash = work::end_of(&channel, &run).await.unwrap();
    let writers: Vec<_> = ["a", "b"].map(|writer| (writer, Arc::new(Ledger::default()))).into();
    let load: Vec<_> = writers
        .iter()
        .map(|(writer, ledger)| {
            let (channel, ledger, writer) = (channel.clone(), Arc::clone(ledger), (*writer).to_owned());
            tokio::spawn(async move {
                for number in 0.. {
                    work::import(&channel, &ledger, &format!("{writer}{number}")).await?;
                }
                Ok::<_, tonic::Status>(())
            })
        })
        .collect();
    for round in 0..5 {
        let before: usize = writers.iter().map(|(_, ledger)| ledger.batches()).sum();
        let copy = format!("copy{round}.db");
        let (code, said) = call(at, &["backup", "--out", &copy]);
        assert_eq!(code, 0, "{said}");
        let after: usize = writers.iter().map(|(_, ledger)| ledger.batches()).sum();
        let store = Store::open(at.join(&copy), OpenOptions::default()).await.unwrap();
        store.check_integrity().await.unwrap();
        let kept = store.audit_trail(None, 100_000).await.unwrap();
        let batches = kept.iter().filter(|entry| entry.action == "import").count() - 3;
        // One batch a writer may be committed and not yet acknowledged.
        assert!((before..=after + writers.len()).contains(&batches), "{before} <= {batches} <= {after}");
        let query = ListQuery { limit: 1, ..ListQuery::default() };
        let total = usize::try_from(store.list::<SpotRecord>(&query).await.unwrap().total).unwrap();
        assert_eq!(total, work::BASE_SPOTS + batches * work::BATCH, "a batch is whole or not there");
        assert_eq!(store.list_runs(None, 9).await.unwrap()[0].result_hash, hash);
    }
    let (code, said) = call(at, &["restore", "copy0.db", "--replace"]);
    assert!(code == 2 && said.contains("in use"), "{code}: {said}");
    drop(server);
    for writer in load {
        assert!(writer.await.unwrap().is_err(), "a writer ends with its service");
    }
}

#[test]
fn a_backup_goes_back_by_the_words_that_it_printed() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    catalog(at);
    let (code, said) = call(at, &["backup", "--out", "monday.db"]);
    assert!(code == 0 && said.contains("restore monday.db --replace"), "{code}: {said}");
    assert_eq!(call(at, &["delete", "spots/base-1"]).0, 0);
    let (code, said) = call(at, &["restore", "monday.db"]);
    assert!(code == 2 && said.contains("--replace"), "{code}: {said}");
    assert_eq!(call(at, &["show", "spots/base-1"]).0, 1);
    let (code, said) = call(at, &["restore", "monday.db", "--replace"]);
    assert!(code == 0 && said.contains("lakebeam.db.before-restore"), "{code}: {said}");
    assert_eq!(call(at, &["show", "spots/base-1"]).0, 0);
    assert_eq!(call(at, &["--database", "lakebeam.db.before-restore", "show", "spots/base-1"]).0, 1);
    for (arguments, told) in [
        (&["backup", "--out", "monday.db"][..], "never overwrites"),
        (&["restore", "tuesday.db", "--replace"], "tuesday.db does not exist"),
        (&["--database", "none.db", "backup", "--out", "x.db"], "none.db does not exist"),
        (&["--server", "http://127.0.0.1:9", "backup", "--out", "x.db"], "--database"),
    ] {
        let (code, said) = call(at, arguments);
        assert!(code == 2 && said.contains(told), "{arguments:?}: {code}: {said}");
    }
}
