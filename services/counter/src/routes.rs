//! Which address leads to which page.

use std::sync::Arc;

use axum::Router;
use axum::extract::RawQuery;
use axum::middleware::from_fn_with_state;
use axum::response::Response;
use axum::routing::get;

use crate::Counter;
use crate::answer::{given, local, see, stopped};
use crate::fields::query;
use crate::posted::Posted;
use crate::say::{Look, Unit};
use crate::stop::Stop;
use crate::visit::Visit;
use crate::{advise, checks, cookies, door, event, gate, rentals, shelf, shop, sign_in};

/// The pages as a service of HTTP.
pub fn router(counter: Arc<Counter>) -> Router {
    Router::new()
        .route("/", get(|| async { see("/advise") }))
        .route("/look", get(look))
        .route("/sign-in", get(sign_in::show).post(sign_in::enter))
        .route("/sign-out", axum::routing::post(sign_in::leave))
        .route("/shop", get(show_shop).post(store_shop))
        .merge(advise::routes())
        .merge(rentals::routes())
        .merge(event::routes())
        .merge(door::routes())
        .merge(checks::routes())
        .merge(shelf::routes())
        .fallback(|visit: Visit| async move { stopped(&visit, &Stop::NotThere) })
        .layer(from_fn_with_state(Arc::clone(&counter), gate::gate))
        .with_state(counter)
}

/// Another language or unit; it changes only what is shown.
async fn look(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    let fields = query(raw);
    let language = Look::language(fields.get("language")).unwrap_or(visit.look.language);
    let unit = Unit::of(fields.get("unit")).unwrap_or(visit.look.unit);
    let mut response = see(local(fields.get("then")).unwrap_or("/"));
    cookies::remember(&mut response, cookies::LOOK, &Look { language, unit }.cookie(), visit.counter.secure);
    response
}

async fn show_shop(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    given(&visit, shop::show(&visit, &query(raw)))
}

async fn store_shop(visit: Visit, Posted(fields): Posted) -> Response {
    shop::store(&visit, &fields)
}
