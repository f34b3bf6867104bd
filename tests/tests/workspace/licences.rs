//! Licences of everything that ends up in the binary or in its tests.

use std::collections::BTreeSet;

use super::{list, metadata, text};

/// Licences that a binary may be handed on under without asking anybody, by their SPDX names.
const FINE: [&str; 13] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// Whether an SPDX expression can be met with fine licences alone: AND binds tighter than OR.
fn fine(expression: &str) -> bool {
    let plain = expression.replace('/', " OR ");
    let plain = plain.trim();
    let mut parts = vec![String::new()];
    let mut depth = 0_u32;
    // Cut at the ORs outside of parentheses.
    for word in plain.split_whitespace() {
        depth += u32::try_from(word.matches('(').count()).unwrap();
        depth -= u32::try_from(word.matches(')').count()).unwrap();
        if depth == 0 && word == "OR" {
            parts.push(String::new());
        } else {
            let last = parts.last_mut().unwrap();
            last.push(' ');
            last.push_str(word);
        }
    }
    if parts.len() > 1 {
        return parts.iter().any(|part| fine(part));
    }
    all_of(plain)
}

/// Parts joined by AND outside of parentheses, each fine.
fn all_of(plain: &str) -> bool {
    let mut depth = 0_u32;
    let mut part = String::new();
    let mut parts = Vec::new();
    for word in plain.split_whitespace() {
        depth += u32::try_from(word.matches('(').count()).unwrap();
        depth -= u32::try_from(word.matches(')').count()).unwrap();
        if depth == 0 && word == "AND" {
            parts.push(std::mem::take(&mut part));
        } else {
            part.push(' ');
            part.push_str(word);
        }
    }
    parts.push(part);
    if parts.len() > 1 {
        return parts.iter().all(|part| fine(part));
    }
    match plain.strip_prefix('(').and_then(|rest| rest.strip_suffix(')')) {
        Some(inner) => fine(inner),
        None => FINE.contains(&plain),
    }
}

#[test]
fn every_dependency_may_be_handed_on() {
    let host = host();
    let metadata = metadata(&["--filter-platform", &host]);
    // Only what this platform compiles: the lock file also knows libraries of others, which are not downloaded.
    let built: BTreeSet<_> = list(&metadata["resolve"], "nodes").iter().map(|node| text(node, "id")).collect();
    let packages = list(&metadata, "packages").iter().filter(|package| built.contains(text(package, "id")));
    let mut count = 0;
    let mut faults = Vec::new();
    for package in packages {
        count += 1;
        let (name, version) = (text(package, "name"), text(package, "version"));
        match package["license"].as_str() {
            Some(expression) if fine(expression) => {}
            Some(expression) => faults.push(format!("{name} {version}: {expression}")),
            None => faults.push(format!("{name} {version}: names no licence")),
        }
    }
    assert!(count > 100, "only {count} packages were looked at");
    assert!(faults.is_empty(), "licences to think about:\n{}", faults.join("\n"));
}

/// The platform that the compiler builds for.
fn host() -> String {
    let output = std::process::Command::new(std::env::var("RUSTC").unwrap_or_else(|_| "rustc".to_owned()))
        .arg("-vV")
        .output()
        .expect("the compiler runs, as it built this test");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    said.lines().find_map(|line| line.strip_prefix("host: ")).expect("it names its host").to_owned()
}

#[test]
fn expressions_are_read_as_spdx_means_them() {
    for (expression, expected) in [
        ("MIT", true),
        ("MIT OR Apache-2.0", true),
        ("MIT/Apache-2.0", true),
        ("GPL-3.0", false),
        ("GPL-3.0 OR MIT", true),
        ("MIT AND GPL-3.0", false),
        ("(MIT OR GPL-3.0) AND Unicode-3.0", true),
        ("(MIT OR Apache-2.0) AND GPL-3.0", false),
        ("Apache-2.0 WITH LLVM-exception OR GPL-2.0", true),
        ("MPL-2.0", false),
        ("", false),
    ] {
        assert_eq!(fine(expression), expected, "{expression}");
    }
}
