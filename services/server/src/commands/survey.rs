//! Surveys of beams: drafts, fits, adoption.

use proto::v1;

use super::names::full_name;
use super::report;
use crate::cli::{self, SurveyStep};
use crate::connect::Connection;
use crate::exit::Outcome;
use crate::output::shown::say;
use crate::output::{json, table::Columns};

/// Does a step of a survey.
pub(super) async fn survey(connection: &Connection, args: &cli::Survey, as_json: bool) -> Outcome {
    match &args.step {
        SurveyStep::Draft(args) => draft(connection, args, as_json).await,
        SurveyStep::Fit(args) => fit(connection, args, as_json).await,
        SurveyStep::Adopt(args) => adopt(connection, args, as_json).await,
    }
}

async fn draft(connection: &Connection, args: &cli::Draft, as_json: bool) -> Outcome {
    let request = v1::DraftBeamSurveyRequest {
        option: full_name(&args.option, "sensors"),
        target: full_name(&args.target, "targets"),
        depth_m: args.depth,
        holes: args.holes,
    };
    let draft = connection.fleet().draft_beam_survey(request).await?.into_inner();
    if as_json {
        json::print(&draft)?;
    } else {
        print_draft(&draft);
    }
    report::print(connection, &draft.name, &args.printed, as_json).await
}

fn print_draft(draft: &v1::BeamSurveyDraft) {
    for (index, step) in draft.steps.iter().enumerate() {
        say!("{:>2}. {step}", index + 1);
    }
    say!("\nHoles, m along the line from the transducer's: {}", metres(&draft.offsets_m));
    say!("Depths of the target, m: {}", metres(&draft.depths_m));
    say!("");
    for line in &draft.can_tell {
        say!("{line}");
    }
    say!("\nTo take onto the ice: lakebeam report {} --output sheet.pdf", draft.name);
    say!("The columns of the file to import afterwards: lakebeam columns beam-surveys");
}

fn metres(figures: &[f64]) -> String {
    let texts: Vec<_> = figures.iter().map(|figure| format!("{figure:.2}")).collect();
    texts.join(", ")
}

async fn fit(connection: &Connection, args: &cli::Fit, as_json: bool) -> Outcome {
    let request = v1::FitBeamSurveyRequest { survey: full_name(&args.survey, "beamSurveys") };
    let fit = connection.fleet().fit_beam_survey(request).await?.into_inner();
    if as_json {
        json::print(&fit)?;
    } else {
        print_fit(&fit);
    }
    report::print(connection, &fit.name, &args.printed, as_json).await
}

fn print_fit(fit: &v1::BeamFit) {
    say!("{} · {}: {} readings", fit.sensor_display_name, fit.beam, fit.readings);
    let mut table = Columns::new(&["figure", ">measured", ">90 % interval"]);
    let mut row = |name: &str, unit: &str, estimate: Option<&v1::Estimate>| {
        if let Some(e) = estimate {
            let open = if e.at_bound { " (open)" } else { "" };
            let interval = format!("{:.1} to {:.1}{unit}{open}", e.low, e.high);
            table.row([name.to_owned(), format!("{:.1}{unit}", e.value), interval]);
        }
    };
    row("beamwidth at half power", "°", fit.beamwidth_deg.as_ref());
    row("tilt along the line", "°", fit.tilt_deg.as_ref());
    row("gain needed over the stated", " dB", fit.threshold_shift_db.as_ref());
    row("level beside the main lobe", " dB", fit.side_level_db.as_ref());
    table.print();
    match fit.p_value {
        Some(p) if p < 0.05 => say!(
            "The fit is bad: a beam of this kind would fit so badly in {:.0} of 100 surveys. See what is odd before you use it.",
            100.0 * p
        ),
        Some(p) => say!("A beam of this kind fits as badly in {:.0} of 100 surveys.", 100.0 * p),
        None => {}
    }
    say!("\nWhat this survey cannot tell");
    for line in &fit.cannot_tell {
        say!("  {line}");
    }
    say!("\nStored as {}. The map: lakebeam report {} --output beam.pdf", fit.name, fit.name);
    say!("To use the measured beam from now on: lakebeam survey adopt {}", fit.name);
}

async fn adopt(connection: &Connection, args: &cli::Adopt, as_json: bool) -> Outcome {
    let fit = full_name(&args.fit, "beamFits");
    let request = v1::AdoptPatternRequest { fit: fit.clone(), sensor_etag: String::new() };
    let sensor = connection.fleet().adopt_pattern(request).await?.into_inner();
    if as_json {
        return json::print(&sensor);
    }
    say!(
        "{} now has the beam of {fit}, marked as measured. Earlier runs keep what they were computed from.",
        sensor.name
    );
    Ok(())
}
