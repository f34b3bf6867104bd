//! What would serve each booking: the selection at its spot, in its shelter, for its goal, lure and fish.

use std::collections::BTreeMap;

use acoustics::units::Db;
use rayon::prelude::*;

use super::types::FleetInput;
use crate::PlanningError;
use crate::selection::Prepared;
use domain::selection::{Failure, Finding, Goal, RunInput, Settings, option_path};
use domain::{Booking, Cancel, Fault, HolePlan, Id, Shelter, Spot, Target};

/// One option at the spot of a booking.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Offer {
    /// Index into the options of the input.
    pub(super) option: usize,
    /// Index of its sensor.
    pub(super) sensor: usize,
    pub(super) score: f64,
    pub(super) headroom: Option<Db>,
    /// Gain that shows lure and bottom.
    pub(super) working: Db,
    /// Highest gain at which neighbours stay off the display.
    pub(super) clear: Option<Db>,
    /// Greatest gain.
    pub(super) max: Db,
    /// Why it cannot be used.
    pub(super) failures: Vec<Failure>,
}

impl Offer {
    fn of(input: &FleetInput, finding: &Finding) -> Option<Self> {
        Some(Self {
            option: finding.option,
            sensor: input.options.get(finding.option)?.sensor,
            score: finding.score,
            headroom: finding.criteria.headroom,
            working: finding.gains.working,
            clear: finding.gains.clear,
            max: finding.gains.max,
            failures: finding.failures.clone(),
        })
    }

    pub(super) fn qualifies(&self) -> bool {
        self.failures.is_empty()
    }

    pub(super) fn reaches_score(&self, booking: &Booking) -> bool {
        self.qualifies() && self.score >= booking.min_score
    }

    /// Good enough for a booking in every respect.
    pub(super) fn serves(&self, booking: &Booking) -> bool {
        self.reaches_score(booking) && self.headroom.is_none_or(|headroom| headroom >= booking.min_headroom)
    }
}

/// The shelter that a booking shares.
pub(super) fn hut<'a>(input: &'a FleetInput, booking: &Booking) -> Option<&'a Shelter> {
    let id = booking.shelter.as_ref()?;
    input.shelters.iter().find(|shelter| shelter.id == *id)
}

/// A shelter with as many holes as a party has people: as drilled where that is so many, or else laid out.
pub(super) fn party(shelter: &Shelter, people: u32) -> Shelter {
    match &shelter.holes {
        HolePlan::Drilled(holes) if u32::try_from(holes.len()) == Ok(people) => shelter.clone(),
        _ => Shelter { holes: HolePlan::Party(people), ..shelter.clone() },
    }
}

/// Index of a booking, and its offers.
type OfBooking = (usize, Vec<Offer>);
/// What bookings share that one preparation serves.
type Terms<'a> = (Option<usize>, u32, usize, &'a Id, &'a Id);

fn terms<'a>(input: &FleetInput, booking: &'a Booking) -> Terms<'a> {
    let goal = Goal::ALL.iter().position(|goal| *goal == booking.goal).unwrap_or_default();
    // Without a shelter people stand far apart: how many they are changes nothing.
    let people = if booking.shelter.is_some() { booking.anglers } else { 1 };
    (make(input, booking), people, goal, &booking.lure, &booking.fish)
}

/// The first shelter that differs from a booking's in nothing but what it is called: those of one make hear alike.
fn make(input: &FleetInput, booking: &Booking) -> Option<usize> {
    let own = hut(input, booking)?;
    input.shelters.iter().position(|other| other.is_built_like(own))
}

/// The offers for each booking, by option. The input is checked.
pub(super) fn offers(input: &FleetInput, cancel: &Cancel) -> Result<Vec<Vec<Offer>>, PlanningError> {
    let mut groups: BTreeMap<Terms<'_>, Vec<usize>> = BTreeMap::new();
    for (index, booking) in input.bookings.iter().enumerate() {
        groups.entry(terms(input, booking)).or_default().push(index);
    }
    let groups: Vec<Vec<usize>> = groups.into_values().collect();
    let results: Vec<Result<Vec<OfBooking>, PlanningError>> = groups
        .par_iter()
        .map(|members| cancel.check().map_err(PlanningError::from).and_then(|()| of_group(input, members, cancel)))
        .collect();
    let mut by_booking = vec![Vec::new(); input.bookings.len()];
    let mut faults: Vec<Fault> = Vec::new();
    for result in results {
        match result {
            Ok(group) => {
                for (booking, offers) in group {
                    if let Some(slot) = by_booking.get_mut(booking) {
                        *slot = offers;
                    }
                }
            }
            Err(PlanningError::Faults(found)) => {
                for fault in found {
                    if !faults.contains(&fault) {
                        faults.push(fault);
                    }
                }
            }
            Err(error) => return Err(error),
        }
    }
    if faults.is_empty() { Ok(by_booking) } else { Err(PlanningError::Faults(faults)) }
}

/// The offers for bookings that share everything but the spot.
fn of_group(input: &FleetInput, members: &[usize], cancel: &Cancel) -> Result<Vec<OfBooking>, PlanningError> {
    let bookings: Vec<(usize, &Booking)> =
        members.iter().filter_map(|index| Some((*index, input.bookings.get(*index)?))).collect();
    let Some((_, first)) = bookings.first() else { return Ok(Vec::new()) };
    let mut ids: Vec<&Id> = bookings.iter().map(|(_, booking)| &booking.spot).collect();
    ids.sort_unstable();
    ids.dedup();
    let spots: Vec<Spot> =
        ids.iter().filter_map(|id| input.spots.iter().find(|spot| spot.id == **id).cloned()).collect();
    let (Some(lure), Some(fish)) = (target(input, &first.lure), target(input, &first.fish)) else {
        return Ok(Vec::new());
    };
    let run = RunInput {
        spots,
        sensors: input.sensors.clone(),
        options: input.options.clone(),
        shelter: hut(input, first).map(|shelter| party(shelter, first.anglers)),
        lure: lure.clone(),
        fish: fish.clone(),
        settings: Settings { goal: first.goal, ..Settings::default() },
    };
    let sensors: Vec<&Id> = input.sensors.iter().map(|sensor| &sensor.id).collect();
    let prepared = Prepared::new(&run, cancel).map_err(|error| renamed(&ids, &sensors, error))?;
    let findings = prepared.evaluate(0..run.spots.len(), cancel)?;
    let at_spots: Vec<Vec<Offer>> = findings
        .chunk_by(|a, b| a.spot == b.spot)
        .map(|chunk| chunk.iter().filter_map(|finding| Offer::of(input, finding)).collect())
        .collect();
    let of_booking = |(index, booking): &(usize, &Booking)| {
        let spot = ids.binary_search(&&booking.spot).ok()?;
        Some((*index, at_spots.get(spot)?.clone()))
    };
    Ok(bookings.iter().filter_map(of_booking).collect())
}

fn target<'a>(input: &'a FleetInput, id: &Id) -> Option<&'a Target> {
    input.targets.iter().find(|target| target.id == *id)
}

/// A run counts its records; a plan calls them by name.
fn renamed(spots: &[&Id], sensors: &[&Id], error: PlanningError) -> PlanningError {
    let PlanningError::Faults(faults) = error else { return error };
    let named = |list: &str, ids: &[&Id]| -> Vec<(String, String)> {
        ids.iter().enumerate().map(|(index, id)| (format!("{list}[{index}]"), format!("{list}/{id}"))).collect()
    };
    let names = [named("spots", spots), named("sensors", sensors)].concat();
    let rename = |fault: Fault| {
        let known = names.iter().find(|(place, _)| fault.field.starts_with(place.as_str()));
        let Some((place, name)) = known else { return fault };
        Fault::new(fault.field.replace(place, name), fault.reason, fault.message.replace(place, name))
    };
    PlanningError::Faults(faults.into_iter().map(rename).collect())
}

/// The best option of each sensor that serves a booking, by sensor; of equal ones the first by name.
pub(super) fn best_of_each<'a>(input: &FleetInput, booking: &Booking, offers: &'a [Offer]) -> Vec<&'a Offer> {
    let mut best: BTreeMap<usize, &Offer> = BTreeMap::new();
    for offer in offers.iter().filter(|offer| offer.serves(booking)) {
        let known = best.entry(offer.sensor).or_insert(offer);
        let order = offer.score.total_cmp(&known.score).then_with(|| name(input, known).cmp(&name(input, offer)));
        if order.is_gt() {
            *known = offer;
        }
    }
    best.into_values().collect()
}

/// Resource name of an offer's option.
pub(super) fn name(input: &FleetInput, offer: &Offer) -> Option<String> {
    let place = input.options.get(offer.option)?;
    let sensor = input.sensors.get(place.sensor)?;
    Some(option_path(&sensor.id, &sensor.options.get(place.option)?.id))
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::FaultReason;

    #[test]
    fn faults_of_a_run_name_the_records_of_the_plan() {
        let id = |text: &str| Id::parse(text).unwrap();
        let (near, far, wide) = (id("near"), id("far"), id("wide"));
        let fault = |field: &str| Fault::new(field, FaultReason::OutOfRange, format!("{field} is off"));
        let given = ["spots[1].depth_m", "sensors[0].options[2]", "lure"].map(fault).to_vec();
        let wanted = ["spots/far.depth_m", "sensors/wide.options[2]", "lure"].map(fault).to_vec();
        let renamed = renamed(&[&near, &far], &[&wide], PlanningError::Faults(given));
        assert_eq!(renamed, PlanningError::Faults(wanted));
    }
}
