//! Where templates come from: built in, or a folder given at start.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use include_dir::{Dir, include_dir};
use serde::Deserialize;

use crate::error::ReportError;

/// Files of one template set, by path from its root with forward slashes.
pub(crate) type Files = BTreeMap<String, Vec<u8>>;

/// The templates that come with the program.
static BUILT_IN: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../report-templates");
/// What a template's data hold, for people; made from the types that are handed over.
const CONTRACT: &str = "schema.json";

/// What a template reports on that says nothing of it.
const RUNS: &str = "runs";
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
    /// Whether it is the one that comes with the program for its collection, or the first of them.
    pub usual: bool,
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
    let files = BUILT_IN.dirs().flat_map(Dir::files).filter(|file| !file.path().ends_with(CONTRACT));
    files.map(|file| (file.path().to_string_lossy().into_owned(), file.contents().to_vec())).collect()
}

/// The templates in a set of files: every folder with a `main.typ`.
pub(crate) fn infos(files: &Files, built_in: &Files) -> Result<Vec<TemplateInfo>, ReportError> {
    let ids = files.keys().filter_map(|path| path.strip_suffix("/main.typ")).filter(|id| !id.contains('/'));
    let mut infos: Vec<TemplateInfo> = ids.map(|id| info(id, files, built_in)).collect::<Result<_, _>>()?;
    let mut served = Vec::new();
    for info in infos.iter_mut().filter(|info| built_in.contains_key(&format!("{}/main.typ", info.id))) {
        info.usual = !served.contains(&info.source_collection);
        served.push(info.source_collection.clone());
    }
    Ok(infos)
}

fn info(id: &str, files: &Files, built_in: &Files) -> Result<TemplateInfo, ReportError> {
    let path = format!("{id}/{ABOUT}");
    let failed = |detail: String| ReportError::File { file: path.clone(), detail };
    let about: About = match files.get(&path) {
        None => About::default(),
        Some(bytes) => toml::from_str(&String::from_utf8_lossy(bytes))
            .map_err(|e| failed(format!("{e}; accepted are the keys title and reports-on")))?,
    };
    let source = about.reports_on.unwrap_or_else(|| RUNS.to_owned());
    let mut sources = std::iter::once(RUNS).chain(proto::COLLECTIONS.iter().map(|(collection, _)| *collection));
    if !sources.clone().any(|known| known == source) {
        let known = sources.by_ref().collect::<Vec<_>>().join(", ");
        return Err(failed(format!("reports-on is '{source}'; accepted are {known}; name one of these")));
    }
    Ok(TemplateInfo {
        id: id.to_owned(),
        title: about.title.unwrap_or_else(|| id.to_owned()),
        source_collection: source,
        own: used(id, files) != used(id, built_in),
        usual: false,
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
