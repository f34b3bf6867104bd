//! Sensors.

use acoustics::units::Db;
use domain::{DialPoint, DialScale, Fault, FaultReason, Id, Record as _, SensorRecord};
use proto::v1;

use super::option;
use super::{Reading, fact};

/// Reads a sensor.
pub(crate) fn from(id: Id, message: v1::Sensor) -> Result<SensorRecord, Vec<Fault>> {
    let mut reading = Reading::default();
    let options = message.options.into_iter().enumerate().map(|(index, option)| {
        let mut inner = Reading::default();
        let option = option::from(&mut inner, option);
        reading.under(&format!("options[{index}]"), inner);
        option
    });
    let options = options.collect();
    let (dial_scale, dial_points) = dial(&mut reading, message.dial);
    // Either count may be left out, which is 0.
    let count = |given: u32| (given != 0).then_some(given);
    let mut figure = |field: &str, given| fact::figure(&mut reading, field, given);
    let sensor = SensorRecord {
        id,
        display_name: message.display_name,
        notes: message.notes,
        price: message.price.as_ref().map(|price| (price.units, price.nanos)),
        currency: message.price.map(|price| price.currency_code).unwrap_or_default(),
        threshold_db: figure("threshold_db", message.threshold_db),
        max_gain_db: figure("max_gain_db", message.max_gain_db),
        receiver_noise_db: figure("receiver_noise_db", message.receiver_noise_db),
        ping_interval_ms: figure("ping_interval_ms", message.ping_interval_ms),
        ping_jitter_percent: figure("ping_jitter_percent", message.ping_jitter_percent),
        dial_scale,
        dial_points,
        confirm_marks: count(message.confirm_marks),
        confirm_pings: count(message.confirm_pings),
        options,
    };
    reading.finish(sensor, SensorRecord::check)
}

fn dial(reading: &mut Reading, dial: Option<v1::GainDial>) -> (Option<DialScale>, Vec<DialPoint>) {
    let Some(dial) = dial else { return (None, Vec::new()) };
    let read = |scale| match scale {
        v1::DialScale::Unspecified => None,
        v1::DialScale::ClockHour => Some(DialScale::ClockHour),
        v1::DialScale::Percent => Some(DialScale::Percent),
        v1::DialScale::Step => Some(DialScale::Step),
    };
    // Positions mean nothing without their scale.
    let Some(scale) = reading.choice("dial.scale", dial.scale, read, v1::DialScale::as_str_name) else {
        return (None, Vec::new());
    };
    let texts: Vec<_> = dial.points.iter().map(|point| point.position.as_str()).collect();
    let positions = scale.parse_all(&texts).unwrap_or_else(|refused| {
        for (index, error) in refused {
            reading.refuse(format!("dial.points[{index}].position"), FaultReason::BadForm, error.to_string());
        }
        Vec::new()
    });
    let points = positions.into_iter().zip(&dial.points);
    let points = points.map(|(position, point)| DialPoint { position, gain: Db::new(point.gain_db) });
    (Some(scale), points.collect())
}

/// Writes a sensor, without what the store knows of it.
pub(crate) fn to(sensor: &SensorRecord) -> v1::Sensor {
    let price = |(units, nanos)| v1::Money { currency_code: sensor.currency.clone(), units, nanos };
    v1::Sensor {
        name: format!("sensors/{}", sensor.id),
        display_name: sensor.display_name.clone(),
        notes: sensor.notes.clone(),
        price: sensor.price.map(price),
        options: sensor.options.iter().map(option::to).collect(),
        threshold_db: fact::to(sensor.threshold_db),
        max_gain_db: fact::to(sensor.max_gain_db),
        dial: sensor.dial_scale.map(|scale| dial_to(scale, &sensor.dial_points)),
        receiver_noise_db: fact::to(sensor.receiver_noise_db),
        ping_interval_ms: fact::to(sensor.ping_interval_ms),
        ping_jitter_percent: fact::to(sensor.ping_jitter_percent),
        confirm_marks: sensor.confirm_marks.unwrap_or(0),
        confirm_pings: sensor.confirm_pings.unwrap_or(0),
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}

fn dial_to(scale: DialScale, points: &[DialPoint]) -> v1::GainDial {
    let point = |point: &DialPoint| v1::DialPoint { position: scale.write(point.position), gain_db: point.gain.get() };
    let scale = match scale {
        DialScale::ClockHour => v1::DialScale::ClockHour,
        DialScale::Percent => v1::DialScale::Percent,
        DialScale::Step => v1::DialScale::Step,
    };
    v1::GainDial { scale: scale.into(), points: points.iter().map(point).collect() }
}
