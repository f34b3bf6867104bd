//! Units and their checks.

use domain::unit::STATES;
use domain::{Fault, Id, Record as _, Unit, UnitCheck};

use super::{Resource, names, stored_as};
use crate::filter::Field;
use crate::view::{UnitCheckView, UnitView};

const STATE_NAMES: &[&str] = &names(&STATES);

stored_as!(Unit, UnitView);
stored_as!(UnitCheck, UnitCheckView);

impl Resource for Unit {
    const COLLECTION: &'static str = "units";
    const FIELDS: &'static [Field] = &[
        Field::text("id", "id"),
        Field::text("display_name", "body ->> '$.display_name'"),
        Field::text("notes", "body ->> '$.notes'"),
        Field::text("sensor", "'sensors/' || (body ->> '$.sensor')"),
        Field::text("serial", "body ->> '$.serial'"),
        Field::choice("state", STATE_NAMES, "body ->> '$.state'"),
        Field::time("create_time", "create_time"),
        Field::time("update_time", "update_time"),
    ];

    fn id(&self) -> &Id {
        &self.id
    }

    fn faults(&self) -> Vec<Fault> {
        self.check()
    }
}

impl Resource for UnitCheck {
    const COLLECTION: &'static str = "unitChecks";
    const FIELDS: &'static [Field] = &[
        Field::text("id", "id"),
        Field::text("notes", "body ->> '$.notes'"),
        Field::text("unit", "'units/' || (body ->> '$.unit')"),
        Field::text("option", "body ->> '$.option'"),
        Field::text("target", "'targets/' || (body ->> '$.target')"),
        Field::text("day", "body ->> '$.day'"),
        Field::number("depth_m", "body ->> '$.depth_m'"),
        Field::text("swap", "body ->> '$.swap'"),
        Field::time("create_time", "create_time"),
        Field::time("update_time", "update_time"),
    ];

    fn id(&self) -> &Id {
        &self.id
    }

    fn faults(&self) -> Vec<Fault> {
        self.check()
    }
}
