//! Recommendations: written only, they never come in.

use domain::selection::RunInput;
use domain::setting::setting;
use domain::{Goal, GoalRecord, Money, Record as _, Sensor};
use planning::recommend::{
    Advice, CandidateIndex, Choice, Firmness, PlaceAdvice, Recommendation, UnknownKind, highest, start, watch_out,
    words,
};
use proto::v1;

use super::finding::FindingWriter;
use super::run::preset_to;
use super::{fact, sentence};
use crate::error::Error;
use crate::names;

/// A recommendation as the protocol has it.
pub(crate) fn to(
    answer: &Recommendation,
    choice: &Choice,
    input: &RunInput,
    writer: &FindingWriter<'_>,
) -> Result<v1::Recommendation, Error> {
    let (decision, told) = (&answer.decision, words(answer, choice, input));
    let name = |candidate: CandidateIndex| {
        input.sensors.get(candidate.0).map_or_else(String::new, |sensor| format!("sensors/{}", sensor.id))
    };
    let (firmness, among) = firmness(decision.firmness.as_ref());
    let settling = decision.settling.and_then(|settling| answer.unknowns.get(settling.unknown));
    let spot = settling.and_then(|unknown| input.spots.get(unknown.place?.0));
    Ok(v1::Recommendation {
        advice: advice(decision.advice).into(),
        sensor: decision.advice.sensor().map(name).unwrap_or_default(),
        firmness: firmness.into(),
        right_share: decision.right,
        among: among.iter().copied().map(name).collect(),
        sensors: decision.order.iter().filter_map(|c| worth(answer, *c, input.sensors.get(c.0)?, choice)).collect(),
        places: answer
            .places
            .iter()
            .map(|place| place_setting(answer, place, input, writer))
            .collect::<Result<_, _>>()?,
        pair: decision.pair.map(|pair| v1::SensorPair {
            sensors: pair.both.into_iter().map(name).collect(),
            price: currency(choice, input).map(|code| fact::money_to(&planning::recommend::amount(pair.price, code))),
            value: pair.total.value,
            gain: pair.gain,
        }),
        settling_unknown: settling.map(|unknown| unknown_name(unknown.kind).to_owned()).unwrap_or_default(),
        settling_spot: spot.map(|spot| format!("spots/{}", spot.id)).unwrap_or_default(),
        draws: i32::try_from(answer.draws).unwrap_or(i32::MAX),
        text: Some(v1::RecommendationText {
            headline: Some(sentence::one(&told.headline)),
            standing: told.standing.as_ref().map(sentence::one),
            works: sentence::to(&told.works),
            money: sentence::to(&told.money),
            settling: told.settling.as_ref().map(sentence::one),
            notes: sentence::to(&told.notes),
        }),
    })
}

fn currency<'a>(choice: &'a Choice, input: &'a RunInput) -> Option<&'a str> {
    let prices = || input.sensors.iter().find_map(|sensor| sensor.price.as_ref());
    choice.budget.as_ref().or_else(prices).map(|money: &Money| money.currency.as_str())
}

fn worth(
    answer: &Recommendation,
    candidate: CandidateIndex,
    sensor: &Sensor,
    choice: &Choice,
) -> Option<v1::SensorWorth> {
    let (decision, at) = (&answer.decision, candidate.0);
    let total = decision.totals.get(at)?;
    Some(v1::SensorWorth {
        sensor: format!("sensors/{}", sensor.id),
        display_name: sensor.display_name.clone(),
        price: sensor.price.as_ref().map(fact::money_to),
        owned: choice.owned.contains(&sensor.id),
        affordable: *decision.affordable.get(at)?,
        efficient: *decision.efficient.get(at)?,
        value: total.value,
        least_value: *decision.least.get(at)?,
        works_share: total.works,
        best_share: *decision.probability.get(at)?,
        regret: *decision.regret.get(at)?,
    })
}

fn place_setting(
    answer: &Recommendation,
    advice: &PlaceAdvice,
    input: &RunInput,
    writer: &FindingWriter<'_>,
) -> Result<v1::PlaceSetting, Error> {
    let lost = || Error::internal("a recommendation points outside of its input");
    let spot = input.spots.get(advice.place.0).ok_or_else(lost)?;
    let reference = input.options.get(advice.finding.option).ok_or_else(lost)?;
    let sensor = input.sensors.get(reference.sensor).ok_or_else(lost)?;
    let option = sensor.options.get(reference.option).ok_or_else(lost)?;
    let one_use = answer.uses.get(advice.use_index).ok_or_else(lost)?;
    let set = setting(sensor, &advice.finding.gains);
    let finding = writer.write(&advice.finding)?;
    let (goal, custom_goal, goal_title) = match &one_use.goal {
        Goal::Preset(preset) => (preset_to(*preset), String::new(), String::new()),
        Goal::Custom(own) => {
            (v1::Goal::Unspecified, names::of(GoalRecord::COLLECTION, &own.id), own.display_name.clone())
        }
    };
    Ok(v1::PlaceSetting {
        spot: format!("spots/{}", spot.id),
        display_name: spot.display_name.clone(),
        goal: goal.into(),
        custom_goal,
        goal_title,
        option: finding.option.clone(),
        option_name: option.display_name.clone(),
        works: advice.hindrances.is_empty(),
        score: advice.finding.score,
        start: Some(sentence::one(&start(&set.start, &set.highest))),
        highest: Some(sentence::one(&highest(&set.highest))),
        watch_out: sentence::to(&watch_out(&spot.display_name, advice)),
        finding: Some(finding),
    })
}

const fn advice(advice: Advice) -> v1::Advice {
    match advice {
        Advice::Take(_) => v1::Advice::Take,
        Advice::Keep { .. } => v1::Advice::Keep,
        Advice::WorksNowhere => v1::Advice::WorksNowhere,
        Advice::NothingAffordable { .. } => v1::Advice::NothingAffordable,
    }
}

fn firmness(firmness: Option<&Firmness>) -> (v1::Firmness, &[CandidateIndex]) {
    match firmness {
        None => (v1::Firmness::Unspecified, &[]),
        Some(Firmness::Firm) => (v1::Firmness::Firm, &[]),
        Some(Firmness::Likely) => (v1::Firmness::Likely, &[]),
        Some(Firmness::TossUp { among, .. }) => (v1::Firmness::TossUp, among),
        Some(Firmness::TooLittleKnown) => (v1::Firmness::TooLittleKnown, &[]),
    }
}

const fn unknown_name(kind: UnknownKind) -> &'static str {
    match kind {
        UnknownKind::Beamwidth => "BEAMWIDTH",
        UnknownKind::SourceLevel => "SOURCE_LEVEL",
        UnknownKind::Threshold => "THRESHOLD",
        UnknownKind::Lure => "LURE",
        UnknownKind::Fish => "FISH",
        UnknownKind::Bottom => "BOTTOM",
        UnknownKind::Plants => "PLANTS",
        UnknownKind::Depth => "DEPTH",
        UnknownKind::Tilt => "TILT",
        UnknownKind::Gas => "GAS",
        UnknownKind::Bounce => "BOUNCE",
        UnknownKind::Heading => "HEADING",
        UnknownKind::Interval => "INTERVAL",
        UnknownKind::Confirmation => "CONFIRMATION",
        UnknownKind::WidthLevel => "BEAMWIDTH_LEVEL",
        UnknownKind::PowerKind => "POWER_KIND",
        UnknownKind::Neighbours => "NEIGHBOURS",
    }
}
