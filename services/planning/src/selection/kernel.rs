//! The evaluation of one option at one spot: numbers in, numbers out, no allocation.

use acoustics::cover::cell_strength;
use acoustics::geometry;
use acoustics::levels::range_cell;
use acoustics::units::{Metres, MetresPerSecond, Steradians, VolumeStrength};

use super::figures::Evaluation;
use super::neighbours::{Adjust, Clearance, widening};
use super::option::PreparedOption;
use super::spot::PreparedSpot;
use domain::desirability::overall;
use domain::goal::{DESIRABILITY_FLOOR, Preset};

/// How far search gain may pass working gain, dB: one goes up until the display fills, not further.
pub(crate) const SEARCH_MARGIN: f64 = 15.0;
/// How far the bottom seen off the vertical stays under its echo at the vertical, dB: the diffuse tail of its scattering.
pub(crate) const OBLIQUE_LOSS: f64 = 12.0;

/// What a run asks of every evaluation.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rules {
    pub(crate) preset: Preset,
    pub(crate) lure_margin: f64,
    pub(crate) strong_mark: f64,
}

/// What one draw of the uncertainty changes; all zero, and a scale of one, for the recorded figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Perturbation {
    /// Factor on every angle of the beam.
    pub beam_scale: f64,
    /// Source level, dB.
    pub source: f64,
    /// Threshold at zero gain, dB.
    pub threshold: f64,
    /// Target strength of the lure, dB, for a target of the usual spread; one of which less is known moves in proportion.
    pub lure: f64,
    /// Target strength of the fish, dB, in the same way.
    pub fish: f64,
    /// Strength of the bottom, dB.
    pub bottom: f64,
    /// Strength of the plants, dB.
    pub plants: f64,
    /// Tilt of the transducer towards the slope and across it, radians.
    pub tilt: [f64; 2],
}

impl Perturbation {
    /// No change.
    pub const NONE: Self = Self {
        beam_scale: 1.0,
        source: 0.0,
        threshold: 0.0,
        lure: 0.0,
        fish: 0.0,
        bottom: 0.0,
        plants: 0.0,
        tilt: [0.0; 2],
    };
}

/// One option at one spot, ready to be evaluated.
pub(crate) struct Case<'a> {
    pub(crate) place: &'a PreparedSpot,
    pub(crate) gear: &'a PreparedOption,
    /// Absorption at the option's frequency in the spot's water, dB/m.
    pub(crate) absorption: f64,
    /// Volume strength of the plants, dB; NaN without.
    pub(crate) plants: f64,
    /// Neighbours; none when alone.
    pub(crate) clearance: Option<&'a Clearance>,
}

impl Case<'_> {
    /// Every figure of this option at this spot.
    pub(crate) fn evaluate(&self, rules: &Rules, shift: &Perturbation) -> Evaluation {
        let mut f = self.blank(shift);
        self.gains(&mut f, rules, shift);
        self.neighbours(&mut f, shift);
        self.coverage(&mut f, shift);
        self.clutter(&mut f, shift);
        verdict(&mut f, rules);
        f
    }

    /// What the option is at this spot.
    fn blank(&self, shift: &Perturbation) -> Evaluation {
        let (place, gear) = (self.place, self.gear);
        // A wider beam gathers less: its directivity falls with the square of its width.
        let level = if gear.from_power { place.watt_level - widening(shift.beam_scale) } else { 0.0 };
        let speed = MetresPerSecond::new(place.speed);
        Evaluation {
            source_level: gear.source + level + shift.source,
            threshold: gear.threshold + shift.threshold,
            noise_level: gear.noise_level,
            max_gain: gear.max_gain,
            absorption: self.absorption,
            lure_strength: gear.lure.db + shift.lure * gear.lure.widening,
            fish_strength: gear.fish.db + shift.fish * gear.fish.widening,
            range_cell: range_cell(speed, gear.pulse(), gear.sweep, gear.receiver_bandwidth).get(),
            ..Evaluation::BLANK
        }
    }

    /// Lure, bottom and working gain.
    fn gains(&self, f: &mut Evaluation, rules: &Rules, shift: &Perturbation) {
        let (place, gear) = (self.place, self.gear);
        let lure_angle = if shift.tilt == [0.0; 2] {
            place.lure_angle
        } else {
            libm::hypot(place.lure_angle - shift.tilt[0], shift.tilt[1])
        };
        f.lure_off_axis = place.lure_depth * libm::tan(lure_angle);
        f.lure_beam = gear.beam.worst_level(lure_angle / shift.beam_scale);
        let lure_loss = place.lure_spreading + 2.0 * f.absorption * place.lure_range;
        f.lure_echo = f.source_level - lure_loss + f.lure_strength + 2.0 * f.lure_beam;
        f.lure_gain = (f.threshold + rules.lure_margin - f.lure_echo).max(0.0);

        let (d, psi) = (place.depth, gear.psi * shift.beam_scale * shift.beam_scale);
        f.bottom_area = (psi * d * d).min(std::f64::consts::PI * d * place.speed * gear.pulse);
        let lit = libm::atan(libm::sqrt(f.bottom_area / std::f64::consts::PI) / d);
        f.bottom_strength = gear.bottom_strength(place.bottom, lit) + shift.bottom;
        f.bottom_echo = f.source_level - place.depth_spreading - 2.0 * f.absorption * d
            + f.bottom_strength
            + 10.0 * libm::log10(f.bottom_area);
        f.bottom_gain = (f.threshold + rules.strong_mark - f.bottom_echo).max(0.0);

        f.working_gain = f.lure_gain.max(f.bottom_gain);
        f.set_gain = f.working_gain.min(f.max_gain);
        // How wide the lobe is for the lure, noise apart: whether the lure hangs in it is a matter of the beam alone.
        let axis_echo = f.lure_echo - 2.0 * f.lure_beam;
        let level = 0.5 * (f.threshold - f.working_gain - axis_echo);
        f.lobe_radius = place.lure_depth * gear.beam.edge(level).least * shift.beam_scale;
    }

    /// What neighbours do: clear gain, headroom, fraction of interference marks.
    fn neighbours(&self, f: &mut Evaluation, shift: &Perturbation) {
        f.search_gain = (f.working_gain + SEARCH_MARGIN).min(f.max_gain);
        let Some(clearance) = self.clearance else { return };
        let tabulated = self.gear.source + if self.gear.from_power { super::neighbours::WATT_LEVEL } else { 0.0 };
        let adjust = Adjust {
            source_shift: f.source_level - tabulated,
            bottom_shift: shift.bottom,
            beam_scale: shift.beam_scale,
        };
        let heard = clearance.heard(self.place, f.absorption, adjust);
        f.clear_level = heard.critical;
        // Once noise fills the display, more gain no longer lowers the threshold: nothing is gained by calling it clear.
        let noise_gain = (f.threshold - f.noise_level).max(f.max_gain);
        f.clear_gain = (f.threshold - heard.critical).min(noise_gain);
        f.headroom = f.clear_gain - f.working_gain;
        f.interference_fraction = heard.fraction(f.visible(f.set_gain));
        f.fraction_at_zero = heard.fraction(f.visible(0.0));
        f.search_gain = f.search_gain.min(f.clear_gain).max(0.0);
    }

    /// Where fish show.
    fn coverage(&self, f: &mut Evaluation, shift: &Perturbation) {
        let (place, gear) = (self.place, self.gear);
        let threshold = f.visible(f.search_gain);
        let (mut radius, mut square) = (0.0, 0.0);
        for node in &place.layer {
            let echo = f.source_level - node.spreading - 2.0 * f.absorption * node.depth + f.fish_strength;
            let edge = gear.beam.mean_edge(0.5 * (threshold - echo)) * shift.beam_scale * node.depth;
            radius += node.weight * edge;
            square += node.weight * edge * edge;
        }
        f.coverage_radius = radius;
        f.coverage_area = std::f64::consts::PI * square;

        let loss = place.lure_depth_spreading + 2.0 * f.absorption * place.lure_depth;
        let echo = f.source_level - loss + f.fish_strength;
        let edge = gear.beam.mean_edge(0.5 * (f.visible(f.set_gain) - echo)) * shift.beam_scale;
        f.watch_footprint = 2.0 * place.lure_depth * edge;
        let disc = 0.25 * std::f64::consts::PI * f.watch_footprint * f.watch_footprint;
        f.other_fish = place.fish_per_m3 * disc * f.range_cell;
        f.single_fish = libm::exp(-f.other_fish);
    }

    /// What hides the lure: the bottom, what stands on it, and plants.
    fn clutter(&self, f: &mut Evaluation, shift: &Perturbation) {
        let (place, gear) = (self.place, self.gear);
        // One-way level at which the bottom seen off the vertical just shows.
        let level = 0.5 * (f.visible(f.set_gain) - (f.bottom_echo - OBLIQUE_LOSS));
        f.bottom_edge = libm::atan(gear.beam.edge(level).most * shift.beam_scale);
        // Tilted towards the slope the beam reaches that much further up it.
        f.plane_range = place.plane_range((f.bottom_edge + shift.tilt[0]).max(0.0));
        f.first_range = f.plane_range;
        for top in place.relief.iter().take(place.relief_count) {
            let beam = gear.beam.best_level(top.angle / shift.beam_scale);
            if top.range < f.first_range && beam - 0.5 * top.spreading >= level {
                f.first_range = top.range;
            }
        }
        let [depth, first, cell] = [place.depth, f.first_range, f.range_cell].map(Metres::new);
        f.dead_zone_height = geometry::dead_zone_height(depth, first, cell).get();
        // Plants count where the lure's cell reaches down to them.
        if place.lure_range + 0.5 * f.range_cell > place.canopy_top {
            let psi = Steradians::new(gear.psi * shift.beam_scale * shift.beam_scale);
            let strength = VolumeStrength::new(self.plants + shift.plants);
            f.cover_strength = cell_strength(strength, cell, psi, Metres::new(place.lure_range)).get();
            f.lure_over_vegetation = f.lure_strength + 2.0 * f.lure_beam - f.cover_strength;
        }
    }
}

/// Desirabilities, score, and whether the option qualifies.
fn verdict(f: &mut Evaluation, rules: &Rules) {
    let limits = &rules.preset.limits;
    f.coverage_d = limits.coverage_radius.of(f.coverage_radius);
    f.shadow_d = limits.dead_zone_height.of(f.dead_zone_height);
    f.cover_d =
        if f.lure_over_vegetation.is_nan() { 1.0 } else { limits.lure_over_vegetation.of(f.lure_over_vegetation) };
    // Either one hides the lure, so the worse of the two counts.
    f.clutter_d = f.shadow_d.min(f.cover_d);
    f.footprint_d = limits.watch_footprint.of(f.watch_footprint);
    f.resolution_d = f.footprint_d;
    if let Some(single) = limits.single_fish {
        f.single_d = single.of(f.single_fish);
        f.resolution_d = libm::sqrt(f.footprint_d * f.single_d);
    }
    f.interference_d = if f.has_neighbours() { limits.headroom.of(f.headroom) } else { 1.0 };
    f.qualified = f.lure_gain <= f.max_gain
        && f.bottom_gain <= f.max_gain
        && f.lure_off_axis <= f.lobe_radius
        && (f.clear_gain.is_nan() || f.clear_gain >= 0.0)
        && f.noise_excess() <= 0.0;
    f.score = if f.qualified { score(&f.desirabilities(), &rules.preset.weights.as_array()) } else { 0.0 };
}

/// Weighted geometric mean of the desirabilities, each kept over the floor.
pub(crate) fn score(desirabilities: &[f64; 4], weights: &[f64; 4]) -> f64 {
    overall(&desirabilities.map(|d| d.max(DESIRABILITY_FLOOR)), weights)
}
