//! Why the making of tables stopped.

use acoustics::ModelError;
use domain::Cancelled;

/// Why tables are not built.
#[derive(Debug)]
pub(crate) enum Stopped {
    /// Their caller has left.
    Cancelled(Cancelled),
    /// A model does not cover what is asked.
    Model(ModelError),
}

impl From<Cancelled> for Stopped {
    fn from(cancelled: Cancelled) -> Self {
        Self::Cancelled(cancelled)
    }
}

impl From<ModelError> for Stopped {
    fn from(error: ModelError) -> Self {
        Self::Model(error)
    }
}

impl Stopped {
    /// Tells the end of the work from what is wrong with one option.
    pub(super) fn aside<T>(built: Result<T, Self>) -> Result<Result<T, ModelError>, Cancelled> {
        match built {
            Ok(built) => Ok(Ok(built)),
            Err(Self::Model(error)) => Ok(Err(error)),
            Err(Self::Cancelled(cancelled)) => Err(cancelled),
        }
    }
}
