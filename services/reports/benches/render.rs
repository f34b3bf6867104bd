//! Speed of a warm render: the comparison with the sample of its own folder (three pages), and the customer sheet (two).
//!
//! `cargo bench -p reports`. Figures are read by people; nothing asserts a time.
#![allow(missing_docs, clippy::unwrap_used, reason = "a benchmark")]

use criterion::{Criterion, criterion_group, criterion_main};
use reports::{Renderer, TemplateSource};

fn renders(c: &mut Criterion) {
    let renderer = Renderer::new(&TemplateSource::BuiltIn, std::sync::Arc::new(reports::typeset)).unwrap();
    for template in ["comparison", "customer-sheet"] {
        let checked = renderer.check(template, "en", None).unwrap();
        assert!(checked.faults.is_empty(), "{:?}", checked.faults);
        c.bench_function(&format!("{template}, {} pages, warm", checked.pages), |b| {
            b.iter(|| renderer.check(template, "en", None).unwrap());
        });
    }
}

criterion_group!(benches, renders);
criterion_main!(benches);
