//! Why nothing was rendered, with the place in the template where it went wrong.

use serde::{Deserialize, Serialize};

/// Why nothing was rendered.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReportError {
    /// No such template.
    #[error("there is no template '{given}'; there are {known}")]
    UnknownTemplate {
        /// What was asked for.
        given: String,
        /// Those that there are.
        known: String,
    },
    /// The template does not compile.
    #[error("template '{template}' does not compile: {}", .faults.first().map_or_else(String::new, TemplateFault::sentence))]
    Template {
        /// The template.
        template: String,
        /// Everything that is wrong with it.
        faults: Vec<TemplateFault>,
    },
    /// No such language.
    #[error("there are no words in the language '{given}'; there are {known}")]
    UnknownLanguage {
        /// What was asked for.
        given: String,
        /// Those that there are.
        known: String,
    },
    /// The data are more than a report can hold.
    #[error("{0}")]
    TooMuch(
        /// What was given, what is accepted, what to do.
        String,
    ),
    /// A template took more time or memory than it may.
    #[error("template '{template}' {text}")]
    Costly {
        /// The template.
        template: String,
        /// What it took, what it may take, what to do.
        text: String,
    },
    /// The logo is no picture that can be drawn.
    #[error("{0}")]
    Logo(
        /// What was given, what is accepted, what to do.
        String,
    ),
    /// A file of the template folder cannot be read.
    #[error("the template file {file} cannot be used: {detail}")]
    File {
        /// The file.
        file: String,
        /// Why.
        detail: String,
    },
    /// Never expected: the data do not serialise.
    #[error("the report's data cannot be written: {0}")]
    Data(
        /// What the writer said.
        String,
    ),
    /// Never expected: the process that was to typeset does not answer.
    #[error("the typesetting process: {0}")]
    Process(
        /// What went wrong.
        String,
    ),
}

/// One thing wrong with a template.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct TemplateFault {
    /// File in the template folder.
    pub file: String,
    /// Line, from 1; 0 if unknown.
    pub line: u32,
    /// Column, from 1, in characters; 0 if unknown.
    pub column: u32,
    /// What is wrong.
    pub message: String,
    /// What to do about it; may be empty.
    pub hint: String,
}

impl TemplateFault {
    /// Place, fault and what to do, in a line.
    #[must_use]
    pub fn sentence(&self) -> String {
        let place =
            if self.file.is_empty() { String::new() } else { format!("{}:{}:{}: ", self.file, self.line, self.column) };
        let hint = if self.hint.is_empty() { String::new() } else { format!(" ({})", self.hint) };
        format!("{place}{}{hint}", self.message)
    }
}
