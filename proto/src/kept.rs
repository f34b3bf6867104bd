//! What the service derives once and keeps: one message a collection, stored as it was answered.
//!
//! Handlers store it and pages are made from it: a field that is renamed or dropped stops the build, and prints no zero on a sheet at
//! a shelter's door.

use prost::{DecodeError, Message, Name};
use prost_reflect::{DescriptorPool, DynamicMessage};
use serde::de::DeserializeSeed as _;

use crate::v1;

/// A message that is kept in a collection of its own.
pub trait Kept: Message + Name + Default {
    /// The collection.
    const COLLECTION: &'static str;
    /// First letter of its ids, so that an id alone tells what it names.
    const LETTER: char;
    /// The message under its name.
    fn named(self, name: String) -> Self;
}

/// Declares what is kept: variants, messages, collections and letters, and all that follows from them.
macro_rules! kept {
    ($($(#[$doc:meta])* $variant:ident $message:ident $collection:literal $letter:literal),+ $(,)?) => {
        /// A message that was kept.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Document {
            $($(#[$doc])* $variant(v1::$message),)+
        }

        $(impl Kept for v1::$message {
            const COLLECTION: &'static str = $collection;
            const LETTER: char = $letter;
            fn named(self, name: String) -> Self {
                Self { name, ..self }
            }
        })+

        /// The collections, with the first letters of their ids.
        pub const COLLECTIONS: &[(&str, char)] = &[$(($collection, $letter)),+];

        impl Document {
            /// The document that bytes of a collection hold; none where the collection keeps no documents.
            pub fn decode(collection: &str, bytes: &[u8]) -> Result<Option<Self>, DecodeError> {
                Ok(match collection {
                    $($collection => Some(Self::$variant(Message::decode(bytes)?)),)+
                    _ => None,
                })
            }

            fn message_name(collection: &str) -> Option<String> {
                match collection {
                    $($collection => Some(v1::$message::full_name()),)+
                    _ => None,
                }
            }
        }
    };
}

kept! {
    /// Rules of shelters.
    Rules ShelterRules "shelterRules" 'e',
    /// What to buy, and who gets what.
    Plan FleetPlan "fleetPlans" 'l',
    /// Which units are sound.
    Assessment UnitAssessment "unitAssessments" 'a',
    /// A beam that was fitted to a survey.
    Fit BeamFit "beamFits" 'f',
    /// A survey yet to be made.
    Draft BeamSurveyDraft "beamSurveyDrafts" 'd',
}

impl Document {
    /// The document of a collection in the JSON mapping of protobuf, as `lakebeam show` prints it.
    pub fn from_json(collection: &str, json: &str) -> Result<Option<Self>, Box<dyn std::error::Error>> {
        let Some(name) = Self::message_name(collection) else { return Ok(None) };
        let pool = DescriptorPool::decode(crate::FILE_DESCRIPTOR_SET)?;
        let descriptor = pool.get_message_by_name(&name).ok_or("the descriptor set lacks a document")?;
        let message: DynamicMessage = descriptor.deserialize(&mut serde_json::Deserializer::from_str(json))?;
        Ok(Self::decode(collection, &message.encode_to_vec())?)
    }
}
