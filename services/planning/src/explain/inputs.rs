//! The leaves: what water, sensor and targets are.

use super::Subject;
use super::step::{Build, fact, figure, provenance};
use domain::selection::ExplainStep;
use domain::{BottomClass, FishClass, PatternKind, Source, Target, TargetShape};

const MEASURED_OR_DEFAULT: &str = "record of the spot";

impl Subject<'_> {
    pub(super) fn threshold(&self) -> ExplainStep {
        fact(
            ("threshold_db", "T0", "Threshold at zero gain"),
            self.sensor.threshold,
            acoustics::units::Level::get,
            "dB re 1 µPa",
        )
        .says("The echo level that just makes a mark with the gain at zero.")
    }

    pub(super) fn max_gain(&self) -> ExplainStep {
        fact(("max_gain_db", "g_max", "Greatest gain"), self.sensor.max_gain, acoustics::units::Db::get, "dB")
    }

    pub(super) fn source_level(&self) -> ExplainStep {
        let f = self.figures;
        match self.option.source {
            Source::Stated(level) => fact(
                ("source_level_db", "SL", "Source level"),
                level,
                acoustics::units::SourceLevel::get,
                "dB re 1 µPa m",
            ),
            Source::Power { electrical, efficiency } => {
                figure("source_level_db", "SL", "Source level", f.source_level, "dB re 1 µPa m")
                    .by(
                        "SL = 10 lg(ρc/4π) + 120 + 10 lg(P η) + DI",
                        "A. D. Waite, Sonar for Practising Engineers, 3rd ed. (2002), eq. 2.6, with ρc of this water",
                    )
                    .says("How loud the ping is on the axis.")
                    .from(vec![
                        fact(
                            ("electrical_power_w", "P", "Electrical power"),
                            electrical,
                            acoustics::units::Watts::get,
                            "W",
                        ),
                        fact(("efficiency_percent", "η", "Efficiency"), efficiency, |v| v * 100.0, "%"),
                        figure(
                            "watt_level_db",
                            "",
                            "One acoustic watt, without directivity",
                            self.place.watt_level,
                            "dB re 1 µPa m",
                        )
                        .by("10 lg(ρc/4π) + 120", "Waite (2002), eq. 2.6"),
                        figure(
                            "directivity_index_db",
                            "DI",
                            "Directivity index",
                            self.gear.pattern.directivity_index().get(),
                            "dB",
                        )
                        .by("DI = 10 lg(4π / ∫ b dΩ)", self.pattern_source()),
                    ])
            }
        }
    }

    pub(super) fn absorption(&self) -> ExplainStep {
        figure("absorption_db_per_m", "α", "Absorption", self.figures.absorption, "dB/m")
            .by(
                "Francois and Garrison at the mean temperature and half the depth",
                "Francois and Garrison, JASA 72, 896 and 1879 (1982)",
            )
            .says("What the water itself takes from the sound on each metre.")
            .from(vec![
                fact(
                    ("frequency_khz", "f", "Frequency"),
                    self.option.frequency,
                    acoustics::units::Hertz::to_khz,
                    "kHz",
                ),
                self.temperature(),
            ])
    }

    pub(super) fn sound_speed(&self) -> ExplainStep {
        figure("sound_speed_m_s", "c", "Mean sound speed", self.place.speed, "m/s")
            .by(
                "harmonic mean over the depth, 0 °C at the ice",
                "Marczak, JASA 102, 2776 (1997); with salt: Chen and Millero (1977), UNESCO 44",
            )
            .from(vec![self.temperature()])
    }

    fn temperature(&self) -> ExplainStep {
        figure("bottom_temperature_c", "t", "Temperature at the bottom", self.spot.bottom_temperature.get(), "°C")
            .by("", MEASURED_OR_DEFAULT)
    }

    pub(super) fn psi(&self) -> ExplainStep {
        figure("equivalent_beam_angle_sr", "ψ", "Equivalent two-way beam angle", self.gear.psi, "sr")
            .by("ψ = ∫ b² dΩ", self.pattern_source())
            .says("How much of the water the beam sums up into one echo.")
            .from(self.widths())
    }

    /// The stated widths of the beam.
    fn widths(&self) -> Vec<ExplainStep> {
        let degrees = |width: acoustics::units::Beamwidth| width.full.to_degrees();
        let width = |name: &str, given| fact((name, "BW", "Beamwidth, edge to edge"), given, degrees, "°");
        match &self.option.pattern {
            PatternKind::CircularPiston { beamwidth } => vec![width("beamwidth_deg", *beamwidth)],
            PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => vec![
                width("beamwidth_deg", *beamwidth),
                fact(("peak_side_lobe_db", "", "Peak side lobe"), *peak_side_lobe, acoustics::units::Db::get, "dB"),
            ],
            PatternKind::Rectangular { along, across } => {
                vec![width("beamwidth_deg", *along), width("cross_beamwidth_deg", *across)]
            }
            PatternKind::Tabulated { points, provenance: from } => vec![
                figure("pattern_points", "", "Points of the pattern", crate::selection::count(points.len()), "")
                    .by("", provenance(*from)),
            ],
        }
    }

    pub(super) fn pattern_source(&self) -> &'static str {
        match self.option.pattern {
            PatternKind::CircularPiston { .. } => {
                "uniform circular piston, B = 20 lg |2 J1(x)/x| (Morse and Ingard, Theoretical Acoustics, 1968, section 7.4)"
            }
            PatternKind::ShadedCircular { .. } => "circular aperture shaded after Taylor, IRE Trans. AP-8, 17 (1960)",
            PatternKind::Rectangular { .. } => "uniform rectangle, sinc by sinc (Morse and Ingard, 1968)",
            PatternKind::Tabulated { .. } => "tabulated pattern, monotone cubic between its points",
        }
    }

    pub(super) fn noise(&self) -> ExplainStep {
        figure("noise_db", "NL", "Noise of water and receiver", self.figures.noise_level, "dB re 1 µPa")
            .by("thermal noise in the receiver's band plus receiver noise", "R. H. Mellen, JASA 24, 478 (1952)")
            .from(vec![
                fact(
                    ("receiver_noise_db", "", "Receiver noise over thermal noise"),
                    self.sensor.receiver_noise,
                    acoustics::units::Db::get,
                    "dB",
                ),
                fact(
                    ("receiver_bandwidth_khz", "W", "Receiver bandwidth"),
                    self.option.receiver_bandwidth,
                    acoustics::units::Hertz::to_khz,
                    "kHz",
                ),
            ])
    }

    pub(super) fn range_cell(&self) -> ExplainStep {
        let mut inputs = vec![
            fact(
                ("pulse_length_us", "τ", "Pulse length"),
                self.option.pulse_length,
                acoustics::units::Seconds::to_micros,
                "µs",
            ),
            self.sound_speed(),
        ];
        if let Some(sweep) = self.option.sweep_bandwidth {
            inputs.push(fact(
                ("sweep_bandwidth_khz", "B", "Swept bandwidth"),
                sweep,
                acoustics::units::Hertz::to_khz,
                "kHz",
            ));
        }
        figure("range_cell_m", "ΔR", "Range cell", self.figures.range_cell, "m")
            .by("ΔR = max(c τ/2, c/2B); for a swept pulse c/2B", "Urick (1983), section 2; range resolution of a pulse")
            .says("Two things nearer to each other than this in range make one mark.")
            .from(inputs)
    }

    pub(super) fn lure_strength(&self) -> ExplainStep {
        self.strength(
            "lure",
            "TS_lure",
            &self.prepared.input.lure,
            self.figures.lure_strength,
            self.gear.lure.extrapolated,
        )
    }

    pub(super) fn fish_strength(&self) -> ExplainStep {
        self.strength(
            "fish",
            "TS_fish",
            &self.prepared.input.fish,
            self.figures.fish_strength,
            self.gear.fish.extrapolated,
        )
    }

    fn strength(&self, role: &str, symbol: &str, target: &Target, value: f64, extrapolated: bool) -> ExplainStep {
        let (formula, source) = match target.shape {
            TargetShape::Known(known) => ("", provenance(known.provenance)),
            TargetShape::Sphere { .. } => {
                ("elastic sphere, modal series", "Faran, JASA 23, 405 (1951); MacLennan (1981)")
            }
            TargetShape::Disc { .. } => ("20 lg(A/λ), face on", "Urick (1983), table 9.1"),
            TargetShape::Cylinder { .. } => ("10 lg(a L²/2λ), broadside", "Urick (1983), table 9.1"),
            TargetShape::Fish { class, .. } => match class {
                FishClass::General => {
                    ("19.1 lg L - 0.9 lg f - 62.0", "Love, JASA 62, 1397 (1977), coefficients from memory")
                }
                FishClass::ClosedSwimBladder => ("20 lg L - 67.4", "Foote, JASA 82, 981 (1987)"),
                FishClass::OpenSwimBladder => {
                    ("20 lg L - 71.9", "Foote, JASA 82, 981 (1987), herring-like fish as a stand-in")
                }
                FishClass::Smelt => ("19.9 lg L - 67.8", "Rudstam et al., ICES J. Mar. Sci. 60, 500 (2003)"),
                FishClass::Vendace => ("20 lg L - 65.4", "Świerzowski and Doroszczyk (2004)"),
                FishClass::Alewife => ("20.53 lg L - 64.25", "Warner, Rudstam and Klumb, TAFS 131, 212 (2002)"),
            },
        };
        let scaled = if extrapolated { " Scaled from the nearest frequency that the model covers." } else { "" };
        figure(&format!("{role}_strength_db"), symbol, &format!("Target strength of the {role}"), value, "dB re 1 m²")
            .by(formula, source)
            .says(format!("How well the {role} sends sound back.{scaled}"))
    }

    pub(super) fn bottom_word(&self) -> &'static str {
        match self.spot.bottom {
            BottomClass::OrganicOoze => "organic ooze",
            BottomClass::SoftMud => "soft mud",
            BottomClass::Clay => "clay",
            BottomClass::Silt => "silt",
            BottomClass::FineSand => "fine sand",
            BottomClass::MediumSand => "medium sand",
            BottomClass::CoarseSand => "coarse sand",
            BottomClass::Gravel => "gravel",
            BottomClass::Cobble => "cobble",
            BottomClass::Rock => "rock",
        }
    }
}
