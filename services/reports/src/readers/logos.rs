//! Logos at the head of every page.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::{LONG, reports, settings};
use crate::logo::Logo;
use crate::render::{Renderer, typeset};
use crate::settings::{Paper, Settings};
use crate::templates::TemplateSource;
use crate::{Rendered, ReportError};

const PNG: &[u8] = include_bytes!("logos/four-by-two.png");
const JPEG: &[u8] = include_bytes!("logos/small.jpg");
const SVG: &[u8] = include_bytes!("../../../../demo-catalog/lantern-bay-tackle.svg");

fn with(logo: Option<&[u8]>) -> Settings {
    let logo = logo.map(|bytes| Logo::new(bytes.to_vec()).unwrap());
    Settings { logo, ..settings("en", Paper::A4) }
}

fn render(renderer: &Renderer, template: &str, source: &str, settings: &Settings) -> Result<Rendered, ReportError> {
    renderer.render(template, &reports::of(source, &|n| format!("Spot {n}"), 2, settings))
}

#[test]
fn every_report_bears_any_kind_of_logo_and_keeps_its_pages() {
    let apart = Arc::new(AtomicUsize::new(0));
    let counted = Arc::clone(&apart);
    let sandbox = Arc::new(move |job: &crate::Job| {
        counted.fetch_add(1, Ordering::Relaxed);
        typeset(job)
    });
    let renderer = Renderer::new(&TemplateSource::BuiltIn, sandbox).unwrap();
    for template in renderer.templates() {
        let render =
            |settings: &Settings| render(&renderer, &template.id, &template.source_collection, settings).unwrap();
        let bare = render(&with(None));
        // One template tells for all which kinds there are; every template tells that it bears one.
        let kinds: &[(&[u8], usize)] =
            if template.id == "survey-sheet" { &[(PNG, 0), (JPEG, 0), (SVG, 2)] } else { &[(SVG, 1)] };
        for (logo, drawn_apart) in kinds {
            apart.store(0, Ordering::Relaxed);
            let one = render(&with(Some(logo)));
            if kinds.len() > 1 {
                assert_eq!(one, render(&with(Some(logo))));
            }
            assert_eq!(one.pages, bare.pages, "{}: the logo took room from the pages", template.id);
            assert_ne!(one.pdf, bare.pdf, "{}: the logo does not show", template.id);
            // A drawing may take long: it is typeset where time and memory are limited.
            assert_eq!(apart.load(Ordering::Relaxed), *drawn_apart, "{}", template.id);
        }
    }
}

#[test]
fn a_logo_is_described_by_the_name_of_the_organisation() {
    let renderer = super::renderer();
    let logo = |settings: &Settings| {
        let report = reports::of("runs", &|n| format!("Spot {n}"), 1, settings);
        renderer.data(&report).unwrap()["settings"]["logo"].clone()
    };
    assert_eq!(logo(&with(None)), serde_json::Value::Null);
    let named = serde_json::json!({ "file": "/logo.svg", "alt": format!("Logo of {LONG}") });
    assert_eq!(logo(&with(Some(SVG))), named);
    let nameless = Settings { organisation: String::new(), language: "de".to_owned(), ..with(Some(JPEG)) };
    assert_eq!(logo(&nameless), serde_json::json!({ "file": "/logo.jpg", "alt": "Logo" }));
}

#[test]
fn a_logo_that_does_not_decode_is_told_of_as_such() {
    let renderer = super::renderer();
    let damaged = |bytes: &[u8], at: usize| {
        let mut bytes = bytes.to_vec();
        bytes[at..].iter_mut().for_each(|byte| *byte = !*byte);
        bytes
    };
    let half_drawn = b"<svg xmlns='http://www.w3.org/2000/svg' width='0'/>".to_vec();
    // After the head, which is all that is read before.
    for bytes in [damaged(PNG, 40), damaged(JPEG, 400), half_drawn] {
        let outcome = render(&renderer, "comparison", "runs", &with(Some(&bytes)));
        let Err(ReportError::Logo(problem)) = outcome else { panic!("{:?}", outcome.map(|done| done.pages)) };
        assert!(problem.starts_with("logo cannot be read: failed to"), "{problem}");
    }
}
