//! Surveys of beams: drafts, fits, and adoption of what was measured.

use std::sync::Arc;

use catalog::Stored;
use domain::{
    BeamSurvey, Cancel, Fault, FaultReason, Id, PatternKind, Provenance, Record as _, SensorRecord, TargetRecord,
};
use planning::survey::{self, FitSettings};
use proto::v1;

use crate::context::{Caller, Shared};
use crate::convert::{beam_fit, joined};
use crate::error::Error;
use crate::names::{self, OptionName};
use crate::resource::{stored, timestamp};
use crate::{crud, documents, resolve};

/// Holes of a line where the request leaves them out.
const HOLES: u32 = 12;

/// What a survey of an option should do.
pub(super) async fn draft(
    shared: &Shared,
    request: &v1::DraftBeamSurveyRequest,
    missing: Vec<Fault>,
    caller: Option<Caller>,
) -> Result<v1::BeamSurveyDraft, Error> {
    let named = joined(missing, draft_names(request)).map_err(Error::BadFields)?;
    let sensor = resolve::record::<SensorRecord>(shared, "option", &named.sensor).await?;
    let target = resolve::record::<TargetRecord>(shared, "target", &named.target).await?;
    let (sensor, target) = both(sensor, target)?;
    let depth = acoustics::units::Metres::new(request.depth_m);
    let holes = if request.holes == 0 { HOLES } else { request.holes };
    let work = move |_: &Cancel| {
        survey::sheet(&sensor, &named.option, &target, depth, holes).map(|sheet| (sheet, sensor, named.option, target))
    };
    let (sheet, sensor, option, target) = shared.compute(caller.as_ref(), work).await??;
    let answer = v1::BeamSurveyDraft {
        option: request.option.clone(),
        target: request.target.clone(),
        depth_m: request.depth_m,
        create_time: Some(timestamp(shared.context.clock.now())),
        ..beam_fit::draft_to(&sensor, &option, &target, &sheet)
    };
    documents::keep(shared, answer, caller).await
}

/// What a draft is asked for.
struct DraftNames {
    sensor: Id,
    option: Id,
    target: Id,
}

fn draft_names(request: &v1::DraftBeamSurveyRequest) -> Result<DraftNames, Vec<Fault>> {
    let option = match names::parse_option("option", &request.option) {
        Ok(OptionName::One { sensor, option }) => Ok((sensor, option)),
        Ok(OptionName::All { sensor }) => {
            let text = format!("option is 'sensors/{sensor}'; accepted: one of its options; name it");
            Err(Fault::new("option", FaultReason::BadForm, text))
        }
        Err(fault) => Err(fault),
    };
    match (option, names::parse("target", "targets", &request.target)) {
        (Ok((sensor, option)), Ok(target)) => Ok(DraftNames { sensor, option, target }),
        (option, target) => Err(option.err().into_iter().chain(target.err()).collect()),
    }
}

fn both<A, B>(a: Result<A, Fault>, b: Result<B, Fault>) -> Result<(A, B), Error> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok((a, b)),
        (a, b) => Err(Error::BadFields(a.err().into_iter().chain(b.err()).collect())),
    }
}

/// Fits a beam to a stored survey and stores the fit.
pub(super) async fn fit(shared: &Shared, name: &str, caller: Option<Caller>) -> Result<v1::BeamFit, Error> {
    let id = names::parse("survey", "beamSurveys", name)?;
    let survey = shared.store().get::<BeamSurvey>(&id).await?.record;
    let sensor = resolve::record::<SensorRecord>(shared, "option", &survey.sensor).await?;
    let target = resolve::record::<TargetRecord>(shared, "target", &survey.target).await?;
    let under = |error: Error| error.under(name);
    let (sensor, target) = both(sensor, target).map_err(under)?;
    let work = move |cancel: &Cancel| {
        survey::fit(&survey, &sensor, &target, &FitSettings::default(), cancel).map(|fit| (fit, survey, sensor))
    };
    let (fit, survey, sensor) = shared.compute(caller.as_ref(), work).await?.map_err(|e| under(e.into()))?;
    let answer = v1::BeamFit {
        create_time: Some(timestamp(shared.context.clock.now())),
        ..beam_fit::to(&survey, &sensor, &fit)
    };
    documents::keep(shared, answer, caller).await
}

/// Makes a fit the measured pattern of its option.
pub(super) async fn adopt(
    shared: &Shared,
    request: &v1::AdoptPatternRequest,
    caller: Option<Caller>,
) -> Result<v1::Sensor, Error> {
    let fit: v1::BeamFit = documents::get(shared, "fit", &request.fit).await?;
    let Ok(OptionName::One { sensor, option }) = names::parse_option("option", &fit.option) else {
        return Err(Error::internal(format!("{} names the option {}", request.fit, fit.option)));
    };
    let adopt = Arc::new(move |known: Stored<SensorRecord>| {
        let mut changed = known.record;
        let Some(adopted) = changed.options.iter_mut().find(|known| known.id == option) else {
            return Err(Error::NotFound { collection: "options", name: fit.option.clone() });
        };
        let points = beam_fit::measured(&fit);
        adopted.set_pattern(&PatternKind::Tabulated { points, provenance: Provenance::Measured });
        let faults = changed.check();
        if faults.is_empty() { Ok(changed) } else { Err(Error::BadFields(faults)) }
    });
    Ok(stored(crud::change(shared, (&sensor, &request.sensor_etag), (caller, 0), adopt).await?))
}
