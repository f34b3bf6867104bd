//! What the four resources of the catalogue have in common at this edge.

use planning::domain::{Fault, Id, Sensor, Shelter, Spot, Target};
use prost::{Message, Name};
use prost_types::Timestamp;
use proto::v1;

use crate::convert::{sensor, shelter, spot, target};

/// A resource of the catalogue: its names, its message, and the way between message and domain.
pub(crate) trait Resource: Sized + Send + 'static {
    /// Its message.
    type Message: Message + Name + Default + Clone;
    /// First segment of its names, which is also the name of its lists.
    const COLLECTION: &'static str;
    /// Its field in the requests of the service.
    const FIELD: &'static str;

    /// Its id.
    fn id(&self) -> &Id;
    /// Reads a message.
    fn read(id: Id, message: Self::Message) -> Result<Self, Vec<Fault>>;
    /// Writes a message, without what the store knows of it.
    fn write(&self) -> Self::Message;
    /// The name that a message carries.
    fn name(message: &Self::Message) -> &str;
    /// The etag that a message carries.
    fn etag(message: &Self::Message) -> &str;
    /// Adds what the store knows.
    fn stamp(message: &mut Self::Message, stamp: Stamp);
}

/// What the store knows of a record.
pub(crate) struct Stamp {
    pub(crate) etag: String,
    pub(crate) create_time: Option<Timestamp>,
    pub(crate) update_time: Option<Timestamp>,
}

macro_rules! resource {
    ($domain:ident, $module:ident, $collection:literal) => {
        impl Resource for $domain {
            type Message = v1::$domain;
            const COLLECTION: &'static str = $collection;
            const FIELD: &'static str = stringify!($module);

            fn id(&self) -> &Id {
                &self.id
            }
            fn read(id: Id, message: Self::Message) -> Result<Self, Vec<Fault>> {
                $module::from(id, message)
            }
            fn write(&self) -> Self::Message {
                $module::to(self)
            }
            fn name(message: &Self::Message) -> &str {
                &message.name
            }
            fn etag(message: &Self::Message) -> &str {
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

resource!(Sensor, sensor, "sensors");
resource!(Spot, spot, "spots");
resource!(Shelter, shelter, "shelters");
resource!(Target, target, "targets");
