//! Targets.

use domain::{Fault, Id, Target};

use super::{Resource, names, stored_as};
use crate::filter::Field;
use crate::view::TargetView;
use domain::scale::Scale;
use domain::target::{FISH_CLASSES, MATERIALS, SHAPES, TARGET_KINDS as KINDS};

const KIND_NAMES: &[&str] = &names(&KINDS);
const SHAPE_NAMES: &[&str] = &names(&SHAPES);
const MATERIAL_NAMES: &[&str] = &names(&MATERIALS);
const FISH_CLASS_NAMES: &[&str] = &names(&FISH_CLASSES);

stored_as!(Target, TargetView);

impl Resource for Target {
    const COLLECTION: &'static str = "targets";
    const FIELDS: &'static [Field] = &[
        Field::text("id", "id"),
        Field::text("display_name", "body ->> '$.display_name'"),
        Field::text("notes", "body ->> '$.notes'"),
        Field::choice("kind", KIND_NAMES, "body ->> '$.kind'"),
        Field::choice("shape", SHAPE_NAMES, "(SELECT key FROM json_each(body, '$.shape'))"),
        Field::number("target_strength_db", "body ->> '$.shape.known.value'"),
        Field::scaled(
            "diameter_mm",
            Scale::Millimetres,
            "coalesce(body ->> '$.shape.sphere.diameter_m', body ->> '$.shape.disc.diameter_m', \
             body ->> '$.shape.cylinder.diameter_m')",
        ),
        Field::scaled("length_mm", Scale::Millimetres, "body ->> '$.shape.cylinder.length_m'"),
        Field::scaled("length_cm", Scale::Centimetres, "body ->> '$.shape.fish.length_m'"),
        Field::choice("material", MATERIAL_NAMES, "body ->> '$.shape.sphere.material'"),
        Field::choice("fish_class", FISH_CLASS_NAMES, "body ->> '$.shape.fish.class'"),
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
