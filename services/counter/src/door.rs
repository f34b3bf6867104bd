//! Door: may this unit be used at this shelter, and at what gain? From the rules of an event, for the marshal who goes from one to the next.

use std::sync::Arc;

use axum::Router;
use axum::extract::RawQuery;
use axum::response::{IntoResponse as _, Response};
use axum::routing::get;
use http::StatusCode;
use http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use maud::{DOCTYPE, Markup, html};
use proto::v1::{self, ShelterRules};
use reports::AtTheDoor;

use crate::Counter;
use crate::advise::id;
use crate::answer::given;
use crate::fields::{Fields, query};
use crate::files;
use crate::page::{self, Tab};
use crate::say::Say;
use crate::stop::Stop;
use crate::visit::Visit;

pub(crate) fn routes() -> Router<Arc<Counter>> {
    Router::new().route("/door", get(show)).route("/door/save", get(save))
}

async fn show(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    given(&visit, page_of(&visit, &query(raw)).await)
}

async fn save(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    given(&visit, saved(&visit, &query(raw)).await)
}

/// The rules that an address names, or the newest; none where there are none.
async fn rules(visit: &Visit, fields: &Fields) -> Result<Option<ShelterRules>, Stop> {
    let id = if fields.has("rules") { fields.get("rules") } else { "latest" };
    let request = v1::GetShelterRulesRequest { name: format!("shelterRules/{id}") };
    match visit.client.rules().get_shelter_rules(request).await.map_err(Stop::from) {
        Ok(rules) => Ok(Some(rules.into_inner())),
        Err(Stop::NotThere) if !fields.has("rules") => Ok(None),
        Err(stop) => Err(stop),
    }
}

/// What is chosen: places in the rules.
struct Chosen<'a> {
    sheet: &'a v1::ShelterSheet,
    band: &'a v1::BandRules,
    option: u32,
}

fn number(fields: &Fields, name: &str) -> usize {
    fields.get(name).parse().unwrap_or(0)
}

fn chosen<'a>(rules: &'a ShelterRules, fields: &Fields) -> Option<Chosen<'a>> {
    let sheet = rules.sheets.get(number(fields, "shelter")).or_else(|| rules.sheets.first())?;
    let band = sheet.bands.get(number(fields, "band")).or_else(|| sheet.bands.first())?;
    Some(Chosen { sheet, band, option: fields.get("unit").parse().ok()? })
}

async fn page_of(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let title = say.t("tab-door");
    let body = match rules(visit, fields).await? {
        None => html! {
            h1 { (title) }
            p.quiet { (say.t("door-no-rules")) " " a href="/event" { (say.t("tab-event")) } }
        },
        Some(rules) => html! {
            h1 { (title) }
            div.door {
                (form(say, &rules, fields))
                section id="answer" aria-label=(say.t("answer")) {
                    @match chosen(&rules, fields).and_then(|chosen| Some((at(say, &rules, &chosen)?, chosen))) {
                        Some((answer, chosen)) => (told(say, &rules, &chosen, &answer)),
                        None => p.quiet { (say.t("door-choose")) },
                    }
                }
            }
            p.small { a href=(format!("/door/save?rules={}", id(&rules.name))) { (say.t("door-save")) } " " (say.t("door-save-help")) }
        },
    };
    Ok(page::whole(visit, Tab::Door, title, StatusCode::OK, &body))
}

fn shelter_name(sheet: &v1::ShelterSheet) -> &str {
    sheet.shelter.as_ref().map_or("", |shelter| shelter.display_name.as_str())
}

fn form(say: Say<'_>, rules: &ShelterRules, fields: &Fields) -> Markup {
    let bands = chosen_sheet(rules, fields).map_or(&[][..], |sheet| &sheet.bands);
    let speaker = say.speaker();
    html! {
        form.narrow method="get" action="/door#answer" {
            input type="hidden" name="rules" value=(id(&rules.name));
            div.field {
                label for="shelter" { (say.t("shelter")) }
                select id="shelter" name="shelter" {
                    @for (at, sheet) in rules.sheets.iter().enumerate() {
                        option value=(at) selected[at == number(fields, "shelter")] { (shelter_name(sheet)) }
                    }
                }
            }
            div.field {
                label for="band" { (say.t("depth")) }
                select id="band" name="band" {
                    @for (at, band) in bands.iter().enumerate() {
                        option value=(at) selected[at == number(fields, "band")] { (speaker.depths(band)) }
                    }
                }
            }
            div.field {
                label for="unit" { (say.t("door-unit")) }
                select id="unit" name="unit" {
                    option value="" { (say.t("door-choose-unit")) }
                    @for group in [false, true] {
                        @let of_group = (0_u32..).zip(&rules.options).filter(|(_, option)| option.unlisted.is_some() == group);
                        @for (at, _) in of_group {
                            option value=(at) selected[fields.get("unit") == at.to_string()] { (speaker.ruled_option(rules, at)) }
                        }
                    }
                }
                @if rules.options.iter().all(|option| option.unlisted.is_none()) { p.small { (say.t("door-unlisted-none")) } }
            }
            p.buttons { button.first type="submit" { (say.t("show")) } }
        }
    }
}

fn chosen_sheet<'a>(rules: &'a ShelterRules, fields: &Fields) -> Option<&'a v1::ShelterSheet> {
    rules.sheets.get(number(fields, "shelter")).or_else(|| rules.sheets.first())
}

fn at(say: Say<'_>, rules: &ShelterRules, chosen: &Chosen<'_>) -> Option<AtTheDoor> {
    say.speaker().at_the_door(rules, chosen.sheet, chosen.band, chosen.option)
}

/// The answer, in letters that are read at arm's length.
fn told(say: Say<'_>, rules: &ShelterRules, chosen: &Chosen<'_>, answer: &AtTheDoor) -> Markup {
    html! {
        div.panel {
            p.small {
                (shelter_name(chosen.sheet)) " · " (say.speaker().depths(chosen.band)) " · " (say.speaker().ruled_option(rules, chosen.option))
            }
            (verdict(say, answer))
        }
    }
}

fn verdict(say: Say<'_>, answer: &AtTheDoor) -> Markup {
    html! {
        h2 { (say.t(if answer.allowed { "door-allowed" } else { "door-refused" })) }
        @if answer.allowed {
            dl.record {
                dt { (say.t("start")) } dd.large { (answer.start) }
                dt { (say.t("never-above")) } dd.large { (answer.highest) }
                @if !answer.not_with.is_empty() { dt { (say.t("door-not-with")) } dd { (answer.not_with.join("; ")) } }
            }
            p { (say.t("door-keys")) }
        } @else { p.large { (answer.why) "." } }
        details {
            summary { (say.t("door-holds")) }
            ul { @for line in &answer.holds { li { (line) } } }
        }
    }
}

/// All answers of an event in one file that needs neither network nor script.
async fn saved(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let rules = rules(visit, fields).await?.ok_or(Stop::NotThere)?;
    let speaker = say.speaker();
    let answers = |sheet: &v1::ShelterSheet| {
        html! {
            @for band in &sheet.bands {
                details {
                    summary { h3 { (speaker.depths(band)) } }
                    @for (option, _) in (0_u32..).zip(&rules.options) {
                        @if let Some(answer) = speaker.at_the_door(&rules, sheet, band, option) {
                            details {
                                summary { (speaker.ruled_option(&rules, option)) ": " strong { (say.t(if answer.allowed { "door-allowed" } else { "door-refused" })) } }
                                (verdict(say, &answer))
                            }
                        }
                    }
                }
            }
        }
    };
    let document = html! {
        (DOCTYPE)
        html lang=(say.look.language) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (say.t("tab-door")) " · " (visit.shop.name(say)) }
                style { (maud::PreEscaped(files::STYLE)) }
            }
            body {
                main {
                    h1 { (say.t("tab-door")) }
                    p { (say.t("door-cautions")) }
                    @for sheet in &rules.sheets { details open[rules.sheets.len() == 1] { summary { h2 { (shelter_name(sheet)) } } (answers(sheet)) } }
                }
            }
        }
    };
    let headers = [
        (CONTENT_TYPE, "text/html; charset=utf-8".to_owned()),
        (CONTENT_DISPOSITION, format!("attachment; filename=\"door-{}.html\"", id(&rules.name))),
    ];
    Ok((headers, document.into_string()).into_response())
}
