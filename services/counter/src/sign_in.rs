//! Sign in with a token, and out again.

use std::sync::Arc;

use axum::extract::{RawQuery, Request, State};
use axum::response::Response;
use http::{Method, StatusCode};
use maud::html;
use proto::v1;

use crate::Counter;
use crate::answer::{local, see, stopped};
use crate::client::Client;
use crate::cookies::remember_desk;
use crate::fields::query;
use crate::page::{self, Tab, mark};
use crate::posted::{Posted, posted};
use crate::stop::Stop;
use crate::visit::Visit;

/// Whether an address is for those too who are not signed in.
pub(crate) fn is_open(path: &str) -> bool {
    path == "/sign-in" || path == "/look"
}

/// Where nobody is signed in: the way to the page of that. A form that was sent comes back after signing in.
pub(crate) fn instead(visit: &Visit, request: &Request) -> Response {
    if request.method() == Method::GET {
        return stopped(visit, &Stop::SignIn);
    }
    // The page that the form stood on has its address; what was typed comes back with it where the address holds it.
    let came_from = request.headers().get(http::header::REFERER).and_then(|value| value.to_str().ok());
    let page = came_from.and_then(|text| text.parse::<http::Uri>().ok());
    let page = page.and_then(|uri| uri.path_and_query().map(|p| p.as_str().to_owned())).unwrap_or("/".to_owned());
    see(&format!("/sign-in?over=1&then={}", crate::fields::encoded(&page)))
}

pub(crate) async fn show(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    let fields = query(raw);
    form(&visit, local(fields.get("then")).unwrap_or("/"), Before::of(fields.has("over")), StatusCode::OK)
}

/// What went before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Before {
    Nothing,
    /// A form was sent when the session was over.
    Over,
    /// The token was not good.
    Wrong,
}

impl Before {
    const fn of(over: bool) -> Self {
        if over { Self::Over } else { Self::Nothing }
    }

    const fn key(self) -> Option<&'static str> {
        match self {
            Self::Nothing => None,
            Self::Over => Some("sign-in-over"),
            Self::Wrong => Some("sign-in-wrong"),
        }
    }
}

fn form(visit: &Visit, then: &str, before: Before, status: StatusCode) -> Response {
    let Some(say) = visit.say() else { return see("/") };
    let body = html! {
        h1 { (say.t("sign-in")) }
        @if let Some(key) = before.key() {
            p.faults id="faults" role="alert" tabindex="-1" autofocus[before == Before::Wrong] { (say.t(key)) }
        }
        form.narrow method="post" action="/sign-in" {
            (mark(visit))
            input type="hidden" name="then" value=(then);
            div.field {
                label for="token" { (say.t("token")) }
                input id="token" name="token" type="password" autocomplete="current-password" required
                    autofocus[before != Before::Wrong] aria-describedby="token-help";
                p.help id="token-help" { (say.t("token-help")) }
            }
            p.buttons { button.first type="submit" { (say.t("sign-in")) } }
        }
    };
    page::whole(visit, Tab::None, say.t("sign-in"), status, &body)
}

/// Takes a token: a good one opens a desk with a new cookie, so that one planted before is worth nothing.
pub(crate) async fn enter(State(counter): State<Arc<Counter>>, visit: Visit, request: Request) -> Response {
    let fields = match posted(&visit, request).await {
        Ok(fields) => fields,
        Err(stop) => return stopped(&visit, &stop),
    };
    let then = local(fields.get("then")).unwrap_or("/");
    let token = fields.get("token");
    let client = Client::new(counter.api.clone(), Some(token), &visit.number);
    match client.admin().get_caller(v1::GetCallerRequest {}).await.map_err(Stop::from) {
        Ok(_) => {}
        Err(Stop::SignIn) => return form(&visit, then, Before::Wrong, StatusCode::FORBIDDEN),
        Err(stop) => return stopped(&visit, &stop),
    }
    counter.desks.close(&visit.desk.id);
    match counter.desks.open(Some(token.to_owned())) {
        Ok(desk) => {
            let mut response = see(then);
            remember_desk(&mut response, &desk, counter.secure);
            response
        }
        Err(error) => stopped(&visit, &Stop::Failed(error)),
    }
}

/// Signs out.
pub(crate) async fn leave(State(counter): State<Arc<Counter>>, visit: Visit, Posted(_): Posted) -> Response {
    counter.desks.close(&visit.desk.id);
    let mut response = see("/sign-in");
    if let Ok(desk) = counter.desks.open(None) {
        remember_desk(&mut response, &desk, counter.secure);
    }
    response
}
