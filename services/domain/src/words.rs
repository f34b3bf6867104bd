//! What is said, by key: one file a language, English among them. Nothing that was said is ever read back.
//!
//! Figures stand in a text as `{name}`. A text that counts has a form for each plural category of its language (Unicode CLDR): `spots-one`,
//! `spots-other`, in other languages `spots-few` and `spots-many`.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use icu_locale_core::Locale;
use icu_plurals::{PluralCategory, PluralRules};

/// The words of one language.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Words {
    language: String,
    texts: BTreeMap<String, String>,
    locale: Locale,
}

/// English, read once.
static ENGLISH: LazyLock<Result<Words, String>> =
    LazyLock::new(|| Words::read("en", include_str!("../../../report-templates/shared/words-en.toml")));

impl Words {
    /// Reads a file of words for a language by its tag, such as `de`.
    ///
    /// # Errors
    /// What is wrong with the file or the tag.
    pub fn read(language: &str, file: &str) -> Result<Self, String> {
        let texts = toml::from_str(file).map_err(|e| format!("{e}; accepted are lines of the form key = \"text\""))?;
        let locale = Locale::try_from_str(language);
        let locale = locale.map_err(|e| format!("'{language}' is no tag of a language ({e}); name the file by one"))?;
        PluralRules::try_new_cardinal((&locale).into()).map_err(|e| format!("{e}; name the file by a language"))?;
        Ok(Self { language: language.to_owned(), texts, locale })
    }

    /// The built-in English words; none where the file does not read, which the first test meets.
    #[must_use]
    pub fn english() -> Option<&'static Self> {
        ENGLISH.as_ref().ok()
    }

    /// Tag of the language, such as `en`.
    #[must_use]
    pub fn language(&self) -> &str {
        &self.language
    }

    /// The texts by their keys, ordered.
    pub fn texts(&self) -> impl Iterator<Item = (&str, &str)> {
        self.texts.iter().map(|(key, text)| (key.as_str(), text.as_str()))
    }

    /// The text of a key.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&str> {
        self.texts.get(key).map(String::as_str)
    }

    /// The text of a key that counts so many.
    #[must_use]
    pub fn form(&self, key: &str, count: u64) -> Option<&str> {
        let category = suffix(self.plural()?.category_for(count));
        self.get(&format!("{key}{category}")).or_else(|| self.get(&format!("{key}-other")))
    }

    /// The rules, which stand in tables of the program.
    fn plural(&self) -> Option<PluralRules> {
        PluralRules::try_new_cardinal((&self.locale).into()).ok()
    }

    /// What a language lacks of the keys of another one. Of a text that counts it needs the forms of its own categories.
    #[must_use]
    pub fn lacks(&self, other: &Self) -> Vec<String> {
        let mut wanted: Vec<String> = Vec::new();
        for (key, _) in other.texts() {
            match other.counted(key) {
                Some(stem) => {
                    let plural = self.plural();
                    let own = plural.iter().flat_map(PluralRules::categories);
                    wanted.extend(own.map(|own| format!("{stem}{}", suffix(own))));
                }
                None => wanted.push(key.to_owned()),
            }
        }
        wanted.sort();
        wanted.dedup();
        wanted.retain(|key| !self.texts.contains_key(key));
        wanted
    }

    /// What a key of a form begins with; none where it is no form.
    #[must_use]
    pub fn counted<'k>(&self, key: &'k str) -> Option<&'k str> {
        let (stem, _) = key.rsplit_once('-').filter(|(_, form)| FORMS.contains(form))?;
        self.texts.contains_key(&format!("{stem}-other")).then_some(stem)
    }
}

/// Plural categories as keys end with them.
const FORMS: [&str; 6] = ["zero", "one", "two", "few", "many", "other"];

const fn suffix(category: PluralCategory) -> &'static str {
    match category {
        PluralCategory::Zero => "-zero",
        PluralCategory::One => "-one",
        PluralCategory::Two => "-two",
        PluralCategory::Few => "-few",
        PluralCategory::Many => "-many",
        PluralCategory::Other => "-other",
    }
}

/// Puts figures where their names stand in braces. What is put in is never read again, so that a name with braces stays a name.
#[must_use]
pub fn put_in<N: AsRef<str>, F: AsRef<str>>(text: &str, figures: &[(N, F)]) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let known = after.split_once('}').and_then(|(name, after)| {
            figures.iter().find(|(known, _)| known.as_ref() == name).map(|(_, figure)| (figure, after))
        });
        match known {
            Some((figure, after)) => {
                out.push_str(figure.as_ref());
                rest = after;
            }
            None => {
                out.push('{');
                rest = after;
            }
        }
    }
    out + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn english_reads_and_lacks_nothing_of_itself() {
        let english = ENGLISH.as_ref().unwrap();
        assert_eq!(english.lacks(english), Vec::<String>::new());
        assert_eq!((english.form("spots", 1), english.form("spots", 0)), (Some("1 spot"), Some("{count} spots")));
    }

    /// Forms and their ranges: Unicode CLDR, Language Plural Rules, cardinals of Polish (pl).
    #[test]
    fn a_language_with_more_forms_has_them() {
        let file = "holes-one = \"{count} dziura\"\nholes-few = \"{count} dziury\"\nholes-many = \"{count} dziur\"\nholes-other = \"{count} dziury\"";
        let polish = Words::read("pl", file).unwrap();
        for (count, form) in
            [(1, "dziura"), (2, "dziury"), (4, "dziury"), (5, "dziur"), (12, "dziur"), (22, "dziury"), (25, "dziur")]
        {
            assert!(polish.form("holes", count).unwrap().ends_with(form), "{count}");
        }
        let lacking = Words::read("pl", "holes-one = \"\"\nholes-other = \"\"").unwrap().lacks(&polish);
        assert_eq!(lacking, ["holes-few", "holes-many"]);
        assert!(Words::read("no tag", "").is_err() && Words::read("en", "a = 1").is_err());
    }

    #[test]
    fn figures_are_put_in_and_never_read_again() {
        let parts = [("a", "{b}".to_owned()), ("b", "3 m".to_owned())];
        assert_eq!(put_in("{a} is {b} away, {c}.", &parts), "{b} is 3 m away, {c}.");
    }
}
