//! Targets, one row each.

use std::ops::ControlFlow;

use acoustics::units::{Metres, TargetStrength};
use domain::target::{FISH_CLASSES, MATERIALS, SHAPES, Shape, TARGET_KINDS as KINDS};
use domain::{FishClass, SphereMaterial, Target, TargetKind, TargetShape};

use super::column::Column;
use super::form::Form;
use super::provenance::Marks;
use super::row::Row;
use super::table::Table;
use super::{Cells, column_of, read_each};
use crate::exchange::Take;
use domain::scale::Scale;

const COLUMNS: &[Column] = &[
    Column::text("id", "1 to 63 lower-case letters, digits and hyphens, a letter first", "tungsten-jig").required(),
    Column::text("display_name", "1 to 120 characters", "Tungsten jig").required(),
    Column::text("notes", "up to 2,000 characters", "Invented example."),
    Column::text("kind", "lure, fish or reference", "lure").required(),
    Column::text("shape", "known, sphere, disc, cylinder or fish", "sphere").required(),
    Column::figure("target_strength_db", "dB re 1 m^2", "-120 to 20; for a known target strength", ""),
    Column::figure("diameter_mm", "millimetres", "0.5 to 500; for a sphere, a disc or a cylinder", "5")
        .scaled(Scale::Millimetres)
        .also_as(&[("diameter_in", Scale::Inches)]),
    Column::figure("length_mm", "millimetres", "1 to 500; for a cylinder", "").scaled(Scale::Millimetres),
    Column::figure("length_cm", "centimetres", "1 to 200; for a fish, its total length", "").scaled(Scale::Centimetres),
    Column::text("material", "tungsten_carbide, tungsten, lead, brass or steel; for a sphere", "tungsten"),
    Column::text(
        "fish_class",
        "general, closed_swim_bladder, open_swim_bladder, smelt, vendace or alewife; for a fish",
        "",
    ),
    Column::text("measured", "target_strength_db, where it was measured; a figure is stated otherwise", ""),
    Column::text("assumed", "target_strength_db, where it is assumed", ""),
];

/// The columns that describe a shape, and the shapes that they belong to.
const PARTS: [(&str, &[Shape], &str); 6] = [
    ("target_strength_db", &[Shape::Known], "the shape known"),
    ("diameter_mm", &[Shape::Sphere, Shape::Disc, Shape::Cylinder], "the shapes sphere, disc and cylinder"),
    ("length_mm", &[Shape::Cylinder], "the shape cylinder"),
    ("length_cm", &[Shape::Fish], "the shape fish"),
    ("material", &[Shape::Sphere], "the shape sphere"),
    ("fish_class", &[Shape::Fish], "the shape fish"),
];

impl Form for Target {
    const COLUMNS: &'static [Column] = COLUMNS;

    fn read(table: Table<'_>, take: &mut Take<'_, Self>) -> ControlFlow<()> {
        read_each(table, read_row, |target| &target.id, Target::check, |field| column_of(COLUMNS, &[], field), take)
    }

    fn write(&self, rows: &mut Vec<Cells>) {
        let mut cells = Cells::new(COLUMNS);
        let mut marks = Marks::default();
        cells.set("id", self.id.as_str());
        cells.set("display_name", &self.display_name);
        cells.set("notes", &self.notes);
        cells.set_choice("kind", &self.kind, &KINDS);
        let shape = match self.shape {
            TargetShape::Known(strength) => {
                marks.set(&mut cells, "target_strength_db", &strength, TargetStrength::get);
                Shape::Known
            }
            TargetShape::Sphere { diameter, material } => {
                cells.set_number("diameter_mm", diameter.get());
                cells.set_choice("material", &material, &MATERIALS);
                Shape::Sphere
            }
            TargetShape::Disc { diameter } => {
                cells.set_number("diameter_mm", diameter.get());
                Shape::Disc
            }
            TargetShape::Cylinder { length, diameter } => {
                cells.set_number("length_mm", length.get());
                cells.set_number("diameter_mm", diameter.get());
                Shape::Cylinder
            }
            TargetShape::Fish { length, class } => {
                cells.set_number("length_cm", length.get());
                cells.set_choice("fish_class", &class, &FISH_CLASSES);
                Shape::Fish
            }
        };
        cells.set_choice("shape", &shape, &SHAPES);
        marks.write(&mut cells);
        rows.push(cells);
    }
}

fn read_row(row: &mut Row) -> Option<Target> {
    let id = row.id("id")?;
    Some(Target {
        id,
        display_name: row.required_text("display_name"),
        notes: row.text("notes").to_owned(),
        kind: row.required_choice("kind", &KINDS).unwrap_or(TargetKind::Lure),
        shape: shape(row),
    })
}

fn shape(row: &mut Row) -> TargetShape {
    let marks = Marks::read(row, &["target_strength_db"]);
    // Without a shape the other cells mean nothing; what stands in is sound, so that only the shape is refused.
    let stand_in = TargetShape::Disc { diameter: Metres::new(0.01) };
    let Some(shape) = row.required_choice("shape", &SHAPES) else { return stand_in };
    for (column, shapes, owner) in PARTS {
        if !shapes.contains(&shape) {
            row.out_of_place(column, owner);
        }
    }
    let metres = |row: &mut Row, column: &str| Metres::new(row.required_number(column));
    match shape {
        Shape::Known => TargetShape::Known(marks.required_fact(row, "target_strength_db", TargetStrength::new)),
        Shape::Sphere => TargetShape::Sphere {
            diameter: metres(row, "diameter_mm"),
            material: row.required_choice("material", &MATERIALS).unwrap_or(SphereMaterial::Lead),
        },
        Shape::Disc => TargetShape::Disc { diameter: metres(row, "diameter_mm") },
        Shape::Cylinder => {
            TargetShape::Cylinder { length: metres(row, "length_mm"), diameter: metres(row, "diameter_mm") }
        }
        Shape::Fish => TargetShape::Fish {
            length: metres(row, "length_cm"),
            class: row.required_choice("fish_class", &FISH_CLASSES).unwrap_or(FishClass::General),
        },
    }
}
