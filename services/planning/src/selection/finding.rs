//! From numbers to a finding: criteria, gains, failures and notices.

use acoustics::units::{Db, Metres};

use super::beam::LURE_NOTICE;
use super::figures::Evaluation;
use super::option::PreparedOption;
use super::spot::PreparedSpot;
use domain::selection::{Criteria, Desirability, Failure, Gains, Notice};

impl Evaluation {
    /// The criteria as measured.
    #[must_use]
    pub fn criteria(&self) -> Criteria {
        Criteria {
            coverage_radius: Metres::new(self.coverage_radius),
            coverage_area_m2: self.coverage_area,
            watch_footprint: Metres::new(self.watch_footprint),
            range_cell: Metres::new(self.range_cell),
            single_fish_probability: self.single_fish,
            dead_zone_height: Metres::new(self.dead_zone_height),
            lure_over_vegetation: self.lure_over_vegetation.map(Db::new),
            headroom: self.headroom.map(Db::new),
            interference_fraction: self.interference_fraction,
        }
    }

    /// The gains.
    #[must_use]
    pub fn gains(&self) -> Gains {
        Gains {
            lure: Db::new(self.lure_gain),
            bottom: Db::new(self.bottom_gain),
            working: Db::new(self.working_gain),
            clear: self.clear_gain.map(Db::new),
            search: Db::new(self.search_gain),
            max: Db::new(self.max_gain),
        }
    }

    /// The desirabilities.
    #[must_use]
    pub fn desirability(&self) -> Desirability {
        Desirability {
            coverage: self.coverage_d,
            clutter: self.clutter_d,
            resolution: self.resolution_d,
            interference: self.interference_d,
        }
    }

    /// Every reason why the option is disqualified; empty exactly when it qualifies.
    #[must_use]
    pub fn failures(&self) -> Vec<Failure> {
        let mut failures = Vec::new();
        if self.lure_gain > self.max_gain {
            failures.push(Failure::LureGainBeyondMax { missing: Db::new(self.lure_gain - self.max_gain) });
        }
        if self.bottom_gain > self.max_gain {
            failures.push(Failure::BottomGainBeyondMax { missing: Db::new(self.bottom_gain - self.max_gain) });
        }
        if self.lure_off_axis > self.lobe_radius {
            let (offset, lobe_radius) = (Metres::new(self.lure_off_axis), Metres::new(self.lobe_radius));
            failures.push(Failure::LureOutsideBeam { offset, lobe_radius });
        }
        if let Some(fraction_at_zero) = self.fraction_at_zero {
            failures.push(Failure::NoClearGain { fraction_at_zero });
        }
        if self.noise_excess() > 0.0 {
            failures.push(Failure::NoiseBeforeLure { by: Db::new(self.noise_excess()) });
        }
        if self.blind_room < 0.0 {
            let blind = Metres::new(self.blind_range);
            failures.push(Failure::LureInRingDown { range: blind + Metres::new(self.blind_room), blind });
        }
        failures
    }

    /// Things worth saying that do not disqualify.
    pub(crate) fn notices(&self, place: &PreparedSpot, gear: &PreparedOption) -> Vec<Notice> {
        let mut notices = Vec::new();
        if place.lure_height < self.dead_zone_height {
            let (shadow, lure) = (Metres::new(self.dead_zone_height), Metres::new(place.lure_height));
            notices.push(Notice::LureInDeadZone { shadow, lure });
        }
        if let Some(ratio) = self.lure_over_vegetation.filter(|ratio| *ratio < 0.0) {
            notices.push(Notice::LureDrownsInCover { ratio: Db::new(ratio) });
        }
        if self.lure_off_axis <= self.lobe_radius && self.lure_cost > LURE_NOTICE {
            let (offset, lobe_radius) = (Metres::new(self.lure_off_axis), Metres::new(self.lobe_radius));
            notices.push(Notice::LureNearLobeEdge { offset, lobe_radius });
        }
        let wavelength = Metres::new(place.speed / gear.frequency.get());
        if let Some(rayleigh_distance) = gear.pattern.far_field_distance(wavelength)
            && place.lure_range < rayleigh_distance.get()
        {
            notices.push(Notice::NearField { rayleigh_distance });
        }
        if let Some(headroom) = self.headroom.filter(|headroom| *headroom < 0.0) {
            notices.push(Notice::NeighboursShow { headroom: Db::new(headroom) });
        }
        if self.coverage_area <= 0.0 {
            notices.push(Notice::NoCoverage);
        }
        notices
    }
}
