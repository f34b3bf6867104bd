//! Gains and what they are made from.

use super::Subject;
use super::step::{Build, figure};
use crate::selection::SEARCH_MARGIN;
use acoustics::levels::{bottom_area_m2, two_way_loss, two_way_spreading};
use acoustics::units::{DbPerMetre, Metres, Steradians};
use domain::check::plain;
use domain::selection::{ExplainStep, Origin};
use domain::{Part, Sentence};

const SONAR_EQUATION: Origin =
    Origin::Published("R. J. Urick, Principles of Underwater Sound, 3rd ed. (1983), eq. 2.1");
const MODEL: Origin = Origin::Said("from-model");

impl Subject<'_> {
    /// The gain to start with, from lure and bottom.
    pub(super) fn working_gain(&self) -> ExplainStep {
        let f = self.figures;
        let leader = if f.lure_gain >= f.bottom_gain { "behind-start-lure" } else { "behind-start-bottom" };
        figure("working_gain_db", "g_w", "figure-working-gain", f.working_gain, "dB")
            .by("g_w = max(g_lure, g_bottom)", MODEL)
            .says(Sentence::plain(leader))
            .says(self.on_dial(f.working_gain))
            .from(vec![self.lure_gain(), self.bottom_gain()])
    }

    fn lure_gain(&self) -> ExplainStep {
        let f = self.figures;
        let margin = self.prepared.rules.lure_margin;
        figure("lure_gain_db", "g_lure", "figure-gain-that-shows-the-lure", f.lure_gain, "dB")
            .by("g_lure = max(0, T0 + margin - EL_lure)", MODEL)
            .says(Sentence::plain("behind-lure-gain"))
            .from(vec![
                self.threshold(),
                figure("lure_margin_db", "margin", "figure-margin-of-the-lure-over-the-threshold", margin, "dB")
                    .by("", Origin::Said("from-setting")),
                self.lure_echo(),
            ])
    }

    fn lure_echo(&self) -> ExplainStep {
        let (f, place) = (self.figures, self.place);
        let loss = self.loss(place.lure_range);
        figure("lure_echo_db", "EL_lure", "figure-echo-of-the-lure", f.lure_echo, "dB re 1 µPa")
            .by("EL_lure = SL - 40 lg r - 2 α r + TS_lure + 2 B(θ_lure)", SONAR_EQUATION)
            .says(Sentence::plain("behind-lure-echo"))
            .from(vec![
                self.source_level(),
                figure("lure_range_m", "r", "figure-slant-range-to-the-lure", place.lure_range, "m")
                    .by("r = √((d - h)² + x²)", Origin::Said("from-plane")),
                figure("lure_loss_db", "2 TL", "figure-loss-on-the-way-down-and-back", loss, "dB")
                    .by("2 TL = 40 lg r + 2 α r", SONAR_EQUATION)
                    .from(vec![self.absorption()]),
                self.lure_strength(),
                figure("lure_beam_db", "B(θ_lure)", "figure-beam-towards-the-lure-one-way", f.lure_beam, "dB")
                    .by("the pattern at θ_lure = atan(x / (d - h)), from the lean of the axis", self.pattern_source())
                    .says(Sentence::plain("behind-lure-beam"))
                    .from(vec![
                        figure(
                            "lure_angle_deg",
                            "θ_lure",
                            "figure-angle-of-the-lure-from-the-axis",
                            f.lure_angle.to_degrees(),
                            "°",
                        ),
                        figure("lure_offset_m", "x", "figure-lateral-offset-of-the-lure", place.lure_offset, "m"),
                    ]),
            ])
    }

    fn bottom_gain(&self) -> ExplainStep {
        let f = self.figures;
        let strong = self.prepared.rules.strong_mark;
        figure("bottom_gain_db", "g_bottom", "figure-gain-that-shows-the-bottom", f.bottom_gain, "dB")
            .by("g_bottom = max(0, T0 + strong mark - EL_bottom)", MODEL)
            .says(Sentence::plain("behind-bottom-gain"))
            .from(vec![
                self.threshold(),
                figure(
                    "strong_mark_db",
                    "strong mark",
                    "figure-how-far-the-bottom-must-pass-the-threshold",
                    strong,
                    "dB",
                )
                .by("", Origin::Said("from-setting")),
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
        figure("bottom_echo_db", "EL_bottom", "figure-echo-of-the-bottom", f.bottom_echo, "dB re 1 µPa")
            .by("EL_bottom = SL - 40 lg d - 2 α d + S_b + 10 lg A", Origin::Published("Urick (1983), section 8.2"))
            .says(Sentence::plain("behind-bottom-echo"))
            .from(vec![
                self.source_level(),
                figure("bottom_loss_db", "2 TL", "figure-loss-on-the-way-down-and-back", loss, "dB")
                    .by("2 TL = 40 lg d + 2 α d", SONAR_EQUATION)
                    .from(vec![self.absorption()]),
                figure("bottom_strength_db", "S_b", "figure-strength-of-the-bottom-per-square-metre", strength, "dB")
                    .by(
                        "∫ S_b b² cos³ i du over the plane within a range cell, at its peak, over what A alone would give; i the incidence, u = sec i - 1",
                        Origin::Published("S_b: APL-UW TM 2-00 (2000); Jackson and Richardson (2007), doi:10.1007/978-0-387-36945-7; clay and softer by their reflection"),
                    )
                    .says(Sentence::new(
                        "behind-bottom",
                        [
                            ("bottom", Part::Word(self.bottom_word().into())),
                            ("number", Part::Figure(format!("{} dB", plain(self.spot.bottom.strength_spread().get())))),
                        ],
                    )),
                figure("bottom_area_m2", "A", "figure-bottom-that-one-pulse-insonifies", area, "m²")
                    .by("A = min(ψ d², 2 π d ΔR)", Origin::Published("Urick (1983), section 8.2"))
                    .from(vec![self.psi(), self.sound_speed()]),
                figure("incidence_deg", "β", "figure-angle-between-the-beam-s-axis-and-the-upright-on-the-bottom", self.incidence().to_degrees(), "°")
                    .by("the angle between the slope and the lean, which have a direction each; both are told from the side on which the lure hangs", Origin::Published("record of the spot; setting of the run")),
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
                "figure-gain-that-would-show-the-lure-on-the-axis",
                f.lure_gain_on_axis,
                "dB",
            )
            .by("as g_lure, with B = 0 and the lure straight below", SONAR_EQUATION),
            figure("bottom_gain_db", "g_bottom", "figure-gain-that-shows-the-bottom", f.bottom_gain, "dB"),
            figure("working_gain_db", "g_w", "figure-working-gain", f.working_gain, "dB"),
            figure(
                "search_margin_db",
                "",
                "figure-most-that-search-passes-what-lure-and-bottom-need",
                SEARCH_MARGIN,
                "dB",
            )
            .by("", MODEL),
            self.max_gain(),
        ];
        if let Some(clear_gain) = f.clear_gain {
            inputs.push(figure("clear_gain_db", "g_c", "figure-clear-gain", clear_gain, "dB"));
        }
        figure("search_gain_db", "g_s", "figure-search-gain", f.search_gain, "dB")
            .by("g_s = min(g_c, g_max, max(g_axis, g_bottom) + 15), never under g_w", MODEL)
            .says(Sentence::plain("behind-search"))
            .says(self.on_dial(f.search_gain))
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
                "figure-lowest-threshold-that-keeps-neighbours-off",
                clear_level,
                "dB re 1 µPa",
            )
            .by(
                "the threshold at which 1 - Π(1 - T_j/interval) meets the tolerance, T_j the time a neighbour's ping is over it: direct, off the bottom, and after further bounces",
                Origin::Published("bistatic bottom scatter after Jackson and Richardson (2007); probability of random overlap"),
            )
            .says(Sentence::plain("behind-clear-level")),
            figure("interference_tolerance", "", "figure-tolerated-fraction-of-foreign-marks", tolerance, "")
                .by("", Origin::Said("from-setting")),
        ];
        if let (Some(neighbours), Some(worst)) = (neighbours, worst) {
            inputs.push(
                figure(
                    "units_in_shelter",
                    "",
                    "figure-units-in-the-shelter",
                    crate::selection::count(neighbours.holes.len()),
                    "",
                )
                .by("", Origin::Said("from-shelter")),
            );
            inputs.push(
                figure("nearest_neighbour_m", "s", "figure-distance-to-the-nearest-neighbour", worst.nearest, "m")
                    .by("least distance from the judged hole", Origin::Said("from-layout"))
                    .says(Sentence::new("behind-worst", [("hole", Part::Figure((worst.hole + 1).to_string()))])),
            );
        }
        figure("clear_gain_db", "g_c", "figure-clear-gain", clear_gain, "dB")
            .by("g_c = T0 - L_c, at most the gain at which noise fills the display", MODEL)
            .says(Sentence::plain("behind-clear"))
            .says(self.on_dial(clear_gain))
            .from(inputs)
    }

    /// The echo that hides the lure.
    pub(super) fn hiding_level(&self) -> ExplainStep {
        let f = self.figures;
        let threshold = f.visible(f.set_gain);
        figure("hiding_level_db", "L", "figure-echo-that-hides-the-lure", f.lure_echo.max(threshold), "dB re 1 µPa")
            .by("L = max(EL_lure, T)", MODEL)
            .says(Sentence::plain("behind-hiding"))
            .from(vec![
                figure("lure_echo_db", "EL_lure", "figure-echo-of-the-lure", f.lure_echo, "dB re 1 µPa"),
                figure("visible_level_db", "T", "figure-threshold-at-working-gain", threshold, "dB re 1 µPa")
                    .by("T = max(T0 - g_w, noise)", MODEL)
                    .from(vec![self.noise()]),
            ])
    }
}
