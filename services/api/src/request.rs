//! What every handler does first: take a request apart and name the required fields that it leaves out.

use domain::Fault;
use prost::{Message, Name};
use tokio::runtime::{Handle, RuntimeFlavor};
use tonic::Request;

use crate::context::{Caller, LARGE};
use crate::error::Error;
use crate::reflect::{Depth, missing};

/// A request without its wrapping.
pub(crate) struct Incoming<M> {
    pub(crate) message: M,
    pub(crate) caller: Option<Caller>,
}

/// A request all of whose required fields are there.
pub(crate) fn whole<M: Message + Name>(request: Request<M>) -> Result<Incoming<M>, Error> {
    let (incoming, faults) = parts(request, Depth::Whole)?;
    if faults.is_empty() { Ok(incoming) } else { Err(Error::BadFields(faults)) }
}

/// A request and the required fields that it leaves out, for handlers that find further faults.
pub(crate) fn parts<M: Message + Name>(request: Request<M>, depth: Depth) -> Result<(Incoming<M>, Vec<Fault>), Error> {
    let caller = request.extensions().get::<Caller>().cloned();
    let message = request.into_inner();
    let faults = aside(message.encoded_len(), || missing(&message, depth))?;
    Ok((Incoming { message, caller }, faults))
}

/// Looks through a message of so many bytes; while that is a large one, another thread takes over the calls that wait for this one.
fn aside<T>(bytes: usize, look: impl FnOnce() -> T) -> T {
    let several = || Handle::try_current().is_ok_and(|now| now.runtime_flavor() == RuntimeFlavor::MultiThread);
    if bytes >= LARGE && several() { tokio::task::block_in_place(look) } else { look() }
}
