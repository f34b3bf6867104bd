//! The fingerprint of a run's findings.
//!
//! Each spot has a digest over its findings in order; the result hash is the digest over those, in the order of the spots.
//! It therefore depends neither on threads nor on how the spots were cut into chunks, and what was stored before a restart
//! can be digested again from the store. Bits of numbers are hashed, never their text; the two zeros count as one, because
//! a column of numbers does not keep the sign of zero.

use blake3::{Hash, Hasher};
use domain::selection::{Assumption, Band, Criteria, Desirability, Failure, Finding, Gains, Notice, Uncertainty};
use domain::{Part, Sentence};

/// Digest of the findings of one spot, in their order.
#[must_use]
pub fn spot_digest(findings: &[Finding]) -> Hash {
    let mut hasher = Hasher::new_derive_key("lakebeam findings of a spot 2");
    count(&mut hasher, findings.len());
    for each in findings {
        finding(&mut hasher, each);
    }
    hasher.finalize()
}

/// Hash of a whole run from the digests of its spots, as hexadecimal.
#[must_use]
pub fn result_hash(spots: &[Hash]) -> String {
    let mut hasher = Hasher::new_derive_key("lakebeam result of a run 1");
    count(&mut hasher, spots.len());
    for spot in spots {
        hasher.update(spot.as_bytes());
    }
    hasher.finalize().to_hex().to_string()
}

fn count(hasher: &mut Hasher, count: usize) {
    // usize is at most 64 bits on every target that Rust knows, so nothing is lost.
    hasher.update(&(count as u64).to_le_bytes());
}

fn number(hasher: &mut Hasher, value: f64) {
    let value = if value == 0.0 { 0.0 } else { value };
    hasher.update(&value.to_bits().to_le_bytes());
}

fn numbers<const N: usize>(hasher: &mut Hasher, values: [f64; N]) {
    for value in values {
        number(hasher, value);
    }
}

fn maybe(hasher: &mut Hasher, value: Option<f64>) {
    hasher.update(&[u8::from(value.is_some())]);
    number(hasher, value.unwrap_or(0.0));
}

fn text(hasher: &mut Hasher, text: &str) {
    count(hasher, text.len());
    hasher.update(text.as_bytes());
}

/// Every field is taken apart by name, so that a new one cannot be left out of the hash unnoticed.
fn finding(hasher: &mut Hasher, finding: &Finding) {
    let Finding {
        spot,
        option,
        criteria,
        gains,
        desirability,
        score,
        rank,
        failures,
        assumptions,
        notices,
        uncertainty,
    } = finding;
    count(hasher, *spot);
    count(hasher, *option);
    hash_criteria(hasher, criteria);
    hash_gains(hasher, gains);
    let Desirability { coverage, clutter, resolution, interference } = *desirability;
    numbers(hasher, [coverage, clutter, resolution, interference, *score]);
    hasher.update(&rank.to_le_bytes());
    count(hasher, failures.len());
    for each in failures {
        failure(hasher, each);
    }
    count(hasher, assumptions.len());
    for Assumption { field, sentence } in assumptions {
        text(hasher, field);
        hash_sentence(hasher, sentence);
    }
    count(hasher, notices.len());
    for each in notices {
        notice(hasher, each);
    }
    hasher.update(&[u8::from(uncertainty.is_some())]);
    if let Some(uncertainty) = uncertainty {
        hash_uncertainty(hasher, uncertainty);
    }
}

fn hash_sentence(hasher: &mut Hasher, Sentence { key, parts }: &Sentence) {
    text(hasher, key);
    count(hasher, parts.len());
    for (name, part) in parts {
        text(hasher, name);
        match part {
            Part::Figure(said) | Part::Name(said) => text(hasher, said),
            Part::Word(key) => text(hasher, key),
            Part::Length(length) => numbers(hasher, [length.get()]),
            Part::Count(count) => {
                hasher.update(&count.to_le_bytes());
            }
        }
    }
}

fn hash_criteria(hasher: &mut Hasher, criteria: &Criteria) {
    let Criteria {
        coverage_radius,
        coverage_area_m2,
        watch_footprint,
        range_cell,
        single_fish_probability,
        dead_zone_height,
        lure_over_vegetation,
        headroom,
        interference_fraction,
    } = *criteria;
    numbers(hasher, [coverage_radius.get(), coverage_area_m2, watch_footprint.get(), range_cell.get()]);
    numbers(hasher, [single_fish_probability, dead_zone_height.get(), interference_fraction]);
    maybe(hasher, lure_over_vegetation.map(|ratio| ratio.get()));
    maybe(hasher, headroom.map(|headroom| headroom.get()));
}

fn hash_gains(hasher: &mut Hasher, gains: &Gains) {
    let Gains { lure, bottom, working, clear, search, max } = *gains;
    numbers(hasher, [lure.get(), bottom.get(), working.get(), search.get(), max.get()]);
    maybe(hasher, clear.map(|clear| clear.get()));
}

fn failure(hasher: &mut Hasher, failure: &Failure) {
    let (kind, first, second) = match *failure {
        Failure::LureGainBeyondMax { missing } => (1, missing.get(), 0.0),
        Failure::BottomGainBeyondMax { missing } => (2, missing.get(), 0.0),
        Failure::LureOutsideBeam { offset, lobe_radius } => (3, offset.get(), lobe_radius.get()),
        Failure::NoClearGain { fraction_at_zero } => (4, fraction_at_zero, 0.0),
        Failure::NoiseBeforeLure { by } => (5, by.get(), 0.0),
        Failure::LureInRingDown { range, blind } => (6, range.get(), blind.get()),
    };
    hasher.update(&[kind]);
    numbers(hasher, [first, second]);
}

fn notice(hasher: &mut Hasher, notice: &Notice) {
    let (kind, first, second) = match *notice {
        Notice::LureInDeadZone { shadow, lure } => (1, shadow.get(), lure.get()),
        Notice::LureDrownsInCover { ratio } => (2, ratio.get(), 0.0),
        Notice::LureNearLobeEdge { offset, lobe_radius } => (3, offset.get(), lobe_radius.get()),
        Notice::NearField { rayleigh_distance } => (4, rayleigh_distance.get(), 0.0),
        Notice::NeighboursShow { headroom } => (5, headroom.get(), 0.0),
        Notice::NoCoverage => (6, 0.0, 0.0),
    };
    hasher.update(&[kind]);
    numbers(hasher, [first, second]);
}

fn hash_uncertainty(hasher: &mut Hasher, uncertainty: &Uncertainty) {
    let Uncertainty {
        rank_acceptability,
        score,
        coverage_radius_m,
        watch_footprint_m,
        dead_zone_height_m,
        lure_over_vegetation_db,
        headroom_db,
        working_gain_db,
        disqualified,
        pareto,
        dominant_uncertainty,
    } = uncertainty;
    count(hasher, rank_acceptability.len());
    for share in rank_acceptability {
        number(hasher, *share);
    }
    for band in [score, coverage_radius_m, watch_footprint_m, dead_zone_height_m, working_gain_db] {
        hash_band(hasher, band);
    }
    for band in [lure_over_vegetation_db, headroom_db] {
        hasher.update(&[u8::from(band.is_some())]);
        if let Some(band) = band {
            hash_band(hasher, band);
        }
    }
    number(hasher, *disqualified);
    hasher.update(&[u8::from(*pareto), u8::from(dominant_uncertainty.is_some())]);
    if let Some((name, share)) = dominant_uncertainty {
        text(hasher, name);
        number(hasher, *share);
    }
}

fn hash_band(hasher: &mut Hasher, band: &Band) {
    let Band { low, median, high } = *band;
    numbers(hasher, [low, median, high]);
}

#[cfg(test)]
mod tests {
    use super::*;
    use acoustics::units::{Db, Metres};

    fn sample() -> Finding {
        let m = Metres::new;
        let db = Db::new;
        Finding {
            spot: 3,
            option: 5,
            criteria: Criteria {
                coverage_radius: m(1.25),
                coverage_area_m2: 4.9,
                watch_footprint: m(2.0),
                range_cell: m(0.075),
                single_fish_probability: 0.8,
                dead_zone_height: m(0.3),
                lure_over_vegetation: Some(db(4.0)),
                headroom: None,
                interference_fraction: 0.0,
            },
            gains: Gains {
                lure: db(20.0),
                bottom: db(25.0),
                working: db(25.0),
                clear: None,
                search: db(40.0),
                max: db(70.0),
            },
            desirability: Desirability { coverage: 0.4, clutter: 0.7, resolution: 0.9, interference: 1.0 },
            score: 0.7,
            rank: 1,
            failures: vec![],
            assumptions: vec![Assumption { field: "floor_db".into(), sentence: Sentence::plain("assume-pattern") }],
            notices: vec![Notice::NoCoverage],
            uncertainty: None,
        }
    }

    /// Any change of a finding changes its digest.
    #[test]
    fn each_field_counts() {
        let base = spot_digest(&[sample()]);
        let changes: [fn(&mut Finding); 14] = [
            |f| f.spot = 4,
            |f| f.option = 6,
            |f| f.criteria.coverage_radius = Metres::new(1.250_000_000_000_000_2),
            |f| f.criteria.lure_over_vegetation = None,
            |f| f.criteria.headroom = Some(Db::new(0.0)),
            |f| f.gains.clear = Some(Db::new(0.0)),
            |f| f.gains.max = Db::new(71.0),
            |f| f.desirability.interference = 0.5,
            |f| f.score = 0.8,
            |f| f.rank = 2,
            |f| f.failures.push(Failure::NoiseBeforeLure { by: Db::new(1.0) }),
            |f| f.assumptions[0].sentence = Sentence::plain("assume-relief"),
            |f| f.notices.clear(),
            |f| f.assumptions[0].field = "floor_db-".into(),
        ];
        for (index, change) in changes.into_iter().enumerate() {
            let mut changed = sample();
            change(&mut changed);
            assert_ne!(spot_digest(&[changed]), base, "change {index}");
        }
    }

    #[test]
    fn the_sign_of_zero_does_not_count() {
        let mut negative = sample();
        negative.criteria.interference_fraction = -0.0;
        assert_eq!(spot_digest(&[negative]), spot_digest(&[sample()]));
    }

    #[test]
    fn order_and_number_of_spots_count() {
        let (a, b) = (spot_digest(&[sample()]), spot_digest(&[]));
        assert_ne!(result_hash(&[a, b]), result_hash(&[b, a]));
        assert_ne!(result_hash(&[a]), result_hash(&[a, a]));
    }
}
