//! Targets.

use domain::target::Shape;
use domain::{Fault, FishClass, Id, Record as _, SphereMaterial, TargetKind, TargetRecord};
use proto::v1;
use proto::v1::target::Shape as Message;

use super::{Reading, fact};

/// Reads a target.
pub(crate) fn from(id: Id, message: v1::Target) -> Result<TargetRecord, Vec<Fault>> {
    let mut reading = Reading::default();
    let read = |kind| match kind {
        v1::TargetKind::Unspecified => None,
        v1::TargetKind::Lure => Some(TargetKind::Lure),
        v1::TargetKind::Fish => Some(TargetKind::Fish),
        v1::TargetKind::Reference => Some(TargetKind::Reference),
    };
    let blank = TargetRecord {
        kind: reading.choice("kind", message.kind, read, v1::TargetKind::as_str_name),
        display_name: message.display_name,
        notes: message.notes,
        ..TargetRecord::blank(id)
    };
    let target = match message.shape {
        None => {
            reading.missing("shape", "accepted: one of target_strength_db, sphere, disc, cylinder, fish");
            blank
        }
        Some(Message::TargetStrengthDb(strength)) => TargetRecord {
            shape: Some(Shape::Known),
            target_strength_db: fact::figure(&mut reading, "target_strength_db", Some(strength)),
            ..blank
        },
        Some(Message::Sphere(sphere)) => TargetRecord {
            shape: Some(Shape::Sphere),
            diameter_mm: Some(sphere.diameter_mm),
            material: reading.choice("sphere.material", sphere.material, material, v1::SphereMaterial::as_str_name),
            ..blank
        },
        Some(Message::Disc(disc)) => {
            TargetRecord { shape: Some(Shape::Disc), diameter_mm: Some(disc.diameter_mm), ..blank }
        }
        Some(Message::Cylinder(cylinder)) => TargetRecord {
            shape: Some(Shape::Cylinder),
            length_mm: Some(cylinder.length_mm),
            diameter_mm: Some(cylinder.diameter_mm),
            ..blank
        },
        Some(Message::Fish(fish)) => TargetRecord {
            shape: Some(Shape::Fish),
            length_cm: Some(fish.length_cm),
            fish_class: reading.choice("fish.fish_class", fish.fish_class, class, v1::FishClass::as_str_name),
            ..blank
        },
    };
    reading.finish(target, TargetRecord::check)
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
#[must_use]
pub fn to(target: &TargetRecord) -> v1::Target {
    let kind = target.kind.map_or(v1::TargetKind::Unspecified, |kind| match kind {
        TargetKind::Lure => v1::TargetKind::Lure,
        TargetKind::Fish => v1::TargetKind::Fish,
        TargetKind::Reference => v1::TargetKind::Reference,
    });
    v1::Target {
        name: format!("targets/{}", target.id),
        display_name: target.display_name.clone(),
        notes: target.notes.clone(),
        kind: kind.into(),
        shape: target.shape.and_then(|shape| shape_to(shape, target)),
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}

fn shape_to(shape: Shape, target: &TargetRecord) -> Option<Message> {
    Some(match shape {
        Shape::Known => Message::TargetStrengthDb(fact::to(target.target_strength_db)?),
        Shape::Sphere => Message::Sphere(v1::Sphere {
            diameter_mm: target.diameter_mm?,
            material: material_to(target.material?).into(),
        }),
        Shape::Disc => Message::Disc(v1::Disc { diameter_mm: target.diameter_mm? }),
        Shape::Cylinder => {
            Message::Cylinder(v1::Cylinder { length_mm: target.length_mm?, diameter_mm: target.diameter_mm? })
        }
        Shape::Fish => {
            Message::Fish(v1::Fish { length_cm: target.length_cm?, fish_class: class_to(target.fish_class?).into() })
        }
    })
}
