//! The physics against values from outside the project: each row of `tests/reference/values.json` that a model answers.
//! Sources and tolerances stand in the rows themselves.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::disallowed_methods,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)]

#[path = "../../../services/planning/tests/common/mod.rs"]
mod common;
mod left_out;
mod models;
mod page;
mod scatter;
mod second;
mod survey;

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::Value;

#[derive(Deserialize)]
struct Row {
    id: String,
    topic: String,
    inputs: Value,
    value: Value,
    units: String,
    source: String,
    method: String,
    tolerance: BTreeMap<String, f64>,
}

impl Row {
    fn input(&self, name: &str) -> f64 {
        self.inputs[name].as_f64().unwrap_or_else(|| panic!("{} has no input {name}", self.id))
    }

    fn text(&self, name: &str) -> &str {
        self.inputs[name].as_str().unwrap_or_else(|| panic!("{} has no input {name}", self.id))
    }

    fn has(&self, name: &str) -> bool {
        self.inputs.get(name).is_some()
    }

    /// The library or publication, without what of it was used.
    fn source_name(&self) -> &str {
        self.source.split([',', ';', '(']).next().unwrap_or_default().trim()
    }

    /// Whether the value comes from a library or a publication.
    fn is_independent(&self) -> bool {
        matches!(self.method.as_str(), "library" | "published" | "published_formula")
    }
}

fn rows() -> Vec<Row> {
    serde_json::from_str(include_str!("../../reference/values.json")).unwrap()
}

#[test]
fn models_agree_with_values_from_outside() {
    let mut topics: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    let mut sources = BTreeMap::new();
    let mut worse = Vec::new();
    let mut independent = 0;
    let mut compared = Vec::new();
    let (mut left, mut unsaid) = (BTreeMap::new(), Vec::new());
    for row in rows() {
        let Some(got) = models::answer(&row) else {
            match left_out::of(&row) {
                Some(why) => *left.entry(why).or_insert(0) += 1,
                None => unsaid.push(row.id),
            }
            continue;
        };
        let expected = row.value.as_f64().unwrap();
        let allowed = row
            .tolerance
            .iter()
            .map(|(kind, t)| if kind == "rel" { t * expected.abs() } else { *t })
            .fold(0.0, f64::max);
        let allowed = allowed + models::own_uncertainty(&row);
        let error = (got - expected).abs();
        topics.entry(row.topic.clone()).or_default().push(error / allowed);
        *sources.entry(row.source_name().to_owned()).or_insert(0) += 1;
        independent += usize::from(row.is_independent());
        if error.is_nan() || error > allowed {
            worse.push(format!("{}: got {got}, expected {expected} ± {allowed} ({})", row.id, row.source));
        }
        compared.push((row, page::Compared { difference: error, of_allowed: error / allowed }));
    }
    println!(
        "{:<22} {:>5} {:>8} {:>8} {:>8}   (error over what is allowed)",
        "topic", "rows", "median", "99 %", "most"
    );
    let mut total = 0;
    for (topic, errors) in &mut topics {
        errors.sort_by(f64::total_cmp);
        let at = |q: f64| errors[((errors.len() - 1) as f64 * q).round() as usize];
        println!("{topic:<22} {:>5} {:>8.3} {:>8.3} {:>8.3}", errors.len(), at(0.5), at(0.99), at(1.0));
        total += errors.len();
    }
    println!("{total} values, {independent} of them from a library or a publication, {} sources", sources.len());
    assert!(worse.is_empty(), "{}", worse.join("\n"));
    assert!(unsaid.is_empty(), "neither compared nor with a reason: {}", unsaid.join(", "));
    // The table must not shrink unnoticed.
    assert!(total >= 460, "only {total} values were checked");
    assert!(sources.len() >= 12, "only {} sources", sources.len());
    let page = page::page(&compared, &left);
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../services/acoustics/MODELS.md");
    if std::env::var_os("LAKEBEAM_WRITE_PAGES").is_some() {
        std::fs::write(path, &page).unwrap();
    }
    let known = std::fs::read_to_string(path).unwrap_or_default();
    assert!(known == page, "MODELS.md is not what was measured; LAKEBEAM_WRITE_PAGES=1 writes it anew");
}

#[test]
fn hard_bottoms_differ_from_the_handbook_by_what_the_page_says() {
    let mut differences: Vec<f64> = rows()
        .iter()
        .filter(|row| models::is_hard_bottom_of_the_handbook(row))
        .map(|row| (models::bottom_strength(row).unwrap() - row.value.as_f64().unwrap()).abs())
        .collect();
    differences.sort_by(f64::total_cmp);
    assert_eq!(differences.len(), 21);
    // The figures of the page, to half their last digit.
    let (median, most) = (differences[10], differences[20]);
    assert!((median - page::HARD_BOTTOMS_MEDIAN_DB).abs() <= 0.005, "median {median}");
    assert!((most - page::HARD_BOTTOMS_MOST_DB).abs() <= 0.005, "most {most}");
}

#[test]
fn beyond_their_validity_models_say_so_at_both_ends() {
    use acoustics::units::{Celsius, GramsPerKilogram, Hertz, Metres};
    use acoustics::{ModelError, absorption, water};
    let salt = GramsPerKilogram::new(5.0);
    let outside: Vec<(&str, Result<f64, ModelError>)> = vec![
        ("Marczak cold", water::sound_speed_marczak(Celsius::new(-0.1)).map(|v| v.get())),
        ("Marczak hot", water::sound_speed_marczak(Celsius::new(95.1)).map(|v| v.get())),
        ("Bilaniuk and Wong cold", water::sound_speed_bilaniuk_wong(Celsius::new(-0.1)).map(|v| v.get())),
        ("Bilaniuk and Wong hot", water::sound_speed_bilaniuk_wong(Celsius::new(100.1)).map(|v| v.get())),
        ("UNESCO hot", water::sound_speed_unesco(Celsius::new(40.1), salt).map(|v| v.get())),
        ("UNESCO brine", water::sound_speed_unesco(Celsius::new(4.0), GramsPerKilogram::new(40.1)).map(|v| v.get())),
        ("UNESCO NaN", water::sound_speed_unesco(Celsius::new(f64::NAN), salt).map(|v| v.get())),
        ("absorption low", absorption::fisher_simmons(Hertz::from_khz(9.0), Celsius::new(4.0)).map(|v| v.get())),
        ("absorption high", absorption::fisher_simmons(Hertz::from_khz(2001.0), Celsius::new(4.0)).map(|v| v.get())),
        (
            "Francois and Garrison deep",
            absorption::francois_garrison(Hertz::from_khz(200.0), Celsius::new(4.0), salt, Metres::new(501.0), 7.5)
                .map(|v| v.get()),
        ),
        (
            "Francois and Garrison acid",
            absorption::francois_garrison(Hertz::from_khz(200.0), Celsius::new(4.0), salt, Metres::new(5.0), 5.0)
                .map(|v| v.get()),
        ),
    ];
    for (what, answer) in outside {
        assert!(matches!(answer, Err(ModelError::OutOfRange { .. })), "{what}: {answer:?}");
    }
}
