//! Which of three beams suits best from 6 to 70 ft, over bottoms, with and without weeds, alone and with neighbours.

use acoustics::units::Metres;
use domain::Goal;
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Sensor, Spot};
use planning::selection::Prepared;

use super::{id, run, shelter, spot};

pub(crate) const FOOT: f64 = 0.3048;
pub(crate) const FEET: std::ops::RangeInclusive<u32> = 6..=70;
pub(crate) const BOTTOMS: [(BottomClass, &str); 5] = [
    (BottomClass::OrganicOoze, "organic ooze"),
    (BottomClass::Silt, "silt"),
    (BottomClass::FineSand, "fine sand"),
    (BottomClass::Gravel, "gravel"),
    (BottomClass::Rock, "rock"),
];
/// Sparse weeds of 1.2 m with the lure among them, half a metre over the bottom.
pub(crate) const COVERS: [(Option<CanopyDensity>, &str); 2] = [(None, "open"), (Some(CanopyDensity::Sparse), "weeds")];
pub(crate) const PARTIES: [u32; 3] = [1, 3, 5];

/// One combination of bottom, cover and party.
pub(crate) struct Strip {
    pub(crate) bottom: &'static str,
    pub(crate) cover: &'static str,
    pub(crate) party: u32,
    /// The best beam's index at each foot of depth; none where every beam fails.
    pub(crate) best: Vec<Option<usize>>,
    /// The score of each beam at each foot; 0 where it fails.
    pub(crate) scores: Vec<Vec<f64>>,
}

/// All combinations.
pub(crate) fn sweep(sensors: &[Sensor]) -> Vec<Strip> {
    let mut strips = Vec::new();
    for (class, bottom) in BOTTOMS {
        for (density, cover) in COVERS {
            for party in PARTIES {
                let (best, scores) = judged(sensors, class, density, party).into_iter().unzip();
                strips.push(Strip { bottom, cover, party, best, scores });
            }
        }
    }
    strips
}

/// The best beam and all scores at each foot.
fn judged(
    sensors: &[Sensor],
    bottom: BottomClass,
    density: Option<CanopyDensity>,
    party: u32,
) -> Vec<(Option<usize>, Vec<f64>)> {
    let spots: Vec<Spot> = FEET
        .map(|feet| {
            let plain = spot("s", f64::from(feet) * FOOT, bottom);
            let canopy = density.map(|density| Canopy { height: Metres::new(1.2), density, volume_strength: None });
            let lure_height = if canopy.is_some() { Metres::new(0.5) } else { plain.lure_height };
            Spot { id: id(&format!("s{feet}")), canopy, lure_height, ..plain }
        })
        .collect();
    let count = spots.len();
    let mut input = run(spots, sensors.to_vec());
    input.shelter = (party > 1).then(|| shelter(5.0, 3.0, party));
    input.settings.goal = if density.is_some() { Goal::WEED_EDGE } else { Goal::WATCH_LURE };
    let found = Prepared::new(&input, &Cancel::never()).unwrap().evaluate(0..count, &Cancel::never()).unwrap();
    found
        .chunks(sensors.len())
        .map(|spot| {
            let best = spot.iter().find(|f| f.rank == 1 && f.failures.is_empty()).map(|f| f.option);
            (best, spot.iter().map(|f| f.score).collect())
        })
        .collect()
}
