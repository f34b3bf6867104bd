//! The ice as a sheet: what its underside sends back down.

use std::f64::consts::PI;

use crate::error::{ModelError, within};
use crate::units::{Db, Hertz, Metres};

/// Amplitude reflected by smooth thick ice at normal incidence: ice Ih at 0 °C, 916.72 kg/m³ and 3824 m/s under fresh water
/// (SeaFreeze 1.1.3, Journaux et al. 2020, <https://doi.org/10.1029/2019JE006176>).
pub const UNDERSIDE_REFLECTION: f64 = 0.4286;
/// Compressional speed of ice Ih at 0 °C, m/s; same source.
const ICE_SPEED: f64 = 3_824.0;
/// Loss of sound in ice, dB per metre and kilohertz. ASSUMED: half of what is fitted to sea ice at −6 °C, which holds brine (McCammon and McDaniel,
/// J. Acoust. Soc. Am. 77, 499, 1985, <https://doi.org/10.1121/1.391869>, from memory); no measurement of lake ice at these frequencies was found.
const ICE_LOSS: f64 = 0.03;
/// Thickness where none is given. ASSUMED: what people with shelters fish on.
pub const USUAL_THICKNESS: Metres = Metres::new(0.4);
/// Spread (one standard deviation) of the loss, dB: from smooth clear ice, which sends nearly all back, to rough, candled or water-soaked ice, whose
/// underside alone reflects (7.4 dB).
pub const SHEET_SPREAD: Db = Db::new(3.0);
/// Thinnest and thickest sheet, m.
pub const THICKNESSES: (f64, f64) = (0.02, 3.0);
/// Reflection loss of a sheet of ice backed by air at normal incidence, positive, for the energy of a pulse.
///
/// R = (r − q e^{2ikh}) / (1 − r q e^{2ikh}), the three-layer formula with r water to ice, −1 ice to air, h the thickness, k = 2πf/c of ice, and
/// q = 10^(−2hα/20) what the ice leaves on the way up and down; |R|² is averaged over the band of the pulse. Without loss all energy
/// comes back, however thick the sheet; a thick or lossy sheet sends back |r|².
///
/// Validity: 0.02 to 3 m of ice, 10 to 2,000 kHz; smooth faces, [`SHEET_SPREAD`] for the others.
///
/// L. M. Brekhovskikh and O. A. Godin, Acoustics of Layered Media I (1990), section 2.4, <https://doi.org/10.1007/978-3-642-52369-4>.
///
/// # Errors
/// A thickness or a frequency outside the validity, or a band that is not positive.
///
/// ```
/// use acoustics::{ice::sheet_loss, units::{Hertz, Metres}};
/// let thin = sheet_loss(Metres::new(0.1), Hertz::from_khz(200.0), Hertz::from_khz(10.0))?;
/// let thick = sheet_loss(Metres::new(2.0), Hertz::from_khz(200.0), Hertz::from_khz(10.0))?;
/// assert!(thin.get() < 2.0 && (thick.get() - 7.36).abs() < 0.5);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn sheet_loss(thickness: Metres, frequency: Hertz, band: Hertz) -> Result<Db, ModelError> {
    const MODEL: &str = "sheet of ice";
    let h = within(MODEL, "thickness", thickness.get(), THICKNESSES, "m")?;
    let centre = within(MODEL, "frequency", frequency.to_khz(), (10.0, 2000.0), "kHz")? * 1e3;
    let width = within(MODEL, "band", band.get(), (1e-3, 2e6), "Hz")?;
    let left = libm::pow(10.0, -2.0 * h * ICE_LOSS * centre / 1e3 / 20.0);
    let inside = UNDERSIDE_REFLECTION * left;
    let half_turn = |frequency: f64| 2.0 * PI * frequency * h / ICE_SPEED;
    let (first, last) = (half_turn(centre - width / 2.0), half_turn(centre + width / 2.0));
    // |R|² = 1 − (1 − r²)(1 − q²) / |1 − r q e^{2ikh}|², whose mean over kh is known without sampling: points would beat with the fringes.
    let lost = (1.0 - UNDERSIDE_REFLECTION * UNDERSIDE_REFLECTION) * (1.0 - left * left) / (1.0 - inside * inside);
    let power = 1.0 - lost * (fringes(inside, last) - fringes(inside, first)) / (last - first);
    Ok(Db::new(-10.0 * libm::log10(power)))
}

/// (1 − p²) ∫ dx / (1 + p² − 2p cos 2x) from 0 to x: as steep as the fringes, and x wherever a whole number of them has passed.
fn fringes(p: f64, x: f64) -> f64 {
    let whole = libm::round(x / PI) * PI;
    whole + libm::atan((1.0 + p) / (1.0 - p) * libm::tan(x - whole))
}
