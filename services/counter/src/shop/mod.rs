//! This shop: what it is called, what it prints on and counts in. Kept by the browser, as it is a matter of the desk.

pub(crate) mod kept;

use axum::response::Response;
use http::StatusCode;
use maud::html;
use proto::v1;

use crate::answer::see;
use crate::cookies;
use crate::fields::Fields;
use crate::page::{self, Tab, mark};
use crate::stop::Stop;
use crate::visit::Visit;

use kept::{MAX_CONTACT, MAX_NAME, Shop};

pub(crate) fn show(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let shop = &visit.shop;
    let paper = shop.paper(say.look.unit);
    let body = html! {
        h1 { (say.t("shop")) }
        @if fields.has("kept") { p.told role="status" { (say.t("shop-kept")) } }
        form.narrow method="post" action="/shop" {
            (mark(visit))
            div.field {
                label for="name" { (say.t("shop-name")) }
                input id="name" name="name" value=(shop.name) maxlength=(MAX_NAME) autocomplete="organization";
            }
            div.field {
                label for="contact" { (say.t("shop-contact")) }
                input id="contact" name="contact" value=(shop.contact) maxlength=(MAX_CONTACT);
            }
            div.field {
                label for="paper" { (say.t("shop-paper")) }
                select id="paper" name="paper" {
                    option value="a4" selected[paper == v1::Paper::A4] { "A4" }
                    option value="letter" selected[paper == v1::Paper::UsLetter] { (say.t("paper-letter")) }
                }
            }
            div.field {
                label for="currency" { (say.t("shop-currency")) }
                input id="currency" name="currency" value=(shop.currency(say.look.unit)) maxlength="3" size="4";
            }
            p.help { (say.t("shop-help")) }
            p.buttons { button.first type="submit" { (say.t("keep")) } }
        }
        h2 { (say.t("tokens")) }
        p { (say.t("tokens-help")) }
        pre { "lakebeam --database lakebeam.db token add desk-2 --role write" }
    };
    Ok(page::whole(visit, Tab::None, say.t("shop"), StatusCode::OK, &body))
}

pub(crate) fn store(visit: &Visit, fields: &Fields) -> Response {
    let mut response = see("/shop?kept=1");
    cookies::remember(&mut response, cookies::SHOP, &Shop::of(fields).cookie(), visit.counter.secure);
    response
}
