//! What is shown of each kind of record on the shelf: the one place of the shelf that knows fields of records.

use proto::v1;

use super::kind::Kind;
use crate::say::Say;
use crate::stop::Stop;
use crate::visit::Visit;

/// A record as the shelf shows it: its id, its name, and a cell for each column.
pub(super) struct Row {
    pub(super) id: String,
    pub(super) name: String,
    pub(super) cells: Vec<String>,
}

/// A page of records.
pub(super) struct Page {
    pub(super) rows: Vec<Row>,
    pub(super) next: String,
    pub(super) total: usize,
}

/// A record with what its page needs: every field by the key of its label.
pub(super) struct Record {
    pub(super) name: String,
    pub(super) etag: String,
    pub(super) fields: Vec<(&'static str, String)>,
}

impl Kind {
    /// Keys of the headings of its columns after the name.
    pub(super) const fn columns(self) -> &'static [&'static str] {
        match self {
            Self::Sensors => &["price", "beams", "gain-dial"],
            Self::Places => &["lake", "depth", "bottom", "weeds"],
            Self::Shelters => &["floor", "people"],
            Self::Targets => &["target-kind", "target-shape"],
            Self::Goals => &["goal-from", "goal-weights"],
            Self::Units => &["sensor", "serial", "state"],
        }
    }

    /// A page of the records whose name holds some text.
    pub(super) async fn list(
        self,
        visit: &Visit,
        say: Say<'_>,
        search: &str,
        token: &str,
        size: i32,
    ) -> Result<Page, Stop> {
        let filter = filter(search);
        let page_token = token.to_owned();
        let mut catalog = visit.client.catalog();
        match self {
            Self::Sensors => {
                let ask = v1::ListSensorsRequest { page_size: size, page_token, filter };
                let page = catalog.list_sensors(ask).await?.into_inner();
                Ok(paged(page.sensors.iter().map(|s| sensor_row(say, s)), page.next_page_token, page.total_size))
            }
            Self::Places => {
                let ask = v1::ListSpotsRequest { page_size: size, page_token, filter };
                let page = catalog.list_spots(ask).await?.into_inner();
                Ok(paged(page.spots.iter().map(|s| spot_row(say, s)), page.next_page_token, page.total_size))
            }
            Self::Shelters => {
                let ask = v1::ListSheltersRequest { page_size: size, page_token, filter };
                let page = catalog.list_shelters(ask).await?.into_inner();
                Ok(paged(page.shelters.iter().map(|s| shelter_row(say, s)), page.next_page_token, page.total_size))
            }
            Self::Targets => {
                let ask = v1::ListTargetsRequest { page_size: size, page_token, filter };
                let page = catalog.list_targets(ask).await?.into_inner();
                Ok(paged(page.targets.iter().map(|t| target_row(say, t)), page.next_page_token, page.total_size))
            }
            Self::Goals => {
                let ask = v1::ListCustomGoalsRequest { page_size: size, page_token, filter };
                let page = catalog.list_custom_goals(ask).await?.into_inner();
                Ok(paged(page.custom_goals.iter().map(|g| goal_row(say, g)), page.next_page_token, page.total_size))
            }
            Self::Units => {
                let ask = v1::ListUnitsRequest { page_size: size, page_token, filter };
                let page = visit.client.fleet().list_units(ask).await?.into_inner();
                Ok(paged(page.units.iter().map(|u| unit_row(say, u)), page.next_page_token, page.total_size))
            }
        }
    }

    /// One record.
    pub(super) async fn get(self, visit: &Visit, say: Say<'_>, id: &str) -> Result<Record, Stop> {
        let name = format!("{}/{id}", self.collection());
        let mut catalog = visit.client.catalog();
        let (row, etag, notes) = match self {
            Self::Sensors => {
                let one = catalog.get_sensor(v1::GetSensorRequest { name }).await?.into_inner();
                (sensor_row(say, &one), one.etag, one.notes)
            }
            Self::Places => {
                let one = catalog.get_spot(v1::GetSpotRequest { name }).await?.into_inner();
                (spot_row(say, &one), one.etag, one.notes)
            }
            Self::Shelters => {
                let one = catalog.get_shelter(v1::GetShelterRequest { name }).await?.into_inner();
                (shelter_row(say, &one), one.etag, one.notes)
            }
            Self::Targets => {
                let one = catalog.get_target(v1::GetTargetRequest { name }).await?.into_inner();
                (target_row(say, &one), one.etag, one.notes)
            }
            Self::Goals => {
                let one = catalog.get_custom_goal(v1::GetCustomGoalRequest { name }).await?.into_inner();
                (goal_row(say, &one), one.etag, one.notes)
            }
            Self::Units => {
                let one = visit.client.fleet().get_unit(v1::GetUnitRequest { name }).await?.into_inner();
                (unit_row(say, &one), one.etag, one.notes)
            }
        };
        let mut fields: Vec<_> = self.columns().iter().copied().zip(row.cells).collect();
        fields.push(("notes", notes));
        Ok(Record { name: row.name, etag, fields })
    }

    /// Removes one; with `force` although others refer to it.
    pub(super) async fn delete(self, visit: &Visit, id: &str, etag: &str, force: bool) -> Result<(), Stop> {
        let (name, etag) = (format!("{}/{id}", self.collection()), etag.to_owned());
        let mut catalog = visit.client.catalog();
        match self {
            Self::Sensors => catalog.delete_sensor(v1::DeleteSensorRequest { name, etag, force }).await,
            Self::Places => catalog.delete_spot(v1::DeleteSpotRequest { name, etag, force }).await,
            Self::Shelters => catalog.delete_shelter(v1::DeleteShelterRequest { name, etag, force }).await,
            Self::Targets => catalog.delete_target(v1::DeleteTargetRequest { name, etag, force }).await,
            Self::Goals => catalog.delete_custom_goal(v1::DeleteCustomGoalRequest { name, etag, force }).await,
            Self::Units => visit.client.fleet().delete_unit(v1::DeleteUnitRequest { name, etag, force }).await,
        }?;
        Ok(())
    }
}

/// Names that hold the text; what was typed is a value and never an expression.
fn filter(search: &str) -> String {
    if search.is_empty() {
        return String::new();
    }
    let quoted = search.replace('\\', "\\\\").replace('"', "\\\"");
    format!("display_name:\"{quoted}\"")
}

fn paged(rows: impl Iterator<Item = Row>, next: String, total: i32) -> Page {
    Page { rows: rows.collect(), next, total: usize::try_from(total).unwrap_or(0) }
}

fn row(name: &str, display_name: &str, cells: Vec<String>) -> Row {
    Row { id: crate::advise::id(name).to_owned(), name: display_name.to_owned(), cells }
}

fn sensor_row(say: Say<'_>, sensor: &v1::Sensor) -> Row {
    let not_given = || say.t("not-given").to_owned();
    let beams: Vec<String> = sensor.options.iter().map(|option| beam(say, option)).collect();
    let dial = sensor.dial.as_ref().map(|dial| match dial.scale() {
        v1::DialScale::Unspecified => not_given(),
        v1::DialScale::ClockHour => say.t("dial-clock").to_owned(),
        v1::DialScale::Percent => say.t("dial-percent").to_owned(),
        v1::DialScale::Step => say.t("dial-step").to_owned(),
    });
    let price = sensor.price.as_ref().map_or_else(not_given, |price| say.money(price));
    row(&sensor.name, &sensor.display_name, vec![price, beams.join("; "), dial.unwrap_or_else(not_given)])
}

/// `14° at 180 kHz`.
fn beam(say: Say<'_>, option: &v1::BeamOption) -> String {
    let figure = |fact: &Option<v1::Fact>, decimals| fact.as_ref().map(|fact| say.number(fact.value, decimals));
    let (angle, frequency) = (figure(&option.beamwidth_deg, 1), figure(&option.frequency_khz, 0));
    match (angle, frequency) {
        (Some(angle), Some(frequency)) => say.f("beam-at", &[("angle", &angle), ("frequency", &frequency)]),
        (Some(angle), None) => format!("{angle}°"),
        (None, Some(frequency)) => format!("{} ({frequency} kHz)", option.display_name),
        (None, None) => option.display_name.clone(),
    }
}

fn spot_row(say: Say<'_>, spot: &v1::Spot) -> Row {
    let weeds = match &spot.canopy {
        Some(canopy) => say.length(canopy.height_m),
        None => say.t(if spot.canopy_unknown { "unknown" } else { "weeds-none" }).to_owned(),
    };
    let cells =
        vec![spot.lake.clone(), say.length(spot.depth_m), crate::advise::bottom(say, spot.bottom_class()), weeds];
    row(&spot.name, &spot.display_name, cells)
}

fn shelter_row(say: Say<'_>, shelter: &v1::Shelter) -> Row {
    let floor = if shelter.floor_diameter_m > 0.0 {
        say.f("floor-round", &[("diameter", &say.length(shelter.floor_diameter_m))])
    } else {
        format!("{} × {}", say.bare_length(shelter.floor_length_m), say.length(shelter.floor_width_m))
    };
    let people =
        if shelter.holes.is_empty() { shelter.party_size.to_string() } else { shelter.holes.len().to_string() };
    row(&shelter.name, &shelter.display_name, vec![floor, people])
}

fn target_row(say: Say<'_>, target: &v1::Target) -> Row {
    let kind = match target.kind() {
        v1::TargetKind::Unspecified => say.t("not-given"),
        v1::TargetKind::Lure => say.t("lure"),
        v1::TargetKind::Fish => say.t("fish"),
        v1::TargetKind::Reference => say.t("target-reference"),
    };
    use v1::target::Shape;
    let shape = match &target.shape {
        None => say.t("not-given").to_owned(),
        Some(Shape::TargetStrengthDb(fact)) => format!("{} dB", say.number(fact.value, 1)),
        Some(Shape::Sphere(sphere)) => say.f("shape-ball", &[("size", &say.number(sphere.diameter_mm, 1))]),
        Some(Shape::Disc(disc)) => say.f("shape-disc", &[("size", &say.number(disc.diameter_mm, 1))]),
        Some(Shape::Cylinder(rod)) => say.f("shape-rod", &[("size", &say.number(rod.length_mm, 1))]),
        Some(Shape::Fish(fish)) => format!("{} cm", say.number(fish.length_cm, 1)),
    };
    row(&target.name, &target.display_name, vec![kind.to_owned(), shape])
}

fn goal_row(say: Say<'_>, goal: &v1::CustomGoal) -> Row {
    let from = match goal.starts_from() {
        v1::Goal::Unspecified | v1::Goal::WatchLure => "use-watch-lure",
        v1::Goal::Search => "use-search",
        v1::Goal::School => "use-school",
        v1::Goal::WeedEdge => "use-weed-edge",
    };
    let weights = [
        ("figure-coverage", goal.coverage_weight),
        ("figure-clutter", goal.clutter_weight),
        ("figure-resolution", goal.resolution_weight),
        ("figure-neighbours", goal.interference_weight),
    ];
    let own =
        weights.into_iter().filter_map(|(key, weight)| Some(format!("{} {}", say.report(key), say.number(weight?, 1))));
    row(&goal.name, &goal.display_name, vec![say.report(from).to_owned(), own.collect::<Vec<_>>().join(", ")])
}

fn unit_row(say: Say<'_>, unit: &v1::Unit) -> Row {
    let state = match unit.state() {
        v1::UnitState::Unspecified | v1::UnitState::Ready => say.t("state-ready"),
        v1::UnitState::InRepair => say.t("state-repair"),
        v1::UnitState::OnLoan => say.t("state-loan"),
        v1::UnitState::Retired => say.t("state-retired"),
    };
    let place = [state, crate::advise::id(&unit.lent_to), &unit.back_day];
    let place = place.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" · ");
    let cells = vec![crate::advise::id(&unit.sensor).to_owned(), unit.serial.clone(), place];
    row(&unit.name, &unit.display_name, cells)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_searched_for_is_never_an_expression() {
        assert_eq!(filter(""), "");
        assert_eq!(filter("Birch"), "display_name:\"Birch\"");
        assert_eq!(filter("\" OR id:\"*\\"), "display_name:\"\\\" OR id:\\\"*\\\\\"");
    }
}
