//! A target as it is given.

use acoustics::units::{Metres, TargetStrength};

use super::{fact, given, lacks};
use crate::check::{Faults, Given};
use crate::field::{Field, Figure, Record, name_of, named, names, within};
use crate::scale::Scale;
use crate::target::{FISH_CLASSES, MATERIALS, SHAPES, Shape, TARGET_KINDS};
use crate::{Fault, FishClass, Id, SphereMaterial, Target, TargetKind, TargetShape};

type TargetField = Field<TargetRecord>;

/// A target as it is given: a lure, a rig, a fish or a reference target.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetRecord {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes.
    pub notes: String,
    /// Lure, fish or reference.
    pub kind: Option<TargetKind>,
    /// What its target strength comes from.
    pub shape: Option<Shape>,
    /// A known target strength.
    pub target_strength_db: Figure,
    /// Of a sphere, a disc or a cylinder.
    pub diameter_mm: Option<f64>,
    /// Of a cylinder.
    pub length_mm: Option<f64>,
    /// Of a fish.
    pub length_cm: Option<f64>,
    /// Of a sphere.
    pub material: Option<SphereMaterial>,
    /// Of a fish.
    pub fish_class: Option<FishClass>,
}

const KIND_NAMES: &[&str] = &names(&TARGET_KINDS);
const SHAPE_NAMES: &[&str] = &names(&SHAPES);
const MATERIAL_NAMES: &[&str] = &names(&MATERIALS);
const FISH_CLASS_NAMES: &[&str] = &names(&FISH_CLASSES);
const SIZE: &str = "give the size in millimetres";

impl TargetRecord {
    fn of(&self, shape: Shape, figure: Option<f64>) -> Option<f64> {
        figure.filter(|_| self.shape == Some(shape))
    }
}

impl Record for TargetRecord {
    type Known = Target;
    const COLLECTION: &'static str = "targets";

    const FIELDS: &'static [Field<Self>] = &[
        TargetField::id(|t| &t.id, |t, id| t.id = id).example("tungsten-jig"),
        TargetField::name(|t| &t.display_name, |t, text| t.display_name = text).example("Tungsten jig"),
        TargetField::notes(|t| &t.notes, |t, text| t.notes = text),
        TargetField::choice(
            "kind",
            KIND_NAMES,
            |t| t.kind.and_then(|kind| name_of(&TARGET_KINDS, &kind)),
            |t, name| t.kind = named(&TARGET_KINDS, name),
        )
        .required()
        .example("lure"),
        TargetField::choice(
            "shape",
            SHAPE_NAMES,
            |t| t.shape.and_then(|shape| name_of(&SHAPES, &shape)),
            |t, name| t.shape = named(&SHAPES, name),
        )
        .required()
        .example("sphere"),
        TargetField::figure(
            "target_strength_db",
            within(-120.0, 20.0, "dB re 1 m^2"),
            |t| t.target_strength_db,
            |t, f| t.target_strength_db = f,
        )
        .accepts("for the shape known")
        .advice("give the target strength, or a shape with its size"),
        // One column, three ranges: a record has one shape.
        TargetField::number(
            "cylinder.diameter_mm",
            within(0.5, 100.0, "mm"),
            |t| t.of(Shape::Cylinder, t.diameter_mm),
            |t, v| t.diameter_mm = Some(v),
        )
        .column("diameter_mm")
        .advice(SIZE),
        TargetField::number(
            "sphere.diameter_mm",
            within(1.0, 100.0, "mm"),
            |t| t.of(Shape::Sphere, t.diameter_mm),
            |t, v| t.diameter_mm = Some(v),
        )
        .column("diameter_mm")
        .advice(SIZE)
        .example("5"),
        TargetField::number(
            "disc.diameter_mm",
            within(1.0, 500.0, "mm"),
            |t| t.of(Shape::Disc, t.diameter_mm),
            |t, v| t.diameter_mm = Some(v),
        )
        .column("diameter_mm")
        .advice(SIZE),
        TargetField::number(
            "cylinder.length_mm",
            within(1.0, 500.0, "mm"),
            |t| t.length_mm,
            |t, v| t.length_mm = Some(v),
        )
        .column("length_mm")
        .accepts("for the shape cylinder")
        .advice(SIZE),
        TargetField::number("fish.length_cm", within(1.0, 200.0, "cm"), |t| t.length_cm, |t, v| t.length_cm = Some(v))
            .column("length_cm")
            .accepts("total length, for the shape fish")
            .advice("give the total length of the fish"),
        TargetField::choice(
            "sphere.material",
            MATERIAL_NAMES,
            |t| t.material.and_then(|material| name_of(&MATERIALS, &material)),
            |t, name| t.material = named(&MATERIALS, name),
        )
        .column("material")
        .accepts("for the shape sphere")
        .example("tungsten"),
        TargetField::choice(
            "fish.fish_class",
            FISH_CLASS_NAMES,
            |t| t.fish_class.and_then(|class| name_of(&FISH_CLASSES, &class)),
            |t, name| t.fish_class = named(&FISH_CLASSES, name),
        )
        .column("fish_class")
        .accepts("for the shape fish"),
    ];

    fn blank(id: Id) -> Self {
        Self {
            id,
            display_name: String::new(),
            notes: String::new(),
            kind: None,
            shape: None,
            target_strength_db: None,
            diameter_mm: None,
            length_mm: None,
            length_cm: None,
            material: None,
            fish_class: None,
        }
    }

    fn id(&self) -> &Id {
        &self.id
    }

    fn known(&self) -> Result<Target, Fault> {
        self.resolve()
    }

    fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::of(self, Self::FIELDS);
        let Some(shape) = self.shape else { return faults.found.into_vec() };
        let round = matches!(shape, Shape::Sphere | Shape::Disc | Shape::Cylinder);
        let name = name_of(&SHAPES, &shape).unwrap_or_default();
        let parts: [(String, Given, Needs, &str); 6] = [
            (
                "target_strength_db".to_owned(),
                (&self.target_strength_db).into(),
                (shape == Shape::Known).into(),
                "the shape known",
            ),
            (
                if round { format!("{name}.diameter_mm") } else { "diameter_mm".to_owned() },
                (&self.diameter_mm).into(),
                round.into(),
                "the shapes sphere, disc and cylinder",
            ),
            (
                "cylinder.length_mm".to_owned(),
                (&self.length_mm).into(),
                (shape == Shape::Cylinder).into(),
                "the shape cylinder",
            ),
            ("fish.length_cm".to_owned(), (&self.length_cm).into(), (shape == Shape::Fish).into(), "the shape fish"),
            (
                "sphere.material".to_owned(),
                (&self.material).into(),
                (shape == Shape::Sphere).into(),
                "the shape sphere",
            ),
            ("fish.fish_class".to_owned(), (&self.fish_class).into(), (shape == Shape::Fish).into(), "the shape fish"),
        ];
        for (field, given, needs, only) in parts {
            match (needs, given) {
                (Needs::Yes, Given::No) => faults.missing(&field, &format!("a target of the shape {name} has it")),
                (Needs::Yes, Given::Yes) => {}
                (Needs::No, given) => faults.out_of_place(&field, given, only),
            }
        }
        faults.found.into_vec()
    }
}

/// Whether a shape has a field.
enum Needs {
    Yes,
    No,
}

impl From<bool> for Needs {
    fn from(needs: bool) -> Self {
        if needs { Self::Yes } else { Self::No }
    }
}

impl TargetRecord {
    /// The target as it is computed with.
    ///
    /// # Errors
    /// The record lacks a field that its check asks for.
    pub fn resolve(&self) -> Result<Target, Fault> {
        let metres = |figure: Option<f64>, scale: Scale, field: &str| {
            figure.map(|value| Metres::new(scale.to_si(value))).ok_or_else(|| lacks(field))
        };
        let diameter = || metres(self.diameter_mm, Scale::Millimetres, "diameter_mm");
        let shape = match self.shape.ok_or_else(|| lacks("shape"))? {
            Shape::Known => TargetShape::Known(
                fact(self.target_strength_db, Scale::One, TargetStrength::new)
                    .ok_or_else(|| lacks("target_strength_db"))?,
            ),
            Shape::Sphere => TargetShape::Sphere {
                diameter: diameter()?,
                material: self.material.ok_or_else(|| lacks("sphere.material"))?,
            },
            Shape::Disc => TargetShape::Disc { diameter: diameter()? },
            Shape::Cylinder => TargetShape::Cylinder {
                length: metres(self.length_mm, Scale::Millimetres, "cylinder.length_mm")?,
                diameter: diameter()?,
            },
            Shape::Fish => TargetShape::Fish {
                length: metres(self.length_cm, Scale::Centimetres, "fish.length_cm")?,
                class: self.fish_class.ok_or_else(|| lacks("fish.fish_class"))?,
            },
        };
        Ok(Target {
            id: self.id.clone(),
            display_name: self.display_name.clone(),
            notes: self.notes.clone(),
            kind: self.kind.ok_or_else(|| lacks("kind"))?,
            shape,
        })
    }
}

impl From<&Target> for TargetRecord {
    fn from(t: &Target) -> Self {
        let mm = |length: Metres| Some(Scale::Millimetres.from_si(length.get()));
        let blank = Self {
            display_name: t.display_name.clone(),
            notes: t.notes.clone(),
            kind: Some(t.kind),
            ..Self::blank(t.id.clone())
        };
        match t.shape {
            TargetShape::Known(strength) => Self {
                shape: Some(Shape::Known),
                target_strength_db: given(strength, Scale::One, TargetStrength::get),
                ..blank
            },
            TargetShape::Sphere { diameter, material } => {
                Self { shape: Some(Shape::Sphere), diameter_mm: mm(diameter), material: Some(material), ..blank }
            }
            TargetShape::Disc { diameter } => Self { shape: Some(Shape::Disc), diameter_mm: mm(diameter), ..blank },
            TargetShape::Cylinder { length, diameter } => {
                Self { shape: Some(Shape::Cylinder), length_mm: mm(length), diameter_mm: mm(diameter), ..blank }
            }
            TargetShape::Fish { length, class } => Self {
                shape: Some(Shape::Fish),
                length_cm: Some(Scale::Centimetres.from_si(length.get())),
                fish_class: Some(class),
                ..blank
            },
        }
    }
}

impl Target {
    /// Every fault of what is computed with, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        TargetRecord::from(self).check()
    }
}
