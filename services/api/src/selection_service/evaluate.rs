//! Evaluate: a few options at one spot, at once, from stored records or from those in the request.

use domain::{Cancel, FaultReason, Id};
use planning::selection::{Prepared, Scratch};
use prost::Message as _;
use proto::v1;
use tonic::Request;

use super::inline::{self, Inline, Instead, Messages};
use crate::context::Shared;
use crate::convert::finding::FindingWriter;
use crate::error::Error;
use crate::reflect::Depth;
use crate::request::{Incoming, parts};

/// Most options at once.
const MAX_OPTIONS: usize = 64;

/// Scores and ranks.
pub(super) async fn evaluate(
    shared: &Shared,
    request: Request<v1::EvaluateRequest>,
) -> Result<v1::EvaluateResponse, Error> {
    let (incoming, missing) = parts(request, Depth::Whole)?;
    let Incoming { mut message, caller } = incoming;
    let caller = caller.as_ref();
    let spec = message.spec.take().unwrap_or_default();
    let instead = Instead { lure: message.lure.as_ref(), fish: message.fish.as_ref() };
    inline::refuse(missing, &spec, &instead)?;
    let bytes = message.encoded_len();
    let read = move |cancel: &Cancel| {
        let path = |_| "spot".to_owned();
        let v1::EvaluateRequest { spec: _, spot, sensors, shelter, lure, fish, goals } = message;
        let spots = spot.into_iter().collect();
        Inline::read(Messages { spots, sensors, shelter, lure, fish, goals }, &path, cancel)
    };
    let inline = shared.check(caller, bytes, read).await??;
    let spots = if inline.has_spots() { 1 } else { spec.spots.len() };
    if spots != 1 {
        return Err(one_spot(spots));
    }
    let input = inline.complete(shared, &spec, caller).await?;
    if input.options.len() > MAX_OPTIONS {
        let text = format!(
            "spec.options chooses {} options; accepted: up to {MAX_OPTIONS}; start a run for more",
            input.options.len()
        );
        return Err(Error::field("spec.options", FaultReason::OutOfRange, text));
    }
    let copy = input.clone();
    let work = move |cancel: &Cancel| {
        let prepared = Prepared::new(&copy, cancel)?;
        let mut findings = Vec::with_capacity(prepared.option_count());
        prepared.evaluate_spot(0, &mut Scratch::new(), &mut findings, cancel).map(|()| findings)
    };
    let mut findings = shared.compute(caller, work).await?.map_err(Error::from)?;
    findings.sort_by_key(|f| f.rank);
    let id = Id::parse("unstored").map_err(Error::internal)?;
    let writer = FindingWriter::new(&id, &input);
    let mut messages: Vec<v1::Finding> = findings.iter().map(|f| writer.write(f)).collect::<Result<_, _>>()?;
    for finding in &mut messages {
        // Nothing is stored, so nothing has a name.
        finding.name.clear();
    }
    Ok(v1::EvaluateResponse { findings: messages })
}

fn one_spot(given: usize) -> Error {
    let text = format!(
        "spec.spots has {given} entries; accepted: exactly one, or a spot in the request; start a run for more"
    );
    Error::field("spec.spots", FaultReason::OutOfRange, text)
}
