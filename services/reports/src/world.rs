//! The world that a template sees: its own folder, what is shared, its data as one JSON file, the embedded fonts, and nothing else.

use std::collections::HashMap;
use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_kit::fonts::FontStore;

use crate::templates::Files;

/// Path of the data in every template's world.
pub(crate) const DATA_PATH: &str = "data.json";

/// The fonts that the build script took from the typesetter's own.
static EMBEDDED: [&[u8]; 10] = include!(concat!(env!("OUT_DIR"), "/fonts.rs"));
static FONTS: LazyLock<FontStore> = LazyLock::new(|| {
    let mut store = FontStore::new();
    store.extend(
        EMBEDDED.iter().flat_map(|font| Font::iter(Bytes::new(*font))).map(|font| (font.clone(), font.info().clone())),
    );
    store
});
static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(Library::default()));

/// The embedded fonts.
pub(crate) fn fonts() -> &'static FontStore {
    &FONTS
}

/// One render.
pub(crate) struct ReportWorld {
    main: FileId,
    sources: HashMap<FileId, Source>,
    files: HashMap<FileId, Bytes>,
}

impl ReportWorld {
    /// A world for a template. Paths are fixed, so that nothing new is interned from render to render.
    pub(crate) fn new(files: &Files, template: &str, data: String) -> Option<Self> {
        let main = file_id(&format!("{template}/main.typ"))?;
        let mut world = Self { main, sources: HashMap::new(), files: HashMap::new() };
        for (path, bytes) in files {
            let Some(id) = file_id(path) else { continue };
            if path.ends_with(".typ") {
                world.sources.insert(id, Source::new(id, String::from_utf8_lossy(bytes).into_owned()));
            }
            world.files.insert(id, Bytes::new(bytes.clone()));
        }
        world.files.insert(file_id(DATA_PATH)?, Bytes::from_string(data));
        Some(world)
    }
}

/// The id of a path from the root of the template set.
fn file_id(path: &str) -> Option<FileId> {
    Some(RootedPath::new(VirtualRoot::Project, VirtualPath::new(path).ok()?).intern())
}

impl World for ReportWorld {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        FONTS.book()
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.sources.get(&id).cloned().ok_or_else(|| missing(id))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files.get(&id).cloned().ok_or_else(|| missing(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.font(index)
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        // A report depends on its data only; dates that it shows are in there.
        None
    }
}

fn missing(id: FileId) -> FileError {
    let path = id.get().vpath().get_with_slash();
    FileError::Other(Some(match id.get().root() {
        VirtualRoot::Project => format!("there is no {path} in the template folder").into(),
        VirtualRoot::Package(package) => format!("{package} is a package, and none are fetched").into(),
    }))
}
