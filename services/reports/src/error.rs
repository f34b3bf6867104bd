//! Why nothing was rendered, with the place in the template where it went wrong.

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
    /// The data are more than a report can hold.
    #[error("{0}")]
    TooMuch(
        /// What was given, what is accepted, what to do.
        String,
    ),
    /// A file of the template folder cannot be read.
    #[error("the template file {file} cannot be read: {detail}")]
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
}

/// One thing wrong with a template.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TemplateFault {
    /// File in the template folder.
    pub file: String,
    /// Line, from 1; 0 if unknown.
    pub line: u32,
    /// What is wrong.
    pub message: String,
    /// What to do about it; may be empty.
    pub hint: String,
}

impl TemplateFault {
    fn sentence(&self) -> String {
        if self.file.is_empty() {
            self.message.clone()
        } else {
            format!("{}:{}: {}", self.file, self.line, self.message)
        }
    }
}
