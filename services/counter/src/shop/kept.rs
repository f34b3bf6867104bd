//! What a browser keeps of its shop.

use proto::v1;

use crate::fields::Fields;
use crate::say::{Say, Unit};

/// Longest name and line to reach somebody, in characters, as reports take them.
pub(super) const MAX_NAME: usize = 120;
pub(super) const MAX_CONTACT: usize = 200;

/// What a shop is called and prints on.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Shop {
    pub(super) name: String,
    pub(crate) contact: String,
    paper: String,
    currency: String,
}

impl Shop {
    /// Reads what the cookie holds.
    pub(crate) fn read(cookie: &str) -> Self {
        Self::of(&Fields::read(cookie.as_bytes()))
    }

    pub(super) fn of(fields: &Fields) -> Self {
        let cut = |name: &str, most: usize| fields.get(name).chars().filter(|c| !c.is_control()).take(most).collect();
        Self {
            name: cut("name", MAX_NAME),
            contact: cut("contact", MAX_CONTACT),
            paper: cut("paper", 10),
            currency: cut("currency", 3),
        }
    }

    pub(super) fn cookie(&self) -> String {
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
