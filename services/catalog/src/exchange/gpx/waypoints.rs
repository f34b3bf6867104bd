//! From bytes to waypoints. No tree is built: what is held at any time is one waypoint.

use quick_xml::events::{BytesDecl, BytesRef, BytesStart, Event};
use quick_xml::name::ResolveResult;
use quick_xml::{NsReader, XmlVersion, escape};

use crate::exchange::{RowFault, line_ends};
use domain::notation::{cut, cut_to};

/// Namespace of the elements that say of a waypoint what GPX has no word for.
pub const NAMESPACE: &str = "urn:x-lakebeam:spot:1";
/// Namespace of GPX 1.1.
pub(super) const GPX: &str = "http://www.topografix.com/GPX/1/1";
/// Deepest nesting of elements; a waypoint takes four.
const DEEPEST: usize = 64;
/// Most entries of one waypoint that are kept; a spot has some twenty.
const MOST_CELLS: usize = 200;

/// What one waypoint says, in the order of the file.
pub(super) struct Waypoint {
    /// The line that it starts on.
    pub(super) line: u32,
    pub(super) cells: Vec<Cell>,
    /// What is wrong with it: what the file calls the place, and why.
    pub(super) refused: Vec<(String, String)>,
}

/// One thing that a waypoint says.
pub(super) struct Cell {
    /// Column of a file of spots.
    pub(super) column: String,
    /// What the file calls it.
    pub(super) header: String,
    pub(super) text: String,
}

impl Waypoint {
    /// The text for a column; empty where the waypoint does not say it.
    pub(super) fn text(&self, column: &str) -> &str {
        self.cells.iter().find(|cell| cell.column == column).map_or("", |cell| cell.text.as_str())
    }

    pub(super) fn push(&mut self, column: &str, header: &str, text: String) {
        self.cells.push(Cell { column: column.to_owned(), header: header.to_owned(), text });
    }
}

/// What an open element is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Root,
    Waypoint,
    Extensions,
    /// Its text is wanted.
    Cell,
    Other,
}

/// Which namespace an element is of.
enum Namespace {
    Gpx,
    Own,
    Other(String),
}

/// The waypoints of a file, up to its first fault.
pub(super) struct Waypoints<'b> {
    reader: NsReader<&'b [u8]>,
    text: &'b str,
    /// A byte offset and the line that it lies on.
    counted: (usize, u32),
    open: Vec<Part>,
    current: Waypoint,
    comment: String,
    found: u32,
    /// Tracks and routes, which hold no spots.
    lines: u32,
    rooted: bool,
    fault: Option<RowFault>,
}

/// Why the file cannot be read: the line, and what is wrong.
struct Refusal(u32, String);

impl<'b> Waypoints<'b> {
    pub(super) fn open(bytes: &'b [u8]) -> Self {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let (text, fault) = match std::str::from_utf8(bytes) {
            Ok(text) => (text, None),
            Err(error) => {
                let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
                let ends = line_ends(before);
                let line = u32::try_from(ends + 1).unwrap_or(u32::MAX);
                ("", Some(of_file(line, "the line is not UTF-8; accepted: GPX 1.1 in UTF-8; save the file so")))
            }
        };
        let mut reader = NsReader::from_str(text);
        reader.config_mut().expand_empty_elements = true;
        Self {
            reader,
            text,
            counted: (0, 1),
            open: Vec::new(),
            current: Waypoint { line: 1, cells: Vec::new(), refused: Vec::new() },
            comment: String::new(),
            found: 0,
            lines: 0,
            rooted: false,
            fault,
        }
    }

    /// The fault that ended the reading, if one did. Asked after the last waypoint.
    pub(super) fn fault(mut self) -> Option<RowFault> {
        if self.fault.is_none() && self.found == 0 {
            let instead = if self.lines > 0 { " (tracks and routes are not read)" } else { "" };
            let text = format!(
                "the file holds no waypoint{instead}; accepted: GPX 1.1 with a <wpt> for each spot; mark the spots as waypoints"
            );
            self.fault = Some(of_file(1, &text));
        }
        self.fault
    }

    fn advance(&mut self) -> Result<Option<Waypoint>, Refusal> {
        loop {
            let line = self.line();
            let (home, event) = match self.reader.read_resolved_event() {
                Ok((home, event)) => (own(home), event),
                Err(error) => return Err(Refusal(self.error_line(), not_well_formed(&error))),
            };
            match event {
                Event::Start(element) => {
                    let home = home.map_err(|prefix| {
                        Refusal(line, not_well_formed(&format!("the prefix '{}' is not declared", cut(&prefix))))
                    })?;
                    self.start(home, &element, line).map_err(|text| Refusal(line, text))?;
                }
                Event::End(_) => {
                    if let Some(waypoint) = self.end() {
                        return Ok(Some(waypoint));
                    }
                }
                Event::Text(text) => self.add(&text.xml10_content(), line)?,
                Event::CData(text) => self.add(&text.xml10_content(), line)?,
                Event::GeneralRef(reference) => {
                    let text = resolve(&reference).map_err(|text| Refusal(line, text))?;
                    self.add(&text, line)?;
                }
                Event::Decl(declaration) => encoding(&declaration).map_err(|text| Refusal(line, text))?,
                Event::DocType(_) => {
                    let text = "the file declares a document type (<!DOCTYPE …>), which can make a small file huge; \
                                accepted: GPX 1.1 without one; remove it";
                    return Err(Refusal(line, text.to_owned()));
                }
                Event::Empty(_) | Event::Comment(_) | Event::PI(_) => {}
                Event::Eof => {
                    return if self.rooted && self.open.is_empty() {
                        Ok(None)
                    } else if self.rooted {
                        let text = "the file ends before its last element does; fetch or export it again, whole";
                        Err(Refusal(line, text.to_owned()))
                    } else {
                        Err(Refusal(line, "the file is empty; accepted: GPX 1.1; name another file".to_owned()))
                    };
                }
            }
        }
    }

    /// The line on which what comes next starts.
    fn line(&mut self) -> u32 {
        let at = usize::try_from(self.reader.buffer_position()).unwrap_or(usize::MAX);
        self.line_of(at)
    }

    fn error_line(&mut self) -> u32 {
        let at = usize::try_from(self.reader.error_position()).unwrap_or(usize::MAX);
        self.line_of(at)
    }

    fn line_of(&mut self, at: usize) -> u32 {
        let (from, line) = self.counted;
        let between = self.text.as_bytes().get(from..at).unwrap_or_default();
        let ends = line_ends(between);
        self.counted = (at.max(from), line.saturating_add(u32::try_from(ends).unwrap_or(u32::MAX)));
        self.counted.1
    }

    fn start(&mut self, home: Namespace, element: &BytesStart<'_>, line: u32) -> Result<(), String> {
        if self.open.len() >= DEEPEST {
            return Err(format!("elements are nested more than {DEEPEST} deep; accepted: GPX 1.1; export it again"));
        }
        let name = element.local_name();
        let name = name.as_ref();
        let part = match (self.open.last(), home, name) {
            (None, home, name) => {
                self.root(&home, name)?;
                Part::Root
            }
            (Some(Part::Root), Namespace::Gpx, "wpt") => {
                self.current = Waypoint { line, cells: Vec::new(), refused: Vec::new() };
                self.comment.clear();
                self.place(element)?;
                Part::Waypoint
            }
            (Some(Part::Root), Namespace::Gpx, "trk" | "rte") => {
                self.lines = self.lines.saturating_add(1);
                Part::Other
            }
            (Some(Part::Waypoint), Namespace::Gpx, "extensions") => Part::Extensions,
            (Some(Part::Waypoint), Namespace::Gpx, "name") => self.cell("display_name", name),
            (Some(Part::Waypoint), Namespace::Gpx, "desc" | "cmt") => self.cell("notes", name),
            (Some(Part::Extensions), Namespace::Own, name) => self.cell(name, name),
            _ => Part::Other,
        };
        self.open.push(part);
        Ok(())
    }

    fn root(&mut self, home: &Namespace, name: &str) -> Result<(), String> {
        let given = match home {
            Namespace::Gpx if name == "gpx" => None,
            Namespace::Gpx => Some(format!("<{}> of GPX", cut(name))),
            Namespace::Own => Some(format!("<{}> of {NAMESPACE}", cut(name))),
            Namespace::Other(space) if space.is_empty() => Some(format!("<{}> of no namespace", cut(name))),
            Namespace::Other(space) => Some(format!("<{}> of the namespace '{}'", cut(name), cut(space))),
        };
        match given {
            Some(given) => Err(format!(
                "the file begins with {given}; accepted: <gpx> of the namespace {GPX}; export it as GPX 1.1"
            )),
            None if self.rooted => Err("a second <gpx> follows; accepted: one; cut the file in two".to_owned()),
            None => {
                self.rooted = true;
                Ok(())
            }
        }
    }

    fn cell(&mut self, column: &str, header: &str) -> Part {
        if self.current.cells.len() >= MOST_CELLS {
            return Part::Other;
        }
        self.current.push(column, header, String::new());
        Part::Cell
    }

    /// Takes over the position, which every waypoint must have.
    fn place(&mut self, element: &BytesStart<'_>) -> Result<(), String> {
        let (mut north, mut east) = (None, None);
        for attribute in element.attributes() {
            let attribute = attribute.map_err(|error| not_well_formed(&error))?;
            let slot = match attribute.key.as_ref() {
                "lat" => &mut north,
                "lon" => &mut east,
                _ => continue,
            };
            let value = attribute.normalized_value(XmlVersion::Implicit1_0).map_err(|error| not_well_formed(&error))?;
            *slot = Some(value.trim().to_owned()).filter(|text| !text.is_empty());
        }
        match (north, east) {
            (Some(north), Some(east)) => {
                self.current.push("latitude_deg", "lat", north);
                self.current.push("longitude_deg", "lon", east);
            }
            (north, east) => {
                for (header, _) in [("lat", north), ("lon", east)].into_iter().filter(|(_, given)| given.is_none()) {
                    let text = format!("the waypoint has no {header}; it is required: WGS 84 degrees; give both");
                    self.current.refused.push((header.to_owned(), text));
                }
            }
        }
        Ok(())
    }

    fn add(&mut self, text: &str, line: u32) -> Result<(), Refusal> {
        match self.open.last() {
            Some(Part::Cell) => {
                if let Some(cell) = self.current.cells.last_mut() {
                    cell.text.push_str(text);
                }
            }
            None if !text.trim().is_empty() => {
                let given = cut(text.trim().lines().next().unwrap_or_default());
                let text = format!("'{given}' stands outside of any element; accepted: GPX 1.1; name another file");
                return Err(Refusal(line, text));
            }
            _ => {}
        }
        Ok(())
    }

    /// Closes an element; a waypoint that ends comes back.
    fn end(&mut self) -> Option<Waypoint> {
        if self.open.pop() != Some(Part::Waypoint) {
            return None;
        }
        self.found = self.found.saturating_add(1);
        let empty = Waypoint { line: self.current.line, cells: Vec::new(), refused: Vec::new() };
        Some(with_notes(std::mem::replace(&mut self.current, empty)))
    }
}

impl Iterator for Waypoints<'_> {
    type Item = Waypoint;

    fn next(&mut self) -> Option<Waypoint> {
        if self.fault.is_some() {
            return None;
        }
        self.advance().unwrap_or_else(|Refusal(line, text)| {
            self.fault = Some(of_file(line, &text));
            None
        })
    }
}

/// Joins description and comment into notes; devices often write the same into both.
fn with_notes(mut waypoint: Waypoint) -> Waypoint {
    let mut notes: Option<Cell> = None;
    let (said, rest): (Vec<_>, Vec<_>) = std::mem::take(&mut waypoint.cells)
        .into_iter()
        .partition(|cell| cell.column == "notes" && matches!(cell.header.as_str(), "desc" | "cmt"));
    waypoint.cells = rest;
    if !waypoint.cells.iter().any(|cell| cell.column == "display_name") {
        waypoint.push("display_name", "name", String::new());
    }
    // The description first, whatever the order of the file.
    let (first, second): (Vec<_>, Vec<_>) = said.into_iter().partition(|cell| cell.header == "desc");
    for cell in first.into_iter().chain(second) {
        let text = cell.text.trim();
        match &mut notes {
            None => {
                notes = Some(Cell { text: text.to_owned(), ..cell });
            }
            Some(notes) if notes.text.is_empty() => text.clone_into(&mut notes.text),
            Some(notes) if !text.is_empty() && notes.text != text => {
                notes.text.push('\n');
                notes.text.push_str(text);
            }
            Some(_) => {}
        }
    }
    waypoint.cells.extend(notes);
    waypoint
}

/// The namespace of an element; its prefix where that is not declared.
fn own(home: ResolveResult<'_>) -> Result<Namespace, String> {
    match home {
        ResolveResult::Bound(space) => Ok(match space.as_ref() {
            GPX => Namespace::Gpx,
            NAMESPACE => Namespace::Own,
            other => Namespace::Other(other.to_owned()),
        }),
        ResolveResult::Unbound => Ok(Namespace::Other(String::new())),
        ResolveResult::Unknown(prefix) => Err(prefix),
    }
}

/// What a reference stands for: a character, or one of the five names that XML itself has.
fn resolve(reference: &BytesRef<'_>) -> Result<String, String> {
    if let Some(character) = reference.resolve_char_ref().map_err(|error| not_well_formed(&error))? {
        return Ok(character.to_string());
    }
    escape::resolve_xml_entity(reference).map(str::to_owned).ok_or_else(|| {
        format!(
            "'&{};' is not known; accepted: &amp;, &lt;, &gt;, &quot;, &apos; and numbers such as &#176;; write the text itself",
            cut(reference)
        )
    })
}

fn encoding(declaration: &BytesDecl<'_>) -> Result<(), String> {
    match declaration.encoding() {
        Some(Ok(name)) if !name.eq_ignore_ascii_case("utf-8") => {
            Err(format!("the file says that it is in {}; accepted: UTF-8; save it so", cut(&name)))
        }
        Some(Err(error)) => Err(not_well_formed(&error)),
        _ => Ok(()),
    }
}

fn not_well_formed(error: &impl std::fmt::Display) -> String {
    let problem = cut_to(&error.to_string(), 200);
    format!("this is not well-formed XML: {problem}; accepted: GPX 1.1; export the file again, or mend the line")
}

/// A fault of the file as a whole.
fn of_file(line: u32, message: &str) -> RowFault {
    RowFault { line, column: String::new(), message: message.to_owned(), id: String::new() }
}
