//! Templates: the built-in ones compile with their samples, hostile text prints as text, faults name their place, bytes do not vary.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

use std::path::Path;
use std::sync::Arc;

use reports::{Checked, Paper, Renderer, ReportError, TemplateSource, typeset};
use serde_json::Value;

fn renderer(source: &TemplateSource) -> Renderer {
    Renderer::new(source, Arc::new(typeset)).unwrap()
}

fn check(renderer: &Renderer, template: &str) -> Checked {
    renderer.check(template, "en", None).unwrap()
}

fn folder(files: &[(&str, &str)]) -> (tempfile::TempDir, Renderer) {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in files {
        let path = dir.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    let renderer = renderer(&TemplateSource::Folder(dir.path().to_path_buf()));
    (dir, renderer)
}

#[test]
fn built_in_templates_compile_without_a_warning_in_every_language() {
    let renderer = renderer(&TemplateSource::BuiltIn);
    assert_eq!(renderer.languages(), ["de", "en"]);
    let cases =
        renderer.templates().into_iter().flat_map(|t| renderer.languages().into_iter().map(move |l| (t.clone(), l)));
    for (template, language) in cases {
        let checked = renderer.check(&template.id, &language, Some(Paper::UsLetter)).unwrap();
        assert!(checked.faults.is_empty(), "{}: {:?}", template.id, checked.faults);
        assert!(!template.own && checked.pdf.starts_with(b"%PDF"), "{}", template.id);
        // Three are meant to go on one page: a sheet for the ice, a map, and what a customer takes along.
        let least = if ["beam-map", "customer-sheet", "survey-sheet"].contains(&template.id.as_str()) { 1 } else { 2 };
        assert!(template.id != "customer-sheet" || checked.pages == 1, "{language}: {} pages", checked.pages);
        assert!(checked.pages >= least, "{}: {}", template.id, checked.pages);
    }
}

#[test]
fn a_fault_names_file_line_column_and_what_to_do() {
    let broken = "= Title\n\n#let x = 1 +\n";
    let (_dir, renderer) = folder(&[("broken/main.typ", broken), ("broken/sample.json", "{}")]);
    let fault = &check(&renderer, "broken").faults[0];
    assert_eq!((fault.file.as_str(), fault.line, fault.column), ("broken/main.typ", 3, 13), "{fault:?}");
    assert!(!fault.hint.is_empty());
    let sentence = fault.sentence();
    assert!(sentence.starts_with("broken/main.typ:3:13: "), "{sentence}");
    let (_dir, renderer) = folder(&[("odd/main.typ", "= A"), ("odd/sample.json", "{\n\"a\": }")]);
    let fault = &check(&renderer, "odd").faults[0];
    assert_eq!((fault.file.as_str(), fault.line), ("odd/sample.json", 2));
    assert!(matches!(renderer.check("none", "en", None), Err(ReportError::UnknownTemplate { .. })));
    assert!(matches!(renderer.check("odd", "xx", None), Err(ReportError::UnknownLanguage { .. })));
}

#[test]
fn a_template_reads_nothing_outside_its_folder() {
    for path in ["/etc/passwd", "../secret.txt", "../../secret.txt", "/../../etc/passwd", "/comparison/sample.json"] {
        let text = format!("#set document(title: \"t\")\n#read(\"{path}\")\n");
        let (dir, renderer) = folder(&[("spy/main.typ", &text), ("spy/sample.json", "{}")]);
        std::fs::write(dir.path().parent().unwrap().join("secret.txt"), "secret").unwrap_or(());
        let faults = check(&renderer, "spy").faults;
        assert_eq!(faults.len(), 1, "{path}");
        assert!(faults[0].hint.contains("template's folder"), "{path}: {:?}", faults[0]);
        assert_eq!((faults[0].line, faults[0].column), (2, 7), "{path}: {:?}", faults[0]);
    }
    let package = "#import \"@preview/cetz:0.3.0\": *\n";
    let (_dir, renderer) = folder(&[("net/main.typ", package), ("net/sample.json", "{}")]);
    let faults = check(&renderer, "net").faults;
    assert!(faults[0].message.contains("none are fetched") && faults[0].hint.contains("copy"), "{faults:?}");
    // A link in the folder is not followed.
    let (dir, _) = folder(&[("link/main.typ", "= A")]);
    std::os::unix::fs::symlink("/etc/hostname", dir.path().join("link/host.txt")).unwrap();
    std::fs::write(dir.path().join("link/main.typ"), "#read(\"host.txt\")").unwrap();
    std::os::unix::fs::symlink("/etc", dir.path().join("link/etc")).unwrap();
    let renderer = self::renderer(&TemplateSource::Folder(dir.path().to_path_buf()));
    assert!(check(&renderer, "link").faults[0].hint.contains("links are not followed"));
}

#[test]
fn a_template_says_what_it_reports_on_and_is_known_as_ones_own() {
    let about = "title = \"Shop plan\"\nreports-on = \"fleetPlans\"\n";
    let (dir, own) = folder(&[("shop/main.typ", "= A"), ("shop/template.toml", about), ("plain/main.typ", "= B")]);
    let info = |id: &str| own.templates().into_iter().find(|template| template.id == id).unwrap();
    assert_eq!((info("shop").title.as_str(), info("shop").source_collection.as_str()), ("Shop plan", "fleetPlans"));
    assert_eq!((info("plain").title.as_str(), info("plain").source_collection.as_str()), ("plain", "runs"));
    assert!(info("shop").own && !info("comparison").own);
    std::fs::write(dir.path().join("shop/template.toml"), "reports-on = \"spots\"\n").unwrap();
    let refused = Renderer::new(&TemplateSource::Folder(dir.path().to_path_buf()), Arc::new(typeset)).unwrap_err();
    assert!(
        refused.to_string().contains("shop/template.toml") && refused.to_string().contains("beamFits"),
        "{refused}"
    );
}

#[test]
fn samples_keep_to_the_published_contracts_and_those_are_the_code_s_own() {
    let templates = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../report-templates");
    let read =
        |path: String| -> Value { serde_json::from_slice(&std::fs::read(templates.join(path)).unwrap()).unwrap() };
    for template in renderer(&TemplateSource::BuiltIn).templates() {
        let published = read(format!("{}/schema.json", template.id));
        let made = reports::schema(&template.source_collection).unwrap();
        assert_eq!(published, made, "{}: write it again with the example `schema` of this crate", template.id);
        assert_eq!(made["$schema"], "https://json-schema.org/draft/2020-12/schema");
        assert!(jsonschema::meta::is_valid(&made), "{}", template.id);
        let validator = jsonschema::validator_for(&published).unwrap();
        let mut sample = read(format!("{}/sample.json", template.id));
        let faults: Vec<_> = validator.iter_errors(&sample).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert!(faults.is_empty(), "{}: {faults:?}", template.id);
        sample["settings"]["unit"] = 3.into();
        assert!(!validator.is_valid(&sample), "{}", template.id);
    }
    assert!(reports::schema("spots").is_none());
}

#[test]
fn fingerprints_follow_the_files_that_a_template_uses() {
    let built_in = renderer(&TemplateSource::BuiltIn);
    let (_dir, own) = folder(&[("comparison/main.typ", "#set document(title: \"t\")\nchanged")]);
    assert_ne!(built_in.fingerprint("comparison").unwrap(), own.fingerprint("comparison").unwrap());
    assert_eq!(built_in.fingerprint("customer-sheet").unwrap(), own.fingerprint("customer-sheet").unwrap());
    assert!(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../report-templates/comparison/main.typ").exists());
}
