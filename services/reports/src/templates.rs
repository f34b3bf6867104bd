//! Where templates come from: built in, or a folder given at start.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::error::ReportError;

/// Files of one template set, by path from its root with forward slashes.
pub(crate) type Files = BTreeMap<String, Vec<u8>>;

macro_rules! built_in {
    ($($path:literal),* $(,)?) => {
        [$(($path, include_bytes!(concat!("../../../report-templates/", $path)).as_slice())),*]
    };
}

/// The templates that come with the program.
const BUILT_IN: &[(&str, &[u8])] = &built_in![
    "shared/house.typ",
    "shared/plots.typ",
    "shared/words-en.toml",
    "comparison/main.typ",
    "comparison/sample.json",
    "customer-sheet/main.typ",
    "customer-sheet/sample.json",
    "beam-map/main.typ",
    "beam-map/sample.json",
    "fleet-plan/main.typ",
    "fleet-plan/sample.json",
    "shelter-rules/main.typ",
    "shelter-rules/sample.json",
    "survey-sheet/main.typ",
    "survey-sheet/sample.json",
    "unit-assessment/main.typ",
    "unit-assessment/sample.json",
];

/// What the built-in templates are called and report on: id, title, collection of the source.
const KNOWN: &[(&str, &str, &str)] = &[
    ("comparison", "Comparison of beams for a set of spots", "runs"),
    ("customer-sheet", "Two pages to hand to a customer", "runs"),
    ("beam-map", "What a survey says of a beam", "beamFits"),
    ("fleet-plan", "What to buy, who gets what, and a card for each booking", "fleetPlans"),
    ("shelter-rules", "Rules to pin to the door of a shelter", "shelterRules"),
    ("survey-sheet", "What to drill, lower and note in a beam survey", "beamSurveyDrafts"),
    ("unit-assessment", "Which units are sound, and which to retire", "unitAssessments"),
];

/// Largest file of a template folder.
const MAX_FILE_BYTES: u64 = 8 * 1024 * 1024;

/// Where templates come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TemplateSource {
    /// Those that come with the program.
    BuiltIn,
    /// A folder with the same layout; a file that it lacks is taken from the built-in ones.
    Folder(PathBuf),
}

/// A template.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TemplateInfo {
    /// Its id, such as `comparison`.
    pub id: String,
    /// Name for people.
    pub title: String,
    /// Collection that it reports on, such as `runs`.
    pub source_collection: String,
}

impl TemplateSource {
    /// All files, those of the folder over the built-in ones.
    pub(crate) fn files(&self) -> Result<Files, ReportError> {
        let mut files: Files = BUILT_IN.iter().map(|(path, bytes)| ((*path).to_owned(), bytes.to_vec())).collect();
        if let Self::Folder(root) = self {
            read_folder(root, root, &mut files)?;
        }
        Ok(files)
    }
}

/// The templates in a set of files: the known ones, and any other folder with a `main.typ`, which reports on runs.
pub(crate) fn infos(files: &Files) -> Vec<TemplateInfo> {
    let ids = files.keys().filter_map(|path| path.strip_suffix("/main.typ"));
    ids.map(|id| {
        let known = KNOWN.iter().find(|(known, ..)| *known == id);
        TemplateInfo {
            id: id.to_owned(),
            title: known.map_or_else(|| id.to_owned(), |(_, title, _)| (*title).to_owned()),
            source_collection: known.map_or("runs", |(.., source)| source).to_owned(),
        }
    })
    .collect()
}

fn read_folder(root: &Path, folder: &Path, files: &mut Files) -> Result<(), ReportError> {
    let failed =
        |path: &Path, e: std::io::Error| ReportError::File { file: path.display().to_string(), detail: e.to_string() };
    for entry in std::fs::read_dir(folder).map_err(|e| failed(folder, e))? {
        let path = entry.map_err(|e| failed(folder, e))?.path();
        // Links are not followed: a template reads nothing outside of its folder.
        let meta = std::fs::symlink_metadata(&path).map_err(|e| failed(&path, e))?;
        if meta.is_dir() {
            read_folder(root, &path, files)?;
        } else if meta.is_file() && meta.len() <= MAX_FILE_BYTES {
            let name = path.strip_prefix(root).unwrap_or(&path).to_string_lossy().replace('\\', "/");
            files.insert(name, std::fs::read(&path).map_err(|e| failed(&path, e))?);
        }
    }
    Ok(())
}
