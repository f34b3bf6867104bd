//! Printing and keeping: only here does a question become records and a run, labelled by day and time.

use axum::response::{IntoResponse as _, Response};
use http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use http::{HeaderValue, StatusCode};
use jiff::Timestamp;
use maud::html;
use proto::v1;

use super::ask;
use super::question::Question;
use super::shelf::Shelf;
use crate::answer::see;
use crate::fields::Fields;
use crate::page::{self, Tab, mark};
use crate::say::Say;
use crate::stop::Stop;
use crate::visit::Visit;

/// Papers that a kept question is printed as.
const PAPERS: [(&str, &str); 2] = [("customer-sheet", "print-sheet"), ("comparison", "full-comparison")];

/// Stores the question and starts its run.
pub(super) async fn keep(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let shelf = Shelf::read(visit).await?;
    let question = Question::read(&Fields::read(fields.get("question").as_bytes()), say.look.unit);
    let request = ask::request(say, &question, &shelf, visit.shop.currency(say.look.unit))
        .map_err(|faults| Stop::Refused(faults.into_iter().map(|(fault, _)| fault).collect()))?;
    let run = stored(visit, request).await?;
    let then = fields.get("then");
    let ended = followed(visit, &run).await?;
    if ended && PAPERS.iter().any(|(template, _)| *template == then) {
        return printed(visit, say, &run, then).await;
    }
    Ok(see(&format!("/advise/kept/{}", super::shelf::id(&run))))
}

/// Records of the question that are not stored yet, and the run over them.
async fn stored(visit: &Visit, request: v1::RecommendRequest) -> Result<String, Stop> {
    let mut spec = request.spec.unwrap_or_default();
    let stamp = Timestamp::now();
    let id = |what: &str| format!("advice-{}-{what}", stamp.as_millisecond());
    let label = |name: &str| format!("{name} · {}", stamp.strftime("%Y-%m-%d %H:%M"));
    let mut catalog = visit.client.catalog();
    for (at, mut spot) in request.spots.into_iter().enumerate() {
        spot.display_name = label(&spot.display_name);
        let ask = v1::CreateSpotRequest { spot_id: id(&(at + 1).to_string()), spot: Some(spot) };
        spec.spots.push(catalog.create_spot(ask).await?.into_inner().name);
    }
    if let Some(mut shelter) = request.shelter {
        shelter.display_name = label(&shelter.display_name);
        let ask = v1::CreateShelterRequest { shelter_id: id("shelter"), shelter: Some(shelter) };
        spec.shelter = catalog.create_shelter(ask).await?.into_inner().name;
    }
    for (target, what, slot) in [(request.lure, "lure", &mut spec.lure), (request.fish, "fish", &mut spec.fish)] {
        if let Some(target) = target {
            let ask = v1::CreateTargetRequest { target_id: id(what), target: Some(target) };
            *slot = catalog.create_target(ask).await?.into_inner().name;
        }
    }
    let request = v1::StartRunRequest { spec: Some(spec), ..Default::default() };
    Ok(visit.client.selection().start_run(request).await?.into_inner().name)
}

/// Waits for the end of a run for as long as a page does; whether it has come.
async fn followed(visit: &Visit, run: &str) -> Result<bool, Stop> {
    let watched = async {
        let request = v1::WatchRunRequest { name: run.to_owned() };
        let mut stream = visit.client.selection().watch_run(request).await?.into_inner();
        while stream.message().await?.is_some() {}
        Ok::<_, tonic::Status>(())
    };
    match tokio::time::timeout(std::time::Duration::from_secs(5), watched).await {
        Ok(done) => Ok(done.map(|()| true)?),
        Err(_) => Ok(false),
    }
}

/// A kept question: what can be done with it.
pub(super) async fn kept(visit: &Visit, run: &str) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let name = format!("runs/{run}");
    let run = visit.client.selection().get_run(v1::GetRunRequest { name: name.clone() }).await?.into_inner();
    let ended = run.state() == v1::RunState::Succeeded;
    let waiting = matches!(run.state(), v1::RunState::Pending | v1::RunState::Running);
    let more = html! { @if waiting { meta http-equiv="refresh" content="1"; } };
    let count = |n: i64| say.whole(usize::try_from(n).unwrap_or(0));
    let body = html! {
        h1 { (say.t("kept")) }
        @if ended {
            p { (say.t("kept-help")) }
            @if visit.may_store() {
                form.buttons method="post" action="/advise/paper" {
                    (mark(visit))
                    input type="hidden" name="run" value=(name);
                    @for (template, key) in PAPERS { button type="submit" name="template" value=(template) { (say.t(key)) } }
                }
            }
        } @else if waiting {
            p role="status" { (say.f("computing", &[("done", &count(run.findings_done)), ("total", &count(run.findings_total))])) }
        } @else { p { (say.t("kept-failed")) " " (run.error) } }
        p { a href="/advise" { (say.t("next-customer")) } }
    };
    Ok(page::whole_with(visit, Tab::Advise, say.t("kept"), StatusCode::OK, &body, &more))
}

/// The paper of a kept question.
pub(super) async fn paper(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    printed(visit, say, fields.get("run"), fields.get("template")).await
}

/// Renders a paper of a run or a document, and goes to it.
pub(crate) async fn printed(visit: &Visit, say: Say<'_>, run: &str, template: &str) -> Result<Response, Stop> {
    let unit = match say.look.unit {
        crate::say::Unit::Feet => v1::LengthUnit::Feet,
        crate::say::Unit::Metres => v1::LengthUnit::Metres,
    };
    let request = v1::RenderReportRequest {
        source: run.to_owned(),
        template: format!("templates/{template}"),
        length_unit: unit.into(),
        paper: visit.shop.paper(say.look.unit).into(),
        organisation: visit.shop.organisation(),
        contact: visit.shop.contact.clone(),
        language_code: say.look.language.to_owned(),
        ..Default::default()
    };
    let report = visit.client.reports().render_report(request).await?.into_inner();
    Ok(see(&format!("/advise/paper/{}", super::shelf::id(&report.name))))
}

/// The bytes of a paper.
pub(super) async fn download(visit: &Visit, report: &str) -> Result<Response, Stop> {
    let request = v1::DownloadReportRequest { name: format!("reports/{report}") };
    let mut stream = visit.client.reports().download_report(request).await?.into_inner();
    let mut bytes = Vec::new();
    while let Some(part) = stream.message().await? {
        bytes.extend_from_slice(&part.chunk);
    }
    let headers = [
        (CONTENT_TYPE, HeaderValue::from_static("application/pdf")),
        (CONTENT_DISPOSITION, HeaderValue::from_static("inline; filename=\"sheet.pdf\"")),
    ];
    Ok((headers, bytes).into_response())
}
