//! Shelter rules, and layouts of holes.

use proto::v1;

use super::catalog::words;
use super::run::full_name;
use super::{derived::full_names, length, report};
use crate::cli;
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::output::{json, table::Columns};

/// Derives rules and prints, for each shelter, what is allowed.
pub(super) async fn rules(connection: &Connection, args: &cli::Rules, as_json: bool) -> Outcome {
    let shelters = if args.shelters.is_empty() {
        every_shelter(connection).await?
    } else {
        full_names(&args.shelters, "shelters")
    };
    let spec = v1::RulesSpec {
        shelters,
        options: full_names(&args.options, "sensors"),
        lure: full_name(&args.lure, "targets"),
        bands: args.bands.iter().map(|text| band(text)).collect::<Result<_, _>>()?,
        bottom_classes: args.bottoms.iter().map(|text| bottom(text)).collect::<Result<_, _>>()?,
        next_shelter_m: args.next_shelter,
        unlisted_units: args.unlisted,
        ..v1::RulesSpec::default()
    };
    let request = v1::DeriveShelterRulesRequest { spec: Some(spec) };
    let rules = connection.rules().derive_shelter_rules(request).await?.into_inner();
    if as_json {
        json::print(&rules)?;
    } else {
        print_rules(&rules);
    }
    report::print(connection, &rules.name, &args.printed, as_json).await
}

async fn every_shelter(connection: &Connection) -> Result<Vec<String>, CliError> {
    let request = v1::ListSheltersRequest { page_size: 500, ..v1::ListSheltersRequest::default() };
    let page = connection.catalog().list_shelters(request).await?.into_inner();
    if page.next_page_token.is_empty() {
        return Ok(page.shelters.into_iter().map(|shelter| shelter.name).collect());
    }
    Err(CliError::Usage(format!(
        "there are {} shelters, and rules take 500 at once: name them with --shelters",
        page.total_size
    )))
}

/// `2-6` in metres or `8ft-15ft` in feet.
fn band(text: &str) -> Result<v1::DepthBand, CliError> {
    let (shallow_m, deep_m) = length::pair(text, &['-']).ok_or_else(|| {
        CliError::Usage(format!("--bands: '{text}' is no band of depth; write 2-6 for metres or 8ft-15ft for feet"))
    })?;
    Ok(v1::DepthBand { shallow_m, deep_m })
}

fn bottom(text: &str) -> Result<i32, CliError> {
    let name = format!("BOTTOM_CLASS_{}", text.trim().to_uppercase().replace('-', "_"));
    let known = |class: &v1::BottomClass| *class != v1::BottomClass::Unspecified;
    v1::BottomClass::from_str_name(&name).filter(known).map(i32::from).ok_or_else(|| {
        let all: Vec<_> = (1..)
            .map_while(|number| v1::BottomClass::try_from(number).ok())
            .map(|class| words("BOTTOM_CLASS_", class.as_str_name()).replace(' ', "-"))
            .collect();
        CliError::Usage(format!("--bottoms: '{text}' is no class of bottom; there are {}", all.join(", ")))
    })
}

fn print_rules(rules: &v1::ShelterRules) {
    for sheet in &rules.sheets {
        let shelter = sheet.shelter.as_ref().map_or("", |shelter| shelter.display_name.as_str());
        say!("{shelter}: {} anglers, holes {:.2} m apart", sheet.people, sheet.spacing_m);
        for band in &sheet.bands {
            let depth =
                band.band.as_ref().map_or_else(String::new, |b| format!("{:.1} to {:.1} m", b.shallow_m, b.deep_m));
            say!("\n  {depth}");
            let mut table = Columns::new(&[
                "option",
                "allowed",
                ">start",
                ">never above",
                ">least spacing m",
                ">most anglers",
                "why not",
            ]);
            for rule in &band.rules {
                table.row(rule_row(rules, rule));
            }
            table.print();
            say!("  {}", mixing(rules, sheet, band));
            say!("  {}", next_shelter(rules, band));
            if let Some(help) = &band.help {
                say!("  Nothing is allowed as it is. Soonest helps: {}.", help_text(rules, help));
            }
        }
        say!("");
    }
    say!("Stored as {}. To pin up: lakebeam report {} --output rules.pdf", rules.name, rules.name);
}

/// What may be mixed, in full: the shorter one of what may and what may not.
fn mixing(rules: &v1::ShelterRules, sheet: &v1::ShelterSheet, band: &v1::BandRules) -> String {
    let allowed: Vec<u32> = band.rules.iter().filter(|rule| rule.allowed).map(|rule| rule.option).collect();
    if sheet.people < 2 || allowed.len() < 2 {
        return "All use the same one.".to_owned();
    }
    let pairs = allowed.iter().enumerate().flat_map(|(i, a)| allowed.iter().skip(i + 1).map(move |b| (*a, *b)));
    let may = |pair: &(u32, u32)| band.mixes.iter().any(|mix| (mix.first, mix.second) == *pair);
    let (permitted, forbidden): (Vec<_>, Vec<_>) = pairs.partition(may);
    let names = |pairs: &[(u32, u32)]| {
        let name = |(a, b): &(u32, u32)| format!("{} with {}", option_name(rules, *a), option_name(rules, *b));
        pairs.iter().map(name).collect::<Vec<_>>().join("; ")
    };
    match (permitted.as_slice(), forbidden.as_slice()) {
        ([], _) => "None may be mixed: all use the same one.".to_owned(),
        (_, []) => "All of the allowed ones may be mixed.".to_owned(),
        (few, many) if few.len() <= many.len() => format!("May be mixed, and nothing else: {}.", names(few)),
        (_, few) => format!("All of the allowed ones may be mixed but: {}.", names(few)),
    }
}

/// From what distance on other shelters do not matter.
fn next_shelter(rules: &v1::ShelterRules, band: &v1::BandRules) -> String {
    let standing = match rules.spec.as_ref().and_then(|spec| spec.next_shelter_m) {
        Some(clear) => format!("Holds with other shelters {clear:.1} m away or farther."),
        None => "Holds for a shelter that stands alone.".to_owned(),
    };
    match band.holds_beyond_m {
        None => format!("{standing} Others matter at more than 40 m, too."),
        Some(clear) if clear > 0.0 => format!("{standing} Others no longer matter from {clear:.1} m on."),
        Some(_) => format!("{standing} Others do not matter at any distance."),
    }
}

fn option_name(rules: &v1::ShelterRules, place: u32) -> String {
    let option = usize::try_from(place).ok().and_then(|place| rules.options.get(place));
    option.map_or_else(String::new, |known| match &known.unlisted {
        Some(class) => {
            let khz = match (class.lowest_khz, class.highest_khz) {
                (low, high) if low <= 0.0 => format!("under {high:.0} kHz"),
                (low, high) if high <= 0.0 => format!("over {low:.0} kHz"),
                (low, high) => format!("{low:.0} to {high:.0} kHz"),
            };
            format!("Not listed · {:.0} to {:.0}°, {khz}", class.narrowest_deg, class.widest_deg)
        }
        None => format!("{} · {}", known.sensor_display_name, known.beam),
    })
}

fn rule_row(rules: &v1::ShelterRules, rule: &v1::Rule) -> [String; 7] {
    let sentence = |said: &Option<v1::Sentence>| said.as_ref().map_or_else(|| "–".to_owned(), short);
    let why = match rule.refusal() {
        v1::RuleRefusal::Unspecified => String::new(),
        v1::RuleRefusal::GainBeyondDial => {
            format!("its greatest gain is {:.0} dB short at {:.1} m", rule.missing_db, rule.start_depth_m)
        }
        v1::RuleRefusal::NeighboursBeforeLure => {
            format!("neighbours show {:.0} dB before the lure", rule.missing_db)
        }
        v1::RuleRefusal::NeighboursAlways => "neighbours show at every gain".to_owned(),
    };
    [
        option_name(rules, rule.option),
        if rule.allowed { "yes".to_owned() } else { "no".to_owned() },
        sentence(&rule.start),
        sentence(&rule.highest),
        rule.least_spacing_m.map_or_else(|| "–".to_owned(), |spacing| format!("{spacing:.2}")),
        rule.most_people.to_string(),
        why,
    ]
}

/// A setting as a cell of a table holds it.
fn short(setting: &v1::Sentence) -> String {
    let room = setting.parts.iter().find_map(|part| match &part.value {
        Some(v1::sentence_part::Value::Figure(figure)) => Some(figure.clone()),
        _ => None,
    });
    match (setting.key.as_str(), room) {
        ("setting-start-leave", _) => "where the lure first shows".to_owned(),
        ("setting-start-first", _) => "a little past where the lure first shows".to_owned(),
        ("setting-past-first", Some(room)) if room.starts_with("0 ") => "the same".to_owned(),
        ("setting-no-limit" | "setting-alone", _) => "no limit".to_owned(),
        _ => setting.text.clone(),
    }
}

fn help_text(rules: &v1::ShelterRules, help: &v1::RuleHelp) -> String {
    let option = option_name(rules, help.option);
    match help.kind() {
        v1::RuleHelpKind::ConfirmMarks => {
            format!("{option}, with marks drawn only when {} of {} pings agree", help.marks, help.pings)
        }
        v1::RuleHelpKind::LowerGain => format!("{option}, with the gain {:.0} dB under its start gain", help.lower_db),
        v1::RuleHelpKind::FewerPeople => format!("{option}, with {} in the shelter", help.people),
        v1::RuleHelpKind::FartherShelters => match help.clear_m {
            Some(clear) => format!("{clear:.1} m of room between shelters"),
            None => "more than 40 m of room between shelters".to_owned(),
        },
        v1::RuleHelpKind::OtherOptions | v1::RuleHelpKind::Unspecified => {
            "other options; none of these reaches that depth even alone".to_owned()
        }
    }
}

/// Lays out holes and prints where they go.
pub(super) async fn layout(connection: &Connection, args: &cli::Layout, as_json: bool) -> Outcome {
    let mut shelter = match (&args.shelter, &args.floor) {
        (Some(name), _) => {
            let request = v1::GetShelterRequest { name: full_name(name, "shelters") };
            connection.catalog().get_shelter(request).await?.into_inner()
        }
        (None, floor) => floor_of(floor.as_deref().unwrap_or_default())?,
    };
    if let Some(people) = args.people {
        shelter.holes.clear();
        shelter.party_size = people;
    }
    let request = v1::LayOutShelterRequest { shelter: Some(shelter) };
    let answer = connection.rules().lay_out_shelter(request).await?.into_inner();
    if as_json {
        return json::print(&answer);
    }
    let mut table = Columns::new(&[">hole", ">from the left wall m", ">from the front wall m"]);
    for (index, hole) in answer.holes.iter().enumerate() {
        table.row([(index + 1).to_string(), format!("{:.2}", hole.x_m), format!("{:.2}", hole.y_m)]);
    }
    table.print();
    if answer.spacing_m > 0.0 {
        say!("The nearest two are {:.2} m ({:.1} ft) apart.", answer.spacing_m, answer.spacing_m / length::FOOT);
    }
    say!("Ask the local authority about the ice; mark drilled holes; keep a heated shelter ventilated.");
    Ok(())
}

/// `3x2.4` or `12x8ft`, or one figure for a round floor.
fn floor_of(text: &str) -> Result<v1::Shelter, CliError> {
    let shelter = v1::Shelter { display_name: "A floor".to_owned(), ..v1::Shelter::default() };
    if let Some((floor_length_m, floor_width_m)) = length::pair(text, &['x', '×']) {
        return Ok(v1::Shelter { floor_length_m, floor_width_m, ..shelter });
    }
    let floor_diameter_m = length::metres(text).ok_or_else(|| {
        CliError::Usage(format!(
            "--floor: '{text}' is no floor; write 3x2.4 in metres, 12x8ft in feet, or one figure for a round one"
        ))
    })?;
    Ok(v1::Shelter { floor_diameter_m, ..shelter })
}

/// `BOTTOM_CLASS_SOFT_MUD` as people write it, for the listing of specs.
pub(super) fn bottoms(spec: &v1::RulesSpec) -> String {
    let names: Vec<_> = spec.bottom_classes().map(|class| words("BOTTOM_CLASS_", class.as_str_name())).collect();
    names.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_are_read_in_metres_and_feet() {
        for (text, shallow, deep) in [("2-6", 2.0, 6.0), ("2.5-6m", 2.5, 6.0), ("10-20ft", 3.048, 6.096)] {
            let read = band(text).unwrap();
            assert!((read.shallow_m - shallow).abs() < 1e-9 && (read.deep_m - deep).abs() < 1e-9, "{text}");
        }
        for text in ["", "6", "a-b", "2-"] {
            assert!(band(text).is_err(), "{text}");
        }
    }

    #[test]
    fn floors_and_bottoms_are_read_as_people_write_them() {
        let floor = floor_of("3 x 2.4m").unwrap();
        assert_eq!((floor.floor_length_m, floor.floor_width_m), (3.0, 2.4));
        assert_eq!(floor_of("2.8").unwrap().floor_diameter_m, 2.8);
        assert!(floor_of("wide").is_err());
        assert_eq!(bottom("soft-mud").unwrap(), i32::from(v1::BottomClass::SoftMud));
        let Err(CliError::Usage(text)) = bottom("lava") else { panic!("lava is no bottom") };
        assert!(text.contains("organic-ooze") && text.contains("rock"), "{text}");
    }
}
