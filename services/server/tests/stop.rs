//! A call whose deadline passes, whose caller drops it or cancels its run: the work itself stops within a tenth of a second.
//!
//! Whether it does is asked of the operating system and not of the service: the time that its compute threads have had on a processor.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod support;

use std::future::Future;
use std::path::Path;
use std::pin::Pin;
use std::time::{Duration, Instant};

use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::fleet_service_client::FleetServiceClient;
use proto::v1::rules_service_client::RulesServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;
use support::{Server, said};
use tonic::transport::Channel;
use tonic::{Code, Request, Status};

/// How long the work may go on.
const STOPS: Duration = Duration::from_millis(100);
/// Threads that get no processor for so long have nothing to do.
const QUIET: Duration = Duration::from_millis(150);
/// How much work is seen before the call is ended.
const BEGUN: Duration = Duration::from_millis(60);
const PATIENCE: Duration = Duration::from_secs(60);
/// Each way to end each call is tried so often; machines that do other things as well are late now and then.
const TRIES: usize = 3;
/// Checks of units, so many that an assessment takes seconds.
const CHECKS: usize = 8_000;

/// What the operating system says of the threads of a process.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Seen {
    /// Time that the compute threads have had on a processor.
    computed: Duration,
    /// Time that a thread was ready and there was no processor for it: the most of a compute thread, and the most of another one.
    held_up: [Duration; 2],
}

impl Seen {
    fn of(process: u32) -> Self {
        let mut seen = Self { computed: Duration::ZERO, held_up: [Duration::ZERO; 2] };
        for task in std::fs::read_dir(format!("/proc/{process}/task")).unwrap() {
            let task = task.unwrap().path();
            let read = |file: &str| std::fs::read_to_string(task.join(file));
            // A thread may end while it is looked at.
            let (Ok(name), Ok(spent)) = (read("comm"), read("schedstat")) else { continue };
            let nanos: Vec<u64> = spent.split_whitespace().map(|number| number.parse().unwrap()).collect();
            let computes = name.starts_with("compute-");
            if computes {
                seen.computed += Duration::from_nanos(nanos[0]);
            }
            let most = &mut seen.held_up[usize::from(!computes)];
            *most = (*most).max(Duration::from_nanos(nanos[1]));
        }
        seen
    }
}

/// How long the work went on after its call had ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct WentOn {
    /// On the clock, less what the service could not help: its threads were ready, and the machine was busy with other things.
    /// On a machine of its own nothing is taken off.
    own: Duration,
    clock: Duration,
    /// On processors.
    computed: Duration,
}

/// Waits until the compute threads stand still, and gives when they last did anything.
async fn quiet(process: u32) -> (Instant, Seen) {
    let start = Instant::now();
    let (mut seen, mut last) = (Seen::of(process), start);
    while last.elapsed() < QUIET {
        tokio::time::sleep(Duration::from_millis(1)).await;
        let now = Seen::of(process);
        if now.computed != seen.computed {
            (seen, last) = (now, Instant::now());
        }
        assert!(start.elapsed() < PATIENCE, "the compute threads never stand still");
    }
    (last, seen)
}

/// Waits until the compute threads have done that much of what was asked.
async fn begun(process: u32, until: Duration) {
    let start = Instant::now();
    while Seen::of(process).computed < until {
        tokio::time::sleep(Duration::from_millis(1)).await;
        assert!(start.elapsed() < PATIENCE, "the work does not begin");
    }
}

/// Waits until all is quiet after the end of a call.
async fn went_on(process: u32, end: Instant, at_end: Seen) -> WentOn {
    let (last, seen) = quiet(process).await;
    let clock = last.saturating_duration_since(end);
    let held_up: Duration = (0..2).map(|kind| seen.held_up[kind].saturating_sub(at_end.held_up[kind])).sum();
    let computed = seen.computed.saturating_sub(at_end.computed);
    WentOn { own: clock.saturating_sub(held_up), clock, computed }
}

/// A call whose work takes long, with a deadline if one is given.
type Call = fn(Channel, Option<Duration>) -> Pin<Box<dyn Future<Output = Result<(), Status>> + Send>>;

fn with_deadline<T>(message: T, deadline: Option<Duration>) -> Request<T> {
    let mut request = Request::new(message);
    if let Some(deadline) = deadline {
        request.set_timeout(deadline);
    }
    request
}

fn spec(spots: &[&str], draws: u32) -> v1::RunSpec {
    v1::RunSpec {
        spots: spots.iter().map(|spot| format!("spots/{spot}")).collect(),
        lure: "targets/tungsten-jig-5".to_owned(),
        fish: "targets/perch-25".to_owned(),
        goal: v1::Goal::WatchLure.into(),
        draws,
        ..v1::RunSpec::default()
    }
}

const CALLS: [(&str, Call); 7] = [
    ("Recommend", |channel, deadline| {
        Box::pin(async move {
            let message = v1::RecommendRequest { spec: Some(spec(&["vesper-landing"], 100_000)), ..Default::default() };
            let call = SelectionServiceClient::new(channel).recommend(with_deadline(message, deadline)).await?;
            let mut answer = call.into_inner();
            while answer.message().await?.is_some() {}
            Ok(())
        })
    }),
    ("Evaluate", |channel, deadline| {
        Box::pin(async move {
            let message = v1::EvaluateRequest { spec: Some(spec(&["vesper-landing"], 100_000)), ..Default::default() };
            SelectionServiceClient::new(channel).evaluate(with_deadline(message, deadline)).await.map(drop)
        })
    }),
    ("DeriveShelterRules", |channel, deadline| {
        Box::pin(async move {
            let spec = v1::RulesSpec {
                shelters: vec!["shelters/rental-hut-five".to_owned(), "shelters/sled-tent-three".to_owned()],
                lure: "targets/tungsten-jig-5".to_owned(),
                bands: (2..8).map(|m| v1::DepthBand { shallow_m: f64::from(m), deep_m: f64::from(m) + 1.0 }).collect(),
                bottom_classes: vec![v1::BottomClass::Silt.into(), v1::BottomClass::Gravel.into()],
                ..Default::default()
            };
            let message = v1::DeriveShelterRulesRequest { spec: Some(spec) };
            RulesServiceClient::new(channel).derive_shelter_rules(with_deadline(message, deadline)).await.map(drop)
        })
    }),
    ("LayOutShelter", |channel, deadline| {
        Box::pin(async move {
            let shelter = v1::Shelter {
                display_name: "Tournament tent".to_owned(),
                floor_length_m: 37.0,
                floor_width_m: 23.0,
                party_size: 60,
                ..Default::default()
            };
            let message = v1::LayOutShelterRequest { shelter: Some(shelter) };
            RulesServiceClient::new(channel).lay_out_shelter(with_deadline(message, deadline)).await.map(drop)
        })
    }),
    ("FitBeamSurvey", |channel, deadline| {
        Box::pin(async move {
            let message = v1::FitBeamSurveyRequest { survey: "beamSurveys/long".to_owned() };
            FleetServiceClient::new(channel).fit_beam_survey(with_deadline(message, deadline)).await.map(drop)
        })
    }),
    ("AssessUnits", |channel, deadline| {
        Box::pin(async move {
            let message = v1::AssessUnitsRequest::default();
            FleetServiceClient::new(channel).assess_units(with_deadline(message, deadline)).await.map(drop)
        })
    }),
    ("PlanFleet", |channel, deadline| {
        Box::pin(async move {
            let message = v1::PlanFleetRequest { spec: None, ..v1::PlanFleetRequest::default() };
            FleetServiceClient::new(channel).plan_fleet(with_deadline(message, deadline)).await.map(drop)
        })
    }),
];

/// How a call ends before its answer.
#[derive(Debug, Clone, Copy)]
enum Ends {
    ByItsDeadline(Duration),
    /// Who drops it once that much of its work is done.
    ByItsCaller(Duration),
}

/// Ends a call once that much of its work is done, and gives how long the work went on after that.
async fn ended(process: u32, channel: Channel, call: Call, ends: Ends) -> WentOn {
    quiet(process).await;
    let before = Seen::of(process).computed;
    match ends {
        Ends::ByItsDeadline(deadline) => {
            let due = tokio::time::Instant::now() + deadline;
            let task = tokio::spawn(call(channel, Some(deadline)));
            tokio::time::sleep_until(due).await;
            let at_end = Seen::of(process);
            let late = went_on(process, due.into_std(), at_end).await;
            let status = task.await.unwrap().expect_err("it was done before its deadline");
            assert!(matches!(status.code(), Code::DeadlineExceeded | Code::Cancelled), "{status:?}");
            assert!(at_end.computed > before, "it had not begun");
            late
        }
        Ends::ByItsCaller(done) => {
            let task = tokio::spawn(call(channel, None));
            begun(process, before + done).await;
            assert!(!task.is_finished(), "it was done before it was dropped");
            let (end, at_end) = (Instant::now(), Seen::of(process));
            task.abort();
            went_on(process, end, at_end).await
        }
    }
}

/// Cancels a run in the middle of its work.
async fn cancelled(process: u32, channel: Channel, spec: v1::RunSpec) -> WentOn {
    quiet(process).await;
    let before = Seen::of(process).computed;
    let mut selection = SelectionServiceClient::new(channel);
    let request = v1::StartRunRequest { spec: Some(spec), ..Default::default() };
    let run = selection.start_run(request).await.unwrap().into_inner();
    begun(process, before + BEGUN).await;
    let (end, at_end) = (Instant::now(), Seen::of(process));
    let cancel = v1::CancelRunRequest { name: run.name };
    let run = selection.cancel_run(cancel).await.unwrap().into_inner();
    assert_eq!(run.state(), v1::RunState::Cancelled, "it was over before it was cancelled");
    went_on(process, end, at_end).await
}

fn middle(mut times: Vec<WentOn>) -> WentOn {
    times.sort_unstable();
    times[times.len() / 2]
}

/// Checks of two units over many days.
fn many_checks() -> String {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog/unit-checks.csv");
    let demo = std::fs::read_to_string(demo).unwrap();
    let (head, rows) = demo.split_once('\n').unwrap();
    let more = (0..CHECKS).map(|number| {
        let unit = ["middle-1", "middle-2"][number % 2];
        let row = rows.lines().find(|row| row.starts_with(unit)).unwrap();
        format!("more-{number},{}\n", row.split_once(',').unwrap().1)
    });
    std::iter::once(format!("{head}\n")).chain(more).collect()
}

/// The demo, and so many bookings and readings more that a plan and a fit take seconds.
async fn prepare(dir: &Path, server: &Server) -> Channel {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog");
    let files =
        ["sensors", "targets", "spots", "shelters", "goals", "units", "bookings", "unit-checks", "beam-surveys"];
    let files = files.map(|file| demo.join(format!("{file}.csv")).display().to_string());
    let to = ["--server", &server.url()].map(str::to_owned);
    let all: Vec<&str> =
        to.iter().map(String::as_str).chain(["import"]).chain(files.iter().map(String::as_str)).collect();
    said(dir, &all);
    let channel = Channel::from_shared(server.url()).unwrap().connect().await.unwrap();
    let spots = CatalogServiceClient::new(channel.clone())
        .list_spots(v1::ListSpotsRequest { page_size: 1_000, ..Default::default() })
        .await
        .unwrap()
        .into_inner()
        .spots;
    let mut fleet = FleetServiceClient::new(channel.clone());
    for (number, spot) in spots.iter().cycle().take(150).enumerate() {
        let first = 1 + number % 24;
        let booking = v1::Booking {
            display_name: format!("Booking {number}"),
            spot: spot.name.clone(),
            anglers: u32::try_from(1 + number % 5).unwrap(),
            first_day: format!("2027-02-{first:02}"),
            last_day: format!("2027-02-{:02}", first + number % 4),
            lure: "targets/tungsten-jig-5".to_owned(),
            fish: "targets/perch-25".to_owned(),
            ..Default::default()
        };
        let request = v1::CreateBookingRequest { booking_id: format!("more-{number}"), booking: Some(booking) };
        fleet.create_booking(request).await.unwrap();
    }
    std::fs::write(dir.join("unit-checks.csv"), many_checks()).unwrap();
    said(dir, &["--server", &server.url(), "import", "unit-checks.csv"]);
    let demo = v1::GetBeamSurveyRequest { name: "beamSurveys/two-face-wide-jan".to_owned() };
    let mut long = fleet.get_beam_survey(demo).await.unwrap().into_inner();
    let again = (0..8).flat_map(|line| {
        long.readings.iter().map(move |reading| {
            let offset_m = reading.offset_m + 0.01 * f64::from(line);
            v1::SurveyReading { offset_m, ..*reading }
        })
    });
    long.readings = again.collect();
    let request = v1::RecordBeamSurveyRequest { beam_survey_id: "long".to_owned(), beam_survey: Some(long) };
    fleet.record_beam_survey(request).await.unwrap();
    channel
}

#[tokio::test(flavor = "multi_thread")]
async fn work_that_nobody_waits_for_stops_within_a_tenth_of_a_second() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let channel = prepare(dir.path(), &server).await;
    let process = server.process();
    let mut late = Vec::new();
    let mut judge = |what: String, times: Vec<WentOn>| {
        let in_ms = |of: fn(&WentOn) -> Duration| times.iter().map(|time| of(time).as_millis()).collect::<Vec<_>>();
        let [own, clock, computed] = [in_ms(|t| t.own), in_ms(|t| t.clock), in_ms(|t| t.computed)];
        let line = format!("{what}: went on for {own:?} ms ({clock:?} on the clock, {computed:?} on processors)");
        println!("{line}");
        if middle(times).own > STOPS {
            late.push(line);
        }
    };
    // A plan and rules have stages: tables, scores, then programs or spacings that are solved one after the other.
    let later = [300, 900].map(|ms| Ends::ByItsCaller(Duration::from_millis(ms)));
    for (name, call) in CALLS {
        let stages = if matches!(name, "PlanFleet" | "DeriveShelterRules") { &later[..] } else { &[] };
        // Holes are laid out in a tenth of a second on a machine that does nothing else.
        let deadline = Duration::from_millis(if name == "LayOutShelter" { 40 } else { 200 });
        // What an assessment reads from the database takes longer than any deadline here.
        let first = usize::from(name == "AssessUnits");
        for ends in [Ends::ByItsDeadline(deadline), Ends::ByItsCaller(BEGUN)][first..].iter().chain(stages) {
            let mut times = Vec::new();
            for _ in 0..TRIES {
                times.push(ended(process, channel.clone(), call, *ends).await);
            }
            judge(format!("{name} ended {ends:?}"), times);
        }
    }
    let hut = |draws| v1::RunSpec { shelter: "shelters/rental-hut-five".to_owned(), ..spec(&[], draws) };
    for (what, spec) in [("a run of many draws", spec(&[], 100_000)), ("a run that prepares its tables", hut(1))] {
        let mut times = Vec::new();
        for _ in 0..TRIES {
            times.push(cancelled(process, channel.clone(), spec.clone()).await);
        }
        judge(format!("{what}, cancelled"), times);
    }
    assert!(late.is_empty(), "{late:#?}");
}
