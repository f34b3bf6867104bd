//! A store in a temporary folder, a run that is quick to make, and kernels that do as they are told.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;

use acoustics::units::{
    Angle, Beamwidth, Celsius, Db, FullAngle, GramsPerKilogram, Hertz, Level, Metres, Seconds, SourceLevel,
    TargetStrength, WidthLevel,
};
use catalog::{OpenOptions, Store, StoredRun, Synchronous, Write};
use domain::selection::{
    Assumption, Criteria, Desirability, Failure, Finding, Gains, Notice, OptionRef, RunInput, Settings,
};
use domain::{
    BeamOption, BottomClass, DialPoint, DialScale, Fact, GainDial, Id, PatternKind, Sensor, Source, Spot, Target,
    TargetKind, TargetShape, defaults,
};
use domain::{Part, Sentence};
use jiff::Timestamp;
use runs::{Clock, Evaluator, Kernel, Limits, RunEngine, Stage, StartRun, SystemClock};

pub(crate) fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

pub(crate) fn write() -> Write {
    Write { actor: "tester".to_owned(), at: Timestamp::from_second(1_790_000_000).unwrap() }
}

/// A file database that survives its engine; the folder goes with it.
pub(crate) struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    pub(crate) fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    pub(crate) async fn store(&self) -> Store {
        let options = OpenOptions { synchronous: Synchronous::Normal, ..OpenOptions::default() };
        Store::open(self.folder.path().join("runs.db"), options).await.unwrap()
    }

    pub(crate) async fn engine(&self, kernel: Kernel, limits: Limits) -> RunEngine {
        self.engine_by(Arc::new(SystemClock), kernel, limits).await
    }

    pub(crate) async fn engine_by(&self, clock: Arc<dyn Clock>, kernel: Kernel, limits: Limits) -> RunEngine {
        RunEngine::new(self.store().await, kernel, limits, clock).unwrap()
    }
}

/// The clock of a machine that is set anew at every look: a day back, or far ahead.
pub(crate) struct Jumping {
    looks: AtomicI64,
    days: i64,
}

impl Jumping {
    pub(crate) fn by_days(days: i64) -> Arc<Self> {
        Arc::new(Self { looks: AtomicI64::new(0), days })
    }
}

impl Clock for Jumping {
    fn now(&self) -> Timestamp {
        let jumped = self.looks.fetch_add(1, Ordering::SeqCst) * self.days * 86_400;
        Timestamp::from_second(1_790_000_000 + jumped).unwrap()
    }
}

pub(crate) fn limits(threads: usize) -> Limits {
    Limits { threads, ..Limits::default() }
}

fn spot(index: usize) -> Spot {
    let depth = Metres::new(6.0);
    Spot {
        id: id(&format!("spot-{index}")),
        display_name: format!("Spot {index}"),
        lake: "Invented lake".to_owned(),
        notes: String::new(),
        position: None,
        depth,
        ice_thickness: None,
        bottom: BottomClass::Silt,
        bottom_from: domain::Provenance::Stated,
        slope: Angle::new(0.0),
        relief: vec![],
        canopy: None,
        canopy_unknown: false,
        fish_layer: defaults::fish_layer(depth),
        lure_height: defaults::lure_height(depth),
        hole_radius: defaults::HOLE_RADIUS,
        bottom_temperature: Celsius::new(4.0),
        salinity: GramsPerKilogram::new(0.0),
        ph: 7.5,
    }
}

fn sensor(options: usize) -> Sensor {
    let option = |index: usize| BeamOption {
        id: id(&format!("beam-{index}")),
        display_name: String::new(),
        frequency: Fact::stated(Hertz::from_khz(200.0)),
        pattern: PatternKind::CircularPiston {
            beamwidth: Fact::stated(Beamwidth { full: FullAngle::from_degrees(12.0), at: WidthLevel::Minus3 }),
        },
        width_level_known: true,
        floor: defaults::PATTERN_FLOOR,
        source: Source::Stated(Fact::stated(SourceLevel::new(210.0))),
        pulse_length: Fact::stated(Seconds::from_micros(100.0)),
        sweep_bandwidth: None,
        receiver_bandwidth: Fact::assumed(Hertz::from_khz(10.0)),
        ring_down: None,
    };
    Sensor {
        id: id("sensor"),
        display_name: "Sensor".to_owned(),
        notes: String::new(),
        price: None,
        options: (0..options).map(option).collect(),
        threshold: Fact::stated(Level::new(150.0)),
        max_gain: Fact::stated(Db::new(70.0)),
        dial: GainDial {
            scale: DialScale::Percent,
            points: vec![
                DialPoint { position: 0.0, gain: Db::new(0.0) },
                DialPoint { position: 100.0, gain: Db::new(70.0) },
            ],
        },
        receiver_noise: defaults::RECEIVER_NOISE,
        ping_interval: defaults::PING_INTERVAL,
        ping_jitter: defaults::PING_JITTER,
        confirmation: defaults::CONFIRMATION,
    }
}

fn target(kind: TargetKind) -> Target {
    Target {
        id: id("target"),
        display_name: "Target".to_owned(),
        notes: String::new(),
        kind,
        shape: TargetShape::Known(Fact::stated(TargetStrength::new(-50.0))),
    }
}

pub(crate) fn input(spots: usize, options: usize) -> RunInput {
    RunInput {
        spots: (0..spots).map(spot).collect(),
        sensors: vec![sensor(options)],
        options: (0..options).map(|option| OptionRef { sensor: 0, option }).collect(),
        shelter: None,
        others: domain::selection::Others::Same,
        lure: target(TargetKind::Lure),
        fish: target(TargetKind::Fish),
        settings: Settings::default(),
        goals: Vec::new(),
    }
}

pub(crate) fn start_run(id: &str, input: &RunInput) -> StartRun {
    StartRun { id: id.to_owned(), request_id: None, spec: b"spec".to_vec(), input: input.clone() }
}

/// Findings whose every figure depends on spot and option, by option; the last option comes first.
pub(crate) fn findings(spot: usize, options: usize) -> Vec<Finding> {
    (0..options).map(|option| finding(spot, option, options)).collect()
}

fn finding(spot: usize, option: usize, options: usize) -> Finding {
    let n = |part: f64| {
        let (spot, option) = (u32::try_from(spot).unwrap(), u32::try_from(option).unwrap());
        (f64::from(spot) + 1.0) / 3.0 + f64::from(option) / 7.0 + part
    };
    let even = option.is_multiple_of(2);
    Finding {
        spot,
        option,
        criteria: Criteria {
            coverage_radius: Metres::new(n(0.1)),
            coverage_area_m2: n(0.2),
            watch_footprint: Metres::new(n(0.3)),
            range_cell: Metres::new(n(0.4)),
            single_fish_probability: n(0.5),
            dead_zone_height: Metres::new(n(0.6)),
            lure_over_vegetation: even.then(|| Db::new(n(0.7))),
            headroom: (!even).then(|| Db::new(-n(0.8))),
            interference_fraction: 0.0,
        },
        gains: Gains {
            lure: Db::new(n(1.0)),
            bottom: Db::new(n(1.1)),
            working: Db::new(n(1.2)),
            clear: even.then(|| Db::new(n(1.3))),
            search: Db::new(n(1.4)),
            max: Db::new(70.0),
        },
        desirability: Desirability { coverage: n(2.0), clutter: n(2.1), resolution: n(2.2), interference: n(2.3) },
        score: n(3.0),
        rank: u32::try_from(options - option).unwrap(),
        failures: if even { vec![] } else { vec![Failure::LureGainBeyondMax { missing: Db::new(n(4.0)) }] },
        assumptions: vec![Assumption {
            field: "floor_db".into(),
            sentence: Sentence::new("assume-floor", [("figure", Part::count(option))]),
        }],
        notices: if even { vec![Notice::NoCoverage] } else { vec![] },
        uncertainty: None,
    }
}

/// A kernel whose findings come from `findings`, with `before` called at every spot.
pub(crate) fn kernel(before: impl Fn(usize) + Send + Sync + 'static) -> Kernel {
    let before = Arc::new(before);
    Arc::new(move |input: &Arc<RunInput>, _| {
        let (before, options) = (Arc::clone(&before), input.options.len());
        let evaluator: Evaluator = Box::new(move |spot, _| {
            before(spot);
            Ok(findings(spot, options))
        });
        Ok(evaluator)
    })
}

/// Waits until the engine has no more to do with a run, and gives it as it is stored.
pub(crate) async fn end_of(engine: &RunEngine, store: &Store, run: &str) -> StoredRun {
    if let Some(mut progress) = engine.watch(run) {
        let ended = progress.wait_for(|progress| progress.stage == Stage::Ended);
        tokio::time::timeout(Duration::from_secs(30), ended).await.unwrap().unwrap();
    }
    store.run(run).await.unwrap()
}

/// Waits until a run has stored that many findings.
pub(crate) async fn has_done(engine: &RunEngine, run: &str, findings: u64) {
    let mut progress = engine.watch(run).unwrap();
    let done = progress.wait_for(|progress| progress.findings_done >= findings);
    tokio::time::timeout(Duration::from_secs(30), done).await.unwrap().unwrap();
}
