//! The page of models: `services/acoustics/MODELS.md`, part of the documentation of crate acoustics.
//!
//! Models, sources and validity are written here; the measured agreement is put in by the test that makes it.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::Row;

/// A model, the topics of `values.json` that hold it, its source, and where it is valid.
struct Model {
    name: &'static str,
    item: &'static str,
    source: &'static str,
    valid: &'static str,
    topics: &'static [&'static str],
}

const MODELS: &[Model] = &[
    Model {
        name: "Sound speed of fresh water, mean under ice, of slightly saline water",
        item: "water",
        source: "Marczak 1997, doi:10.1121/1.420332; Bilaniuk and Wong 1993, doi:10.1121/1.406819; Chen and Millero 1977, doi:10.1121/1.381646",
        valid: "0 to 95 °C; 0 to 100 °C; 0 to 40 °C and 0 to 40 g/kg; pressure by its slope at 4 °C (IAPWS-95)",
        topics: &["a_sound_speed"],
    },
    Model {
        name: "Density",
        item: "water::density",
        source: "Millero and Poisson 1981, doi:10.1016/0198-0149(81)90122-9",
        valid: "0 to 40 °C, 0 to 42 g/kg",
        topics: &["a_density"],
    },
    Model {
        name: "Absorption",
        item: "absorption::francois_garrison",
        source: "Francois and Garrison 1982, doi:10.1121/1.388170 and 10.1121/1.388673",
        valid: "0.2 to 2,000 kHz, −2 to 30 °C, 0 to 40 g/kg, 0 to 500 m, pH 6 to 9.5 where there is salt",
        topics: &["b_absorption"],
    },
    Model {
        name: "Beam pattern: round piston, rectangle; widths at −3, −6 and −10 dB, equivalent beam angle, directivity index",
        item: "pattern",
        source: "Morse and Ingard 1968, section 7.4; ISO 18405 for the names",
        valid: "beamwidths 1° to 180°, floor −80 to −10 dB",
        topics: &["c_piston", "c_beamwidth", "c_psi", "c_DI", "c_convention", "c_design", "c_rect", "c_geometry"],
    },
    Model {
        name: "Source level from power",
        item: "levels::source_level",
        source: "Waite 2002, eq. 2.6, with ρc of the water at hand",
        valid: "10⁻⁶ to 10⁵ W, efficiency 0.0001 to 1",
        topics: &["d_source_level"],
    },
    Model {
        name: "Two-way transmission loss",
        item: "levels::two_way_loss",
        source: "Urick 1983, eq. 2.1",
        valid: "as absorption",
        topics: &["d_TL"],
    },
    Model {
        name: "Thermal noise",
        item: "levels::thermal_noise",
        source: "Mellen 1952, doi:10.1121/1.1906924",
        valid: "10 to 2,000 kHz, −2 to 40 °C",
        topics: &["d_noise"],
    },
    Model {
        name: "Target strength of fish",
        item: "target::fish",
        source: "Love 1977, doi:10.1121/1.381672; Foote 1987, doi:10.1121/1.395298; Rudstam et al. 2003; Warner et al. 2002; Świerzowski and Doroszczyk 2004",
        valid: "1 to 200 cm, 10 to 2,000 kHz; single fish scatter by 5 dB and more about it",
        topics: &["e_TS_fish"],
    },
    Model {
        name: "Target strength of solid spheres",
        item: "target::solid_sphere",
        source: "Faran 1951, doi:10.1121/1.1906780; MacLennan 1981",
        valid: "ka 0.02 to 80",
        topics: &["e_TS_sphere"],
    },
    Model {
        name: "Target strength of a flat disc",
        item: "target::disc",
        source: "Kirchhoff approximation; Urick 1983, table 9.1",
        valid: "ka from 1; within 0.5 dB face on from ka 4",
        topics: &["e_TS_disc"],
    },
    Model {
        name: "Target strength of a short cylinder",
        item: "target::cylinder",
        source: "Urick 1983, table 9.1",
        valid: "ka from 0.8; within 2.5 dB near ka 1, 0.6 dB above 3",
        topics: &["e_TS_cylinder"],
    },
    Model {
        name: "Range cell",
        item: "levels::range_cell",
        source: "definition: cτ/2, or c/2B for a sweep",
        valid: "any pulse",
        topics: &["f_range_resolution"],
    },
    Model {
        name: "Ring-down",
        item: "levels::ring_down",
        source: "damped oscillations, Kinsler et al. 2000, section 1.6; quality and fall ASSUMED",
        valid: "single elements driven for some twenty periods",
        topics: &[],
    },
    Model {
        name: "Reflection loss of the bottom, of mud with gas",
        item: "bottom::BottomClass::reflection_loss",
        source: "Jensen et al. 2011, eq. 1.51, doi:10.1007/978-1-4419-8678-8; ratios of APL-UW TM 2-00; Wood 1930 for suspensions",
        valid: "any incidence; suspensions under the resonance of their bubbles",
        topics: &["g_bottom_reflection"],
    },
    Model {
        name: "Backscattering strength of the bottom",
        item: "bottom::strength",
        source: "APL-UW TM 2-00 (2000), beside it TR 9407 (1994); Jackson and Richardson 2007, doi:10.1007/978-0-387-36945-7",
        valid: "30 to 1,000 kHz, the nearest row beyond down to 10 and up to 2,000 kHz; 30° to 90° grazing; spread 4 dB, 6 dB for mud, 7 dB for gravel and harder",
        topics: &["g_bottom_backscatter"],
    },
    Model {
        name: "Echo of a plane bottom, sloping or under a leaning beam",
        item: "plane_echo",
        source: "integral of the backscattering strength over the plane, weighed by the pattern there and back; Urick 1983, section 8.2",
        valid: "incidence to 75°; grazing under 30° as at 30°; of an oblong beam the mean over headings",
        topics: &[],
    },
    Model {
        name: "Scatter of the bottom between neighbours",
        item: "interference::Pair",
        source: "integral over the plane of facets about the mirror direction and a Lambert floor; Jackson and Richardson 2007, doi:10.1007/978-0-387-36945-7",
        valid: "slopes to 60° after bounces, any heading; leans along the line between the units",
        topics: &[],
    },
    Model {
        name: "Confirmation of marks by m of n pings",
        item: "interference::Confirmer",
        source: "Feller 1968, section IV.3",
        valid: "1 to 10 pings, jitters to 50 %",
        topics: &[],
    },
    Model {
        name: "Dead heights of a flat and a sloping bottom",
        item: "geometry",
        source: "Ona and Mitson 1996, doi:10.1006/jmsc.1996.0087",
        valid: "a plane bottom, edges to 80°",
        topics: &["g_deadzone"],
    },
    Model {
        name: "Marks of neighbours that are not synchronised",
        item: "interference::any_mark",
        source: "1 − Π(1 − t/T), by definition; Monte Carlo",
        valid: "any",
        topics: &["i_collision"],
    },
    Model {
        name: "Direct path between neighbours",
        item: "interference::direct_level",
        source: "Urick 1983, eq. 2.1, with the side lobes of the piston",
        valid: "as the patterns",
        topics: &["i_coupling"],
    },
    Model {
        name: "Reflection by a sheet of ice backed by air, and the second bounce",
        item: "ice::sheet_loss",
        source: "three-layer formula, Brekhovskikh and Godin 1990, doi:10.1007/978-3-642-52369-4; ice by SeaFreeze 1.1.3, Journaux et al. 2020, doi:10.1029/2019JE006176; loss in ice ASSUMED",
        valid: "0.02 to 3 m, normal incidence, smooth faces; spread 3 dB for others",
        topics: &["i_ice"],
    },
    Model {
        name: "Desirabilities (crate planning)",
        item: "",
        source: "Derringer and Suich 1980",
        valid: "any",
        topics: &["j_desirability"],
    },
];

/// How far the table of bottom backscattering is from TR 9407 for gravel and harder at 100 kHz, 21 values; held by a test.
pub(crate) const HARD_BOTTOMS_MEDIAN_DB: f64 = 4.15;
pub(crate) const HARD_BOTTOMS_MOST_DB: f64 = 6.98;

/// What is held to something else than the table of values, and where.
const ELSEWHERE: &[(&str, &str, &str)] = &[
    (
        "Scatter between neighbours over a level bottom (`interference::Pair`, `interference::ScatterTable`)",
        "direct integration on a square grid, in 64 random cases of beams, bottoms, spacings and pulses, half of them through the table, down to 40 dB \
         under the peak: within 0.5 dB everywhere",
        "`services/acoustics/tests/interference.rs`",
    ),
    (
        "Scatter between neighbours over slopes, with oblong and leaning beams (`interference::Pair`)",
        "direct integration with NumPy 2.4.6 and SciPy 1.17.1, which shares no code, in 24 random cases of round and oblong beams of any heading, leans up to 12°, \
         slopes up to 30° in any direction, spacings and pulses, down to 40 dB under the peak: within 0.5 dB everywhere",
        "`tests/tests/reference/scatter.rs`, `tests/reference/scatter.py`",
    ),
    (
        "Confirmation by m of n pings (`interference::Confirmer`)",
        "a simulation of ping trains, which shares the lengths of marks only, in 50 cases of intervals, jitters from 0 to 20 %, uniform and normal, up to \
         4 of 7 pings and 4 neighbours: clear gain within 1 dB in all of them; independent pings against the binomial distribution",
        "`services/acoustics/tests/confirmation.rs`",
    ),
    (
        "Sheet of ice (`ice::sheet_loss`)",
        "the train of echoes in and under the sheet, added up one by one: within 0.1 dB where they do not overlap in the band; and impedances carried through the sheet at \
         200,001 frequencies of the band, with NumPy 2.4.6, in 24 random cases: within 0.1 dB",
        "`services/acoustics/tests/ice.rs`, `tests/reference/second.py`",
    ),
    (
        "Mean of a target over band, size and aspect (`target::mean_over_band`, `target::mean_disc`, `target::mean_cylinder`)",
        "3 % of size never moves it by more than 2.5 dB, balls of lead among them, whose loss is ASSUMED; a large disc over all aspects is its surface over 16π, the geometric limit",
        "`services/planning/src/selection/targets.rs`, `services/acoustics/tests/targets.rs`",
    ),
    (
        "Echo of a plane bottom (`plane_echo::PlaneEcho`)",
        "cells of a square grid, binned by range, with NumPy 2.4.6, in 24 random cases of beams, bottoms, frequencies, tilts up to 28° and range cells: \
         within 0.14 dB; 8 of oblong beams, over all their headings: within 0.08 dB",
        "`tests/tests/reference/second.rs`, `tests/reference/second.py`",
    ),
    (
        "Area in which fish show, side lobes and lean included (crate planning)",
        "cells of directions about the axis, the pulse's band at 41 frequencies, with NumPy 2.4.6, in 60 random cases of beams from 6° to 40°, leans up to 10°, \
         depths, layers and levels down to 32 dB off the axis: within 0.15 dB of area",
        "`tests/tests/reference/second.rs`, `tests/reference/second.py`",
    ),
    (
        "Absorption off the axis (crate planning)",
        "taken down to the depth of a fish and not along the slant, which shows too much of the water: with a fish 20 dB over the threshold at the bottom, in 150 random scenes of \
         beams from 6° to 40° and depths to 25 m each, 0.01, 0.03 and 0.13 dB of area in nine of ten and 0.01, 0.07 and 0.22 dB at most at 200, 455 and 800 kHz; with \
         all of the gain up to 0.5 dB, far out in deep water. It is left: along the slant it would cost a second look-up for each depth of the layer",
        "the coverage of `services/planning/tests/corrections` is held between the two",
    ),
    (
        "Whether a fluctuating fish shows (crate planning)",
        "a fish counts where its mean echo passes the threshold, and not with the probability that one does. Weighed by that of an exponentially distributed intensity (Swerling 1960, \
         doi:10.1109/TIT.1960.1057561; of fish Simmonds and MacLennan 2005, chapter 6, doi:10.1002/9780470995303), of one ping and of the strongest of ten, in 150 random scenes of nine beams each, another beam is first in 10 and 29 of 150 watching a \
         lure and in 21 and 42 searching, and scores 0.000, 0.009, 0.001 and 0.020 more in nine of ten, 0.013, 0.047, 0.022 and 0.042 at most: all beams gain or lose alike. A \
         lure is a steady target: its margin of 3 dB is what lifts its detection from one half to nine tenths and more (2.4 dB at a false alarm in 10,000, non-central chi-square)",
        "`services/planning/tests/corrections/fluctuating_marks.rs`",
    ),
    (
        "Ring-down (`levels::ring_down`)",
        "ASSUMED where it is not stated: quality and fall of the ringing are of no measured transducer, two in three are taken to ring two thirds to one and a half times as long; nothing nearer than some 0.2 to 0.6 m \
         depends on it",
        "the law is that of damped oscillations; `services/planning/tests/corrections`",
    ),
    (
        "Balls that lose sound (`target::solid_sphere`)",
        "the boundary conditions of each partial wave as a system of equations, with SciPy 1.17.1, in 8 cases of losses up to 0.3: within 0.01 dB",
        "`tests/tests/reference/second.rs`, `tests/reference/second.py`",
    ),
    (
        "Swept pulses (`interference::compressed_pulse`, `interference::mismatch_loss`)",
        "compression ratio BT by definition, Cook and Bernfeld 1967; a sweep and the plain pulse of the same cell have the same clear gain",
        "`services/planning/tests/swept.rs`",
    ),
    (
        "Shaded circular aperture (`pattern`)",
        "Taylor 1960, doi:10.1109/TAP.1960.1144807: the asked peak side lobe",
        "`services/acoustics/tests/patterns.rs`",
    ),
    (
        "Pattern through measured points (`pattern`)",
        "monotone cubic of Fritsch and Butland 1984",
        "`services/acoustics/tests/patterns.rs`",
    ),
    (
        "Plants (`cover`)",
        "ASSUMED: no absolute strength of freshwater plants under ice was found in print; spread 6 dB",
        "the source of the bounds stands at `cover::CanopyDensity::volume_strength`",
    ),
    (
        "Rank acceptability (crate planning)",
        "Lahdelma and Salminen 2001 by polygon clipping with shapely 2.2.0, by NumPy 2.4.6 and by the R package smaa 0.3-3; and the results \
         that the open program JSMAA prints in its test of a case with uncertain criteria (Tervonen et al. 2010; 4 alternatives, 6 criteria): 16 \
         acceptabilities and 24 central weights, within their two digits and the error of the draws",
        "`services/planning/tests/uncertainty.rs`",
    ),
    (
        "Layouts of holes (crate planning)",
        "best-known packings of 2 to 20 points in a square: within 0.5 %",
        "`services/planning/tests/layout.rs`",
    ),
    (
        "Fit of a beam survey (crate planning)",
        "SciPy 1.17.1: optimum and profile intervals to 0.01; 90 % intervals, goodness of fit and promises over simulated surveys with fixed seeds",
        "`tests/tests/reference/survey.rs`, `services/planning/tests/survey_intervals.rs`",
    ),
];

/// One compared value.
pub(crate) struct Compared {
    pub(crate) difference: f64,
    pub(crate) of_allowed: f64,
}

/// The page, from every row with what it gave.
pub(crate) fn page(compared: &[(Row, Compared)], left: &BTreeMap<&str, usize>) -> String {
    let mut page = String::from(
        "# Models, their sources, and how well they agree\n\n\
         Made by `LAKEBEAM_WRITE_PAGES=1 cargo test -p tests --test reference`; without the variable the same test fails where this page is \
         not what it measures.\n\n\
         ## Models\n\n| model | where | source | valid for |\n| --- | --- | --- | --- |\n",
    );
    for model in MODELS {
        let item = if model.item.is_empty() {
            "crate planning".to_owned()
        } else {
            format!("[`{0}`](crate::{0})", model.item)
        };
        let _ = writeln!(page, "| {} | {item} | {} | {} |", model.name, model.source, model.valid);
    }
    page.push_str(
        "\nOutside its validity a model answers an error, never a figure.\n\n\
         ## Measured agreement\n\n\
         Differences from the values of `tests/reference/values.json`, which lakebeam did not make. *Independent* values come from a library or \
         a publication; the others were computed from the definition by programs that share no code with lakebeam. *Of allowed* is the largest \
         difference over what the row allows: half its last digit, its source's uncertainty, and the model's own where it is another model.\n\n\
         | model | values | independent | sources | unit | median | 99 % | most | of allowed |\n\
         | --- | ---: | ---: | ---: | --- | ---: | ---: | ---: | ---: |\n",
    );
    for model in MODELS {
        let mut units: BTreeMap<&str, Vec<&(Row, Compared)>> = BTreeMap::new();
        for entry in compared.iter().filter(|(row, _)| model.topics.contains(&row.topic.as_str())) {
            units.entry(&entry.0.units).or_default().push(entry);
        }
        for (unit, entries) in units {
            let sources: BTreeSet<&str> = entries.iter().map(|(row, _)| row.source_name()).collect();
            let independent = entries.iter().filter(|(row, _)| row.is_independent()).count();
            let mut differences: Vec<f64> = entries.iter().map(|(_, compared)| compared.difference).collect();
            differences.sort_by(f64::total_cmp);
            let at = |q: f64| figure(differences[((differences.len() - 1) as f64 * q).round() as usize]);
            let of_allowed = entries.iter().map(|(_, compared)| compared.of_allowed).fold(0.0, f64::max);
            let short = model.name.split([':', ',']).next().unwrap_or(model.name);
            let _ = writeln!(
                page,
                "| {short} | {} | {independent} | {} | {} | {} | {} | {} | {:.0} % |",
                entries.len(),
                sources.len(),
                if unit.is_empty() { "1" } else { unit },
                at(0.5),
                at(0.99),
                at(1.0),
                100.0 * of_allowed
            );
        }
    }
    page.push_str("\n## Held to something else\n\n| what | against what | where |\n| --- | --- | --- |\n");
    for (what, against, place) in ELSEWHERE {
        let _ = writeln!(page, "| {what} | {against} | {place} |");
    }
    let _ = writeln!(
        page,
        "| Backscattering of gravel and harder (`bottom::strength`) | the second model, APL-UW TR 9407 at 100 kHz, does NOT SUPPORT it within \
         the 4 dB that hold for silt and sands: it is {HARD_BOTTOMS_MEDIAN_DB} dB off in the median and {HARD_BOTTOMS_MOST_DB} dB at most, and states about \
         10 dB for itself there. The spread of these classes was set to 7 dB because of that | `tests/tests/reference/main.rs` |"
    );
    page.push_str("\n## Not compared\n\nRows of the table of values that are compared with nothing, and why.\n\n| values | why |\n| ---: | --- |\n");
    for (why, count) in left {
        let _ = writeln!(page, "| {count} | {why} |");
    }
    page
}

/// Two digits: enough to judge by, and the same on every machine.
fn figure(value: f64) -> String {
    if value < 1e-9 {
        return "0".to_owned();
    }
    let exponent = value.log10().floor() as i32;
    if exponent < -3 {
        return format!("{:.1}·10^{exponent}", value / 10.0_f64.powi(exponent));
    }
    let places = usize::try_from(1 - exponent).unwrap_or(0);
    format!("{value:.places$}")
}
