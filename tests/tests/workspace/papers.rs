//! README, guide and the pages beside them: what they name is there, and the guide stays short.

use super::root;

const PAPERS: [&str; 7] = [
    "README.md",
    "DEVELOPERS.md",
    "services/server/COMMANDS.md",
    "services/server/OPERATIONS.md",
    "services/server/CHANGELOG.md",
    "tests/MEASUREMENTS.md",
    "tests/FUZZING.md",
];

fn text(paper: &str) -> String {
    std::fs::read_to_string(root().join(paper)).unwrap_or_else(|error| panic!("{paper}: {error}"))
}

#[test]
fn the_guide_is_at_most_14_kb() {
    let bytes = text("DEVELOPERS.md").len();
    assert!(bytes <= 14_000, "{bytes} bytes: move what is not for every change beside the crate that it is about");
}

#[test]
fn every_link_and_picture_leads_to_a_file() {
    let mut seen = 0;
    for paper in PAPERS {
        let folder = root().join(paper).parent().expect("a file has a folder").to_owned();
        for target in text(paper).split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            if target.starts_with("http") || target.starts_with('#') {
                continue;
            }
            assert!(folder.join(target).exists(), "{paper} links to {target}, which there is not");
            seen += 1;
        }
    }
    assert!(seen > 10, "only {seen} links");
}

#[test]
fn every_cargo_command_names_packages_examples_and_tests_that_there_are() {
    let mut seen = 0;
    for paper in PAPERS {
        let text = text(paper);
        for command in text.split(['`', '\n']).filter(|part| part.trim_start().starts_with("cargo ")) {
            let words: Vec<_> = command.split_whitespace().collect();
            let package = after(&words, "-p").map_or_else(|| "tests".to_owned(), str::to_owned);
            let folder = if package == "tests" { root().join("tests") } else { root().join("services").join(&package) };
            assert!(folder.join("Cargo.toml").exists(), "{paper}: {command}: no package {package}");
            for (flag, under) in [("--example", "examples"), ("--test", "tests"), ("--bench", "benches")] {
                let Some(name) = after(&words, flag) else { continue };
                let there = [format!("{name}.rs"), format!("{name}/main.rs")];
                assert!(there.iter().any(|file| folder.join(under).join(file).exists()), "{paper}: {command}");
            }
            seen += 1;
        }
    }
    assert!(seen > 10, "only {seen} commands");
}

fn after<'a>(words: &[&'a str], flag: &str) -> Option<&'a str> {
    words.iter().position(|word| *word == flag).and_then(|at| words.get(at + 1)).copied()
}
