//! Sensors.

use domain::{Fault, Id, Sensor};

use super::{Resource, names, stored_as};
use crate::filter::Field;
use crate::view::SensorView;
use domain::scale::Scale;
use domain::sensor::BEAM_SHAPES as SHAPES;

const SHAPE_NAMES: &[&str] = &names(&SHAPES);

stored_as!(Sensor, SensorView);

impl Resource for Sensor {
    const COLLECTION: &'static str = "sensors";
    const FIELDS: &'static [Field] = &[
        Field::text("id", "id"),
        Field::text("display_name", "body ->> '$.display_name'"),
        Field::text("notes", "body ->> '$.notes'"),
        Field::amount("price", "(body ->> '$.price.units' * 1000000000 + body ->> '$.price.nanos')"),
        Field::text("currency", "body ->> '$.price.currency'"),
        Field::number("threshold_db", "body ->> '$.threshold_db.value'"),
        Field::number("max_gain_db", "body ->> '$.max_gain_db.value'"),
        Field::number("receiver_noise_db", "body ->> '$.receiver_noise_db.value'"),
        Field::scaled("ping_interval_ms", Scale::Milliseconds, "body ->> '$.ping_interval_s.value'"),
        Field::scaled("ping_jitter_percent", Scale::Percent, "body ->> '$.ping_jitter.value'"),
        Field::number("confirm_marks", "body ->> '$.confirm_marks'"),
        Field::number("confirm_pings", "body ->> '$.confirm_pings'"),
        Field::text("options.option_id", "entry ->> '$.id'").of_each("$.options"),
        Field::text("options.display_name", "entry ->> '$.display_name'").of_each("$.options"),
        Field::scaled("options.frequency_khz", Scale::Kilohertz, "entry ->> '$.frequency_hz.value'")
            .of_each("$.options"),
        Field::choice("options.shape", SHAPE_NAMES, "(SELECT key FROM json_each(entry, '$.pattern'))")
            .of_each("$.options"),
        Field::scaled(
            "options.beamwidth_deg",
            Scale::Degrees,
            "coalesce(entry ->> '$.pattern.circular_piston.beamwidth.full_rad', \
             entry ->> '$.pattern.shaded_circular.beamwidth.full_rad', \
             entry ->> '$.pattern.rectangular.along.full_rad')",
        )
        .of_each("$.options"),
        Field::scaled("options.pulse_length_us", Scale::Microseconds, "entry ->> '$.pulse_length_s.value'")
            .of_each("$.options"),
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
