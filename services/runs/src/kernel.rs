//! What a run computes with. The kernel is handed in, because a real one is heavy and its faults cannot be had on demand.

use std::sync::Arc;

use domain::Cancel;
use domain::selection::{Finding, RunInput};

/// Prepares a run's tables once; the evaluator is then asked for one spot after another, by many threads. Either gives up, with any error,
/// once it is cancelled.
pub type Kernel = Arc<dyn Fn(&Arc<RunInput>, &Cancel) -> Result<Evaluator, String> + Send + Sync>;

/// Gives the findings of every option at the spot of that index, or says what is wrong with it. It must not depend on what
/// it was asked before.
pub type Evaluator = Box<dyn Fn(usize, &Cancel) -> Result<Vec<Finding>, String> + Send + Sync>;
