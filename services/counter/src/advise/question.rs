//! The customer's question as it stands in the address: every field as it was typed.

use crate::fields::Fields;
use crate::say::Unit;

/// Most places of one question.
pub(super) const MOST_PLACES: usize = 8;

/// A question.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Question {
    pub(super) places: Vec<Place>,
    /// A shelter of the shelf, by its id; empty for open ice.
    pub(super) shelter: String,
    pub(super) people: String,
    /// What the others have: a sensor of the shelf by its id, or `same`; empty where nobody knows.
    pub(super) others: String,
    /// `search`, `watch`, or a stored goal by its whole name; empty for the first two.
    pub(super) uses: String,
    /// Most that may be spent.
    pub(super) most: String,
    /// What is owned, by the id of a sensor.
    pub(super) owned: String,
    pub(super) lure: String,
    pub(super) fish: String,
    pub(super) slope: String,
    pub(super) water: String,
}

/// One place.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Place {
    /// A place of the shelf, by its id.
    pub(super) spot: String,
    pub(super) depth: String,
    /// `hard`, `sand`, `mud`, `soft-mud`, `unknown`; empty for what the shelf says, or unknown.
    pub(super) bottom: String,
    /// `none`, a height in metres, `unknown`; empty for what the shelf says, or unknown.
    pub(super) weeds: String,
    pub(super) days: String,
}

/// Fields of the whole question, with how they are reached.
type Whole = (&'static str, fn(&Question) -> &String, fn(&mut Question) -> &mut String);

pub(super) const WHOLE: [Whole; 10] = [
    ("shelter", |q| &q.shelter, |q| &mut q.shelter),
    ("people", |q| &q.people, |q| &mut q.people),
    ("others", |q| &q.others, |q| &mut q.others),
    ("uses", |q| &q.uses, |q| &mut q.uses),
    ("most", |q| &q.most, |q| &mut q.most),
    ("owned", |q| &q.owned, |q| &mut q.owned),
    ("lure", |q| &q.lure, |q| &mut q.lure),
    ("fish", |q| &q.fish, |q| &mut q.fish),
    ("slope", |q| &q.slope, |q| &mut q.slope),
    ("water", |q| &q.water, |q| &mut q.water),
];

type OfPlace = (&'static str, fn(&Place) -> &String, fn(&mut Place) -> &mut String);

pub(super) const OF_PLACE: [OfPlace; 5] = [
    ("spot", |p| &p.spot, |p| &mut p.spot),
    ("depth", |p| &p.depth, |p| &mut p.depth),
    ("bottom", |p| &p.bottom, |p| &mut p.bottom),
    ("weeds", |p| &p.weeds, |p| &mut p.weeds),
    ("days", |p| &p.days, |p| &mut p.days),
];

impl Question {
    /// Reads an address. A depth without a unit is one in the unit of the form that it was typed in, which is put behind it: another unit
    /// of the reader's changes nothing but what is shown.
    pub(super) fn read(fields: &Fields, unit: Unit) -> Self {
        let mut question = Self::default();
        for (name, _, slot) in WHOLE {
            slot(&mut question).push_str(fields.get(name));
        }
        let typed = Unit::of(fields.get("unit")).unwrap_or(unit);
        let asked: usize = fields.get("places").parse().unwrap_or(1);
        let filled = (1..=MOST_PLACES)
            .rev()
            .find(|n| OF_PLACE.iter().any(|(name, ..)| !fields.get(&format!("{name}.{n}")).is_empty()));
        for number in 1..=asked.clamp(1, MOST_PLACES).max(filled.unwrap_or(1)) {
            let mut place = Place::default();
            for (name, _, slot) in OF_PLACE {
                slot(&mut place).push_str(fields.get(&format!("{name}.{number}")));
            }
            if place.depth.ends_with(|c: char| c.is_ascii_digit()) {
                place.depth = format!("{} {}", place.depth, typed.tag());
            }
            question.places.push(place);
        }
        question
    }

    /// Its fields; with the unit that a bare number is in.
    pub(super) fn fields(&self, unit: Unit) -> Fields {
        let mut fields = Fields::default();
        for (at, place) in self.places.iter().enumerate() {
            for (name, get, _) in OF_PLACE {
                fields.put(format!("{name}.{}", at + 1), get(place).clone());
            }
        }
        for (name, get, _) in WHOLE {
            fields.put(name, get(self).clone());
        }
        if self.places.len() > 1 {
            fields.put("places", self.places.len().to_string());
        }
        fields.put("unit", unit.tag());
        fields
    }

    /// Its address on Advise.
    pub(super) fn address(&self) -> String {
        self.address_in(Unit::Metres)
    }

    /// The same for a reader in a unit.
    pub(super) fn address_in(&self, unit: Unit) -> String {
        format!("/advise?{}", self.fields(unit).written())
    }

    /// The address of the question with one thing else, at the answer.
    pub(super) fn with(&self, unit: Unit, change: impl FnOnce(&mut Self)) -> String {
        let mut other = self.clone();
        change(&mut other);
        format!("{}#answer", other.address_in(unit))
    }

    /// Whether no place has a depth: then nothing is asked yet.
    pub(super) fn is_without_depth(&self) -> bool {
        self.places.iter().all(|place| place.depth.is_empty() && place.spot.is_empty())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_question_is_its_address() {
        let text = b"depth.1=18&bottom.1=mud&depth.2=40+ft&weeds.2=0.9&shelter=hub&people=4&most=300&unit=ft";
        let question = Question::read(&Fields::read(text), Unit::Feet);
        assert_eq!(question.places.len(), 2);
        assert_eq!(Question::read(&question.fields(Unit::Feet), Unit::Feet), question);
        let empty = Question::read(&Fields::default(), Unit::Feet);
        assert!(empty.is_without_depth() && empty.places.len() == 1);
    }

    #[test]
    fn another_unit_changes_what_is_shown_and_not_what_is_asked() {
        let question = Question::read(&Fields::read(b"depth.1=18&unit=ft"), Unit::Metres);
        assert_eq!(question.places[0].depth, "18 ft");
        let words = Question::read(&Fields::read(b"depth.1=deep&unit=ft"), Unit::Metres);
        assert_eq!(words.places[0].depth, "deep");
    }

    #[test]
    fn places_are_bounded() {
        let question = Question::read(&Fields::read(b"places=100000&depth.99=3"), Unit::Feet);
        assert_eq!(question.places.len(), MOST_PLACES);
    }
}
