//! A customer's question, from the words of the command line to a request.

use domain::field::NOT_GIVEN;
use domain::spot::BOTTOM_WORDS;
use proto::v1;

use super::choice;
use super::length::{self, Length};
use super::names::{full_name, full_names, label_filter};
use crate::cli;
use crate::connect::Connection;
use crate::exit::CliError;
use crate::starter;

/// A question.
pub(super) struct Question {
    pub(super) request: v1::RecommendRequest,
    /// Whether lengths were given in feet.
    pub(super) feet: bool,
    /// What was taken because nothing was said.
    pub(super) assumed: Vec<String>,
}

/// Reads the flags; a stored shelter with another number of people is fetched.
pub(super) async fn ask(connection: &Connection, args: &cli::Advise) -> Result<Question, CliError> {
    let mut question = Question { request: v1::RecommendRequest::default(), feet: false, assumed: Vec::new() };
    let mut spec = v1::RunSpec {
        spots: full_names(&args.spots, "spots"),
        spot_filter: args.label.as_deref().map(label_filter).unwrap_or_default(),
        options: full_names(&args.options, "sensors"),
        goal: v1::Goal::WatchLure.into(),
        draws: args.draws,
        seed: args.seed,
        ..v1::RunSpec::default()
    };
    choice::check_company(&args.choice, args.shelter.as_deref())?;
    choice::put(&args.choice, &mut spec)?;
    if args.shelter.is_some() && args.choice.neighbours.is_empty() {
        spec.neighbours = v1::Neighbours::Unknown.into();
    }
    if spec.uses.is_empty() {
        spec.uses = [v1::Goal::Search, v1::Goal::WatchLure]
            .map(|goal| v1::UseShare { goal: goal.into(), share: 0.5, ..Default::default() })
            .to_vec();
        question.assumed.push("half of the time to find fish, half to watch the lure".to_owned());
    }
    places(args, &mut question)?;
    shelter(connection, args, &mut spec, &mut question).await?;
    (spec.lure, question.request.lure) = target(connection, args.lure.as_deref(), "small-jig").await?;
    (spec.fish, question.request.fish) = target(connection, args.fish.as_deref(), "perch-20").await?;
    for (given, taken) in [(&args.lure, &question.request.lure), (&args.fish, &question.request.fish)] {
        question.assumed.extend(taken.iter().filter(|_| given.is_none()).map(|target| target.display_name.clone()));
    }
    question.request.spec = Some(spec);
    Ok(question)
}

/// A lure or a fish by name: of the store, or of the set that comes with the program.
async fn target(
    connection: &Connection,
    given: Option<&str>,
    usual: &str,
) -> Result<(String, Option<v1::Target>), CliError> {
    let Some(name) = given else { return Ok((String::new(), starter::target(usual))) };
    let full = full_name(name, "targets");
    let Some(known) = starter::target(name) else { return Ok((full, None)) };
    match connection.catalog().get_target(v1::GetTargetRequest { name: full.clone() }).await {
        Ok(_) => Ok((full, None)),
        Err(status) if status.code() == tonic::Code::NotFound => Ok((String::new(), Some(known))),
        Err(status) => Err(status.into()),
    }
}

/// Places by their depth.
fn places(args: &cli::Advise, question: &mut Question) -> Result<(), CliError> {
    let bottom = args.bottom.as_deref().map_or(Ok(v1::BottomClass::Unspecified), bottom_of)?;
    if bottom == v1::BottomClass::Unspecified && !args.depth.is_empty() {
        question.assumed.push("a bottom that may be mud, sand or hard".to_owned());
    }
    let (canopy, canopy_unknown) = weeds(args.weeds.as_deref().unwrap_or("unknown"), question)?;
    if canopy_unknown && !args.depth.is_empty() {
        question.assumed.push("weeds that may be there or not".to_owned());
    }
    for (index, text) in args.depth.iter().enumerate() {
        let depth = depth(text)?;
        question.feet |= depth.feet;
        if !depth.said {
            question.assumed.push(format!("metres for the depth of {}; write {0}ft for feet", text.trim()));
        }
        if canopy.as_ref().is_some_and(|canopy| canopy.height_m > depth.metres) {
            let weeds = args.weeds.as_deref().unwrap_or_default();
            return Err(CliError::Usage(format!(
                "--weeds: {weeds} is higher than the water is deep, which is {}; check which of the two is wrong",
                text.trim()
            )));
        }
        let number = index + 1;
        let label = if args.depth.len() == 1 { "the place".to_owned() } else { format!("place {number}") };
        question.request.spots.push(v1::Spot {
            name: format!("spots/place-{number}"),
            display_name: format!("{label} ({})", text.trim()),
            depth_m: depth.metres,
            bottom_class: bottom.into(),
            canopy,
            canopy_unknown,
            ..v1::Spot::default()
        });
    }
    Ok(())
}

/// Weeds of some height, none, or nobody knows.
fn weeds(text: &str, question: &mut Question) -> Result<(Option<v1::Canopy>, bool), CliError> {
    match text.trim().to_lowercase().as_str() {
        "none" | "no" => return Ok((None, false)),
        "unknown" | "?" => return Ok((None, true)),
        _ => {}
    }
    let height = length_of("--weeds", text, "canopy.height_m")?;
    question.feet |= height.feet;
    Ok((Some(v1::Canopy { height_m: height.metres, ..v1::Canopy::default() }), false))
}

/// A shelter by name, with another number of people, or by its floor.
async fn shelter(
    connection: &Connection,
    args: &cli::Advise,
    spec: &mut v1::RunSpec,
    question: &mut Question,
) -> Result<(), CliError> {
    let Some(text) = &args.shelter else { return Ok(()) };
    let mut shelter = match floor(text)? {
        Some((floor_length_m, floor_width_m, feet)) => {
            question.feet |= feet;
            v1::Shelter {
                name: "shelters/given".to_owned(),
                display_name: format!("shelter {text}"),
                floor_length_m,
                floor_width_m,
                party_size: 2,
                ..v1::Shelter::default()
            }
        }
        None if args.people.is_none() => {
            spec.shelter = full_name(text, "shelters");
            return Ok(());
        }
        None => {
            let request = v1::GetShelterRequest { name: full_name(text, "shelters") };
            connection.catalog().get_shelter(request).await?.into_inner()
        }
    };
    if let Some(people) = args.people {
        shelter.holes.clear();
        shelter.party_size = people;
    }
    question.request.shelter = Some(shelter);
    Ok(())
}

/// `8x8ft`, `2.4x3`; none where it is a name.
fn floor(text: &str) -> Result<Option<(f64, f64, bool)>, CliError> {
    let plain = text.trim().to_lowercase();
    let Some((first, second)) = plain.split_once(['x', '×']) else { return Ok(None) };
    if !first.trim().starts_with(|c: char| c.is_ascii_digit()) {
        return Ok(None);
    }
    let refuse = || CliError::Usage(format!("--shelter: '{text}' is no floor; write such as 8x8ft or 2.4x3m"));
    let (side, width) = length::pair(&plain, &['x', '×']).ok_or_else(refuse)?;
    Ok(Some((side, width, length::read(second).is_some_and(|second| second.feet))))
}

/// A depth in words or figures; the words are the middles of their ranges.
fn depth(text: &str) -> Result<Length, CliError> {
    let middle = |metres| Ok(Length { metres, feet: false, said: true });
    match text.trim().to_lowercase().as_str() {
        "shallow" => middle(3.5),
        "middle" => middle(7.5),
        "deep" => middle(15.0),
        figure => length_of("--depth", figure, "depth_m"),
    }
}

/// A length within the limits of a field of a spot.
fn length_of(flag: &str, text: &str, path: &str) -> Result<Length, CliError> {
    let refuse = |problem: String| CliError::Usage(format!("{flag}: {problem}"));
    let length =
        length::read(text).ok_or_else(|| refuse(format!("'{text}' is no length; write such as 18ft or 5.5m")))?;
    length::beyond(text, path).map_or(Ok(length), |problem| Err(refuse(format!("'{text}': {problem}"))))
}

/// A bottom in common words, or as a class.
pub(super) fn bottom_of(word: &str) -> Result<v1::BottomClass, CliError> {
    let plain = word.trim().to_lowercase().replace([' ', '_'], "-");
    let class = BOTTOM_WORDS.iter().find(|(known, _)| *known == plain).map_or(plain.as_str(), |(_, class)| class);
    if class == NOT_GIVEN {
        return Ok(v1::BottomClass::Unspecified);
    }
    let name = format!("BOTTOM_CLASS_{}", class.to_uppercase().replace('-', "_"));
    v1::BottomClass::from_str_name(&name).filter(|class| *class != v1::BottomClass::Unspecified).ok_or_else(|| {
        let accepted = "hard, sand, mud, soft-mud, unknown, or a class such as gravel";
        CliError::Usage(format!("--bottom: '{word}' is not known; accepted: {accepted}"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn depths_are_words_or_lengths() {
        assert_eq!(depth("deep").unwrap(), Length { metres: 15.0, feet: false, said: true });
        assert_eq!(depth("18 ft").unwrap(), Length { metres: 5.4864, feet: true, said: true });
        for text in ["", "deeper", "18 yards", "1800ft"] {
            assert!(depth(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_floor_is_told_from_a_name() {
        let (length, width, feet) = floor("8x10ft").unwrap().unwrap();
        assert!((length - 2.4384).abs() < 1e-9 && (width - 3.048).abs() < 1e-9 && feet);
        assert_eq!(floor("2.4x3").unwrap(), Some((2.4, 3.0, false)));
        assert_eq!(floor("rental-hut-five").unwrap(), None);
        assert_eq!(floor("box").unwrap(), None);
    }

    #[test]
    fn bottoms_are_read_in_common_words_and_as_classes() {
        assert_eq!(bottom_of("mud").unwrap(), v1::BottomClass::Silt);
        assert_eq!(bottom_of("Soft mud").unwrap(), v1::BottomClass::SoftMud);
        assert_eq!(bottom_of("organic-ooze").unwrap(), v1::BottomClass::OrganicOoze);
        assert_eq!(bottom_of("unknown").unwrap(), v1::BottomClass::Unspecified);
        for word in ["muk", "unspecified", "x"] {
            assert!(bottom_of(word).is_err(), "{word}");
        }
    }
}
