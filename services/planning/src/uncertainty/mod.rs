//! What a recommendation is worth when inputs and weights are uncertain.

pub mod smaa;
