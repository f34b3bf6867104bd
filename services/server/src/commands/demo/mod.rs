//! The demo: an invented catalog, runs on it, rules, a plan, an assessment and a survey, and their reports.

mod fleet;
mod stage;

use proto::v1::{self, RecordKind};

use super::files::send;
use super::follow::follow;
use super::run::print_summary;
use crate::cli::{self, Global, Kind, LengthUnit, Paper};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use stage::{FISH, LURE, Paged, SHOP, Stage};

/// The catalog, built in so that the binary shows it anywhere.
const CATALOGUE: [(RecordKind, &str); 9] = [
    (RecordKind::Sensors, include_str!("../../../../../demo-catalog/sensors.csv")),
    (RecordKind::Spots, include_str!("../../../../../demo-catalog/spots.csv")),
    (RecordKind::Shelters, include_str!("../../../../../demo-catalog/shelters.csv")),
    (RecordKind::Targets, include_str!("../../../../../demo-catalog/targets.csv")),
    (RecordKind::Goals, include_str!("../../../../../demo-catalog/goals.csv")),
    (RecordKind::Units, include_str!("../../../../../demo-catalog/units.csv")),
    (RecordKind::Bookings, include_str!("../../../../../demo-catalog/bookings.csv")),
    (RecordKind::UnitChecks, include_str!("../../../../../demo-catalog/unit-checks.csv")),
    (RecordKind::BeamSurveys, include_str!("../../../../../demo-catalog/beam-surveys.csv")),
];

/// One run of the demo and the reports on it.
struct Scene {
    said: &'static str,
    spots: &'static [&'static str],
    shelter: &'static str,
    goal: v1::Goal,
    draws: u32,
    reports: &'static [Paged],
}

const SCENES: [Scene; 3] = [
    Scene {
        said: "A tackle shop advises a customer with four spots, fishing alone",
        spots: &["vesper-landing", "vesper-steep-wall", "morrow-rock-pile", "vesper-basin"],
        shelter: "",
        goal: v1::Goal::WatchLure,
        draws: 256,
        reports: &[
            Paged {
                file: "shop-comparison.pdf",
                template: "comparison",
                title: "Which beam for your four spots",
                organisation: SHOP,
                unit: LengthUnit::Feet,
                paper: Paper::UsLetter,
                spots: &[],
                appendix: false,
            },
            Paged {
                file: "shop-customer-sheet.pdf",
                template: "customer-sheet",
                title: "Your set-up",
                organisation: SHOP,
                unit: LengthUnit::Feet,
                paper: Paper::UsLetter,
                spots: &[],
                appendix: false,
            },
        ],
    },
    Scene {
        said: "An outfitter equips a shelter for five, over all forty spots of three lakes",
        spots: &[],
        shelter: "rental-hut-five",
        goal: v1::Goal::WatchLure,
        draws: 0,
        reports: &[Paged {
            file: "shared-shelter-comparison.pdf",
            template: "comparison",
            title: "Five in one shelter: which beam, and how far up",
            organisation: "Morrow Water Outfitting (invented)",
            unit: LengthUnit::Metres,
            paper: Paper::A4,
            spots: &["vesper-drop-off", "morrow-sand-flat", "quill-mid-lake", "morrow-long-slope"],
            appendix: false,
        }],
    },
    Scene {
        said: "Weeds: why a wide beam drowns a lure",
        spots: &["quill-weed-bed", "quill-weed-edge", "quill-sparse-weeds", "morrow-weed-point"],
        shelter: "",
        goal: v1::Goal::WeedEdge,
        draws: 0,
        reports: &[Paged {
            file: "weed-edge-comparison.pdf",
            template: "comparison",
            title: "Beams along the weeds",
            organisation: SHOP,
            unit: LengthUnit::Metres,
            paper: Paper::A4,
            spots: &[],
            appendix: true,
        }],
    },
];

/// Imports the catalog, runs the scenes, and writes the reports.
pub(super) async fn demo(global: &Global, args: &cli::Demo) -> Outcome {
    if global.server.is_some() {
        return Err(CliError::Usage("the demo brings its own service and database: leave out --server".to_owned()));
    }
    std::fs::create_dir_all(&args.out)
        .map_err(|e| CliError::Usage(format!("{} cannot be made: {e}", args.out.display())))?;
    let connection = Connection::own(&args.out.join("lakebeam.db"), &global.own).await?;
    let outcome = scenes(&connection, args, global.json).await;
    connection.close().await;
    outcome
}

async fn scenes(connection: &Connection, args: &cli::Demo, as_json: bool) -> Outcome {
    let mut stage = Stage { connection, out: &args.out, as_json, written: Vec::new() };
    import(&stage).await?;
    for scene in &SCENES {
        play(&mut stage, scene).await?;
    }
    fleet::rules(&mut stage).await?;
    fleet::plan(&mut stage).await?;
    fleet::assessment(&mut stage).await?;
    fleet::survey(&mut stage).await?;
    stage.say("\nThe reports:");
    for (file, title) in &stage.written {
        stage.say(&format!("  {}  {title}", file.display()));
    }
    stage.say(
        "Before you go out: ice thickness and travel follow local authority advice; mark drilled holes; ventilate a heated shelter and",
    );
    stage.say("carry a carbon monoxide alarm; local rules come first.");
    let program = std::env::args().next().unwrap_or_else(|| "lakebeam".to_owned());
    stage.say("\nTo see all of this in a browser, run this and open http://127.0.0.1:50071/ :");
    stage.say(&format!("  {program} --database {} serve", args.out.join("lakebeam.db").display()));
    Ok(())
}

async fn import(stage: &Stage<'_>) -> Outcome {
    stage.say("Importing the demo catalog. Everything in it is invented: lakes, shops and sensors.");
    for (number, text) in CATALOGUE {
        let kind = Kind::from(number);
        let header = v1::ImportHeader {
            kind: number.into(),
            format: v1::RecordFormat::Csv.into(),
            replace_existing: true,
            ..v1::ImportHeader::default()
        };
        let answer = send(stage.connection, header, text.as_bytes().to_vec()).await?;
        if let Some(fault) = answer.faults.first() {
            return Err(CliError::Partial(format!("{} line {}: {}", kind.name(), fault.line, fault.message)));
        }
        stage.say(&format!("  {} {}", answer.created + answer.replaced, kind.name()));
    }
    Ok(())
}

/// Runs a scene and writes its reports.
async fn play(stage: &mut Stage<'_>, scene: &Scene) -> Outcome {
    let connection = stage.connection;
    stage.say(&format!("\n{}.", scene.said));
    let spec = v1::RunSpec {
        spots: scene.spots.iter().map(|s| format!("spots/{s}")).collect(),
        shelter: if scene.shelter.is_empty() { String::new() } else { format!("shelters/{}", scene.shelter) },
        lure: LURE.to_owned(),
        fish: FISH.to_owned(),
        goal: scene.goal.into(),
        draws: scene.draws,
        seed: 1,
        ..v1::RunSpec::default()
    };
    let request = v1::StartRunRequest { spec: Some(spec), ..v1::StartRunRequest::default() };
    let started = connection.selection().start_run(request).await?.into_inner();
    let run = follow(connection, &started.name, true).await?;
    if run.state() != v1::RunState::Succeeded {
        return Err(CliError::Partial(format!("{} did not succeed: {}", run.name, run.error)));
    }
    if !stage.as_json {
        print_summary(connection, &run).await?;
    }
    for paged in scene.reports {
        stage.write(&run.name, paged).await?;
    }
    Ok(())
}
