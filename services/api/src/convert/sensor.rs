//! Sensors.

use acoustics::units::{Db, Level, Seconds};
use domain::{Confirmation, DialPoint, DialScale, Fault, FaultReason, GainDial, Id, Sensor, defaults};
use proto::v1;

use super::option;
use super::{Reading, fact};
use domain::scale::Scale as Unit;

/// Reads a sensor; left-out figures take the defaults that the protocol states, marked as assumed.
pub(crate) fn from(id: Id, message: v1::Sensor) -> Result<Sensor, Vec<Fault>> {
    let mut reading = Reading::default();
    let milliseconds = |value| Seconds::new(Unit::Milliseconds.to_si(value));
    let percent = |value| Unit::Percent.to_si(value);
    let pings_and_marks = (message.confirm_pings, message.confirm_marks);
    let options = message
        .options
        .into_iter()
        .enumerate()
        .filter_map(|(index, option)| {
            let mut inner = Reading::default();
            let option = option::from(&mut inner, option);
            reading.under(&format!("options[{index}]"), inner);
            option
        })
        .collect();
    let sensor = Sensor {
        id,
        price: message.price.map(fact::money),
        options,
        threshold: fact::required(&mut reading, "threshold_db", message.threshold_db, Level::new),
        max_gain: fact::required(&mut reading, "max_gain_db", message.max_gain_db, Db::new),
        dial: dial(&mut reading, message.dial),
        receiver_noise: fact::optional(&mut reading, "receiver_noise_db", message.receiver_noise_db, Db::new)
            .unwrap_or(defaults::RECEIVER_NOISE),
        ping_interval: fact::optional(&mut reading, "ping_interval_ms", message.ping_interval_ms, milliseconds)
            .unwrap_or(defaults::PING_INTERVAL),
        ping_jitter: fact::optional(&mut reading, "ping_jitter_percent", message.ping_jitter_percent, percent)
            .unwrap_or(defaults::PING_JITTER),
        confirmation: confirmation(pings_and_marks),
        display_name: message.display_name,
        notes: message.notes,
    };
    reading.finish(sensor, Sensor::check)
}

/// Either count may be left out (0) and is then 1.
fn confirmation((pings, marks): (u32, u32)) -> Confirmation {
    let default = defaults::CONFIRMATION;
    Confirmation {
        marks: if marks == 0 { default.marks } else { marks },
        pings: if pings == 0 { default.pings } else { pings },
    }
}

fn dial(reading: &mut Reading, dial: Option<v1::GainDial>) -> GainDial {
    let Some(dial) = dial else {
        reading.missing("dial", "give its scale and points");
        return GainDial { scale: DialScale::Step, points: Vec::new() };
    };
    let read = |scale| match scale {
        v1::DialScale::Unspecified => None,
        v1::DialScale::ClockHour => Some(DialScale::ClockHour),
        v1::DialScale::Percent => Some(DialScale::Percent),
        v1::DialScale::Step => Some(DialScale::Step),
    };
    let Some(scale) = reading.choice("dial.scale", dial.scale, read, v1::DialScale::as_str_name) else {
        // Positions mean nothing without their scale.
        return GainDial { scale: DialScale::Step, points: Vec::new() };
    };
    let texts: Vec<_> = dial.points.iter().map(|point| point.position.as_str()).collect();
    let positions = scale.parse_all(&texts).unwrap_or_else(|refused| {
        for (index, error) in refused {
            reading.refuse(format!("dial.points[{index}].position"), FaultReason::BadForm, error.to_string());
        }
        Vec::new()
    });
    let points = positions.into_iter().zip(&dial.points);
    GainDial {
        scale,
        points: points.map(|(position, point)| DialPoint { position, gain: Db::new(point.gain_db) }).collect(),
    }
}

/// Writes a sensor, without what the store knows of it.
pub(crate) fn to(sensor: &Sensor) -> v1::Sensor {
    let milliseconds = |seconds: Seconds| Unit::Milliseconds.from_si(seconds.get());
    let percent = |fraction: f64| Unit::Percent.from_si(fraction);
    v1::Sensor {
        name: format!("sensors/{}", sensor.id),
        display_name: sensor.display_name.clone(),
        notes: sensor.notes.clone(),
        price: sensor.price.as_ref().map(fact::money_to),
        options: sensor.options.iter().map(option::to).collect(),
        threshold_db: Some(fact::to(&sensor.threshold, Level::get)),
        max_gain_db: Some(fact::to(&sensor.max_gain, Db::get)),
        dial: Some(dial_to(&sensor.dial)),
        receiver_noise_db: Some(fact::to(&sensor.receiver_noise, Db::get)),
        ping_interval_ms: Some(fact::to(&sensor.ping_interval, milliseconds)),
        ping_jitter_percent: Some(fact::to(&sensor.ping_jitter, percent)),
        confirm_marks: sensor.confirmation.marks,
        confirm_pings: sensor.confirmation.pings,
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}

fn dial_to(dial: &GainDial) -> v1::GainDial {
    let scale = match dial.scale {
        DialScale::ClockHour => v1::DialScale::ClockHour,
        DialScale::Percent => v1::DialScale::Percent,
        DialScale::Step => v1::DialScale::Step,
    };
    let point =
        |point: &DialPoint| v1::DialPoint { position: dial.scale.write(point.position), gain_db: point.gain.get() };
    v1::GainDial { scale: scale.into(), points: dial.points.iter().map(point).collect() }
}
