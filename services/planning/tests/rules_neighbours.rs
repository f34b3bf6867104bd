//! Rules hold for every party that they permit, and with other shelters around: what they print is recomputed hole by hole from the physics alone, by direct
//! integration over the bottom.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "tests")]

mod common;

use std::sync::Arc;

use acoustics::bottom::BistaticScatter;
use acoustics::ice::{USUAL_THICKNESS, sheet_loss};
use acoustics::interference::{
    Confirmer, HungBeam, JitterShape, Link, Pair, Received, Timing, band_loss, direct_level,
};
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{Db, DbPerMetre, Hertz, Level, Metres, Seconds, SourceLevel};
use acoustics::water::WaterColumn;
use domain::selection::OptionRef;
use domain::setting::{Highest, Start};
use domain::{BottomClass, Cancel, Confirmation, Fact, Floor, PatternKind, Point, Sensor, Shelter, Source, TargetKind};
use planning::generic::GenericUnit;
use planning::rules::{DepthBand, Help, RuleBook, RulesInput, RulesSettings, Sheet, derive};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const TOLERANCE: f64 = 0.02;
/// The margin that this project asks for between rules and direct integration.
const MARGIN: f64 = 0.5;
const BOTTOM: BottomClass = BottomClass::FineSand;

fn sensor(name: &str, degrees: f64, khz: f64) -> Sensor {
    let mut sensor = common::piston(name, degrees);
    sensor.options[0].frequency.value = Hertz::from_khz(khz);
    sensor
}

/// Six kinds, two of which confirm their marks, each with an interval that is no other's.
fn kinds() -> Vec<Sensor> {
    let mut kinds = vec![
        sensor("a", 8.0, 200.0),
        sensor("b", 10.0, 200.0),
        sensor("c", 12.0, 201.0),
        sensor("d", 9.0, 120.0),
        sensor("e", 11.0, 199.0),
        sensor("f", 19.0, 200.0),
    ];
    for (kind, interval) in kinds.iter_mut().zip([0.1, 0.08, 0.12, 0.11, 0.09, 0.1]) {
        kind.ping_interval.value = Seconds::new(interval);
    }
    for kind in [1, 4] {
        kinds[kind].confirmation = Confirmation { marks: 2, pings: 3 };
        kinds[kind].ping_jitter.value = 0.05;
    }
    kinds
}

fn input(shelter: Shelter, sensors: Vec<Sensor>, band: (f64, f64), next: Option<f64>) -> RulesInput {
    RulesInput {
        shelters: vec![shelter],
        options: (0..sensors.len()).map(|sensor| OptionRef { sensor, option: 0 }).collect(),
        unlisted: Vec::new(),
        sensors,
        bands: vec![DepthBand { shallow: Metres::new(band.0), deep: Metres::new(band.1) }],
        bottoms: vec![BOTTOM],
        lure: common::target("lure", TargetKind::Lure, -50.0),
        settings: RulesSettings { next_shelter: next.map(Metres::new), ..RulesSettings::default() },
    }
}

fn derived(input: &RulesInput) -> Sheet {
    let RuleBook { mut sheets } = derive(input, &Cancel::never()).unwrap();
    sheets.remove(0)
}

fn pattern(sensor: &Sensor) -> Pattern {
    let option = &sensor.options[0];
    let PatternKind::CircularPiston { beamwidth } = &option.pattern else { panic!("a piston") };
    Pattern::new(&Aperture::CircularPiston { beamwidth: beamwidth.value }, option.floor.value).unwrap()
}

/// The fraction of cells with interference marks on a unit among others, each at a distance.
fn drawn(own: &Sensor, others: &[(&Sensor, f64)], depth_m: f64, gain_db: f64) -> f64 {
    let depth = Metres::new(depth_m);
    let spot = common::spot("a", depth_m, BOTTOM);
    let column = WaterColumn::under_ice(depth, spot.bottom_temperature);
    let speed = column.mean_sound_speed().unwrap();
    let medium =
        10.0 * libm::log10(column.mean_density().unwrap().get() * speed.get() / (4.0 * std::f64::consts::PI)) + 120.0;
    let listener = HungBeam::upright(Arc::new(pattern(own)));
    let timing = |sensor: &Sensor| Timing { interval: sensor.ping_interval.value, jitter: sensor.ping_jitter.value };
    let mut received = Received::new();
    for (other, distance) in others {
        let option = &other.options[0];
        let (frequency, shape) = (option.frequency.value, pattern(other));
        let Source::Power { electrical, efficiency, .. } = option.source else { panic!("by power") };
        let watts = electrical.value.get() * efficiency.value;
        let source = SourceLevel::new(medium + 10.0 * libm::log10(watts) + shape.directivity_index().get());
        let talker = HungBeam::upright(Arc::new(shape));
        let pair = Pair::level(talker.clone(), listener.clone(), BistaticScatter::new(BOTTOM, frequency).unwrap());
        let absorption = DbPerMetre::new(column.absorption(frequency).unwrap().get());
        let confirmation = (own.confirmation.marks, own.confirmation.pings);
        let confirmer = Arc::new(Confirmer::new(timing(own), timing(other), confirmation, JitterShape::Uniform));
        let spacing = Metres::new(*distance);
        let receiver = (own.options[0].frequency.value, own.options[0].receiver_bandwidth.value);
        let ice = sheet_loss(USUAL_THICKNESS, frequency, option.receiver_bandwidth.value).unwrap();
        received.add(&Link {
            scatter: &pair,
            bottom_shift: Db::new(0.0),
            spacing,
            depth,
            speed,
            absorption,
            source,
            pulse: option.pulse_length.value,
            confirmer: &confirmer,
            band_loss: band_loss(frequency, option.pulse_length.value, None, receiver.0, receiver.1),
            direct: Some(direct_level(source, &talker, &listener, spacing, absorption)),
            bounce_loss: ice + BOTTOM.reflection_loss(),
        });
    }
    received.drawn_fraction(Level::new(own.threshold.value.get() - gain_db))
}

fn apart(a: Point, b: [f64; 2]) -> f64 {
    libm::hypot(a.x.get() - b[0], a.y.get() - b[1])
}

/// A party of allowed options of which each two may be mixed: one a hole.
fn party(sheet: &Sheet, rng: &mut ChaCha8Rng) -> Vec<usize> {
    let band = &sheet.bands[0];
    let mixed =
        |a: usize, b: usize| a == b || band.mixes.iter().any(|mix| (mix.first, mix.second) == (a.min(b), a.max(b)));
    let allowed: Vec<usize> = band.rules.iter().filter(|rule| rule.refusal.is_none()).map(|rule| rule.option).collect();
    // Of few kinds or of many: one after another, each that may stand with those before.
    let mut kinds = vec![allowed[rng.random_range(0..allowed.len())]];
    for _ in 0..rng.random_range(0..6) {
        let next = allowed[rng.random_range(0..allowed.len())];
        if kinds.iter().all(|known| mixed(*known, next)) {
            kinds.push(next);
        }
    }
    sheet.holes.iter().map(|_| kinds[rng.random_range(0..kinds.len())]).collect()
}

/// The worst fraction in a party, over its holes and some depths, with others outside of the shelter, each unit at what `gain` says of its rule.
fn worst(
    input: &RulesInput,
    sheet: &Sheet,
    (party, outside): (&[usize], &[(usize, [f64; 2])]),
    gain: impl Fn(&planning::rules::Rule) -> f64,
) -> f64 {
    let mut worst: f64 = 0.0;
    for (hole, option) in party.iter().enumerate() {
        let at = sheet.holes[hole];
        let inside = (0..party.len()).filter(|other| *other != hole).map(|other| {
            let place = sheet.holes[other];
            (&input.sensors[party[other]], apart(at, [place.x.get(), place.y.get()]))
        });
        let beyond = outside.iter().map(|(kind, place)| (&input.sensors[*kind], apart(at, *place)));
        let others: Vec<(&Sensor, f64)> = inside.chain(beyond).collect();
        let (shallow, deep) = (input.bands[0].shallow.get(), input.bands[0].deep.get());
        for step in 0..4_u32 {
            let depth = shallow * libm::pow(deep / shallow, f64::from(step) / 3.0);
            let fraction = drawn(&input.sensors[*option], &others, depth, gain(&sheet.bands[0].rules[*option]));
            worst = worst.max(fraction);
        }
    }
    worst
}

#[test]
fn printed_gains_hold_in_every_party_that_may_be_mixed() {
    let given = input(common::shelter(4.6, 3.4, 4), kinds(), (4.0, 6.0), None);
    let sheet = derived(&given);
    let (rules, mixes) = (&sheet.bands[0].rules, &sheet.bands[0].mixes);
    assert!(rules.iter().any(|rule| rule.highest_gain < rule.alike_highest_gain));
    let mut rng = ChaCha8Rng::seed_from_u64(16);
    let (mut of_three, mut past) = (0, 0);
    for _ in 0..40 {
        let party = party(&sheet, &mut rng);
        let mut kinds = party.clone();
        kinds.sort_unstable();
        kinds.dedup();
        of_three += u32::from(kinds.len() > 2);
        let fraction = worst(&given, &sheet, (&party, &[]), |rule| rule.highest_gain.get() - MARGIN);
        assert!(fraction <= TOLERANCE, "{party:?}: {fraction}");
        // What holds among units of one kind does not hold in parties.
        let alike = worst(&given, &sheet, (&party, &[]), |rule| rule.alike_highest_gain.get());
        past += u32::from(alike > TOLERANCE);
    }
    assert!(of_three > 5 && past > 0, "{of_three} of three kinds, {past} past tolerance; {mixes:?}");
}

#[test]
fn printed_gains_hold_with_other_shelters_around_whatever_is_in_them() {
    let next = 4.0;
    let given = input(common::shelter(4.6, 3.4, 2), kinds(), (4.0, 6.0), Some(next));
    let sheet = derived(&given);
    let alone = derived(&input(common::shelter(4.6, 3.4, 2), kinds(), (4.0, 6.0), None));
    let pairs = sheet.bands[0].rules.iter().zip(&alone.bands[0].rules);
    assert!(pairs.clone().any(|(near, alone)| near.refusal.is_none() && near.highest_gain < alone.highest_gain));
    let mut rng = ChaCha8Rng::seed_from_u64(17);
    let mut past = 0;
    for _ in 0..12 {
        let party = party(&sheet, &mut rng);
        // Eight others, each turned round or not, and each with units of any kinds, permitted or not.
        let mut outside = Vec::new();
        for (a, b) in [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)] {
            let turned = rng.random_range(0..2) == 1;
            let kind = rng.random_range(0..given.sensors.len());
            for hole in &sheet.holes {
                let (x, y) = (hole.x.get(), hole.y.get());
                let (x, y) = if turned { (4.6 - x, 3.4 - y) } else { (x, y) };
                outside.push((kind, [f64::from(a) * (4.6 + next) + x, f64::from(b) * (3.4 + next) + y]));
            }
        }
        let fraction = worst(&given, &sheet, (&party, &outside), |rule| rule.highest_gain.get() - MARGIN);
        assert!(fraction <= TOLERANCE, "{party:?}: {fraction}");
        let by_alone =
            worst(&given, &sheet, (&party, &outside), |rule| alone.bands[0].rules[rule.option].highest_gain.get());
        past += u32::from(by_alone > TOLERANCE);
    }
    assert!(past > 6, "the rules of a shelter that stands alone were enough in all but {past}");
}

#[test]
fn other_shelters_never_allow_more_and_from_the_stated_distance_on_they_change_nothing() {
    let round = Shelter { floor: Floor::Circle { diameter: Metres::new(3.4) }, ..common::shelter(3.0, 3.0, 3) };
    let few = || kinds().into_iter().take(3).collect::<Vec<_>>();
    let (mut changed, mut stated) = (0, 0);
    for (shelter, band) in
        [(common::shelter(4.6, 3.4, 4), (4.0, 6.0)), (round, (3.0, 4.0)), (common::shelter(2.0, 2.0, 1), (6.0, 9.0))]
    {
        let alone = derived(&input(shelter.clone(), few(), band, None));
        let rules = &alone.bands[0];
        let beyond = rules.holds_beyond.map(Metres::get);
        stated += u32::from(beyond.is_some_and(|beyond| beyond > 0.0));
        let mut distances = vec![0.0, 2.0, 6.3, 12.0];
        distances.extend(beyond.into_iter().flat_map(|at| [at, at + 0.37, 1.3 * at + 0.2]));
        for next in distances {
            let near = derived(&input(shelter.clone(), few(), band, Some(next)));
            assert_eq!(near.bands[0].holds_beyond, rules.holds_beyond);
            for (near, alone) in near.bands[0].rules.iter().zip(&rules.rules) {
                assert!(near.highest_gain <= alone.highest_gain, "{next} m: {near:?} {alone:?}");
                assert!(near.alike_highest_gain <= alone.alike_highest_gain, "{next} m");
                assert!(near.refusal.is_some() || alone.refusal.is_none(), "{next} m: {near:?}");
                changed += u32::from(near.highest_gain < alone.highest_gain);
            }
            let more = |mix: &_| !rules.mixes.contains(mix);
            assert!(!near.bands[0].mixes.iter().any(more), "{next} m");
            if beyond.is_some_and(|beyond| next >= beyond) {
                assert_eq!(near.bands[0], *rules, "{next} m of {beyond:?}");
            }
        }
        if let Some(at) = beyond.filter(|at| *at > 0.5) {
            // Half a metre nearer, the distance asked about before it: something changes there, or at the latest a little nearer.
            let nearer = [0.5, 1.0, 1.5, 2.0].into_iter().filter(|by| *by <= at);
            let changes = |by| derived(&input(shelter.clone(), few(), band, Some(at - by))).bands[0] != *rules;
            assert!(nearer.into_iter().any(changes), "{at} m");
        }
    }
    assert!(changed > 10 && stated > 0, "{changed} {stated}");
}

#[test]
fn where_a_next_shelter_forbids_everything_more_room_is_the_help() {
    let of = |next| derived(&input(common::shelter(4.6, 3.4, 4), kinds(), (4.0, 6.0), next));
    let (alone, near) = (of(None), of(Some(0.0)));
    assert!(alone.bands[0].rules.iter().any(|rule| rule.refusal.is_none()) && alone.bands[0].help.is_none());
    assert!(near.bands[0].rules.iter().all(|rule| rule.refusal.is_some()), "{:?}", near.bands[0].rules);
    assert!(near.bands[0].mixes.is_empty());
    assert_eq!(near.bands[0].help, Some(Help::FartherShelters { clear: alone.bands[0].holds_beyond }));
}

#[test]
fn a_position_is_named_only_where_the_threshold_is_known() {
    let mut guessed = sensor("guessed", 9.0, 200.0);
    guessed.threshold = Fact::assumed(guessed.threshold.value);
    let given = input(common::shelter(4.6, 3.4, 2), vec![sensor("known", 9.0, 200.0), guessed], (4.0, 6.0), None);
    let sheet = derived(&given);
    let [known, guessed] = &sheet.bands[0].rules[..] else { panic!("two rules") };
    assert_eq!(known.highest_gain, guessed.highest_gain, "the same unit in all that sounds");
    let setting = known.setting.as_ref().unwrap();
    assert!(matches!((&setting.start, &setting.highest), (Start::At(_), Highest::At(_))), "{setting:?}");
    assert!(known.start_dial.is_some() && known.highest_dial.is_some());
    assert_eq!((&guessed.start_dial, &guessed.highest_dial, &guessed.alike_highest_dial), (&None, &None, &None));
    let setting = guessed.setting.as_ref().unwrap();
    let (Start::FirstShowing { .. }, Highest::PastFirstShowing(room)) = (&setting.start, &setting.highest) else {
        panic!("{setting:?}")
    };
    // The lure first shows at most a margin under the start, and somewhere in the band right there.
    let most = (guessed.highest_gain - guessed.start_gain).get() + 3.0;
    assert!(room.gain.get() <= most + 1e-9 && room.gain.get() >= 0.0, "{room:?} {most}");
}

#[test]
fn units_that_are_not_listed_have_rules_by_class_and_count_as_louder_than_they_are_taken_for() {
    let mut given = input(common::shelter(4.6, 3.4, 3), vec![sensor("a", 8.0, 200.0)], (4.0, 6.0), None);
    let listed = derived(&given);
    given.unlisted = GenericUnit::ALL.to_vec();
    let sheet = derived(&given);
    let rules = &sheet.bands[0].rules;
    assert_eq!(rules.len(), 10);
    assert_eq!(rules[0].alike_highest_gain, listed.bands[0].rules[0].alike_highest_gain);
    assert!(rules[0].highest_gain <= listed.bands[0].rules[0].highest_gain);
    let narrow = GenericUnit::of(acoustics::units::FullAngle::from_degrees(8.0), Hertz::from_khz(200.0));
    let place = 1 + GenericUnit::ALL.iter().position(|class| *class == narrow).unwrap();
    // The same unit as a listed one, whose figures hold.
    let stated = input(common::shelter(4.6, 3.4, 3), vec![narrow.unit(common::id("as-stated"))], (4.0, 6.0), None);
    let stated = derived(&stated);
    let (unlisted, stated) = (&rules[place], &stated.bands[0].rules[0]);
    assert_eq!(unlisted.start_gain, stated.start_gain);
    let lower = (stated.alike_highest_gain - unlisted.alike_highest_gain).get();
    assert!((lower - 6.0).abs() < 0.05, "{lower}");
    for rule in &rules[1..] {
        assert!(rule.start_dial.is_none() && rule.highest_dial.is_none());
        if let Some(setting) = &rule.setting {
            assert!(matches!(&setting.start, Start::FirstShowing { more } if more.gain.get() == 0.0), "{setting:?}");
        }
    }
    assert!(rules[1..].iter().any(|rule| rule.refusal.is_some()));
}
