//! Small builders of steps.

use domain::selection::ExplainStep;
use domain::{Fact, Provenance};

/// A figure: stable name, symbol, name for people.
pub(super) fn figure(name: &str, symbol: &str, title: &str, value: f64, unit: &str) -> ExplainStep {
    ExplainStep {
        name: name.to_owned(),
        symbol: symbol.to_owned(),
        title: title.to_owned(),
        value: Some(value),
        unit: unit.to_owned(),
        formula: String::new(),
        source: String::new(),
        text: String::new(),
        inputs: Vec::new(),
    }
}

/// A heading without a figure.
pub(super) fn heading(name: &str, title: &str, text: &str, inputs: Vec<ExplainStep>) -> ExplainStep {
    ExplainStep {
        name: name.to_owned(),
        symbol: String::new(),
        title: title.to_owned(),
        value: None,
        unit: String::new(),
        formula: String::new(),
        source: String::new(),
        text: text.to_owned(),
        inputs,
    }
}

/// What a step is made by and from.
pub(super) trait Build {
    /// Formula in plain text, and where it comes from.
    fn by(self, formula: &str, source: &str) -> Self;
    /// A sentence in plain words.
    fn says(self, text: impl Into<String>) -> Self;
    /// What it was made from.
    fn from(self, inputs: Vec<ExplainStep>) -> Self;
}

impl Build for ExplainStep {
    fn by(mut self, formula: &str, source: &str) -> Self {
        self.formula = formula.to_owned();
        self.source = source.to_owned();
        self
    }

    fn says(mut self, text: impl Into<String>) -> Self {
        self.text = text.into();
        self
    }

    fn from(mut self, inputs: Vec<ExplainStep>) -> Self {
        self.inputs = inputs;
        self
    }
}

/// A figure of a record, with its provenance as the source.
pub(super) fn fact<T: Copy>(
    step: (&str, &str, &str),
    fact: Fact<T>,
    figure_of: impl FnOnce(T) -> f64,
    unit: &str,
) -> ExplainStep {
    let (name, symbol, title) = step;
    let mut made = figure(name, symbol, title, figure_of(fact.value), unit);
    made.source = provenance(fact.provenance).to_owned();
    made
}

/// Where a figure of a record comes from, in words.
pub(super) fn provenance(provenance: Provenance) -> &'static str {
    match provenance {
        Provenance::Stated => "stated in the sensor's record",
        Provenance::Measured => "measured",
        Provenance::Charted => "read off a chart",
        Provenance::Told => "told by somebody who should know",
        Provenance::Assumed => "ASSUMED: nothing better is known",
    }
}
