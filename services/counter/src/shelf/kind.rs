//! The kinds of record on the shelf.

use proto::v1;

/// A kind of record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Sensors,
    Places,
    Shelters,
    Targets,
    Goals,
    Units,
}

impl Kind {
    pub(super) const ALL: [Self; 6] =
        [Self::Sensors, Self::Places, Self::Shelters, Self::Targets, Self::Goals, Self::Units];

    pub(super) const fn address(self) -> &'static str {
        match self {
            Self::Sensors => "sensors",
            Self::Places => "places",
            Self::Shelters => "shelters",
            Self::Targets => "targets",
            Self::Goals => "goals",
            Self::Units => "units",
        }
    }

    /// The collection of its resource names.
    pub(super) const fn collection(self) -> &'static str {
        match self {
            Self::Places => "spots",
            Self::Sensors | Self::Shelters | Self::Targets | Self::Goals | Self::Units => self.address(),
        }
    }

    pub(super) const fn record_kind(self) -> v1::RecordKind {
        match self {
            Self::Sensors => v1::RecordKind::Sensors,
            Self::Places => v1::RecordKind::Spots,
            Self::Shelters => v1::RecordKind::Shelters,
            Self::Targets => v1::RecordKind::Targets,
            Self::Goals => v1::RecordKind::Goals,
            Self::Units => v1::RecordKind::Units,
        }
    }

    pub(super) fn of(address: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.address() == address)
    }

    /// Key of its title.
    pub(super) const fn title_key(self) -> &'static str {
        match self {
            Self::Sensors => "kind-sensors",
            Self::Places => "kind-places",
            Self::Shelters => "kind-shelters",
            Self::Targets => "kind-targets",
            Self::Goals => "kind-goals",
            Self::Units => "kind-units",
        }
    }
}
