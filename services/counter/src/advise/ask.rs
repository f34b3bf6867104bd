//! From a question to a request: the one place where fields of the form meet fields of records.

use proto::v1;

use super::question::{Place, Question};
use super::shelf::{Shelf, id};
use crate::quantity::{amount, length};
use crate::say::Say;
use crate::stop::Fault;

/// Depths that records take, m, as the protocol documents them.
const DEPTH_M: (f64, f64) = (0.5, 200.0);
/// Mixes of what is not known that are tried.
const DRAWS: u32 = 256;
/// Bottoms in common words, with the class that stands for each.
pub(crate) const BOTTOMS: [(&str, v1::BottomClass); 4] = [
    ("hard", v1::BottomClass::Gravel),
    ("sand", v1::BottomClass::MediumSand),
    ("mud", v1::BottomClass::Silt),
    ("soft-mud", v1::BottomClass::SoftMud),
];
/// Depths in words, with the middles of their ranges, m.
pub(super) const DEPTHS: [(&str, f64); 3] = [("shallow", 3.5), ("middle", 7.5), ("deep", 15.0)];
/// Slopes in words, degrees.
pub(super) const SLOPES: [(&str, f64); 3] = [("flat", 0.0), ("gentle", 5.0), ("steep", 15.0)];

type Faults = Vec<(Fault, String)>;

/// The request; every fault of the question at once.
pub(super) fn request(
    say: Say<'_>,
    question: &Question,
    shelf: &Shelf,
    currency: &str,
) -> Result<v1::RecommendRequest, Faults> {
    let mut faults = Faults::new();
    let mut spec = v1::RunSpec { goal: v1::Goal::WatchLure.into(), draws: DRAWS, seed: 1, ..Default::default() };
    let mut request = v1::RecommendRequest::default();
    for (at, place) in question.places.iter().enumerate() {
        if place.depth.is_empty() && place.spot.is_empty() {
            continue;
        }
        let several = question.places.len() > 1;
        request.spots.extend(spot(say, (at, several), place, question, shelf, &mut faults));
        spec.weights.push(days(say, at, place, &mut faults));
    }
    if spec.weights.iter().all(|days| *days == 0.0) {
        spec.weights.clear();
    } else {
        // A place without days counts as one day.
        spec.weights.iter_mut().filter(|days| **days == 0.0).for_each(|days| *days = 1.0);
    }
    shelter(say, question, shelf, &mut request, &mut faults);
    if request.shelter.is_some() {
        match (question.others.as_str(), shelf.sensor(&question.others)) {
            ("same", _) => spec.neighbours = v1::Neighbours::Same.into(),
            (_, Some(sensor)) => spec.neighbour_options = vec![sensor.name.clone()],
            (_, None) => spec.neighbours = v1::Neighbours::Unknown.into(),
        }
    }
    spec.uses = uses(&question.uses, shelf);
    if let [only] = spec.uses.as_slice() {
        (spec.goal, spec.custom_goal) = (only.goal, only.custom_goal.clone());
    }
    if !question.most.is_empty() {
        let money = amount(&question.most, shelf.currency().unwrap_or(currency));
        if money.is_none() {
            faults.push(fault("most", say.f("fault-money", &[("given", &question.most)]), say.t("most")));
        }
        spec.budget = money;
    }
    spec.owned = shelf.sensor(&question.owned).map(|sensor| sensor.name.clone()).into_iter().collect();
    match shelf.target(&question.lure) {
        Some(lure) => spec.lure.clone_from(&lure.name),
        None => request.lure = Some(small_jig(say)),
    }
    match shelf.target(&question.fish) {
        Some(fish) => spec.fish.clone_from(&fish.name),
        None => request.fish = Some(perch(say)),
    }
    request.spec = Some(spec);
    if faults.is_empty() { Ok(request) } else { Err(faults) }
}

fn fault(field: &str, text: String, label: &str) -> (Fault, String) {
    (Fault { field: field.to_owned(), text }, label.to_owned())
}

/// A place as a record that is not stored.
fn spot(
    say: Say<'_>,
    (at, several): (usize, bool),
    place: &Place,
    question: &Question,
    shelf: &Shelf,
    faults: &mut Faults,
) -> Option<v1::Spot> {
    let number = at + 1;
    let stored = shelf.spot(&place.spot);
    let depth_m = match (depth(say, &place.depth), stored) {
        _ if place.depth.is_empty() => stored.map(|spot| spot.depth_m),
        (Some(depth), _) if (DEPTH_M.0..=DEPTH_M.1).contains(&depth) => Some(depth),
        (given, _) => {
            let (least, most) = (say.length(DEPTH_M.0), say.length(DEPTH_M.1));
            let given = given.map_or_else(|| format!("“{}”", place.depth), |depth| say.length(depth));
            let text = say.f("fault-range", &[("given", &given), ("least", &least), ("most", &most)]);
            faults.push(fault(&format!("depth.{number}"), text, say.t("depth")));
            None
        }
    };
    let own = || {
        if several { say.f("place-number", &[("number", &number.to_string())]) } else { say.t("place-only").to_owned() }
    };
    let mut spot = stored.cloned().unwrap_or_else(|| v1::Spot {
        display_name: own(),
        canopy_unknown: place.weeds.is_empty(),
        ..Default::default()
    });
    // Not the stored name: a place may be asked about twice, and as it is not.
    spot.name = format!("spots/place-{number}");
    (spot.etag, spot.create_time, spot.update_time) = Default::default();
    let depth_m = depth_m?;
    if (depth_m - spot.depth_m).abs() > 1e-6 {
        // Lengths that belong to another depth would not fit; without them they follow from this one.
        spot.depth_m = depth_m;
        (spot.fish_layer_top_m, spot.fish_layer_bottom_m, spot.lure_height_m) = Default::default();
    }
    if let Some((_, class)) = BOTTOMS.iter().find(|(word, _)| *word == place.bottom) {
        spot.bottom_class = (*class).into();
    } else if place.bottom == "unknown" {
        spot.bottom_class = v1::BottomClass::Unspecified.into();
    }
    match place.weeds.as_str() {
        "" => {}
        "none" | "unknown" => (spot.canopy, spot.canopy_unknown) = (None, place.weeds == "unknown"),
        height => {
            let height_m = height.parse().unwrap_or(f64::NAN);
            spot.canopy_unknown = false;
            spot.canopy =
                Some(v1::Canopy { height_m, density: v1::CanopyDensity::Moderate.into(), volume_strength_db: None });
        }
    }
    if let Some((_, degrees)) = SLOPES.iter().find(|(word, _)| *word == question.slope) {
        spot.slope_deg = Some(*degrees);
    }
    if !question.water.is_empty() {
        let degrees =
            question.water.replace(',', ".").parse::<f64>().ok().filter(|degrees| (0.0..=30.0).contains(degrees));
        if degrees.is_none() && at == 0 {
            faults.push(fault("water", say.f("fault-water", &[("given", &question.water)]), say.t("water")));
        }
        spot.bottom_temperature_c = degrees;
    }
    Some(spot)
}

/// A depth in figures or in a word, m.
fn depth(say: Say<'_>, text: &str) -> Option<f64> {
    let plain = text.to_lowercase();
    let word =
        DEPTHS.iter().find(|(word, _)| *word == plain || say.t(&format!("depth-{word}")).to_lowercase() == plain);
    word.map_or_else(|| length(text, say.look.unit), |(_, metres)| Some(*metres))
}

fn days(say: Say<'_>, at: usize, place: &Place, faults: &mut Faults) -> f64 {
    if place.days.is_empty() {
        return 0.0;
    }
    let days = place.days.parse::<f64>().ok().filter(|days| (1.0..=366.0).contains(days));
    days.unwrap_or_else(|| {
        let text = say.f("fault-days", &[("given", &place.days)]);
        faults.push(fault(&format!("days.{}", at + 1), text, say.t("days")));
        0.0
    })
}

fn shelter(say: Say<'_>, question: &Question, shelf: &Shelf, request: &mut v1::RecommendRequest, faults: &mut Faults) {
    let people = question.people.parse::<u32>().ok().filter(|people| (1..=60).contains(people));
    if people.is_none() && !question.people.is_empty() {
        faults.push(fault("people", say.f("fault-people", &[("given", &question.people)]), say.t("people")));
    }
    let Some(stored) = shelf.shelter(&question.shelter) else {
        if !question.shelter.is_empty() {
            faults.push(fault("shelter", say.f("fault-not-there", &[("given", &question.shelter)]), say.t("shelter")));
        }
        return;
    };
    let mut shelter = stored.clone();
    if let Some(people) = people {
        shelter.holes.clear();
        shelter.party_size = people;
    }
    (shelter.etag, shelter.create_time, shelter.update_time) = Default::default();
    request.shelter = Some(shelter);
}

fn uses(chosen: &str, shelf: &Shelf) -> Vec<v1::UseShare> {
    let share = |goal: v1::Goal, share| v1::UseShare { goal: goal.into(), share, ..Default::default() };
    match (chosen, shelf.goal(chosen)) {
        ("search", _) => vec![share(v1::Goal::Search, 1.0)],
        ("watch", _) => vec![share(v1::Goal::WatchLure, 1.0)],
        (_, Some(goal)) => vec![v1::UseShare { custom_goal: goal.name.clone(), ..share(v1::Goal::Unspecified, 1.0) }],
        (_, None) => vec![share(v1::Goal::Search, 0.5), share(v1::Goal::WatchLure, 0.5)],
    }
}

/// What most people fish with through ice.
fn small_jig(say: Say<'_>) -> v1::Target {
    let sphere = v1::Sphere { diameter_mm: 5.0, material: v1::SphereMaterial::Tungsten.into() };
    v1::Target {
        name: "targets/small-jig".to_owned(),
        display_name: say.t("small-jig").to_owned(),
        kind: v1::TargetKind::Lure.into(),
        shape: Some(v1::target::Shape::Sphere(sphere)),
        ..Default::default()
    }
}

fn perch(say: Say<'_>) -> v1::Target {
    let fish = v1::Fish { length_cm: 20.0, fish_class: v1::FishClass::ClosedSwimBladder.into() };
    v1::Target {
        name: "targets/perch-size".to_owned(),
        display_name: say.t("perch-size").to_owned(),
        kind: v1::TargetKind::Fish.into(),
        shape: Some(v1::target::Shape::Fish(fish)),
        ..Default::default()
    }
}

/// What is assumed because the form does not say it.
pub(super) fn assumed(say: Say<'_>, question: &Question, shelf: &Shelf) -> Vec<String> {
    let unknown = |word: &str, place: &Place, stored: fn(&v1::Spot) -> bool| {
        word == "unknown" || (word.is_empty() && shelf.spot(&place.spot).is_none_or(stored))
    };
    let bottom = |spot: &v1::Spot| spot.bottom_class() == v1::BottomClass::Unspecified;
    let mut told = Vec::new();
    if question.places.iter().any(|place| unknown(&place.bottom, place, bottom)) {
        told.push(say.t("assumed-bottom").to_owned());
    }
    if question.places.iter().any(|place| unknown(&place.weeds, place, |spot| spot.canopy_unknown)) {
        told.push(say.t("assumed-weeds").to_owned());
    }
    if shelf.shelter(&question.shelter).is_some() && shelf.sensor(&question.others).is_none() {
        told.push(say.t(if question.others == "same" { "assumed-same" } else { "assumed-others" }).to_owned());
    }
    if !["search", "watch"].contains(&question.uses.as_str()) && shelf.goal(&question.uses).is_none() {
        told.push(say.t("assumed-uses").to_owned());
    }
    if shelf.target(&question.lure).is_none() {
        told.push(say.t("small-jig").to_owned());
    }
    if shelf.target(&question.fish).is_none() {
        told.push(say.t("perch-size").to_owned());
    }
    told
}

/// Faults that the services found, at the fields of the form.
pub(super) fn at_fields(say: Say<'_>, question: &Question, faults: Vec<Fault>) -> Faults {
    faults
        .into_iter()
        .map(|found| {
            let asked = question.places.iter().enumerate().filter(|(_, p)| !(p.depth.is_empty() && p.spot.is_empty()));
            let index = found.field.strip_prefix("spots[").and_then(|rest| rest.split_once(']'));
            let number = index.and_then(|(at, _)| asked.map(|(at, _)| at + 1).nth(at.parse().ok()?));
            let (field, label) = match (number, found.field.as_str()) {
                (Some(number), path) if path.contains("canopy") => (format!("weeds.{number}"), say.t("weeds")),
                (Some(number), _) => (format!("depth.{number}"), say.t("depth")),
                (None, path) if path.starts_with("shelter") || path.starts_with("spec.shelter") => {
                    ("people".to_owned(), say.t("people"))
                }
                (None, path) if path.starts_with("spec.budget") => ("most".to_owned(), say.t("most")),
                (None, path) if path.starts_with("spec.owned") => ("owned".to_owned(), say.t("owned")),
                (None, path) if path.starts_with("spec.weights") => ("days.1".to_owned(), say.t("days")),
                (None, _) => (String::new(), ""),
            };
            let label = label.to_owned();
            (Fault { field, text: found.text }, label)
        })
        .collect()
}

/// Names of the records that a request may refer to once they are stored.
pub(super) fn place_number(spot: &str) -> Option<usize> {
    id(spot).strip_prefix("place-")?.parse().ok()
}
