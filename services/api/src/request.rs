//! What every handler does first: take a request apart and name the required fields that it leaves out.

use domain::Fault;
use prost::{Message, Name};
use tonic::Request;

use crate::context::Caller;
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
    let faults = missing(&message, depth)?;
    Ok((Incoming { message, caller }, faults))
}
