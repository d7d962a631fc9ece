//! How an opening is made and whether its piece survives: the hole from the fixture, cores and saw passes, rails, rods, carrying.
//!
//! In: pieces, openings, slabs, shop. Out: the sheets of [`crate::model::openings`]. Pure; knows no search, drawing or file.

pub mod carry;
pub mod cutout;
pub mod cutting;
pub mod fit;
mod groove;
mod line;
pub mod near;
mod order;
pub mod rails;
pub mod rods;
mod ruling;
mod sheet;
mod solve;

pub use sheet::{mark_drops_that_stay, sheets};
