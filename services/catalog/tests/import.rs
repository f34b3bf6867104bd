//! Files that are stored part by part: what happens in a late part must undo the early ones.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use catalog::exchange::csv;
use catalog::{
    Commit, Existing, ImportMode, ImportOutcome, LISTED_FAULTS, ListQuery, OpenOptions, Resource, Skip, Store,
    StoreError, Write,
};
use domain::{Booking, Id, SpotRecord, TargetRecord};
use jiff::Timestamp;

const HEADER: &str = "id,display_name,depth_m,bottom_class";
const REFUSE: ImportMode = ImportMode { skip_bad: Skip::Nothing, existing: Existing::Refuse, commit: Commit::Store };
const SKIP: ImportMode = ImportMode { skip_bad: Skip::BadRows, ..REFUSE };
const REPLACE: ImportMode = ImportMode { existing: Existing::Replace, ..REFUSE };
const LOOK: ImportMode = ImportMode { commit: Commit::CheckOnly, ..REFUSE };

fn write(second: i64) -> Write {
    Write { actor: "test".into(), at: Timestamp::from_second(second).unwrap() }
}

/// A file of spots, a line for each number.
fn file(ids: impl IntoIterator<Item = u32>) -> String {
    let lines = ids.into_iter().map(|n| format!("\ns{n},Spot,7.5,silt"));
    HEADER.to_owned() + &lines.collect::<String>()
}

/// Where the reader of a file ends.
enum End {
    Proper,
    /// In the middle, as if it had panicked.
    Sudden,
}

async fn import<R: csv::CsvRecord + Resource>(
    store: &Store,
    text: String,
    mode: ImportMode,
    second: i64,
    end: End,
) -> Result<ImportOutcome, StoreError> {
    let (mut feed, fed) = catalog::feed();
    let reader = tokio::task::spawn_blocking(move || {
        let read = csv::read_parts::<R>(text.as_bytes(), &BTreeMap::new(), &mut |part| feed.put(part));
        if matches!(end, End::Proper) && read.is_continue() {
            feed.finish();
        }
    });
    let outcome = store.import::<R>(fed, mode, &write(second)).await;
    reader.await.unwrap();
    outcome
}

struct Lake {
    store: Store,
    _dir: tempfile::TempDir,
}

impl Lake {
    /// A store that holds spots already.
    async fn with(ids: impl IntoIterator<Item = u32>) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let lake =
            Self { store: Store::open(dir.path().join("lake.db"), OpenOptions::default()).await.unwrap(), _dir: dir };
        import::<SpotRecord>(&lake.store, file(ids), REFUSE, 1, End::Proper).await.unwrap();
        lake
    }

    async fn import(&self, text: String, mode: ImportMode) -> ImportOutcome {
        import::<SpotRecord>(&self.store, text, mode, 2, End::Proper).await.unwrap()
    }

    async fn count(&self) -> u64 {
        self.store.list::<SpotRecord>(&ListQuery { limit: 1, ..ListQuery::default() }).await.unwrap().total
    }

    async fn audited(&self) -> Vec<String> {
        self.store.audit_trail(None, 10).await.unwrap().into_iter().map(|entry| entry.resource).collect()
    }
}

fn lines(outcome: &ImportOutcome) -> Vec<(u32, &str)> {
    outcome.faults.iter().map(|fault| (fault.line, fault.column.as_str())).collect()
}

#[tokio::test]
async fn a_fault_on_a_late_line_takes_back_all_that_was_stored() {
    let lake = Lake::with([]).await;
    let text = file(0..3_300) + "\ns7,Spot,7.5,silt\nlast,Spot,-1,silt";
    let refused = lake.import(text.clone(), REFUSE).await;
    assert_eq!((refused.rows_read, refused.created, refused.fault_count), (3_302, 0, 2));
    assert_eq!(lines(&refused), [(3_302, "id"), (3_303, "depth_m")]);
    assert!(refused.faults[0].message.contains("on line 9 already"), "{}", refused.faults[0].message);
    assert_eq!(lake.count().await, 0);
    let skipped = lake.import(text, SKIP).await;
    assert_eq!((skipped.created, skipped.fault_count), (3_300, 2));
    assert_eq!(lake.count().await, 3_300);
    assert_eq!(lake.audited().await, ["spots (3300 records)", "spots (0 records)"]);
}

#[tokio::test]
async fn every_id_that_exists_is_named_whichever_part_it_stands_in() {
    let lake = Lake::with([5, 1_500, 2_999, 4_200]).await;
    let refused = lake.import(file(0..4_500), REFUSE).await;
    assert_eq!(lines(&refused), [(7, "id"), (1_502, "id"), (3_001, "id"), (4_202, "id")]);
    assert!(refused.faults[1].message.starts_with("spots/s1500 exists already"), "{}", refused.faults[1].message);
    assert_eq!((lake.count().await, refused.created), (4, 0));
    // With a fault of another kind before them as well, when nothing is being stored any more.
    let refused = lake.import(file(0..4_500).replace("\ns3,Spot,7.5", "\ns3,Spot,x"), REFUSE).await;
    assert_eq!(lines(&refused), [(5, "depth_m"), (7, "id"), (1_502, "id"), (3_001, "id"), (4_202, "id")]);
    let looked = lake.import(file(0..4_500), LOOK).await;
    assert_eq!((looked.created, looked.fault_count, lake.count().await), (0, 4, 4));
    let skipped = lake.import(file(0..4_500), SKIP).await;
    assert_eq!((skipped.created, skipped.fault_count, lake.count().await), (4_496, 4, 4_500));
}

#[tokio::test]
async fn replaced_records_keep_the_time_of_their_creation() {
    let lake = Lake::with(0..1_200).await;
    let replaced = lake.import(file(1_100..3_000).replace(",7.5,", ",8.5,"), REPLACE).await;
    assert_eq!((replaced.created, replaced.replaced, lake.count().await), (1_800, 100, 3_000));
    for (id, depth, created, updated) in [("s3", 7.5, 1, 1), ("s1150", 8.5, 1, 2), ("s2500", 8.5, 2, 2)] {
        let stored = lake.store.get::<SpotRecord>(&Id::parse(id).unwrap()).await.unwrap();
        let times = (stored.create_time.as_second(), stored.update_time.as_second());
        assert_eq!((stored.record.depth_m, times), (Some(depth), (created, updated)), "{id}");
    }
}

#[tokio::test]
async fn looking_only_stores_nothing() {
    let lake = Lake::with([]).await;
    let looked = lake.import(file(0..2_500), LOOK).await;
    assert_eq!((looked.created, looked.fault_count, lake.count().await), (2_500, 0, 0));
    assert_eq!(lake.audited().await, ["spots (0 records)"]);
}

#[tokio::test]
async fn a_reader_that_breaks_off_leaves_nothing_behind() {
    let lake = Lake::with([]).await;
    let broken = import::<SpotRecord>(&lake.store, file(0..3_000), REFUSE, 2, End::Sudden).await;
    assert!(matches!(broken, Err(StoreError::ImportBroken)), "{broken:?}");
    assert_eq!(lake.count().await, 0);
    // And the writer is free for the next one.
    assert_eq!(lake.import(file(0..10), REFUSE).await.created, 10);
}

#[tokio::test]
async fn of_very_many_faults_the_first_are_listed_and_all_are_counted() {
    let lake = Lake::with([]).await;
    let outcome = lake.import(file(0..2_700).replace(",silt", ",slit"), REFUSE).await;
    assert_eq!((outcome.fault_count, outcome.faults.len()), (2_700, LISTED_FAULTS));
    assert!(outcome.faults.is_sorted_by_key(|fault| fault.line));
    assert_eq!(outcome.faults[999].line, 1_001);
}

#[test]
fn a_file_in_parts_reads_like_a_file_as_a_whole() {
    let text = file(0..2_345).replace("\ns1700,", "\nS 1700,") + "\ns3,Spot,7.5,silt";
    let whole = csv::read::<SpotRecord>(text.as_bytes(), &BTreeMap::new());
    let mut sizes = Vec::new();
    let mut joined = catalog::exchange::Parsed::default();
    let ended = csv::read_parts::<SpotRecord>(text.as_bytes(), &BTreeMap::new(), &mut |part| {
        sizes.push(part.records.len() + part.faults.len());
        joined.append(part);
        ControlFlow::Continue(())
    });
    assert!(ended.is_continue());
    assert_eq!(sizes, [1_000, 1_000, 346]);
    assert_eq!(joined, whole);
    assert_eq!(joined.faults.iter().map(|fault| fault.line).collect::<Vec<_>>(), [1_702, 2_347]);
    // Nobody listens: the rest is not read.
    let mut parts = 0;
    let ended = csv::read_parts::<SpotRecord>(text.as_bytes(), &BTreeMap::new(), &mut |_| {
        parts += 1;
        ControlFlow::Break(())
    });
    assert!(ended.is_break());
    assert_eq!(parts, 1);
}

#[tokio::test]
async fn a_row_that_refers_to_what_is_not_stored_is_refused_with_the_nearest_name() {
    let lake = Lake::with([]).await;
    let store = &lake.store;
    let spots = format!("{HEADER}\nnorth-bar,North bar,7.5,silt\nlanding,Landing,3,silt");
    import::<SpotRecord>(store, spots, REFUSE, 1, End::Proper).await.unwrap();
    let targets = "id,display_name,kind,shape,diameter_mm,material\njig,Jig,lure,sphere,6,tungsten";
    let made = import::<TargetRecord>(store, targets.to_owned(), REFUSE, 2, End::Proper).await.unwrap();
    assert_eq!(made.created, 1, "{:?}", made.faults);
    let bookings = "id,display_name,spot,anglers,first_day,last_day,goal,lure,fish\n\
                    one,One,north-bar,1,2027-01-15,2027-01-15,search,jig,jig\n\
                    two,Two,north-bra,1,2027-01-15,2027-01-15,search,jig,jig\n\
                    three,Three,landing,1,2027-01-15,2027-01-15,search,jig,walleye-of-somebody";
    let bookings = || bookings.to_owned();
    let told = |outcome: &ImportOutcome| {
        let faults = outcome.faults.iter();
        faults.map(|fault| (fault.line, fault.column.clone(), fault.message.clone())).collect::<Vec<_>>()
    };
    let wanted = [
        (3, "spot", "'north-bra' is not among the stored spots; accepted: the id of one that is; perhaps 'north-bar' is meant"),
        (
            4,
            "fish",
            "'walleye-of-somebody' is not among the stored targets; accepted: the id of one that is; import it first, or correct it",
        ),
    ]
    .map(|(line, column, message)| (line, column.to_owned(), message.to_owned()));
    let refused = import::<Booking>(store, bookings(), REFUSE, 3, End::Proper).await.unwrap();
    assert_eq!((told(&refused), refused.created), (wanted.to_vec(), 0));
    let looked = import::<Booking>(store, bookings(), LOOK, 4, End::Proper).await.unwrap();
    assert_eq!((told(&looked), looked.created), (Vec::new(), 3), "the spots may come with another file");
    let some = import::<Booking>(store, bookings(), SKIP, 5, End::Proper).await.unwrap();
    assert_eq!((told(&some), some.created), (wanted.to_vec(), 1));
}
