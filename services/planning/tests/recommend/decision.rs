//! The decision on tables, without acoustics.

use planning::recommend::{
    Advice, CandidateIndex, Cost, Firmness, PlaceIndex, Total, Whereabouts, Worth, Worths, decide,
};
use proptest::prelude::*;

use crate::brute::brute;

const UNIT: i128 = 1_000_000_000;

fn cost() -> impl Strategy<Value = Cost> {
    prop_oneof![
        6 => (1_i128..8).prop_map(|p| Cost::Price(p * 50 * UNIT)),
        1 => Just(Cost::Unpriced),
        1 => Just(Cost::Owned),
    ]
}

/// Values on a grid of hundredths, so that the margins of 0.02 and 0.05 are met exactly as well as nearly.
fn value() -> impl Strategy<Value = f64> {
    (40_i32..62).prop_map(|v| f64::from(v) / 100.0 + 0.001)
}

fn worths() -> impl Strategy<Value = Worths> {
    (2_usize..6, 1_usize..4, 1_usize..24).prop_flat_map(|(candidates, places, draws)| {
        let worth = (value(), 0_u32..5).prop_map(|(value, works)| Total { works: f64::from(works) / 4.0, value });
        let total = (0_u32..3, value()).prop_map(|(r, value)| Total { works: f64::from(r) / 2.0, value });
        (
            prop::collection::vec(cost(), candidates),
            prop::collection::vec(1_u32..5, places),
            prop::collection::vec(prop::collection::vec(worth, places), candidates),
            prop::collection::vec(prop::collection::vec(total, candidates), draws),
            prop::option::of(1_i128..12),
        )
            .prop_map(|(costs, weights, expected, draws, budget)| {
                let sum: u32 = weights.iter().sum();
                Worths {
                    costs,
                    weights: weights.into_iter().map(|w| f64::from(w) / f64::from(sum)).collect(),
                    nominal: Vec::new(),
                    expected,
                    draws,
                    unknowns: Vec::new(),
                    budget: budget.map(|b| b * 50 * UNIT),
                }
            })
    })
}

fn firmness(firmness: Option<&Firmness>) -> String {
    match firmness {
        None => String::new(),
        Some(Firmness::Firm) => "firm".to_owned(),
        Some(Firmness::Likely) => "likely".to_owned(),
        Some(Firmness::TossUp { among, .. }) => format!("one of {}", among.len()),
        Some(Firmness::TooLittleKnown) => "too little".to_owned(),
    }
}

fn advice(advice: Advice) -> String {
    match advice {
        Advice::Take(sensor) => format!("take {}", sensor.0),
        Advice::Keep { owned, .. } => format!("keep {}", owned.0),
        Advice::WorksNowhere => "nowhere".to_owned(),
        Advice::NothingAffordable { .. } => "nothing".to_owned(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4_000))]
    #[test]
    fn agrees_with_plain_loops_over_everything(worths in worths()) {
        let (decision, expected) = (decide(&worths), brute(&worths));
        let totals: Vec<_> = decision.totals.iter().map(|t| (t.works, t.value)).collect();
        prop_assert_eq!(totals, expected.totals);
        prop_assert_eq!(advice(decision.advice), expected.advice);
        prop_assert_eq!(decision.probability, expected.probability);
        prop_assert_eq!(decision.efficient, expected.efficient);
        prop_assert_eq!(firmness(decision.firmness.as_ref()), expected.firmness);
        prop_assert_eq!(decision.pair.map(|p| (p.both[0].0, p.both[1].0)), expected.pair);
        prop_assert_eq!(decision.within_five.map(|c| c.0), expected.within_five);
    }

    /// The order in which sensors are given decides nothing but ties.
    #[test]
    fn another_order_of_sensors_changes_no_worth(worths in worths()) {
        let mut turned = worths.clone();
        turned.costs.reverse();
        turned.expected.reverse();
        for draw in &mut turned.draws {
            draw.reverse();
        }
        let (a, b) = (decide(&worths), decide(&turned));
        let last = worths.costs.len() - 1;
        let alike = |i: usize, j: usize| a.totals[i] == a.totals[j] && worths.costs[i] == worths.costs[j];
        prop_assume!((0..=last).all(|i| (0..i).all(|j| !alike(i, j))));
        let mut probability = b.probability;
        probability.reverse();
        prop_assert_eq!(&a.probability, &probability);
        if let (Advice::Take(x), Advice::Take(y)) = (a.advice, b.advice) {
            prop_assert_eq!(x.0, last - y.0);
        }
    }
}

/// A table of one place where nothing varies.
fn table(rows: &[(i128, f64)]) -> Worths {
    Worths {
        costs: rows.iter().map(|(price, _)| Cost::Price(price * UNIT)).collect(),
        weights: vec![1.0],
        nominal: Vec::new(),
        expected: rows.iter().map(|(_, value)| vec![Total { value: *value, works: 1.0 }]).collect(),
        draws: Vec::new(),
        unknowns: Vec::new(),
        budget: None,
    }
}

#[test]
fn the_cheapest_as_good_as_the_best_is_taken_and_more_money_is_priced() {
    let mut worths = table(&[(129, 0.58), (249, 0.69), (449, 0.72), (279, 0.66)]);
    worths.budget = Some(300 * UNIT);
    let decision = decide(&worths);
    assert_eq!(decision.advice, Advice::Take(CandidateIndex(1)));
    assert_eq!(decision.efficient, [true, true, true, false]);
    let (cheaper, dearer) = (decision.cheaper.unwrap(), decision.dearer.unwrap());
    assert_eq!((cheaper.candidate.0, cheaper.price / UNIT), (0, -120));
    assert!((cheaper.value + 0.11).abs() < 1e-12);
    assert_eq!((dearer.candidate.0, dearer.price / UNIT, dearer.at), (2, 200, Whereabouts::All(PlaceIndex(0))));
    assert_eq!(decision.within_five, None);
}

#[test]
fn three_options_of_one_sensor_never_make_it_its_own_rival() {
    // Sensors are candidates, not options: the table has one row a sensor whatever switches it has.
    let decision = decide(&table(&[(100, 0.6), (200, 0.6)]));
    assert_eq!(decision.order, [CandidateIndex(0), CandidateIndex(1)]);
    assert!(decision.pair.is_none());
}

#[test]
fn a_difference_is_traced_to_its_place() {
    let mut worths = table(&[(100, 0.5), (200, 0.5)]);
    worths.weights = vec![0.25, 0.25, 0.5];
    let row = |v: [f64; 3]| v.map(|value| Total { value, works: 1.0 }).to_vec();
    for (values, at) in [
        ([0.5, 0.9, 0.5], Whereabouts::All(PlaceIndex(1))),
        ([0.6, 0.9, 0.5], Whereabouts::Mostly(PlaceIndex(1))),
        ([0.8, 0.8, 0.8], Whereabouts::Spread),
    ] {
        worths.expected = vec![row([0.5; 3]), row(values)];
        let decision = decide(&worths);
        let cheaper = decision.cheaper.unwrap();
        assert_eq!((cheaper.candidate.0, cheaper.at), (0, at), "{values:?}");
    }
}

/// Two sensors of which the recorded figures let only the dearer one work, and most draws only the cheaper one, and the other way round.
#[test]
fn what_most_draws_say_is_recommended_whatever_the_recorded_figures_say() {
    for cheap in [true, false] {
        let mut worths = table(&[(100, 0.6), (200, 0.6)]);
        let favoured = usize::from(!cheap);
        let draw =
            |right: usize| (0..2).map(|c| Total { works: f64::from(u8::from(c == right)), value: 0.6 }).collect();
        worths.draws = (0..100).map(|n| draw(if n < 73 { favoured } else { 1 - favoured })).collect();
        worths.expected =
            (0..2).map(|c| vec![Total { works: if c == favoured { 0.73 } else { 0.27 }, value: 0.6 }]).collect();
        worths.nominal = (0..2).map(|c| vec![Worth { value: 0.6, works: c != favoured }]).collect();
        let decision = decide(&worths);
        assert_eq!(decision.advice, Advice::Take(CandidateIndex(favoured)));
        assert_eq!(decision.right, Some(0.73));
    }
}

/// Of two that are about as good the cheaper one is taken, though the other is right a little more often.
#[test]
fn of_two_that_are_as_good_the_cheaper_is_recommended() {
    let mut worths = table(&[(100, 0.6), (200, 0.62)]);
    let both = |a: f64, b: f64| [a, b].map(|value| Total { works: 1.0, value }).to_vec();
    worths.draws = (0..100).map(|n| if n < 4 { both(0.5, 0.6) } else { both(0.6, 0.61) }).collect();
    let decision = decide(&worths);
    assert_eq!((decision.advice, decision.right), (Advice::Take(CandidateIndex(0)), Some(0.96)));
}

/// What works at more places is taken before what is ahead in more draws by a little, and says how unsure that is.
#[test]
fn what_works_almost_always_comes_before_what_is_a_little_better_most_of_the_time() {
    let mut worths = table(&[(200, 0.70), (200, 0.64)]);
    let both = |works: f64| vec![Total { works, value: 0.70 }, Total { works: 1.0, value: 0.64 }];
    worths.draws = (0..100).map(|n| both(if n < 30 { 0.0 } else { 1.0 })).collect();
    worths.expected = vec![vec![Total { works: 0.7, value: 0.70 }], vec![Total { works: 1.0, value: 0.64 }]];
    let decision = decide(&worths);
    assert_eq!((decision.advice, decision.right), (Advice::Take(CandidateIndex(1)), Some(0.3)));
    assert_eq!(decision.order, [CandidateIndex(1), CandidateIndex(0)]);
}

proptest! {
    /// Of what can be had, nothing works at clearly more places than the sensor to buy, or at as many and is worth clearly more.
    #[test]
    fn nothing_that_can_be_had_is_better_in_what_is_printed(worths in worths()) {
        prop_assume!(!worths.costs.contains(&Cost::Owned));
        let decision = decide(&worths);
        let Advice::Take(taken) = decision.advice else { return Ok(()) };
        let here = decision.totals[taken.0];
        for (other, there) in decision.totals.iter().enumerate().filter(|(other, _)| decision.affordable[*other]) {
            let wider = there.works - here.works;
            prop_assert!(wider <= 0.05 + 1e-6 && (wider < 0.0 || there.value <= here.value + 0.02 + 1e-6), "{other} beats {}", taken.0);
        }
    }
}

/// The one unknown that the draws turn on is named, others are not.
#[test]
fn the_unknown_that_decides_is_named() {
    let mut worths = table(&[(100, 0.6), (100, 0.6)]);
    let draws = 256_u32;
    let mut bits = 1_u32;
    let mut noise = || {
        bits = bits.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(bits >> 8) / f64::from(1 << 24)
    };
    let bottom: Vec<f64> = (0..draws).map(|_| noise()).collect();
    worths.draws = bottom
        .iter()
        .map(|b| {
            let values = if *b < 0.5 { [0.7, 0.5] } else { [0.5, 0.7] };
            values.map(|value| Total { works: 1.0, value }).to_vec()
        })
        .collect();
    worths.unknowns = vec![(0..draws).map(|_| noise()).collect(), bottom, vec![0.0; 256]];
    let decision = decide(&worths);
    let settling = decision.settling.unwrap();
    assert_eq!(settling.unknown, 1);
    assert!(settling.gain > 0.35, "{settling:?}");
    assert!(matches!(decision.firmness, Some(Firmness::TossUp { .. } | Firmness::Likely)));
    worths.unknowns.remove(1);
    assert_eq!(decide(&worths).settling, None, "noise settles nothing");
}
