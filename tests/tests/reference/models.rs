//! Which model answers which row.

use acoustics::bottom::{self, BottomClass, rayleigh_reflection};
use acoustics::ice::UNDERSIDE_REFLECTION;
use acoustics::interference::any_mark;
use acoustics::pattern::{Aperture, Pattern, piston_amplitude, rectangle_amplitude, solve_level};
use acoustics::target::{Elastic, FishClass};
use acoustics::units::{
    Angle, Beamwidth, Celsius, Db, FullAngle, GramsPerKilogram, HalfAngle, Hertz, KilogramsPerCubicMetre, Metres,
    MetresPerSecond, Seconds, WidthLevel,
};
use acoustics::water::{self, WaterColumn};
use acoustics::{absorption, geometry, levels, target};

use super::Row;

/// What our models say for a row; none where no model of ours answers it.
pub(crate) fn answer(row: &Row) -> Option<f64> {
    match row.topic.as_str() {
        "a_density" => Some(water::density(Celsius::new(row.input("T_C")), GramsPerKilogram::new(0.0)).unwrap().get()),
        "a_sound_speed" => sound_speed(row),
        "b_absorption" => absorption(row),
        "c_piston" | "c_beamwidth" | "c_psi" | "c_DI" | "c_convention" | "c_design" | "c_rect" | "c_geometry" => {
            pattern(row)
        }
        "d_noise" => noise(row),
        "d_source_level" => source_level(row),
        "d_TL" => transmission_loss(row),
        "e_TS_fish" => fish(row),
        "e_TS_sphere" => sphere(row),
        "e_TS_disc" => disc(row),
        "e_TS_cylinder" => cylinder(row),
        "f_range_resolution" => range_cell(row),
        "g_bottom_reflection" => reflection(row),
        "g_bottom_backscatter" => backscatter(row),
        "g_deadzone" => dead_zone(row),
        "i_collision" => collision(row),
        "i_coupling" => coupling(row),
        "i_ice" => ice(row),
        "j_desirability" => desirability(row),
        _ => None,
    }
}

/// What the model itself is uncertain by against the row's source, where it is another model; stated in the model's own docs.
pub(crate) fn own_uncertainty(row: &Row) -> f64 {
    let id = row.id.as_str();
    match row.topic.as_str() {
        // Values at 10 m depth or from other equations of state: ours are at one atmosphere (0.0157 m/s per metre).
        "a_sound_speed" if row.has("depth_m") && row.has("p_kPa") => 0.17,
        // Urick's cylinder and the Kirchhoff disc against exact series: within 2.5 dB near ka = 1, 0.6 dB above 3.
        "e_TS_cylinder" if id.contains("tilt80") => 3.0,
        "e_TS_cylinder" if row.has("theta_deg") => 1.0,
        "e_TS_cylinder" => 0.8,
        "e_TS_disc" => 0.3,
        // At exactly 20 °C the two branches of Francois and Garrison differ by 0.05 %, and the library takes the other one.
        "b_absorption" if id.contains("_FG_") && row.input("T_C") == 20.0 => 0.0006 * row.value.as_f64().unwrap(),
        // The library's Fisher and Simmons against our Francois and Garrison: two published fits that differ by up to 3 %.
        "b_absorption" if id.contains("_FS_") => 0.03 * row.value.as_f64().unwrap(),
        // Ainslie and McColm and Pinkerton against Francois and Garrison: other published fits.
        "b_absorption" if id.contains("_AM_") => 0.09 * row.value.as_f64().unwrap(),
        "b_absorption" if id.contains("_Pinkerton_") => 0.01 * row.value.as_f64().unwrap(),
        // The handbook's is another published model: allowed is the spread that our table states.
        "g_bottom_backscatter" if is_of_the_handbook(row) => bottom::STRENGTH_SPREAD.get(),
        // Straight lines between the rows of the table.
        "g_bottom_backscatter" => 0.1,
        // The published worked example rounds to a tenth of a metre.
        "g_deadzone" if id.starts_with("dz_published") => 0.0,
        _ => 0.0,
    }
}

fn celsius(row: &Row) -> Celsius {
    Celsius::new(row.input("T_C"))
}

fn sound_speed(row: &Row) -> Option<f64> {
    let id = row.id.as_str();
    let fresh = |row: &Row| water::sound_speed_marczak(celsius(row)).unwrap().get();
    if id.starts_with("c_bw148") {
        return Some(water::sound_speed_bilaniuk_wong(celsius(row)).unwrap().get());
    }
    if id.starts_with("c_unesco") || id.starts_with("c_gsw_SA") {
        let salt = if row.has("S") { row.input("S") } else { row.input("SA_g_per_kg") };
        return Some(water::sound_speed_unesco(celsius(row), GramsPerKilogram::new(salt)).unwrap().get());
    }
    if id.starts_with("dcdp") {
        // A metre of water is 9.81 kPa.
        return Some(water::SPEED_PER_METRE / 0.009_81);
    }
    if id.starts_with("dcdT") {
        let at = |t: f64| water::sound_speed_marczak(Celsius::new(t)).unwrap().get();
        let t = row.input("T_C");
        return Some((at(t + 0.05) - at(t - 0.05)) / 0.1);
    }
    if let Some(profile) = id.strip_prefix("charm_") {
        let depth = Metres::new(row.input("depth_m"));
        let bottom = if profile.contains("0_2") { 2.0 } else { 4.0 };
        let mut column = WaterColumn::under_ice(depth, Celsius::new(bottom));
        column.surface_temperature = Celsius::new(0.01);
        if profile.starts_with("exp") {
            let at = |z: f64| 0.01 + 3.99 * (1.0 - (-z / 2.0).exp());
            column.profile =
                (1..=400).map(|i| f64::from(i) * 0.025).map(|z| (Metres::new(z), Celsius::new(at(z)))).collect();
        }
        return Some(column.mean_sound_speed().unwrap().get());
    }
    // The spline tuned for high pressure and the sea-water formula used out of range are known to differ; they are no support.
    let support = ["c_iapws95", "c_coolprop", "c_gsw", "c_marczak"].iter().any(|p| id.starts_with(p));
    support.then(|| fresh(row))
}

fn absorption(row: &Row) -> Option<f64> {
    let per_km = |alpha: acoustics::units::DbPerMetre| Some(alpha.get() * 1e3);
    if !row.has("f_kHz") {
        return None;
    }
    let frequency = Hertz::from_khz(row.input("f_kHz"));
    let depth = if row.has("p_dbar") { row.input("p_dbar") } else { 0.0 };
    per_km(
        absorption::francois_garrison(frequency, celsius(row), GramsPerKilogram::new(0.0), Metres::new(depth), 7.5)
            .unwrap(),
    )
}

const EDGE_3: f64 = 1.613_741_2;

/// A piston of a given ka: its −3 dB width follows from ka sin θ = 1.6137.
fn piston(ka: f64) -> Pattern {
    let full = FullAngle::new(2.0 * (EDGE_3 / ka).asin());
    Pattern::new(&Aperture::CircularPiston { beamwidth: Beamwidth { full, at: WidthLevel::Minus3 } }, Db::new(-80.0))
        .unwrap()
}

fn pattern(row: &Row) -> Option<f64> {
    let id = row.id.as_str();
    let level = |text: &str| Db::new(-text.parse::<f64>().unwrap());
    let psi = |p: &Pattern| 10.0 * p.equivalent_beam_angle().get().log10();
    if let Some(rest) = id.strip_prefix("piston_x_") {
        let at = match rest.strip_suffix("dB") {
            Some(number) => level(number),
            None => Db::new(20.0 * 0.5_f64.sqrt().log10()),
        };
        return Some(solve_level(piston_amplitude, at));
    }
    if id.starts_with("piston_B_") || id.starts_with("piston_rayleigh_") {
        let pattern = piston(row.input("ka"));
        return Some(pattern.level(HalfAngle::from_degrees(row.input("theta_deg"))).get());
    }
    if id == "piston_sl_1_dB" {
        return Some(piston(20.0).first_side_lobe().unwrap().1.get());
    }
    if id.starts_with("bw3_ka") {
        return Some(piston(row.input("ka")).width(WidthLevel::Minus3).to_degrees());
    }
    if id.starts_with("bw10_ka") {
        // 131° is beyond the widest edge that a pattern reports (80° to a side).
        return (row.input("ka") > 4.0).then(|| piston(row.input("ka")).width(WidthLevel::Minus10).to_degrees());
    }
    if id.starts_with("bw6_ka") {
        let x = solve_level(piston_amplitude, Db::new(-6.0));
        return Some(2.0 * (x / row.input("ka")).asin().to_degrees());
    }
    if id.starts_with("psi_ka") {
        return Some(psi(&piston(row.input("ka"))));
    }
    if id.starts_with("DI_ka") {
        return Some(piston(row.input("ka")).directivity_index().get());
    }
    if id == "ratio_bw10_bw3" {
        return Some(solve_level(piston_amplitude, Db::new(-10.0)) / solve_level(piston_amplitude, Db::new(-3.0)));
    }
    if id.starts_with("psi_from_bw3") || id.starts_with("bw10_from_bw3") {
        let full = FullAngle::from_degrees(row.input("bw3_deg"));
        let beam = Beamwidth { full, at: WidthLevel::Minus3 };
        let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth: beam }, Db::new(-60.0)).unwrap();
        return Some(if id.starts_with("psi") {
            psi(&pattern)
        } else {
            pattern.width(WidthLevel::Minus10).to_degrees()
        });
    }
    if id.starts_with("radius_") {
        let at = if row.input("level_dB") < -5.0 { WidthLevel::Minus10 } else { WidthLevel::Minus3 };
        let full = FullAngle::from_degrees(row.input("beamwidth_deg"));
        let pattern =
            Pattern::new(&Aperture::CircularPiston { beamwidth: Beamwidth { full, at } }, Db::new(-60.0)).unwrap();
        // a²/λ is the Rayleigh distance.
        let wavelength = row.input("c") / (row.input("f_kHz") * 1e3);
        let rayleigh = pattern.rayleigh_distance(Metres::new(wavelength)).unwrap().get();
        return Some((rayleigh * wavelength).sqrt() * 1e3);
    }
    match id {
        "rect_t3" => Some(solve_level(rectangle_amplitude, Db::new(-3.0))),
        "rect_t10" => Some(solve_level(rectangle_amplitude, Db::new(-10.0))),
        "rect_psi_40_20" => {
            let side = |kl: f64| Beamwidth {
                full: FullAngle::new(2.0 * (2.0 * solve_level(rectangle_amplitude, Db::new(-3.0)) / kl).asin()),
                at: WidthLevel::Minus3,
            };
            let aperture = Aperture::Rectangular { along: side(row.input("kLx")), across: side(row.input("kLy")) };
            Some(psi(&Pattern::new(&aperture, Db::new(-60.0)).unwrap()))
        }
        _ if id.starts_with("footprint_") => {
            let edge = FullAngle::from_degrees(row.input("full_beamwidth_deg")).half();
            Some(2.0 * geometry::footprint_radius(Metres::new(row.input("depth_m")), edge).get())
        }
        _ => None,
    }
}

/// Density and sound speed of fresh water at a temperature, as IAPWS-95 has them within the tolerance of the rows.
fn medium(t: f64) -> (KilogramsPerCubicMetre, MetresPerSecond) {
    let t = Celsius::new(t);
    (water::density(t, GramsPerKilogram::new(0.0)).unwrap(), water::sound_speed_marczak(t).unwrap())
}

fn noise(row: &Row) -> Option<f64> {
    if !(row.has("f_kHz") && row.has("T_C")) {
        return None;
    }
    let (density, speed) = medium(row.input("T_C"));
    let band = if row.has("bandwidth_kHz") { row.input("bandwidth_kHz") * 1e3 } else { 1.0 };
    let frequency = Hertz::from_khz(row.input("f_kHz"));
    Some(levels::thermal_noise(frequency, Hertz::new(band), celsius(row), Db::new(0.0), density, speed).unwrap().get())
}

fn source_level(row: &Row) -> Option<f64> {
    let power = ["P_acoustic_W", "P_el_W"].iter().find(|p| row.has(p)).map_or(1.0, |p| row.input(p));
    if !row.has("T_C") {
        return None;
    }
    let (density, speed) = medium(row.input("T_C"));
    let di = if row.has("DI_dB") { row.input("DI_dB") } else { 0.0 };
    let watts = acoustics::units::Watts::new(power);
    let efficiency = if row.has("eta") { row.input("eta") } else { 1.0 };
    Some(levels::source_level(watts, efficiency, Db::new(di), density, speed).unwrap().get())
}

fn transmission_loss(row: &Row) -> Option<f64> {
    let range = ["R_m", "range_m"].into_iter().find(|r| row.has(r))?;
    let frequency = Hertz::from_khz(row.input("f_kHz"));
    let alpha =
        absorption::francois_garrison(frequency, celsius(row), GramsPerKilogram::new(0.0), Metres::new(0.0), 7.5)
            .unwrap();
    let range = Metres::new(row.input(range));
    Some(levels::two_way_loss(levels::two_way_spreading(range), range, alpha).get())
}

fn fish(row: &Row) -> Option<f64> {
    let id = row.id.as_str();
    let class = [
        ("Rudstam", FishClass::Smelt),
        ("Warner", FishClass::Alewife),
        ("Swierzowski", FishClass::Vendace),
        ("physoclist", FishClass::ClosedSwimBladder),
        ("clupeoid", FishClass::OpenSwimBladder),
        ("Love1977", FishClass::General),
    ]
    .into_iter()
    .find(|(part, _)| id.contains(part))?
    .1;
    let frequency = Hertz::from_khz(if row.has("f_kHz") { row.input("f_kHz") } else { 120.0 });
    Some(target::fish(class, Metres::new(row.input("L_cm") / 100.0), frequency).unwrap().get())
}

fn sphere(row: &Row) -> Option<f64> {
    if !row.has("c_shear") {
        return None;
    }
    let solid = Elastic {
        density: row.input("rho"),
        longitudinal: row.input("c_long"),
        shear: row.input("c_shear"),
        loss: 0.0,
    };
    let ts = target::solid_sphere(
        Metres::new(row.input("diameter_mm") / 1e3),
        solid,
        Hertz::from_khz(row.input("f_kHz")),
        MetresPerSecond::new(row.input("water_c")),
        KilogramsPerCubicMetre::new(row.input("water_rho")),
    );
    Some(ts.unwrap().get())
}

fn disc(row: &Row) -> Option<f64> {
    let tilt = if row.has("theta_deg") { 90.0 - row.input("theta_deg") } else { 0.0 };
    let ts = target::disc(
        Metres::new(2.0 * row.input("radius_mm") / 1e3),
        Angle::from_degrees(tilt),
        Hertz::from_khz(row.input("f_kHz")),
        MetresPerSecond::new(row.input("water_c")),
    );
    Some(ts.unwrap().get())
}

fn cylinder(row: &Row) -> Option<f64> {
    let tilt = if row.has("theta_deg") { 90.0 - row.input("theta_deg") } else { 0.0 };
    let ts = target::cylinder(
        Metres::new(row.input("length_mm") / 1e3),
        Metres::new(2.0 * row.input("radius_mm") / 1e3),
        Angle::from_degrees(tilt),
        Hertz::from_khz(row.input("f_kHz")),
        MetresPerSecond::new(row.input("water_c")),
    );
    Some(ts.unwrap().get())
}

fn range_cell(row: &Row) -> Option<f64> {
    let speed = MetresPerSecond::new(row.input("c"));
    let cell = if row.has("tau_us") {
        let pulse = Seconds::from_micros(row.input("tau_us"));
        levels::range_cell(speed, pulse, None, Hertz::new(1.0 / pulse.get()))
    } else {
        let band = Hertz::from_khz(row.input("B_kHz"));
        levels::range_cell(speed, Seconds::new(0.01), Some(band), band)
    };
    Some(cell.get() * 1e3)
}

fn reflection(row: &Row) -> Option<f64> {
    let class = [
        ("RL_TM200_rock", BottomClass::Rock),
        ("RL_TM200_cobble", BottomClass::Cobble),
        ("RL_TM200_sandy_gravel", BottomClass::Gravel),
        ("RL_TM200_coarse_sand", BottomClass::CoarseSand),
        ("RL_TM200_silt", BottomClass::Silt),
        ("RL_TR9407_clay", BottomClass::Clay),
        ("RL_TR9407_silt", BottomClass::Silt),
        ("RL_TR9407_fine_sand", BottomClass::FineSand),
        ("RL_TR9407_medium_sand", BottomClass::MediumSand),
        ("RL_TR9407_coarse_sand", BottomClass::CoarseSand),
        ("RL_TR9407_sandy_gravel", BottomClass::Gravel),
    ];
    if let Some((_, class)) = class.iter().find(|(id, _)| row.id.starts_with(id)) {
        return Some(class.reflection_loss().get());
    }
    if row.id.starts_with("wood_") {
        let solid = (row.input("rho_solid"), row.input("K_solid_Pa"));
        return Some(bottom::wood_reflection(
            row.input("porosity"),
            solid,
            row.input("gas_fraction"),
            row.input("p_Pa"),
        ));
    }
    if !row.has("density_ratio") {
        return None;
    }
    let delta =
        if row.has("loss_tangent") { row.input("loss_tangent") } else { row.input("atten_dB_per_lambda") / 54.575 };
    let incidence = Angle::from_degrees(row.input("incidence_from_normal_deg"));
    Some(rayleigh_reflection(row.input("density_ratio"), row.input("speed_ratio"), delta, incidence))
}

/// Rows of APL-UW TR 9407, whose fluid model is not the one that the table was made by.
fn is_of_the_handbook(row: &Row) -> bool {
    row.id.starts_with("Sb_TR9407")
}

/// Its rows for gravel and harder: the two models differ there by more than the stated spread, so they are background and no support.
pub(crate) fn is_hard_bottom_of_the_handbook(row: &Row) -> bool {
    is_of_the_handbook(row) && bottom_class(row).is_some_and(|class| class > BottomClass::CoarseSand)
}

fn bottom_class(row: &Row) -> Option<BottomClass> {
    Some(match row.text("sediment") {
        "silt" => BottomClass::Silt,
        "fine_sand" => BottomClass::FineSand,
        "medium_sand" => BottomClass::MediumSand,
        "coarse_sand" => BottomClass::CoarseSand,
        "sandy_gravel" => BottomClass::Gravel,
        "cobble" => BottomClass::Cobble,
        "rock" => BottomClass::Rock,
        _ => return None,
    })
}

/// What our table says at a row's frequency and angle, whether the row is a support or not. The model knows frequencies by their wavelength
/// only: another sound speed is another frequency.
pub(crate) fn bottom_strength(row: &Row) -> Option<f64> {
    let grazing = Angle::from_degrees(row.input("grazing_deg"));
    let stretch = if row.has("c_w") { 1421.6 / row.input("c_w") } else { 1.0 };
    let frequency = Hertz::from_khz(row.input("f_kHz") * stretch);
    Some(bottom::strength(bottom_class(row)?, frequency, grazing).unwrap().get())
}

fn backscatter(row: &Row) -> Option<f64> {
    (!is_hard_bottom_of_the_handbook(row)).then(|| bottom_strength(row)).flatten()
}

fn dead_zone(row: &Row) -> Option<f64> {
    let id = row.id.as_str();
    let cell = || Metres::new(0.5 * row.input("c") * row.input("tau_us") * 1e-6);
    let half = || HalfAngle::from_degrees(row.input("half_angle_deg"));
    if id.starts_with("dz_flat") {
        // The form of Ona and Mitson; it leaves out a cos θ on the pulse, which is within the tolerance below 20°.
        return (row.input("half_angle_deg") < 15.0)
            .then(|| geometry::flat_dead_height(Metres::new(row.input("depth_m")), half(), cell()).get());
    }
    if id.starts_with("dz_published") {
        let edge = FullAngle::from_degrees(row.input("full_beamwidth_deg")).half();
        let cell = Metres::new(0.5 * 1500.0 * row.input("tau_ms") * 1e-3);
        return Some(geometry::flat_dead_height(Metres::new(row.input("depth_m")), edge, cell).get());
    }
    if id.starts_with("dz_slope") {
        let depth = Metres::new(row.input("depth_on_axis_m"));
        let first = geometry::first_bottom_range(depth, Angle::from_degrees(row.input("slope_deg")), half());
        return Some(geometry::dead_zone_height(depth, first, cell()).get());
    }
    if id.starts_with("dz_volume") {
        return Some(geometry::flat_dead_volume_m3(Metres::new(row.input("depth_m")), half()));
    }
    None
}

fn collision(row: &Row) -> Option<f64> {
    if !row.has("gate_ms") {
        return None;
    }
    let time = Seconds::new((row.input("gate_ms") + row.input("interferer_pulse_ms")) * 1e-3);
    let periods = row.inputs["interferer_periods_s"].as_array().unwrap();
    Some(any_mark(periods.iter().map(|p| (time, Seconds::new(p.as_f64().unwrap())))))
}

/// The rows' own chain (their power, their 90° envelope), through our source level, absorption and spreading.
fn coupling(row: &Row) -> Option<f64> {
    if !row.id.ends_with("_direct") {
        return None;
    }
    let (density, speed) = medium(row.input("T_C"));
    let frequency = Hertz::from_khz(row.input("f_kHz"));
    let ka = 2.0 * std::f64::consts::PI * frequency.get() * row.input("a_m") / speed.get();
    let watts = acoustics::units::Watts::new(row.input("P_acoustic_W"));
    let source = levels::source_level(watts, 1.0, piston(ka).directivity_index(), density, speed).unwrap();
    let envelope = 20.0 * (2.0 / ka * (2.0 / (std::f64::consts::PI * ka)).sqrt()).log10();
    let alpha =
        absorption::francois_garrison(frequency, celsius(row), GramsPerKilogram::new(0.0), Metres::new(0.0), 7.5)
            .unwrap();
    let s = row.input("separation_m");
    Some(source.get() + 2.0 * envelope - 20.0 * s.log10() - alpha.get() * s)
}

/// The ice underside at normal incidence, and the second bounce that it sends down again.
fn ice(row: &Row) -> Option<f64> {
    if ["R_ice_half_0", "R_ice_normal"].contains(&row.id.as_str()) {
        return Some(UNDERSIDE_REFLECTION);
    }
    // As the interference model adds a bounce: the losses of ice and bottom, and 20 lg 2 of spreading.
    row.id
        .starts_with("second_bottom_echo")
        .then(|| 20.0 * (row.input("R_bottom") * UNDERSIDE_REFLECTION).log10() - 20.0 * 2.0_f64.log10())
}

fn desirability(row: &Row) -> Option<f64> {
    use domain::desirability::OneSided;
    let id = row.id.as_str();
    if id == "des_overall" {
        let d: Vec<f64> = row.inputs["d"].as_array().unwrap().iter().map(|d| d.as_f64().unwrap()).collect();
        return Some(domain::desirability::overall(&d, &vec![1.0; d.len()]));
    }
    if !row.has("s") || id.starts_with("des_tgt") {
        return None;
    }
    let (worthless, ideal) =
        if row.has("L") { (row.input("L"), row.input("T")) } else { (row.input("U"), row.input("T")) };
    Some(OneSided { worthless, ideal, bend: row.input("s") }.of(row.input("y")))
}
