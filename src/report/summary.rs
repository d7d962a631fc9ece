//! placeholder
use crate::model::{Plan, Question};
use crate::units::Shown;
/// x
pub fn summary(_q: &Question, _p: &Plan, _s: Shown) -> String { String::new() }
