//! Which defaults and assumed figures a finding leans on.

use super::figures::Evaluation;
use super::option::PreparedOption;
use super::targets::Strength;
use acoustics::bottom::TABULATED_KHZ;
use acoustics::ice::{SHEET_SPREAD, USUAL_THICKNESS};
use acoustics::target::{ASPECT_SPREAD, fitted_khz};
use acoustics::units::Metres;
use domain::selection::{Assumption, Others, RunInput};
use domain::{
    BeamOption, BottomClass, CanopyDensity, Fact, FishClass, Part, PatternKind, Provenance, Sensor, Sentence, Source,
    Spot, Target, TargetShape, check::plain, defaults,
};

/// From which part of the way to the nearest fish or the lure on the ring-down is worth a word.
const NEAR_ENOUGH: f64 = 0.5;

/// The assumptions of one option at one spot, sensor first, then spot, then targets, then the models' own.
pub(crate) fn of(
    input: &RunInput,
    spot: &Spot,
    sensor: &Sensor,
    option: &BeamOption,
    gear: &PreparedOption,
    (figures, ice_loss): (&Evaluation, f64),
) -> Vec<Assumption> {
    let mut list = List(Vec::new());
    let neighbours = input.shelter.is_some();
    list.sensor(sensor, neighbours);
    list.option(option);
    list.spot(spot);
    list.target(Role::Lure, &input.lure, gear.lure);
    list.target(Role::Fish, &input.fish, gear.fish);
    list.models(spot, gear);
    if input.settings.lure_offset.is_none() {
        list.say("lure_offset_m", figure("assume-lure-offset", Part::Length(spot.hole_radius)));
    }
    let rings_as_usual = option.ring_down.is_none_or(|time| time.provenance == Provenance::Assumed);
    if rings_as_usual
        && figures.blind_range > NEAR_ENOUGH * spot.fish_layer.top.get().min(figures.blind_range + figures.blind_room)
    {
        let blind = Metres::new(libm::round(100.0 * figures.blind_range) / 100.0);
        list.say("ring_down_us", figure("assume-ring-down", Part::Length(blind)));
    }
    if input.settings.lean.angle.get() > 0.0 && input.settings.lean.direction.is_none() {
        list.say("lean_direction_deg", Sentence::plain("assume-lean"));
    }
    if neighbours {
        let ice = [
            ("thickness", Part::Length(spot.ice_thickness.unwrap_or(USUAL_THICKNESS))),
            ("loss", Part::Figure(plain(libm::round(10.0 * ice_loss) / 10.0))),
            ("spread", Part::Figure(plain(SHEET_SPREAD.get()))),
        ];
        list.say("ice_thickness_m", Sentence::new("assume-ice-sheet", ice));
        if !gear.pattern.is_round() {
            list.say("heading", Sentence::plain("assume-heading"));
        }
        if spot.slope.get() > 0.0 {
            list.say("slope_deg", Sentence::plain("assume-slope-side"));
        }
        let company = match input.others {
            Others::Same => "assume-company",
            Others::Given { .. } => "assume-company-given",
            Others::Unknown => "assume-company-unknown",
        };
        list.say("shelter", Sentence::plain(company));
    }
    list.0
}

/// A sentence with one figure in it.
fn figure(key: &'static str, part: Part) -> Sentence {
    Sentence::new(key, [("figure", part)])
}

/// What a target is there for.
#[derive(Debug, Clone, Copy)]
enum Role {
    Lure,
    Fish,
}

impl Role {
    const fn field(self) -> &'static str {
        self.key("lure", "fish")
    }

    /// Of the two keys its own.
    const fn key(self, lure: &'static str, fish: &'static str) -> &'static str {
        match self {
            Self::Lure => lure,
            Self::Fish => fish,
        }
    }
}

struct List(Vec<Assumption>);

impl List {
    fn say(&mut self, field: &'static str, sentence: Sentence) {
        self.0.push(Assumption { field: field.into(), sentence });
    }

    /// Says so when a fact is assumed; `told` is its value with unit.
    fn fact<T: Copy>(&mut self, field: &'static str, fact: Fact<T>, key: &'static str, told: impl FnOnce(T) -> String) {
        if fact.provenance == Provenance::Assumed {
            self.say(field, figure(key, Part::Figure(told(fact.value))));
        }
    }

    fn sensor(&mut self, sensor: &Sensor, neighbours: bool) {
        self.fact("threshold_db", sensor.threshold, "assume-threshold", |v| format!("{} dB re 1 µPa", plain(v.get())));
        self.fact("max_gain_db", sensor.max_gain, "assume-max-gain", |v| format!("{} dB", plain(v.get())));
        self.fact("receiver_noise_db", sensor.receiver_noise, "assume-receiver-noise", |v| {
            format!("{} dB", plain(v.get()))
        });
        if neighbours {
            self.fact("ping_interval_ms", sensor.ping_interval, "assume-ping-interval", |v| {
                format!("{} ms", plain(v.get() * 1.0e3))
            });
            self.fact("ping_jitter_percent", sensor.ping_jitter, "assume-ping-jitter", |v| {
                format!("{} %", plain(v * 100.0))
            });
            if sensor.confirmation == defaults::CONFIRMATION {
                self.say("confirm_marks", Sentence::plain("assume-confirmation"));
            }
        }
    }

    fn option(&mut self, option: &BeamOption) {
        self.fact("frequency_khz", option.frequency, "assume-frequency", |v| format!("{} kHz", plain(v.to_khz())));
        let degrees = |width: acoustics::units::Beamwidth| format!("{}°", plain(width.full.to_degrees()));
        match &option.pattern {
            PatternKind::CircularPiston { beamwidth } => {
                self.fact("beamwidth_deg", *beamwidth, "assume-beamwidth", degrees);
            }
            PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => {
                self.fact("beamwidth_deg", *beamwidth, "assume-beamwidth", degrees);
                self.fact("peak_side_lobe_db", *peak_side_lobe, "assume-side-lobe", |v| {
                    format!("{} dB", plain(v.get()))
                });
            }
            PatternKind::Rectangular { along, across } => {
                self.fact("beamwidth_deg", *along, "assume-beamwidth", degrees);
                self.fact("cross_beamwidth_deg", *across, "assume-cross-beamwidth", degrees);
            }
            PatternKind::Tabulated { provenance: Provenance::Assumed, .. } => {
                self.say("pattern_points", Sentence::plain("assume-pattern"));
            }
            PatternKind::Tabulated { .. } => {}
        }
        if !option.width_level_known {
            self.say("beamwidth_level", Sentence::plain("assume-width-level"));
        }
        if !matches!(option.pattern, PatternKind::Tabulated { .. }) {
            self.say("pattern", Sentence::plain("assume-side-lobes"));
        }
        self.fact("floor_db", option.floor, "assume-floor", |v| format!("{} dB", plain(v.get())));
        match option.source {
            Source::Stated(level) => self
                .fact("source_level_db", level, "assume-source-level", |v| format!("{} dB re 1 µPa m", plain(v.get()))),
            Source::Power { electrical, kind, efficiency } => {
                if kind.is_none() {
                    self.say("power_kind", Sentence::plain("assume-power-kind"));
                }
                self.fact("electrical_power_w", electrical, "assume-power", |v| format!("{} W", plain(v.get())));
                self.fact("efficiency_percent", efficiency, "assume-efficiency", |v| format!("{} %", plain(v * 100.0)));
            }
        }
        self.fact("pulse_length_us", option.pulse_length, "assume-pulse-length", |v| {
            format!("{} µs", plain(libm::round(10.0 * v.to_micros()) / 10.0))
        });
        if let Some(sweep) = option.sweep_bandwidth {
            self.fact("sweep_bandwidth_khz", sweep, "assume-sweep", |v| format!("{} kHz", plain(v.to_khz())));
        }
        self.fact("receiver_bandwidth_khz", option.receiver_bandwidth, "assume-bandwidth", |v| {
            format!("{} kHz", plain(libm::round(v.to_khz() * 100.0) / 100.0))
        });
    }

    /// A spot's figures carry no provenance: one that equals the default for a field left out is named as such.
    fn spot(&mut self, spot: &Spot) {
        if spot.bottom_from == Provenance::Assumed {
            self.say("bottom_class", Sentence::plain("assume-bottom-unknown"));
        }
        if spot.canopy_unknown {
            self.say("canopy_unknown", Sentence::plain("assume-weeds-unknown"));
        }
        let layer = defaults::fish_layer(spot.depth);
        if spot.fish_layer.top == layer.top && spot.fish_layer.bottom == layer.bottom {
            self.say("fish_layer_top_m", Sentence::plain("assume-fish-layer"));
        }
        if spot.fish_layer.per_cubic_metre == defaults::FISH_PER_CUBIC_METRE {
            let density = Part::Figure(plain(defaults::FISH_PER_CUBIC_METRE));
            self.say("fish_per_m3", figure("assume-fish-density", density));
        }
        if spot.lure_height == defaults::lure_height(spot.depth) {
            self.say("lure_height_m", figure("assume-lure-height", Part::Length(spot.lure_height)));
        }
        if spot.bottom_temperature == defaults::BOTTOM_TEMPERATURE {
            self.say("bottom_temperature_c", Sentence::plain("assume-temperature"));
        }
    }

    fn target(&mut self, role: Role, target: &Target, strength: Strength) {
        let shaped = !matches!(target.shape, TargetShape::Fish { .. });
        if strength.extrapolated && shaped {
            self.say(role.field(), Sentence::plain(role.key("assume-beyond-lure", "assume-beyond-fish")));
        }
        if let TargetShape::Fish { class, .. } = target.shape
            && strength.extrapolated
        {
            let (low, high) = fitted_khz(class);
            let at = if low < high {
                format!("{} to {} kHz", plain(low), plain(high))
            } else {
                format!("{} kHz", plain(low))
            };
            let key = role.key("assume-fitted-lure", "assume-fitted-fish");
            self.say("fish_class", figure(key, Part::Figure(at)));
        }
        match target.shape {
            TargetShape::Known(strength) => {
                let key = role.key("assume-strength-lure", "assume-strength-fish");
                self.fact("target_strength_db", strength, key, |v| format!("{} dB re 1 m²", plain(v.get())));
            }
            TargetShape::Fish { class: FishClass::OpenSwimBladder, .. } => {
                self.say("fish_class", Sentence::plain("assume-herring"));
            }
            TargetShape::Fish { .. } => {
                self.say("fish_class", Sentence::plain(role.key("assume-regression-lure", "assume-regression-fish")));
            }
            TargetShape::Disc { .. } | TargetShape::Cylinder { .. } => {
                let key = role.key("assume-aspect-lure", "assume-aspect-fish");
                let flashes = Part::Figure(format!("{} dB", plain(2.0 * ASPECT_SPREAD)));
                self.say("target", figure(key, flashes));
            }
            TargetShape::Sphere { .. } => {}
        }
    }

    /// What the models assume whatever the record says.
    fn models(&mut self, spot: &Spot, gear: &PreparedOption) {
        if spot.bottom.may_hold_gas() {
            let (low, high) = (spot.bottom.reflection_loss().get(), spot.bottom.reflection_spread().get());
            let bounce = [("loss", Part::Figure(plain(low))), ("spread", Part::Figure(plain(high)))];
            self.say("bottom_class", Sentence::new("assume-gas", bounce));
        }
        if matches!(spot.bottom, BottomClass::OrganicOoze | BottomClass::SoftMud) {
            self.say("bottom_class", Sentence::plain("assume-mud"));
        } else {
            let spread = spot.bottom.strength_spread().get();
            let (low, high) = TABULATED_KHZ;
            if !(low..=high).contains(&gear.frequency.to_khz()) {
                let band = [("low", Part::Figure(plain(low))), ("high", Part::Figure(plain(high)))];
                self.say("frequency_khz", Sentence::new("assume-bottom-band", band));
            }
            self.say("bottom_class", figure("assume-bottom", Part::Figure(format!("{spread} dB"))));
        }
        if !spot.relief.is_empty() {
            self.say("relief", Sentence::plain("assume-relief"));
        }
        if let Some(canopy) = spot.canopy.filter(|canopy| canopy.volume_strength.is_none()) {
            let key = match canopy.density {
                CanopyDensity::Sparse => "assume-stems",
                CanopyDensity::Moderate => "assume-stand",
                CanopyDensity::Dense => "assume-mat",
            };
            self.say("canopy.volume_strength_db", Sentence::plain(key));
        }
    }
}
