//! Text as a terminal may have it: what a service sends cannot move the cursor, change colours or turn the direction of writing.

use std::borrow::Cow;
use std::fmt::{Arguments, Write as _};

/// Prints a line to standard output, as `println!` does, without control characters.
macro_rules! say {
    ($($part:tt)*) => { $crate::output::shown::line(format_args!($($part)*)) };
}
/// Prints a line to standard error in the same way.
macro_rules! complain {
    ($($part:tt)*) => { $crate::output::shown::complaint(format_args!($($part)*)) };
}
pub(crate) use {complain, say};

pub(crate) fn line(text: Arguments<'_>) {
    println!("{}", escaped(&text.to_string()));
}

pub(crate) fn complaint(text: Arguments<'_>) {
    eprintln!("{}", escaped(&text.to_string()));
}

/// The text with control characters written out, but for ends of lines and tabs.
pub(crate) fn escaped(text: &str) -> Cow<'_, str> {
    with(text, |out, c| write!(out, "\\u{{{:x}}}", u32::from(c)))
}

/// The same for JSON, in which they stand inside of strings alone.
pub(crate) fn escaped_json(text: &str) -> Cow<'_, str> {
    // None of them is beyond the basic plane, so that four digits do.
    with(text, |out, c| write!(out, "\\u{:04x}", u32::from(c)))
}

fn with(text: &str, write: impl Fn(&mut String, char) -> std::fmt::Result) -> Cow<'_, str> {
    if !text.contains(is_harmful) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if is_harmful(c) {
            // Writing to a string never fails.
            let _ = write(&mut out, c);
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// Control characters (both sets), and those that turn the direction of writing (Unicode Standard Annex 9).
fn is_harmful(c: char) -> bool {
    let turns = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{61c}');
    turns || (c.is_control() && c != '\n' && c != '\t')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_are_written_out_and_text_is_left() {
        for (given, shown) in [
            ("Würm, 5 °C\n\tfüßchen 湖", "Würm, 5 °C\n\tfüßchen 湖"),
            ("\u{1b}[2Jgone", "\\u{1b}[2Jgone"),
            ("a\rb\u{7f}\u{9b}31m", "a\\u{d}b\\u{7f}\\u{9b}31m"),
            ("\u{202e}fdp.exe", "\\u{202e}fdp.exe"),
        ] {
            assert_eq!(escaped(given), shown);
        }
        let json = serde_json::to_string("\u{9b}\u{202e}\u{1b}").unwrap();
        let shown = escaped_json(&json).into_owned();
        assert!(shown.is_ascii(), "{shown}");
        assert_eq!(serde_json::from_str::<String>(&shown).unwrap(), "\u{9b}\u{202e}\u{1b}");
    }
}
