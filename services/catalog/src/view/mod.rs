//! How records lie in a column: JSON in SI units, read and written without loss. The domain is not `Serialize`; these
//! views are this crate's own, one module a resource.

/// Declares the JSON name of each variant of a domain enum, both ways and without a wildcard.
macro_rules! names {
    ($view:ident => $domain:path { $($variant:ident),* $(,)? }) => {
        /// JSON names of the domain's enum.
        #[derive(Debug, Clone, Copy, serde::Serialize, serde::Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub(crate) enum $view {
            $($variant),*
        }
        impl From<$domain> for $view {
            fn from(value: $domain) -> Self {
                use $domain as Domain;
                match value {
                    $(Domain::$variant => Self::$variant),*
                }
            }
        }
        impl From<$view> for $domain {
            fn from(value: $view) -> Self {
                use $domain as Domain;
                match value {
                    $($view::$variant => Domain::$variant),*
                }
            }
        }
    };
}

mod booking;
mod fact;
mod finding;
mod run;
mod sensor;
mod shelter;
mod spot;
mod survey;
mod target;
mod unit;

pub(crate) use booking::BookingView;
pub(crate) use finding::{AssumptionsView, DetailView};
pub(crate) use run::RunInputView;
pub(crate) use sensor::SensorView;
pub(crate) use shelter::ShelterView;
pub(crate) use spot::SpotView;
pub(crate) use survey::SurveyView;
pub(crate) use target::TargetView;
pub(crate) use unit::{UnitCheckView, UnitView};

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::error::StoreError;

/// Writes a view.
pub(crate) fn encode(view: &impl Serialize) -> Result<String, StoreError> {
    serde_json::to_string(view).map_err(|error| StoreError::BadRecord(error.to_string()))
}

/// Writes a view into room that is at hand.
pub(crate) fn encode_into<'b>(view: &impl Serialize, room: &'b mut Vec<u8>) -> Result<&'b str, StoreError> {
    serde_json::to_writer(&mut *room, view).map_err(|error| StoreError::BadRecord(error.to_string()))?;
    std::str::from_utf8(room).map_err(|error| StoreError::BadRecord(error.to_string()))
}

/// Reads a view.
pub(crate) fn decode<V: DeserializeOwned>(body: &str) -> Result<V, StoreError> {
    serde_json::from_str(body).map_err(|error| StoreError::BadRecord(error.to_string()))
}

/// Reads a stored day. It was written by us, so a bad one is a damaged record, told like a bad id.
fn day(text: &str) -> Result<jiff::civil::Date, domain::BadId> {
    text.parse().map_err(|_| domain::BadId { given: text.chars().take(80).collect() })
}
