//! Recommend: one sensor for some places, as a stream of progress and then the answer.

use std::sync::Arc;

use domain::selection::RunInput;
use domain::{Cancel, FaultReason, Id};
use futures::StreamExt as _;
use planning::recommend::{Choice, MAX_EVALUATIONS, Progress, QUIET, Recommendation, recommend_prepared};
use prost::Message as _;
use proto::v1;
use proto::v1::recommend_response::Step;
use tokio::sync::watch;
use tonic::codegen::BoxStream;
use tonic::{Request, Status};

use super::inline::{self, Inline, Instead, Messages};
use crate::context::{Caller, Shared, Tables};
use crate::convert::choice::choice;
use crate::convert::finding::FindingWriter;
use crate::convert::recommendation;
use crate::error::Error;
use crate::reflect::Depth;
use crate::request::{Incoming, parts};

/// The choice of a spec and the run that it was held against, off the async threads where that has many spots.
pub(super) async fn checked(
    shared: &Shared,
    caller: Option<&Caller>,
    (spec, input): (v1::RunSpec, RunInput),
) -> Result<(v1::RunSpec, RunInput, Choice), Error> {
    let bytes = spec.encoded_len().max(input.spots.len() * size_of::<domain::Spot>());
    let work = move |_: &Cancel| checked_choice(&spec, &input).map(|choice| (spec, input, choice));
    shared.check(caller, bytes, work).await?
}

/// Reads the choice of a spec and holds it against the run.
fn checked_choice(spec: &v1::RunSpec, input: &RunInput) -> Result<Choice, Error> {
    let choice = choice(spec, &input.goals).map_err(|f| Error::BadFields(f).under("spec"))?;
    let faults = choice.check(input, input.spots.len());
    if faults.is_empty() { Ok(choice) } else { Err(Error::BadFields(faults).under("spec")) }
}

/// Progress, then the answer. The work ends with the stream.
pub(super) async fn stream(
    shared: &Arc<Shared>,
    request: Request<v1::RecommendRequest>,
) -> Result<BoxStream<v1::RecommendResponse>, Error> {
    let (incoming, missing) = parts(request, Depth::Whole)?;
    let Incoming { mut message, caller } = incoming;
    let spec = message.spec.take().unwrap_or_default();
    let instead = Instead { lure: message.lure.as_ref(), fish: message.fish.as_ref() };
    inline::refuse(missing, &spec, &instead)?;
    let bytes = message.encoded_len();
    let read = move |cancel: &Cancel| {
        let path = |index: usize| format!("spots[{index}]");
        let v1::RecommendRequest { spec: _, spots, sensors, shelter, lure, fish, goals } = message;
        Inline::read(Messages { spots, sensors, shelter, lure, fish, goals }, &path, cancel)
    };
    let inline = shared.check(caller.as_ref(), bytes, read).await??;
    let input = inline.complete(shared, &spec, caller.as_ref()).await?;
    let (_, input, choice) = checked(shared, caller.as_ref(), (spec, input)).await?;
    let evaluations = evaluations(input.spots.len(), input.options.len(), &choice);
    if evaluations > MAX_EVALUATIONS {
        let text = format!(
            "spec asks for {evaluations} scores (spots times options times uses); accepted: up to {MAX_EVALUATIONS}; choose fewer spots or sensors"
        );
        return Err(Error::field("spec.spots", FaultReason::OutOfRange, text));
    }
    Ok(answer(Arc::clone(shared), input, choice, caller))
}

/// Scores that the recorded figures take.
fn evaluations(spots: usize, options: usize, choice: &Choice) -> usize {
    spots.saturating_mul(options).saturating_mul(choice.uses.len().max(1))
}

fn answer(
    shared: Arc<Shared>,
    input: RunInput,
    choice: Choice,
    caller: Option<Caller>,
) -> BoxStream<v1::RecommendResponse> {
    let (sender, receiver) = watch::channel(v1::RecommendProgress::default());
    let (copy, asked, tables) = (input.clone(), choice.clone(), Arc::clone(&shared.tables));
    let work = move |cancel: &Cancel| {
        let progress = |progress: Progress| {
            sender.send_if_modified(|last| {
                let next = message(progress);
                let later = next.draws_done > last.draws_done || next.draws_total != last.draws_total;
                if later {
                    *last = next;
                }
                later
            });
        };
        let spots: Vec<usize> = (0..copy.spots.len()).collect();
        recommend_prepared(&*tables.of(&copy, cancel)?, &spots, &asked, cancel, &progress)
    };
    let result = Box::pin(async move {
        let answer = shared.compute(caller.as_ref(), work).await?.map_err(Error::from)?;
        written(&answer, &choice, &input)
    });
    let start = Some((result, receiver, true));
    futures::stream::unfold(start, |state| async move {
        let (mut result, mut receiver, first) = state?;
        if first {
            let progress = *receiver.borrow_and_update();
            return Some((Ok(step(Step::Progress(progress))), Some((result, receiver, false))));
        }
        loop {
            tokio::select! {
                biased;
                done = &mut result => {
                    let last = done.map(|answer| step(Step::Recommendation(answer))).map_err(Status::from);
                    return Some((last, None));
                }
                // A sender that is gone means that the work is at its end; its result comes next.
                changed = receiver.changed(), if receiver.has_changed().is_ok() => {
                    if changed.is_ok() {
                        let progress = *receiver.borrow_and_update();
                        return Some((Ok(step(Step::Progress(progress))), Some((result, receiver, false))));
                    }
                }
            }
        }
    })
    .boxed()
}

const fn step(step: Step) -> v1::RecommendResponse {
    v1::RecommendResponse { step: Some(step) }
}

fn message(progress: Progress) -> v1::RecommendProgress {
    let count = |n: usize| i32::try_from(n).unwrap_or(i32::MAX);
    match progress {
        Progress::Tables => v1::RecommendProgress::default(),
        Progress::Draws { done, of } => v1::RecommendProgress { draws_done: count(done), draws_total: count(of) },
    }
}

/// As a message; nothing in it has a stored name.
fn written(answer: &Recommendation, choice: &Choice, input: &RunInput) -> Result<v1::Recommendation, Error> {
    let id = Id::parse("unstored").map_err(Error::internal)?;
    let mut message = recommendation::to(answer, choice, input, &FindingWriter::new(&id, input))?;
    for finding in message.places.iter_mut().filter_map(|place| place.finding.as_mut()) {
        finding.name.clear();
    }
    Ok(message)
}

/// The recommendation for some spots of a stored run, from its own copy of the input; none where that would take too long.
pub(crate) async fn of_spots(
    shared: &Shared,
    spec: &v1::RunSpec,
    input: &RunInput,
    spots: &[usize],
    caller: Option<&Caller>,
) -> Result<Option<(Choice, Recommendation)>, Error> {
    let mut choice = checked_choice(spec, input)?;
    choice.weights = spots.iter().filter_map(|spot| choice.weights.get(*spot).copied()).collect();
    if choice.weights.iter().all(|weight| *weight == 0.0) {
        choice.weights.clear();
    }
    let chosen = || spots.iter().filter_map(|spot| input.spots.get(*spot).cloned());
    // One spot's sheet after the other comes from the tables of the whole run, if these are not too large.
    let (input, spots) = if Tables::keeps(input) {
        (input.clone(), spots.to_vec())
    } else {
        (RunInput { spots: chosen().collect(), ..input.clone() }, (0..spots.len()).collect())
    };
    if evaluations(spots.len(), input.options.len(), &choice) > MAX_EVALUATIONS {
        return Ok(None);
    }
    let (asked, tables) = (choice.clone(), Arc::clone(&shared.tables));
    let work = move |cancel: &Cancel| recommend_prepared(&*tables.of(&input, cancel)?, &spots, &asked, cancel, QUIET);
    let answer = shared.compute(caller, work).await?.map_err(Error::from)?;
    Ok(Some((choice, answer)))
}

/// The recommendation of a whole run as a message.
pub(super) async fn summarized(
    shared: &Shared,
    spec: &v1::RunSpec,
    input: &RunInput,
    caller: Option<&Caller>,
) -> Result<Option<v1::Recommendation>, Error> {
    let all: Vec<usize> = (0..input.spots.len()).collect();
    let found = of_spots(shared, spec, input, &all, caller).await?;
    found.map(|(choice, answer)| written(&answer, &choice, input)).transpose()
}
