//! Which defaults and assumed figures a finding leans on.

use super::option::PreparedOption;
use super::targets::Strength;
use acoustics::bottom::TABULATED_KHZ;
use acoustics::ice::{SHEET_SPREAD, USUAL_THICKNESS};
use acoustics::target::{ASPECT_SPREAD, fitted_khz};
use domain::selection::{Assumption, Others, RunInput};
use domain::{
    BeamOption, BottomClass, CanopyDensity, Fact, FishClass, PatternKind, Provenance, Sensor, Source, Spot, Target,
    TargetShape, check::plain, defaults,
};

/// The assumptions of one option at one spot, sensor first, then spot, then targets, then the models' own.
pub(crate) fn of(
    input: &RunInput,
    spot: &Spot,
    sensor: &Sensor,
    option: &BeamOption,
    gear: &PreparedOption,
    ice_loss: f64,
) -> Vec<Assumption> {
    let mut list = List(Vec::new());
    let neighbours = input.shelter.is_some();
    list.sensor(sensor, neighbours);
    list.option(option);
    list.spot(spot);
    list.target("lure", &input.lure, gear.lure);
    list.target("fish", &input.fish, gear.fish);
    list.models(spot, gear);
    if input.settings.lure_offset.is_none() {
        list.say(
            "lure_offset_m",
            format!(
                "the lure is taken to hang at the rim of the hole, {} m from the transducer",
                plain(spot.hole_radius.get())
            ),
        );
    }
    if neighbours {
        list.say(
            "ice_thickness_m",
            format!(
                "the ice is taken as a smooth sheet of {} m, backed by air, that sends {} dB less back down; rough or wet ice differs by some {} dB",
                plain(spot.ice_thickness.unwrap_or(USUAL_THICKNESS).get()),
                plain(libm::round(10.0 * ice_loss) / 10.0),
                plain(SHEET_SPREAD.get())
            ),
        );
        if !gear.pattern.is_round() {
            list.say(
                "heading",
                "how the beam is turned against its neighbours is not known: each counts as it is heard for longest"
                    .to_owned(),
            );
        }
        if spot.slope.get() > 0.0 {
            list.say(
                "slope_deg",
                "how the shelter stands on the slope is not known: each neighbour counts as it is heard for longest"
                    .to_owned(),
            );
        }
        let others = match input.others {
            Others::Same => "every neighbour is taken to use the same option at its working settings",
            Others::Given { .. } => {
                "every neighbour is taken to have whichever of the named options shows most here; in a draw all have one of them"
            }
            Others::Unknown => {
                "what the neighbours have is not known: each is taken to have whichever usual kind of sensor shows most here; in a draw all have one kind, as often as it is sold"
            }
        };
        list.say("shelter", others.to_owned());
    }
    list.0
}

struct List(Vec<Assumption>);

impl List {
    fn say(&mut self, field: &str, text: String) {
        self.0.push(Assumption { field: field.to_owned(), text });
    }

    /// Says so when a fact is assumed; `figure` is its value with unit.
    fn fact<T: Copy>(&mut self, field: &str, fact: Fact<T>, name: &str, figure: impl FnOnce(T) -> String) {
        if fact.provenance == Provenance::Assumed {
            self.say(field, format!("{name} is assumed to be {}, as nothing better is known", figure(fact.value)));
        }
    }

    fn sensor(&mut self, sensor: &Sensor, neighbours: bool) {
        self.fact("threshold_db", sensor.threshold, "the threshold at zero gain", |v| {
            format!("{} dB re 1 µPa", plain(v.get()))
        });
        self.fact("max_gain_db", sensor.max_gain, "the greatest gain", |v| format!("{} dB", plain(v.get())));
        self.fact("receiver_noise_db", sensor.receiver_noise, "receiver noise over thermal noise", |v| {
            format!("{} dB", plain(v.get()))
        });
        if neighbours {
            self.fact("ping_interval_ms", sensor.ping_interval, "the time from ping to ping", |v| {
                format!("{} ms", plain(v.get() * 1.0e3))
            });
            self.fact("ping_jitter_percent", sensor.ping_jitter, "the spread of the ping interval", |v| {
                format!("{} %", plain(v * 100.0))
            });
            if sensor.confirmation == defaults::CONFIRMATION {
                self.say(
                    "confirm_marks",
                    "each ping is taken to draw its marks, as when no confirmation is given".to_owned(),
                );
            }
        }
    }

    fn option(&mut self, option: &BeamOption) {
        self.fact("frequency_khz", option.frequency, "the frequency", |v| format!("{} kHz", plain(v.to_khz())));
        let degrees = |width: acoustics::units::Beamwidth| format!("{}°", plain(width.full.to_degrees()));
        match &option.pattern {
            PatternKind::CircularPiston { beamwidth } => {
                self.fact("beamwidth_deg", *beamwidth, "the beamwidth", degrees);
            }
            PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => {
                self.fact("beamwidth_deg", *beamwidth, "the beamwidth", degrees);
                self.fact("peak_side_lobe_db", *peak_side_lobe, "the peak side lobe", |v| {
                    format!("{} dB", plain(v.get()))
                });
            }
            PatternKind::Rectangular { along, across } => {
                self.fact("beamwidth_deg", *along, "the beamwidth", degrees);
                self.fact("cross_beamwidth_deg", *across, "the beamwidth across", degrees);
            }
            PatternKind::Tabulated { provenance: Provenance::Assumed, .. } => {
                self.say("pattern_points", "the tabulated pattern is assumed, not measured".to_owned());
            }
            PatternKind::Tabulated { .. } => {}
        }
        if !matches!(option.pattern, PatternKind::Tabulated { .. }) {
            self.say("pattern", "the side lobes of the beam are taken as strong as its shape has them; those of a real transducer often stand 3 to 5 dB over that".to_owned());
        }
        self.fact("floor_db", option.floor, "the side and back level of the pattern", |v| {
            format!("{} dB relative to the axis", plain(v.get()))
        });
        match option.source {
            Source::Stated(level) => {
                self.fact("source_level_db", level, "the source level", |v| format!("{} dB re 1 µPa m", plain(v.get())))
            }
            Source::Power { electrical, efficiency } => {
                self.fact("electrical_power_w", electrical, "the electrical power", |v| {
                    format!("{} W", plain(v.get()))
                });
                self.fact("efficiency_percent", efficiency, "the electro-acoustic efficiency", |v| {
                    format!("{} %", plain(v * 100.0))
                });
            }
        }
        self.fact("pulse_length_us", option.pulse_length, "the pulse length", |v| {
            format!("{} µs", plain(libm::round(10.0 * v.to_micros()) / 10.0))
        });
        if let Some(sweep) = option.sweep_bandwidth {
            self.fact("sweep_bandwidth_khz", sweep, "the swept bandwidth", |v| format!("{} kHz", plain(v.to_khz())));
        }
        self.fact("receiver_bandwidth_khz", option.receiver_bandwidth, "the receiver bandwidth", |v| {
            format!("{} kHz, what the pulse needs", plain(libm::round(v.to_khz() * 100.0) / 100.0))
        });
    }

    /// A spot's figures carry no provenance: one that equals the default for a field left out is named as such.
    fn spot(&mut self, spot: &Spot) {
        if spot.bottom_from == Provenance::Assumed {
            self.say(
                "bottom_class",
                "what the bottom is made of is not known: it is taken for sand, and draws go over mud, sand and hard bottoms"
                    .to_owned(),
            );
        }
        if spot.canopy_unknown {
            self.say(
                "canopy_unknown",
                "whether weeds stand there is not known: there are none in the single figures, and some in three draws of ten"
                    .to_owned(),
            );
        }
        let layer = defaults::fish_layer(spot.depth);
        if spot.fish_layer.top == layer.top && spot.fish_layer.bottom == layer.bottom {
            self.say(
                "fish_layer_top_m",
                "fish are looked for in the lower half of the water, as when no layer is given".to_owned(),
            );
        }
        if spot.fish_layer.per_cubic_metre == defaults::FISH_PER_CUBIC_METRE {
            self.say(
                "fish_per_m3",
                format!(
                    "a school is taken to hold {} fish per cubic metre, as when no density is given",
                    plain(defaults::FISH_PER_CUBIC_METRE)
                ),
            );
        }
        if spot.lure_height == defaults::lure_height(spot.depth) {
            self.say(
                "lure_height_m",
                format!(
                    "the lure is taken {} m over the bottom, as when no height is given",
                    plain(spot.lure_height.get())
                ),
            );
        }
        if spot.bottom_temperature == defaults::BOTTOM_TEMPERATURE {
            self.say(
                "bottom_temperature_c",
                "the water is taken to warm from 0 °C under the ice to 4 °C at the bottom".to_owned(),
            );
        }
    }

    fn target(&mut self, field: &str, target: &Target, strength: Strength) {
        let shaped = !matches!(target.shape, TargetShape::Fish { .. });
        if strength.extrapolated && shaped {
            self.say(field, format!("the model of the {field}'s shape does not reach this frequency: its target strength was scaled from the nearest one that it covers"));
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
            self.say(
                "fish_class",
                format!(
                    "the regression of the {field} was fitted at {at}: its strength at this frequency is spread wider"
                ),
            );
        }
        match target.shape {
            TargetShape::Known(strength) => self.fact("target_strength_db", strength, &format!("the target strength of the {field}"), |v| {
                format!("{} dB re 1 m²", plain(v.get()))
            }),
            TargetShape::Fish { class: FishClass::OpenSwimBladder, .. } => self.say(
                "fish_class",
                "a regression for herring-like fish stands in for fish with an open swim bladder".to_owned(),
            ),
            TargetShape::Fish { .. } => self.say(
                "fish_class",
                format!("the target strength of the {field} is the mean of a published regression on length; single fish differ by some decibels with their tilt"),
            ),
            TargetShape::Disc { .. } | TargetShape::Cylinder { .. } => self.say(
                "target",
                format!("the {field} is taken to turn any way up on its line: its strength is the mean over all aspects, and it flashes up to some {} dB stronger and weaker", plain(2.0 * ASPECT_SPREAD)),
            ),
            TargetShape::Sphere { .. } => {}
        }
    }

    /// What the models assume whatever the record says.
    fn models(&mut self, spot: &Spot, gear: &PreparedOption) {
        if spot.bottom.may_hold_gas() {
            let (low, high) = (spot.bottom.reflection_loss().get(), spot.bottom.reflection_spread().get());
            self.say("bottom_class", format!("the mud is taken free of gas; with gas, in one lake bottom of five, it echoes like rock. It takes {} dB at a bounce, give or take {} dB", plain(low), plain(high)));
        }
        if matches!(spot.bottom, BottomClass::OrganicOoze | BottomClass::SoftMud) {
            self.say("bottom_class", "no measured backscatter of fluid mud under fresh water was found: its echo is taken from its reflection".to_owned());
        } else {
            let spread = spot.bottom.strength_spread().get();
            let (low, high) = TABULATED_KHZ;
            if !(low..=high).contains(&gear.frequency.to_khz()) {
                self.say(
                    "frequency_khz",
                    format!(
                        "bottom echoes are modelled from {} to {} kHz: beyond, the nearest figure stands in",
                        plain(low),
                        plain(high)
                    ),
                );
            }
            self.say("bottom_class", format!("the strength of the bottom echo is taken from its class; published values for one class differ by some {spread} dB"));
        }
        if !spot.relief.is_empty() {
            self.say("relief", "boulders and logs are taken to answer 12 dB under the bottom".to_owned());
        }
        if let Some(canopy) = spot.canopy.filter(|canopy| canopy.volume_strength.is_none()) {
            let class = match canopy.density {
                CanopyDensity::Sparse => "single stems",
                CanopyDensity::Moderate => "a stand one can see through",
                CanopyDensity::Dense => "a mat",
            };
            self.say("canopy.volume_strength_db", format!("the echo of the plants is assumed from their density ({class}); no absolute values for freshwater plants are published"));
        }
    }
}
