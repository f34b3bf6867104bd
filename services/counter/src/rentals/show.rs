//! The page of a day: what to decide, what goes out, what comes back, what is free.

use std::collections::BTreeMap;

use axum::response::Response;
use http::StatusCode;
use jiff::ToSpan as _;
use jiff::civil::Date;
use maud::{Markup, html};
use proto::v1;

use super::day::{Desk, Out, Reason, Return, date};
use super::read::{Names, mark_of, propose, spec};
use crate::advise::id;
use crate::fields::{Fields, encoded};
use crate::page::{self, Tab, mark};
use crate::say::Say;
use crate::stop::Stop;
use crate::visit::Visit;

/// The address of a day.
pub(super) fn address(day: &str) -> String {
    format!("/rentals?day={}", encoded(day))
}

/// The day of the machine.
pub(crate) fn today() -> Date {
    jiff::ZonedDateTime::now().date()
}

pub(super) async fn day(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let on = date(fields.get("day")).unwrap_or_else(today);
    let desk = Desk::read(visit).await?;
    let (out, back) = (desk.going_out(on), desk.coming_back(on));
    let of: Vec<&v1::Booking> = out.iter().map(|own| own.booking).collect();
    let names = Names::read(visit, &desk, &of).await?;
    let reasons = desk.reasons(on);
    let proposal = if fields.has("propose") && visit.may_store() {
        Some(propose(visit, spec(visit, &on.to_string()).await?).await?)
    } else {
        None
    };
    let title = long_date(say, on);
    let step = |days: i32| {
        on.checked_add(days.days()).map_or_else(|_| address(&on.to_string()), |day| address(&day.to_string()))
    };
    let body = html! {
        div.day {
            a.button href=(step(-1)) aria-label=(say.t("day-before")) { "‹" }
            h1 { (title) }
            a.button href=(step(1)) aria-label=(say.t("day-after")) { "›" }
            nav.inline { a href="/shelf/units" { (say.t("kind-units")) } }
            @if visit.may_store() {
                p.buttons {
                    a.button href=(format!("/rentals/booking?day={on}")) { (say.t("enter-booking")) }
                    @if let Some(plan) = &desk.plan {
                        form method="post" action="/rentals/print" {
                            (mark(visit)) input type="hidden" name="plan" value=(plan.name);
                            button type="submit" { (say.t("print-plan")) }
                        }
                    }
                }
            }
        }
        p { (sums(say, &desk, &out, &back)) }
        @if fields.has("moved") { p.told role="alert" { (say.t("plan-moved")) } }
        @match &proposal {
            Some(plan) => (decide(visit, say, &desk, plan, on)),
            None => (why(visit, say, &reasons, on)),
        }
        @if desk.bookings.is_empty() && desk.units.is_empty() { p.quiet { (say.t("no-fleet")) } }
        div.two.desk {
            section { h2 { (say.t("going-out")) } (going_out(visit, say, &desk, &out, &names, on)) }
            section { h2 { (say.t("coming-back")) } (coming_back(visit, say, &back, on)) }
        }
        h2 { (say.t("free-units")) }
        (free(say, &desk, &names, on))
    };
    Ok(page::whole(visit, Tab::Rentals, &title, StatusCode::OK, &body))
}

fn sums(say: Say<'_>, desk: &Desk, out: &[Out<'_>], back: &[Return<'_>]) -> String {
    let late = back.iter().filter(|own| own.late > 0).map(|own| own.units.len()).sum();
    let mut parts = vec![say.count("sum-out", out.len()), say.count("sum-back", back.len())];
    for (key, n) in [("sum-late", late), ("sum-broken", desk.broken())] {
        if n > 0 {
            parts.push(say.count(key, n));
        }
    }
    format!("{}.", parts.join(", "))
}

/// `Thursday, January 14, 2027`.
pub(super) fn long_date(say: Say<'_>, day: Date) -> String {
    let nth = |key: &'static str, n: i8| {
        let names = say.t(key).to_owned();
        names.split(' ').nth(usize::try_from(n - 1).unwrap_or(0)).unwrap_or_default().to_owned()
    };
    let (weekday, month) = (nth("weekdays", day.weekday().to_monday_one_offset()), nth("months", day.month()));
    let parts =
        [("weekday", weekday), ("month", month), ("day", day.day().to_string()), ("year", day.year().to_string())];
    let parts: Vec<(&str, &str)> = parts.iter().map(|(name, text)| (*name, text.as_str())).collect();
    say.f("date-long", &parts)
}

fn reason(say: Say<'_>, reason: &Reason<'_>) -> String {
    match reason {
        Reason::NoPlan => say.t("why-no-plan").to_owned(),
        Reason::New(party) => say.f("why-new", &[("party", party)]),
        Reason::Changed(party) => say.f("why-changed", &[("party", party)]),
        Reason::Cancelled(party) => say.f("why-cancelled", &[("party", party)]),
        Reason::Away(unit) if unit.back_day.is_empty() || unit.state() == v1::UnitState::OnLoan => {
            say.f("why-away", &[("unit", &unit.display_name)])
        }
        Reason::Away(unit) => say.f("why-away-until", &[("unit", &unit.display_name), ("day", &unit.back_day)]),
    }
}

/// Why the plan does not hold, and the way to another.
fn why(visit: &Visit, say: Say<'_>, reasons: &[Reason<'_>], on: Date) -> Markup {
    html! {
        @if !reasons.is_empty() {
            section.panel {
                h2 { (say.t("decide")) }
                ul { @for one in reasons { li { (reason(say, one)) } } }
                @if visit.may_store() {
                    p.buttons { a.button.first href=(format!("{}&propose=1", address(&on.to_string()))) { (say.t("plan-again")) } }
                }
            }
        }
    }
}

/// A plan that is not in force yet: what it changes, and for whom.
fn decide(visit: &Visit, say: Say<'_>, desk: &Desk, plan: &v1::FleetPlan, on: Date) -> Markup {
    let before: BTreeMap<&str, &v1::FleetAssignment> =
        desk.plan.iter().flat_map(|plan| plan.assignments.iter()).map(|own| (own.booking.as_str(), own)).collect();
    let told: BTreeMap<&str, &v1::PlanChange> =
        plan.changes.iter().map(|change| (change.booking.as_str(), change)).collect();
    let moved = plan.assignments.iter().filter(|own| {
        let same =
            before.get(own.booking.as_str()).is_some_and(|old| old.option == own.option && old.given == own.given);
        !same
    });
    let mut rows: Vec<(&str, Option<&v1::FleetAssignment>, Option<&v1::FleetAssignment>)> = moved
        .map(|own| (own.booking_display_name.as_str(), before.get(own.booking.as_str()).copied(), Some(own)))
        .collect();
    for change in plan.changes.iter().filter(|change| !plan.assignments.iter().any(|own| own.booking == change.booking))
    {
        rows.push((&change.booking_display_name, before.get(change.booking.as_str()).copied(), None));
    }
    let of = |old: Option<&v1::FleetAssignment>, new: Option<&v1::FleetAssignment>| {
        let booking = new.or(old).map(|own| own.booking.as_str()).unwrap_or_default();
        told.get(booking)
            .and_then(|change| change.text_sentence.as_ref())
            .map_or_else(|| say.t("tell-desk").to_owned(), |text| say.sentence(text))
    };
    html! {
        section.panel {
            h2 { (say.f(if desk.plan.is_some() { "decide-from" } else { "decide-first-from" }, &[("day", &long_date(say, on))])) }
            p { (say.f(if desk.plan.is_some() { "decide-sum" } else { "decide-first" }, &[("changed", &say.whole(rows.len())), ("served", &say.whole(plan.assignments.len())), ("all", &say.whole(plan.assignments.len() + plan.unmet.len()))])) }
            @if !plan.purchases.is_empty() {
                p { (say.f("decide-buy", &[("what", &bought(plan)), ("cost", &plan.cost.as_ref().map(|cost| say.money(cost)).unwrap_or_default())])) }
            }
            @if !rows.is_empty() {
                table.cards {
                    thead { tr { @for key in ["booking", "so-far", "new", "to-tell"] { th scope="col" { (say.t(key)) } } } }
                    tbody { @for (party, old, new) in &rows {
                        tr {
                            th scope="row" { (party) }
                            td data-label=(say.t("so-far")) { (gear(say, *old)) }
                            td data-label=(say.t("new")) { (gear(say, *new)) }
                            td data-label=(say.t("to-tell")) { (of(*old, *new)) }
                        }
                    } }
                }
            }
            @for unmet in &plan.unmet {
                p { strong { (unmet.booking_display_name) } ": " @for sentence in &unmet.text_sentences { (say.sentence(sentence)) " " } }
            }
            form.buttons method="post" action="/rentals/take" {
                (mark(visit))
                input type="hidden" name="day" value=(on);
                input type="hidden" name="seen" value=(mark_of(plan));
                button.first type="submit" { (say.t("take-plan")) }
                a.button href=(address(&on.to_string())) { (say.t("keep-plan")) }
            }
        }
    }
}

fn bought(plan: &v1::FleetPlan) -> String {
    let each = plan.purchases.iter().map(|own| format!("{} × {}", own.count, own.sensor_display_name));
    each.collect::<Vec<_>>().join(", ")
}

/// `Alder: Alder 1, Alder 2, 1 to buy`.
fn gear(say: Say<'_>, given: Option<&v1::FleetAssignment>) -> String {
    let Some(given) = given else { return say.t("nothing").to_owned() };
    format!("{}: {}", given.sensor_display_name, which(say, given))
}

fn which(say: Say<'_>, given: &v1::FleetAssignment) -> String {
    let mut names: Vec<String> = given.given.iter().map(|unit| unit.display_name.clone()).collect();
    let to_buy = usize::try_from(given.units).unwrap_or(0).saturating_sub(names.len());
    if to_buy > 0 {
        names.push(say.f("to-buy", &[("count", &say.whole(to_buy))]));
    }
    names.join(", ")
}

fn going_out(visit: &Visit, say: Say<'_>, desk: &Desk, out: &[Out<'_>], names: &Names, on: Date) -> Markup {
    if out.is_empty() {
        return html! { p.quiet { (say.t("none-out")) } };
    }
    let plan = desk.plan.as_ref().map(|plan| plan.name.as_str()).unwrap_or_default();
    html! {
        table.cards {
            thead { tr { @for key in ["booking", "place", "kind-units"] { th scope="col" { (say.t(key)) } } th scope="col" { span.hidden { (say.t("hand-out")) } } } }
            tbody { @for own in out {
                tr {
                    th scope="row" {
                        a href=(format!("/rentals/booking/{}", id(&own.booking.name))) { (own.booking.display_name) }
                        br; small { (say.f("party-until", &[("people", &own.booking.anglers.to_string()), ("day", &own.booking.last_day)])) }
                    }
                    td data-label=(say.t("place")) {
                        (names.of(&own.booking.spot)) br;
                        small { @if own.booking.shelter.is_empty() { (say.t("open-ice")) } @else { (names.of(&own.booking.shelter)) } }
                    }
                    td data-label=(say.t("kind-units")) { (units_of(say, own)) }
                    td { (hand_out(visit, say, own, plan, on)) }
                }
            } }
        }
    }
}

fn units_of(say: Say<'_>, own: &Out<'_>) -> Markup {
    html! {
        @if !own.held.is_empty() {
            (own.held.iter().map(|unit| unit.display_name.as_str()).collect::<Vec<_>>().join(", "))
            @let missing = usize::try_from(own.booking.anglers).unwrap_or(0).saturating_sub(own.held.len());
            @if missing > 0 { br; strong { (say.f("still-missing", &[("count", &say.whole(missing))])) } }
        } @else if let Some(given) = own.given {
            (gear(say, Some(given))) br; small { (say.figure(&given.beam)) }
        } @else if let Some(unmet) = own.unmet {
            @for sentence in &unmet.text_sentences { (say.sentence(sentence)) " " }
        } @else { (say.t("not-planned")) }
        @if !own.missing.is_empty() {
            br; strong { (say.f("not-here", &[("units", &own.missing.iter().map(|unit| unit.display_name.as_str()).collect::<Vec<_>>().join(", "))])) }
        }
    }
}

fn hand_out(visit: &Visit, say: Say<'_>, own: &Out<'_>, plan: &str, on: Date) -> Markup {
    html! {
        @if !own.held.is_empty() { span.small { (say.t("is-out")) } }
        @else if own.given.is_some_and(|given| !given.given.is_empty()) && own.missing.is_empty() && visit.may_store() {
            form method="post" action="/rentals/hand-out" {
                (mark(visit))
                input type="hidden" name="booking" value=(id(&own.booking.name));
                input type="hidden" name="plan" value=(plan);
                input type="hidden" name="day" value=(on);
                button type="submit" aria-label=(say.f("hand-out-to", &[("party", &own.booking.display_name)])) { (say.t("hand-out")) }
            }
        }
        @else if !own.missing.is_empty() { span.small { (say.t("after-decision")) } }
    }
}

fn coming_back(visit: &Visit, say: Say<'_>, back: &[Return<'_>], on: Date) -> Markup {
    if back.is_empty() {
        return html! { p.quiet { (say.t("none-back")) } };
    }
    html! {
        table.cards {
            thead { tr { th scope="col" { (say.t("booking-and-units")) } th scope="col" { span.hidden { (say.t("all-back")) } } } }
            tbody { @for own in back {
                @let party = own.booking.map_or_else(|| say.t("with-others").to_owned(), |booking| booking.display_name.clone());
                tr {
                    th scope="row" {
                        (party)
                        @if own.late > 0 { " " strong.tag { (say.count("late", own.late)) } }
                        br; small { (own.units.iter().map(|unit| unit.display_name.as_str()).collect::<Vec<_>>().join(", ")) }
                    }
                    td {
                        @if visit.may_store() {
                            @if let Some(booking) = own.booking {
                                a href=(format!("/rentals/wrong/{}?day={on}", id(&booking.name))) { (say.t("something-wrong")) } " "
                            }
                            form method="post" action="/rentals/back" {
                                (mark(visit))
                                input type="hidden" name="day" value=(on);
                                @for unit in &own.units { input type="hidden" name="unit" value=(id(&unit.name)); }
                                button type="submit" aria-label=(say.f("all-back-of", &[("party", &party)])) { (say.t("all-back")) }
                            }
                        }
                    }
                }
            } }
        }
    }
}

fn free(say: Say<'_>, desk: &Desk, names: &Names, on: Date) -> Markup {
    let rows = desk.free(on);
    if rows.is_empty() {
        return html! { p.quiet { (say.t("no-units")) } };
    }
    let heads = (0..7).map(|ahead| on.checked_add(ahead.days()).unwrap_or(on));
    let heads: Vec<String> = heads
        .map(|day| {
            let names = say.t("weekdays-short").to_owned();
            let weekday = names
                .split(' ')
                .nth(usize::try_from(day.weekday().to_monday_zero_offset()).unwrap_or(0))
                .unwrap_or_default();
            format!("{weekday} {}", day.day())
        })
        .collect();
    html! {
        table.cards.week {
            thead { tr {
                th scope="col" { (say.t("sensor")) } th scope="col" { (say.t("units-all")) }
                @for head in &heads { th scope="col" { (head) } }
            } }
            tbody { @for row in &rows {
                tr {
                    th scope="row" { (names.of(&row.sensor)) }
                    td data-label=(say.t("units-all")) { (say.whole(row.all)) }
                    @for (head, free) in heads.iter().zip(&row.days) { td data-label=(head) { (say.whole(*free)) } }
                }
            } }
        }
    }
}
