//! No circle of files inside a crate: a file that takes a name from another stands above it, directly or through others.
//!
//! Names are read from paths (`use crate::x::Y`, `super::x()`, `child::Z`) and followed through re-exports to the file that
//! defines them. A module that only declares or re-exports its children does not build on them; what its own code uses counts.
//! Tests are left out: they look at all.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::root;
use super::rust_tokens::{tokens, without_tests};

/// What an import brings: its path, the name by which it is known, and whether it is handed on.
struct Import {
    path: Vec<String>,
    name: String,
    public: bool,
}

/// A module: a file, or a block inside one.
#[derive(Default)]
struct Module {
    file: PathBuf,
    parent: Option<usize>,
    children: BTreeMap<String, usize>,
    items: BTreeSet<String>,
    imports: Vec<Import>,
    /// Paths in the code, and every word of it.
    paths: Vec<Vec<String>>,
    words: BTreeSet<String>,
}

/// Where a path leads.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Place {
    Module(usize),
    ItemOf(usize),
}

/// The modules of one crate; the first is its root.
struct Crate {
    modules: Vec<Module>,
}

/// From each file to the files that it takes names from, with these names.
type Arrows = BTreeMap<PathBuf, BTreeMap<PathBuf, BTreeSet<String>>>;

fn is_word(token: &str) -> bool {
    token.starts_with(|c: char| c.is_alphabetic() || c == '_')
}

/// Whether a visible word before `use` hands the import on.
fn is_public(before: &[String]) -> bool {
    match before.last().map(String::as_str) {
        Some("pub") => true,
        Some(")") => before.iter().rev().take(6).any(|token| token == "pub"),
        _ => false,
    }
}

/// The imports of a tree that begins at the first token.
fn imports_of(tree: &[String], prefix: &[String], public: bool, all: &mut Vec<Import>) {
    let mut path = prefix.to_vec();
    let mut at = 0;
    while at < tree.len() {
        match tree[at].as_str() {
            "::" => {}
            "{" => {
                for part in parts(&tree[at + 1..tree.len() - 1]) {
                    imports_of(part, &path, public, all);
                }
                return;
            }
            "as" => {
                all.push(Import { path, name: tree[at + 1].clone(), public });
                return;
            }
            "self" if !path.is_empty() => {}
            word => path.push(word.to_owned()),
        }
        at += 1;
    }
    if let Some(name) = path.last().cloned() {
        all.push(Import { path, name, public });
    }
}

/// What stands between the commas of a list, brackets kept together.
fn parts(list: &[String]) -> Vec<&[String]> {
    let mut depth = 0;
    list.split(|token| {
        match token.as_str() {
            "{" => depth += 1,
            "}" => depth -= 1,
            _ => {}
        }
        depth == 0 && token == ","
    })
    .filter(|part| !part.is_empty())
    .collect()
}

/// The end of the block that begins at `open`.
fn end_of_block(code: &[String], open: usize) -> usize {
    let mut depth = 0;
    for (at, token) in code.iter().enumerate().skip(open) {
        match token.as_str() {
            "{" => depth += 1,
            "}" => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return at;
        }
    }
    panic!("a block does not end");
}

impl Crate {
    /// Reads a crate from its first file.
    fn read(first: &Path) -> Self {
        let mut read = Self { modules: Vec::new() };
        read.file(first, first.parent().expect("a file lies in a folder"), None);
        read
    }

    /// Reads a file whose children lie in `folder`.
    fn file(&mut self, file: &Path, folder: &Path, parent: Option<usize>) -> usize {
        let source = std::fs::read_to_string(file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        self.module(file, folder, parent, &without_tests(&tokens(&source)))
    }

    fn module(&mut self, file: &Path, folder: &Path, parent: Option<usize>, code: &[String]) -> usize {
        let id = self.modules.len();
        self.modules.push(Module { file: file.to_owned(), parent, ..Module::default() });
        let (mut at, mut depth) = (0, 0_i32);
        while at < code.len() {
            let next = code.get(at + 1).map_or("", String::as_str);
            let after = code.get(at + 2).map_or("", String::as_str);
            match code[at].as_str() {
                "{" | "(" | "[" => depth += 1,
                "}" | ")" | "]" => depth -= 1,
                "mod" if depth == 0 && after == ";" => {
                    let flat = folder.join(format!("{next}.rs"));
                    let inner = folder.join(next);
                    let file = if flat.exists() { flat } else { inner.join("mod.rs") };
                    let child = self.file(&file, &inner, Some(id));
                    self.modules[id].children.insert(next.to_owned(), child);
                    at += 2;
                }
                "mod" if depth == 0 && after == "{" => {
                    let end = end_of_block(code, at + 2);
                    let child = self.module(file, &folder.join(next), Some(id), &code[at + 3..end]);
                    self.modules[id].children.insert(next.to_owned(), child);
                    at = end;
                }
                "use" if next != "<" => {
                    let end = at + code[at..].iter().position(|token| token == ";").expect("an import ends");
                    imports_of(&code[at + 1..end], &[], is_public(&code[..at]), &mut self.modules[id].imports);
                    at = end;
                }
                word if is_word(word) => at = self.word(id, code, at, depth),
                _ => {}
            }
            at += 1;
        }
        id
    }

    /// Notes a word of the code and the path that begins with it; answers where that ends.
    fn word(&mut self, id: usize, code: &[String], at: usize, depth: i32) -> usize {
        const ITEMS: [&str; 8] = ["fn", "struct", "enum", "trait", "type", "const", "static", "macro_rules"];
        let module = &mut self.modules[id];
        if depth == 0 && ITEMS.contains(&code[at].as_str()) {
            let name = code[at + 1..].iter().find(|token| is_word(token) || *token == "{");
            module.items.extend(name.cloned());
        }
        let mut path = vec![code[at].clone()];
        let mut end = at;
        while code.get(end + 1).is_some_and(|token| token == "::")
            && code.get(end + 2).is_some_and(|next| is_word(next))
        {
            path.push(code[end + 2].clone());
            end += 2;
        }
        module.words.insert(path[0].clone());
        let begins = at == 0 || (code[at - 1] != "::" && code[at - 1] != ".");
        if begins && path.len() > 1 {
            module.paths.push(path);
        }
        end
    }

    /// Where a path written in a module leads, if it stays in the crate.
    fn resolve(&self, from: usize, path: &[String], hops: usize) -> Option<Place> {
        let (first, rest) = path.split_first()?;
        let start = match first.as_str() {
            "crate" => 0,
            "self" => from,
            "super" => self.modules[from].parent?,
            name => {
                let module = &self.modules[from];
                if let Some(child) = module.children.get(name) {
                    return self.walk(*child, rest, hops);
                }
                let import = module.imports.iter().find(|import| import.name == name && import.path != *path)?;
                return self.through(from, import, rest, hops);
            }
        };
        self.walk(start, rest, hops)
    }

    fn through(&self, from: usize, import: &Import, rest: &[String], hops: usize) -> Option<Place> {
        assert!(hops < 40, "an import leads to itself: {:?}", import.path);
        match self.resolve(from, &import.path, hops + 1)? {
            Place::Module(module) => self.walk(module, rest, hops + 1),
            item @ Place::ItemOf(_) => Some(item),
        }
    }

    fn walk(&self, at: usize, rest: &[String], hops: usize) -> Option<Place> {
        let Some((name, further)) = rest.split_first() else { return Some(Place::Module(at)) };
        let module = &self.modules[at];
        if name == "super" {
            return self.walk(module.parent?, further, hops);
        }
        // A module and a function may share a name; the end of a path means the function.
        let handed_on = module.imports.iter().find(|import| import.name == *name);
        match (module.children.get(name), handed_on) {
            (Some(child), handed_on) if handed_on.is_none() || !further.is_empty() => self.walk(*child, further, hops),
            (_, Some(import)) if !module.items.contains(name) => self.through(at, import, further, hops),
            _ => Some(Place::ItemOf(at)),
        }
    }

    /// Whether a module lies inside another.
    fn is_within(&self, inner: usize, outer: usize) -> bool {
        inner == outer || self.modules[inner].parent.is_some_and(|parent| self.is_within(parent, outer))
    }

    /// Which file takes which names from which.
    fn arrows(&self) -> Arrows {
        let mut arrows = Arrows::new();
        for (id, module) in self.modules.iter().enumerate() {
            let imported = module.imports.iter().map(|import| (&import.path, Some(import)));
            for (path, import) in imported.chain(module.paths.iter().map(|path| (path, None))) {
                let inside = matches!(path[0].as_str(), "crate" | "super" | "self");
                assert!(!inside || path.last().is_none_or(|last| last != "*"), "{path:?} hides what is taken");
                let Some(Place::ItemOf(target)) = self.resolve(id, path, 0) else { continue };
                let only_handed_on = import.is_some_and(|import| {
                    import.public && !module.words.contains(&import.name) && self.is_within(target, id)
                });
                let other = &self.modules[target].file;
                if *other != module.file && !only_handed_on {
                    let names = arrows.entry(module.file.clone()).or_default().entry(other.clone()).or_default();
                    names.extend(path.last().cloned());
                }
            }
        }
        arrows
    }
}

/// Every file that can be reached from one along the arrows.
fn reached(arrows: &Arrows, from: &Path) -> BTreeSet<PathBuf> {
    let mut found = BTreeSet::new();
    let mut open = vec![from];
    while let Some(file) = open.pop() {
        for next in arrows.get(file).into_iter().flat_map(BTreeMap::keys) {
            if found.insert(next.clone()) {
                open.push(next);
            }
        }
    }
    found
}

/// The circles, each as the arrows inside of it.
fn circles(arrows: &Arrows) -> Vec<Vec<String>> {
    let reach: BTreeMap<&PathBuf, _> = arrows.keys().map(|file| (file, reached(arrows, file))).collect();
    let mut seen = BTreeSet::new();
    let mut found = Vec::new();
    for (file, after) in &reach {
        if !after.contains(*file) || !seen.insert((*file).clone()) {
            continue;
        }
        let circle: BTreeSet<_> =
            after.iter().filter(|other| reach.get(other).is_some_and(|after| after.contains(*file))).collect();
        seen.extend(circle.iter().map(|file| (*file).clone()));
        let shown = |file: &Path| file.strip_prefix(root()).unwrap_or(file).display().to_string();
        let inside = circle.iter().flat_map(|file| {
            let others = arrows[*file].iter().filter(|(other, _)| circle.contains(other));
            others.map(|(other, names)| format!("  {} -> {}: {names:?}", shown(file), shown(other)))
        });
        found.push(inside.collect());
    }
    found
}

/// The first file of each crate.
fn crates() -> Vec<PathBuf> {
    let services = std::fs::read_dir(root().join("services")).expect("there are services");
    let mut folders: Vec<_> = services.map(|entry| entry.expect("an entry can be read").path()).collect();
    folders.push(root().join("proto"));
    let firsts = folders.iter().flat_map(|folder| ["src/lib.rs", "src/main.rs"].map(|first| folder.join(first)));
    firsts.filter(|first| first.exists()).collect()
}

#[test]
fn no_files_of_a_crate_build_on_each_other_in_a_circle() {
    let mut found = Vec::new();
    for first in crates() {
        let arrows = Crate::read(&first).arrows();
        found.extend(circles(&arrows));
    }
    let shown: Vec<String> =
        found.iter().map(|circle| format!("{} arrows:\n{}", circle.len(), circle.join("\n"))).collect();
    assert!(shown.is_empty(), "{} circles of files:\n{}", shown.len(), shown.join("\n"));
}

/// A crate of a few lines, read from a folder that the test writes.
fn arrows_among(files: &[(&str, &str)]) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a folder for the test");
    for (name, source) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().expect("it lies in a folder")).expect("a folder");
        std::fs::write(path, source).expect("a file");
    }
    let arrows = Crate::read(&folder.path().join("lib.rs")).arrows();
    let name = |file: &Path| file.strip_prefix(folder.path()).expect("inside").display().to_string();
    arrows.iter().flat_map(|(from, to)| to.keys().map(move |to| format!("{} -> {}", name(from), name(to)))).collect()
}

#[test]
fn arrows_are_seen_however_a_name_is_taken() {
    for (what, lib, a, b, expected) in [
        ("an import", "mod a; mod b;", "use crate::b::B;", "pub struct B;", "a.rs -> b.rs"),
        ("a path", "mod a; mod b;", "fn f() { super::b::g(1, \"}\") }", "pub fn g() {}", "a.rs -> b.rs"),
        (
            "a group",
            "mod a; mod b;",
            "use super::{b::{self, B as C}}; fn f() { b::g() }",
            "pub struct B;",
            "a.rs -> b.rs",
        ),
        ("a re-export", "mod a; mod b; pub use b::B;", "use crate::B;", "pub struct B;", "a.rs -> b.rs"),
        ("a shared name", "mod a; mod b; pub use b::b;", "fn f() { crate::b() }", "pub fn b() {}", "a.rs -> b.rs"),
        ("the parent's own", "mod a; mod b; struct L;", "use super::L;", "", "a.rs -> lib.rs"),
        ("a child's", "mod a; mod b; fn f() { b::g() }", "", "pub fn g() {}", "lib.rs -> b.rs"),
        ("a re-export in use", "mod a; mod b; pub use b::B; fn f(_: B) {}", "", "pub struct B;", "lib.rs -> b.rs"),
        (
            "a macro's argument",
            "mod a; mod b;",
            "fn f() { format!(\"{}\", crate::b::N) }",
            "pub const N: u8 = 1;",
            "a.rs -> b.rs",
        ),
    ] {
        assert_eq!(arrows_among(&[("lib.rs", lib), ("a.rs", a), ("b.rs", b)]), [expected], "{what}");
    }
    for (what, lib, a) in [
        ("a re-export alone", "mod a; mod b; pub use b::B;", ""),
        ("a test", "mod a; mod b;", "#[cfg(test)]\nmod tests { use crate::b::B; }"),
        ("a comment", "mod a; mod b;", "// crate::b::B\n/* crate::b::B */ const A: &str = r#\"crate::b::B\"#;"),
        ("an import of a module without use", "mod a; mod b;", "use crate::b;"),
        ("a visibility", "mod a; mod b;", "pub(super) fn f<'a>(x: &'a str) -> char { '\\'' }"),
    ] {
        let none: [&str; 0] = [];
        assert_eq!(arrows_among(&[("lib.rs", lib), ("a.rs", a), ("b.rs", "pub struct B;")]), none, "{what}");
    }
}

#[test]
fn a_circle_is_found_and_named() {
    let arrow =
        |from: &str, to: &str| (PathBuf::from(from), BTreeMap::from([(to.into(), BTreeSet::from(["X".to_owned()]))]));
    let arrows = Arrows::from([arrow("a", "b"), arrow("b", "c"), arrow("c", "b"), arrow("d", "a")]);
    assert_eq!(circles(&arrows), [["  b -> c: {\"X\"}", "  c -> b: {\"X\"}"]]);
}
