//! Forms of the desk: a booking, and what is wrong with units that come back.

use axum::response::Response;
use http::StatusCode;
use maud::{Markup, html};
use proto::v1;

use super::day::{Desk, date};
use super::show::{address, today};
use crate::advise::{Shelf, id};
use crate::answer::see;
use crate::fields::Fields;
use crate::page::{self, Tab, fault_of, faults as summary, mark};
use crate::say::Say;
use crate::shelf::id_of_name;
use crate::stop::{Fault, Stop};
use crate::visit::Visit;

/// Fields of the form of a booking with the keys of their labels, and the fields of the record that they are.
const FIELDS: [(&str, &str, &str); 8] = [
    ("name", "party", "display_name"),
    ("first", "first-day", "first_day"),
    ("last", "last-day", "last_day"),
    ("people", "people-in-party", "anglers"),
    ("place", "place", "spot"),
    ("shelter", "shelter", "shelter"),
    ("lure", "lure", "lure"),
    ("fish", "fish", "fish"),
];

/// The form of a booking, new or stored.
pub(super) async fn booking(
    visit: &Visit,
    stored: Option<&str>,
    fields: &Fields,
    faults: &[(Fault, String)],
) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    if !visit.may_store() {
        return Err(Stop::MayNot);
    }
    let shelf = Shelf::read(visit).await?;
    let title = say.t(if stored.is_some() { "change-booking" } else { "enter-booking" });
    let action = stored.map_or_else(|| "/rentals/booking".to_owned(), |id| format!("/rentals/booking/{id}"));
    let body = html! {
        p.small { a href="/rentals" { (say.t("tab-rentals")) } " ›" }
        h1 { (title) }
        (summary(say, faults))
        form.narrow method="post" action=(action) {
            (mark(visit))
            input type="hidden" name="etag" value=(fields.get("etag"));
            @for (name, key, _) in FIELDS {
                @let fault = fault_of(faults, name);
                div.field {
                    label for=(name) { (say.t(key)) }
                    (input(say, &shelf, name, fields))
                    @if let Some(fault) = fault { p.fault { (fault) } }
                }
            }
            p.buttons { button.first type="submit" { (say.t("store")) } }
        }
        @if let Some(stored) = stored {
            details {
                summary { (say.t("call-off")) }
                form method="post" action=(format!("/rentals/booking/{stored}/delete")) {
                    (mark(visit))
                    input type="hidden" name="etag" value=(fields.get("etag"));
                    input type="hidden" name="day" value=(fields.get("first"));
                    p { (say.t("call-off-help")) }
                    p.buttons { button type="submit" { (say.t("call-off")) } }
                }
            }
        }
    };
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok(page::whole(visit, Tab::Rentals, title, status, &body))
}

fn input(say: Say<'_>, shelf: &Shelf, name: &'static str, fields: &Fields) -> Markup {
    let given = fields.get(name);
    let day = fields.get("day");
    let choice = |none: Option<&str>, all: Vec<(&str, &str)>| {
        html! {
            select id=(name) name=(name) {
                @if let Some(none) = none { option value="" { (none) } }
                @for (record, shown) in all { option value=(id(record)) selected[id(record) == given] { (shown) } }
            }
        }
    };
    let targets =
        |kind| shelf.targets_of(kind).map(|target| (target.name.as_str(), target.display_name.as_str())).collect();
    match name {
        "place" => {
            choice(None, shelf.spots.iter().map(|spot| (spot.name.as_str(), spot.display_name.as_str())).collect())
        }
        "shelter" => choice(
            Some(say.t("open-ice")),
            shelf.shelters.iter().map(|own| (own.name.as_str(), own.display_name.as_str())).collect(),
        ),
        "lure" => choice(None, targets(v1::TargetKind::Lure)),
        "fish" => choice(None, targets(v1::TargetKind::Fish)),
        "first" | "last" => {
            let shown = if given.is_empty() { day } else { given };
            html! { input id=(name) name=(name) type="date" value=(shown) required; }
        }
        "people" => {
            html! { input id=(name) name=(name) inputmode="numeric" value=(if given.is_empty() { "1" } else { given }); }
        }
        _ => html! { input id=(name) name=(name) value=(given) autocomplete="off"; },
    }
}

/// The form with what is stored.
pub(super) async fn stored(visit: &Visit, id_given: &str) -> Result<Response, Stop> {
    let booking = get(visit, id_given).await?;
    let mut fields = Fields::default();
    for (name, value) in [
        ("name", booking.display_name.as_str()),
        ("first", booking.first_day.as_str()),
        ("last", booking.last_day.as_str()),
        ("place", id(&booking.spot)),
        ("shelter", id(&booking.shelter)),
        ("lure", id(&booking.lure)),
        ("fish", id(&booking.fish)),
        ("etag", booking.etag.as_str()),
    ] {
        fields.put(name, value);
    }
    fields.put("people", booking.anglers.to_string());
    self::booking(visit, Some(id_given), &fields, &[]).await
}

async fn get(visit: &Visit, id: &str) -> Result<v1::Booking, Stop> {
    let name = format!("bookings/{id}");
    Ok(visit.client.fleet().get_booking(v1::GetBookingRequest { name }).await?.into_inner())
}

/// Stores a booking; what is accepted is what the services accept.
pub(super) async fn store(visit: &Visit, id_given: Option<&str>, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let before = match id_given {
        Some(id) => get(visit, id).await?,
        None => v1::Booking::default(),
    };
    let named = |collection: &str, field: &str| match fields.get(field) {
        "" => String::new(),
        id => format!("{collection}/{id}"),
    };
    let Ok(anglers) = fields.get("people").parse() else {
        let text = say.f("fault-people", &[("given", fields.get("people"))]);
        let fault = (Fault { field: "people".to_owned(), text }, say.t("people-in-party").to_owned());
        return booking(visit, id_given, fields, &[fault]).await;
    };
    let record = v1::Booking {
        display_name: fields.get("name").to_owned(),
        first_day: fields.get("first").to_owned(),
        last_day: fields.get("last").to_owned(),
        spot: named("spots", "place"),
        shelter: named("shelters", "shelter"),
        anglers,
        lure: named("targets", "lure"),
        fish: named("targets", "fish"),
        etag: fields.get("etag").to_owned(),
        ..before
    };
    let mut fleet = visit.client.fleet();
    let outcome = if id_given.is_some() {
        let update_mask = Some(prost_types::FieldMask { paths: vec!["*".to_owned()] });
        fleet.update_booking(v1::UpdateBookingRequest { booking: Some(record), update_mask }).await
    } else {
        let booking_id = id_of_name(fields.get("name"), "booking");
        fleet.create_booking(v1::CreateBookingRequest { booking_id, booking: Some(record) }).await
    };
    match outcome.map_err(Stop::from) {
        Ok(_) => Ok(see(&address(fields.get("first")))),
        Err(Stop::Refused(faults)) => booking(visit, id_given, fields, &at_fields(say, faults)).await,
        Err(stop) => Err(stop),
    }
}

/// Faults that the services found, at the fields of the form.
fn at_fields(say: Say<'_>, faults: Vec<Fault>) -> Vec<(Fault, String)> {
    let place = |fault: Fault| {
        let path = fault.field.rsplit('.').next().unwrap_or_default();
        match FIELDS.iter().find(|(_, _, field)| *field == path) {
            Some((name, key, _)) => (Fault { field: (*name).to_owned(), text: fault.text }, say.t(key).to_owned()),
            None => (Fault { field: String::new(), text: fault.text }, String::new()),
        }
    };
    faults.into_iter().map(place).collect()
}

/// What units come back as, by the values of the form.
const FATES: [(&str, &str); 3] = [("back", "fate-back"), ("repair", "fate-repair"), ("lost", "fate-lost")];

/// Which of a booking's units come back how.
pub(super) async fn wrong(visit: &Visit, booking: &str, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    if !visit.may_store() {
        return Err(Stop::MayNot);
    }
    let record = get(visit, booking).await?;
    let desk = Desk::read(visit).await?;
    let held: Vec<&v1::Unit> = desk.units.iter().filter(|unit| unit.lent_to == record.name).collect();
    let title = say.f("wrong-with", &[("party", &record.display_name)]);
    let body = html! {
        p.small { a href=(address(fields.get("day"))) { (say.t("tab-rentals")) } " ›" }
        h1 { (title) }
        @if held.is_empty() { p.quiet { (say.t("holds-nothing")) } } @else {
            form.narrow method="post" action=(format!("/rentals/wrong/{booking}")) {
                (mark(visit))
                input type="hidden" name="day" value=(fields.get("day"));
                @for unit in &held {
                    @let key = format!("fate.{}", id(&unit.name));
                    div.field {
                        label for=(key) { (unit.display_name) " (" (unit.serial) ")" }
                        select id=(key) name=(key) { @for (value, word) in FATES { option value=(value) { (say.t(word)) } } }
                    }
                }
                div.field {
                    label for="until" { (say.t("repair-until")) }
                    input id="until" name="until" type="date";
                    p.small { (say.t("repair-help")) }
                }
                p.buttons { button.first type="submit" { (say.t("take-back")) } }
            }
        }
    };
    Ok(page::whole(visit, Tab::Rentals, &title, StatusCode::OK, &body))
}

/// Takes units back as the form says.
pub(super) async fn report(visit: &Visit, booking: &str, fields: &Fields) -> Result<Response, Stop> {
    let record = get(visit, booking).await?;
    let desk = Desk::read(visit).await?;
    let mut fleet = visit.client.fleet();
    let of = |fate: &str| -> Vec<&v1::Unit> {
        let is =
            |unit: &&v1::Unit| unit.lent_to == record.name && fields.get(&format!("fate.{}", id(&unit.name))) == fate;
        desk.units.iter().filter(is).collect()
    };
    let names = |units: &[&v1::Unit]| units.iter().map(|unit| unit.name.clone()).collect::<Vec<_>>();
    let (back, repair) = (names(&of("back")), names(&of("repair")));
    // Those that cannot be refused go last, so that a bad day stores nothing.
    if !repair.is_empty() {
        let back_day = date(fields.get("until")).map(|day| day.to_string()).unwrap_or_default();
        let request = v1::TakeBackUnitsRequest {
            units: repair,
            state: v1::UnitState::InRepair.into(),
            back_day,
            booking: String::new(),
        };
        fleet.take_back_units(request).await?;
    }
    if !back.is_empty() {
        fleet.take_back_units(v1::TakeBackUnitsRequest { units: back, ..v1::TakeBackUnitsRequest::default() }).await?;
    }
    for unit in of("lost") {
        let gone = v1::Unit {
            state: v1::UnitState::Retired.into(),
            lent_to: String::new(),
            back_day: String::new(),
            ..unit.clone()
        };
        let update_mask =
            Some(prost_types::FieldMask { paths: ["state", "lent_to", "back_day"].map(str::to_owned).to_vec() });
        fleet.update_unit(v1::UpdateUnitRequest { unit: Some(gone), update_mask }).await?;
    }
    let day = date(fields.get("day")).unwrap_or_else(today);
    Ok(see(&address(&day.to_string())))
}
