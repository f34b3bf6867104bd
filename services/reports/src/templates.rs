//! Where templates come from: built in, or a folder given at start.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Deserialize;

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
    "shared/words-de.toml",
    "shared/words-en.toml",
    "comparison/appendix.typ",
    "comparison/main.typ",
    "comparison/chart.typ",
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
    ("customer-sheet", "A page to hand to a customer", "runs"),
    ("beam-map", "What a survey says of a beam", "beamFits"),
    ("fleet-plan", "What to buy, who gets what, and a card for each booking", "fleetPlans"),
    ("shelter-rules", "Rules to pin to the door of a shelter", "shelterRules"),
    ("survey-sheet", "What to drill, lower and note in a beam survey", "beamSurveyDrafts"),
    ("unit-assessment", "Which units are sound, and which to retire", "unitAssessments"),
];

/// Folder of what all templates of a set share.
pub(crate) const SHARED: &str = "shared";
/// What a template of a folder says of itself.
const ABOUT: &str = "template.toml";
/// Largest file of a template folder.
const MAX_FILE_BYTES: u64 = 8 * 1024 * 1024;
/// Most bytes of a template folder.
const MAX_BYTES: u64 = 64 * 1024 * 1024;
/// Most files of a template folder.
const MAX_FILES: usize = 1000;

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
    /// Whether anything that it is made of comes from the folder.
    pub own: bool,
}

/// The file `template.toml` of a template.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
struct About {
    title: Option<String>,
    reports_on: Option<String>,
}

impl TemplateSource {
    /// All files, those of the folder over the built-in ones.
    pub(crate) fn files(&self) -> Result<Files, ReportError> {
        let mut files = built_in();
        if let Self::Folder(root) = self {
            let mut found = Files::new();
            read_folder(root, root, &mut found)?;
            files.extend(found);
        }
        Ok(files)
    }
}

/// The files that come with the program.
pub(crate) fn built_in() -> Files {
    BUILT_IN.iter().map(|(path, bytes)| ((*path).to_owned(), bytes.to_vec())).collect()
}

/// The templates in a set of files: every folder with a `main.typ`.
pub(crate) fn infos(files: &Files, built_in: &Files) -> Result<Vec<TemplateInfo>, ReportError> {
    let ids = files.keys().filter_map(|path| path.strip_suffix("/main.typ")).filter(|id| !id.contains('/'));
    ids.map(|id| info(id, files, built_in)).collect()
}

fn info(id: &str, files: &Files, built_in: &Files) -> Result<TemplateInfo, ReportError> {
    let path = format!("{id}/{ABOUT}");
    let failed = |detail: String| ReportError::File { file: path.clone(), detail };
    let about: About = match files.get(&path) {
        None => About::default(),
        Some(bytes) => toml::from_str(&String::from_utf8_lossy(bytes))
            .map_err(|e| failed(format!("{e}; accepted are the keys title and reports-on")))?,
    };
    let known = KNOWN.iter().find(|(known, ..)| *known == id);
    let source = about.reports_on.unwrap_or_else(|| known.map_or("runs", |(.., source)| source).to_owned());
    if !KNOWN.iter().any(|(.., known)| *known == source) {
        let mut sources: Vec<_> = KNOWN.iter().map(|(.., source)| *source).collect();
        sources.dedup();
        let detail = format!("reports-on is '{source}'; accepted are {}; name one of these", sources.join(", "));
        return Err(failed(detail));
    }
    Ok(TemplateInfo {
        id: id.to_owned(),
        title: about.title.unwrap_or_else(|| known.map_or(id, |(_, title, _)| title).to_owned()),
        source_collection: source,
        own: used(id, files) != used(id, built_in),
    })
}

/// The files that a template may read: its own folder and what is shared.
pub(crate) fn used(template: &str, files: &Files) -> Files {
    let mine = |path: &str| path.split('/').next().is_some_and(|folder| folder == template || folder == SHARED);
    files.iter().filter(|(path, _)| mine(path)).map(|(path, bytes)| (path.clone(), bytes.clone())).collect()
}

fn read_folder(root: &Path, folder: &Path, files: &mut Files) -> Result<(), ReportError> {
    let refuse = |path: &Path, detail: String| ReportError::File { file: path.display().to_string(), detail };
    let failed = |path: &Path, e: std::io::Error| refuse(path, e.to_string());
    for entry in std::fs::read_dir(folder).map_err(|e| failed(folder, e))? {
        let entry = entry.map_err(|e| failed(folder, e))?;
        let path = entry.path();
        // What tools leave behind, such as a repository's own folder.
        if entry.file_name().to_string_lossy().starts_with('.') {
            continue;
        }
        // Links are not followed: a template reads nothing outside of its folder.
        let meta = std::fs::symlink_metadata(&path).map_err(|e| failed(&path, e))?;
        if meta.is_dir() {
            read_folder(root, &path, files)?;
        } else if meta.is_file() {
            let bytes = meta.len() + files.values().map(|file| file.len() as u64).sum::<u64>();
            if meta.len() > MAX_FILE_BYTES || bytes > MAX_BYTES || files.len() >= MAX_FILES {
                let detail = format!(
                    "it is more than a template folder may hold: up to {MAX_FILES} files of up to 8 MiB each, 64 MiB together; \
                     keep only what templates read"
                );
                return Err(refuse(&path, detail));
            }
            let name = path.strip_prefix(root).unwrap_or(&path).to_string_lossy().replace('\\', "/");
            files.insert(name, std::fs::read(&path).map_err(|e| failed(&path, e))?);
        }
    }
    Ok(())
}
