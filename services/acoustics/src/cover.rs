//! Plants: how strong a stand echoes beside a lure.

use crate::units::{Db, Metres, Steradians, VolumeStrength};

/// How dense plants stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CanopyDensity {
    /// Single stems.
    Sparse,
    /// A stand one can see through.
    Moderate,
    /// A mat.
    Dense,
}

/// Spread (one standard deviation) of an assumed volume strength of plants, dB.
pub const CANOPY_SPREAD: Db = Db::new(6.0);

impl CanopyDensity {
    /// Assumed volume backscattering strength of a stand.
    ///
    /// No absolute strength of freshwater plants was found in print. The upper end is set by dense, gas-filled sea grass in summer, −23 dB per
    /// unit area over half a metre (A. P. Lyons and E. Pouliquen, 1998), which is −20 dB per cubic metre; the lower end, about −50 dB,
    /// by single stems. Plants under ice have lost much of their gas, so a dense winter stand is put 10 dB under the summer one.
    /// Use with [`CANOPY_SPREAD`], and always as ASSUMED.
    #[must_use]
    pub const fn volume_strength(self) -> VolumeStrength {
        VolumeStrength::new(match self {
            Self::Sparse => -50.0,
            Self::Moderate => -40.0,
            Self::Dense => -30.0,
        })
    }
}

/// Echo of the plants in one range cell, as an equivalent target strength: S_v + 10 lg(ΔR ψ r²).
///
/// J. Simmonds and D. MacLennan, Fisheries Acoustics, 2nd ed. (2005), section 2.5 (sampled volume), <https://doi.org/10.1002/9780470995303>.
///
/// ```
/// use acoustics::{cover::cell_strength, units::{Metres, Steradians, VolumeStrength}};
/// // 10 m, 12° beam (ψ = 0.0241 sr), 0.1 ms: a cell of 0.173 m³, −7.6 dB
/// let ts = cell_strength(VolumeStrength::new(-40.0), Metres::new(0.0711), Steradians::new(0.0243), Metres::new(10.0));
/// assert!((ts.get() + 47.6).abs() < 0.1);
/// ```
#[must_use]
pub fn cell_strength(
    strength: VolumeStrength,
    range_cell: Metres,
    psi: Steradians,
    range: Metres,
) -> crate::units::TargetStrength {
    let volume = range_cell.get() * psi.get() * range.get() * range.get();
    crate::units::TargetStrength::new(strength.get() + 10.0 * libm::log10(volume))
}
