//! What the benches share: generators of questions, and a run of the search under a clock.
#![allow(dead_code, reason = "no bench uses all of it")]

pub mod cut;
pub mod kitchens;
pub mod make;
pub mod run;
