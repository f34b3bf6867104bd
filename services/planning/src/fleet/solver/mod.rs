//! The program behind a plan, free of everything acoustic.
//!
//! Binary x\[j, s\] gives job j sensor s, whole b\[s\] ≥ 0 buys units:
//!
//! - Σ_s x\[j, s\] ≤ 1 for each job;
//! - Σ_j a\[j\] x\[j, s\] ≤ r\[s\] − away\[s, d\] + b\[s\] for each sensor and each day d, over the jobs that run on it;
//! - Σ_s p\[s\] b\[s\] within the budget;
//! - jobs of one party, which fish under one roof, have one sensor.
//!
//! Aims, one after the other: what is out stays, what was promised is kept, most anglers met, fewest changes, least cost,
//! best score. Each is a program of its own, with what was reached before as a constraint. Where a change is worth some
//! money, changes and cost are one aim. Before that the program is made small: only days on which capacity can run out count
//! (the maximal cliques of an interval graph: Fulkerson and Gross 1965, Pacific Journal of Mathematics 15, 835–855,
//! doi:10.2140/pjm.1965.15.835), jobs that differ in nothing become one, and purchases that a cheaper one replaces in every
//! job fall out. Answers come from a local search and from branch and bound; every answer is recounted in whole numbers.

mod local;
mod model;
mod number;
mod problem;
mod program;
mod stages;
mod state;

pub(super) use number::share;
pub(super) use problem::{Away, Choice, Job, Kept, Problem, Solution, Stock, Tie};
pub(super) use stages::solve;

#[cfg(test)]
mod tests;
