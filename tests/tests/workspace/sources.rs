//! What lies in the repository, and what its Rust files hold.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::root;

/// Everything that may lie at the top level. Folders that begin with a dot are free; `target` and `demo-reports` are made
/// by the README's commands and ignored by git.
const TOP_LEVEL: [&str; 12] = [
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "proto",
    "services",
    "migrations",
    "report-templates",
    "tests",
    "demo-catalog",
    "target",
    "demo-reports",
];

/// A file longer than this has more than one subject.
const MOST_LINES: usize = 700;

/// Every file below these folders, made by hand, with that ending.
fn files(folders: &[&str], ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open: Vec<PathBuf> = folders.iter().map(|folder| root().join(folder)).collect();
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(&folder).into_iter().flatten() {
            let path = entry.expect("a folder of the repository can be read").path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|known| known == ending) {
                found.push(path);
            }
        }
    }
    assert!(!found.is_empty(), "no .{ending} file below {folders:?}");
    found
}

fn shown(path: &Path) -> String {
    path.strip_prefix(root()).unwrap_or(path).display().to_string()
}

/// Fails with every Rust file of which `fault` says something.
fn no_rust_file(fault: impl Fn(&str) -> Option<String>) {
    let faults: Vec<_> = files(&["proto", "services", "tests"], "rs")
        .iter()
        .filter_map(|path| {
            let source = std::fs::read_to_string(path).expect("a source file is text");
            fault(&source).map(|fault| format!("{}: {fault}", shown(path)))
        })
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn the_top_level_holds_what_the_guide_names() {
    let there: BTreeSet<_> = std::fs::read_dir(root())
        .expect("the top folder can be read")
        .map(|entry| entry.expect("its entries too").file_name().to_string_lossy().into_owned())
        .filter(|name| !name.starts_with('.'))
        .collect();
    let allowed: BTreeSet<_> = TOP_LEVEL.map(str::to_owned).into();
    let strange: Vec<_> = there.difference(&allowed).filter(|name| !name.contains(".db")).collect();
    assert!(strange.is_empty(), "no place at the top level for {strange:?}");
    let made: BTreeSet<_> = ["target", "demo-reports"].map(str::to_owned).into();
    let missing: Vec<_> = allowed.difference(&made).filter(|name| !there.contains(*name)).collect();
    assert!(missing.is_empty(), "missing at the top level: {missing:?}");
}

#[test]
fn no_source_file_is_longer_than_it_should_be() {
    no_rust_file(|source| {
        let lines = source.lines().count();
        (lines > MOST_LINES).then(|| format!("{lines} lines; cut it by subject"))
    });
}

#[test]
fn no_test_is_ignored_and_nothing_is_left_undone() {
    // Put together here, so that this file does not hold what it looks for.
    let marks = ["#[ignore", "todo!(", "unimplemented!(", "dbg!(", "FIXME", "XXX"].map(|mark| (mark, mark.len()));
    let this = Path::new(file!()).file_name().expect("a file has a name");
    let faults: Vec<_> = files(&["proto", "services", "tests"], "rs")
        .iter()
        .filter(|path| path.file_name() != Some(this))
        .flat_map(|path| {
            // ISO 4217 has a code for no currency, which happens to be one of the marks.
            let source = std::fs::read_to_string(path).expect("a source file is text").replace("\"XXX\"", "");
            let found: Vec<_> = marks.iter().filter(|(mark, _)| source.contains(mark)).map(|(mark, _)| *mark).collect();
            found.into_iter().map(|mark| format!("{}: {mark}", shown(path))).collect::<Vec<_>>()
        })
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_crate_says_what_it_is_and_what_it_never_holds() {
    for path in files(&["services"], "rs") {
        let name = path.file_name().expect("a file has a name");
        let parent = path.parent().and_then(Path::file_name).expect("a file lies in a folder");
        if parent != "src" || (name != "lib.rs" && name != "main.rs") {
            continue;
        }
        let source = std::fs::read_to_string(&path).expect("a source file is text");
        let head: String = source.lines().take_while(|line| line.starts_with("//!")).collect();
        let bounds = head.contains("never") || head.contains("No ") || head.contains("no ");
        assert!(head.len() > 120 && bounds, "{}: open it with what it is and must never contain", shown(&path));
    }
}

/// The code of a source file that runs in production: without tests and comments.
fn production(path: &Path) -> String {
    let source = std::fs::read_to_string(path).expect("a source file is text");
    let code = source.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
    code.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

/// Whether code calls something by that name, rather than defining or handing it on.
fn calls(code: &str, name: &str) -> bool {
    let word = |c: char| c.is_alphanumeric() || c == '_';
    code.lines().filter(|line| !line.trim_start().starts_with("pub use")).any(|line| {
        line.match_indices(name).any(|(at, _)| {
            let (before, after) = (&line[..at], &line[at + name.len()..]);
            !before.ends_with(word) && !after.starts_with(word) && !before.ends_with("fn ") && !before.ends_with("mod ")
        })
    })
}

#[test]
fn every_model_of_the_page_of_models_runs_in_production() {
    let page = std::fs::read_to_string(root().join("services/acoustics/MODELS.md")).expect("there is a page of models");
    let models: Vec<&str> = page.split("](crate::").skip(1).filter_map(|rest| rest.split(')').next()).collect();
    assert!(models.len() > 15, "{models:?}");
    let sources: Vec<(String, String)> = files(&["services"], "rs")
        .iter()
        .filter(|path| path.iter().any(|part| part == "src"))
        .map(|path| (shown(path), production(path)))
        .collect();
    let idle: Vec<&str> = models
        .into_iter()
        .filter(|model| {
            let (own, name) =
                (model.split("::").next().unwrap_or_default(), model.rsplit("::").next().unwrap_or_default());
            // A whole module is called from outside of it.
            let own = format!("services/acoustics/src/{own}");
            !sources.iter().any(|(path, code)| (name != *model || !path.starts_with(&own)) && calls(code, name))
        })
        .collect();
    assert!(idle.is_empty(), "nothing but tests calls {idle:?}: what is validated is what runs");
}
