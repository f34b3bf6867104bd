//! The demo beyond runs: rules for an event, a plan for a fleet, checks of its units, and a survey of a beam.

use proto::v1;

use super::stage::{LURE, Paged, Stage};
use crate::cli::{LengthUnit, Paper};
use crate::exit::Outcome;

const OUTFITTER: &str = "Morrow Water Outfitting (invented)";

fn paged(file: &'static str, template: &'static str, title: &'static str) -> Paged {
    let (unit, paper) = (LengthUnit::Metres, Paper::A4);
    Paged { file, template, title, organisation: OUTFITTER, unit, paper, spots: &[], appendix: false }
}

fn names(collection: &str, ids: &[&str]) -> Vec<String> {
    ids.iter().map(|id| format!("{collection}/{id}")).collect()
}

/// Rules that a tournament organizer pins to three shelters.
pub(super) async fn rules(stage: &mut Stage<'_>) -> Outcome {
    stage.say("\nA tournament organizer publishes rules for three shelters.");
    let band = |shallow_m, deep_m| v1::DepthBand { shallow_m, deep_m };
    let spec = v1::RulesSpec {
        shelters: names("shelters", &["rental-hut-five", "sled-tent-three", "event-tent-ten"]),
        options: names(
            "sensors",
            &["plain-narrow", "plain-middle", "plain-wide", "two-face", "quiet-disc", "ring-array"],
        ),
        lure: LURE.to_owned(),
        bands: vec![band(2.0, 5.0), band(5.0, 9.0), band(9.0, 14.0)],
        bottom_classes: vec![v1::BottomClass::Silt.into(), v1::BottomClass::MediumSand.into()],
        ..v1::RulesSpec::default()
    };
    let request = v1::DeriveShelterRulesRequest { spec: Some(spec) };
    let rules = stage.connection.rules().derive_shelter_rules(request).await?.into_inner();
    let report = Paged {
        organisation: "Three Lakes Ice Meet (invented)",
        ..paged("shelter-rules.pdf", "shelter-rules", "Rules of this shelter")
    };
    stage.write(&rules.name, &report).await
}

/// The fleet of an outfitter for a month of bookings.
pub(super) async fn plan(stage: &mut Stage<'_>) -> Outcome {
    stage.say("\nAn outfitter plans its fleet for a month of bookings, with 3,000 EUR to spend.");
    let budget = Some(v1::Money { currency_code: "EUR".to_owned(), units: 3_000, nanos: 0 });
    let request =
        v1::PlanFleetRequest { spec: Some(v1::FleetSpec { budget, ..v1::FleetSpec::default() }), validate_only: false };
    let plan = stage.connection.fleet().plan_fleet(request).await?.into_inner();
    stage.write(&plan.name, &paged("fleet-plan.pdf", "fleet-plan", "Fleet plan, January")).await
}

/// Which of its units are sound.
pub(super) async fn assessment(stage: &mut Stage<'_>) -> Outcome {
    stage.say("\nIt looks through the checks of its units.");
    let request = v1::AssessUnitsRequest::default();
    let assessment = stage.connection.fleet().assess_units(request).await?.into_inner();
    let report = paged("unit-assessment.pdf", "unit-assessment", "Which units are sound");
    stage.write(&assessment.name, &report).await
}

/// A survey: the sheet to take onto the ice, the beam that it found, and its adoption.
pub(super) async fn survey(stage: &mut Stage<'_>) -> Outcome {
    stage.say("\nIt surveys the wide beam of a two-face sensor through a line of holes, and adopts what was measured.");
    let mut fleet = stage.connection.fleet();
    let request = v1::DraftBeamSurveyRequest {
        option: "sensors/two-face/options/wide".to_owned(),
        target: "targets/check-ball-38".to_owned(),
        depth_m: 9.0,
        holes: 12,
    };
    let draft = fleet.draft_beam_survey(request).await?.into_inner();
    stage.write(&draft.name, &paged("survey-sheet.pdf", "survey-sheet", "Beam survey: sheet for the ice")).await?;
    let request = v1::FitBeamSurveyRequest { survey: "beamSurveys/two-face-wide-jan".to_owned() };
    let fit = fleet.fit_beam_survey(request).await?.into_inner();
    stage.write(&fit.name, &paged("beam-map.pdf", "beam-map", "The wide beam as measured")).await?;
    fleet.adopt_pattern(v1::AdoptPatternRequest { fit: fit.name, sensor_etag: String::new() }).await?;
    Ok(())
}
