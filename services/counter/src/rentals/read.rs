//! What the desk's page asks of the services.

use std::collections::BTreeMap;

use prost::Message as _;
use proto::v1;

use super::day::Desk;
use crate::client::{PAGE, every, units};
use crate::stop::Stop;
use crate::visit::Visit;

/// So many plans are looked at for one of all bookings.
const LOOKED_AT: i32 = 50;

impl Desk {
    pub(super) async fn read(visit: &Visit) -> Result<Self, Stop> {
        let (units, bookings, plan) = tokio::try_join!(units(&visit.client), bookings(visit), plan(visit))?;
        Ok(Self { units, bookings, plan })
    }
}

async fn bookings(visit: &Visit) -> Result<Vec<v1::Booking>, Stop> {
    every(|page_token| {
        let request = v1::ListBookingsRequest { page_size: PAGE, page_token, ..v1::ListBookingsRequest::default() };
        let mut fleet = visit.client.fleet();
        async move {
            let page = fleet.list_bookings(request).await?.into_inner();
            Ok((page.bookings, page.next_page_token))
        }
    })
    .await
}

/// The newest plan of all bookings.
async fn plan(visit: &Visit) -> Result<Option<v1::FleetPlan>, Stop> {
    let request = v1::ListFleetPlansRequest { page_size: LOOKED_AT, ..v1::ListFleetPlansRequest::default() };
    let plans = visit.client.fleet().list_fleet_plans(request).await?.into_inner().fleet_plans;
    // One of chosen bookings is a look ahead, and promises nothing to the others.
    let of_all = |plan: &v1::FleetPlan| plan.spec.as_ref().is_none_or(|spec| spec.bookings.is_empty());
    Ok(plans.into_iter().find(of_all))
}

/// What is planned again from a day on: as the plan in force, which is kept.
pub(super) async fn spec(visit: &Visit, day: &str) -> Result<v1::FleetSpec, Stop> {
    let from_day = day.to_owned();
    Ok(match plan(visit).await? {
        Some(plan) => {
            let before = plan.spec.unwrap_or_default();
            // Bookings that came later take part, those that were chosen once or not.
            v1::FleetSpec { bookings: Vec::new(), untold_bookings: Vec::new(), keep: plan.name, from_day, ..before }
        }
        None => v1::FleetSpec { from_day, budget: nothing_to_spend(visit).await?, ..v1::FleetSpec::default() },
    })
}

/// A desk plans with what it has; a plan that may buy is made at the terminal, and is then planned on as it was. Nothing where nothing has a price.
async fn nothing_to_spend(visit: &Visit) -> Result<Option<v1::Money>, Stop> {
    let request = v1::ListSensorsRequest { page_size: PAGE, ..v1::ListSensorsRequest::default() };
    let sensors = visit.client.catalog().list_sensors(request).await?.into_inner().sensors;
    let price = sensors.into_iter().find_map(|sensor| sensor.price);
    Ok(price.map(|price| v1::Money { units: 0, nanos: 0, ..price }))
}

/// A plan that is not stored.
pub(super) async fn propose(visit: &Visit, spec: v1::FleetSpec) -> Result<v1::FleetPlan, Stop> {
    let request = v1::PlanFleetRequest { spec: Some(spec), validate_only: true };
    Ok(visit.client.fleet().plan_fleet(request).await?.into_inner())
}

/// By what a plan that was shown is known again: all that it says but when it was made.
pub(super) fn mark_of(plan: &v1::FleetPlan) -> String {
    let said = v1::FleetPlan { create_time: None, ..plan.clone() };
    blake3::hash(&said.encode_to_vec()).to_hex().to_string()
}

/// The names of sensors, spots and shelters for people.
#[derive(Default)]
pub(super) struct Names(BTreeMap<String, String>);

impl Names {
    pub(super) async fn read(visit: &Visit, desk: &Desk, of: &[&v1::Booking]) -> Result<Self, Stop> {
        let mut names = BTreeMap::new();
        let mut catalog = visit.client.catalog();
        for unit in &desk.units {
            if !names.contains_key(&unit.sensor) {
                let name = unit.sensor.clone();
                let known = catalog.get_sensor(v1::GetSensorRequest { name }).await;
                names.insert(
                    unit.sensor.clone(),
                    known.map(|sensor| sensor.into_inner().display_name).unwrap_or_default(),
                );
            }
        }
        for booking in of {
            if !names.contains_key(&booking.spot) {
                let known = catalog.get_spot(v1::GetSpotRequest { name: booking.spot.clone() }).await;
                names
                    .insert(booking.spot.clone(), known.map(|spot| spot.into_inner().display_name).unwrap_or_default());
            }
            if !booking.shelter.is_empty() && !names.contains_key(&booking.shelter) {
                let known = catalog.get_shelter(v1::GetShelterRequest { name: booking.shelter.clone() }).await;
                names.insert(booking.shelter.clone(), known.map(|it| it.into_inner().display_name).unwrap_or_default());
            }
        }
        Ok(Self(names))
    }

    /// The name for people, or the id where the record is gone.
    pub(super) fn of<'a>(&'a self, name: &'a str) -> &'a str {
        self.0.get(name).map(String::as_str).filter(|known| !known.is_empty()).unwrap_or(crate::advise::id(name))
    }
}
