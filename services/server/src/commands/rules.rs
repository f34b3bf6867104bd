//! Shelter rules, and layouts of holes.

use proto::v1;
use reports::{LengthUnit, Speaker, Speech};

use super::names::{full_name, full_names};
use super::question::bottom_of;
use super::{length, report};
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
        bands: args.bands.iter().map(|text| band("--bands", text)).collect::<Result<_, _>>()?,
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
        // In the unit of the page that is asked for, or of the bands as they were typed.
        let feet = args.bands.iter().any(|text| text.contains("ft"));
        let unit = match args.printed.look.length_unit {
            Some(cli::LengthUnit::Feet) => LengthUnit::Feet,
            None if feet => LengthUnit::Feet,
            Some(cli::LengthUnit::Metres) | None => LengthUnit::Metres,
        };
        let broken = |what: String| CliError::Unreachable(format!("this program is broken: {what}"));
        let speech = Speech::new().map_err(|error| broken(error.to_string()))?;
        let speaker = speech.speaker("en", unit).ok_or_else(|| broken("it has no English words".to_owned()))?;
        print_rules(&rules, speaker);
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
pub(super) fn band(flag: &str, text: &str) -> Result<v1::DepthBand, CliError> {
    let (shallow_m, deep_m) = length::pair(text, &['-']).ok_or_else(|| {
        CliError::Usage(format!("{flag}: '{text}' is no band of depth; write 2-6 for metres or 8ft-15ft for feet"))
    })?;
    Ok(v1::DepthBand { shallow_m, deep_m })
}

/// A bottom in common words, or as a class; one that is not known lies under no shelter.
pub(super) fn bottom(text: &str) -> Result<i32, CliError> {
    match bottom_of(text)? {
        v1::BottomClass::Unspecified => Err(CliError::Usage(format!(
            "--bottoms: '{text}' says nothing; name what may lie there, such as hard,sand,mud,soft-mud"
        ))),
        class => Ok(class.into()),
    }
}

/// What the pages at the doors say, in their words.
fn print_rules(rules: &v1::ShelterRules, tell: Speaker<'_>) {
    for sheet in &rules.sheets {
        let shelter = sheet.shelter.as_ref().map_or("", |shelter| shelter.display_name.as_str());
        say!("{shelter}: {} anglers, holes {} apart", sheet.people, tell.length(sheet.spacing_m));
        for band in &sheet.bands {
            say!("\n  {}", tell.depths(band));
            let mut table = Columns::new(&[">no.", "option", "allowed", "start – never above, or why not"]);
            for rule in &band.rules {
                table.row([
                    (rule.option + 1).to_string(),
                    tell.ruled_option(rules, rule.option),
                    if rule.allowed { "yes".to_owned() } else { "no".to_owned() },
                    tell.ruled(rule),
                ]);
            }
            table.print();
            let told = tell.mixing(sheet, band).into_iter().chain(tell.help(rules, band));
            told.for_each(|told| say!("  {told}"));
        }
        say!("\n  Holds for: {}.", tell.rules_hold_for(rules, sheet).join("; "));
        say!("");
    }
    say!("Stored as {}. To pin up: lakebeam report {} --output rules.pdf", rules.name, rules.name);
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_are_read_in_metres_and_feet() {
        for (text, shallow, deep) in [("2-6", 2.0, 6.0), ("2.5-6m", 2.5, 6.0), ("10-20ft", 3.048, 6.096)] {
            let read = band("--bands", text).unwrap();
            assert!((read.shallow_m - shallow).abs() < 1e-9 && (read.deep_m - deep).abs() < 1e-9, "{text}");
        }
        for text in ["", "6", "a-b", "2-"] {
            assert!(band("--bands", text).is_err(), "{text}");
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
        assert!(text.contains("soft-mud") && text.contains("gravel"), "{text}");
        assert!(bottom("unknown").is_err() && bottom("mud").unwrap() == i32::from(v1::BottomClass::Silt));
    }
}
