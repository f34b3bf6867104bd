//! Lures and fish that come with the program, so that nobody has to type target strengths: `lakebeam import --starter` stores them, and
//! `advise` takes them by name where the store has none of that name.

use std::collections::BTreeMap;

use catalog::exchange::csv;
use domain::target::Shape;
use domain::{FishClass, Record as _, SphereMaterial, TargetKind, TargetRecord};
use proto::v1;

/// The set, as a file that may be imported.
pub(crate) const TARGETS: &str = include_str!("../starter/targets.csv");

/// The target of a name such as `perch-20` or `targets/perch-20`; none that is not in the set.
pub(crate) fn target(name: &str) -> Option<v1::Target> {
    let id = name.strip_prefix("targets/").unwrap_or(name);
    records().into_iter().find(|target| target.id().as_str() == id).and_then(|target| message(&target))
}

fn records() -> Vec<TargetRecord> {
    csv::read(TARGETS.as_bytes(), &BTreeMap::new()).records.into_iter().map(|(_, target)| target).collect()
}

fn message(target: &TargetRecord) -> Option<v1::Target> {
    let kind = match target.kind? {
        TargetKind::Lure => v1::TargetKind::Lure,
        TargetKind::Fish => v1::TargetKind::Fish,
        TargetKind::Reference => v1::TargetKind::Reference,
    };
    let shape = match target.shape? {
        Shape::Known => v1::target::Shape::TargetStrengthDb(v1::Fact {
            value: target.target_strength_db?.value,
            provenance: v1::Provenance::Assumed.into(),
            spread: None,
        }),
        Shape::Sphere => v1::target::Shape::Sphere(v1::Sphere {
            diameter_mm: target.diameter_mm?,
            material: material(target.material?).into(),
        }),
        Shape::Disc => v1::target::Shape::Disc(v1::Disc { diameter_mm: target.diameter_mm? }),
        Shape::Cylinder => {
            v1::target::Shape::Cylinder(v1::Cylinder { length_mm: target.length_mm?, diameter_mm: target.diameter_mm? })
        }
        Shape::Fish => v1::target::Shape::Fish(v1::Fish {
            length_cm: target.length_cm?,
            fish_class: class(target.fish_class?).into(),
        }),
    };
    Some(v1::Target {
        name: format!("targets/{}", target.id),
        display_name: target.display_name.clone(),
        notes: target.notes.clone(),
        kind: kind.into(),
        shape: Some(shape),
        ..v1::Target::default()
    })
}

const fn material(material: SphereMaterial) -> v1::SphereMaterial {
    match material {
        SphereMaterial::TungstenCarbide => v1::SphereMaterial::TungstenCarbide,
        SphereMaterial::Tungsten => v1::SphereMaterial::Tungsten,
        SphereMaterial::Lead => v1::SphereMaterial::Lead,
        SphereMaterial::Brass => v1::SphereMaterial::Brass,
        SphereMaterial::Steel => v1::SphereMaterial::Steel,
    }
}

const fn class(class: FishClass) -> v1::FishClass {
    match class {
        FishClass::General => v1::FishClass::General,
        FishClass::ClosedSwimBladder => v1::FishClass::ClosedSwimBladder,
        FishClass::OpenSwimBladder => v1::FishClass::OpenSwimBladder,
        FishClass::Smelt => v1::FishClass::Smelt,
        FishClass::Vendace => v1::FishClass::Vendace,
        FishClass::Alewife => v1::FishClass::Alewife,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_target_of_the_set_is_sound_and_says_where_its_figures_come_from() {
        let read = csv::read::<TargetRecord>(TARGETS.as_bytes(), &BTreeMap::new());
        assert_eq!((read.faults, read.unused), (Vec::new(), Vec::new()));
        for (line, target) in read.records {
            assert!(message(&target).is_some(), "line {line}");
            assert!(!target.notes.is_empty(), "line {line}");
        }
        for name in ["small-jig", "targets/perch-20"] {
            assert!(target(name).is_some(), "{name}");
        }
        assert!(target("kraken").is_none());
    }
}
