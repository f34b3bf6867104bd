//! Gains of a rule as what a hand sets.

use acoustics::units::Db;
use domain::dial::Rounding;
use domain::selection::Gains;
use domain::setting::{Beyond, Highest, Position, Setting, Start, setting};
use domain::{Provenance, Sensor};

use super::RuleContext;
use super::site::Band;
use super::types::{Rule, RulesInput};
use crate::generic::GenericUnit;
use domain::Id;
use domain::selection::OptionRef;

impl RuleContext<'_> {
    /// Writes setting and positions of the dial into a rule whose gains stand.
    pub(super) fn write_setting(&self, rule: &mut Rule, band: &Band) {
        let sensor = self.input.options.get(rule.option).and_then(|option| self.input.sensors.get(option.sensor));
        let (Some(sensor), Some(lure)) = (sensor, band.first_showing(rule.option)) else { return };
        let (start, highest) = (rule.start_gain, rule.highest_gain);
        let allowed = rule.refusal.is_none();
        let listed = rule.option < self.listed;
        if !listed {
            // Of its dial nothing is known: no further than where a hand can see that it is enough.
            let nothing = Beyond { gain: Db::new(0.0), travel: None };
            let (start, highest) = (Start::FirstShowing { more: nothing.clone() }, Highest::PastFirstShowing(nothing));
            rule.setting = allowed.then_some(Setting { start, highest });
            return;
        }
        rule.setting = allowed.then(|| set_for(sensor, Db::new(lure), start, Some(highest)));
        if !has_positions(sensor) {
            (rule.start_dial, rule.highest_dial, rule.alike_highest_dial) = (None, None, None);
            return;
        }
        rule.highest_dial = sensor.dial.reading(highest, Rounding::Down);
        rule.alike_highest_dial = sensor.dial.reading(rule.alike_highest_gain, Rounding::Down);
        let between = between_marks(sensor, start, highest).is_some() && allowed;
        rule.start_dial = if between { rule.highest_dial.clone() } else { sensor.dial.reading(start, Rounding::Up) };
    }
}

/// How a sensor is set between the gain at which the lure shows and that at which neighbours do; without neighbours there is no such.
pub(super) fn set_for(sensor: &Sensor, lure: Db, start: Db, highest: Option<Db>) -> Setting {
    let gains =
        Gains { lure, bottom: start, working: start, clear: highest, search: start, max: sensor.max_gain.value };
    match highest.filter(|_| has_positions(sensor)).and_then(|highest| between_marks(sensor, start, highest)) {
        Some(at) => Setting { start: Start::At(at.clone()), highest: Highest::At(at) },
        None => setting(sensor, &gains),
    }
}

/// Whether gains of a sensor are positions of its dial.
fn has_positions(sensor: &Sensor) -> bool {
    sensor.threshold.provenance != Provenance::Assumed && !sensor.dial.points.is_empty()
}

/// Between two marks of the dial nothing can be set: then the lower one it is, at which the lure still shows with less than a step under its
/// margin.
fn between_marks(sensor: &Sensor, start: Db, highest: Db) -> Option<Position> {
    let position = |gain, rounding| sensor.dial.rounded_position(gain, rounding);
    let (up, down) = position(start, Rounding::Up).zip(position(highest, Rounding::Down))?;
    (up > down).then(|| Position { position: down, reading: sensor.dial.scale.format(down) })
}

impl RulesInput {
    /// The same with the classes that are not listed as options behind the others.
    pub(super) fn with_unlisted(&self) -> Self {
        let mut input = self.clone();
        for class in &self.unlisted {
            let Some(id) = unlisted_id(*class) else { continue };
            input.options.push(OptionRef { sensor: input.sensors.len(), option: 0 });
            input.sensors.push(class.unit(id));
        }
        input
    }
}

/// The id of a class that is not listed.
fn unlisted_id(class: GenericUnit) -> Option<Id> {
    let place = GenericUnit::ALL.iter().position(|known| *known == class)?;
    Id::parse(&format!("unlisted-{}", place + 1)).ok()
}
