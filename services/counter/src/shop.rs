//! This shop: what it is called, what it prints on and counts in. Kept by the browser, as it is a matter of the desk.

use axum::response::Response;
use http::StatusCode;
use maud::html;
use proto::v1;

use crate::answer::see;
use crate::fields::Fields;
use crate::gate;
use crate::page::{self, Tab, mark};
use crate::say::{Say, Unit};
use crate::stop::Stop;
use crate::visit::Visit;

/// Longest name and line to reach somebody, in characters, as reports take them.
const MAX_NAME: usize = 120;
const MAX_CONTACT: usize = 200;

/// What a shop is called and prints on.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Shop {
    name: String,
    pub(crate) contact: String,
    paper: String,
    currency: String,
}

impl Shop {
    /// Reads what the cookie holds.
    pub(crate) fn read(cookie: &str) -> Self {
        Self::of(&Fields::read(cookie.as_bytes()))
    }

    fn of(fields: &Fields) -> Self {
        let cut = |name: &str, most: usize| fields.get(name).chars().filter(|c| !c.is_control()).take(most).collect();
        Self {
            name: cut("name", MAX_NAME),
            contact: cut("contact", MAX_CONTACT),
            paper: cut("paper", 10),
            currency: cut("currency", 3),
        }
    }

    fn cookie(&self) -> String {
        let mut fields = Fields::default();
        for (name, value) in
            [("name", &self.name), ("contact", &self.contact), ("paper", &self.paper), ("currency", &self.currency)]
        {
            fields.put(name, value.clone());
        }
        fields.written()
    }

    /// What the head of a page says.
    pub(crate) fn name(&self, say: Say<'_>) -> String {
        if self.name.is_empty() { say.t("shop-unnamed").to_owned() } else { self.name.clone() }
    }

    /// What the head of a paper says; empty where nobody gave a name.
    pub(crate) fn organisation(&self) -> String {
        self.name.clone()
    }

    /// Where nobody chose, those who count in feet print on letter.
    pub(crate) fn paper(&self, unit: Unit) -> v1::Paper {
        match (self.paper.as_str(), unit) {
            ("letter", _) | ("", Unit::Feet) => v1::Paper::UsLetter,
            (_, Unit::Feet | Unit::Metres) => v1::Paper::A4,
        }
    }

    /// Money that prices are in where the shelf has none.
    pub(crate) fn currency(&self, unit: Unit) -> &str {
        match (self.currency.as_str(), unit) {
            ("", Unit::Feet) => "USD",
            ("", Unit::Metres) => "EUR",
            (code, Unit::Feet | Unit::Metres) => code,
        }
    }
}

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
    gate::remember(&mut response, gate::SHOP, &Shop::of(fields).cookie(), visit.counter.secure);
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_shop_is_called_survives_its_cookie() {
        let mut fields = Fields::default();
        fields.put("name", "Lantern; Bay=Täckle & \"Söhne\"\r\nx: y");
        fields.put("currency", "USDX");
        let shop = Shop::of(&fields);
        let cookie = shop.cookie();
        assert!(cookie.bytes().all(|b| b.is_ascii_graphic() && b != b';'), "{cookie}");
        assert_eq!((Shop::read(&cookie), shop.currency.as_str()), (shop.clone(), "USD"));
    }
}
