//! Small notations inside cells: relief, holes, dial points, pattern points, money.

use acoustics::units::{Db, HalfAngle, Metres};
use domain::{DialPoint, DialScale, Money, PatternPoint, Point, Relief, ReliefKind};

use super::row::Numbers;
use super::table::{cut, plain_name};
use crate::exchange::scale::Scale;

/// A number as the shortest text that reads back to it.
pub(crate) fn number(value: f64) -> String {
    // The two zeros are one to people, and to the store.
    if value == 0.0 { "0".to_owned() } else { format!("{value}") }
}

pub(crate) const RELIEF_KINDS: [(&str, ReliefKind); 2] = [("boulder", ReliefKind::Boulder), ("log", ReliefKind::Log)];

/// Reads `boulder 0.5 at 1.2; log 0.3 at 0.8`.
pub(crate) fn read_relief(text: &str, numbers: &Numbers) -> Result<Vec<Relief>, String> {
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
pub(crate) fn write_relief(relief: &[Relief]) -> String {
    let one = |relief: &Relief| {
        let kind = RELIEF_KINDS.iter().find(|(_, kind)| *kind == relief.kind).map_or("", |(name, _)| name);
        format!("{kind} {} at {}", number(relief.height.get()), number(relief.offset.get()))
    };
    relief.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Reads `0.6,0.6; 1.8,0.6`.
pub(crate) fn read_holes(text: &str, numbers: &Numbers) -> Result<Vec<Point>, String> {
    entries(text)
        .map(|entry| match entry.split(',').collect::<Vec<_>>().as_slice() {
            [x, y] => Ok(Point { x: Metres::new(numbers.read(x.trim())?), y: Metres::new(numbers.read(y.trim())?) }),
            _ => Err(format!("'{}' is not a pair x,y with decimal points", cut(entry))),
        })
        .collect()
}

/// Writes holes as they are read.
pub(crate) fn write_holes(holes: &[Point]) -> String {
    let one = |hole: &Point| format!("{},{}", number(hole.x.get()), number(hole.y.get()));
    holes.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Reads `7:00=0 12:00=40 5:00=70` on a dial of that scale.
pub(crate) fn read_dial(text: &str, scale: DialScale, numbers: &Numbers) -> Result<Vec<DialPoint>, String> {
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
pub(crate) fn write_dial(points: &[DialPoint], scale: DialScale) -> String {
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
pub(crate) fn read_pattern(text: &str, numbers: &Numbers) -> Result<Vec<PatternPoint>, String> {
    let point = |(angle, level): (&str, f64)| {
        let angle = numbers.read_plain(angle)?;
        Ok(PatternPoint { angle: HalfAngle::new(Scale::Degrees.to_si(angle)), level: Db::new(level) })
    };
    pairs(text, numbers)?.into_iter().map(point).collect()
}

/// Writes pattern points as they are read.
pub(crate) fn write_pattern(points: &[PatternPoint]) -> String {
    let one = |point: &PatternPoint| {
        format!("{}={}", number(Scale::Degrees.from_si(point.angle.get())), number(point.level.get()))
    };
    points.iter().map(one).collect::<Vec<_>>().join(" ")
}

/// Reads `129.00`, exactly.
pub(crate) fn read_price(text: &str, numbers: &Numbers) -> Result<(i64, i32), String> {
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

/// Writes an amount as it is read, with at least two decimals.
pub(crate) fn write_price(money: &Money) -> String {
    let sign = if money.units < 0 || money.nanos < 0 { "-" } else { "" };
    let digits = format!("{:09}", money.nanos.unsigned_abs());
    let shown = digits.trim_end_matches('0').len().max(2);
    format!("{sign}{}.{}", money.units.unsigned_abs(), digits.get(..shown).unwrap_or(&digits))
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
