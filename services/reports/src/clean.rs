//! User text made safe to set: bounded, without control and direction characters, and only with characters that the fonts have.
//!
//! Text reaches a template as data and is never markup; this is about what can be drawn. A character that no embedded font has would be
//! an empty box without a warning, so it is replaced by one that says so.

use std::collections::HashMap;
use std::sync::Mutex;

use crate::world::fonts;

/// Stands for a character that the fonts lack.
const REPLACEMENT: char = '\u{25a1}';

/// Text cut to a number of characters, with what cannot be drawn replaced.
pub(crate) fn clean(text: &str, max_chars: usize) -> String {
    let mut out: String = text.chars().take(max_chars).filter(|c| !is_format(*c)).map(drawable).collect();
    if text.chars().nth(max_chars).is_some() {
        out.push('…');
    }
    out
}

/// Direction marks, zero-width characters and the byte-order mark: they have no ink and can reorder what stands around them.
fn is_format(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fe00}'..='\u{fe0f}')
}

fn drawable(c: char) -> char {
    if c.is_ascii_graphic() || c == ' ' {
        c
    } else if c.is_whitespace() || c.is_control() {
        ' '
    } else if covered(c) {
        c
    } else {
        REPLACEMENT
    }
}

/// Whether an embedded font has the character.
fn covered(c: char) -> bool {
    static KNOWN: Mutex<Option<HashMap<char, bool>>> = Mutex::new(None);
    let look = || {
        fonts()
            .book()
            .select_fallback(None, typst::text::FontVariant::default(), c.encode_utf8(&mut [0; 4]))
            .is_some_and(|i| fonts().book().info(i).is_some_and(|info| info.coverage.contains(u32::from(c))))
    };
    match KNOWN.lock() {
        Ok(mut known) => *known.get_or_insert_default().entry(c).or_insert_with(look),
        Err(_) => look(),
    }
}

#[cfg(test)]
mod tests {
    use super::clean;

    #[test]
    fn hostile_text_becomes_plain_or_is_marked() {
        for (given, set) in [
            ("#panic() *bold* $x$", "#panic() *bold* $x$"),
            ("a\u{0}b\tc\nd", "a b c d"),
            ("\u{202e}evil", "evil"),
            ("Łódź – 0 °C ½", "Łódź – 0 °C ½"),
            ("湖", "\u{25a1}"),
        ] {
            assert_eq!(clean(given, 100), set, "{given:?}");
        }
        assert_eq!(clean(&"x".repeat(10_000), 60).chars().count(), 61);
    }
}
