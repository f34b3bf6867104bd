//! One compilation as bytes, so that it can be done in another process: a line of JSON, then the files, then the outcome likewise.

use std::io::{BufRead, Read, Write};

use serde::{Deserialize, Serialize};

use crate::error::TemplateFault;
use crate::templates::Files;

/// A template with all that it may read, and its data.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    pub(crate) template: String,
    pub(crate) data: String,
    pub(crate) files: Files,
}

/// What came of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typeset {
    /// A PDF and its number of pages.
    Done {
        /// The PDF.
        pdf: Vec<u8>,
        /// Its pages.
        pages: u32,
    },
    /// The template does not compile.
    Faults(Vec<TemplateFault>),
}

#[derive(Debug, Serialize, Deserialize)]
struct JobHead {
    template: String,
    data: String,
    files: Vec<(String, u64)>,
}

#[derive(Debug, Serialize, Deserialize)]
struct TypesetHead {
    pages: u32,
    bytes: u64,
    faults: Vec<TemplateFault>,
}

impl Job {
    /// The template's id.
    #[must_use]
    pub fn template(&self) -> &str {
        &self.template
    }

    /// Writes the job for another process.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn write(&self, mut to: impl Write) -> std::io::Result<()> {
        let sizes = self.files.iter().map(|(path, bytes)| (path.clone(), bytes.len() as u64)).collect();
        let head = JobHead { template: self.template.clone(), data: self.data.clone(), files: sizes };
        head_line(&mut to, &head)?;
        self.files.values().try_for_each(|bytes| to.write_all(bytes))?;
        to.flush()
    }

    /// Reads what another process wrote.
    ///
    /// # Errors
    /// It is no job.
    pub fn read(mut from: impl BufRead) -> std::io::Result<Self> {
        let head: JobHead = read_head(&mut from)?;
        let mut files = Files::new();
        for (path, size) in head.files {
            files.insert(path, exactly(&mut from, size)?);
        }
        Ok(Self { template: head.template, data: head.data, files })
    }
}

impl Typeset {
    /// Writes the outcome for the process that asked.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn write(&self, mut to: impl Write) -> std::io::Result<()> {
        let (pdf, pages, faults) = match self {
            Self::Done { pdf, pages } => (pdf.as_slice(), *pages, Vec::new()),
            Self::Faults(faults) => ([].as_slice(), 0, faults.clone()),
        };
        head_line(&mut to, &TypesetHead { pages, bytes: pdf.len() as u64, faults })?;
        to.write_all(pdf)?;
        to.flush()
    }

    /// Reads what another process answered.
    ///
    /// # Errors
    /// It is no outcome.
    pub fn read(mut from: impl BufRead) -> std::io::Result<Self> {
        let head: TypesetHead = read_head(&mut from)?;
        if !head.faults.is_empty() {
            return Ok(Self::Faults(head.faults));
        }
        Ok(Self::Done { pdf: exactly(&mut from, head.bytes)?, pages: head.pages })
    }
}

fn head_line(to: &mut impl Write, head: &impl Serialize) -> std::io::Result<()> {
    serde_json::to_writer(&mut *to, head)?;
    to.write_all(b"\n")
}

fn read_head<T: for<'de> Deserialize<'de>>(from: &mut impl BufRead) -> std::io::Result<T> {
    let mut line = Vec::new();
    from.read_until(b'\n', &mut line)?;
    Ok(serde_json::from_slice(&line)?)
}

/// The next bytes, all of them: fewer are a process that ended on the way.
fn exactly(from: &mut impl BufRead, bytes: u64) -> std::io::Result<Vec<u8>> {
    let mut read = Vec::new();
    from.take(bytes).read_to_end(&mut read)?;
    if read.len() as u64 == bytes { Ok(read) } else { Err(std::io::ErrorKind::UnexpectedEof.into()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn jobs_and_outcomes_survive_the_way_and_a_cut_is_told() {
        let files = Files::from([("a/main.typ".to_owned(), b"= A\n".to_vec()), ("a/x".to_owned(), vec![0, 255, 10])]);
        let job = Job { template: "a".to_owned(), data: "{\"b\": \"\\n\"}".to_owned(), files };
        let mut bytes = Vec::new();
        job.write(&mut bytes).unwrap();
        assert_eq!(Job::read(bytes.as_slice()).unwrap(), job);
        assert!(Job::read(&bytes[..bytes.len() - 1]).is_err());
        let fault = TemplateFault { file: "a/main.typ".to_owned(), line: 3, column: 2, ..TemplateFault::default() };
        for outcome in [Typeset::Done { pdf: vec![1, 2, 3], pages: 2 }, Typeset::Faults(vec![fault])] {
            let mut bytes = Vec::new();
            outcome.write(&mut bytes).unwrap();
            assert_eq!(Typeset::read(bytes.as_slice()).unwrap(), outcome);
        }
    }
}
