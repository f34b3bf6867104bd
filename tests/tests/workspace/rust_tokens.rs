//! Rust source as tokens: words, `::`, and single characters. Comments and the inside of texts are left out.

/// The tokens of a source.
pub(super) fn tokens(source: &str) -> Vec<String> {
    let code: Vec<char> = source.chars().collect();
    let mut all = Vec::new();
    let mut at = 0;
    while at < code.len() {
        let next = code.get(at + 1).copied();
        match code[at] {
            c if c.is_whitespace() => at += 1,
            '/' if next == Some('/') => at = line_end(&code, at),
            '/' if next == Some('*') => at = comment_end(&code, at),
            '"' => at = text_end(&code, at),
            '\'' => at = quote_end(&code, at),
            'r' | 'b' if raw_text_end(&code, at).is_some() => at = raw_text_end(&code, at).expect("just looked"),
            c if c.is_alphanumeric() || c == '_' => {
                let end = word_end(&code, at);
                all.push(code[at..end].iter().collect());
                at = end;
            }
            ':' if next == Some(':') => {
                all.push("::".to_owned());
                at += 2;
            }
            c => {
                all.push(c.to_string());
                at += 1;
            }
        }
    }
    all
}

fn word_end(code: &[char], at: usize) -> usize {
    at + code[at..].iter().take_while(|c| c.is_alphanumeric() || **c == '_').count()
}

fn line_end(code: &[char], at: usize) -> usize {
    at + code[at..].iter().take_while(|c| **c != '\n').count()
}

fn comment_end(code: &[char], at: usize) -> usize {
    let (mut depth, mut at) = (0, at);
    loop {
        match (code.get(at), code.get(at + 1)) {
            (Some('/'), Some('*')) => (depth, at) = (depth + 1, at + 2),
            (Some('*'), Some('/')) => (depth, at) = (depth - 1, at + 2),
            (Some(_), _) => at += 1,
            (None, _) => panic!("a comment does not end"),
        }
        if depth == 0 {
            return at;
        }
    }
}

/// After the text that begins at a quotation mark.
fn text_end(code: &[char], at: usize) -> usize {
    let mut at = at + 1;
    while code[at] != '"' {
        at += if code[at] == '\\' { 2 } else { 1 };
    }
    at + 1
}

/// After the character, or the lifetime's mark, that begins here.
fn quote_end(code: &[char], at: usize) -> usize {
    match (code.get(at + 1), code.get(at + 2)) {
        (Some('\\'), _) => at + 3 + code[at + 3..].iter().take_while(|c| **c != '\'').count() + 1,
        (Some(_), Some('\'')) => at + 3,
        _ => word_end(code, at + 1),
    }
}

/// After a text such as `r"…"`, `b"…"` or `br#"…"#`, if one begins here.
fn raw_text_end(code: &[char], at: usize) -> Option<usize> {
    let before = at.checked_sub(1).map(|at| code[at]);
    if before.is_some_and(|c| c.is_alphanumeric() || c == '_') {
        return None;
    }
    let letters = code[at..].iter().take_while(|c| matches!(c, 'r' | 'b')).count();
    let start = at + letters;
    let raw = code[at..start].contains(&'r');
    let marks = if raw { code[start..].iter().take_while(|c| **c == '#').count() } else { 0 };
    if code.get(start + marks) != Some(&'"') {
        return None;
    }
    if !raw {
        return Some(text_end(code, start));
    }
    let end: Vec<char> = std::iter::once('"').chain(std::iter::repeat_n('#', marks)).collect();
    let inside = &code[start + marks + 1..];
    let length = inside.windows(end.len()).position(|part| part == end).expect("a raw text ends");
    Some(start + marks + 1 + length + end.len())
}

/// The same without what is compiled for tests alone.
pub(super) fn without_tests(code: &[String]) -> Vec<String> {
    let mark = ["#", "[", "cfg", "(", "test", ")", "]"];
    let mut kept = Vec::new();
    let mut at = 0;
    while at < code.len() {
        if code[at..].iter().take(mark.len()).eq(mark) {
            at = item_end(code, at + mark.len());
        } else {
            kept.push(code[at].clone());
            at += 1;
        }
    }
    kept
}

/// After the item that begins here: its block, or its semicolon.
fn item_end(code: &[String], at: usize) -> usize {
    let mut depth = 0;
    for (at, token) in code.iter().enumerate().skip(at) {
        match token.as_str() {
            "{" | "(" | "[" => depth += 1,
            ")" | "]" => depth -= 1,
            "}" => {
                depth -= 1;
                if depth == 0 {
                    return at + 1;
                }
            }
            ";" if depth == 0 => return at + 1,
            _ => {}
        }
    }
    code.len()
}
