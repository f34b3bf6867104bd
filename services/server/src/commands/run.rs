//! Runs: start, follow, list, cancel.

use std::collections::BTreeMap;

use proto::v1;

use super::advise;
use super::choice;
use super::follow::follow;
use super::job::{self, Job};
use super::names::{full_name, label_filter};
use super::report::{self, Wanted};
use super::words::words;
use crate::cli::{self, Goal, LengthUnit, Paper, Preset};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::output::{json, table::Columns};

/// Starts a run, follows it, prints what came of it, and renders a report if asked.
pub(super) async fn run(connection: &Connection, args: &cli::Run, as_json: bool) -> Outcome {
    let job = args.file.as_deref().map(job::read).transpose()?.unwrap_or_default();
    let spec = spec(args, &job)?;
    let request = v1::StartRunRequest { spec: Some(spec), request_id: String::new(), validate_only: false };
    let started = connection.selection().start_run(request).await?.into_inner();
    let run = follow(connection, &started.name, true).await?;
    if as_json {
        json::print(&run)?;
    }
    ended_well(&run)?;
    if !as_json {
        print_summary(connection, &run).await?;
    }
    if let Some(file) = args.report.as_ref().or(job.report.as_ref()) {
        let wanted = Wanted {
            source: &run.name,
            template: "comparison",
            spots: &[],
            look: &look(args, &job)?,
            output: file,
            logo: &[],
        };
        report::write(connection, &wanted, as_json).await?;
    }
    Ok(())
}

fn one_of<T: clap::ValueEnum>(flag: Option<T>, text: Option<&String>, key: &str) -> Result<Option<T>, CliError> {
    match (flag, text) {
        (Some(value), _) => Ok(Some(value)),
        (None, Some(text)) => T::from_str(text, true).map(Some).map_err(|_| {
            let known: Vec<_> =
                T::value_variants().iter().filter_map(|v| Some(v.to_possible_value()?.get_name().to_owned())).collect();
            CliError::Usage(format!("{key} = \"{text}\" in the job file: accepted are {}", known.join(", ")))
        }),
        (None, None) => Ok(None),
    }
}

fn spec(args: &cli::Run, job: &Job) -> Result<v1::RunSpec, CliError> {
    let list = |flag: &[String], file: &[String], collection: &str| -> Vec<String> {
        let chosen = if flag.is_empty() { file } else { flag };
        chosen.iter().map(|name| full_name(name, collection)).collect()
    };
    let name = |flag: &Option<String>, file: &Option<String>, collection: &str| {
        flag.as_ref().or(file.as_ref()).map(|n| full_name(n, collection)).unwrap_or_default()
    };
    let of_job = |text: &String| {
        Goal::parse(text).map_err(|error| CliError::Usage(format!("goal = \"{text}\" in the job file: {error}")))
    };
    let goal = args.goal.clone().map_or_else(|| job.goal.as_ref().map(of_job).transpose(), |goal| Ok(Some(goal)))?;
    let (goal, custom_goal) = goal.unwrap_or(Goal::Preset(Preset::WatchLure)).fields();
    let given = cli::Choice {
        budget: args.choice.budget.clone().or_else(|| job.budget.clone()),
        own: list(&args.choice.own, &job.own, "sensors"),
        uses: if args.choice.uses.is_empty() { job.uses.clone() } else { args.choice.uses.clone() },
        neighbours: if args.choice.neighbours.is_empty() {
            job.neighbours.clone()
        } else {
            args.choice.neighbours.clone()
        },
        weights: if args.choice.weights.is_empty() { job.weights.clone() } else { args.choice.weights.clone() },
    };
    let mut spec = v1::RunSpec {
        spots: if args.label.is_some() { Vec::new() } else { list(&args.spots, &job.spots, "spots") },
        spot_filter: args
            .label
            .as_deref()
            .map(label_filter)
            .or_else(|| args.spot_filter.clone())
            .or_else(|| job.spot_filter.clone())
            .unwrap_or_default(),
        options: list(&args.options, &job.options, "sensors"),
        shelter: name(&args.shelter, &job.shelter, "shelters"),
        lure: name(&args.lure, &job.lure, "targets"),
        fish: name(&args.fish, &job.fish, "targets"),
        goal: goal.into(),
        custom_goal,
        interference_tolerance: job.interference_tolerance,
        lure_margin_db: job.lure_margin_db,
        strong_mark_db: job.strong_mark_db,
        lure_offset_m: job.lure_offset_m,
        lean_deg: args.lean.or(job.lean_deg),
        lean_direction_deg: args.lean_direction.or(job.lean_direction_deg),
        draws: args.draws.or(job.draws).unwrap_or(0),
        seed: args.seed.or(job.seed).unwrap_or(1),
        ..v1::RunSpec::default()
    };
    choice::check_company(&given, Some(&spec.shelter))?;
    choice::put(&given, &mut spec)?;
    Ok(spec)
}

fn look(args: &cli::Run, job: &Job) -> Result<cli::Look, CliError> {
    let text = |flag: &str, file: &Option<String>| {
        if flag.is_empty() { file.clone().unwrap_or_default() } else { flag.to_owned() }
    };
    Ok(cli::Look {
        length_unit: one_of::<LengthUnit>(args.look.length_unit, job.length_unit.as_ref(), "length-unit")?,
        paper: one_of::<Paper>(args.look.paper, job.paper.as_ref(), "paper")?,
        language: args.look.language.clone().or_else(|| job.language.clone()),
        appendix: args.look.appendix || job.appendix.unwrap_or(false),
        title: text(&args.look.title, &job.title),
        organisation: text(&args.look.organisation, &job.organisation),
        contact: text(&args.look.contact, &job.contact),
        logo: args.look.logo.clone().or_else(|| job.logo.clone()),
    })
}

fn ended_well(run: &v1::Run) -> Outcome {
    match run.state() {
        v1::RunState::Succeeded => Ok(()),
        v1::RunState::Cancelled => Err(CliError::Partial(format!(
            "{} was cancelled; {} of {} findings are stored",
            run.name, run.findings_done, run.findings_total
        ))),
        v1::RunState::Failed => Err(CliError::Partial(format!("{} failed: {}", run.name, run.error))),
        _ => Err(CliError::Partial(format!("{} goes on; follow it with: lakebeam watch {}", run.name, run.name))),
    }
}

/// The best option at each spot, and how each option did.
pub(super) async fn print_summary(connection: &Connection, run: &v1::Run) -> Outcome {
    let mut client = connection.selection();
    let best = v1::StreamFindingsRequest { parent: run.name.clone(), spot: String::new(), max_rank: 1 };
    let mut stream = client.stream_findings(best).await?.into_inner();
    say!("{}: {} spots × {} options", run.name, run.spot_count, run.option_count);
    say!("");
    let mut table = Columns::new(&["spot", "best option", ">score", "start gain", "never above", "watch out"]);
    let mut cautions: BTreeMap<String, u32> = BTreeMap::new();
    while let Some(f) = stream.message().await? {
        let gains = f.gains.clone().unwrap_or_default();
        let watch_out = f.failures.first().or(f.notices.first());
        if let Some(reason) = watch_out {
            *cautions.entry(reason.code.clone()).or_default() += 1;
        }
        let usable = f.failures.is_empty();
        table.row([
            f.spot.trim_start_matches("spots/").to_owned(),
            if usable { short_option(&f.option) } else { "none can be used".to_owned() },
            format!("{:.0}", 100.0 * f.score),
            if usable { dial(&gains.working_dial, gains.working_gain_db) } else { String::new() },
            gains
                .clear_gain_db
                .map_or_else(String::new, |g| if usable { dial(&gains.clear_dial, g) } else { String::new() }),
            watch_out.map_or_else(String::new, |r| r.text.clone()),
        ]);
    }
    table.print();
    say!("");
    let summary = client.summarize_run(v1::SummarizeRunRequest { name: run.name.clone() }).await?.into_inner();
    let mut table =
        Columns::new(&["option", ">best at", ">works at", ">as good as best at", ">mean score", ">worst score"]);
    for o in &summary.options {
        table.row([
            short_option(&o.option),
            o.best_at.to_string(),
            o.serves.to_string(),
            o.near_best_at.to_string(),
            format!("{:.0}", 100.0 * o.mean_score),
            format!("{:.0}", 100.0 * o.worst_score),
        ]);
    }
    table.print();
    say!("");
    if let Some(answer) = &summary.recommendation {
        advise::print(answer, false, &[])?;
        say!("");
    }
    say!("Scores run from 0 to 100. Every figure behind one: lakebeam explain {} --spot SPOT", run.name);
    Ok(())
}

/// `sensors/plain/options/main` as `plain/main`.
pub(super) fn short_option(option: &str) -> String {
    option.trim_start_matches("sensors/").replace("/options/", "/")
}

/// A reading of the dial, or the decibels where the dial does not say.
pub(super) fn dial(reading: &str, gain_db: f64) -> String {
    match (reading.is_empty(), gain_db < 0.0) {
        (false, _) => reading.to_owned(),
        (true, true) => "no gain".to_owned(),
        (true, false) => format!("{gain_db:.0} dB"),
    }
}

/// Lists runs, newest first.
pub(super) async fn list(connection: &Connection, as_json: bool) -> Outcome {
    let mut page_token = String::new();
    let mut table = Columns::new(&["run", "state", ">spots", ">options", ">findings", "started"]);
    loop {
        let page =
            connection.selection().list_runs(v1::ListRunsRequest { page_size: 200, page_token }).await?.into_inner();
        for run in &page.runs {
            if as_json {
                json::print(run)?;
                continue;
            }
            table.row([
                run.name.clone(),
                words("RUN_STATE_", run.state().as_str_name()),
                run.spot_count.to_string(),
                run.option_count.to_string(),
                format!("{}/{}", run.findings_done, run.findings_total),
                run.create_time.as_ref().map_or_else(String::new, |t| t.to_string()),
            ]);
        }
        if page.next_page_token.is_empty() {
            break;
        }
        page_token = page.next_page_token;
    }
    if !as_json {
        table.print();
    }
    Ok(())
}

/// Follows a run of anybody's.
pub(super) async fn watch(connection: &Connection, name: &str, as_json: bool) -> Outcome {
    let run = follow(connection, &full_name(name, "runs"), false).await?;
    if as_json {
        json::print(&run)?;
    } else {
        say!(
            "{}: {}, {} of {} findings",
            run.name,
            words("RUN_STATE_", run.state().as_str_name()),
            run.findings_done,
            run.findings_total
        );
    }
    ended_well(&run)
}

/// Stops a run.
pub(super) async fn cancel(connection: &Connection, name: &str, as_json: bool) -> Outcome {
    let request = v1::CancelRunRequest { name: full_name(name, "runs") };
    let run = connection.selection().cancel_run(request).await?.into_inner();
    if as_json {
        return json::print(&run);
    }
    say!(
        "{}: {}; {} of {} findings are stored.",
        run.name,
        words("RUN_STATE_", run.state().as_str_name()),
        run.findings_done,
        run.findings_total
    );
    Ok(())
}
