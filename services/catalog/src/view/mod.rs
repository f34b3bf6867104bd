//! What lies in a column as JSON: the input of a run and the parts of a finding, read and written without loss. The domain is
//! not `Serialize`; these views are this crate's own.

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

mod finding;
mod record;
mod run;

pub(crate) use finding::{AssumptionsView, DetailView};
pub(crate) use run::RunInputView;

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::error::StoreError;

/// Writes a view.
pub(crate) fn encode(view: &impl Serialize) -> Result<String, StoreError> {
    serde_json::to_string(view).map_err(|error| StoreError::BadRecord(error.to_string()))
}

/// Reads a view.
pub(crate) fn decode<V: DeserializeOwned>(body: &str) -> Result<V, StoreError> {
    serde_json::from_str(body).map_err(|error| StoreError::BadRecord(error.to_string()))
}
