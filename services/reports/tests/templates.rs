//! Templates: the built-in ones compile with their samples, hostile text prints as text, faults name their place, bytes do not vary.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

use std::path::Path;

use reports::{Renderer, ReportError, TemplateSource};

fn folder(files: &[(&str, &str)]) -> (tempfile::TempDir, Renderer) {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in files {
        let path = dir.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    let renderer = Renderer::new(&TemplateSource::Folder(dir.path().to_path_buf())).unwrap();
    (dir, renderer)
}

#[test]
fn built_in_templates_compile_without_a_warning() {
    let renderer = Renderer::new(&TemplateSource::BuiltIn).unwrap();
    for template in renderer.templates() {
        let checked = renderer.check(&template.id).unwrap();
        assert!(checked.faults.is_empty(), "{}: {:?}", template.id, checked.faults);
        // Two are meant to go on one page: a sheet for the ice, and a map.
        let least = if ["beam-map", "survey-sheet"].contains(&template.id.as_str()) { 1 } else { 2 };
        assert!(checked.pages >= least, "{}: {}", template.id, checked.pages);
    }
}

#[test]
fn a_fault_names_file_line_and_reason() {
    let broken = "= Title\n\n#let x = 1 +\n";
    let (_dir, renderer) = folder(&[("broken/main.typ", broken), ("broken/sample.json", "{}")]);
    let checked = renderer.check("broken").unwrap();
    assert_eq!(
        (checked.faults[0].file.as_str(), checked.faults[0].line),
        ("broken/main.typ", 3),
        "{:?}",
        checked.faults
    );
    let (_dir, renderer) = folder(&[("odd/main.typ", "= A"), ("odd/sample.json", "{\n\"a\": }")]);
    assert_eq!(renderer.check("odd").unwrap().faults[0].line, 2);
    assert!(matches!(renderer.check("none"), Err(ReportError::UnknownTemplate { .. })));
}

#[test]
fn a_template_reads_nothing_outside_its_folder() {
    for path in ["/etc/hostname", "../secret.txt", "/../../etc/hostname"] {
        let text = format!("#set document(title: \"t\")\n#read(\"{path}\")\n");
        let (dir, renderer) = folder(&[("spy/main.typ", &text), ("spy/sample.json", "{}")]);
        std::fs::write(dir.path().parent().unwrap().join("secret.txt"), "secret").unwrap_or(());
        assert!(!renderer.check("spy").unwrap().faults.is_empty(), "{path}");
    }
    let package = "#import \"@preview/cetz:0.3.0\": *\n";
    let (_dir, renderer) = folder(&[("net/main.typ", package), ("net/sample.json", "{}")]);
    assert!(!renderer.check("net").unwrap().faults.is_empty());
    // A link in the folder is not followed.
    let (dir, _) = folder(&[("link/main.typ", "= A")]);
    std::os::unix::fs::symlink("/etc/hostname", dir.path().join("link/host.txt")).unwrap();
    std::fs::write(dir.path().join("link/main.typ"), "#read(\"host.txt\")").unwrap();
    let renderer = Renderer::new(&TemplateSource::Folder(dir.path().to_path_buf())).unwrap();
    assert!(!renderer.check("link").unwrap().faults.is_empty());
}

#[test]
fn fingerprints_follow_the_files_that_a_template_uses() {
    let built_in = Renderer::new(&TemplateSource::BuiltIn).unwrap();
    let (_dir, own) = folder(&[("comparison/main.typ", "#set document(title: \"t\")\nchanged")]);
    assert_ne!(built_in.fingerprint("comparison").unwrap(), own.fingerprint("comparison").unwrap());
    assert_eq!(built_in.fingerprint("customer-sheet").unwrap(), own.fingerprint("customer-sheet").unwrap());
    assert!(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../report-templates/comparison/main.typ").exists());
}
