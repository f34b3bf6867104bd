//! Price against value: dots, stairs along the efficient ones, a band within five points, hatching above the money, a ring on the advised
//! sensor, names at the dots. Drawn for two widths: a narrow one has fewer marks on its axes, not smaller type.

use std::fmt::Write as _;

use maud::html;
use proto::v1;

use super::question::Question;
use super::shelf::Shelf;
use crate::quantity::amount;
use crate::say::Say;

/// Widths to draw for, px.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Width {
    Wide,
    Narrow,
}

const HEIGHT: f64 = 236.0;
const LEFT: f64 = 34.0;
const TOP: f64 = 24.0;
const RIGHT: f64 = 14.0;
const BOTTOM: f64 = 40.0;
/// Width of a letter of the labels, px, on the safe side.
const LETTER: f64 = 7.2;
const LINE: f64 = 15.0;

struct Dot<'a> {
    name: &'a str,
    price: f64,
    points: f64,
    efficient: bool,
    advised: bool,
    affordable: bool,
}

struct Frame {
    width: f64,
    most_price: f64,
    least: f64,
    most: f64,
}

impl Frame {
    fn x(&self, price: f64) -> f64 {
        LEFT + (self.width - LEFT - RIGHT) * (price / self.most_price)
    }

    fn y(&self, points: f64) -> f64 {
        let share = (points - self.least) / (self.most - self.least);
        TOP + (HEIGHT - TOP - BOTTOM) * (1.0 - share)
    }
}

fn value(money: &v1::Money) -> f64 {
    // A drawing shows no price to the last billionth.
    let units = money.units as f64;
    units + f64::from(money.nanos) / 1e9
}

pub(super) fn chart(
    say: Say<'_>,
    question: &Question,
    shelf: &Shelf,
    answer: &v1::Recommendation,
    width: Width,
) -> String {
    let dots: Vec<Dot<'_>> = answer
        .sensors
        .iter()
        .filter_map(|s| {
            Some(Dot {
                name: &s.display_name,
                price: value(s.price.as_ref()?),
                points: 100.0 * s.value,
                efficient: s.efficient,
                advised: s.sensor == answer.sensor,
                affordable: s.affordable,
            })
        })
        .collect();
    let (class, pixels, marks) = match width {
        Width::Wide => ("wide", 392.0, 5.0),
        Width::Narrow => ("narrow", 328.0, 4.0),
    };
    let step = round_step(dots.iter().map(|d| d.price).fold(1.0, f64::max) / marks);
    let greatest = dots.iter().map(|d| d.price).fold(0.0, f64::max);
    let (low, high) = dots.iter().fold((100.0_f64, 0.0_f64), |(low, high), d| (low.min(d.points), high.max(d.points)));
    let least = (low / 10.0).floor() * 10.0;
    let frame = Frame {
        width: pixels,
        most_price: (greatest / step).ceil().max(1.0) * step,
        least: least.clamp(0.0, 90.0),
        most: ((high / 10.0).ceil() * 10.0).clamp(least.max(0.0) + 10.0, 100.0),
    };
    let currency = shelf.currency().unwrap_or_default();
    let budget = amount(&question.most, currency).as_ref().map(value);
    let mut svg = String::new();
    axes(&mut svg, say, &frame, step, currency);
    band_and_hatching(&mut svg, say, &frame, &dots, budget, class);
    stairs(&mut svg, &frame, &dots);
    plot(&mut svg, &frame, &dots);
    let alt = alt(say, answer, &dots);
    html! {
        svg class=(format!("chart {class}")) viewBox=(format!("0 0 {pixels} {HEIGHT}")) width=(pixels) height=(HEIGHT) role="img" aria-label=(alt) {
            (maud::PreEscaped(svg))
        }
    }
    .into_string()
}

/// The same in a sentence, from the same figures.
fn alt(say: Say<'_>, answer: &v1::Recommendation, dots: &[Dot<'_>]) -> String {
    let efficient = dots.iter().filter(|d| d.efficient);
    let told: Vec<String> = efficient.map(|d| format!("{} {}", d.name, say.number(d.points, 0))).collect();
    let headline = answer.text.as_ref().and_then(|t| t.headline.as_ref()).map(|s| say.sentence(s)).unwrap_or_default();
    format!("{}. {headline} {}", say.report("price-value"), say.f("chart-alt", &[("dots", &told.join(", "))]))
}

/// 1, 2 or 5 times a power of ten.
fn round_step(raw: f64) -> f64 {
    let mut magnitude = 1.0;
    while magnitude * 10.0 <= raw {
        magnitude *= 10.0;
    }
    [1.0, 2.0, 5.0, 10.0].map(|m| m * magnitude).into_iter().find(|step| *step >= raw).unwrap_or(raw)
}

fn escaped(text: &str) -> String {
    html! { (text) }.into_string()
}

fn axes(svg: &mut String, say: Say<'_>, frame: &Frame, step: f64, currency: &str) {
    let (left, right, base) = (LEFT, frame.width - RIGHT, HEIGHT - BOTTOM);
    let mut points = frame.least;
    while points <= frame.most + 1e-9 {
        let y = frame.y(points);
        // Writing to a string does not fail.
        let _ = write!(
            svg,
            r#"<path class="rule" d="M{left} {y:.1}H{right:.1}"/><text x="{:.1}" y="{:.1}" text-anchor="end">{points}</text>"#,
            left - 6.0,
            y + 4.5
        );
        points += 10.0;
    }
    let mut price = 0.0;
    while price <= frame.most_price + 1e-9 {
        let x = frame.x(price);
        let anchor = if price + step > frame.most_price + 1e-9 { "end" } else { "middle" };
        let _ = write!(
            svg,
            r#"<path class="tick" d="M{x:.1} {base}v4"/><text x="{:.1}" y="{}" text-anchor="{anchor}">{}</text>"#,
            if anchor == "end" { right } else { x },
            base + 17.0,
            say.number(price, 0)
        );
        price += step;
    }
    let _ = write!(
        svg,
        r#"<path class="axis" d="M{left} {base}H{right:.1}"/><text class="title" x="0" y="12">{}</text><text class="title" x="{right:.1}" y="{}" text-anchor="end">{}, {}</text>"#,
        escaped(&say.report("axis-points")),
        HEIGHT - 6.0,
        escaped(&say.report("axis-price")),
        escaped(currency),
    );
}

fn band_and_hatching(
    svg: &mut String,
    say: Say<'_>,
    frame: &Frame,
    dots: &[Dot<'_>],
    budget: Option<f64>,
    class: &str,
) {
    let right = frame.width - RIGHT;
    let best = dots.iter().filter(|d| d.affordable).map(|d| d.points).fold(0.0, f64::max);
    let end = budget.map_or(right, |budget| frame.x(budget.min(frame.most_price)));
    let (top, bottom) = (frame.y(best), frame.y((best - 5.0).max(frame.least)));
    if best > frame.least && end > LEFT {
        let _ = write!(
            svg,
            r#"<path class="band" d="M{LEFT} {top:.1}H{end:.1}V{bottom:.1}H{LEFT}z"/><text class="small" x="{}" y="{:.1}">{}</text>"#,
            LEFT + 5.0,
            (bottom - 4.0).max(top + 12.0),
            escaped(say.t("within-five"))
        );
    }
    if let Some(budget) = budget.filter(|budget| *budget < frame.most_price) {
        let x = frame.x(budget);
        let base = HEIGHT - BOTTOM;
        let _ = write!(
            svg,
            r##"<defs><pattern id="hatch-{class}" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0V7"/></pattern></defs><path fill="url(#hatch-{class})" d="M{x:.1} {TOP}H{right:.1}V{base}H{x:.1}z"/><path class="budget" d="M{x:.1} {TOP}V{base}"/><text class="small lifted" x="{:.1}" y="{}">{}</text>"##,
            x + 5.0,
            base - 6.0,
            escaped(&say.f("above-money", &[("amount", &say.number(budget, 0))]))
        );
    }
}

fn stairs(svg: &mut String, frame: &Frame, dots: &[Dot<'_>]) {
    let mut efficient: Vec<&Dot<'_>> = dots.iter().filter(|d| d.efficient).collect();
    efficient.sort_by(|a, b| a.price.total_cmp(&b.price));
    let mut path = String::new();
    for (at, dot) in efficient.iter().enumerate() {
        let (x, y) = (frame.x(dot.price), frame.y(dot.points));
        let _ = if at == 0 { write!(path, "M{x:.1} {y:.1}") } else { write!(path, "H{x:.1}V{y:.1}") };
    }
    let _ = write!(svg, r#"<path class="stairs" d="{path}"/>"#);
}

/// Dots, then names where they are free: the advised one first, then the efficient ones; others have theirs in the table.
fn plot(svg: &mut String, frame: &Frame, dots: &[Dot<'_>]) {
    let mut taken: Vec<[f64; 4]> = Vec::new();
    for dot in dots {
        let (x, y) = (frame.x(dot.price), frame.y(dot.points));
        let class = if dot.efficient || dot.advised { "dot" } else { "dot hollow" };
        let _ = write!(svg, r#"<circle class="{class}" cx="{x:.1}" cy="{y:.1}" r="4.5"/>"#);
        if dot.advised {
            let _ = write!(svg, r#"<circle class="ring" cx="{x:.1}" cy="{y:.1}" r="9"/>"#);
        }
        let room = if dot.advised { 10.0 } else { 6.0 };
        taken.push([x - room, y - room, x + room, y + room]);
    }
    let mut named: Vec<&Dot<'_>> = dots.iter().filter(|d| d.advised || d.efficient).collect();
    named.sort_by_key(|d| !d.advised);
    for dot in named {
        let (x, y) = (frame.x(dot.price), frame.y(dot.points));
        let length = f64::from(u32::try_from(dot.name.chars().count()).unwrap_or(u32::MAX)) * LETTER;
        let room = if dot.advised { 13.0 } else { 9.0 };
        // To the left above, to the right below, to the right above, to the left below, over and under the dot.
        let spots = [
            (x - room - length, y - 5.0),
            (x + room, y + 15.0),
            (x + room, y - 5.0),
            (x - room - length, y + 15.0),
            (x - length / 2.0, y - room - 3.0),
            (x - length / 2.0, y + room + 12.0),
        ];
        let free =
            spots.into_iter().map(|(left, base)| [left, base - LINE + 3.0, left + length, base + 3.0]).find(|r| {
                let inside = r[0] >= LEFT && r[2] <= frame.width - 2.0 && r[1] >= TOP - 10.0 && r[3] <= HEIGHT - BOTTOM;
                inside && !taken.iter().any(|t| r[0] < t[2] && t[0] < r[2] && r[1] < t[3] && t[1] < r[3])
            });
        let Some(place) = free else { continue };
        let class = if dot.advised { "name advised" } else { "name" };
        let _ = write!(
            svg,
            r#"<text class="{class}" x="{:.1}" y="{:.1}">{}</text>"#,
            place[0],
            place[3] - 3.0,
            escaped(dot.name)
        );
        taken.push(place);
    }
}
