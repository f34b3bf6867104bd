//! What is wanted of the beam, as people name it.

use clap::ValueEnum;
use domain::{GoalRecord, Id, Record as _};
use proto::v1;

/// A goal that comes with the program, or a stored one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Goal {
    Preset(Preset),
    /// By its whole name.
    Custom(String),
}

/// A goal that comes with the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Preset {
    /// Find fish.
    Search,
    /// Watch one lure and the fish at it.
    WatchLure,
    /// Tell the fish of a school apart.
    School,
    /// Fish along weeds.
    WeedEdge,
}

impl Goal {
    /// `school`, `goals/perch-school`, or `perch-school` where no preset is called so.
    pub(crate) fn parse(text: &str) -> Result<Self, String> {
        let text = text.trim();
        if let Ok(preset) = Preset::from_str(text, true) {
            return Ok(Self::Preset(preset));
        }
        let collection = GoalRecord::COLLECTION;
        let id = text.strip_prefix(collection).and_then(|rest| rest.strip_prefix('/')).unwrap_or(text);
        match Id::parse(id) {
            Ok(id) => Ok(Self::Custom(format!("{collection}/{id}"))),
            Err(_) => {
                let presets: Vec<_> = Preset::value_variants().iter().filter_map(Preset::to_possible_value).collect();
                let known: Vec<&str> = presets.iter().map(|value| value.get_name()).collect();
                let given: String = text.chars().take(80).collect();
                Err(format!(
                    "'{given}' is no goal; accepted: {}, or a stored one such as goals/perch-school",
                    known.join(", ")
                ))
            }
        }
    }

    /// As the protocol has it: the preset, and the name of a stored one.
    pub(crate) fn fields(&self) -> (v1::Goal, String) {
        match self {
            Self::Preset(Preset::Search) => (v1::Goal::Search, String::new()),
            Self::Preset(Preset::WatchLure) => (v1::Goal::WatchLure, String::new()),
            Self::Preset(Preset::School) => (v1::Goal::School, String::new()),
            Self::Preset(Preset::WeedEdge) => (v1::Goal::WeedEdge, String::new()),
            Self::Custom(name) => (v1::Goal::Unspecified, name.clone()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn goals_are_presets_or_names_of_stored_ones() {
        let custom = |name: &str| Ok(Goal::Custom(name.to_owned()));
        assert_eq!(Goal::parse(" Watch-Lure "), Ok(Goal::Preset(Preset::WatchLure)));
        assert_eq!(Goal::parse("perch-school"), custom("goals/perch-school"));
        assert_eq!(Goal::parse("goals/perch-school"), custom("goals/perch-school"));
        // A stored goal may be called as a preset is; its whole name tells them apart.
        assert_eq!(Goal::parse("goals/school"), custom("goals/school"));
        for text in ["", "goals/", "targets/jig", "Perch school", "goals/a/b"] {
            let error = Goal::parse(text).unwrap_err();
            assert!(error.contains("search, watch-lure, school, weed-edge, or a stored one"), "{error}");
        }
    }
}
