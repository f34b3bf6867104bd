//! Every figure behind one finding, as a tree: symbol, formula, unit, source and provenance, and a sentence in plain words.
//!
//! The numbers are those of the evaluation itself, read from its figures; nothing is worked out a second time.

mod gains;
mod inputs;
mod lure;
mod step;

use crate::PlanningError;
use crate::selection::{CLEARANCE, Evaluation, Perturbation, Prepared, PreparedOption, PreparedSpot};
use acoustics::geometry;
use acoustics::units::{Angle, Db, Metres, WidthLevel};
use domain::check::plain;
use domain::desirability::OneSided;
use domain::goal::Weighing;
use domain::selection::{ExplainStep, Failure, Origin};
use domain::{BeamOption, Part, Sensor, Sentence, Spot};
use step::{Build, figure, heading};

const DESIRABILITY: Origin = Origin::Published("Derringer and Suich, J. Qual. Technol. 12, 214 (1980)");
const GEOMETRY: Origin = Origin::Said("from-geometry");

/// One finding under explanation.
struct Subject<'a> {
    prepared: &'a Prepared,
    figures: &'a Evaluation,
    place: &'a PreparedSpot,
    gear: &'a PreparedOption,
    spot: &'a Spot,
    sensor: &'a Sensor,
    option: &'a BeamOption,
    option_index: usize,
    spot_index: usize,
}

/// The hole that is judged.
struct WorstPlaced {
    hole: usize,
    nearest: f64,
}

/// The tree behind the finding of one option at one spot: the score at the root.
///
/// # Errors
/// An index that the run does not have.
pub fn explain(prepared: &Prepared, spot: usize, option: usize) -> Result<ExplainStep, PlanningError> {
    let figures = prepared.figures(spot, option, &Perturbation::NONE)?;
    let unknown =
        |what, given, count: usize| PlanningError::UnknownIndex { what, given, last: count.saturating_sub(1) };
    let spots = prepared.spot_count();
    let place = prepared.places.get(spot).ok_or_else(|| unknown("spot", spot, spots))?;
    let record = prepared.input.spots.get(spot).ok_or_else(|| unknown("spot", spot, spots))?;
    let options = prepared.option_count();
    let gear = prepared.gears.get(option).ok_or_else(|| unknown("option", option, options))?;
    let (sensor, beam) = prepared.option(option).ok_or_else(|| unknown("option", option, options))?;
    let subject = Subject {
        prepared,
        figures: &figures,
        place,
        gear,
        spot: record,
        sensor,
        option: beam,
        option_index: option,
        spot_index: spot,
    };
    Ok(subject.root())
}

impl Subject<'_> {
    fn root(&self) -> ExplainStep {
        let f = self.figures;
        let weighing = self.prepared.rules.weighing;
        let failures = f.failures();
        let text = if f.qualified { self.prepared.input.settings.goal.reason() } else { Sentence::plain("behind-out") };
        let mut inputs = vec![
            self.coverage(&weighing),
            self.clutter(&weighing),
            self.resolution(&weighing),
            self.interference(&weighing),
        ];
        let mut gains = vec![self.working_gain(), self.search_gain()];
        gains.extend(f.clear_gain.zip(f.clear_level).map(|clear| self.clear_gain(clear)));
        inputs.push(self.lure_seen());
        inputs.push(heading("gains", "figure-gains", Sentence::plain("behind-gains"), gains));
        let mut score = figure("score", "S", "figure-score", f.score, "")
            .by(
                "S = ρ (Π d_i^w_i)^(1/Σ w_i), ρ what the nearness of a failure leaves; 0 when disqualified",
                DESIRABILITY,
            )
            .says(text)
            .from(inputs);
        score.text.extend(failures.iter().map(Failure::sentence));
        score
    }

    /// A desirability with its limits and weight.
    fn desirability(&self, name: &str, title: &'static str, value: f64, weight: f64) -> ExplainStep {
        let mut step = figure(name, "d", title, value, "").by("d from 0 (worthless) to 1 (ideal); under 0.1 it falls as e^(10 x - 1), x the way from worthless to ideal, so that worse stays worse", DESIRABILITY);
        step.inputs.push(
            figure(&format!("{name}_weight"), "w", "figure-weight", weight, "")
                .by("", Origin::Said(self.prepared.input.settings.goal.origin())),
        );
        step
    }

    fn coverage(&self, weighing: &Weighing) -> ExplainStep {
        let f = self.figures;
        let radius = figure("coverage_radius_m", "R", "figure-coverage-radius", f.coverage_radius, "m")
            .by("π R² = mean over the fish layer of the area in which SL - 2 TL + TS_fish + 2 B passes the threshold at g_s, side lobes included, before the first return of the bottom", GEOMETRY)
            .says(length("behind-coverage", "radius", f.coverage_radius))
            .says(between_lengths(weighing.limits.coverage_radius))
            .from(vec![
                figure("search_gain_db", "g_s", "figure-search-gain", f.search_gain, "dB"),
                self.fish_strength(),
                figure("fish_layer_top_m", "", "figure-upper-limit-of-the-fish-layer", self.spot.fish_layer.top.get(), "m")
                    .by("", Origin::Said("from-spot")),
                figure(
                    "fish_layer_bottom_m",
                    "",
                    "figure-lower-limit-of-the-fish-layer",
                    self.spot.fish_layer.bottom.get(),
                    "m",
                )
                .by("", Origin::Said("from-spot")),
                self.blind_range(),
            ]);
        let area = figure("coverage_area_m2", "", "figure-coverage-area", f.coverage_area, "m²").by("π R²", GEOMETRY);
        let full = self.case().map(|case| {
            let radius = case.radius_at_full_gain(f);
            figure("full_gain_radius_m", "R", "figure-coverage-radius-at-the-greatest-gain", radius, "m")
                .by("as the coverage radius, at g_max", GEOMETRY)
                .says(Sentence::plain("behind-full-gain"))
        });
        let mut step =
            self.desirability("coverage_desirability", "figure-coverage", f.coverage_d, weighing.weights.coverage);
        step.inputs.extend([radius, area]);
        step.inputs.extend(full);
        step
    }

    fn clutter(&self, weighing: &Weighing) -> ExplainStep {
        let f = self.figures;
        let mut step =
            self.desirability("clutter_desirability", "figure-clutter", f.clutter_d, weighing.weights.clutter);
        step.formula = "d = the worst of d(shadow), d(clearance) and d(cover): each hides the lure";
        step.inputs.push(
            figure("shadow_desirability", "d", "figure-shadow", f.shadow_d, "")
                .by("", DESIRABILITY)
                .from(vec![self.shadow(weighing)]),
        );
        step.inputs.push(
            figure("clearance_desirability", "d", "figure-clearance-over-it", f.clearance_d, "")
                .by("", DESIRABILITY)
                .from(vec![
                    figure("clearance_m", "c", "figure-clearance", f.clearance, "m")
                        .by("c = h_lure - h_s", GEOMETRY)
                        .says(between_lengths(CLEARANCE))
                        .from(vec![
                            figure("lure_height_m", "h_lure", "figure-lure-height", self.place.lure_height, "m")
                                .by("", Origin::Said("from-spot")),
                            figure("dead_zone_height_m", "h_s", "figure-shadow-height", f.dead_zone_height, "m"),
                        ]),
                ]),
        );
        if let Some(ratio) = f.lure_over_vegetation {
            step.inputs.push(
                figure("cover_desirability", "d", "figure-cover", f.cover_d, "")
                    .by("", DESIRABILITY)
                    .from(vec![self.cover(weighing, ratio)]),
            );
        }
        step
    }

    fn shadow(&self, weighing: &Weighing) -> ExplainStep {
        let (f, place) = (self.figures, self.place);
        let hides = place.lure_height < f.dead_zone_height;
        let told = if hides { "behind-shadow-hides" } else { "behind-shadow-under" };
        let mut inputs = vec![
            figure("depth_m", "d", "figure-depth", place.depth, "m").by("", Origin::Said("from-spot")),
            figure("plane_range_m", "r", "figure-range-from-which-the-bottom-hides", f.plane_range, "m")
                .by("d less the lengths of range, before d, in which the bottom within a range cell, weighed by the beam and by its own S_b, answers with L or more", GEOMETRY)
                .from(vec![
                    figure("slope_deg", "α", "figure-slope-of-the-bottom", place.slope.to_degrees(), "°")
                        .by("", Origin::Said("from-spot")),
                    self.hiding_level(),
                ]),
        ];
        if f.first_range < f.plane_range {
            inputs.push(
                figure("relief_range_m", "r", "figure-range-to-the-nearest-boulder-or-log-that-shows", f.first_range, "m")
                    .by("the nearest point of its outline that the beam shows; its echo is ASSUMED 12 dB under the bottom's", GEOMETRY)
                    .says(Sentence::plain("behind-relief")),
            );
        }
        inputs.push(self.range_cell());
        inputs.push(self.at_the_edge());
        figure("dead_zone_height_m", "h_s", "figure-shadow-height", f.dead_zone_height, "m")
            .by(
                "h_s = d - r_min + ΔR",
                Origin::Published("Ona and Mitson, ICES J. Mar. Sci. 53, 677 (1996), for a slope by plane geometry"),
            )
            .says(length(told, "height", f.dead_zone_height))
            .says(between_lengths(weighing.limits.dead_zone_height))
            .from(inputs)
    }

    /// What the beam as it is stated reaches and hides at its edge, whatever the gain.
    fn at_the_edge(&self) -> ExplainStep {
        const ONA_MITSON: Origin = Origin::Published("Ona and Mitson, ICES J. Mar. Sci. 53, 677 (1996)");
        let (depth, cell) = (Metres::new(self.place.depth), Metres::new(self.figures.range_cell));
        let edge = self.gear.pattern.width(WidthLevel::Minus3).half();
        let slope = Angle::new(self.place.slope);
        let hidden = geometry::flat_dead_height(depth, edge, cell).get();
        figure("edge_dead_height_m", "", "figure-dead-height-at-the-edge-of-the-beam-as-stated", hidden, "m")
            .by("d (1 - cos θ) + ΔR, over a flat bottom", ONA_MITSON)
            .says(length("behind-edge", "height", hidden))
            .from(vec![
                figure("edge_deg", "θ", "figure-edge-of-the-beam-as-stated", edge.to_degrees(), "°")
                    .by("-3 dB", self.pattern_source()),
                figure(
                    "edge_radius_m",
                    "",
                    "figure-radius-of-the-beam-as-stated-at-the-bottom",
                    geometry::footprint_radius(depth, edge).get(),
                    "m",
                )
                .by("d tan θ", GEOMETRY),
                figure(
                    "edge_range_m",
                    "",
                    "figure-nearest-bottom-inside-the-beam-as-stated",
                    geometry::first_bottom_range(depth, slope, edge).get(),
                    "m",
                )
                .by("d cos α, or d cos α/cos(α - θ) where that is outside", GEOMETRY),
                figure(
                    "edge_dead_volume_m3",
                    "",
                    "figure-water-that-a-flat-bottom-hides-inside-the-beam-as-stated",
                    geometry::flat_dead_volume_m3(depth, edge),
                    "m³",
                )
                .by("(π/3) d³ tan²θ - (2π/3) d³ (1 - cos θ)", ONA_MITSON),
            ])
    }

    fn cover(&self, weighing: &Weighing, ratio: f64) -> ExplainStep {
        let f = self.figures;
        let source = if self.spot.canopy.is_some_and(|canopy| canopy.volume_strength.is_some()) {
            Origin::Said("from-spot")
        } else {
            Origin::Said("from-plants")
        };
        let plants = self.prepared.plants.get(self.spot_index).copied().flatten();
        let mut parts: Vec<ExplainStep> = plants
            .into_iter()
            .map(|plants| {
                figure("volume_strength_db", "S_v", "figure-strength-of-the-plants", plants, "dB re 1 m⁻¹")
                    .by("", source)
            })
            .collect();
        parts.extend([
            figure("cover_fill", "q", "figure-part-of-the-lure-s-cell-that-plants-fill", f.cover_fill, "")
                .by("q = (r + ΔR/2 - depth of their top)/ΔR, at most 1", GEOMETRY),
            self.psi(),
            self.range_cell(),
        ]);
        let mut inputs: Vec<ExplainStep> = f
            .cover_strength
            .into_iter()
            .map(|strength| {
                figure(
                    "cover_strength_db",
                    "",
                    "figure-plants-in-the-lure-s-cell-as-a-target-strength",
                    strength,
                    "dB re 1 m²",
                )
                .from(parts.clone())
            })
            .collect();
        inputs.push(self.lure_strength());
        figure("lure_over_vegetation_db", "", "figure-lure-over-plants", ratio, "dB")
            .by(
                "TS_lure + 2 B(θ_lure) - [S_v + 10 lg(q ΔR ψ r²)]",
                Origin::Published("Simmonds and MacLennan, Fisheries Acoustics, 2nd ed. (2005), section 2.5"),
            )
            .says(Sentence::new(
                if ratio < 0.0 { "behind-plants-weaker" } else { "behind-plants-stronger" },
                [("ratio", decibels(ratio.abs()))],
            ))
            .says(between_decibels(weighing.limits.lure_over_vegetation))
            .from(inputs)
    }

    fn resolution(&self, weighing: &Weighing) -> ExplainStep {
        let f = self.figures;
        let footprint = figure("watch_footprint_m", "D", "figure-watch-footprint", f.watch_footprint, "m")
            .by("π D²/4 = the area at the lure's depth in which SL - 2 TL + TS_fish + 2 B passes the threshold at g_w, side lobes included, before the bottom", GEOMETRY)
            .says(length("behind-footprint", "width", f.watch_footprint))
            .says(between_lengths(weighing.limits.watch_footprint))
            .from(vec![
                figure("working_gain_db", "g_w", "figure-working-gain-as-far-as-the-dial-goes", f.set_gain, "dB"),
                figure("lure_depth_m", "z", "figure-depth-of-the-lure", self.place.lure_depth, "m").by("", Origin::Said("from-spot")),
                self.fish_strength(),
            ]);
        let single = figure("single_fish_probability", "P", "figure-probability-of-a-single-fish", f.single_fish, "")
            .by("P = e^-N, N the expected number of other fish in the lure's cell", Origin::Said("from-poisson"))
            .says(Sentence::plain("behind-single"))
            .from(vec![
                figure("other_fish", "N", "figure-other-fish-in-the-lure-s-cell", f.other_fish, "")
                    .by("N = n·π (D/2)²·ΔR", GEOMETRY)
                    .from(vec![
                        figure("fish_per_m3", "n", "figure-density-of-the-school", self.place.fish_per_m3, "m⁻³")
                            .by("", Origin::Said("from-spot")),
                        self.range_cell(),
                    ]),
            ]);
        let mut step = self.desirability(
            "resolution_desirability",
            "figure-resolution",
            f.resolution_d,
            weighing.weights.resolution,
        );
        if weighing.limits.single_fish.is_some() {
            step.formula = "d = √(d(footprint)·d(single fish))";
        }
        step.inputs.extend([footprint, single]);
        step
    }

    fn interference(&self, weighing: &Weighing) -> ExplainStep {
        let f = self.figures;
        let mut step = self.desirability(
            "interference_desirability",
            "figure-neighbours",
            f.interference_d,
            weighing.weights.interference,
        );
        let (Some(headroom), Some(clear_gain)) = (f.headroom, f.clear_gain) else {
            return step.says(Sentence::plain("behind-alone"));
        };
        step.inputs.push(
            figure("headroom_db", "", "figure-headroom", headroom, "dB")
                .by("headroom = g_c - g_w", Origin::Said("from-model"))
                .says(Sentence::plain(if headroom < 0.0 { "behind-headroom-none" } else { "behind-headroom" }))
                .says(between_decibels(weighing.limits.headroom))
                .from(vec![
                    figure("clear_gain_db", "g_c", "figure-clear-gain", clear_gain, "dB"),
                    figure("working_gain_db", "g_w", "figure-working-gain", f.working_gain, "dB"),
                ]),
        );
        step.inputs.push(
            figure("interference_fraction", "", "figure-foreign-marks-at-working-gain", f.interference_fraction, "")
                .by(
                    "1 - Π(1 - T_j/interval); with m of n confirmation the chance that m of n pings show a mark, as far as it moves between them",
                    Origin::Published("probability of random overlap; realization of m among n events"),
                )
                .says(Sentence::new(
                    "behind-foreign",
                    [("share", Part::Figure(format!("{} %", hundredths(100.0 * f.interference_fraction))))],
                )),
        );
        step
    }

    /// The hole that is judged and how near its nearest neighbour is.
    fn worst_placed(&self) -> Option<WorstPlaced> {
        let hole = self.prepared.worst_hole(self.spot_index, self.option_index)?;
        let around = &self.prepared.neighbours.as_ref()?.neighbourhood;
        let view = around.views.iter().find(|view| view.hole == hole)?;
        Some(WorstPlaced { hole, nearest: *around.distances.get(*view.neighbours.first()?)? })
    }

    /// Where a gain stands on the sensor's own dial, as a sentence.
    fn on_dial(&self, gain: f64) -> Option<Sentence> {
        let reading = self.sensor.dial.dial_reading(Db::new(gain))?;
        Some(Sentence::new("behind-dial", [("reading", Part::Figure(reading))]))
    }
}

/// Between which lengths a desirability runs.
fn between_lengths(limits: OneSided) -> Sentence {
    let [worthless, ideal] = [limits.worthless, limits.ideal].map(|length| Part::Length(Metres::new(length)));
    Sentence::new("behind-worth", [("worthless", worthless), ("ideal", ideal)])
}

/// Between which levels a desirability runs.
fn between_decibels(limits: OneSided) -> Sentence {
    let [worthless, ideal] = [limits.worthless, limits.ideal].map(|level| Part::Figure(format!("{} dB", plain(level))));
    Sentence::new("behind-worth", [("worthless", worthless), ("ideal", ideal)])
}

/// A sentence about a length.
fn length(key: &'static str, name: &'static str, metres: f64) -> Sentence {
    Sentence::new(key, [(name, metric(metres))])
}

/// A length in centimetres.
fn metric(metres: f64) -> Part {
    Part::Length(Metres::new(libm::round(metres * 100.0) / 100.0))
}

fn decibels(level: f64) -> Part {
    Part::Figure(format!("{} dB", tenths(level)))
}

fn hundredths(value: f64) -> String {
    plain(libm::round(value * 100.0) / 100.0)
}

fn tenths(value: f64) -> String {
    plain(libm::round(value * 10.0) / 10.0)
}
