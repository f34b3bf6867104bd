//! Use of each sensor on each day.

use jiff::civil::Date;

use super::presence;
use super::roofs::{begins, runs};
use super::suit::Offer;
use super::types::{FleetInput, SensorDay};

/// Units given out by sensor and day, and how many there are.
pub(super) struct Usage {
    /// The days on which any booking runs, in order.
    dates: Vec<Date>,
    /// By sensor and day.
    used: Vec<Vec<u32>>,
    /// Units of the stock that are away, by sensor and day.
    away: Vec<Vec<u32>>,
    /// By sensor: there on some day, and bought.
    stock: Vec<(u32, u32)>,
}

impl Usage {
    pub(super) fn new(input: &FleetInput, given: &[Option<&Offer>], bought: &[u32]) -> Self {
        let mut dates = Vec::new();
        for booking in &input.bookings {
            let mut day = Some(begins(booking, input.replan.from));
            while let Some(date) = day.filter(|date| runs(booking, *date)) {
                dates.push(date);
                day = date.tomorrow().ok();
            }
        }
        dates.sort_unstable();
        dates.dedup();
        let mut used = vec![vec![0_u32; dates.len()]; input.sensors.len()];
        for (booking, offer) in input.bookings.iter().zip(given) {
            let Some(days) = offer.and_then(|offer| used.get_mut(offer.sensor)) else { continue };
            for (count, _) in days.iter_mut().zip(&dates).filter(|(_, date)| runs(booking, **date)) {
                *count += booking.anglers;
            }
        }
        let stock = (0..input.sensors.len())
            .map(|sensor| (presence::stock(input, sensor), bought.get(sensor).copied().unwrap_or_default()))
            .collect();
        let away = |sensor: usize| dates.iter().map(|date| presence::away_on(input, sensor, *date)).collect();
        let away = (0..input.sensors.len()).map(away).collect();
        Self { dates, used, away, stock }
    }

    /// Every day with every sensor that is used at all.
    pub(super) fn days(&self) -> Vec<SensorDay> {
        let mut days = Vec::new();
        for (place, day) in self.dates.iter().enumerate() {
            for (sensor, used) in self.used.iter().enumerate().filter(|(sensor, _)| self.peak(*sensor) > 0) {
                let used = used.get(place).copied().unwrap_or_default();
                let away = self.away.get(sensor).and_then(|days| days.get(place)).copied().unwrap_or_default();
                let available = self.available(sensor).saturating_sub(away);
                days.push(SensorDay { day: *day, sensor, used, available });
            }
        }
        days
    }

    /// Units that there are on some day: of the stock, and bought.
    pub(super) fn available(&self, sensor: usize) -> u32 {
        let (ready, bought) = self.stock(sensor);
        ready + bought
    }

    /// Units of the stock, and those that are bought.
    pub(super) fn stock(&self, sensor: usize) -> (u32, u32) {
        self.stock.get(sensor).copied().unwrap_or_default()
    }

    /// Most units that are given out on one day.
    pub(super) fn peak(&self, sensor: usize) -> u32 {
        self.used.get(sensor).and_then(|days| days.iter().copied().max()).unwrap_or_default()
    }

    /// Most units that are given out or away on one day between two.
    pub(super) fn peak_between(&self, sensor: usize, first: Date, last: Date) -> u32 {
        let (Some(used), Some(away)) = (self.used.get(sensor), self.away.get(sensor)) else { return 0 };
        let days = used.iter().zip(away).zip(&self.dates).filter(|(_, date)| (first..=last).contains(*date));
        days.map(|((used, away), _)| used + away).max().unwrap_or_default()
    }
}
