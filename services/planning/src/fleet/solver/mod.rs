//! The program behind a plan, free of everything acoustic.

mod local;
mod problem;
mod program;
mod stages;
mod state;

pub(crate) use problem::{Choice, Job, Problem, Solution, Stock};
pub(crate) use stages::solve;
#[cfg(test)]
mod tests;
