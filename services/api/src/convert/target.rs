//! Targets.

use acoustics::units::{Metres, TargetStrength};
use domain::{Fact, Fault, FishClass, Id, SphereMaterial, Target, TargetKind, TargetShape};
use proto::v1;
use proto::v1::target::Shape;

use super::{Reading, fact};
use domain::scale::Scale as Unit;

/// Reads a target.
pub(crate) fn from(id: Id, message: v1::Target) -> Result<Target, Vec<Fault>> {
    let mut reading = Reading::default();
    let read = |kind| match kind {
        v1::TargetKind::Unspecified => None,
        v1::TargetKind::Lure => Some(TargetKind::Lure),
        v1::TargetKind::Fish => Some(TargetKind::Fish),
        v1::TargetKind::Reference => Some(TargetKind::Reference),
    };
    let target = Target {
        id,
        kind: reading.choice("kind", message.kind, read, v1::TargetKind::as_str_name).unwrap_or(TargetKind::Reference),
        shape: shape(&mut reading, message.shape),
        display_name: message.display_name,
        notes: message.notes,
    };
    reading.finish(target, Target::check)
}

fn shape(reading: &mut Reading, shape: Option<Shape>) -> TargetShape {
    let millimetres = |value| Metres::new(Unit::Millimetres.to_si(value));
    match shape {
        None => {
            reading.missing("shape", "accepted: one of target_strength_db, sphere, disc, cylinder, fish");
            TargetShape::Known(Fact::assumed(TargetStrength::new(0.0)))
        }
        Some(Shape::TargetStrengthDb(strength)) => {
            TargetShape::Known(fact::required(reading, "target_strength_db", Some(strength), TargetStrength::new))
        }
        Some(Shape::Sphere(sphere)) => TargetShape::Sphere {
            diameter: millimetres(sphere.diameter_mm),
            material: reading
                .choice("sphere.material", sphere.material, material, v1::SphereMaterial::as_str_name)
                .unwrap_or(SphereMaterial::Steel),
        },
        Some(Shape::Disc(disc)) => TargetShape::Disc { diameter: millimetres(disc.diameter_mm) },
        Some(Shape::Cylinder(cylinder)) => TargetShape::Cylinder {
            length: millimetres(cylinder.length_mm),
            diameter: millimetres(cylinder.diameter_mm),
        },
        Some(Shape::Fish(fish)) => TargetShape::Fish {
            length: Metres::new(Unit::Centimetres.to_si(fish.length_cm)),
            class: reading
                .choice("fish.fish_class", fish.fish_class, class, v1::FishClass::as_str_name)
                .unwrap_or(FishClass::General),
        },
    }
}

fn material(material: v1::SphereMaterial) -> Option<SphereMaterial> {
    Some(match material {
        v1::SphereMaterial::Unspecified => return None,
        v1::SphereMaterial::TungstenCarbide => SphereMaterial::TungstenCarbide,
        v1::SphereMaterial::Tungsten => SphereMaterial::Tungsten,
        v1::SphereMaterial::Lead => SphereMaterial::Lead,
        v1::SphereMaterial::Brass => SphereMaterial::Brass,
        v1::SphereMaterial::Steel => SphereMaterial::Steel,
    })
}

fn material_to(material: SphereMaterial) -> v1::SphereMaterial {
    match material {
        SphereMaterial::TungstenCarbide => v1::SphereMaterial::TungstenCarbide,
        SphereMaterial::Tungsten => v1::SphereMaterial::Tungsten,
        SphereMaterial::Lead => v1::SphereMaterial::Lead,
        SphereMaterial::Brass => v1::SphereMaterial::Brass,
        SphereMaterial::Steel => v1::SphereMaterial::Steel,
    }
}

fn class(class: v1::FishClass) -> Option<FishClass> {
    Some(match class {
        v1::FishClass::Unspecified => return None,
        v1::FishClass::General => FishClass::General,
        v1::FishClass::ClosedSwimBladder => FishClass::ClosedSwimBladder,
        v1::FishClass::OpenSwimBladder => FishClass::OpenSwimBladder,
        v1::FishClass::Smelt => FishClass::Smelt,
        v1::FishClass::Vendace => FishClass::Vendace,
        v1::FishClass::Alewife => FishClass::Alewife,
    })
}

fn class_to(class: FishClass) -> v1::FishClass {
    match class {
        FishClass::General => v1::FishClass::General,
        FishClass::ClosedSwimBladder => v1::FishClass::ClosedSwimBladder,
        FishClass::OpenSwimBladder => v1::FishClass::OpenSwimBladder,
        FishClass::Smelt => v1::FishClass::Smelt,
        FishClass::Vendace => v1::FishClass::Vendace,
        FishClass::Alewife => v1::FishClass::Alewife,
    }
}

/// Writes a target, without what the store knows of it.
pub(crate) fn to(target: &Target) -> v1::Target {
    let kind = match target.kind {
        TargetKind::Lure => v1::TargetKind::Lure,
        TargetKind::Fish => v1::TargetKind::Fish,
        TargetKind::Reference => v1::TargetKind::Reference,
    };
    v1::Target {
        name: format!("targets/{}", target.id),
        display_name: target.display_name.clone(),
        notes: target.notes.clone(),
        kind: kind.into(),
        shape: Some(shape_to(&target.shape)),
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}

fn shape_to(shape: &TargetShape) -> Shape {
    let millimetres = |length: Metres| Unit::Millimetres.from_si(length.get());
    match shape {
        TargetShape::Known(strength) => Shape::TargetStrengthDb(fact::to(strength, TargetStrength::get)),
        TargetShape::Sphere { diameter, material } => {
            Shape::Sphere(v1::Sphere { diameter_mm: millimetres(*diameter), material: material_to(*material).into() })
        }
        TargetShape::Disc { diameter } => Shape::Disc(v1::Disc { diameter_mm: millimetres(*diameter) }),
        TargetShape::Cylinder { length, diameter } => {
            Shape::Cylinder(v1::Cylinder { length_mm: millimetres(*length), diameter_mm: millimetres(*diameter) })
        }
        TargetShape::Fish { length, class } => Shape::Fish(v1::Fish {
            length_cm: Unit::Centimetres.from_si(length.get()),
            fish_class: class_to(*class).into(),
        }),
    }
}
