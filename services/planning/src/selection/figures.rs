//! The numbers behind one finding, without any text: what the kernel writes and what findings, explanations and pictures read.

/// Every figure of one option at one spot; SI, radians, dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evaluation {
    // What the option is, here.
    pub(crate) source_level: f64,
    pub(crate) threshold: f64,
    pub(crate) noise_level: f64,
    pub(crate) max_gain: f64,
    pub(crate) absorption: f64,
    pub(crate) lure_strength: f64,
    pub(crate) fish_strength: f64,
    pub(crate) range_cell: f64,
    /// How near a target may be at least: what is nearer is lost in the ring-down, m.
    pub(crate) blind_range: f64,
    // The lure.
    /// How much farther than that the lure is, m.
    pub(crate) blind_room: f64,
    /// Angle of the lure from the beam's axis, radians.
    pub(crate) lure_angle: f64,
    /// Distance of the lure from the beam's axis at its depth.
    pub(crate) lure_off_axis: f64,
    /// One-way level of the beam towards the lure.
    pub(crate) lure_beam: f64,
    /// What the lure's place off the axis costs, dB there and back: the worst on the way out to it.
    pub(crate) lure_cost: f64,
    pub(crate) lure_echo: f64,
    pub(crate) lure_gain: f64,
    /// The least gain that would show the lure on the axis.
    pub(crate) lure_gain_on_axis: f64,
    /// How far from the axis the lure may hang at its depth before its place costs more than the reserve.
    pub(crate) lobe_radius: f64,
    // The bottom.
    /// lg(ΔR/h).
    pub(crate) window: f64,
    /// 10 lg(h² E): the integral over the bottom, dB.
    pub(crate) plane: f64,
    /// What the draw adds to the strength of the bottom.
    pub(crate) bottom_shift: f64,
    pub(crate) bottom_echo: f64,
    pub(crate) bottom_gain: f64,
    // Gains.
    /// The larger of the least gains that show the lure and the bottom: where to start, dB.
    pub working_gain: f64,
    /// Working gain, as far as the dial goes.
    pub(crate) set_gain: f64,
    pub(crate) search_gain: f64,
    /// The gain at which coverage is told: search gain, but for a lure off the axis that alone turns it up.
    pub(crate) coverage_gain: f64,
    // Coverage and resolution.
    /// Radius of the disc of the area in which fish show, on average over the fish layer, at search gain, m.
    pub coverage_radius: f64,
    pub(crate) coverage_area: f64,
    /// Diameter of the disc of the area in which other fish show at the lure's depth, at working gain, m.
    pub watch_footprint: f64,
    pub(crate) other_fish: f64,
    pub(crate) single_fish: f64,
    // Clutter.
    pub(crate) plane_range: f64,
    pub(crate) first_range: f64,
    /// Height over the bottom under which the lure is hidden, m.
    pub dead_zone_height: f64,
    /// Height of the lure over what is hidden, m; under 0 it is hidden.
    pub(crate) clearance: f64,
    /// Part of the lure's cell that plants fill; not above 0 where they stay under it.
    pub(crate) cover_fill: f64,
    /// Plants in the lure's cell as a target strength.
    pub(crate) cover_strength: Option<f64>,
    /// Lure over plants; none without plants in its cell.
    pub lure_over_vegetation: Option<f64>,
    // Neighbours; none when alone.
    pub(crate) clear_level: Option<f64>,
    pub(crate) clear_gain: Option<f64>,
    /// What the clear gain leaves over the working gain, dB; none when alone.
    pub headroom: Option<f64>,
    pub(crate) interference_fraction: f64,
    pub(crate) fraction_at_zero: Option<f64>,
    // Verdict.
    pub(crate) coverage_d: f64,
    pub(crate) shadow_d: f64,
    pub(crate) clearance_d: f64,
    pub(crate) cover_d: f64,
    pub(crate) clutter_d: f64,
    pub(crate) footprint_d: f64,
    pub(crate) single_d: f64,
    pub(crate) resolution_d: f64,
    pub(crate) interference_d: f64,
    /// What the nearness of a failure leaves of the score.
    pub(crate) reserve: f64,
    pub(crate) score: f64,
    pub(crate) qualified: bool,
}

impl Evaluation {
    /// Nothing yet.
    pub(crate) const BLANK: Self = Self {
        source_level: 0.0,
        threshold: 0.0,
        noise_level: 0.0,
        max_gain: 0.0,
        absorption: 0.0,
        lure_strength: 0.0,
        fish_strength: 0.0,
        range_cell: 0.0,
        blind_range: 0.0,
        blind_room: 0.0,
        lure_angle: 0.0,
        lure_off_axis: 0.0,
        lure_beam: 0.0,
        lure_cost: 0.0,
        lure_echo: 0.0,
        lure_gain: 0.0,
        lure_gain_on_axis: 0.0,
        lobe_radius: 0.0,
        window: 0.0,
        plane: 0.0,
        bottom_shift: 0.0,
        bottom_echo: 0.0,
        bottom_gain: 0.0,
        working_gain: 0.0,
        set_gain: 0.0,
        search_gain: 0.0,
        coverage_gain: 0.0,
        coverage_radius: 0.0,
        coverage_area: 0.0,
        watch_footprint: 0.0,
        other_fish: 0.0,
        single_fish: 0.0,
        plane_range: 0.0,
        first_range: 0.0,
        dead_zone_height: 0.0,
        clearance: 0.0,
        cover_fill: 0.0,
        cover_strength: None,
        lure_over_vegetation: None,
        clear_level: None,
        clear_gain: None,
        headroom: None,
        interference_fraction: 0.0,
        fraction_at_zero: None,
        coverage_d: 0.0,
        shadow_d: 0.0,
        clearance_d: 0.0,
        cover_d: 0.0,
        clutter_d: 0.0,
        footprint_d: 0.0,
        single_d: 1.0,
        resolution_d: 0.0,
        interference_d: 0.0,
        reserve: 0.0,
        score: 0.0,
        qualified: false,
    };

    /// The level from which marks show at a gain: the threshold, but never under the noise.
    pub(crate) fn visible(&self, gain: f64) -> f64 {
        (self.threshold - gain).max(self.noise_level)
    }

    /// How far the noise passes the threshold that the lure needs; not above 0 when the lure shows first.
    pub(crate) fn noise_excess(&self) -> f64 {
        self.noise_level - (self.threshold - self.lure_gain)
    }

    /// As [`Evaluation::scored`] under the weights of the run.
    #[must_use]
    pub fn score(&self) -> f64 {
        self.score
    }

    /// Whether the option may be recommended at all.
    #[must_use]
    pub fn qualified(&self) -> bool {
        self.qualified
    }

    /// Desirabilities in the order coverage, clutter, resolution, interference.
    #[must_use]
    pub fn desirabilities(&self) -> [f64; 4] {
        [self.coverage_d, self.clutter_d, self.resolution_d, self.interference_d]
    }
}
