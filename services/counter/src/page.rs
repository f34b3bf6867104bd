//! What every page has: head, pages to go to, language and unit, and the place for what it says.

use axum::response::{IntoResponse as _, Response};
use http::header::CONTENT_TYPE;
use http::{HeaderValue, StatusCode};
use maud::{DOCTYPE, Markup, html};

use crate::fields::encoded;
use crate::files;
use crate::say::{Look, Say, Unit};
use crate::stop::Fault;
use crate::visit::Visit;

/// The pages.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tab {
    Advise,
    Rentals,
    Event,
    Door,
    Checks,
    Shelf,
    /// Sign in, this shop, refusals.
    None,
}

impl Tab {
    /// Those that there are, with address and key of the name.
    const ALL: [(Self, &'static str, &'static str); 6] = [
        (Self::Advise, "/advise", "tab-advise"),
        (Self::Rentals, "/rentals", "tab-rentals"),
        (Self::Event, "/event", "tab-event"),
        (Self::Door, "/door", "tab-door"),
        (Self::Checks, "/checks", "tab-checks"),
        (Self::Shelf, "/shelf/sensors", "tab-shelf"),
    ];
}

/// Markup as a page.
fn markup(status: StatusCode, markup: Markup) -> Response {
    let kind = (CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8"));
    (status, [kind], markup.into_string()).into_response()
}

/// A whole page.
pub(crate) fn whole(visit: &Visit, tab: Tab, title: &str, status: StatusCode, body: &Markup) -> Response {
    whole_with(visit, tab, title, status, body, &html! {})
}

/// The same with more in its head, such as when to look again.
pub(crate) fn whole_with(
    visit: &Visit,
    tab: Tab,
    title: &str,
    status: StatusCode,
    body: &Markup,
    more: &Markup,
) -> Response {
    let Some(say) = visit.say() else { return markup(status, body.clone()) };
    let shop = visit.shop.name(say);
    markup(
        status,
        html! {
            (DOCTYPE)
            html lang=(say.look.language) {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { (title) " · " (shop) }
                    link rel="stylesheet" href=(files::style());
                    link rel="icon" href="/favicon.ico" type="image/svg+xml";
                    script src=(files::script()) defer {}
                    (more)
                }
                body {
                    a.skip href="#main" { (say.t("skip")) }
                    (head(visit, tab, say, &shop))
                    main id="main" { (body) }
                    p.hidden id="live" role="status" aria-live="polite" {}
                }
            }
        },
    )
}

fn head(visit: &Visit, tab: Tab, say: Say<'_>, shop: &str) -> Markup {
    let name = Tab::ALL.iter().find(|(known, ..)| *known == tab).map(|(.., key)| say.t(key));
    html! {
        header.head {
            a.shop href="/shop" { (shop) }
            @if visit.caller.is_some() {
                nav.tabs aria-label=(say.t("pages")) { (tabs(tab, say)) }
                details.menu {
                    summary { (name.unwrap_or(say.t("pages"))) }
                    nav aria-label=(say.t("pages")) { (tabs(tab, say)) (looks(visit, say)) }
                }
            }
            div.looks { (looks(visit, say)) }
        }
    }
}

fn tabs(tab: Tab, say: Say<'_>) -> Markup {
    html! {
        ul {
            @for (known, address, key) in Tab::ALL {
                li { a href=(address) aria-current=[(known == tab).then_some("page")] { (say.t(key)) } }
            }
        }
    }
}

fn looks(visit: &Visit, say: Say<'_>) -> Markup {
    let then = encoded(&visit.here);
    html! {
        ul.choice aria-label=(say.t("unit")) {
            @for unit in Unit::ALL {
                li {
                    @if unit == say.look.unit { strong { (unit.tag()) } }
                    @else { a href=(format!("/look?unit={}&then={then}", unit.tag())) { (unit.tag()) } }
                }
            }
        }
        ul.choice aria-label=(say.t("language")) {
            @for (tag, name) in Look::languages() {
                li {
                    @if tag == say.look.language { strong { (name) } }
                    @else { a href=(format!("/look?language={tag}&then={then}")) lang=(tag) hreflang=(tag) { (name) } }
                }
            }
        }
        @if visit.desk.token.is_some() && let Some(caller) = &visit.caller {
            form.leave method="post" action="/sign-out" {
                (mark(visit))
                button.link type="submit" { (say.f("sign-out", &[("name", &caller.display_name)])) }
            }
        }
    }
}

/// The mark of the desk, in every form that is posted.
pub(crate) fn mark(visit: &Visit) -> Markup {
    html! { input type="hidden" name="mark" value=(visit.desk.mark); }
}

/// Faults of fields at the top of a form, each with a link to its field. Field is the id of the input.
pub(crate) fn faults(say: Say<'_>, faults: &[(Fault, String)]) -> Markup {
    html! {
        @if !faults.is_empty() {
            div.faults id="faults" role="alert" tabindex="-1" autofocus {
                ul {
                    @for (fault, label) in faults {
                        li {
                            @if fault.field.is_empty() { (fault.text) }
                            @else { a href=(format!("#{}", fault.field)) { (say.f("needs-repair", &[("field", label)])) } }
                        }
                    }
                }
            }
        }
    }
}

/// What stands under a field that is at fault.
pub(crate) fn fault_of(faults: &[(Fault, String)], field: &str) -> Option<String> {
    faults.iter().find(|(fault, _)| fault.field == field).map(|(fault, _)| fault.text.clone())
}
