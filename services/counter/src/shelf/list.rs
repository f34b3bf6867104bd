//! Lists, and the page of one record.

use axum::response::Response;
use http::StatusCode;
use maud::{Markup, html};

use super::edit;
use super::kind::Kind;
use super::kinds::Page;
use crate::fields::{Fields, encoded};
use crate::page::{self, Tab, mark};
use crate::say::Say;
use crate::stop::Stop;
use crate::visit::Visit;

/// Rows of a page.
const ROWS: i32 = 50;

pub(super) async fn list(visit: &Visit, kind: Kind, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let search = fields.get("name");
    let from: usize = fields.get("from").parse().unwrap_or(0);
    let shown = kind.list(visit, say, search, fields.get("page"), ROWS).await?;
    let title = say.t(kind.title_key());
    let body = html! {
        h1 { (say.t("tab-shelf")) }
        (kinds(say, Some(kind)))
        div.tools {
            form.search method="get" role="search" {
                label.hidden for="name" { (say.t("search")) }
                input id="name" name="name" type="search" value=(search) placeholder=(say.t("search"));
                button type="submit" { (say.t("search")) }
            }
            @if visit.may_store() {
                p.buttons {
                    a.button href="/shelf/import" { (say.t("import")) }
                    @if edit::has_form(kind) { a.button href=(format!("/shelf/{}/new", kind.address())) { (say.t(add_key(kind))) } }
                }
            } @else { p.small { (say.t("stop-may-not")) } }
        }
        @if fields.has("deleted") { p.told role="status" { (say.f("deleted", &[("name", fields.get("deleted"))])) } }
        @if fields.has("stored") { p.told role="status" { (say.f("stored", &[("count", fields.get("stored"))])) } }
        (table(say, kind, &shown, search, from))
    };
    Ok(page::whole(visit, Tab::Shelf, title, StatusCode::OK, &body))
}

/// The kinds, with the one that is shown.
pub(super) fn kinds(say: Say<'_>, now: Option<Kind>) -> Markup {
    html! {
        nav.kinds aria-label=(say.t("tab-shelf")) {
            ul { @for kind in Kind::ALL {
                li { a href=(format!("/shelf/{}", kind.address())) aria-current=[(now == Some(kind)).then_some("page")] { (say.t(kind.title_key())) } }
            } }
        }
    }
}

const fn add_key(kind: Kind) -> &'static str {
    match kind {
        Kind::Sensors => "add-sensor",
        Kind::Places => "add-stored-place",
        Kind::Shelters => "add-shelter",
        Kind::Targets => "add-target",
        Kind::Goals => "add-goal",
        Kind::Units => "add-unit",
    }
}

fn table(say: Say<'_>, kind: Kind, shown: &Page, search: &str, from: usize) -> Markup {
    if shown.rows.is_empty() {
        return html! {
            p.quiet {
                @if search.is_empty() { (say.t("none-of-kind")) } @else { (say.f("nothing-matches", &[("search", search)])) }
            }
        };
    }
    let (first, last) = (say.whole(from + 1), say.whole(from + shown.rows.len()));
    let next = format!(
        "/shelf/{}?name={}&page={}&from={}",
        kind.address(),
        encoded(search),
        encoded(&shown.next),
        from + shown.rows.len()
    );
    html! {
        p.small { (say.f("rows-of", &[("first", &first), ("last", &last), ("total", &say.whole(shown.total))])) }
        table.cards {
            thead { tr {
                th scope="col" { (say.t("name")) }
                @for key in kind.columns() { th scope="col" { (say.t(key)) } }
            } }
            tbody {
                @for row in &shown.rows {
                    tr {
                        th scope="row" { a href=(format!("/shelf/{}/{}", kind.address(), row.id)) { (row.name) } }
                        @for (key, cell) in kind.columns().iter().zip(&row.cells) {
                            td data-label=(say.t(key)) { (cell) }
                        }
                    }
                }
            }
        }
        @if !shown.next.is_empty() { p.buttons { a.button href=(next) { (say.t("next-rows")) } } }
    }
}

pub(super) async fn record(visit: &Visit, kind: Kind, id: &str) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let record = kind.get(visit, say, id).await?;
    let address = format!("/shelf/{}/{id}", kind.address());
    let body = html! {
        p.small { a href=(format!("/shelf/{}", kind.address())) { (say.t(kind.title_key())) } " › " (record.name) }
        h1 { (record.name) }
        dl.record {
            @for (key, value) in record.fields.iter().filter(|(_, value)| !value.is_empty()) {
                dt { (say.t(key)) } dd { (value) }
            }
        }
        @if visit.may_store() {
            @if edit::has_form(kind) { (edit::form(visit, say, kind, id).await?) }
            details {
                summary { (say.t("delete")) }
                form method="post" action=(format!("{address}/delete")) {
                    (mark(visit))
                    input type="hidden" name="etag" value=(record.etag);
                    p { (say.t("delete-help")) }
                    p.buttons { button type="submit" { (say.f("delete-it", &[("name", &record.name)])) } }
                }
            }
        } @else { p.small { (say.t("stop-may-not")) } }
    };
    Ok(page::whole(visit, Tab::Shelf, &record.name, StatusCode::OK, &body))
}
