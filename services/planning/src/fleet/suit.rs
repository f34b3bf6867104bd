//! What would serve each booking: the selection at its spot, in its shelter, for its goal, lure and fish.

use std::collections::BTreeMap;

use acoustics::units::Db;
use rayon::prelude::*;

use super::roofs::{Roofs, hut, party};
use super::types::FleetInput;
use crate::PlanningError;
use crate::selection::Prepared;
use domain::selection::{Failure, Finding, Gains, Others, RunInput, Settings, option_path};
use domain::{Booking, Cancel, Fault, Goal, GoalName, Id, Spot, Target};

/// One option at the spot of a booking.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Offer {
    /// Index into the options of the input.
    pub(super) option: usize,
    /// Index of its sensor.
    pub(super) sensor: usize,
    pub(super) score: f64,
    /// The least desirability of the criteria that count for the goal.
    pub(super) worst: f64,
    pub(super) headroom: Option<Db>,
    pub(super) gains: Gains,
    /// Why it cannot be used.
    pub(super) failures: Vec<Failure>,
}

impl Offer {
    fn of(input: &FleetInput, goal: &Goal, finding: &Finding) -> Option<Self> {
        let own = &finding.desirability;
        let criteria = [own.coverage, own.clutter, own.resolution, own.interference];
        let counted = criteria.into_iter().zip(goal.weighing().weights.as_array()).filter(|(_, weight)| *weight > 0.0);
        Some(Self {
            worst: counted.map(|(desirability, _)| desirability).fold(1.0, f64::min),
            option: finding.option,
            sensor: input.options.get(finding.option)?.sensor,
            score: finding.score,
            headroom: finding.criteria.headroom,
            gains: finding.gains,
            failures: finding.failures.clone(),
        })
    }

    pub(super) fn qualifies(&self) -> bool {
        self.failures.is_empty()
    }

    /// Whether score and each criterion reach the least score: what is good on the whole and useless in one respect does not.
    pub(super) fn reaches_score(&self, booking: &Booking) -> bool {
        self.qualifies() && self.score.min(self.worst) >= booking.min_score
    }

    /// Good enough for a booking in every respect.
    pub(super) fn serves(&self, booking: &Booking) -> bool {
        self.reaches_score(booking) && self.headroom.is_none_or(|headroom| headroom >= booking.min_headroom)
    }
}

/// Index of a booking, and its offers.
type OfBooking = (usize, Vec<Offer>);
/// What bookings share that one preparation serves.
type Terms<'a> = (Option<usize>, u32, GoalName, &'a Id, &'a Id);

fn terms<'a>(input: &FleetInput, roofs: &Roofs, (index, booking): (usize, &'a Booking)) -> Terms<'a> {
    (make(input, booking), roofs.people(index), booking.goal_name(), &booking.lure, &booking.fish)
}

/// The first shelter that differs from a booking's in nothing but what it is called: those of one make hear alike.
fn make(input: &FleetInput, booking: &Booking) -> Option<usize> {
    let own = hut(input, booking)?;
    input.shelters.iter().position(|other| other.is_built_like(own))
}

/// What would serve, and which bookings leave what the models cover.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Offers {
    /// By booking, by option.
    pub(super) by_booking: Vec<Vec<Offer>>,
    /// Bookings without offers, with the reasons.
    pub(super) refused: Vec<(usize, Vec<Fault>)>,
}

/// The offers for each booking. The input is sifted.
///
/// # Errors
/// No booking is left, or the work is cancelled.
pub(super) fn offers(input: &FleetInput, roofs: &Roofs, cancel: &Cancel) -> Result<Offers, PlanningError> {
    let mut groups: BTreeMap<Terms<'_>, Vec<usize>> = BTreeMap::new();
    for (index, booking) in input.bookings.iter().enumerate() {
        groups.entry(terms(input, roofs, (index, booking))).or_default().push(index);
    }
    let groups: Vec<Vec<usize>> = groups.into_values().collect();
    let results: Vec<Result<Vec<Served>, PlanningError>> =
        groups.par_iter().map(|members| of_members(input, roofs, members, cancel)).collect();
    let mut offers = Offers { by_booking: vec![Vec::new(); input.bookings.len()], refused: Vec::new() };
    for result in results {
        for (members, found) in result? {
            match found {
                Ok(group) => {
                    for (booking, own) in group {
                        if let Some(slot) = offers.by_booking.get_mut(booking) {
                            *slot = own;
                        }
                    }
                }
                Err(faults) => offers.refused.extend(members.into_iter().map(|booking| (booking, faults.clone()))),
            }
        }
    }
    if offers.refused.len() < input.bookings.len() {
        return Ok(offers);
    }
    let mut faults: Vec<Fault> = Vec::new();
    for fault in offers.refused.into_iter().flat_map(|(_, faults)| faults) {
        if !faults.contains(&fault) {
            faults.push(fault);
        }
    }
    Err(PlanningError::Faults(faults))
}

/// Bookings, and their offers or what is wrong with them.
type Served = (Vec<usize>, Result<Vec<OfBooking>, Vec<Fault>>);

/// The offers for bookings that share everything but the spot; a spot with a fault takes none of the others along.
fn of_members(
    input: &FleetInput,
    roofs: &Roofs,
    members: &[usize],
    cancel: &Cancel,
) -> Result<Vec<Served>, PlanningError> {
    cancel.check()?;
    let faults = match of_group(input, roofs, members, cancel) {
        Ok(found) => return Ok(vec![(members.to_vec(), Ok(found))]),
        Err(PlanningError::Faults(faults)) => faults,
        Err(error) => return Err(error),
    };
    let mut by_spot: BTreeMap<&Id, Vec<usize>> = BTreeMap::new();
    for index in members {
        if let Some(booking) = input.bookings.get(*index) {
            by_spot.entry(&booking.spot).or_default().push(*index);
        }
    }
    if by_spot.len() < 2 {
        return Ok(vec![(members.to_vec(), Err(faults))]);
    }
    let parts = by_spot.values().map(|members| of_members(input, roofs, members, cancel));
    Ok(parts.collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect())
}

/// The offers for bookings that share everything but the spot.
fn of_group(
    input: &FleetInput,
    roofs: &Roofs,
    members: &[usize],
    cancel: &Cancel,
) -> Result<Vec<OfBooking>, PlanningError> {
    let bookings: Vec<(usize, &Booking)> =
        members.iter().filter_map(|index| Some((*index, input.bookings.get(*index)?))).collect();
    let Some((index, first)) = bookings.first() else { return Ok(Vec::new()) };
    let mut ids: Vec<&Id> = bookings.iter().map(|(_, booking)| &booking.spot).collect();
    ids.sort_unstable();
    ids.dedup();
    let spots: Vec<Spot> =
        ids.iter().filter_map(|id| input.spots.iter().find(|spot| spot.id == **id).cloned()).collect();
    let goal = first.goal_name().among(&input.goals);
    let (Some(goal), Some(lure), Some(fish)) = (goal, target(input, &first.lure), target(input, &first.fish)) else {
        return Ok(Vec::new());
    };
    let run = RunInput {
        spots,
        sensors: input.sensors.clone(),
        options: input.options.clone(),
        shelter: hut(input, first).map(|shelter| party(shelter, roofs.people(*index))),
        others: Others::Same,
        lure: lure.clone(),
        fish: fish.clone(),
        settings: Settings { goal: goal.clone(), ..Settings::default() },
        goals: Vec::new(),
    };
    let sensors: Vec<&Id> = input.sensors.iter().map(|sensor| &sensor.id).collect();
    let prepared = Prepared::new(&run, cancel).map_err(|error| renamed(&ids, &sensors, error))?;
    let findings = prepared.evaluate(0..run.spots.len(), cancel)?;
    let at_spots: Vec<Vec<Offer>> = findings
        .chunk_by(|a, b| a.spot == b.spot)
        .map(|chunk| chunk.iter().filter_map(|finding| Offer::of(input, &goal, finding)).collect())
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

/// By booking: the best option of each sensor that serves it, by sensor; of equal ones the first by name. Those who share a
/// roof with other bookings have one option of a sensor in common, for what neighbours hear of each other is that of equals.
pub(super) fn choices<'a>(input: &FleetInput, roofs: &Roofs, offers: &'a Offers) -> Vec<Vec<&'a Offer>> {
    let mut common: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    let of = |index: usize| Some((input.bookings.get(index)?, offers.by_booking.get(index)?.as_slice()));
    let bookings = || (0..input.bookings.len()).filter_map(|index| Some((index, of(index)?)));
    for (index, _) in bookings() {
        let Some(party) = roofs.party(index) else { continue };
        if common.keys().any(|(known, _)| *known == party) {
            continue;
        }
        let members: Vec<(&Booking, &[Offer])> = roofs.members(party).filter_map(of).collect();
        common.extend(in_common(input, &members).into_iter().map(|(sensor, option)| ((party, sensor), option)));
    }
    let serves = |index: usize, booking: &Booking, offer: &Offer| {
        let held = roofs.party(index).map(|party| common.get(&(party, offer.sensor)) == Some(&offer.option));
        offer.serves(booking) && held.unwrap_or(true)
    };
    bookings()
        .map(|(index, (booking, own))| best_of_each(input, own.iter().filter(|offer| serves(index, booking, offer))))
        .collect()
}

/// By sensor: the option that serves most people of some bookings, and of those the one that serves them best.
fn in_common(input: &FleetInput, members: &[(&Booking, &[Offer])]) -> BTreeMap<usize, usize> {
    let mut sums: BTreeMap<usize, (&Offer, u32, f64)> = BTreeMap::new();
    for (booking, offers) in members {
        for offer in offers.iter().filter(|offer| offer.serves(booking)) {
            let sum = sums.entry(offer.option).or_insert((offer, 0, 0.0));
            sum.1 += booking.anglers;
            sum.2 += f64::from(booking.anglers) * offer.score;
        }
    }
    let mut best: BTreeMap<usize, (&Offer, u32, f64)> = BTreeMap::new();
    for sum in sums.into_values() {
        let known = best.entry(sum.0.sensor).or_insert(sum);
        let order = sum.1.cmp(&known.1).then(sum.2.total_cmp(&known.2));
        if order.then_with(|| name(input, known.0).cmp(&name(input, sum.0))).is_gt() {
            *known = sum;
        }
    }
    best.into_iter().map(|(sensor, (offer, ..))| (sensor, offer.option)).collect()
}

/// The best option of each sensor, by sensor; of equal ones the first by name.
fn best_of_each<'a>(input: &FleetInput, offers: impl Iterator<Item = &'a Offer>) -> Vec<&'a Offer> {
    let mut best: BTreeMap<usize, &Offer> = BTreeMap::new();
    for offer in offers {
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
