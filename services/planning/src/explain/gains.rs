//! Gains and what they are made from.

use super::Subject;
use super::step::{Build, figure};
use crate::selection::SEARCH_MARGIN;
use acoustics::levels::{bottom_area_m2, two_way_loss, two_way_spreading};
use acoustics::units::{DbPerMetre, Metres, Steradians};
use domain::check::plain;
use domain::selection::ExplainStep;

const SONAR_EQUATION: &str = "R. J. Urick, Principles of Underwater Sound, 3rd ed. (1983), eq. 2.1";
const MODEL: &str = "definition of this model";

impl Subject<'_> {
    /// The gain to start with, from lure and bottom.
    pub(super) fn working_gain(&self) -> ExplainStep {
        let f = self.figures;
        let leader = if f.lure_gain >= f.bottom_gain { "lure" } else { "bottom" };
        figure("working_gain_db", "g_w", "Working gain", f.working_gain, "dB")
            .by("g_w = max(g_lure, g_bottom)", MODEL)
            .says(format!("Start here: the {leader} is the harder of the two to show.{}", self.on_dial(f.working_gain)))
            .from(vec![self.lure_gain(), self.bottom_gain()])
    }

    fn lure_gain(&self) -> ExplainStep {
        let f = self.figures;
        let margin = self.prepared.rules.lure_margin;
        figure("lure_gain_db", "g_lure", "Gain that shows the lure", f.lure_gain, "dB")
            .by("g_lure = max(0, T0 + margin - EL_lure)", MODEL)
            .says("The least gain at which the lure's mark is safely over the threshold.")
            .from(vec![
                self.threshold(),
                figure("lure_margin_db", "margin", "Margin of the lure over the threshold", margin, "dB")
                    .by("", "setting of the run"),
                self.lure_echo(),
            ])
    }

    fn lure_echo(&self) -> ExplainStep {
        let (f, place) = (self.figures, self.place);
        let loss = self.loss(place.lure_range);
        figure("lure_echo_db", "EL_lure", "Echo of the lure", f.lure_echo, "dB re 1 µPa")
            .by("EL_lure = SL - 40 lg r - 2 α r + TS_lure + 2 B(θ_lure)", SONAR_EQUATION)
            .says("How strong the lure's echo is when it is back at the transducer.")
            .from(vec![
                self.source_level(),
                figure("lure_range_m", "r", "Slant range to the lure", place.lure_range, "m")
                    .by("r = √((d - h)² + x²)", "plane geometry"),
                figure("lure_loss_db", "2 TL", "Loss on the way down and back", loss, "dB")
                    .by("2 TL = 40 lg r + 2 α r", SONAR_EQUATION)
                    .from(vec![self.absorption()]),
                self.lure_strength(),
                figure("lure_beam_db", "B(θ_lure)", "Beam towards the lure, one way", f.lure_beam, "dB")
                    .by("the pattern at θ_lure = atan(x / (d - h)), from the lean of the axis", self.pattern_source())
                    .says("How much weaker the beam is where the lure hangs than on its axis.")
                    .from(vec![
                        figure(
                            "lure_angle_deg",
                            "θ_lure",
                            "Angle of the lure from the axis",
                            f.lure_angle.to_degrees(),
                            "°",
                        ),
                        figure("lure_offset_m", "x", "Lateral offset of the lure", place.lure_offset, "m"),
                    ]),
            ])
    }

    fn bottom_gain(&self) -> ExplainStep {
        let f = self.figures;
        let strong = self.prepared.rules.strong_mark;
        figure("bottom_gain_db", "g_bottom", "Gain that shows the bottom", f.bottom_gain, "dB")
            .by("g_bottom = max(0, T0 + strong mark - EL_bottom)", MODEL)
            .says("The least gain at which the bottom stands out as a bottom; a soft bottom needs more.")
            .from(vec![
                self.threshold(),
                figure("strong_mark_db", "strong mark", "How far the bottom must pass the threshold", strong, "dB")
                    .by("", "setting of the run"),
                self.bottom_echo(),
            ])
    }

    pub(super) fn bottom_echo(&self) -> ExplainStep {
        let (f, place) = (self.figures, self.place);
        let loss = self.loss(place.depth);
        let cell = Metres::new(f.range_cell);
        let area = bottom_area_m2(Steradians::new(self.gear.psi), Metres::new(place.depth), cell);
        // The integral over the plane, told per square metre of the textbook's area.
        let strength = f.bottom_echo - f.source_level + loss - 10.0 * libm::log10(area);
        figure("bottom_echo_db", "EL_bottom", "Echo of the bottom", f.bottom_echo, "dB re 1 µPa")
            .by("EL_bottom = SL - 40 lg d - 2 α d + S_b + 10 lg A", "Urick (1983), section 8.2")
            .says("How strong the bottom's echo is, straight under the hole.")
            .from(vec![
                self.source_level(),
                figure("bottom_loss_db", "2 TL", "Loss on the way down and back", loss, "dB")
                    .by("2 TL = 40 lg d + 2 α d", SONAR_EQUATION)
                    .from(vec![self.absorption()]),
                figure("bottom_strength_db", "S_b", "Strength of the bottom, per square metre", strength, "dB")
                    .by(
                        "∫ S_b b² cos³ i du over the plane within a range cell, at its peak, over what A alone would give; i the incidence, u = sec i - 1",
                        "S_b: APL-UW TM 2-00 (2000); Jackson and Richardson (2007), doi:10.1007/978-0-387-36945-7; clay and softer by their reflection",
                    )
                    .says(format!(
                        "What a {} bottom sends back; nature differs by some {} dB.",
                        self.bottom_word(),
                        plain(self.spot.bottom.strength_spread().get())
                    )),
                figure("bottom_area_m2", "A", "Bottom that one pulse insonifies", area, "m²")
                    .by("A = min(ψ d², 2 π d ΔR)", "Urick (1983), section 8.2")
                    .from(vec![self.psi(), self.sound_speed()]),
                figure("incidence_deg", "β", "Angle between the beam's axis and the upright on the bottom", self.incidence().to_degrees(), "°")
                    .by("slope less lean", "record of the spot; setting of the run"),
            ])
    }

    /// Two-way loss to a range.
    fn loss(&self, range: f64) -> f64 {
        let range = Metres::new(range);
        two_way_loss(two_way_spreading(range), range, DbPerMetre::new(self.figures.absorption)).get()
    }

    /// The gain to look around with.
    pub(super) fn search_gain(&self) -> ExplainStep {
        let f = self.figures;
        let mut inputs = vec![
            figure(
                "lure_gain_on_axis_db",
                "g_axis",
                "Gain that would show the lure on the axis",
                f.lure_gain_on_axis,
                "dB",
            )
            .by("as g_lure, with B = 0 and the lure straight below", SONAR_EQUATION),
            figure("bottom_gain_db", "g_bottom", "Gain that shows the bottom", f.bottom_gain, "dB"),
            figure("working_gain_db", "g_w", "Working gain", f.working_gain, "dB"),
            figure("search_margin_db", "", "Most that search passes what lure and bottom need", SEARCH_MARGIN, "dB")
                .by("", MODEL),
            self.max_gain(),
        ];
        if let Some(clear_gain) = f.clear_gain {
            inputs.push(figure("clear_gain_db", "g_c", "Clear gain", clear_gain, "dB"));
        }
        figure("search_gain_db", "g_s", "Search gain", f.search_gain, "dB")
            .by("g_s = min(g_c, g_max, max(g_axis, g_bottom) + 15), never under g_w", MODEL)
            .says(format!(
                "Turned up to look around, but not so far that the display fills, and not because the lure hangs at the edge.{}",
                self.on_dial(f.search_gain)
            ))
            .from(inputs)
    }

    /// The highest gain without interference marks, from what neighbours send.
    pub(super) fn clear_gain(&self, (clear_gain, clear_level): (f64, f64)) -> ExplainStep {
        let tolerance = self.prepared.input.settings.interference_tolerance;
        let neighbours = self.prepared.neighbours.as_ref();
        let worst = self.worst_placed();
        let mut inputs = vec![
            self.threshold(),
            figure(
                "clear_level_db",
                "L_c",
                "Lowest threshold that keeps neighbours off",
                clear_level,
                "dB re 1 µPa",
            )
            .by(
                "the threshold at which 1 - Π(1 - T_j/interval) meets the tolerance, T_j the time a neighbour's ping is over it: direct, off the bottom, and after further bounces",
                "bistatic bottom scatter after Jackson and Richardson (2007); probability of random overlap",
            )
            .says("Any more sensitive, and neighbours' pings would draw more marks than are tolerated."),
            figure("interference_tolerance", "", "Tolerated fraction of interference marks", tolerance, "")
                .by("", "setting of the run"),
        ];
        if let (Some(neighbours), Some(worst)) = (neighbours, worst) {
            inputs.push(
                figure(
                    "units_in_shelter",
                    "",
                    "Units in the shelter",
                    crate::selection::count(neighbours.holes.len()),
                    "",
                )
                .by("", "record of the shelter"),
            );
            inputs.push(
                figure("nearest_neighbour_m", "s", "Distance to the nearest neighbour", worst.nearest, "m")
                    .by("least distance from the judged hole", "layout of the holes")
                    .says(format!("Hole {} is judged, as it is placed worst.", worst.hole + 1)),
            );
        }
        figure("clear_gain_db", "g_c", "Clear gain", clear_gain, "dB")
            .by("g_c = T0 - L_c, at most the gain at which noise fills the display", MODEL)
            .says(format!("The highest gain at which neighbours stay off the display.{}", self.on_dial(clear_gain)))
            .from(inputs)
    }

    /// The echo that hides the lure.
    pub(super) fn hiding_level(&self) -> ExplainStep {
        let f = self.figures;
        let threshold = f.visible(f.set_gain);
        figure("hiding_level_db", "L", "Echo that hides the lure", f.lure_echo.max(threshold), "dB re 1 µPa")
            .by("L = max(EL_lure, T)", MODEL)
            .says("What answers as loud as the lure, or louder, hides it.")
            .from(vec![
                figure("lure_echo_db", "EL_lure", "Echo of the lure", f.lure_echo, "dB re 1 µPa"),
                figure("visible_level_db", "T", "Threshold at working gain", threshold, "dB re 1 µPa")
                    .by("T = max(T0 - g_w, noise)", MODEL)
                    .from(vec![self.noise()]),
            ])
    }
}
