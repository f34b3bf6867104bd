//! Every figure behind one finding, as a tree: symbol, formula, unit, source and provenance, and a sentence in plain words.
//!
//! The numbers are those of the evaluation itself, read from its figures; nothing is worked out a second time.

mod gains;
mod inputs;
mod lure;
mod step;

use crate::PlanningError;
use crate::selection::{Evaluation, Perturbation, Prepared, PreparedOption, PreparedSpot};
use acoustics::geometry;
use acoustics::units::{Angle, Db, Metres, WidthLevel};
use domain::check::plain;
use domain::desirability::OneSided;
use domain::goal::Preset;
use domain::selection::ExplainStep;
use domain::{BeamOption, Sensor, Spot};
use step::{Build, figure, heading};

const DESIRABILITY: &str = "Derringer and Suich, J. Qual. Technol. 12, 214 (1980)";
const GEOMETRY: &str = "plane geometry, checked against ray casting";

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
        let preset = self.prepared.rules.preset;
        let text = if f.qualified {
            format!("The four criteria in one figure from 0 to 1; weights of this goal: {}.", preset.reason)
        } else {
            let failures: Vec<String> = f.failures().iter().map(domain::selection::Failure::sentence).collect();
            format!("Disqualified, whatever the criteria say. {}", failures.join(" "))
        };
        let mut inputs =
            vec![self.coverage(&preset), self.clutter(&preset), self.resolution(&preset), self.interference(&preset)];
        let mut gains = vec![self.working_gain(), self.search_gain()];
        gains.extend(f.clear_gain.zip(f.clear_level).map(|clear| self.clear_gain(clear)));
        inputs.push(self.lure_seen());
        inputs.push(heading("gains", "Gains", "Where to set the dial, and why.", gains));
        figure("score", "S", "Score", f.score, "")
            .by(
                "S = ρ (Π d_i^w_i)^(1/Σ w_i), ρ what the nearness of a failure leaves; 0 when disqualified",
                DESIRABILITY,
            )
            .says(text)
            .from(inputs)
    }

    /// A desirability with its limits and weight.
    fn desirability(&self, name: &str, title: &str, value: f64, weight: f64) -> ExplainStep {
        let mut step = figure(name, "d", title, value, "").by("d from 0 (worthless) to 1 (ideal); under 0.1 it falls as e^(10 x - 1), x the way from worthless to ideal, so that worse stays worse", DESIRABILITY);
        step.inputs.push(figure(&format!("{name}_weight"), "w", "Weight", weight, "").by("", "preset of the goal"));
        step
    }

    fn coverage(&self, preset: &Preset) -> ExplainStep {
        let f = self.figures;
        let radius = figure("coverage_radius_m", "R", "Coverage radius", f.coverage_radius, "m")
            .by("π R² = mean over the fish layer of the area in which SL - 2 TL + TS_fish + 2 B passes the threshold at g_s, side lobes included, before the first return of the bottom", GEOMETRY)
            .says(format!(
                "Fish in the layer show in an area as large as a circle of {} m about the hole, on average.{}",
                hundredths(f.coverage_radius),
                between(preset.limits.coverage_radius, "m")
            ))
            .from(vec![
                figure("search_gain_db", "g_s", "Search gain", f.search_gain, "dB"),
                self.fish_strength(),
                figure("fish_layer_top_m", "", "Upper limit of the fish layer", self.spot.fish_layer.top.get(), "m")
                    .by("", "record of the spot"),
                figure(
                    "fish_layer_bottom_m",
                    "",
                    "Lower limit of the fish layer",
                    self.spot.fish_layer.bottom.get(),
                    "m",
                )
                .by("", "record of the spot"),
            ]);
        let area = figure("coverage_area_m2", "", "Coverage area", f.coverage_area, "m²").by("π R²", GEOMETRY);
        let full = self.case().map(|case| {
            let radius = case.radius_at_full_gain(f);
            figure("full_gain_radius_m", "R", "Coverage radius at the greatest gain", radius, "m")
                .by("as the coverage radius, at g_max", GEOMETRY)
                .says("What turning it all the way up would show, whatever else it shows.")
        });
        let mut step = self.desirability("coverage_desirability", "Coverage", f.coverage_d, preset.weights.coverage);
        step.inputs.extend([radius, area]);
        step.inputs.extend(full);
        step
    }

    fn clutter(&self, preset: &Preset) -> ExplainStep {
        let f = self.figures;
        let mut step = self.desirability("clutter_desirability", "Clutter", f.clutter_d, preset.weights.clutter);
        step.formula = "d = the worse of d(shadow) and d(cover): either one hides the lure".to_owned();
        step.inputs.push(
            figure("shadow_desirability", "d", "Shadow", f.shadow_d, "")
                .by("", DESIRABILITY)
                .from(vec![self.shadow(preset)]),
        );
        if let Some(ratio) = f.lure_over_vegetation {
            step.inputs.push(
                figure("cover_desirability", "d", "Cover", f.cover_d, "")
                    .by("", DESIRABILITY)
                    .from(vec![self.cover(preset, ratio)]),
            );
        }
        step
    }

    fn shadow(&self, preset: &Preset) -> ExplainStep {
        let (f, place) = (self.figures, self.place);
        let hidden =
            if place.lure_height < f.dead_zone_height { "and hides the lure" } else { "and the lure is above it" };
        let mut inputs = vec![
            figure("depth_m", "d", "Depth", place.depth, "m").by("", "record of the spot"),
            figure("plane_range_m", "r", "Range from which the bottom hides", f.plane_range, "m")
                .by("d less the lengths of range, before d, in which the bottom within a range cell, weighed by the beam and by its own S_b, answers with L or more", GEOMETRY)
                .from(vec![
                    figure("slope_deg", "α", "Slope of the bottom", place.slope.to_degrees(), "°")
                        .by("", "record of the spot"),
                    self.hiding_level(),
                ]),
        ];
        if f.first_range < f.plane_range {
            inputs.push(
                figure("relief_range_m", "r", "Range to the nearest boulder or log that shows", f.first_range, "m")
                    .by("the nearest point of its outline that the beam shows; its echo is ASSUMED 12 dB under the bottom's", GEOMETRY)
                    .says("Something that stands on the bottom answers before the bottom does."),
            );
        }
        inputs.push(self.range_cell());
        inputs.push(self.at_the_edge());
        figure("dead_zone_height_m", "h_s", "Dead zone height", f.dead_zone_height, "m")
            .by(
                "h_s = d - r_min + ΔR",
                "Ona and Mitson, ICES J. Mar. Sci. 53, 677 (1996), for a slope by plane geometry",
            )
            .says(format!(
                "The bottom's own echo reaches {} m over the bottom under the hole {hidden}.{}",
                hundredths(f.dead_zone_height),
                between(preset.limits.dead_zone_height, "m")
            ))
            .from(inputs)
    }

    /// What the beam as it is stated reaches and hides at its edge, whatever the gain.
    fn at_the_edge(&self) -> ExplainStep {
        const ONA_MITSON: &str = "Ona and Mitson, ICES J. Mar. Sci. 53, 677 (1996)";
        let (depth, cell) = (Metres::new(self.place.depth), Metres::new(self.figures.range_cell));
        let edge = self.gear.pattern.width(WidthLevel::Minus3).half();
        let slope = Angle::new(self.place.slope);
        let hidden = geometry::flat_dead_height(depth, edge, cell).get();
        figure("edge_dead_height_m", "", "Dead height at the edge of the beam as stated", hidden, "m")
            .by("d (1 - cos θ) + ΔR, over a flat bottom", ONA_MITSON)
            .says(format!("At its edge the bottom's own echo hides fish up to {} m.", hundredths(hidden)))
            .from(vec![
                figure("edge_deg", "θ", "Edge of the beam as stated", edge.to_degrees(), "°")
                    .by("-3 dB", self.pattern_source()),
                figure(
                    "edge_radius_m",
                    "",
                    "Radius of the beam as stated, at the bottom",
                    geometry::footprint_radius(depth, edge).get(),
                    "m",
                )
                .by("d tan θ", GEOMETRY),
                figure(
                    "edge_range_m",
                    "",
                    "Nearest bottom inside the beam as stated",
                    geometry::first_bottom_range(depth, slope, edge).get(),
                    "m",
                )
                .by("d cos α, or d cos α/cos(α - θ) where that is outside", GEOMETRY),
                figure(
                    "edge_dead_volume_m3",
                    "",
                    "Water that a flat bottom hides inside the beam as stated",
                    geometry::flat_dead_volume_m3(depth, edge),
                    "m³",
                )
                .by("(π/3) d³ tan²θ - (2π/3) d³ (1 - cos θ)", ONA_MITSON),
            ])
    }

    fn cover(&self, preset: &Preset, ratio: f64) -> ExplainStep {
        let f = self.figures;
        let source = if self.spot.canopy.is_some_and(|canopy| canopy.volume_strength.is_some()) {
            "record of the spot"
        } else {
            "ASSUMED from the density class; no absolute values for freshwater plants are published"
        };
        let plants = self.prepared.plants.get(self.spot_index).copied().flatten();
        let mut parts: Vec<ExplainStep> = plants
            .into_iter()
            .map(|plants| {
                figure("volume_strength_db", "S_v", "Strength of the plants", plants, "dB re 1 m⁻¹").by("", source)
            })
            .collect();
        parts.extend([
            figure("cover_fill", "q", "Part of the lure's cell that plants fill", f.cover_fill, "")
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
                    "Plants in the lure's cell, as a target strength",
                    strength,
                    "dB re 1 m²",
                )
                .from(parts.clone())
            })
            .collect();
        inputs.push(self.lure_strength());
        figure("lure_over_vegetation_db", "", "Lure over plants", ratio, "dB")
            .by(
                "TS_lure + 2 B(θ_lure) - [S_v + 10 lg(q ΔR ψ r²)]",
                "Simmonds and MacLennan, Fisheries Acoustics, 2nd ed. (2005), section 2.5",
            )
            .says(format!(
                "The lure answers {} dB {} than the plants in its cell.{}",
                tenths(ratio.abs()),
                if ratio < 0.0 { "weaker" } else { "stronger" },
                between(preset.limits.lure_over_vegetation, "dB")
            ))
            .from(inputs)
    }

    fn resolution(&self, preset: &Preset) -> ExplainStep {
        let f = self.figures;
        let footprint = figure("watch_footprint_m", "D", "Watch footprint", f.watch_footprint, "m")
            .by("π D²/4 = the area at the lure's depth in which SL - 2 TL + TS_fish + 2 B passes the threshold at g_w, side lobes included, before the bottom", GEOMETRY)
            .says(format!(
                "At the lure's depth, fish show in an area as large as a circle {} m across: the smaller, the surer that the mark is at the lure.{}",
                hundredths(f.watch_footprint),
                between(preset.limits.watch_footprint, "m")
            ))
            .from(vec![
                figure("working_gain_db", "g_w", "Working gain, as far as the dial goes", f.set_gain, "dB"),
                figure("lure_depth_m", "z", "Depth of the lure", self.place.lure_depth, "m").by("", "record of the spot"),
                self.fish_strength(),
            ]);
        let single = figure("single_fish_probability", "P", "Probability of a single fish", f.single_fish, "")
            .by("P = e^-N, N the expected number of other fish in the lure's cell", "Poisson distribution")
            .says("How likely a mark at the lure is one fish, while a school is under the hole.")
            .from(vec![
                figure("other_fish", "N", "Other fish in the lure's cell", f.other_fish, "")
                    .by("N = n·π (D/2)²·ΔR", GEOMETRY)
                    .from(vec![
                        figure("fish_per_m3", "n", "Density of the school", self.place.fish_per_m3, "fish per m³")
                            .by("", "record of the spot"),
                        self.range_cell(),
                    ]),
            ]);
        let mut step =
            self.desirability("resolution_desirability", "Resolution", f.resolution_d, preset.weights.resolution);
        if preset.limits.single_fish.is_some() {
            step.formula = "d = √(d(footprint)·d(single fish))".to_owned();
        }
        step.inputs.extend([footprint, single]);
        step
    }

    fn interference(&self, preset: &Preset) -> ExplainStep {
        let f = self.figures;
        let mut step =
            self.desirability("interference_desirability", "Neighbours", f.interference_d, preset.weights.interference);
        let (Some(headroom), Some(clear_gain)) = (f.headroom, f.clear_gain) else {
            step.text = "Fishing alone: nobody's pings are in the way.".to_owned();
            return step;
        };
        step.inputs.push(
            figure("headroom_db", "", "Headroom", headroom, "dB")
                .by("headroom = g_c - g_w", "definition of this model")
                .says(format!(
                    "{}{}",
                    if headroom < 0.0 {
                        "The gain that the spot needs already shows neighbours."
                    } else {
                        "There is room to turn the gain up before neighbours show."
                    },
                    between(preset.limits.headroom, "dB")
                ))
                .from(vec![
                    figure("clear_gain_db", "g_c", "Clear gain", clear_gain, "dB"),
                    figure("working_gain_db", "g_w", "Working gain", f.working_gain, "dB"),
                ]),
        );
        step.inputs.push(
            figure("interference_fraction", "", "Interference marks at working gain", f.interference_fraction, "")
                .by(
                    "1 - Π(1 - T_j/interval); with m of n confirmation the chance that m of n pings show a mark, as far as it moves between them",
                    "probability of random overlap; realization of m among n events",
                )
                .says(format!(
                    "{} % of the display would be neighbours' marks.",
                    hundredths(100.0 * f.interference_fraction)
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
    fn on_dial(&self, gain: f64) -> String {
        self.sensor
            .dial
            .dial_reading(Db::new(gain))
            .map_or_else(String::new, |reading| format!(" On the dial: {reading}."))
    }
}

/// Between which figures a desirability runs.
fn between(limits: OneSided, unit: &str) -> String {
    format!(" Worth nothing at {} {unit}, ideal at {} {unit}.", plain(limits.worthless), plain(limits.ideal))
}

fn hundredths(value: f64) -> String {
    plain(libm::round(value * 100.0) / 100.0)
}

fn tenths(value: f64) -> String {
    plain(libm::round(value * 10.0) / 10.0)
}
