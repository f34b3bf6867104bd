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
    // The lure.
    /// Distance of the lure from the beam's axis at its depth.
    pub(crate) lure_off_axis: f64,
    /// One-way level of the beam towards the lure.
    pub(crate) lure_beam: f64,
    pub(crate) lure_echo: f64,
    pub(crate) lure_gain: f64,
    /// Radius of the main lobe at the lure's depth, for the lure at working gain.
    pub(crate) lobe_radius: f64,
    // The bottom.
    pub(crate) bottom_area: f64,
    pub(crate) bottom_strength: f64,
    pub(crate) bottom_echo: f64,
    pub(crate) bottom_gain: f64,
    // Gains.
    /// The larger of the least gains that show the lure and the bottom: where to start, dB.
    pub working_gain: f64,
    /// Working gain, as far as the dial goes.
    pub(crate) set_gain: f64,
    pub(crate) search_gain: f64,
    // Coverage and resolution.
    /// Mean radius of the circle in which fish show, over the fish layer, at search gain, m.
    pub coverage_radius: f64,
    pub(crate) coverage_area: f64,
    /// Diameter in which other fish show at the lure's depth, at working gain, m.
    pub watch_footprint: f64,
    pub(crate) other_fish: f64,
    pub(crate) single_fish: f64,
    // Clutter.
    /// Angle at which the bottom stops showing.
    pub(crate) bottom_edge: f64,
    pub(crate) plane_range: f64,
    pub(crate) first_range: f64,
    /// Height over the bottom under which the lure is hidden, m.
    pub dead_zone_height: f64,
    /// Plants in the lure's cell as a target strength; NaN without plants there.
    pub(crate) cover_strength: f64,
    /// Lure over plants; NaN without plants there.
    pub lure_over_vegetation: f64,
    // Neighbours; NaN when alone, but for the fraction, which is then 0.
    pub(crate) clear_level: f64,
    pub(crate) clear_gain: f64,
    /// What the clear gain leaves over the working gain, dB; NaN when alone.
    pub headroom: f64,
    pub(crate) interference_fraction: f64,
    pub(crate) fraction_at_zero: f64,
    // Verdict.
    pub(crate) coverage_d: f64,
    pub(crate) shadow_d: f64,
    pub(crate) cover_d: f64,
    pub(crate) clutter_d: f64,
    pub(crate) footprint_d: f64,
    pub(crate) single_d: f64,
    pub(crate) resolution_d: f64,
    pub(crate) interference_d: f64,
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
        lure_off_axis: 0.0,
        lure_beam: 0.0,
        lure_echo: 0.0,
        lure_gain: 0.0,
        lobe_radius: 0.0,
        bottom_area: 0.0,
        bottom_strength: 0.0,
        bottom_echo: 0.0,
        bottom_gain: 0.0,
        working_gain: 0.0,
        set_gain: 0.0,
        search_gain: 0.0,
        coverage_radius: 0.0,
        coverage_area: 0.0,
        watch_footprint: 0.0,
        other_fish: 0.0,
        single_fish: 0.0,
        bottom_edge: 0.0,
        plane_range: 0.0,
        first_range: 0.0,
        dead_zone_height: 0.0,
        cover_strength: f64::NAN,
        lure_over_vegetation: f64::NAN,
        clear_level: f64::NAN,
        clear_gain: f64::NAN,
        headroom: f64::NAN,
        interference_fraction: 0.0,
        fraction_at_zero: f64::NAN,
        coverage_d: 0.0,
        shadow_d: 0.0,
        cover_d: 0.0,
        clutter_d: 0.0,
        footprint_d: 0.0,
        single_d: 1.0,
        resolution_d: 0.0,
        interference_d: 0.0,
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

    /// Weighted geometric mean of the desirabilities; 0 when disqualified.
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

    /// Whether neighbours were counted in.
    pub(crate) fn has_neighbours(&self) -> bool {
        !self.clear_gain.is_nan()
    }

    /// Strength of the bottom over the cone that the pulse lights, dB.
    #[must_use]
    pub fn bottom_strength_db(&self) -> f64 {
        self.bottom_strength
    }

    /// A figure that may be absent.
    pub(crate) fn given(value: f64) -> Option<f64> {
        (!value.is_nan()).then_some(value)
    }
}
