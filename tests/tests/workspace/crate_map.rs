//! The crate map of DEVELOPERS.md against `cargo metadata`.

use std::collections::{BTreeMap, BTreeSet};

use super::{list, metadata, root, text};

/// From the top down; a crate may only build on crates that stand after it.
const ORDER: [&str; 10] =
    ["server", "counter", "api", "runs", "reports", "catalog", "planning", "domain", "acoustics", "proto"];

/// Libraries that only the named crates may name, by the start of the library's name.
const RESERVED: [(&str, &[&str]); 4] = [
    ("sqlx", &["catalog"]),
    ("typst", &["reports"]),
    ("tonic", &["server", "counter", "api", "proto"]),
    ("prost", &["server", "counter", "api", "proto"]),
];

type Map = BTreeMap<String, BTreeSet<String>>;

/// Each of our crates with every library that it names outside of its tests.
fn named() -> Map {
    let metadata = metadata(&["--no-deps"]);
    let packages = list(&metadata, "packages").iter().filter(|package| text(package, "name") != "tests");
    packages
        .map(|package| {
            let libraries = list(package, "dependencies").iter().filter(|one| one["kind"].as_str() != Some("dev"));
            (text(package, "name").to_owned(), libraries.map(|one| text(one, "name").to_owned()).collect())
        })
        .collect()
}

/// Each of our crates with those of ours that it builds on.
fn built_on() -> Map {
    let named = named();
    let ours: BTreeSet<_> = named.keys().cloned().collect();
    named.into_iter().map(|(name, all)| (name, all.intersection(&ours).cloned().collect())).collect()
}

/// The rows under the heading `| crate |` of DEVELOPERS.md: first and third cell, names in back ticks.
fn written() -> Map {
    let guide = std::fs::read_to_string(root().join("DEVELOPERS.md")).expect("DEVELOPERS.md is text");
    let rows = guide.lines().skip_while(|line| !line.starts_with("| crate |")).skip(2);
    rows.take_while(|line| line.starts_with('|'))
        .map(|line| {
            let cells: Vec<_> = line.split('|').collect();
            assert_eq!(cells.len(), 6, "a row of the crate map has four cells: {line}");
            let ticked = |cell: &str| cell.split('`').skip(1).step_by(2).map(str::to_owned).collect::<Vec<_>>();
            let name = ticked(cells[1]).into_iter().next().expect("the first cell names a crate");
            (name, ticked(cells[3]).into_iter().collect())
        })
        .collect()
}

#[test]
fn the_map_of_the_guide_is_what_cargo_sees() {
    assert_eq!(written(), built_on(), "left: DEVELOPERS.md, right: cargo metadata");
}

#[test]
fn arrows_only_point_downward() {
    let built_on = built_on();
    let crates: BTreeSet<_> = built_on.keys().map(String::as_str).collect();
    assert_eq!(crates, ORDER.into_iter().collect(), "left: the workspace, right: the crates that have a place in it");
    let place = |name: &str| ORDER.iter().position(|one| *one == name);
    for (name, below) in &built_on {
        for other in below {
            assert!(place(name) < place(other), "{name} stands below {other} and must not build on it");
        }
    }
}

#[test]
fn each_heavy_library_stays_in_its_crate() {
    for (name, libraries) in named() {
        for (library, owners) in RESERVED {
            let known = libraries.iter().find(|one| one.starts_with(library));
            if let Some(known) = known {
                assert!(owners.contains(&name.as_str()), "{name} names {known}, which belongs to {owners:?}");
            }
        }
    }
}

#[test]
fn folder_and_crate_have_one_name() {
    let metadata = metadata(&["--no-deps"]);
    for package in list(&metadata, "packages") {
        let manifest = std::path::Path::new(text(package, "manifest_path"));
        let folder = manifest.parent().and_then(|folder| folder.file_name()).expect("a manifest lies in a folder");
        assert_eq!(folder, text(package, "name"));
    }
}
