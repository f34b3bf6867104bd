//! What is not known of places and neighbours, against runs in which it is.

use acoustics::units::{Hertz, Metres, SourceLevel, Watts};
use domain::selection::{OptionRef, Others, RunInput};
use domain::sensor::PowerKind;
use domain::setting::{Highest, setting};
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Fact, HolePlan, Point, Provenance, Shelter, Source, Spot};
use planning::recommend::{Beside, Choice, QUIET, Recommendation, UnknownKind, recommend};
use planning::selection::Prepared;

use crate::common::{piston, run, shelter, spot};

fn advise(input: &RunInput) -> Recommendation {
    recommend(input, &Choice::default(), &Cancel::never(), QUIET).unwrap()
}

fn input(spots: Vec<Spot>, draws: u32) -> RunInput {
    let mut input = run(spots, vec![piston("wide", 22.0), piston("narrow", 9.0)]);
    input.settings.draws = draws;
    input
}

fn of_unknown_bottom(depth: f64) -> Spot {
    Spot { bottom_from: Provenance::Assumed, ..spot("any", depth, BottomClass::MediumSand) }
}

/// The recorded figures take sand; the mean over the draws is that of the four bottoms, each as often as it is drawn.
#[test]
fn draws_of_an_unknown_bottom_are_the_mixture_of_the_known_ones() {
    let draws = 2_048;
    let unknown = input(vec![of_unknown_bottom(8.0)], draws);
    let answer = advise(&unknown);
    let known = |class| advise(&input(vec![spot("any", 8.0, class)], draws));
    let parts = [
        (BottomClass::SoftMud, 0.2),
        (BottomClass::Silt, 0.3),
        (BottomClass::MediumSand, 0.3),
        (BottomClass::Gravel, 0.2),
    ]
    .map(|(class, share)| (known(class), share));
    for sensor in 0..2 {
        let of = |answer: &Recommendation| answer.worths.expected[sensor][0].value;
        let expected: f64 = parts.iter().map(|(answer, share)| share * of(answer)).sum();
        let values: Vec<f64> = parts.iter().map(|(answer, _)| of(answer)).collect();
        let spread = values.iter().copied().fold(f64::MIN, f64::max) - values.iter().copied().fold(f64::MAX, f64::min);
        // Four standard errors of a share of draws, and of values within a class.
        let tolerance = 4.0 * (0.5 * spread + 0.1) / f64::from(draws).sqrt();
        assert!((of(&answer) - expected).abs() < tolerance, "{}: {} against {expected}", sensor, of(&answer));
        let sand = &parts[2].0;
        assert_eq!(answer.worths.nominal[sensor], sand.worths.nominal[sensor]);
    }
}

/// A place that is known is drawn as it was, whatever is not known of another one.
#[test]
fn what_is_not_known_of_one_place_moves_no_other() {
    let alone = advise(&input(vec![spot("known", 5.0, BottomClass::Silt)], 128));
    let beside = advise(&input(vec![spot("known", 5.0, BottomClass::Silt), of_unknown_bottom(9.0)], 128));
    for sensor in 0..2 {
        assert_eq!(alone.worths.expected[sensor][0], beside.worths.expected[sensor][0]);
    }
}

#[test]
fn unknown_weeds_are_there_in_some_draws() {
    let bare = spot("bare", 6.0, BottomClass::MediumSand);
    let height = acoustics::units::Metres::new(1.0);
    let canopy = Canopy { height, density: CanopyDensity::Moderate, volume_strength: None };
    let grown = Spot { canopy: Some(canopy), ..bare.clone() };
    let unknown = Spot { canopy_unknown: true, ..bare.clone() };
    let of = |spot: Spot| {
        let mut input = input(vec![spot], 512);
        input.settings.goal = domain::Goal::WEED_EDGE;
        advise(&input)
    };
    let [bare, grown, unknown] = [bare, grown, unknown].map(of);
    let value = |answer: &Recommendation| answer.worths.expected[0][0].value;
    let (low, high) = (value(&grown).min(value(&bare)), value(&grown).max(value(&bare)));
    assert!(low < value(&unknown) && value(&unknown) < high, "{low} {} {high}", value(&unknown));
    assert_eq!(unknown.worths.nominal, bare.worths.nominal);
}

fn in_company(others: Others, draws: u32) -> RunInput {
    let mut input = input(vec![spot("hut", 6.0, BottomClass::Gravel)], draws);
    input.shelter = Some(shelter(3.0, 2.4, 4));
    input.others = others;
    input
}

fn given(sensors: Vec<domain::Sensor>) -> Others {
    let options = (0..sensors.len()).map(|sensor| OptionRef { sensor, option: 0 }).collect();
    Others::Given { sensors, options }
}

fn clear_gains(input: &RunInput) -> Vec<f64> {
    let prepared = Prepared::new(input, &Cancel::never()).unwrap();
    let findings = prepared.evaluate(0..1, &Cancel::never()).unwrap();
    findings.iter().map(|finding| finding.gains.clear.unwrap().get()).collect()
}

/// Neighbours who are given the unit that is judged are neighbours with the same.
#[test]
fn neighbours_with_the_same_unit_given_by_name_are_the_same() {
    let same = clear_gains(&in_company(Others::Same, 0));
    let named = clear_gains(&in_company(given(vec![piston("wide", 22.0)]), 0));
    assert!((same[0] - named[0]).abs() < 1e-9, "{same:?} {named:?}");
    assert!(named[1] != same[1]);
}

/// Of several that neighbours may have the settings hold beside each.
#[test]
fn settings_hold_beside_any_of_the_units_that_are_named() {
    let kinds = || [piston("a", 22.0), piston("b", 9.0), piston("c", 14.0)];
    let all = clear_gains(&in_company(given(kinds().to_vec()), 0));
    let each: Vec<Vec<f64>> = kinds().into_iter().map(|kind| clear_gains(&in_company(given(vec![kind]), 0))).collect();
    for (option, gain) in all.iter().enumerate() {
        let least = each.iter().map(|gains| gains[option]).fold(f64::INFINITY, f64::min);
        assert!((gain - least).abs() < 1e-9, "{option}: {gain} against {least}");
    }
}

#[test]
fn unknown_neighbours_are_drawn_and_named_among_the_unknowns() {
    let input = in_company(Others::Unknown, 128);
    let (answer, again) = (advise(&input), advise(&input));
    assert_eq!(answer, again);
    assert!(answer.unknowns.iter().any(|unknown| unknown.kind == UnknownKind::Neighbours));
    let alone = RunInput { shelter: None, ..input.clone() };
    for sensor in 0..2 {
        let value = |answer: &Recommendation| answer.worths.expected[sensor][0].value;
        assert!(value(&answer) <= value(&advise(&alone)) + 1e-9);
    }
}

/// Whoever knows nothing of the others may sit beside units like his own: nothing that is printed for him allows more than that.
#[test]
fn unknown_neighbours_allow_no_more_than_units_like_ones_own() {
    let unknown = clear_gains(&in_company(Others::Unknown, 0));
    let same = clear_gains(&in_company(Others::Same, 0));
    assert!(unknown.iter().zip(&same).all(|(unknown, same)| unknown <= same), "{unknown:?} against {same:?}");
    let mut louder = in_company(Others::Unknown, 0);
    for option in louder.sensors.iter_mut().flat_map(|sensor| &mut sensor.options) {
        if let Source::Stated(level) = &mut option.source {
            level.value = SourceLevel::new(level.value.get() + 12.0);
        }
    }
    let louder_same = clear_gains(&RunInput { others: Others::Same, ..louder.clone() });
    for (unknown, same) in clear_gains(&louder).iter().zip(louder_same) {
        assert!(*unknown <= same, "{unknown} against {same}");
    }
}

/// A class of units spans a band: at another frequency of it they are heard less, at one's own as they are.
#[test]
fn neighbours_of_a_class_are_heard_where_the_options_of_the_run_ping() {
    let at = |khz: f64| {
        let mut input = in_company(Others::Unknown, 0);
        // A second sensor whose option makes another class of width usual, at a frequency of its own.
        input.sensors[1].options[0].frequency = Fact::stated(Hertz::from_khz(khz));
        let usual = clear_gains(&input)[0];
        let alone = RunInput { options: vec![input.options[0]], sensors: vec![input.sensors[0].clone()], ..input };
        (usual, clear_gains(&alone)[0])
    };
    let own = in_company(Others::Unknown, 0).sensors[0].options[0].frequency.value.to_khz();
    let (near, far) = (at(own), at(own + 90.0));
    assert!((near.1 - far.1).abs() < 1e-9, "{near:?} {far:?}");
    // The narrow class is heard less than the wide one at any frequency, and far off it adds nothing at all.
    assert!(near.0 <= near.1 + 1e-9 && (far.0 - far.1).abs() < 1e-9, "{near:?} {far:?}");
}

/// Gain and hole belong together: both are of the neighbours who show most, whoever is named first.
#[test]
fn the_hole_that_is_judged_is_that_of_the_neighbours_who_show_most() {
    let at = |x: f64, y: f64| Point { x: Metres::new(x), y: Metres::new(y) };
    let pair = [at(0.5, 0.5), at(1.21, 0.5)];
    let group = [at(4.0, 1.0), at(4.9, 1.0), at(4.0, 1.9), at(4.9, 1.9), at(4.4, 2.6)];
    let holes = [pair.as_slice(), group.as_slice()].concat();
    let judged = |sensors: Vec<domain::Sensor>| {
        let mut input = run(vec![spot("hut", 3.0, BottomClass::Gravel)], vec![piston("own", 14.0)]);
        input.shelter = Some(Shelter { holes: HolePlan::Drilled(holes.clone()), ..shelter(6.0, 3.0, 7) });
        input.others = given(sensors);
        let hole = Prepared::new(&input, &Cancel::never()).unwrap().worst_hole(0, 0).unwrap();
        (hole, clear_gains(&input)[0])
    };
    let (narrow, wide) = (piston("narrow", 5.0), piston("wide", 45.0));
    let (quiet, loud) = (judged(vec![narrow.clone()]), judged(vec![wide.clone()]));
    assert!(quiet.0 != loud.0 && quiet.1 > loud.1, "{quiet:?} {loud:?}");
    assert_eq!(judged(vec![narrow.clone(), wide.clone()]), loud);
    assert_eq!(judged(vec![wide, narrow]), loud);
}

/// Where nobody says what the watts of a leaflet mean and at which level its angle is, both are drawn, and named among what could be found out; what is
/// known draws nothing, and the recorded figures stay.
#[test]
fn what_a_leaflet_means_is_drawn_where_nobody_says() {
    let leaflet = |power: Option<PowerKind>, width_level_known: bool| {
        let mut sensor = piston("leaflet", 26.0);
        let option = &mut sensor.options[0];
        option.width_level_known = width_level_known;
        option.source =
            Source::Power { electrical: Fact::stated(Watts::new(40.0)), kind: power, efficiency: Fact::stated(0.5) };
        let mut input = run(vec![spot("edge", 9.0, BottomClass::Silt)], vec![sensor, piston("stated", 26.0)]);
        input.settings.draws = 256;
        advise(&input)
    };
    let known = leaflet(Some(PowerKind::Rms), true);
    let kinds = |answer: &Recommendation| answer.unknowns.iter().map(|unknown| unknown.kind).collect::<Vec<_>>();
    assert!(!kinds(&known).contains(&UnknownKind::PowerKind) && !kinds(&known).contains(&UnknownKind::WidthLevel));
    assert_eq!(
        known.worths.draws.iter().map(|draw| draw[0]).collect::<Vec<_>>(),
        known.worths.draws.iter().map(|draw| draw[1]).collect::<Vec<_>>()
    );
    let unsaid = leaflet(None, false);
    assert!(kinds(&unsaid).contains(&UnknownKind::PowerKind) && kinds(&unsaid).contains(&UnknownKind::WidthLevel));
    assert_eq!(unsaid.worths.nominal, known.worths.nominal);
    let column = |answer: &Recommendation, kind| {
        let at = answer.unknowns.iter().position(|unknown| unknown.kind == kind).unwrap();
        answer.worths.unknowns[at].clone()
    };
    let (levels, powers) = (column(&unsaid, UnknownKind::WidthLevel), column(&unsaid, UnknownKind::PowerKind));
    let (mut narrower, mut moved) = (0, 0);
    for (draw, level) in levels.iter().enumerate() {
        let [leaflet, stated] = [0, 1].map(|sensor| unsaid.worths.draws[draw][sensor]);
        assert_eq!(stated, known.worths.draws[draw][1]);
        // A draw in which the leaflet means what the other says is one in which they are the same.
        assert!(leaflet == stated || *level != -3.0 || powers[draw] != 0.0, "draw {draw}");
        narrower += u32::from(*level != -3.0);
        moved += u32::from(*level != -3.0 && leaflet.value != stated.value);
    }
    assert!(narrower > 60 && moved * 10 > narrower * 9, "{moved} of {narrower}");
    let share = |of: f64| powers.iter().filter(|shift| (**shift - of).abs() < 0.1).count() as f64 / 256.0;
    assert!((share(-9.03) - 0.35).abs() < 0.1 && (share(0.0) - 0.5).abs() < 0.1);
}

/// A place whose row says *not here* has a reason, and does not count as one where the sensor works.
#[test]
fn a_place_at_which_neighbours_show_first_has_a_reason() {
    let spots = [3.0, 5.0, 7.0, 9.0, 11.0, 13.0].map(|depth| spot(&format!("edge-{depth}"), depth, BottomClass::Silt));
    let mut input = run(spots.to_vec(), vec![piston("wide", 24.0)]);
    input.shelter = Some(shelter(2.4, 2.4, 3));
    let answer = advise(&input);
    let mut not_here = 0;
    for place in &answer.places {
        let refused = setting(&input.sensors[0], &place.finding.gains).highest == Highest::NotHere;
        assert!(!refused || !place.hindrances.is_empty(), "{:?}", place.place);
        let worth = answer.worths.nominal[0][place.place.0];
        assert!(!refused || !worth.works, "{:?}", place.place);
        not_here += u32::from(refused);
    }
    assert_eq!(answer.places.len(), 6);
    assert!(not_here > 0);
}

/// Where no setting holds beside every neighbour that there may be but the sensor works beside most, the row is for these and says beside how many.
#[test]
fn a_place_where_most_neighbours_leave_room_says_beside_how_many() {
    let spots = [3.0, 5.0, 7.0, 9.0, 11.0, 13.0].map(|depth| spot(&format!("edge-{depth}"), depth, BottomClass::Silt));
    let sensors = [120.0, 210.0, 290.0, 390.0].map(|khz| {
        let mut sensor = piston(&format!("at-{khz}"), 24.0);
        sensor.options[0].frequency = Fact::stated(Hertz::from_khz(khz));
        sensor
    });
    let mut input = run(spots.to_vec(), sensors.to_vec());
    input.shelter = Some(shelter(2.4, 2.4, 3));
    input.others = Others::Unknown;
    input.settings.draws = 256;
    let answer = advise(&input);
    let sensor = answer.decision.advice.sensor().unwrap();
    let mut counted = 0;
    for place in &answer.places {
        let worth = answer.worths.expected[sensor.0][place.place.0];
        if let Beside::Share(share) = place.beside {
            let owner = &input.sensors[input.options[place.finding.option].sensor];
            assert!(place.hindrances.is_empty() && (0.5..1.0 + 1e-9).contains(&share), "{share}");
            assert!(setting(owner, &place.finding.gains).highest != Highest::NotHere && worth.likely_works());
            assert!(!answer.worths.nominal[sensor.0][place.place.0].works);
            counted += 1;
        }
        // Draws and row agree wherever the draws say that it works because of whom one may meet.
        assert!(place.hindrances.is_empty() || !worth.likely_works(), "{:?} {worth:?}", place.hindrances);
    }
    assert!(counted > 0);
}
