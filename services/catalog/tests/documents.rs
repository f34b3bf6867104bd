//! Documents on a real SQLite file.
#![allow(missing_docs, clippy::unwrap_used)]

use catalog::{OpenOptions, Store, Write};
use jiff::Timestamp;

#[tokio::test]
async fn a_page_of_long_documents_ends_early_and_the_next_one_goes_on() {
    let dir = tempfile::tempdir().unwrap();
    let store = Store::open(dir.path().join("lake.db"), OpenOptions::default()).await.unwrap();
    let write = Write { actor: "test".into(), at: Timestamp::from_second(1_700_000_000).unwrap() };
    for number in 0..6 {
        store.put_document("fleetPlans", &format!("l{number}"), vec![7; 5 * 1024 * 1024], &write).await.unwrap();
    }
    let (mut before, mut pages) = (None, Vec::new());
    loop {
        let (page, more) = store.list_documents("fleetPlans", before, 100).await.unwrap();
        before = page.last().map(|document| document.seq);
        pages.push(page.into_iter().map(|document| document.id).collect::<Vec<_>>());
        if !more {
            break;
        }
    }
    assert_eq!(pages, [vec!["l5", "l4", "l3", "l2"], vec!["l1", "l0"]]);
    let (page, more) = store.list_documents("fleetPlans", None, 1).await.unwrap();
    assert_eq!((page.len(), more), (1, true));
}
