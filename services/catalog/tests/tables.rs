//! The file of tables beside a database: whatever happens to it, what is read of it is what was written, and it is never needed.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "a test"
)]

use std::fs::{File, OpenOptions};
use std::os::unix::fs::{FileExt as _, PermissionsExt as _, symlink};
use std::path::Path;

use catalog::{Aside, TableFile};
use proptest::prelude::*;

const BYTES: usize = 24;
const MOST: usize = 12;
const HEADER: u64 = 32;
const SLOT: usize = BYTES + 8;

fn tables(folder: &Path) -> TableFile {
    TableFile::beside(&folder.join("lakebeam.db"), 7, BYTES, MOST)
}

/// Records of some numbers.
fn records(numbers: impl IntoIterator<Item = u32>) -> Vec<u8> {
    numbers.into_iter().flat_map(|number| [number.to_le_bytes(); BYTES / 4].concat()).collect()
}

fn sound(tables: &TableFile) -> Vec<u8> {
    let found = tables.read().unwrap();
    assert_eq!(found.aside, Aside::Nothing);
    found.records
}

proptest! {
    #[test]
    fn the_newest_are_kept_in_their_order_and_the_file_is_bounded(batches in prop::collection::vec(0..9_u32, 1..12)) {
        let folder = tempfile::tempdir().unwrap();
        let file = tables(folder.path());
        let mut all = Vec::new();
        for (batch, count) in (0_u32..).zip(batches) {
            let new: Vec<u32> = (0..count).map(|number| 100 * batch + number).collect();
            prop_assert!(file.add(&records(new.iter().copied())).unwrap());
            all.extend(new);
            let newest = all.iter().copied().skip(all.len().saturating_sub(MOST));
            prop_assert_eq!(sound(&file), records(newest));
            let (held, most) = (std::fs::metadata(file.path()).unwrap().len(), HEADER + (2 * MOST * SLOT) as u64);
            prop_assert!(held <= most, "{held} bytes");
        }
    }

    /// A killed writer leaves any part of a batch; a bad disk any byte.
    #[test]
    fn cut_or_damaged_anywhere_it_gives_what_is_sound_and_takes_more(
        count in 1..8_u32, place in 0..1_000_u64, cut in any::<bool>(), wrong in 1..=255_u8,
    ) {
        let folder = tempfile::tempdir().unwrap();
        let file = tables(folder.path());
        file.add(&records(0..count)).unwrap();
        let bytes = OpenOptions::new().read(true).write(true).open(file.path()).unwrap();
        let length = bytes.metadata().unwrap().len();
        let at = length * place / 1_000;
        if cut {
            bytes.set_len(at).unwrap();
        } else {
            let mut byte = [0];
            bytes.read_exact_at(&mut byte, at).unwrap();
            bytes.write_all_at(&[byte[0] ^ wrong], at).unwrap();
        }
        let slot = at.checked_sub(HEADER).map(|offset| offset as usize / SLOT);
        let sound: Vec<u32> = match slot {
            None => Vec::new(),
            Some(slot) => (0..count).filter(|number| if cut { (*number as usize) < slot } else { *number as usize != slot }).collect(),
        };
        let found = file.read().unwrap();
        prop_assert_eq!(&found.records, &records(sound.iter().copied()));
        let at_an_end = cut && slot.is_some() && (at - HEADER).is_multiple_of(SLOT as u64);
        prop_assert_eq!(found.aside == Aside::Nothing, at_an_end);
        prop_assert!(file.add(&records([1_000])).unwrap());
        prop_assert_eq!(file.read().unwrap().records, records(sound.into_iter().chain([1_000])));
    }
}

#[test]
fn what_is_not_ours_is_left_aside_and_replaced() {
    let other_model = |path: &Path| {
        TableFile::beside(&path.with_file_name("lakebeam.db"), 8, BYTES, MOST).add(&records([1])).unwrap();
    };
    let other_length = |path: &Path| {
        TableFile::beside(&path.with_file_name("lakebeam.db"), 7, BYTES + 8, MOST).add(&[0; BYTES + 8]).unwrap();
    };
    let text = |path: &Path| std::fs::write(path, "a list of what to buy for the weekend, longer than a head").unwrap();
    let empty = |path: &Path| drop(File::create(path).unwrap());
    let makes: [fn(&Path); 4] = [other_model, other_length, text, empty];
    let left_aside = [Aside::OtherModel, Aside::OtherModel, Aside::Foreign, Aside::Foreign];
    for (make, aside) in makes.into_iter().zip(left_aside) {
        let folder = tempfile::tempdir().unwrap();
        let file = tables(folder.path());
        make(file.path());
        let found = file.read().unwrap();
        assert_eq!((found.records.len(), found.aside), (0, aside));
        assert!(file.add(&records([3, 4])).unwrap());
        assert_eq!(sound(&file), records([3, 4]));
    }
}

#[test]
fn it_is_its_owners_alone_and_nothing_is_written_through_a_link_or_into_a_folder() {
    let folder = tempfile::tempdir().unwrap();
    let file = tables(folder.path());
    assert_eq!(sound(&file), records([]));
    file.add(&records([1])).unwrap();
    assert_eq!(std::fs::metadata(file.path()).unwrap().permissions().mode() & 0o777, 0o600);

    let other = folder.path().join("other");
    std::fs::rename(file.path(), &other).unwrap();
    symlink(&other, file.path()).unwrap();
    let before = std::fs::read(&other).unwrap();
    assert!(file.read().is_err());
    assert!(file.add(&records([2])).unwrap());
    assert_eq!((sound(&file), std::fs::read(&other).unwrap()), (records([2]), before));

    std::fs::remove_file(file.path()).unwrap();
    std::fs::create_dir(file.path()).unwrap();
    assert!(file.read().is_err() && file.add(&records([3])).is_err());
    let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left.len(), 2, "{left:?}");
}

#[test]
fn who_finds_it_taken_writes_later() {
    let folder = tempfile::tempdir().unwrap();
    let file = tables(folder.path());
    file.add(&records([1])).unwrap();
    let other = File::open(file.path()).unwrap();
    other.lock().unwrap();
    assert!(!file.add(&records([2])).unwrap());
    assert_eq!(sound(&file), records([1]));
    other.unlock().unwrap();
    assert!(file.add(&records([2])).unwrap());
    assert_eq!(sound(&file), records([1, 2]));
}
