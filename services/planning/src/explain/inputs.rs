//! The leaves: what water, sensor and targets are.

use super::step::{Build, fact, figure, provenance};
use super::{GEOMETRY, Subject};
use domain::selection::{ExplainStep, Origin};
use domain::sensor::rms;
use domain::{BottomClass, Fact, FishClass, PatternKind, Sentence, Source, Target, TargetKind, TargetShape};

const MEASURED_OR_DEFAULT: Origin = Origin::Said("from-spot");

impl Subject<'_> {
    pub(super) fn threshold(&self) -> ExplainStep {
        fact(
            ("threshold_db", "T0", "figure-threshold-at-zero-gain"),
            self.sensor.threshold,
            acoustics::units::Level::get,
            "dB re 1 µPa",
        )
        .says(Sentence::plain("behind-threshold"))
    }

    pub(super) fn max_gain(&self) -> ExplainStep {
        fact(("max_gain_db", "g_max", "figure-greatest-gain"), self.sensor.max_gain, acoustics::units::Db::get, "dB")
    }

    pub(super) fn source_level(&self) -> ExplainStep {
        let f = self.figures;
        match self.option.source {
            Source::Stated(level) => fact(
                ("source_level_db", "SL", "figure-source-level"),
                level,
                acoustics::units::SourceLevel::get,
                "dB re 1 µPa m",
            ),
            Source::Power { electrical, kind, efficiency } => figure(
                "source_level_db",
                "SL",
                "figure-source-level",
                f.source_level,
                "dB re 1 µPa m",
            )
            .by(
                "SL = 10 lg(ρc/4π) + 120 + 10 lg(P η) + DI",
                Origin::Published(
                    "A. D. Waite, Sonar for Practising Engineers, 3rd ed. (2002), eq. 2.6, with ρc of this water",
                ),
            )
            .says(Sentence::plain("behind-source-level"))
            .from(vec![
                fact(
                    ("electrical_power_w", "P", "figure-electrical-power"),
                    Fact { value: rms(electrical.value, kind), ..electrical },
                    acoustics::units::Watts::get,
                    "W",
                ),
                fact(("efficiency_percent", "η", "figure-efficiency"), efficiency, |v| v * 100.0, "%"),
                figure(
                    "watt_level_db",
                    "",
                    "figure-one-acoustic-watt-without-directivity",
                    self.place.watt_level,
                    "dB re 1 µPa m",
                )
                .by("10 lg(ρc/4π) + 120", Origin::Published("Waite (2002), eq. 2.6")),
                figure(
                    "directivity_index_db",
                    "DI",
                    "figure-directivity-index",
                    self.gear.pattern.directivity_index().get(),
                    "dB",
                )
                .by("DI = 10 lg(4π / ∫ b dΩ)", self.pattern_source()),
            ]),
        }
    }

    pub(super) fn absorption(&self) -> ExplainStep {
        figure("absorption_db_per_m", "α", "figure-absorption", self.figures.absorption, "dB/m")
            .by(
                "Francois and Garrison at the mean temperature and half the depth",
                Origin::Published("Francois and Garrison, JASA 72, 896 and 1879 (1982)"),
            )
            .says(Sentence::plain("behind-absorption"))
            .from(vec![
                fact(
                    ("frequency_khz", "f", "figure-frequency"),
                    self.option.frequency,
                    acoustics::units::Hertz::to_khz,
                    "kHz",
                ),
                self.temperature(),
            ])
    }

    pub(super) fn sound_speed(&self) -> ExplainStep {
        figure("sound_speed_m_s", "c", "figure-mean-sound-speed", self.place.speed, "m/s")
            .by(
                "harmonic mean over the depth, 0 °C at the ice",
                Origin::Published("Marczak, JASA 102, 2776 (1997); with salt: Chen and Millero (1977), UNESCO 44"),
            )
            .from(vec![self.temperature()])
    }

    fn temperature(&self) -> ExplainStep {
        figure(
            "bottom_temperature_c",
            "t",
            "figure-temperature-at-the-bottom",
            self.spot.bottom_temperature.get(),
            "°C",
        )
        .by("", MEASURED_OR_DEFAULT)
    }

    pub(super) fn psi(&self) -> ExplainStep {
        figure("equivalent_beam_angle_sr", "ψ", "figure-equivalent-two-way-beam-angle", self.gear.psi, "sr")
            .by("ψ = ∫ b² dΩ", self.pattern_source())
            .says(Sentence::plain("behind-psi"))
            .from(self.widths())
    }

    /// The stated widths of the beam.
    fn widths(&self) -> Vec<ExplainStep> {
        let degrees = |width: acoustics::units::Beamwidth| width.full.to_degrees();
        let width =
            |name: &'static str, given| fact((name, "BW", "figure-beamwidth-edge-to-edge"), given, degrees, "°");
        match &self.option.pattern {
            PatternKind::CircularPiston { beamwidth } => vec![width("beamwidth_deg", *beamwidth)],
            PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => vec![
                width("beamwidth_deg", *beamwidth),
                fact(
                    ("peak_side_lobe_db", "", "figure-peak-side-lobe"),
                    *peak_side_lobe,
                    acoustics::units::Db::get,
                    "dB",
                ),
            ],
            PatternKind::Rectangular { along, across } => {
                vec![width("beamwidth_deg", *along), width("cross_beamwidth_deg", *across)]
            }
            PatternKind::Tabulated { points, provenance: from } => vec![
                figure("pattern_points", "", "figure-points-of-the-pattern", crate::selection::count(points.len()), "")
                    .by("", provenance(*from)),
            ],
        }
    }

    pub(super) fn pattern_source(&self) -> Origin {
        Origin::Published(match self.option.pattern {
            PatternKind::CircularPiston { .. } => {
                "uniform circular piston, B = 20 lg |2 J1(x)/x| (Morse and Ingard, Theoretical Acoustics, 1968, section 7.4)"
            }
            PatternKind::ShadedCircular { .. } => "circular aperture shaded after Taylor, IRE Trans. AP-8, 17 (1960)",
            PatternKind::Rectangular { .. } => "uniform rectangle, sinc by sinc (Morse and Ingard, 1968)",
            PatternKind::Tabulated { .. } => "tabulated pattern, monotone cubic between its points",
        })
    }

    pub(super) fn noise(&self) -> ExplainStep {
        figure("noise_db", "NL", "figure-noise-of-water-and-receiver", self.figures.noise_level, "dB re 1 µPa")
            .by(
                "thermal noise in the receiver's band plus receiver noise",
                Origin::Published("R. H. Mellen, JASA 24, 478 (1952)"),
            )
            .from(vec![
                fact(
                    ("receiver_noise_db", "", "figure-receiver-noise-over-thermal-noise"),
                    self.sensor.receiver_noise,
                    acoustics::units::Db::get,
                    "dB",
                ),
                fact(
                    ("receiver_bandwidth_khz", "W", "figure-receiver-bandwidth"),
                    self.option.receiver_bandwidth,
                    acoustics::units::Hertz::to_khz,
                    "kHz",
                ),
            ])
    }

    /// From where on something shows after a ping.
    pub(super) fn blind_range(&self) -> ExplainStep {
        let title = ("ring_down_us", "t", "figure-ring-down");
        let ring_down = match self.option.ring_down {
            Some(stated) => fact(title, stated, acoustics::units::Seconds::to_micros, "µs"),
            None => {
                figure(title.0, title.1, title.2, acoustics::units::Seconds::new(self.gear.ring_down).to_micros(), "µs")
                    .by(
                        "t = τ + Q ln(10) F/20 / (π f), Q and F ASSUMED",
                        Origin::Published(
                            "Kinsler et al., Fundamentals of Acoustics (2000), section 1.6, damped oscillations",
                        ),
                    )
            }
        };
        figure("blind_range_m", "", "figure-blind-range", self.figures.blind_range, "m")
            .by("c t/2", GEOMETRY)
            .from(vec![ring_down, self.sound_speed()])
    }

    pub(super) fn range_cell(&self) -> ExplainStep {
        let mut inputs = vec![
            fact(
                ("pulse_length_us", "τ", "figure-pulse-length"),
                self.option.pulse_length,
                acoustics::units::Seconds::to_micros,
                "µs",
            ),
            self.sound_speed(),
        ];
        if let Some(sweep) = self.option.sweep_bandwidth {
            inputs.push(fact(
                ("sweep_bandwidth_khz", "B", "figure-swept-bandwidth"),
                sweep,
                acoustics::units::Hertz::to_khz,
                "kHz",
            ));
        }
        figure("range_cell_m", "ΔR", "figure-range-cell", self.figures.range_cell, "m")
            .by(
                "ΔR = max(c τ/2, c/2B); for a swept pulse c/2B",
                Origin::Published("Urick (1983), section 2; range resolution of a pulse"),
            )
            .says(Sentence::plain("behind-cell"))
            .from(inputs)
    }

    pub(super) fn lure_strength(&self) -> ExplainStep {
        self.strength(
            ("lure_strength_db", "TS_lure", "figure-target-strength-of-the-lure", "behind-strength-lure"),
            &self.prepared.input.lure,
            self.figures.lure_strength,
            self.gear.lure.extrapolated,
        )
    }

    pub(super) fn fish_strength(&self) -> ExplainStep {
        self.strength(
            ("fish_strength_db", "TS_fish", "figure-target-strength-of-the-fish", "behind-strength-fish"),
            &self.prepared.input.fish,
            self.figures.fish_strength,
            self.gear.fish.extrapolated,
        )
    }

    fn strength(
        &self,
        (name, symbol, title, told): (&str, &'static str, &'static str, &'static str),
        target: &Target,
        value: f64,
        extrapolated: bool,
    ) -> ExplainStep {
        let (formula, source) = match target.shape {
            TargetShape::Known(known) => ("", provenance(known.provenance)),
            TargetShape::Sphere { .. } => {
                ("elastic sphere, modal series", Origin::Published("Faran, JASA 23, 405 (1951); MacLennan (1981)"))
            }
            TargetShape::Disc { .. } => (
                match target.kind {
                    TargetKind::Reference => "20 lg(A/λ), face on",
                    TargetKind::Lure | TargetKind::Fish => "mean of σ over all aspects, 20 lg(A/λ) face on",
                },
                Origin::Published("Urick (1983), table 9.1"),
            ),
            TargetShape::Cylinder { .. } => (
                match target.kind {
                    TargetKind::Reference => "10 lg(a L²/2λ), broadside",
                    TargetKind::Lure | TargetKind::Fish => "mean of σ over all aspects, 10 lg(a L²/2λ) broadside",
                },
                Origin::Published("Urick (1983), table 9.1"),
            ),
            TargetShape::Fish { class, .. } => match class {
                FishClass::General => (
                    "19.1 lg L - 0.9 lg f - 62.0",
                    Origin::Published("Love, JASA 62, 1397 (1977), coefficients from memory"),
                ),
                FishClass::ClosedSwimBladder => ("20 lg L - 67.4", Origin::Published("Foote, JASA 82, 981 (1987)")),
                FishClass::OpenSwimBladder => {
                    ("20 lg L - 71.9", Origin::Published("Foote, JASA 82, 981 (1987), herring-like fish as a stand-in"))
                }
                FishClass::Smelt => {
                    ("19.9 lg L - 67.8", Origin::Published("Rudstam et al., ICES J. Mar. Sci. 60, 500 (2003)"))
                }
                FishClass::Vendace => ("20 lg L - 65.4", Origin::Published("Świerzowski and Doroszczyk (2004)")),
                FishClass::Alewife => {
                    ("20.53 lg L - 64.25", Origin::Published("Warner, Rudstam and Klumb, TAFS 131, 212 (2002)"))
                }
            },
        };
        figure(name, symbol, title, value, "dB re 1 m²")
            .by(formula, source)
            .says(Sentence::plain(told))
            .says(extrapolated.then(|| Sentence::plain("behind-scaled")))
    }

    pub(super) fn bottom_word(&self) -> &'static str {
        match self.spot.bottom {
            BottomClass::OrganicOoze => "part-organic-ooze",
            BottomClass::SoftMud => "part-soft-mud",
            BottomClass::Clay => "part-clay",
            BottomClass::Silt => "part-silt",
            BottomClass::FineSand => "part-fine-sand",
            BottomClass::MediumSand => "part-medium-sand",
            BottomClass::CoarseSand => "part-coarse-sand",
            BottomClass::Gravel => "part-gravel",
            BottomClass::Cobble => "part-cobble",
            BottomClass::Rock => "part-rock",
        }
    }
}
