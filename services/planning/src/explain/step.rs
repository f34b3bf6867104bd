//! Small builders of steps.

use domain::selection::{ExplainStep, Origin};
use domain::{Fact, Provenance, Sentence};

/// A figure: stable name, symbol, name for people.
pub(super) fn figure(
    name: &str,
    symbol: &'static str,
    title: &'static str,
    value: f64,
    unit: &'static str,
) -> ExplainStep {
    ExplainStep {
        name: name.to_owned(),
        symbol,
        title: Sentence::plain(title),
        value: Some(value),
        unit,
        formula: "",
        source: None,
        text: Vec::new(),
        inputs: Vec::new(),
    }
}

/// A heading without a figure.
pub(super) fn heading(name: &str, title: &'static str, text: Sentence, inputs: Vec<ExplainStep>) -> ExplainStep {
    ExplainStep { value: None, text: vec![text], inputs, ..figure(name, "", title, 0.0, "") }
}

/// What a step is made by and from.
pub(super) trait Build {
    /// Formula in plain text, and where it comes from.
    fn by(self, formula: &'static str, source: Origin) -> Self;
    /// A sentence in plain words, after those before.
    fn says(self, sentence: impl Into<Option<Sentence>>) -> Self;
    /// What it was made from.
    fn from(self, inputs: Vec<ExplainStep>) -> Self;
}

impl Build for ExplainStep {
    fn by(mut self, formula: &'static str, source: Origin) -> Self {
        (self.formula, self.source) = (formula, Some(source));
        self
    }

    fn says(mut self, sentence: impl Into<Option<Sentence>>) -> Self {
        self.text.extend(sentence.into());
        self
    }

    fn from(mut self, inputs: Vec<ExplainStep>) -> Self {
        self.inputs = inputs;
        self
    }
}

/// A figure of a record, with its provenance as the source.
pub(super) fn fact<T: Copy>(
    step: (&str, &'static str, &'static str),
    fact: Fact<T>,
    figure_of: impl FnOnce(T) -> f64,
    unit: &'static str,
) -> ExplainStep {
    let (name, symbol, title) = step;
    let mut made = figure(name, symbol, title, figure_of(fact.value), unit);
    made.source = Some(provenance(fact.provenance));
    made
}

/// Where a figure of a record comes from.
pub(super) const fn provenance(provenance: Provenance) -> Origin {
    Origin::Said(match provenance {
        Provenance::Stated => "from-record",
        Provenance::Measured => "from-measured",
        Provenance::Charted => "from-chart",
        Provenance::Told => "from-telling",
        Provenance::Assumed => "from-assumed",
    })
}
