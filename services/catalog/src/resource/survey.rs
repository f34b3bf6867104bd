//! Beam surveys.

use domain::{BeamSurvey, Fault, Id, Record as _};

use super::{Resource, stored_as};
use crate::filter::Field;
use crate::view::SurveyView;

stored_as!(BeamSurvey, SurveyView);

impl Resource for BeamSurvey {
    const COLLECTION: &'static str = "beamSurveys";
    const FIELDS: &'static [Field] = &[
        Field::text("id", "id"),
        Field::text("display_name", "body ->> '$.display_name'"),
        Field::text("notes", "body ->> '$.notes'"),
        Field::text("option", "'sensors/' || (body ->> '$.sensor') || '/options/' || (body ->> '$.option')"),
        Field::text("target", "'targets/' || (body ->> '$.target')"),
        Field::text("day", "body ->> '$.day'"),
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
