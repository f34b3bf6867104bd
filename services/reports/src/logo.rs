//! The mark at the head of a report: a picture that somebody hands in, looked at before the typesetter gets it.
//!
//! What is refused could reach beyond the picture (links, style sheets, scripts), grow when it is read (entities, huge rasters), or would
//! not print as it looks elsewhere. A drawing can still be made to take very long, and a raster very much memory; reports with one that
//! might are typeset where time and memory are limited.

use std::borrow::Cow;

use quick_xml::NsReader;
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::ResolveResult;

/// Largest file.
pub const MAX_LOGO_BYTES: usize = 1024 * 1024;
/// Longest side of a raster, in pixels: four times what a page can show in the room that there is.
const MAX_PIXELS: usize = 4_096;
/// Pixels of a raster that are read without limits of memory: some 8 MiB at most (four channels of two bytes each).
const MAX_PLAIN_PIXELS: usize = 1024 * 1024;
/// Names of parts that are packed by themselves: colour profiles and texts of a PNG (ISO/IEC 15948, chapter 11.3), colour profiles of a
/// JPEG (ICC.1, annex B).
const PACKED: [&[u8]; 4] = [b"iCCP", b"zTXt", b"iTXt", b"ICC_PROFILE"];
/// Deepest nesting of a drawing.
const DEEPEST: usize = 64;
const SVG: &str = "http://www.w3.org/2000/svg";
/// What a drawing may not hold: pictures within it, pages of text, programs, animation that loads something.
const REFUSED: [&str; 4] = ["image", "feImage", "foreignObject", "script"];

/// A picture that may stand at the head of a report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Logo {
    kind: Kind,
    bytes: Vec<u8>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Png,
    Jpeg,
    Svg,
}

impl Logo {
    /// Takes a picture over; its kind is told by its content.
    ///
    /// # Errors
    /// What was given, what is accepted, what to do.
    pub fn new(bytes: Vec<u8>) -> Result<Self, String> {
        if bytes.len() > MAX_LOGO_BYTES {
            return Err(format!(
                "logo has {} bytes; accepted: up to {MAX_LOGO_BYTES}; make the picture smaller",
                bytes.len()
            ));
        }
        let kind = if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
            Kind::Png
        } else if bytes.starts_with(b"\xff\xd8\xff") {
            Kind::Jpeg
        } else if text(&bytes).is_some_and(|text| text.trim_start().starts_with('<')) {
            Kind::Svg
        } else {
            return Err(
                "logo is none of the pictures that are known; accepted: PNG, JPEG or SVG; save it as one of them"
                    .to_owned(),
            );
        };
        match kind {
            Kind::Png | Kind::Jpeg => raster(&bytes)?,
            Kind::Svg => {
                drawing(text(&bytes).unwrap_or_default())
                    .map_err(|problem| format!("logo is an SVG that {problem}"))?;
            }
        }
        Ok(Self { kind, bytes })
    }

    /// Its path in the world of a template.
    pub(crate) const fn path(&self) -> &'static str {
        match self.kind {
            Kind::Png => "logo.png",
            Kind::Jpeg => "logo.jpg",
            Kind::Svg => "logo.svg",
        }
    }

    pub(crate) fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Whether to read it may take more than its size in bytes tells: a drawing, many pixels, or parts that unpack to any size.
    pub(crate) fn is_costly(&self) -> bool {
        match self.kind {
            Kind::Svg => true,
            Kind::Png | Kind::Jpeg => {
                let few = imagesize::blob_size(&self.bytes)
                    .is_ok_and(|size| size.width.saturating_mul(size.height) <= MAX_PLAIN_PIXELS);
                !few || PACKED.iter().any(|mark| self.bytes.windows(mark.len()).any(|part| part == *mark))
            }
        }
    }
}

/// What the typesetter found wrong with the picture itself, if that is what it complains about.
pub(crate) fn refused(message: &str) -> Option<String> {
    ["failed to decode image", "failed to parse SVG"].iter().any(|part| message.contains(part)).then(|| {
        format!("logo cannot be read: {message}; accepted: PNG, JPEG or SVG; open it in a program for pictures and save it again")
    })
}

fn text(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)).ok()
}

fn raster(bytes: &[u8]) -> Result<(), String> {
    let size = imagesize::blob_size(bytes)
        .map_err(|error| format!("logo is cut off or damaged: {error}; accepted: PNG, JPEG or SVG; save it again"))?;
    if size.width == 0 || size.height == 0 || size.width > MAX_PIXELS || size.height > MAX_PIXELS {
        return Err(format!(
            "logo is {} by {} pixels; accepted: 1 to {MAX_PIXELS} each way; make it smaller",
            size.width, size.height
        ));
    }
    Ok(())
}

/// Looks through a drawing; what is wrong with it, and what to do.
fn drawing(text: &str) -> Result<(), String> {
    let mut reader = NsReader::from_str(text);
    reader.config_mut().expand_empty_elements = true;
    let mut depth = 0_usize;
    let mut rooted = false;
    loop {
        let (home, event) =
            reader.read_resolved_event().map_err(|error| format!("is not well-formed: {error}; export it again"))?;
        match event {
            Event::Start(element) => {
                let name = element.local_name();
                let svg = matches!(home, ResolveResult::Bound(space) if space.as_ref() == SVG);
                if depth == 0 && (rooted || !svg || name.as_ref() != "svg") {
                    return Err(format!("does not begin with one <svg> of the namespace {SVG}; export it as SVG"));
                }
                rooted = true;
                depth += 1;
                if depth > DEEPEST {
                    return Err(format!("is nested more than {DEEPEST} deep; simplify the drawing"));
                }
                start(name.as_ref(), &element)?;
            }
            Event::End(_) => depth = depth.saturating_sub(1),
            Event::Text(text) => style(&text.xml10_content())?,
            Event::CData(text) => style(&text.xml10_content())?,
            Event::DocType(kind) if kind.contains('[') => {
                return Err(
                    "declares entities (<!DOCTYPE … [ … ]>), which can make a small file huge; remove them".to_owned()
                );
            }
            Event::PI(instruction) if instruction.contains("stylesheet") => {
                return Err("takes its style from another file; export it with the styles in it".to_owned());
            }
            Event::Eof if rooted && depth == 0 => return Ok(()),
            Event::Eof => return Err("ends before its last element does; export it again, whole".to_owned()),
            _ => {}
        }
    }
}

fn start(name: &str, element: &BytesStart<'_>) -> Result<(), String> {
    if REFUSED.contains(&name) {
        return Err(format!("holds <{name}>; accepted: shapes and text; leave it out, or save the picture as PNG"));
    }
    for attribute in element.attributes() {
        let attribute = attribute.map_err(|error| format!("is not well-formed: {error}; export it again"))?;
        let value = attribute
            .normalized_value(quick_xml::XmlVersion::Implicit1_0)
            .map_err(|error| format!("is not well-formed: {error}; export it again"))?;
        if attribute.key.local_name().as_ref() == "href" && !value.trim_start().starts_with('#') {
            return Err(beyond(&value));
        }
        style(&value)?;
    }
    Ok(())
}

/// Refuses styles that take something from elsewhere. The typesetter's reader of drawings would not follow them, so that it would print
/// something else than other programs show.
fn style(text: &str) -> Result<(), String> {
    let plain: Cow<'_, str> =
        if text.bytes().any(|byte| byte.is_ascii_uppercase()) { text.to_ascii_lowercase().into() } else { text.into() };
    if plain.contains("@import") {
        return Err(beyond("@import"));
    }
    for (at, _) in plain.match_indices("url(") {
        let inside = plain.get(at + 4..).unwrap_or_default();
        if !inside.trim_start_matches(|c: char| c.is_whitespace() || matches!(c, '"' | '\'')).starts_with('#') {
            return Err(beyond(inside));
        }
    }
    Ok(())
}

fn beyond(given: &str) -> String {
    let given: String = given.chars().take(60).filter(|c| !c.is_control()).collect();
    format!("refers to something outside of itself ('{given}'); accepted: references to its own parts (#…); remove it")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn svg(inside: &str) -> Vec<u8> {
        format!(
            "<svg xmlns=\"{SVG}\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" viewBox=\"0 0 10 10\">{inside}</svg>"
        )
        .into_bytes()
    }

    /// The head of a PNG of that size, which is all that is looked at here.
    fn png(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR".to_vec();
        bytes.extend(width.to_be_bytes());
        bytes.extend(height.to_be_bytes());
        bytes.extend([8, 2, 0, 0, 0, 0, 0, 0, 0]);
        bytes
    }

    #[test]
    fn drawings_that_keep_to_themselves_are_taken() {
        let plain = "<defs><linearGradient id=\"g\"/></defs><rect fill=\"url(#g)\" width=\"1\" height=\"1\"/>\
                     <use href=\"#g\"/><use xlink:href=\" #g\"/><style>.a { fill: url( '#g' ) }</style>";
        for good in [
            svg(plain),
            [b"\xef\xbb\xbf<?xml version=\"1.0\"?>\n<!-- made -->\n".to_vec(), svg("")].concat(),
            [b"<!DOCTYPE svg PUBLIC \"-//W3C//DTD SVG 1.1//EN\" \"x.dtd\">".to_vec(), svg("")].concat(),
        ] {
            let logo = Logo::new(good.clone());
            assert_eq!(logo.map(|logo| logo.path()), Ok("logo.svg"), "{}", String::from_utf8_lossy(&good));
        }
    }

    #[test]
    fn drawings_that_reach_beyond_themselves_are_refused() {
        for (inside, why) in [
            ("<image href=\"data:image/png;base64,AA\"/>", "holds <image>"),
            ("<g><foreignObject/></g>", "holds <foreignObject>"),
            ("<script>1</script>", "holds <script>"),
            ("<filter id=\"f\"><feImage href=\"#a\"/></filter>", "holds <feImage>"),
            ("<use href=\"other.svg#a\"/>", "('other.svg#a')"),
            ("<use xlink:href=\"file:///etc/passwd\"/>", "('file:///etc/passwd')"),
            ("<a href=\"https://example.org\"><rect/></a>", "outside of itself"),
            ("<rect fill=\"url(https://example.org/a#g)\"/>", "outside of itself"),
            ("<rect style=\"fill:URL( &quot;a.svg#g&quot; )\"/>", "outside of itself"),
            ("<style>@import 'a.css';</style>", "@import"),
            ("<style><![CDATA[.a{fill:url(a.svg)}]]></style>", "outside of itself"),
            ("<rect a=/>", "not well-formed"),
            ("<g>", "not well-formed"),
        ] {
            let problem = Logo::new(svg(inside)).unwrap_err();
            assert!(problem.contains(why), "{inside}: {problem}");
        }
        let deep = "<g>".repeat(80) + &"</g>".repeat(80);
        assert!(Logo::new(svg(&deep)).unwrap_err().contains("more than 64 deep"));
        for (text, why) in [
            ("<html></html>", "does not begin with one <svg>"),
            ("<svg></svg>", "does not begin with one <svg>"),
            (
                "<!DOCTYPE svg [<!ENTITY a 'aaaa'>]><svg xmlns=\"http://www.w3.org/2000/svg\">&a;</svg>",
                "declares entities",
            ),
            ("<?xml-stylesheet href='a.css'?><svg xmlns=\"http://www.w3.org/2000/svg\"/>", "style from another file"),
            ("<svg xmlns=\"http://www.w3.org/2000/svg\">", "ends before"),
        ] {
            let problem = Logo::new(text.as_bytes().to_vec()).unwrap_err();
            assert!(problem.contains(why), "{text}: {problem}");
        }
    }

    #[test]
    fn what_may_take_more_than_its_size_tells_is_costly() {
        let costly = |bytes: Vec<u8>| Logo::new(bytes).unwrap().is_costly();
        assert!(!costly(png(1_024, 1_024)));
        assert!(costly(png(1_024, 1_025)));
        assert!(costly(svg("")));
        for part in PACKED {
            assert!(costly([png(8, 8), part.to_vec()].concat()), "{}", String::from_utf8_lossy(part));
        }
    }

    #[test]
    fn rasters_are_told_by_their_content_and_bounded() {
        assert_eq!(Logo::new(png(4_096, 1)).map(|logo| logo.path()), Ok("logo.png"));
        assert!(Logo::new(png(4_097, 1)).unwrap_err().contains("4097 by 1 pixels; accepted: 1 to 4096"));
        assert!(Logo::new(png(0, 5)).unwrap_err().contains("0 by 5 pixels"));
        assert!(Logo::new(b"\x89PNG\r\n\x1a\n".to_vec()).unwrap_err().contains("damaged"));
        assert!(Logo::new(b"\xff\xd8\xff\xe0\0".to_vec()).unwrap_err().contains("damaged"));
        for other in [&b"GIF89a"[..], b"%PDF-1.7", b"", b"\x1f\x8b\x08", b"RIFF\0\0\0\0WEBP"] {
            assert!(Logo::new(other.to_vec()).unwrap_err().contains("accepted: PNG, JPEG or SVG"), "{other:?}");
        }
        let large = Logo::new(vec![b'<'; MAX_LOGO_BYTES + 1]).unwrap_err();
        assert!(large.contains("1048577 bytes; accepted: up to 1048576"), "{large}");
    }
}
