//! Rentals: who gets which unit today, what is back, what broke?
//!
//! The newest plan is the one in force. Another one is only shown until it is taken: it is computed without being stored, and computed once more when it
//! is taken, as the same input makes the same plan.

mod day;
mod enter;
mod read;
mod show;

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, RawQuery};
use axum::response::Response;
use axum::routing::{get, post};
use proto::v1;

use crate::Counter;
use crate::answer::{given, see};
use crate::fields::{Fields, query};
use crate::posted::Posted;
use crate::stop::Stop;
use crate::visit::Visit;

use show::address;
pub(crate) use show::today;

pub(crate) fn routes() -> Router<Arc<Counter>> {
    Router::new()
        .route("/rentals", get(show_day))
        .route("/rentals/take", post(take))
        .route("/rentals/hand-out", post(hand_out))
        .route("/rentals/back", post(take_back))
        .route("/rentals/wrong/{booking}", get(show_wrong).post(report_wrong))
        .route("/rentals/booking", get(show_new).post(create))
        .route("/rentals/booking/{id}", get(show_booking).post(change))
        .route("/rentals/booking/{id}/delete", post(call_off))
        .route("/rentals/print", post(print))
}

async fn show_day(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    given(&visit, show::day(&visit, &query(raw)).await)
}

async fn take(visit: Visit, Posted(fields): Posted) -> Response {
    given(&visit, taken(&visit, &fields).await)
}

/// Makes the plan that was shown the one in force, unless it would be another one by now: then that is shown.
async fn taken(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    let spec = read::spec(visit, fields.get("day")).await?;
    let shown = read::propose(visit, spec.clone()).await?;
    if read::mark_of(&shown) != fields.get("seen") {
        return Ok(see(&format!("{}&propose=1&moved=1", address(fields.get("day")))));
    }
    let request = v1::PlanFleetRequest { spec: Some(spec), validate_only: false };
    visit.client.fleet().plan_fleet(request).await?;
    Ok(see(&address(fields.get("day"))))
}

async fn hand_out(visit: Visit, Posted(fields): Posted) -> Response {
    let done = async {
        let request = v1::HandOutUnitsRequest {
            booking: format!("bookings/{}", fields.get("booking")),
            plan: fields.get("plan").to_owned(),
            ..v1::HandOutUnitsRequest::default()
        };
        visit.client.fleet().hand_out_units(request).await?;
        Ok(see(&address(fields.get("day"))))
    };
    given(&visit, done.await)
}

async fn take_back(visit: Visit, Posted(fields): Posted) -> Response {
    let done = async {
        let units = fields.all("unit").map(|id| format!("units/{id}")).collect();
        let request = v1::TakeBackUnitsRequest { units, ..v1::TakeBackUnitsRequest::default() };
        visit.client.fleet().take_back_units(request).await?;
        Ok(see(&address(fields.get("day"))))
    };
    given(&visit, done.await)
}

async fn show_wrong(visit: Visit, Path(booking): Path<String>, RawQuery(raw): RawQuery) -> Response {
    given(&visit, enter::wrong(&visit, &booking, &query(raw)).await)
}

async fn report_wrong(visit: Visit, Path(booking): Path<String>, Posted(fields): Posted) -> Response {
    given(&visit, enter::report(&visit, &booking, &fields).await)
}

async fn show_new(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    given(&visit, enter::booking(&visit, None, &query(raw), &[]).await)
}

async fn create(visit: Visit, Posted(fields): Posted) -> Response {
    given(&visit, enter::store(&visit, None, &fields).await)
}

async fn show_booking(visit: Visit, Path(id): Path<String>) -> Response {
    given(&visit, enter::stored(&visit, &id).await)
}

async fn change(visit: Visit, Path(id): Path<String>, Posted(fields): Posted) -> Response {
    given(&visit, enter::store(&visit, Some(&id), &fields).await)
}

async fn call_off(visit: Visit, Path(id): Path<String>, Posted(fields): Posted) -> Response {
    let done = async {
        let name = format!("bookings/{id}");
        let etag = fields.get("etag").to_owned();
        visit.client.fleet().delete_booking(v1::DeleteBookingRequest { name, etag, force: false }).await?;
        Ok(see(&address(fields.get("day"))))
    };
    given(&visit, done.await)
}

async fn print(visit: Visit, Posted(fields): Posted) -> Response {
    let done = async {
        let say = visit.say().ok_or(Stop::NotThere)?;
        crate::advise::printed(&visit, say, fields.get("plan"), "fleet-plan").await
    };
    given(&visit, done.await)
}
