//! Bands of depth as samples: the depths and bottoms that a rule must hold at, and the gain that each of them asks for.

use acoustics::units::{Metres, TargetStrength};

use super::types::{RulesInput, RulesSettings};
use crate::selection::{Evaluation, Perturbation, Prepared};
use domain::Goal;
use domain::check::plain;
use domain::record::spot::check_depth;
use domain::selection::{Others, RunInput, Settings};
use domain::{
    BottomClass, Cancel, Cancelled, Fact, Fault, FaultReason, Id, Provenance, Spot, Target, TargetKind, TargetShape,
    defaults,
};

/// Ratio of one sampled depth to the next …
const DEPTH_RATIO: f64 = 1.01;
/// … of which every so many are looked at first, and then all around the worst of these.
const STRIDE: usize = 6;
/// Farthest next shelter, m.
const MOST_NEXT: f64 = 200.0;
/// Most shelters, bands and options of one rule book.
const MOST: [(&str, usize); 4] = [("shelters", 500), ("bands", 20), ("options", 200), ("bottom_classes", 12)];

/// Most rules and mixes of one rule book: a mix for each two options, in each band of each shelter. They are some 100 MB in memory and 20 MB as a document.
const MOST_RESULTS: usize = 1_000_000;

/// One depth and one bottom of a band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sample {
    pub(super) depth: f64,
    pub(super) bottom: BottomClass,
    /// Index of the stand-in spot in the prepared run.
    pub(super) spot: usize,
}

impl Sample {
    /// Whether another one is no farther off than half the way to the next that is looked at first.
    pub(super) fn is_near(self, other: Self) -> bool {
        let ratio = self.depth.max(other.depth) / self.depth.min(other.depth);
        self.bottom == other.bottom && ratio <= 1.0 + 0.55 * crate::selection::count(STRIDE) * (DEPTH_RATIO - 1.0)
    }
}

/// A band with its samples and what each option needs there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Band {
    /// By depth, then bottom.
    samples: Vec<Sample>,
    /// How many bottoms there are at each depth.
    bottoms: usize,
    /// By option: the start gain and the sample that asks for it.
    start: Vec<(f64, Sample)>,
    /// By option: the gain at which the lure first shows at every depth.
    lure: Vec<f64>,
}

impl Band {
    /// The gain at which an option shows lure and bottom at every depth of the band.
    pub(super) fn start_gain(&self, option: usize) -> Option<f64> {
        self.start.get(option).map(|(gain, _)| *gain)
    }

    /// The gain at which the lure first shows, with no margin, at every depth of the band.
    pub(super) fn first_showing(&self, option: usize) -> Option<f64> {
        self.lure.get(option).copied()
    }

    /// The least of a figure over the band, and where it is: found among depths 6 % apart, then sought around the least of
    /// these in steps of 1 %. None where the figure is.
    pub(super) fn least(&self, mut figure: impl FnMut(Sample) -> Option<f64>) -> Option<(f64, Sample)> {
        let depths = self.samples.len() / self.bottoms.max(1);
        let mut least: Option<(f64, Sample)> = None;
        for bottom in 0..self.bottoms {
            let at = |depth: usize| self.samples.get(depth * self.bottoms + bottom).copied();
            let coarse = (0..depths).step_by(STRIDE).chain(depths.checked_sub(1));
            let mut own: Option<(f64, usize)> = None;
            for depth in coarse {
                let found = figure(at(depth)?)?;
                if own.is_none_or(|(known, _)| found < known) {
                    own = Some((found, depth));
                }
            }
            let (mut found, middle) = own?;
            let mut place = at(middle)?;
            for depth in middle.saturating_sub(STRIDE - 1)..(middle + STRIDE).min(depths) {
                let sample = at(depth)?;
                let here = figure(sample)?;
                if here < found {
                    (found, place) = (here, sample);
                }
            }
            if least.is_none_or(|(known, _)| found < known) {
                least = Some((found, place));
            }
        }
        least
    }

    /// The samples that are looked at first: of each bottom, depths 6 % apart.
    pub(super) fn coarse(&self) -> impl Iterator<Item = Sample> + '_ {
        let (depths, bottoms) = (self.samples.len() / self.bottoms.max(1), self.bottoms);
        let coarse = (0..depths).step_by(STRIDE).chain(depths.checked_sub(1).filter(|last| last % STRIDE != 0));
        let each = coarse.flat_map(move |depth| (0..bottoms).map(move |bottom| depth * bottoms + bottom));
        each.filter_map(|place| self.samples.get(place).copied())
    }

    /// Where that gain is needed.
    pub(super) fn start_at(&self, option: usize) -> Option<(Metres, BottomClass)> {
        self.start.get(option).map(|(_, sample)| (Metres::new(sample.depth), sample.bottom))
    }
}

/// The bands of an input over its prepared stand-in spots.
pub(super) fn bands(input: &RulesInput, ground: &Prepared, cancel: &Cancel) -> Result<Vec<Band>, Cancelled> {
    let mut spot = 0;
    let mut bands = Vec::with_capacity(input.bands.len());
    for depths in each_band(input) {
        let mut samples = Vec::new();
        for (depth, bottom) in depths {
            samples.push(Sample { depth, bottom, spot });
            spot += 1;
        }
        let mut start = Vec::with_capacity(input.options.len());
        let mut lure = Vec::with_capacity(input.options.len());
        for option in 0..input.options.len() {
            cancel.check()?;
            start.extend(needed(ground, option, &samples, |figures| figures.working_gain));
            let shown = needed(ground, option, &samples, |figures| figures.lure_gain);
            lure.extend(shown.map(|(gain, _)| gain - input.settings.lure_margin.get()));
        }
        bands.push(Band { samples, bottoms: input.bottoms.len(), start, lure });
    }
    Ok(bands)
}

fn needed(
    ground: &Prepared,
    option: usize,
    samples: &[Sample],
    of: impl Fn(&Evaluation) -> f64,
) -> Option<(f64, Sample)> {
    let gain = |sample: &Sample| {
        ground.figures(sample.spot, option, &Perturbation::NONE).map_or(f64::INFINITY, |figures| of(&figures))
    };
    samples.iter().map(|sample| (gain(sample), *sample)).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Depths and bottoms of each band, in the order of the stand-in spots.
fn each_band(input: &RulesInput) -> impl Iterator<Item = Vec<(f64, BottomClass)>> + '_ {
    input.bands.iter().map(|band| {
        let (shallow, deep) = (band.shallow.get(), band.deep.get());
        let steps = libm::ceil(libm::log(deep / shallow) / libm::log(DEPTH_RATIO)).max(1.0);
        let mut depths = Vec::new();
        let mut step = 0.0;
        while step <= steps {
            depths.push(shallow * libm::pow(deep / shallow, step / steps));
            step += 1.0;
        }
        depths.into_iter().flat_map(|depth| input.bottoms.iter().map(move |bottom| (depth, *bottom))).collect()
    })
}

/// The run whose spots stand for every sampled depth and bottom, without neighbours.
pub(super) fn run(input: &RulesInput) -> RunInput {
    let depths: Vec<(f64, BottomClass)> = each_band(input).flatten().collect();
    RunInput {
        spots: depths
            .iter()
            .enumerate()
            .filter_map(|(index, (depth, bottom))| stand_in(index, *depth, *bottom, &input.settings))
            .collect(),
        sensors: input.sensors.clone(),
        options: input.options.clone(),
        shelter: None,
        others: Others::Same,
        lure: input.lure.clone(),
        fish: some_fish(&input.lure),
        settings: Settings {
            goal: Goal::WATCH_LURE,
            interference_tolerance: input.settings.tolerance,
            lure_margin: input.settings.lure_margin,
            strong_mark: input.settings.strong_mark,
            ..Settings::default()
        },
        goals: Vec::new(),
    }
}

/// A flat spot without cover: rules are about neighbours, not about a place.
fn stand_in(index: usize, depth_m: f64, bottom: BottomClass, settings: &RulesSettings) -> Option<Spot> {
    let depth = Metres::new(depth_m);
    let lowest = defaults::lure_height(depth);
    Some(Spot {
        id: Id::parse(&format!("depth-{index}")).ok()?,
        display_name: format!("{} m", plain(depth_m)),
        lake: "any".to_owned(),
        notes: String::new(),
        position: None,
        depth,
        ice_thickness: None,
        bottom,
        bottom_from: Provenance::Stated,
        slope: acoustics::units::Angle::new(0.0),
        relief: Vec::new(),
        canopy: None,
        canopy_unknown: false,
        fish_layer: defaults::fish_layer(depth),
        // A lure higher than half of a shallow band's depth would hang at the transducer.
        lure_height: settings.lure_height.map_or(lowest, |height| Metres::new(height.get().min(0.5 * depth_m))),
        hole_radius: defaults::HOLE_RADIUS,
        bottom_temperature: defaults::BOTTOM_TEMPERATURE,
        salinity: defaults::SALINITY,
        ph: defaults::PH,
    })
}

/// A run wants a fish; no rule depends on it.
fn some_fish(lure: &Target) -> Target {
    Target {
        id: lure.id.clone(),
        display_name: "fish".to_owned(),
        notes: String::new(),
        kind: TargetKind::Fish,
        shape: TargetShape::Known(Fact::assumed(TargetStrength::new(-36.0))),
    }
}

impl RulesInput {
    /// Every fault of the input, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        let given = [self.shelters.len(), self.bands.len(), self.options.len(), self.bottoms.len()];
        for ((field, most), given) in MOST.into_iter().zip(given) {
            if given == 0 || given > most {
                let reason = if given == 0 { FaultReason::Missing } else { FaultReason::OutOfRange };
                let text = format!("{field} has {given} entries; accepted: 1 to {most}; name at least one");
                faults.push(Fault::new(field, reason, text));
            }
        }
        let options = self.options.len();
        let results = options.saturating_mul(options + 1) / 2;
        let results = results.saturating_mul(self.bands.len()).saturating_mul(self.shelters.len());
        if faults.is_empty() && results > MOST_RESULTS {
            let text = format!(
                "options and each two of them, in {} bands of {} shelters, have {results} rules; accepted: up to {MOST_RESULTS}; ask for fewer options, bands or shelters at once",
                self.bands.len(),
                self.shelters.len()
            );
            faults.push(Fault::new("options", FaultReason::OutOfRange, text));
        }
        for (index, shelter) in self.shelters.iter().enumerate() {
            faults.extend(shelter.check().into_iter().map(|fault| fault.under(&format!("shelters[{index}]"))));
        }
        for (index, sensor) in self.sensors.iter().enumerate() {
            faults.extend(sensor.check().into_iter().map(|fault| fault.under(&format!("sensors[{index}]"))));
        }
        for (index, band) in self.bands.iter().enumerate() {
            let field = |name: &str| format!("bands[{index}].{name}");
            for (name, depth) in [("shallow_m", band.shallow), ("deep_m", band.deep)] {
                faults.extend(check_depth(&field(name), depth));
            }
            if band.deep < band.shallow {
                let text = format!(
                    "bands[{index}].deep_m is {}; accepted: not under shallow_m, which is {}; swap them",
                    plain(band.deep.get()),
                    plain(band.shallow.get())
                );
                faults.push(Fault::new(field("deep_m"), FaultReason::Contradiction, text));
            }
        }
        if let Some(next) = self.settings.next_shelter
            && !(0.0..=MOST_NEXT).contains(&next.get())
        {
            let text = format!(
                "next_shelter_m is {}; accepted: 0 to {} m; leave it out for a shelter that stands alone",
                plain(next.get()),
                plain(MOST_NEXT)
            );
            faults.push(Fault::new("next_shelter_m", FaultReason::OutOfRange, text));
        }
        faults.extend(self.lure.check().into_iter().map(|fault| fault.under("lure")));
        if self.lure.kind != TargetKind::Lure {
            let text = format!("lure is target '{}'; accepted: one of kind LURE; name another target", self.lure.id);
            faults.push(Fault::new("lure", FaultReason::Contradiction, text));
        }
        let settings = run_settings(&self.settings);
        faults.extend(settings.check());
        if let Some(height) = self.settings.lure_height
            && !(0.0..=100.0).contains(&height.get())
        {
            let text = format!(
                "lure_height_m is {}; accepted: 0 to 100 m; leave it out for half a metre",
                plain(height.get())
            );
            faults.push(Fault::new("lure_height_m", FaultReason::OutOfRange, text));
        }
        faults
    }
}

fn run_settings(settings: &RulesSettings) -> Settings {
    Settings {
        interference_tolerance: settings.tolerance,
        lure_margin: settings.lure_margin,
        strong_mark: settings.strong_mark,
        ..Settings::default()
    }
}
