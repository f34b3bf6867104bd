//! Shelf: are our sensors, places, shelters and units right?
//!
//! Lists, a page a record, forms for what a shop adds by hand, and files with a look at what they hold before anything is stored.

mod edit;
mod import;
mod kind;
mod kinds;
mod list;
pub(crate) mod uploads;

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, RawQuery, Request};
use axum::response::Response;
use axum::routing::{get, post};

use crate::Counter;
use crate::answer::{given, see};
use crate::fields::query;
use crate::posted::Posted;
use crate::stop::Stop;
use crate::visit::Visit;

use kind::Kind;

pub(crate) use edit::id as id_of_name;

pub(crate) fn routes() -> Router<Arc<Counter>> {
    Router::new()
        .route("/shelf", get(|| async { see("/shelf/sensors") }))
        .route("/shelf/import", get(show_import).post(take_file))
        .route("/shelf/import/{upload}", get(show_upload).post(store_upload))
        .route("/shelf/{kind}", get(show_list))
        .route("/shelf/{kind}/new", get(show_new).post(create))
        .route("/shelf/{kind}/{id}", get(show_record).post(change))
        .route("/shelf/{kind}/{id}/delete", post(remove))
}

/// A kind by its address; another one is not there.
fn kind(address: &str) -> Result<Kind, Stop> {
    Kind::of(address).ok_or(Stop::NotThere)
}

async fn show_list(visit: Visit, Path(address): Path<String>, RawQuery(raw): RawQuery) -> Response {
    let shown = async { list::list(&visit, kind(&address)?, &query(raw)).await };
    given(&visit, shown.await)
}

async fn show_record(visit: Visit, Path((address, id)): Path<(String, String)>) -> Response {
    let shown = async { list::record(&visit, kind(&address)?, &id).await };
    given(&visit, shown.await)
}

async fn show_new(visit: Visit, Path(address): Path<String>) -> Response {
    given(&visit, kind(&address).and_then(|kind| edit::new(&visit, kind)))
}

async fn create(visit: Visit, Path(address): Path<String>, Posted(fields): Posted) -> Response {
    let created = async { edit::create(&visit, kind(&address)?, &fields).await };
    given(&visit, created.await)
}

async fn change(visit: Visit, Path((address, id)): Path<(String, String)>, Posted(fields): Posted) -> Response {
    let changed = async { edit::change(&visit, kind(&address)?, &id, &fields).await };
    given(&visit, changed.await)
}

async fn remove(visit: Visit, Path((address, id)): Path<(String, String)>, Posted(fields): Posted) -> Response {
    let removed = async { edit::remove(&visit, kind(&address)?, &id, &fields).await };
    given(&visit, removed.await)
}

async fn show_import(visit: Visit) -> Response {
    given(&visit, import::ask(&visit))
}

async fn take_file(visit: Visit, request: Request) -> Response {
    given(&visit, import::take(&visit, request).await)
}

async fn show_upload(visit: Visit, Path(upload): Path<String>) -> Response {
    given(&visit, import::preview(&visit, &upload).await)
}

async fn store_upload(visit: Visit, Path(upload): Path<String>, Posted(fields): Posted) -> Response {
    given(&visit, import::store(&visit, &upload, &fields).await)
}
