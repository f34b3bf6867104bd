//! Confirmation over pings against a simulation of the ping trains, and the laws that it keeps.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::indexing_slicing
)]

use std::sync::Arc;

use acoustics::bottom::{BistaticScatter, BottomClass};
use acoustics::interference::{Confirmer, HungBeam, JitterShape, Link, Pair, Received, ScatterTable, Timing};
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{
    Beamwidth, Db, DbPerMetre, FullAngle, Hertz, Level, Metres, MetresPerSecond, Seconds, SourceLevel, WidthLevel,
};
use proptest::prelude::*;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

const DEPTH: f64 = 6.0;
const SPEED: f64 = 1412.0;
const TOLERANCE: f64 = 0.02;

fn table(class: BottomClass) -> ScatterTable {
    let beamwidth = Beamwidth { full: FullAngle::from_degrees(14.0), at: WidthLevel::Minus3 };
    let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(-40.0)).unwrap();
    let beam = HungBeam::upright(Arc::new(pattern));
    ScatterTable::new(Pair::level(beam.clone(), beam, BistaticScatter::new(class, Hertz::from_khz(200.0)).unwrap()))
}

fn around(table: &ScatterTable, spacings: &[f64], confirmer: &Arc<Confirmer>) -> Received {
    let mut received = Received::new();
    for spacing in spacings {
        received.add(&Link {
            scatter: table,
            bottom_shift: Db::new(0.0),
            spacing: Metres::new(*spacing),
            depth: Metres::new(DEPTH),
            speed: MetresPerSecond::new(SPEED),
            absorption: DbPerMetre::new(0.016),
            source: SourceLevel::new(207.0),
            pulse: Seconds::from_micros(100.0),
            confirmer,
            band_loss: Db::new(0.0),
            direct: Some(Level::new(120.0)),
            bounce_loss: Db::new(16.0),
        });
    }
    received
}

/// One way in which a unit and its neighbours ping.
#[derive(Debug, Clone)]
struct Pinging {
    own: Timing,
    other: Timing,
    confirmation: (u32, u32),
    shape: JitterShape,
    spacings: Vec<f64>,
}

impl Pinging {
    fn received(&self, table: &ScatterTable) -> Received {
        let confirmer = Arc::new(Confirmer::new(self.own, self.other, self.confirmation, self.shape));
        around(table, &self.spacings, &confirmer)
    }

    fn interval(&self, timing: Timing, random: &mut ChaCha8Rng) -> f64 {
        let unit = match self.shape {
            JitterShape::Uniform => random.random_range(-1.0..=1.0),
            // Box and Muller.
            JitterShape::Normal => {
                let (u, v): (f64, f64) = (random.random_range(1e-12..1.0), random.random());
                (-2.0 * u.ln()).sqrt() * (2.0 * std::f64::consts::PI * v).cos()
            }
        };
        timing.interval.get() * (1.0 + timing.jitter * unit)
    }

    /// The drawn fraction at a level, by trains of pings: each neighbour pings on from a random moment, and each of its marks lies
    /// where its path puts it. One range cell is watched over the last n pings of the unit.
    fn simulated(&self, received: &Received, level: f64, trials: u32, seed: u64) -> f64 {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let marks: Vec<Vec<(f64, f64)>> = (0..self.spacings.len())
            .map(|neighbour| {
                let spacing = self.spacings[neighbour];
                // Image sources: once, twice and three times down to the bottom, and straight across.
                let down = |times: f64| (spacing * spacing + (2.0 * times * DEPTH).powi(2)).sqrt() / SPEED;
                let arrivals = [down(1.0), down(2.0), down(3.0), spacing / SPEED];
                let marks = received.marks(neighbour, Level::new(level));
                arrivals.into_iter().zip(marks).map(|(arrival, mark)| (arrival, mark.length)).collect()
            })
            .collect();
        let longest = marks.iter().flatten().map(|(from, length)| from + length).fold(0.0, f64::max);
        let (needed, pings) = self.confirmation;
        let mut drawn = 0;
        for _ in 0..trials {
            let mut looks = vec![0.0];
            for _ in 1..pings {
                let before = looks[looks.len() - 1];
                looks.push(before + self.interval(self.own, &mut random));
            }
            let mut shown = vec![false; pings as usize];
            for marks in &marks {
                let start = -longest - self.other.interval.get() * (1.5 + random.random::<f64>());
                let mut sent = start;
                while sent < looks[looks.len() - 1] {
                    for (look, shown) in looks.iter().zip(&mut shown) {
                        *shown |= marks.iter().any(|(from, length)| (*from..from + length).contains(&(look - sent)));
                    }
                    sent += self.interval(self.other, &mut random);
                }
            }
            drawn += u32::from(shown.iter().filter(|shown| **shown).count() >= needed as usize);
        }
        f64::from(drawn) / f64::from(trials)
    }
}

#[test]
fn clear_gain_agrees_with_simulated_ping_trains_to_a_decibel() {
    // Support: a Monte Carlo of the ping trains, which knows neither moments nor circles; only the lengths of the marks are shared.
    const TRIALS: u32 = 60_000;
    let tables = [BottomClass::Silt, BottomClass::FineSand, BottomClass::Rock].map(table);
    let mut cases = Vec::new();
    for (index, jitter) in [0.0, 0.000_5, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2].into_iter().enumerate() {
        for (place, ratio) in [1.0, 1.003, 1.02, 0.73, 1.9].into_iter().enumerate() {
            let seed = (10 * index + place) as u64;
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            let other_jitter = if random.random() { jitter } else { jitter * random.random::<f64>() };
            let other = Timing { interval: Seconds::new(0.1 * ratio), jitter: other_jitter };
            let spacings = (0..random.random_range(1..5)).map(|_| random.random_range(0.8..4.0)).collect();
            let confirmation = [(2, 3), (2, 3), (3, 5), (2, 2), (4, 7)][random.random_range(0..5)];
            let shape = if random.random() { JitterShape::Uniform } else { JitterShape::Normal };
            let own = Timing { interval: Seconds::new(0.1), jitter };
            cases.push((seed, Pinging { own, other, confirmation, shape, spacings }));
        }
    }
    let failures: Vec<String> = cases
        .par_iter()
        .filter_map(|(seed, pinging)| {
            let received = pinging.received(&tables[(*seed % 3) as usize]);
            let critical = received.critical_level(TOLERANCE).unwrap().get();
            let at = |level: f64| pinging.simulated(&received, level, TRIALS, *seed);
            // Three standard errors of the simulation.
            let error = 3.0 * (TOLERANCE * (1.0 - TOLERANCE) / f64::from(TRIALS)).sqrt();
            let (under, over) = (at(critical - 1.0), at(critical + 1.0));
            (under < TOLERANCE - error || over > TOLERANCE + error)
                .then(|| format!("{pinging:?}: {under:.4} and {over:.4} a decibel under and over {critical:.1} dB"))
        })
        .collect();
    assert!(failures.is_empty(), "{} of {}:\n{}", failures.len(), cases.len(), failures.join("\n"));
}

#[test]
fn clear_gain_has_no_jump_at_any_jitter() {
    let table = table(BottomClass::FineSand);
    let mut before: Option<f64> = None;
    let mut jitter = 1e-5;
    while jitter < 0.2 {
        let own = Timing { interval: Seconds::new(0.1), jitter };
        let spacings = vec![1.5, 1.5, 2.4];
        let pinging = Pinging { own, other: own, confirmation: (2, 3), shape: JitterShape::Uniform, spacings };
        let now = pinging.received(&table).critical_level(TOLERANCE).unwrap().get();
        if let Some(before) = before {
            assert!((now - before).abs() < 1.5, "{before} to {now} dB at a jitter of {jitter}");
            assert!(now <= before + 0.1, "more jitter draws more: {before} to {now} dB at {jitter}");
        }
        before = Some(now);
        jitter *= 1.05;
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn independent_pings_are_binomial(
        length in 0.0001..0.003_f64,
        (marks, pings) in (1u32..5).prop_flat_map(|m| (Just(m), m..7)),
        (own, other, jitter) in prop_oneof![Just((0.1, 0.1, 1.0)), Just((0.1, 0.1, 3.0)), Just((2.0, 0.02, 0.5))],
    ) {
        // Intervals that differ by an odd part of one another meet at ranges that have nothing to do with each other; a normal
        // jitter as wide as the interval makes sure. Support: the binomial distribution.
        let timing = |interval| Timing { interval: Seconds::new(interval), jitter };
        let confirmer = Arc::new(Confirmer::new(timing(own), timing(other), (marks, pings), JitterShape::Normal));
        let p = length / other;
        let fraction = drawn(&confirmer, length);
        let expected: f64 = (marks..=pings).map(|k| choose(pings, k) * libm::pow(p, f64::from(k)) * libm::pow(1.0 - p, f64::from(pings - k))).sum();
        prop_assert!((fraction - expected).abs() <= 0.02 * expected + 1e-9, "{fraction} against {expected}");
    }

    #[test]
    fn steady_units_on_one_interval_are_confirmed_by_all_pings_or_none(length in 0.0001..0.09_f64, marks in 1u32..4, more in 0u32..4) {
        let own = Timing { interval: Seconds::new(0.1), jitter: 0.0 };
        let confirmer = Arc::new(Confirmer::new(own, own, (marks, marks + more), JitterShape::Uniform));
        let fraction = drawn(&confirmer, length);
        prop_assert!((fraction - length / 0.1).abs() < 1e-6, "{fraction} against {}", length / 0.1);
    }

    #[test]
    fn confirmation_by_more_of_the_pings_never_draws_more(
        length in 0.0001..0.05_f64, jitter in 0.0..0.3_f64, interval in 0.03..0.3_f64, pings in 2u32..8,
    ) {
        let own = Timing { interval: Seconds::new(0.1), jitter };
        let other = Timing { interval: Seconds::new(interval), jitter };
        let mut before = 1.0;
        for marks in 1..=pings {
            let confirmer = Arc::new(Confirmer::new(own, other, (marks, pings), JitterShape::Uniform));
            let now = drawn(&confirmer, length);
            prop_assert!(now <= before + 1e-9 && now >= 0.0, "{now} after {before} for {marks} of {pings}");
            before = now;
        }
    }
}

/// What is drawn of a neighbour whose only mark is its pulse along the direct path.
fn drawn(confirmer: &Arc<Confirmer>, length: f64) -> f64 {
    let table = table(BottomClass::Silt);
    let mut received = Received::new();
    received.add(&Link {
        scatter: &table,
        bottom_shift: Db::new(-300.0),
        spacing: Metres::new(1.0),
        depth: Metres::new(DEPTH),
        speed: MetresPerSecond::new(SPEED),
        absorption: DbPerMetre::new(0.0),
        source: SourceLevel::new(207.0),
        pulse: Seconds::new(length),
        confirmer,
        band_loss: Db::new(0.0),
        direct: Some(Level::new(120.0)),
        bounce_loss: Db::new(0.0),
    });
    received.drawn_fraction(Level::new(100.0))
}

fn choose(n: u32, k: u32) -> f64 {
    (0..k).map(|i| f64::from(n - i) / f64::from(i + 1)).product()
}
