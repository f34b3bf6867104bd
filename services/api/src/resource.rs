//! What the resources of the catalog and of the fleet have in common at this edge.

use catalog::Stored;
use catalog::exchange::csv::CsvRecord;
use domain::{
    BeamSurvey, Booking, Fault, GoalRecord, Id, SensorRecord, ShelterRecord, SpotRecord, TargetRecord, Unit, UnitCheck,
};
use jiff::Timestamp;
use prost::{Message, Name};
use proto::v1;

use crate::convert::{Reading, beam_survey, booking, custom_goal, sensor, shelter, spot, target, unit, unit_check};

/// A record of the catalog as the protocol has it: its message, and the way between message and domain.
pub trait Record: catalog::Resource + CsvRecord {
    /// Its message.
    type Message: Message + Name + Default + Clone + 'static;
    /// Its field in the requests of the service.
    const FIELD: &'static str;

    /// Reads a message.
    ///
    /// # Errors
    /// Every fault of the message.
    fn from_message(id: Id, message: Self::Message) -> Result<Self, Vec<Fault>>;
    /// Writes a message, without what the store knows of it.
    fn to_message(&self) -> Self::Message;
    /// The name that a message carries.
    fn message_name(message: &Self::Message) -> &str;
    /// The etag that a message carries.
    fn message_etag(message: &Self::Message) -> &str;
    /// Adds what the store knows.
    fn stamp(message: &mut Self::Message, stamp: Stamp);
}

/// What the store knows of a record.
pub struct Stamp {
    /// Fingerprint of the content.
    pub etag: String,
    /// When it was created.
    pub create_time: Option<prost_types::Timestamp>,
    /// When it was last written.
    pub update_time: Option<prost_types::Timestamp>,
}

/// A stored record as the protocol has it.
pub(crate) fn stored<R: Record>(stored: Stored<R>) -> R::Message {
    let mut message = stored.record.to_message();
    let (create_time, update_time) = (Some(timestamp(stored.create_time)), Some(timestamp(stored.update_time)));
    R::stamp(&mut message, Stamp { etag: stored.etag, create_time, update_time });
    message
}

/// A point of time as the protocol has it.
pub(crate) fn timestamp(at: Timestamp) -> prost_types::Timestamp {
    let mut seconds = at.as_second();
    let mut nanos = at.subsec_nanosecond();
    // The protocol counts nanoseconds forwards, also before 1970.
    if nanos < 0 {
        seconds -= 1;
        nanos += 1_000_000_000;
    }
    prost_types::Timestamp { seconds, nanos }
}

macro_rules! resource {
    ($domain:ident, $message:ident, $module:ident) => {
        impl Record for $domain {
            type Message = v1::$message;
            const FIELD: &'static str = stringify!($module);

            fn from_message(id: Id, message: Self::Message) -> Result<Self, Vec<Fault>> {
                $module::from(id, message)
            }
            fn to_message(&self) -> Self::Message {
                $module::to(self)
            }
            fn message_name(message: &Self::Message) -> &str {
                &message.name
            }
            fn message_etag(message: &Self::Message) -> &str {
                &message.etag
            }
            fn stamp(message: &mut Self::Message, stamp: Stamp) {
                message.etag = stamp.etag;
                message.create_time = stamp.create_time;
                message.update_time = stamp.update_time;
            }
        }
    };
}

resource!(SensorRecord, Sensor, sensor);
resource!(SpotRecord, Spot, spot);
resource!(ShelterRecord, Shelter, shelter);
resource!(TargetRecord, Target, target);
resource!(Unit, Unit, unit);
resource!(Booking, Booking, booking);
resource!(UnitCheck, UnitCheck, unit_check);
resource!(BeamSurvey, BeamSurvey, beam_survey);
resource!(GoalRecord, CustomGoal, custom_goal);

/// Something that is done for one kind of record.
pub(crate) trait ForKind {
    /// What comes of it.
    type Done;
    /// Does it.
    fn of<R: Record>(self) -> Self::Done;
}

/// Does something for a kind; nothing for none.
pub(crate) fn for_kind<D: ForKind>(kind: v1::RecordKind, todo: D) -> Option<D::Done> {
    match kind {
        v1::RecordKind::Unspecified => None,
        v1::RecordKind::Sensors => Some(todo.of::<SensorRecord>()),
        v1::RecordKind::Spots => Some(todo.of::<SpotRecord>()),
        v1::RecordKind::Shelters => Some(todo.of::<ShelterRecord>()),
        v1::RecordKind::Targets => Some(todo.of::<TargetRecord>()),
        v1::RecordKind::Units => Some(todo.of::<Unit>()),
        v1::RecordKind::Bookings => Some(todo.of::<Booking>()),
        v1::RecordKind::UnitChecks => Some(todo.of::<UnitCheck>()),
        v1::RecordKind::BeamSurveys => Some(todo.of::<BeamSurvey>()),
        v1::RecordKind::Goals => Some(todo.of::<GoalRecord>()),
    }
}

/// Reads the kind of record that a field names.
pub(crate) fn kind(reading: &mut Reading, field: &str, number: i32) -> Option<v1::RecordKind> {
    let read = |kind| (kind != v1::RecordKind::Unspecified).then_some(kind);
    reading.choice(field, number, read, v1::RecordKind::as_str_name)
}

/// Message of every kind.
pub(crate) fn names() -> impl Iterator<Item = &'static str> {
    struct Names;
    impl ForKind for Names {
        type Done = &'static str;
        fn of<R: Record>(self) -> Self::Done {
            R::Message::NAME
        }
    }
    // Numbered from 1 without a gap.
    (1..).map_while(|number| v1::RecordKind::try_from(number).ok()).filter_map(|kind| for_kind(kind, Names))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_count_forwards_on_both_sides_of_the_epoch() {
        for (at, seconds, nanos) in
            [((1, 250_000_000), 1, 250_000_000), ((-1, -250_000_000), -2, 750_000_000), ((0, 0), 0, 0)]
        {
            let at = Timestamp::new(at.0, at.1).unwrap();
            assert_eq!(timestamp(at), prost_types::Timestamp { seconds, nanos });
        }
    }
}
