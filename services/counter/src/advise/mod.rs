//! Advise: which sensor for this customer, and how is it set?
//!
//! The question is the address, so that an answer can be opened again. Nothing is stored before somebody prints or keeps it.

mod ask;
mod changed;
mod chart;
mod form;
mod keep;
mod question;
mod sheet;
mod shelf;
pub(crate) mod work;

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, RawQuery};
use axum::response::Response;
use axum::routing::{get, post};
use http::StatusCode;
use maud::{Markup, html};

use crate::Counter;
use crate::answer::given;
use crate::fields::{Fields, query};
use crate::page::{self, Tab};
use crate::posted::Posted;
use crate::say::Say;
use crate::stop::{Fault, Stop};
use crate::visit::Visit;

use question::Question;
use work::Answered;

pub(crate) use ask::BOTTOMS;
pub(crate) use form::bottom;
pub(crate) use keep::printed;
pub(crate) use shelf::{Shelf, id};

pub(crate) fn routes() -> Router<Arc<Counter>> {
    Router::new()
        .route("/advise", get(show))
        .route("/advise/keep", post(keep_question))
        .route("/advise/kept/{run}", get(show_kept))
        .route("/advise/paper", post(print_kept))
        .route("/advise/paper/{report}", get(download))
}

async fn show(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    given(&visit, shown(&visit, &query(raw)).await)
}

async fn keep_question(visit: Visit, Posted(fields): Posted) -> Response {
    given(&visit, keep::keep(&visit, &fields).await)
}

async fn show_kept(visit: Visit, Path(run): Path<String>) -> Response {
    given(&visit, keep::kept(&visit, &run).await)
}

async fn print_kept(visit: Visit, Posted(fields): Posted) -> Response {
    given(&visit, keep::paper(&visit, &fields).await)
}

async fn download(visit: Visit, Path(report): Path<String>) -> Response {
    given(&visit, keep::download(&visit, &report).await)
}

/// What stands where the answer goes.
enum Shown {
    /// No depth yet.
    Nothing,
    /// Somebody stopped it.
    Stopped,
    Faults(Vec<(Fault, String)>),
    Answered(Answered),
}

/// Form and answer.
async fn shown(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let shelf = Shelf::read(visit).await?;
    if shelf.sensors.is_empty() {
        return Ok(page::whole(visit, Tab::Advise, say.t("tab-advise"), StatusCode::OK, &nothing_stored(visit, say)));
    }
    let question = Question::read(fields, say.look.unit);
    let shown = if fields.has("stop") {
        visit.desk.work.stop();
        Shown::Stopped
    } else {
        answer(visit, say, &question, &shelf).await?
    };
    let waiting = matches!(shown, Shown::Answered(Answered::Computing { .. }));
    let more = html! { @if waiting { noscript { meta http-equiv="refresh" content="1"; } } };
    let title = say.t("tab-advise");
    let faults: &[(Fault, String)] = match &shown {
        Shown::Faults(faults) => faults,
        Shown::Nothing | Shown::Stopped | Shown::Answered(_) => &[],
    };
    let body = html! {
        h1.hidden { (title) }
        (page::faults(say, faults))
        div.two {
            (form::form(visit, say, &question, &shelf, faults))
            section.answer id="answer" aria-label=(say.t("answer")) { (part(visit, say, &question, &shelf, &shown)) }
        }
    };
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok(page::whole_with(visit, Tab::Advise, title, status, &body, &more))
}

async fn answer(visit: &Visit, say: Say<'_>, question: &Question, shelf: &Shelf) -> Result<Shown, Stop> {
    if question.is_without_depth() {
        return Ok(Shown::Nothing);
    }
    let request = match ask::request(say, question, shelf, visit.shop.currency(say.look.unit)) {
        Ok(request) => request,
        Err(faults) => return Ok(Shown::Faults(faults)),
    };
    match visit.desk.work.ask(&visit.client, question, say.look.language, request).await {
        Ok(answered) => Ok(Shown::Answered(answered)),
        Err(Stop::Refused(faults)) => Ok(Shown::Faults(ask::at_fields(say, question, faults))),
        Err(stop) => Err(stop),
    }
}

fn nothing_stored(visit: &Visit, say: Say<'_>) -> Markup {
    html! {
        h1 { (say.t("first-use")) }
        @if visit.may_store() {
            p.buttons { a.button href="/shelf/import" { (say.t("import")) } }
            p { (say.t("first-use-help")) }
            pre { "lakebeam demo --out demo-reports" }
        } @else { p { (say.t("stop-may-not")) } }
    }
}

fn part(visit: &Visit, say: Say<'_>, question: &Question, shelf: &Shelf, shown: &Shown) -> Markup {
    match shown {
        Shown::Nothing => html! { p.quiet { (say.t("enter-depth")) } },
        Shown::Stopped => html! { p.quiet { (say.t("stopped")) } },
        Shown::Answered(Answered::Computing { done, total }) => html! {
            div.computing id="computing" {
                p role="status" {
                    @if *total > 0 {
                        (say.f("computing", &[("done", &say.whole(*done)), ("total", &say.whole(*total))]))
                    } @else { (say.t("computing-tables")) }
                    " " a href=(format!("{}&stop=1", question.address())) { (say.t("stop")) }
                }
            }
        },
        Shown::Answered(Answered::Done(answer)) => html! {
            (changed::sentence(visit, say, question, shelf))
            (sheet::asked(say, question, shelf))
            (sheet::answer(visit, say, question, shelf, answer))
        },
        // What was answered before stays, and says so.
        Shown::Faults(_) => match visit.desk.work.last() {
            Some(last) => html! {
                p.told { (say.t("values-before")) }
                div.old { (sheet::answer(visit, say, &last.question, shelf, &last.answer)) }
            },
            None => html! { p.quiet { (say.t("enter-depth")) } },
        },
    }
}
