//! The evaluation of one option at one spot: numbers in, numbers out, no allocation.

use std::f64::consts::PI;

use acoustics::cover::cell_strength;
use acoustics::geometry;
use acoustics::levels::{bottom_echo_level, echo_level, least_gain, two_way_loss};
use acoustics::units::{Angle, Db, DbPerMetre, Level, Metres, SourceLevel, Steradians, TargetStrength, VolumeStrength};

use domain::desirability::OneSided;

use super::beam::{LURE_NOTICE, LURE_RESERVE, SEARCH_MARGIN};
use super::figures::Evaluation;
use super::neighbours::{Adjust, Clearance, NeighbourLevels, widening};
use super::option::PreparedOption;
use super::others::Company;
use super::relief::Body;
use super::shift::{OtherUnit, Perturbation};
use super::spot::PreparedSpot;
use domain::desirability::overall;
use domain::goal::Weighing;

/// Part of the score that is left where the lure is about to be lost; it falls evenly in its logarithm from the notice to there. So steep
/// that what a narrower beam gains in the other criteria never outweighs it, unless one of these is worthless already or the dial near its end.
const LOST_SHARE: f64 = 0.01;
/// Within how many decibels of a limit that disqualifies the score comes down, dB: the margin by which a lure must pass its threshold,
/// within which nobody can be sure that it does.
pub(crate) const LAST_ROOM: f64 = 3.0;
/// How far a boulder or log stays under the echo of the bottom, dB. ASSUMED: it is as hard, but fills a part of what a pulse insonifies.
pub(crate) const RELIEF_LOSS: f64 = 12.0;

/// What a run asks of every evaluation.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rules {
    pub(crate) weighing: Weighing,
    pub(crate) lure_margin: f64,
    pub(crate) strong_mark: f64,
}

/// One option at one spot, ready to be evaluated.
pub(crate) struct Case<'a> {
    pub(crate) place: &'a PreparedSpot,
    pub(crate) gear: &'a PreparedOption,
    /// What stands on the bottom.
    pub(crate) relief: &'a [Body],
    /// Absorption at the option's frequency in the spot's water, dB/m.
    pub(crate) absorption: f64,
    /// Volume strength of the plants, dB.
    pub(crate) plants: Option<f64>,
    /// What the ice of the spot takes of a bounce more than that of usual thickness, dB.
    pub(crate) ice_shift: f64,
    /// Neighbours.
    pub(crate) around: Around<'a>,
}

/// Who is around.
#[derive(Clone, Copy)]
pub(crate) enum Around<'a> {
    Nobody,
    /// Neighbours with the same option.
    Same(&'a Clearance),
    /// Neighbours with units of some kinds.
    Others(Company<'a>),
}

/// The beam as an evaluation has it: drawn wider or narrower, and leaning.
#[derive(Clone, Copy)]
struct Aim {
    /// Factor on every angle, and its square.
    scale: f64,
    square: f64,
    /// From the vertical: up the slope and across it.
    tilt: [f64; 2],
    /// Between the axis and the normal of the bottom.
    incidence: f64,
}

impl Aim {
    fn new(place: &PreparedSpot, shift: &Perturbation) -> Self {
        let tilt = [place.lean[0] + shift.tilt[0], place.lean[1] + shift.tilt[1]];
        let incidence = if tilt == [0.0; 2] { place.slope } else { libm::hypot(place.slope - tilt[0], tilt[1]) };
        Self { scale: shift.beam_scale, square: shift.beam_scale * shift.beam_scale, tilt, incidence }
    }

    /// Angle from the axis of something that hangs or stands at an angle up the slope.
    fn angle_to(&self, angle: f64) -> f64 {
        if self.tilt == [0.0; 2] { angle } else { libm::hypot(angle - self.tilt[0], self.tilt[1]) }
    }
}

impl Case<'_> {
    /// Every figure of this option at this spot.
    pub(crate) fn evaluate(&self, rules: &Rules, shift: &Perturbation) -> Evaluation {
        let aim = Aim::new(self.place, shift);
        let mut f = self.blank(shift);
        self.gains(&mut f, rules, shift, aim);
        self.neighbours(&mut f, shift);
        self.coverage(&mut f, aim);
        self.resolution(&mut f, aim);
        self.clutter(&mut f, shift, aim);
        verdict(&mut f, rules);
        f
    }

    /// What the option is at this spot.
    fn blank(&self, shift: &Perturbation) -> Evaluation {
        let (place, gear) = (self.place, self.gear);
        // A wider beam gathers less: its directivity falls with the square of its width.
        let level = if gear.from_power { place.watt_level - widening(shift.beam_scale) } else { 0.0 };
        Evaluation {
            source_level: gear.source + level + shift.source,
            threshold: gear.threshold + shift.threshold,
            noise_level: gear.noise_level,
            max_gain: gear.max_gain,
            absorption: self.absorption,
            lure_strength: gear.lure.db + shift.lure * gear.lure.widening,
            fish_strength: gear.fish.db + shift.fish * gear.fish.widening,
            bottom_shift: shift.bottom,
            range_cell: place.speed * gear.cell,
            blind_range: 0.5 * place.speed * gear.ring_down * shift.ring_down,
            ..Evaluation::BLANK
        }
    }

    /// Lure, bottom and working gain.
    fn gains(&self, f: &mut Evaluation, rules: &Rules, shift: &Perturbation, aim: Aim) {
        let (place, gear) = (self.place, self.gear);
        f.blind_room = place.lure_range - f.blind_range;
        f.lure_angle = aim.angle_to(place.lure_angle);
        f.lure_off_axis = place.lure_depth * libm::tan(f.lure_angle);
        let (worst, least) = gear.optics.beam.worst_and_least(f.lure_angle / aim.scale);
        f.lure_beam = worst;
        f.lure_cost = -2.0 * least;
        f.lobe_radius = place.lure_depth * libm::tan(gear.lure_reach * aim.scale);
        f.lure_echo = self.echo(f, (place.lure_spreading, place.lure_range), f.lure_strength, f.lure_beam);
        let on_axis = self.echo(f, (place.lure_depth_spreading, place.lure_depth), f.lure_strength, 0.0);
        let lure_gain =
            |echo: f64| least_gain(Level::new(f.threshold), Db::new(rules.lure_margin), Level::new(echo)).get();
        f.lure_gain = lure_gain(f.lure_echo);
        f.lure_gain_on_axis = lure_gain(on_axis);

        // A beam drawn wider by w takes in w² of the bottom, at the tilt and within the pulse of the stated one scaled alike.
        let width = widening(aim.scale);
        f.window = place.speed_logarithm + gear.cell_logarithm - place.plane_logarithm;
        f.plane = gear.plane_echo(place.bottom).map_or(f64::NEG_INFINITY, |echo| {
            echo.peak(Angle::new(aim.incidence / aim.scale), f.window - 0.1 * width).get()
        }) + width
            + shift.bottom;
        f.bottom_echo = bottom_echo_level(
            SourceLevel::new(f.source_level),
            Db::new(40.0 * place.plane_logarithm),
            Db::new(2.0 * f.absorption * place.depth),
            Db::new(f.plane),
        )
        .get();
        f.bottom_gain =
            least_gain(Level::new(f.threshold), Db::new(rules.strong_mark), Level::new(f.bottom_echo)).get();

        f.working_gain = f.lure_gain.max(f.bottom_gain);
        f.set_gain = f.working_gain.min(f.max_gain);
    }

    /// The sonar equation for a target at a range, given with 40 lg of it.
    #[inline]
    fn echo(&self, f: &Evaluation, (spreading, range): (f64, f64), strength: f64, beam: f64) -> f64 {
        let loss = two_way_loss(Db::new(spreading), Metres::new(range), DbPerMetre::new(f.absorption));
        echo_level(SourceLevel::new(f.source_level), loss, TargetStrength::new(strength), Db::new(beam)).get()
    }

    /// What neighbours do: clear gain, headroom, fraction of interference marks; and the gain to search with.
    fn neighbours(&self, f: &mut Evaluation, shift: &Perturbation) {
        // What a lure on the axis and the bottom need: a lure that is lost at the rim does not turn the search up.
        let least = f.lure_gain_on_axis.max(f.bottom_gain).min(f.max_gain);
        f.coverage_gain = (least + SEARCH_MARGIN).min(f.max_gain);
        if let Some((_, heard)) = self.loudest(f, shift) {
            // Once noise fills the display, more gain no longer lowers the threshold: nothing is gained by calling it clear.
            let noise_gain = (f.threshold - f.noise_level).max(f.max_gain);
            let clear_gain = (f.threshold - heard.critical).min(noise_gain);
            f.clear_level = Some(heard.critical);
            f.clear_gain = Some(clear_gain);
            f.headroom = Some(clear_gain - f.working_gain);
            f.interference_fraction = heard.fraction(f.visible(f.set_gain));
            // Asked for only where neighbours show at any gain: each costs a search of its own.
            f.fraction_at_zero = (clear_gain < 0.0).then(|| heard.fraction(f.visible(0.0)));
            f.coverage_gain = f.coverage_gain.min(clear_gain).max(least);
        }
        f.search_gain = f.coverage_gain.max(f.set_gain);
    }

    /// The hole that is worst placed among the neighbours that show most.
    pub(crate) fn worst_hole(&self, rules: &Rules) -> Option<usize> {
        let figures = self.evaluate(rules, &Perturbation::NONE);
        let (clearance, _) = self.loudest(&figures, &Perturbation::NONE)?;
        Some(clearance.worst_hole(self.place.depth, self.place.slope))
    }

    /// What comes from whoever is around, of several kinds from the one that shows most, with its tables.
    fn loudest(&self, f: &Evaluation, shift: &Perturbation) -> Option<(&Clearance, NeighbourLevels<'_>)> {
        let adjust = Adjust {
            source_shift: 0.0,
            bottom_shift: shift.bottom,
            beam_scale: shift.beam_scale,
            bounce: self.ice_shift + shift.bounce,
            rarer: if shift.interval == 1.0 {
                1.0
            } else {
                libm::pow(shift.interval, f64::from(self.gear.confirmation.marks))
            },
            turned: shift.turned,
            display: shift.display,
        };
        match self.around {
            Around::Nobody => None,
            Around::Same(clearance) => Some((clearance, self.like_own(clearance, f, adjust))),
            Around::Others(company) => {
                let of = |kind: usize, louder: f64| {
                    let (clearance, sender) = (company.clearances.get(kind)?, company.senders.get(kind)?);
                    let bounce = sender.ice_shift + shift.bounce;
                    let adjust = Adjust { source_shift: sender.level + louder, beam_scale: 1.0, bounce, ..adjust };
                    Some((clearance, clearance.heard(self.place, sender.absorption, adjust)))
                };
                match shift.other {
                    Some(OtherUnit { unit, louder, .. }) => {
                        let (kind, level) = company.met.get(unit)?;
                        of(*kind, level + louder)
                    }
                    None => company
                        .loudest
                        .iter()
                        .enumerate()
                        .filter_map(|(kind, level)| of(kind, *level))
                        .chain(company.same.map(|same| (same, self.like_own(same, f, adjust))))
                        .max_by(|(_, a), (_, b)| a.critical.total_cmp(&b.critical)),
                }
            }
        }
    }

    /// What comes from units like one's own.
    fn like_own<'a>(&self, clearance: &'a Clearance, f: &Evaluation, adjust: Adjust) -> NeighbourLevels<'a> {
        let tabulated = self.gear.source + if self.gear.from_power { super::neighbours::WATT_LEVEL } else { 0.0 };
        let adjust = Adjust { source_shift: f.source_level - tabulated, ..adjust };
        clearance.heard(self.place, f.absorption, adjust)
    }

    /// Where fish show.
    fn coverage(&self, f: &mut Evaluation, aim: Aim) {
        let square = self.covered(f, f.coverage_gain, aim);
        f.coverage_radius = libm::sqrt(square);
        f.coverage_area = PI * square;
    }

    /// Radius of the disc of the area in which fish would show at the greatest gain of the sensor, m.
    pub(crate) fn radius_at_full_gain(&self, f: &Evaluation) -> f64 {
        libm::sqrt(self.covered(f, f.max_gain, Aim::new(self.place, &Perturbation::NONE)))
    }

    /// Square of the radius of the disc of the area in which fish show at a gain, on average over the layer: everywhere that the level is
    /// kept and the bottom's own echo is not there yet.
    fn covered(&self, f: &Evaluation, gain: f64, aim: Aim) -> f64 {
        let (place, gear) = (self.place, self.gear);
        let threshold = f.visible(gain);
        // A fish at the edge of what shows is as faint as a mark can be: any mark of the bottom hides it.
        let farthest = self.first_range(f, threshold, aim).nearest() - f.range_cell;
        // A leaning axis is longer to the same depth, and cuts it at a slant.
        let lean = if aim.tilt == [0.0; 2] { 1.0 } else { 1.0 / libm::cos(libm::hypot(aim.tilt[0], aim.tilt[1])) };
        let lean_loss = if lean == 1.0 { 0.0 } else { 40.0 * libm::log10(lean) };
        let mut square = 0.0;
        for node in &place.layer {
            let echo = self.echo(f, (node.spreading, node.depth), f.fish_strength, 0.0) - lean_loss;
            let level = 0.5 * (threshold - echo);
            let within = |range: f64| {
                let out = range / node.depth;
                gear.optics.beam.area(level, (out * out - 1.0) / aim.square)
            };
            let area = within(farthest) - within(f.blind_range.min(farthest));
            square += node.weight * node.depth * node.depth * area;
        }
        square * aim.square * lean * lean * lean
    }

    /// What other fish show beside the lure.
    fn resolution(&self, f: &mut Evaluation, aim: Aim) {
        let (place, gear) = (self.place, self.gear);
        let echo = self.echo(f, (place.lure_depth_spreading, place.lure_depth), f.fish_strength, 0.0);
        // What is behind the bottom under the hole does not show. Of a lure that the bottom hides, what shares its cell counts all the same:
        // to hide it is no resolution.
        let farthest = (place.depth - f.range_cell).max(place.lure_depth + f.range_cell) / place.lure_depth;
        let limit = (farthest * farthest - 1.0) / aim.square;
        let level = 0.5 * (f.visible(f.set_gain) - echo);
        let disc = place.lure_depth * place.lure_depth * gear.optics.beam.area(level, limit) * aim.square;
        f.watch_footprint = 2.0 * libm::sqrt(disc);
        f.other_fish = place.fish_per_m3 * PI * disc * f.range_cell;
        f.single_fish = libm::exp(-f.other_fish);
    }

    /// What hides the lure: the bottom, what stands on it, and plants.
    fn clutter(&self, f: &mut Evaluation, shift: &Perturbation, aim: Aim) {
        let (place, gear) = (self.place, self.gear);
        // What answers as loud as the lure, or louder, hides it.
        let first = self.first_range(f, f.lure_echo.max(f.visible(f.set_gain)), aim);
        f.plane_range = first.plane;
        f.first_range = first.nearest();
        let [depth, range, cell] = [place.depth, f.first_range, f.range_cell].map(Metres::new);
        f.dead_zone_height = geometry::dead_zone_height(depth, range, cell).get();
        f.clearance = place.lure_height - f.dead_zone_height;
        let Some(plants) = self.plants else { return };
        // Plants fill the part of the lure's cell that reaches down among them.
        f.cover_fill = ((place.lure_range + 0.5 * f.range_cell - place.canopy_top) / f.range_cell).min(1.0);
        if f.cover_fill > 0.0 {
            let psi = Steradians::new(gear.psi * aim.square);
            let strength = VolumeStrength::new(plants + shift.plants);
            let filled = Metres::new(f.range_cell * f.cover_fill);
            let cover = cell_strength(strength, filled, psi, Metres::new(place.lure_range)).get();
            f.cover_strength = Some(cover);
            f.lure_over_vegetation = Some(f.lure_strength + 2.0 * f.lure_beam - cover);
        }
    }

    /// The slant ranges from which the bottom, and what stands on it, hide what is there, by an echo
    /// of that level.
    fn first_range(&self, f: &Evaluation, level: f64, aim: Aim) -> First {
        let (place, gear) = (self.place, self.gear);
        let mut first = First { plane: place.depth, relief: f64::INFINITY };
        // Nothing of a level bottom is nearer than what is straight below.
        if place.slope > 0.0
            && let Some(echo) = gear.plane_echo(place.bottom)
        {
            let over = level - f.bottom_echo + f.plane - f.bottom_shift;
            let wanted = libm::exp(0.1 * std::f64::consts::LN_10 * over) / aim.square;
            let [window, until] = [f.range_cell, place.depth - place.plane].map(|m| m / place.plane / aim.square);
            let taken = echo.taken(Angle::new(aim.incidence / aim.scale), window, wanted, until);
            first.plane -= taken * place.plane * aim.square;
        }
        if !self.relief.is_empty() {
            // The same one way, relative to the axis.
            let level = 0.5 * (level - (f.bottom_echo - RELIEF_LOSS));
            for body in self.relief {
                let beam = |angle: f64| gear.optics.beam.best_level(aim.angle_to(angle) / aim.scale);
                first.relief = first.relief.min(body.first_range(beam, level));
            }
        }
        first
    }
}

/// From where on something is hidden.
struct First {
    /// The depth less all lengths of range that the bottom takes before.
    plane: f64,
    /// Nearest point of boulders and logs that shows.
    relief: f64,
}

impl First {
    fn nearest(&self) -> f64 {
        self.plane.min(self.relief)
    }
}

/// Height of the lure over what the bottom hides: none, and as much as a lure that is jigged moves up and down (ASSUMED: common practice, no
/// published source).
pub(crate) const CLEARANCE: OneSided = OneSided::line(0.0, 0.2);

/// Desirabilities, score, and whether the option qualifies.
fn verdict(f: &mut Evaluation, rules: &Rules) {
    let limits = &rules.weighing.limits;
    f.coverage_d = limits.coverage_radius.tailed(f.coverage_radius);
    f.shadow_d = limits.dead_zone_height.tailed(f.dead_zone_height);
    f.cover_d = f.lure_over_vegetation.map_or(1.0, |ratio| limits.lure_over_vegetation.tailed(ratio));
    f.clearance_d = CLEARANCE.tailed(f.clearance);
    // Each of them hides the lure, so the worst counts: what does not show a lure gets no credit for how well it would.
    f.clutter_d = f.shadow_d.min(f.clearance_d).min(f.cover_d);
    f.footprint_d = limits.watch_footprint.tailed(f.watch_footprint);
    f.resolution_d = f.footprint_d;
    if let Some(single) = limits.single_fish {
        f.single_d = single.tailed(f.single_fish);
        f.resolution_d = libm::sqrt(f.footprint_d * f.single_d);
    }
    f.interference_d = f.headroom.map_or(1.0, |headroom| limits.headroom.tailed(headroom));
    f.reserve = reserve(f);
    f.qualified = f.lure_gain <= f.max_gain
        && f.bottom_gain <= f.max_gain
        && f.lure_off_axis <= f.lobe_radius
        && f.clear_gain.is_none_or(|gain| gain >= 0.0)
        && f.noise_excess() <= 0.0
        && f.blind_room >= 0.0;
    f.score = f.scored(&rules.weighing.weights.as_array());
}

/// What the nearness of a failure leaves of the score, from 0 to 1: the score comes down before an option fails, and does not fall off an edge.
fn reserve(f: &Evaluation) -> f64 {
    let room = (f.max_gain - f.working_gain).min(-f.noise_excess()).min(f.clear_gain.unwrap_or(f64::INFINITY));
    let room = (room / LAST_ROOM).clamp(LOST_SHARE, 1.0);
    // Within a range cell of the ring-down the lure's mark runs into it.
    let clear = (f.blind_room / f.range_cell).clamp(LOST_SHARE, 1.0);
    let lost = ((f.lure_cost - LURE_NOTICE) / (LURE_RESERVE - LURE_NOTICE)).clamp(0.0, 1.0);
    let left = room * clear;
    if lost > 0.0 { left * libm::exp(lost * libm::log(LOST_SHARE)) } else { left }
}

impl Evaluation {
    /// The score under these weights: weighted geometric mean of the desirabilities, times what nearness of a failure leaves; 0 when disqualified.
    #[must_use]
    pub fn scored(&self, weights: &[f64; 4]) -> f64 {
        if self.qualified { self.reserve * overall(&self.desirabilities(), weights) } else { 0.0 }
    }
}
