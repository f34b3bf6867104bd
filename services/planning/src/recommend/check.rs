//! Checks of a choice, and its shares.

use std::collections::BTreeMap;

use super::types::{Choice, Cost, Use};
use crate::fleet::money;
use domain::selection::RunInput;
use domain::{Fault, FaultReason, Goal, Id};

/// Largest weight of a place and share of a use.
const MOST: f64 = 1.0e6;
/// Sensors of another currency that a fault names.
const NAMED: usize = 5;

impl Choice {
    /// Every fault of the choice for so many places of a run.
    #[must_use]
    pub fn check(&self, input: &RunInput, places: usize) -> Vec<Fault> {
        let mut faults = Vec::new();
        self.check_uses(&mut faults);
        self.check_weights(places, &mut faults);
        for (index, id) in self.owned.iter().enumerate() {
            let field = format!("owned[{index}]");
            if !input.sensors.iter().any(|sensor| sensor.id == *id) {
                let text = format!(
                    "{field} is 'sensors/{id}', which is not among the sensors of the run; accepted: one of them; add it to the options"
                );
                faults.push(Fault::new(field, FaultReason::Unknown, text));
            }
        }
        if let Some(budget) = &self.budget {
            money::check_budget("budget", budget, &mut faults);
        }
        self.check_currency(input, &mut faults);
        faults
    }

    fn check_uses(&self, faults: &mut Vec<Fault>) {
        for (index, one) in self.uses.iter().enumerate() {
            number(&format!("uses[{index}].share"), one.share, f64::MIN_POSITIVE, "give its share of the time", faults);
            if let Some(first) = self.uses.iter().take(index).position(|other| other.goal.name() == one.goal.name()) {
                let field = match one.goal {
                    Goal::Preset(_) => format!("uses[{index}].goal"),
                    Goal::Custom(_) => format!("uses[{index}].custom_goal"),
                };
                let text =
                    format!("{field} is the goal of uses[{first}] too; accepted: each goal once; add the shares");
                faults.push(Fault::new(field, FaultReason::Duplicate, text));
            }
        }
    }

    fn check_weights(&self, spots: usize, faults: &mut Vec<Fault>) {
        let given = self.weights.len();
        if given > 0 && given != spots {
            let text =
                format!("weights has {given} entries; accepted: {spots}, one for each spot, or none; give one a spot");
            faults.push(Fault::new("weights", FaultReason::OutOfRange, text));
        }
        for (index, weight) in self.weights.iter().enumerate() {
            number(&format!("weights[{index}]"), *weight, 0.0, "give the days a season", faults);
        }
        if given > 0 && self.weights.iter().all(|weight| *weight == 0.0) {
            let text = "weights are all 0; accepted: at least one above 0; give the days a season".to_owned();
            faults.push(Fault::new("weights", FaultReason::OutOfRange, text));
        }
    }

    /// Prices can only be compared in one currency: that of the budget, or else of most of the prices.
    fn check_currency(&self, input: &RunInput, faults: &mut Vec<Fault>) {
        let mut priced: BTreeMap<&str, Vec<&Id>> = BTreeMap::new();
        for sensor in &input.sensors {
            if let Some(price) = &sensor.price {
                priced.entry(&price.currency).or_default().push(&sensor.id);
            }
        }
        let most = priced.iter().rev().max_by_key(|(_, sensors)| sensors.len()).map(|(currency, _)| *currency);
        let Some(wanted) = self.budget.as_ref().map(|budget| budget.currency.as_str()).or(most) else { return };
        for (other, sensors) in priced.iter().filter(|(currency, _)| **currency != wanted) {
            let named: Vec<_> = sensors.iter().take(NAMED).map(|id| format!("sensors/{id}")).collect();
            let more = match sensors.len().saturating_sub(NAMED) {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            let text = format!(
                "priced in {other}: {}{more}; accepted: {wanted}, as the budget or most of the prices; convert them, or leave these sensors out",
                named.join(", ")
            );
            faults.push(Fault::new("budget.currency_code", FaultReason::Contradiction, text));
        }
    }

    /// Uses with shares that add up to 1.
    pub(super) fn shares(&self, input: &RunInput) -> Vec<Use> {
        if self.uses.is_empty() {
            return vec![Use { goal: input.settings.goal.clone(), share: 1.0 }];
        }
        let sum: f64 = self.uses.iter().map(|u| u.share).sum();
        self.uses.iter().map(|u| Use { share: u.share / sum, goal: u.goal.clone() }).collect()
    }

    /// Weights of the places, adding up to 1.
    pub(super) fn shares_of_places(&self, places: usize) -> Vec<f64> {
        let weights = if self.weights.is_empty() { vec![1.0; places] } else { self.weights.clone() };
        let sum: f64 = weights.iter().sum();
        weights.into_iter().map(|weight| weight / sum).collect()
    }

    /// What each sensor of the run costs this customer.
    pub(super) fn costs(&self, input: &RunInput) -> Vec<Cost> {
        input
            .sensors
            .iter()
            .map(|sensor| match &sensor.price {
                _ if self.owned.contains(&sensor.id) => Cost::Owned,
                Some(price) => Cost::Price(money::nanos(price)),
                None => Cost::Unpriced,
            })
            .collect()
    }
}

fn number(field: &str, value: f64, least: f64, advice: &str, faults: &mut Vec<Fault>) {
    if !(least..=MOST).contains(&value) {
        let from = if least > 0.0 { "above 0".to_owned() } else { least.to_string() };
        let text = format!("{field} is {value}; accepted: {from} to {MOST}; {advice}");
        faults.push(Fault::new(field, FaultReason::OutOfRange, text));
    }
}
