//! Forms of records that a shop enters by hand, and what becomes of them. What is accepted is what the services accept.

use axum::response::Response;
use http::StatusCode;
use maud::{Markup, html};
use proto::v1;

use super::kind::Kind;
use crate::advise::{BOTTOMS, id as id_of};
use crate::answer::see;
use crate::fields::{Fields, encoded};
use crate::page::{self, Tab, fault_of, faults as summary, mark};
use crate::quantity::length;
use crate::say::Say;
use crate::stop::{Fault, Stop};
use crate::visit::Visit;

/// Longest part of an id that is made of a name.
const ID: usize = 50;

/// A field of a form: name, key of its label, whether it is a length.
type Entry = (&'static str, &'static str, bool);

const PLACE: [Entry; 5] = [
    ("name", "name", false),
    ("lake", "lake", false),
    ("depth", "depth", true),
    ("bottom", "bottom", false),
    ("weeds", "weeds", true),
];
const SHELTER: [Entry; 4] = [
    ("name", "name", false),
    ("length", "floor-length", true),
    ("width", "floor-width", true),
    ("people", "people", false),
];

/// Whether records of a kind are entered by hand here.
pub(super) const fn has_form(kind: Kind) -> bool {
    match kind {
        Kind::Places | Kind::Shelters => true,
        Kind::Sensors | Kind::Targets | Kind::Goals | Kind::Units => false,
    }
}

const fn entries(kind: Kind) -> &'static [Entry] {
    match kind {
        Kind::Places => &PLACE,
        Kind::Shelters => &SHELTER,
        Kind::Sensors | Kind::Targets | Kind::Goals | Kind::Units => &[],
    }
}

pub(super) fn new(visit: &Visit, kind: Kind) -> Result<Response, Stop> {
    page_of(visit, kind, None, &Fields::default(), &[])
}

/// The form with what is stored.
pub(super) async fn form(visit: &Visit, say: Say<'_>, kind: Kind, id: &str) -> Result<Markup, Stop> {
    let (fields, etag) = stored(visit, say, kind, id).await?;
    let action = format!("/shelf/{}/{id}", kind.address());
    Ok(html! { details { summary { (say.t("change")) } (inputs(visit, say, kind, (&action, &etag), &fields, &[])) } })
}

async fn stored(visit: &Visit, say: Say<'_>, kind: Kind, id: &str) -> Result<(Fields, String), Stop> {
    let name = format!("{}/{id}", kind.collection());
    let mut fields = Fields::default();
    let mut catalog = visit.client.catalog();
    match kind {
        Kind::Places => {
            let spot = catalog.get_spot(v1::GetSpotRequest { name }).await?.into_inner();
            fields.put("name", spot.display_name.clone());
            fields.put("lake", spot.lake.clone());
            fields.put("depth", say.bare_length(spot.depth_m));
            fields.put("bottom", class(spot.bottom_class().as_str_name()).map(class_name).unwrap_or_default());
            fields.put("weeds", spot.canopy.as_ref().map(|c| say.bare_length(c.height_m)).unwrap_or_default());
            Ok((fields, spot.etag))
        }
        Kind::Shelters => {
            let shelter = catalog.get_shelter(v1::GetShelterRequest { name }).await?.into_inner();
            fields.put("name", shelter.display_name.clone());
            if shelter.floor_diameter_m <= 0.0 {
                fields.put("length", say.bare_length(shelter.floor_length_m));
                fields.put("width", say.bare_length(shelter.floor_width_m));
            }
            if shelter.holes.is_empty() {
                fields.put("people", shelter.party_size.to_string());
            }
            Ok((fields, shelter.etag))
        }
        Kind::Sensors | Kind::Targets | Kind::Goals | Kind::Units => Err(Stop::NotThere),
    }
}

fn page_of(
    visit: &Visit,
    kind: Kind,
    id: Option<&str>,
    fields: &Fields,
    faults: &[(Fault, String)],
) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    if !visit.may_store() {
        return Err(Stop::MayNot);
    }
    if !has_form(kind) {
        return Err(Stop::NotThere);
    }
    let title = say.t(kind.title_key());
    let action =
        id.map_or_else(|| format!("/shelf/{}/new", kind.address()), |id| format!("/shelf/{}/{id}", kind.address()));
    let body = html! {
        p.small { a href=(format!("/shelf/{}", kind.address())) { (title) } " ›" }
        h1 { (title) }
        (summary(say, faults))
        (inputs(visit, say, kind, (&action, fields.get("etag")), fields, faults))
    };
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok(page::whole(visit, Tab::Shelf, title, status, &body))
}

fn inputs(
    visit: &Visit,
    say: Say<'_>,
    kind: Kind,
    (action, etag): (&str, &str),
    fields: &Fields,
    faults: &[(Fault, String)],
) -> Markup {
    html! {
        form.narrow method="post" action=(action) {
            (mark(visit))
            input type="hidden" name="etag" value=(etag);
            @for (name, key, is_length) in entries(kind) {
                @let fault = fault_of(faults, name);
                div.field {
                    label for=(name) { (say.t(key)) }
                    @if *name == "bottom" { (bottoms(say, fields.get(name))) } @else {
                        span.boxed {
                            input id=(name) name=(name) value=(fields.get(name)) autocomplete="off" aria-invalid=[fault.as_ref().map(|_| "true")];
                            @if *is_length { span.unit { (say.look.unit.tag()) } }
                        }
                    }
                    @if let Some(fault) = fault { p.fault { (fault) } }
                }
            }
            p.buttons { button.first type="submit" { (say.t("store")) } }
        }
    }
}

fn bottoms(say: Say<'_>, chosen: &str) -> Markup {
    let is_common = BOTTOMS.iter().any(|(_, class)| class_name(*class) == chosen);
    html! {
        select id="bottom" name="bottom" {
            option value="" selected[chosen.is_empty()] { (say.t("unknown")) }
            @if !is_common && let Some(class) = class(chosen) {
                option value=(chosen) selected { (crate::advise::bottom(say, class)) }
            }
            @for (word, class) in BOTTOMS {
                option value=(class_name(class)) selected[class_name(class) == chosen] { (say.t(&format!("bottom-{word}"))) }
            }
        }
    }
}

fn class_name(class: v1::BottomClass) -> String {
    class.as_str_name().to_owned()
}

fn class(name: &str) -> Option<v1::BottomClass> {
    v1::BottomClass::from_str_name(name).filter(|class| *class != v1::BottomClass::Unspecified)
}

/// A record from a form; lengths that cannot be read are faults, everything else is judged by the services.
struct Read<'a> {
    say: Say<'a>,
    fields: &'a Fields,
    faults: Vec<(Fault, String)>,
}

impl Read<'_> {
    fn length(&mut self, name: &'static str, key: &'static str) -> f64 {
        let given = self.fields.get(name);
        if given.is_empty() {
            return 0.0;
        }
        length(given, self.say.look.unit).unwrap_or_else(|| {
            let text = self.say.f("fault-length", &[("given", given)]);
            self.faults.push((Fault { field: name.to_owned(), text }, self.say.t(key).to_owned()));
            0.0
        })
    }

    fn spot(&mut self, spot: &mut v1::Spot) {
        self.fields.get("name").clone_into(&mut spot.display_name);
        self.fields.get("lake").clone_into(&mut spot.lake);
        let depth = self.length("depth", "depth");
        // What is shown is rounded; a depth that nobody changed stays as exact as it was.
        if self.say.bare_length(depth) != self.say.bare_length(spot.depth_m) {
            spot.depth_m = depth;
        }
        spot.bottom_class = class(self.fields.get("bottom")).unwrap_or_default().into();
        let height_m = self.length("weeds", "weeds");
        spot.canopy_unknown &= height_m == 0.0;
        spot.canopy = match spot.canopy {
            _ if height_m == 0.0 => None,
            Some(canopy) if self.say.bare_length(canopy.height_m) == self.say.bare_length(height_m) => Some(canopy),
            Some(canopy) => Some(v1::Canopy { height_m, ..canopy }),
            None => {
                Some(v1::Canopy { height_m, density: v1::CanopyDensity::Moderate.into(), volume_strength_db: None })
            }
        };
    }

    fn shelter(&mut self, shelter: &mut v1::Shelter) {
        self.fields.get("name").clone_into(&mut shelter.display_name);
        let (length, width) = (self.length("length", "floor-length"), self.length("width", "floor-width"));
        if length > 0.0 || width > 0.0 {
            shelter.floor_diameter_m = 0.0;
            (shelter.floor_length_m, shelter.floor_width_m) = (length, width);
        }
        if let Ok(people) = self.fields.get("people").parse() {
            shelter.holes.clear();
            shelter.party_size = people;
        }
    }
}

pub(super) async fn create(visit: &Visit, kind: Kind, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let mut read = Read { say, fields, faults: Vec::new() };
    let id = id(fields.get("name"), kind.address());
    let mut catalog = visit.client.catalog();
    let made = match kind {
        Kind::Places => {
            let mut spot = v1::Spot::default();
            read.spot(&mut spot);
            let ask = v1::CreateSpotRequest { spot_id: id, spot: Some(spot) };
            if read.faults.is_empty() {
                catalog.create_spot(ask).await.map(|made| made.into_inner().name)
            } else {
                return page_of(visit, kind, None, fields, &read.faults);
            }
        }
        Kind::Shelters => {
            let mut shelter = v1::Shelter::default();
            read.shelter(&mut shelter);
            let ask = v1::CreateShelterRequest { shelter_id: id, shelter: Some(shelter) };
            if read.faults.is_empty() {
                catalog.create_shelter(ask).await.map(|made| made.into_inner().name)
            } else {
                return page_of(visit, kind, None, fields, &read.faults);
            }
        }
        Kind::Sensors | Kind::Targets | Kind::Goals | Kind::Units => return Err(Stop::NotThere),
    };
    match made.map_err(Stop::from) {
        Ok(name) => Ok(see(&format!("/shelf/{}/{}", kind.address(), id_of(&name)))),
        Err(Stop::Refused(faults)) => page_of(visit, kind, None, fields, &at_fields(say, faults)),
        Err(stop) => Err(stop),
    }
}

/// Changes a record, unless another desk did in the meantime.
pub(super) async fn change(visit: &Visit, kind: Kind, id: &str, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let name = format!("{}/{id}", kind.collection());
    let mut read = Read { say, fields, faults: Vec::new() };
    let mut catalog = visit.client.catalog();
    let whole = || Some(prost_types::FieldMask { paths: vec!["*".to_owned()] });
    let changed = match kind {
        Kind::Places => {
            let mut spot = catalog.get_spot(v1::GetSpotRequest { name }).await?.into_inner();
            read.spot(&mut spot);
            fields.get("etag").clone_into(&mut spot.etag);
            if !read.faults.is_empty() {
                return page_of(visit, kind, Some(id), fields, &read.faults);
            }
            catalog.update_spot(v1::UpdateSpotRequest { spot: Some(spot), update_mask: whole() }).await.map(|_| ())
        }
        Kind::Shelters => {
            let mut shelter = catalog.get_shelter(v1::GetShelterRequest { name }).await?.into_inner();
            read.shelter(&mut shelter);
            fields.get("etag").clone_into(&mut shelter.etag);
            if !read.faults.is_empty() {
                return page_of(visit, kind, Some(id), fields, &read.faults);
            }
            catalog
                .update_shelter(v1::UpdateShelterRequest { shelter: Some(shelter), update_mask: whole() })
                .await
                .map(|_| ())
        }
        Kind::Sensors | Kind::Targets | Kind::Goals | Kind::Units => return Err(Stop::NotThere),
    };
    match changed.map_err(Stop::from) {
        Ok(()) => Ok(see(&format!("/shelf/{}/{id}", kind.address()))),
        Err(Stop::Refused(faults)) => page_of(visit, kind, Some(id), fields, &at_fields(say, faults)),
        Err(stop) => Err(stop),
    }
}

/// Removes a record, unless others refer to it.
pub(super) async fn remove(visit: &Visit, kind: Kind, id: &str, fields: &Fields) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let name = kind.get(visit, say, id).await?.name;
    kind.delete(visit, id, fields.get("etag"), false).await?;
    Ok(see(&format!("/shelf/{}?deleted={}", kind.address(), encoded(&name))))
}

/// Faults that the services found, at the fields of the form.
fn at_fields(say: Say<'_>, faults: Vec<Fault>) -> Vec<(Fault, String)> {
    let place = |path: &str| {
        let field = path.rsplit('.').next().unwrap_or(path);
        match field {
            "display_name" => Some(("name", "name")),
            "lake" => Some(("lake", "lake")),
            "depth_m" => Some(("depth", "depth")),
            "bottom_class" => Some(("bottom", "bottom")),
            "height_m" => Some(("weeds", "weeds")),
            "floor_length_m" => Some(("length", "floor-length")),
            "floor_width_m" => Some(("width", "floor-width")),
            "party_size" => Some(("people", "people")),
            _ => None,
        }
    };
    faults
        .into_iter()
        .map(|fault| match place(&fault.field) {
            Some((field, key)) => (Fault { field: field.to_owned(), text: fault.text }, say.t(key).to_owned()),
            None => (Fault { field: String::new(), text: fault.text }, String::new()),
        })
        .collect()
}

/// An id from a name in any script: its letters and digits; two of one name are told apart by the time.
pub(crate) fn id(name: &str, kind: &str) -> String {
    let lower = name.to_lowercase();
    let plain: String = lower.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    let words: Vec<&str> = plain.split('-').filter(|word| !word.is_empty()).collect();
    let short: String = words.join("-").chars().take(ID).collect();
    let begins = if short.starts_with(|c: char| c.is_ascii_lowercase()) { String::new() } else { format!("{kind}-") };
    let stamp = jiff::Timestamp::now().as_millisecond() % 1_000_000;
    format!("{begins}{}-{stamp}", short.trim_end_matches('-')).replace("--", "-")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_come_from_names_in_any_script() {
        for name in ["Landing shelf", "Süd-Ufer 3", "湖", "", "9 mile", &"x".repeat(500)] {
            let id = id(name, "places");
            let fine = id.len() <= 63 && id.starts_with(|c: char| c.is_ascii_lowercase());
            assert!(
                fine && id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'),
                "{name}: {id}"
            );
        }
        assert!(id("Landing shelf", "places").starts_with("landing-shelf-"));
    }
}
