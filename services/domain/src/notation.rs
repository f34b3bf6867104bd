//! Small notations inside the cells of files: relief, holes, dial points, pattern points, money.

use std::borrow::Cow;

use acoustics::units::{Db, HalfAngle, Metres};

use crate::scale::{Scale, scale_of, scale_of_word, words_of};
use crate::sensor::PROVENANCES;
use crate::spot::RELIEF_KINDS;
use crate::value::{Accepted, Given, named, names, plain};
use crate::{DialPoint, DialScale, PatternPoint, Point, Provenance, Relief};

/// Reads a cell into a record, or says what is wrong with it.
pub type ReadInto<R> = fn(&mut R, &str, &Numbers) -> Result<(), String>;

/// How the numbers of a column are written.
#[derive(Debug, Clone, Copy)]
pub struct Numbers {
    /// Whether they may have a decimal comma.
    pub decimal_comma: bool,
    /// The unit that the name of the column says; none where every cell has to say its own.
    pub scale: Option<Scale>,
    /// Unit of the field; empty for a plain number.
    pub unit: &'static str,
}

impl Numbers {
    /// A number in the unit of the field, or what is wrong with it.
    ///
    /// # Errors
    /// What is wrong.
    pub fn read(&self, text: &str) -> Result<f64, String> {
        let (value, scale) = self.read_scaled(text)?;
        let own = scale_of(self.unit);
        Ok(if scale == own { value } else { own.from_si(scale.to_si(value)) })
    }

    /// The unit that a figure says for itself, or that of the column; none where neither does, or where it is no figure.
    #[must_use]
    pub fn unit_in(&self, text: &str) -> Option<Scale> {
        self.read_scaled(text).ok().map(|(_, scale)| scale)
    }

    /// A number as it stands, with the unit that it is in: what the cell says, or else the name of the column.
    fn read_scaled(&self, text: &str) -> Result<(f64, Scale), String> {
        let (figure, word) = apart(text);
        if figure.is_empty() || word.is_empty() {
            let value = self.read_plain(text)?;
            let scale = self.scale.ok_or_else(|| {
                format!("'{}' has no unit; write it behind the figure, such as 18 ft or 5.5 m", cut(text))
            })?;
            return Ok((value, scale));
        }
        let whole = self.scale.is_some_and(Scale::is_diameter);
        let of_word = |word: &str| {
            let scale = scale_of_word(self.unit, word)?;
            Some(if whole { scale.of_diameter() } else { scale })
        };
        let value = self.read_plain(figure)?;
        if let Some(scale) = of_word(word) {
            return Ok((value, scale));
        }
        // Feet with inches behind them: 5' 6".
        let at = word.find(|c: char| c.is_ascii_digit()).unwrap_or(word.len());
        let (feet, inches) = word.split_at_checked(at).unwrap_or((word, ""));
        let (more, mark) = apart(inches);
        if of_word(feet) == Some(Scale::Feet) && of_word(mark) == Some(Scale::Inches) {
            return Ok((value + self.read_plain(more)? / 12.0, Scale::Feet));
        }
        let known: Vec<_> = words_of(self.unit).into_iter().map(|(word, _)| word).collect();
        if known.is_empty() {
            return Err(format!("'{}' is not a number", cut(text)));
        }
        Err(format!("'{}' is no unit of it that is known; known are {}", cut(word), known.join(", ")))
    }

    /// What is wrong with a number of which another unit than that of the field is read: its limits in that unit.
    #[must_use]
    pub fn out_of(&self, text: &str, accepted: Accepted) -> Option<String> {
        let (value, scale) = self.read_scaled(text).ok()?;
        let own = scale_of(self.unit);
        if scale == own || accepted.holds(own.from_si(scale.to_si(value))) {
            return None;
        }
        let there = |limit: f64| scale.from_si(own.to_si(limit));
        // Rounded inwards, so that what is named is accepted.
        let low = libm::ceil(there(accepted.low) * 100.0) / 100.0;
        let high = libm::floor(there(accepted.high) * 100.0) / 100.0;
        let start = if accepted.above_low { "above " } else { "" };
        let word = words_of(self.unit).into_iter().find(|(_, known)| *known == scale).map_or("", |(word, _)| word);
        Some(format!("it is {}; accepted: {start}{} to {} {word}", plain(value), plain(low), plain(high)))
    }

    /// A number as it stands, in no unit.
    ///
    /// # Errors
    /// What is wrong.
    pub fn read_plain(&self, text: &str) -> Result<f64, String> {
        let given = || cut(text);
        // A typographic minus is what spreadsheets and word processors put in.
        let mut plain =
            if text.contains('\u{2212}') { Cow::Owned(text.replace('\u{2212}', "-")) } else { Cow::Borrowed(text) };
        if plain.contains(',') {
            if !self.decimal_comma {
                return Err(format!("'{}' holds a comma; write a decimal point and no thousands separators", given()));
            }
            if plain.contains('.') || plain.matches(',').count() > 1 {
                return Err(format!("'{}' holds a thousands separator; write the number without", given()));
            }
            plain = Cow::Owned(plain.replace(',', "."));
        } else if self.decimal_comma && self.unit == "W" && has_thousands(&plain) {
            // Of no other figure would both readings pass.
            return Err(format!("'{}' may hold a thousands separator; write the number without", given()));
        }
        // `parse` would also take "inf" and "nan".
        let digits = plain.bytes().all(|c| c.is_ascii_digit() || matches!(c, b'.' | b'-' | b'+' | b'e' | b'E'));
        match plain.parse::<f64>() {
            Ok(value) if digits && value.is_finite() => Ok(value),
            Ok(_) if digits => Err(format!("'{}' is too large for a number", given())),
            _ => Err(format!("'{}' is not a number", given())),
        }
    }
}

/// Whether points set groups of three digits apart.
fn has_thousands(text: &str) -> bool {
    let mut groups = text.split('.');
    let first = groups.next().unwrap_or_default();
    let digits = |group: &str| group.bytes().all(|c| c.is_ascii_digit());
    let (mut more, fits) =
        groups.fold((0, true), |(count, fits), group| (count + 1, fits && group.len() == 3 && digits(group)));
    more *= u32::from(first.len() < 4 && digits(first) && !first.starts_with('0'));
    more > 0 && fits
}

/// A figure and what stands behind it, such as its unit.
fn apart(text: &str) -> (&str, &str) {
    let mut before = ' ';
    let part_of_number = |c: char, before: char| {
        c.is_ascii_digit()
            || matches!(c, '.' | ',')
            || (matches!(c, '-' | '+' | '\u{2212}') && matches!(before, ' ' | 'e' | 'E'))
            || (matches!(c, 'e' | 'E') && before.is_ascii_digit())
    };
    let end = text.find(|c: char| {
        let ends = !part_of_number(c, before);
        before = c;
        ends
    });
    let (figure, word) = text.split_at_checked(end.unwrap_or(text.len())).unwrap_or((text, ""));
    (figure, word.trim())
}

/// A name as it is compared: lower case, one underscore between words.
#[must_use]
pub fn plain_name(given: &str) -> String {
    given.trim().to_ascii_lowercase().replace([' ', '-'], "_")
}

/// Text that is said back to its giver, cut to a bearable length.
#[must_use]
pub fn cut(text: &str) -> String {
    cut_to(text, 60)
}

/// The same for what a library says about a file, which may repeat parts of it.
#[must_use]
pub fn cut_to(text: &str, most: usize) -> String {
    if text.chars().count() <= most { text.to_owned() } else { text.chars().take(most).chain(['…']).collect() }
}

/// A number as the shortest text that reads back to it.
#[must_use]
pub fn number(value: f64) -> String {
    // The two zeros are one to people, and to the store.
    if value == 0.0 { "0".to_owned() } else { format!("{value}") }
}

/// Reads a figure with its spread and its source: `40`, `180 kHz`, `50 assumed`, `14° ±1 measured`.
///
/// # Errors
/// What is wrong with the text.
pub fn read_figure(text: &str, numbers: &Numbers) -> Result<Given, String> {
    let bare = text.replace(['(', ')'], " ");
    let mut words = bare.split_whitespace().peekable();
    // A unit may stand apart from its figure.
    let with_unit = |figure: &str, words: &mut std::iter::Peekable<std::str::SplitWhitespace<'_>>| match words
        .next_if(|word| scale_of_word(numbers.unit, word).is_some())
    {
        Some(unit) => numbers.read(&format!("{figure} {unit}")),
        None => numbers.read(figure),
    };
    let first = words.next().unwrap_or_default();
    let value = with_unit(first, &mut words)?;
    let sign = |word: &&str| word.strip_prefix('±').or_else(|| word.strip_prefix("+-")).map(str::to_owned);
    let mut spread = None;
    if let Some(number) = words.peek().and_then(sign) {
        words.next();
        let number = if number.is_empty() { words.next().unwrap_or_default().to_owned() } else { number };
        spread = Some(with_unit(&number, &mut words)?.abs());
    }
    skip_kind(numbers.unit, &mut words);
    let source = match words.next() {
        None => Provenance::Stated,
        Some(word) => named(&PROVENANCES, &plain_name(word)).ok_or_else(|| {
            let kinds = match numbers.unit {
                "W" => "; kinds of power are rms, peak and peak-to-peak",
                "degrees" => "; levels are -3 dB, -6 dB and -10 dB",
                _ => "",
            };
            format!("'{}' is no source of a figure; known are {}{kinds}", cut(word), names(&PROVENANCES).join(", "))
        })?,
    };
    match words.next() {
        None => Ok(Given { value, spread, source }),
        Some(more) => Err(format!("'{}' is too much behind a figure", cut(more))),
    }
}

/// Leaves out the words behind a figure that say what it means: `400 W peak`, `12° at -10 dB`. They are read by [`said`].
fn skip_kind(unit: &str, words: &mut std::iter::Peekable<std::str::SplitWhitespace<'_>>) {
    let known: &[&str] = match unit {
        "W" => &["rms", "peak", "to", "p_p", "pp", "ptp", "peak_to_peak"],
        "degrees" => &["at", "@", "_3", "_6", "_10", "_3db", "_6db", "_10db", "db"],
        _ => &[],
    };
    while words.next_if(|word| known.contains(&plain_name(&word.replace('\u{2212}', "-")).as_str())).is_some() {}
}

/// A name in a header without the words in it that say what its figures mean: `w_rms`, `at_10_db`.
#[must_use]
pub fn without_kind(unit: &str, name: &str) -> String {
    let known: &[&str] = match unit {
        "W" => &["rms", "peak", "to", "p", "pp", "ptp"],
        // `beam_3` is no level.
        "degrees" if name.ends_with("db") => &["at", "3", "6", "10", "3db", "6db", "10db", "db"],
        _ => &[],
    };
    name.split('_').filter(|word| !known.contains(word)).collect::<Vec<_>>().join("_")
}

/// The first of some words that stands in a text by itself, and what it means.
#[must_use]
pub fn said(text: &str, means: &[(&'static str, &'static str)]) -> Option<&'static str> {
    let parts: Vec<String> =
        text.split(|c: char| !c.is_alphanumeric()).filter(|part| !part.is_empty()).map(str::to_lowercase).collect();
    let plain = format!("_{}_", parts.join("_"));
    means.iter().find(|(word, _)| plain.contains(&format!("_{word}_"))).map(|(_, meant)| *meant)
}

/// Reads `boulder 0.5 at 1.2; log 0.3 at 0.8`.
///
/// # Errors
/// What is wrong with the text.
pub fn read_relief(text: &str, numbers: &Numbers) -> Result<Vec<Relief>, String> {
    entries(text).map(|entry| read_one_relief(entry, numbers)).collect()
}

fn read_one_relief(entry: &str, numbers: &Numbers) -> Result<Relief, String> {
    let parts: Vec<_> = entry.split_whitespace().collect();
    let (kind, height, offset) = match parts.as_slice() {
        [kind, height] => (kind, height, None),
        [kind, height, "at", offset] => (kind, height, Some(offset)),
        _ => return Err(format!("'{}' is not a kind, a height and a distance", cut(entry))),
    };
    let name = plain_name(kind);
    let found = RELIEF_KINDS.iter().find(|(known, _)| *known == name);
    Ok(Relief {
        kind: found.map(|(_, kind)| *kind).ok_or_else(|| format!("'{}' is no kind of relief", cut(kind)))?,
        height: Metres::new(numbers.read(height)?),
        offset: Metres::new(offset.map_or(Ok(0.0), |offset| numbers.read(offset))?),
    })
}

/// Writes relief as it is read.
#[must_use]
pub fn write_relief(relief: &[Relief]) -> String {
    let one = |relief: &Relief| {
        let kind = RELIEF_KINDS.iter().find(|(_, kind)| *kind == relief.kind).map_or("", |(name, _)| name);
        format!("{kind} {} at {}", number(relief.height.get()), number(relief.offset.get()))
    };
    relief.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Reads `0.6,0.6; 1.8,0.6`.
///
/// # Errors
/// What is wrong with the text.
pub fn read_holes(text: &str, numbers: &Numbers) -> Result<Vec<Point>, String> {
    entries(text)
        .map(|entry| match entry.split(',').collect::<Vec<_>>().as_slice() {
            [x, y] => Ok(Point { x: Metres::new(numbers.read(x.trim())?), y: Metres::new(numbers.read(y.trim())?) }),
            _ => Err(format!("'{}' is not a pair x,y with decimal points", cut(entry))),
        })
        .collect()
}

/// Writes holes as they are read.
#[must_use]
pub fn write_holes(holes: &[Point]) -> String {
    let one = |hole: &Point| format!("{},{}", number(hole.x.get()), number(hole.y.get()));
    holes.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Reads `7:00=0 12:00=40 5:00=70` on a dial of that scale.
///
/// # Errors
/// What is wrong with the text.
pub fn read_dial(text: &str, scale: DialScale, numbers: &Numbers) -> Result<Vec<DialPoint>, String> {
    let pairs = pairs(text, numbers)?;
    let texts: Vec<_> = pairs.iter().map(|(position, _)| *position).collect();
    let positions = scale.parse_all(&texts).map_err(|refused| {
        let problems: Vec<_> = refused.iter().map(|(_, error)| error.to_string()).collect();
        problems.join("; ")
    })?;
    let points = positions.into_iter().zip(&pairs);
    Ok(points.map(|(position, (_, gain))| DialPoint { position, gain: Db::new(*gain) }).collect())
}

/// Writes dial points as they are read.
#[must_use]
pub fn write_dial(points: &[DialPoint], scale: DialScale) -> String {
    let one = |point: &DialPoint| {
        let position = match scale {
            DialScale::ClockHour => scale.write(point.position),
            DialScale::Percent | DialScale::Step => number(point.position),
        };
        format!("{position}={}", number(point.gain.get()))
    };
    points.iter().map(one).collect::<Vec<_>>().join(" ")
}

/// Reads `0=0 5=-3 12=-18`.
///
/// # Errors
/// What is wrong with the text.
pub fn read_pattern(text: &str, numbers: &Numbers) -> Result<Vec<PatternPoint>, String> {
    let point = |(angle, level): (&str, f64)| {
        let angle = numbers.read_plain(angle)?;
        Ok(PatternPoint { angle: HalfAngle::new(Scale::Degrees.to_si(angle)), level: Db::new(level) })
    };
    pairs(text, numbers)?.into_iter().map(point).collect()
}

/// Writes pattern points as they are read.
#[must_use]
pub fn write_pattern(points: &[PatternPoint]) -> String {
    let one = |point: &PatternPoint| {
        format!("{}={}", number(Scale::Degrees.from_si(point.angle.get())), number(point.level.get()))
    };
    points.iter().map(one).collect::<Vec<_>>().join(" ")
}

/// Reads `129.00`, exactly.
///
/// # Errors
/// What is wrong with the text.
pub fn read_price(text: &str, numbers: &Numbers) -> Result<(i64, i32), String> {
    let problem = || format!("'{}' is not an amount", cut(text));
    // Refuses what is no number at all, with the same words as elsewhere.
    numbers.read_plain(text)?;
    let plain = text.replace(',', ".").replace('\u{2212}', "-");
    let (negative, digits) = plain.strip_prefix('-').map_or((false, plain.as_str()), |rest| (true, rest));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let part = part.trim_end_matches('0');
    if part.len() > 9 {
        return Err(format!("'{}' has more than nine decimals", cut(text)));
    }
    let units: i64 = if whole.is_empty() { 0 } else { whole.parse().map_err(|_| problem())? };
    let nanos: i32 = format!("{part:0<9}").parse().map_err(|_| problem())?;
    Ok(if negative { (-units, -nanos) } else { (units, nanos) })
}

/// Reads `129.00`, `$129`, `129 EUR`: the amount, and its currency where the text says one. A dollar sign alone is that of the United States.
///
/// # Errors
/// What is wrong with the text.
pub fn read_money(text: &str, numbers: &Numbers) -> Result<((i64, i32), Option<String>), String> {
    let outside = |c: char| !(c.is_ascii_digit() || matches!(c, '-' | '\u{2212}'));
    let amount = text.trim_matches(outside);
    let (before, after) = text.split_once(amount).unwrap_or_default();
    let sign = format!("{}{}", before.trim(), after.trim().trim_matches(['.', ','])).to_uppercase();
    let code = match sign.as_str() {
        "" => return Ok((read_price(text, numbers)?, None)),
        "$" | "US$" => "USD",
        "C$" | "CA$" => "CAD",
        "A$" => "AUD",
        "€" => "EUR",
        "£" => "GBP",
        code if code.len() == 3 && code.chars().all(|c| c.is_ascii_uppercase()) => code,
        _ => return Err(format!("'{}' is not a number", cut(text))),
    };
    Ok((read_price(amount, numbers)?, Some(code.to_owned())))
}

/// Writes an amount as it is read, with at least two decimals.
#[must_use]
pub fn write_price((units, nanos): (i64, i32)) -> String {
    let sign = if units < 0 || nanos < 0 { "-" } else { "" };
    let digits = format!("{:09}", nanos.unsigned_abs());
    let shown = digits.trim_end_matches('0').len().max(2);
    format!("{sign}{}.{}", units.unsigned_abs(), digits.get(..shown).unwrap_or(&digits))
}

/// The entries of a list, which semicolons separate; one at the end does no harm.
fn entries(text: &str) -> impl Iterator<Item = &str> {
    text.split(';').map(str::trim).filter(|entry| !entry.is_empty())
}

/// Pairs such as `a=1 b=2`; the second of each is a number in no unit.
fn pairs<'t>(text: &'t str, numbers: &Numbers) -> Result<Vec<(&'t str, f64)>, String> {
    text.split_whitespace()
        .map(|entry| {
            let (key, value) = entry.split_once('=').ok_or_else(|| format!("'{}' has no '='", cut(entry)))?;
            Ok((key, numbers.read_plain(value)?))
        })
        .collect()
}
