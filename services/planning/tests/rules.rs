//! Shelter rules hold: what they publish is inside tolerance, one step further is outside; recomputed here from the physics alone.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "tests")]

mod common;
#[path = "common/drawn.rs"]
mod drawn;

use acoustics::units::{Db, Hertz, Metres};
use domain::selection::OptionRef;
use domain::{BottomClass, Cancel, Confirmation, FaultReason, HolePlan, Sensor, Shelter, TargetKind};
use planning::PlanningError;
use planning::rules::{DepthBand, Help, Refusal, Rule, RuleBook, RulesInput, RulesSettings, derive};

fn derive_all(input: &RulesInput) -> Result<RuleBook, PlanningError> {
    derive(input, &Cancel::never())
}

fn band(shallow: f64, deep: f64) -> DepthBand {
    DepthBand { shallow: Metres::new(shallow), deep: Metres::new(deep) }
}

fn input(shelters: Vec<Shelter>, sensors: Vec<Sensor>, bands: Vec<DepthBand>) -> RulesInput {
    let options = (0..sensors.len()).map(|sensor| OptionRef { sensor, option: 0 }).collect();
    RulesInput {
        shelters,
        sensors,
        options,
        unlisted: Vec::new(),
        bands,
        bottoms: vec![BottomClass::FineSand],
        lure: common::target("lure", TargetKind::Lure, -50.0),
        settings: RulesSettings::default(),
    }
}

/// The fraction of cells with interference marks at a gain: a plain beam among like ones at these distances.
fn fraction(degrees: f64, depth_m: f64, distances: &[f64], gain_db: f64) -> f64 {
    let alike: Vec<(f64, f64)> = distances.iter().map(|distance| (degrees, *distance)).collect();
    drawn::received(degrees, &alike, depth_m).drawn_fraction(drawn::threshold(gain_db))
}

/// Depths between which the band's samples lie, finely.
fn depths(band: DepthBand) -> Vec<f64> {
    let ratio = band.deep.get() / band.shallow.get();
    (0..=60).map(|step| band.shallow.get() * libm::pow(ratio, f64::from(step) / 60.0)).collect()
}

fn spread(holes: &[domain::Point]) -> Vec<Vec<f64>> {
    (0..holes.len())
        .map(|own| {
            (0..holes.len())
                .filter(|other| *other != own)
                .map(|o| libm::hypot(holes[o].x.get() - holes[own].x.get(), holes[o].y.get() - holes[own].y.get()))
                .collect()
        })
        .collect()
}

/// The worst fraction over a band and over all units, at a gain.
fn worst(degrees: f64, band: DepthBand, around: &[Vec<f64>], gain: f64) -> f64 {
    let all = depths(band).into_iter().flat_map(|depth| around.iter().map(move |distances| (depth, distances)));
    all.map(|(depth, distances)| fraction(degrees, depth, distances, gain)).fold(0.0, f64::max)
}

#[test]
fn the_highest_gain_is_inside_tolerance_and_one_step_past_it_is_outside() {
    let mut limited = 0;
    for (degrees, people, depth_band) in
        [(13.0, 3, band(3.0, 6.0)), (21.0, 5, band(2.0, 4.0)), (8.0, 2, band(6.0, 12.0)), (30.0, 4, band(4.0, 5.0))]
    {
        let shelter = common::shelter(4.0, 3.0, people);
        let book = derive_all(&input(vec![shelter], vec![common::piston("a", degrees)], vec![depth_band])).unwrap();
        let sheet = &book.sheets[0];
        let rule = &sheet.bands[0].rules[0];
        let around = spread(&sheet.holes);
        let gain = rule.highest_gain.get();
        let inside = worst(degrees, depth_band, &around, gain - 0.1);
        assert!(inside <= 0.02 + 1.0e-9, "{degrees}° at {gain}: {inside}");
        if rule.limited_by.is_some() {
            limited += 1;
            // Tolerance: the critical level is found to 0.01 dB, and depths between samples differ by up to 0.1 dB.
            let outside = worst(degrees, depth_band, &around, gain + 0.1);
            assert!(outside > 0.02, "{degrees}° at {gain}: {outside}");
        }
    }
    assert!(limited >= 2, "only {limited} of the rules were limited by neighbours");
}

#[test]
fn the_least_spacing_is_enough_in_the_densest_arrangement_and_less_is_not() {
    let depth_band = band(3.0, 5.0);
    let book =
        derive_all(&input(vec![common::shelter(5.0, 4.0, 4)], vec![common::piston("a", 19.0)], vec![depth_band]))
            .unwrap();
    let rule = &book.sheets[0].bands[0].rules[0];
    let spacing = rule.least_spacing.unwrap().get();
    let start = rule.start_gain.get();
    // Three neighbours of a hole in a triangular lattice stand at the least distance.
    let inside = worst(19.0, depth_band, &[vec![spacing + 0.02; 3]], start - 0.1);
    let outside = worst(19.0, depth_band, &[vec![spacing - 0.04; 3]], start + 0.1);
    assert!(inside <= 0.02 + 1.0e-9 && outside > 0.02, "{spacing} m: {inside} {outside}");
}

#[test]
fn one_more_than_the_greatest_party_is_too_many() {
    let depth_band = band(3.0, 5.0);
    let of = |people| input(vec![common::shelter(4.0, 4.0, people)], vec![common::piston("a", 12.0)], vec![depth_band]);
    let most = derive_all(&of(2)).unwrap().sheets[0].bands[0].rules[0].most_people;
    let allowed = |people| match derive_all(&of(people)) {
        Ok(book) => book.sheets[0].bands[0].rules[0].refusal.is_none(),
        Err(PlanningError::Faults(faults)) => {
            assert!(faults[0].message.contains("holes"), "{faults:?}");
            false
        }
        Err(error) => panic!("{error}"),
    };
    assert!((2..24).contains(&most), "{most}");
    assert!(allowed(most));
    assert!(!allowed(most + 1));
}

#[test]
fn what_may_be_mixed_is_symmetric_and_never_worse_than_tolerance() {
    let mut low = common::piston("low", 12.0);
    low.options[0].frequency.value = Hertz::from_khz(80.0);
    let sensors = vec![common::piston("a", 8.0), common::piston("b", 13.0), low];
    let book = derive_all(&input(vec![common::shelter(5.0, 4.0, 2)], sensors, vec![band(4.0, 8.0)])).unwrap();
    let rules = &book.sheets[0].bands[0].rules;
    assert!(rules.iter().all(|rule| rule.refusal.is_none()), "{rules:?}");
    let mixes = &book.sheets[0].bands[0].mixes;
    assert!(mixes.iter().all(|mix| mix.first < mix.second));
    for (index, rule) in rules.iter().enumerate() {
        // Neighbours of several kinds are never quieter than those of one's own kind.
        assert!(rule.highest_gain <= rule.alike_highest_gain && rule.highest_gain >= rule.start_gain);
        let mixed = mixes.iter().any(|mix| mix.first == index || mix.second == index);
        assert!(mixed || rule.highest_gain == rule.alike_highest_gain);
    }
    assert!(!mixes.is_empty());
}

#[test]
fn every_fault_of_an_event_is_named_at_once() {
    let mut wrong = input(
        vec![common::shelter(4.0, 4.0, 2), common::shelter(1.2, 1.2, 6), common::shelter(2.0, 2.0, 10)],
        vec![common::piston("a", 12.0)],
        vec![band(3.0, 5.0)],
    );
    let faults = |input: &RulesInput| match derive(input, &Cancel::never()) {
        Err(PlanningError::Faults(faults)) => faults.into_iter().map(|f| (f.field, f.reason)).collect::<Vec<_>>(),
        other => panic!("{other:?}"),
    };
    let named = faults(&wrong);
    assert_eq!(named.len(), 2, "{named:?}");
    assert!(named[0].0.starts_with("shelters[1]") && named[1].0.starts_with("shelters[2]"), "{named:?}");
    wrong.shelters.truncate(1);
    wrong.bands = vec![band(5.0, 3.0), band(0.0, f64::NAN)];
    wrong.bottoms.clear();
    wrong.settings.tolerance = 0.9;
    let named = faults(&wrong);
    for field in
        ["bottom_classes", "bands[0].deep_m", "bands[1].shallow_m", "bands[1].deep_m", "interference_tolerance"]
    {
        assert!(named.iter().any(|(known, _)| known == field), "{field}: {named:?}");
    }
    assert!(named.contains(&("bands[0].deep_m".to_owned(), FaultReason::Contradiction)));
}

#[test]
fn where_nothing_fits_the_least_change_is_named_and_helps() {
    let depth_band = band(2.0, 4.0);
    let crowded =
        |sensor: Sensor, people| input(vec![common::shelter(3.0, 2.4, people)], vec![sensor], vec![depth_band]);
    let base = crowded(common::piston("a", 30.0), 4);
    let rules = derive(&base, &Cancel::never()).unwrap();
    let BandRules { rules: row, help } = first(&rules);
    assert!(matches!(row[0].refusal, Some(Refusal::NeighboursShow { .. } | Refusal::NoClearGain { .. })), "{row:?}");
    match help.unwrap() {
        Help::Confirmation { confirmation, .. } => {
            let mut sensor = common::piston("a", 30.0);
            sensor.confirmation = confirmation;
            sensor.ping_jitter.value = 0.05;
            assert!(first(&derive_all(&crowded(sensor, 4)).unwrap()).rules[0].refusal.is_none());
        }
        Help::LowerGain { by, .. } => assert!(by.get() <= 3.0),
        Help::FewerPeople { people, .. } => {
            let mut fewer = base.clone();
            fewer.shelters[0].holes = HolePlan::Party(people);
            assert!(first(&derive_all(&fewer).unwrap()).rules[0].refusal.is_none());
        }
        Help::OtherOptions | Help::FartherShelters { .. } => panic!("the option reaches the bottom, and stands alone"),
    }
    let mut deep = common::piston("deep", 12.0);
    deep.max_gain.value = Db::new(5.0);
    deep.dial.points[1].gain = Db::new(2.0);
    deep.dial.points[2].gain = Db::new(5.0);
    let hopeless = input(vec![common::shelter(3.0, 2.4, 2)], vec![deep], vec![band(30.0, 40.0)]);
    assert_eq!(first(&derive(&hopeless, &Cancel::never()).unwrap()).help, Some(Help::OtherOptions));
}

struct BandRules {
    rules: Vec<Rule>,
    help: Option<Help>,
}

fn first(book: &RuleBook) -> BandRules {
    let band = &book.sheets[0].bands[0];
    BandRules { rules: band.rules.clone(), help: band.help }
}

#[test]
fn confirmation_in_a_sensor_lets_the_gain_up() {
    let depth_band = band(3.0, 5.0);
    let of = |confirmation, jitter| {
        let mut sensor = common::piston("a", 19.0);
        sensor.confirmation = confirmation;
        sensor.ping_jitter.value = jitter;
        let book = derive_all(&input(vec![common::shelter(4.0, 3.0, 4)], vec![sensor], vec![depth_band])).unwrap();
        book.sheets[0].bands[0].rules[0].highest_gain
    };
    let single = of(Confirmation { marks: 1, pings: 1 }, 0.05);
    assert!(of(Confirmation { marks: 2, pings: 3 }, 0.05) > single);
    // On one steady interval successive pings meet the same neighbour again: nothing is gained.
    assert_eq!(of(Confirmation { marks: 2, pings: 3 }, 0.0), of(Confirmation { marks: 1, pings: 1 }, 0.0));
}
