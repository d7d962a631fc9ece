//! `scantling` lays countertop pieces, with their sink and cooktop openings, onto stone slabs.
//!
//! The library reads a [`model::Question`] (jobs, rack, shop), [`search`]es for a [`model::Plan`],
//! lets an independent judge ([`check`]) examine it, and draws and tells it ([`report`]).
//! Lengths are millimetres in `f64`, angles are degrees counter-clockwise, money is the shop's currency.
//!
//! | module | holds | may import |
//! |---|---|---|
//! | [`units`] | lengths as people write and read them | nothing |
//! | [`geom`] | points, rings, regions, offsets, distances | nothing |
//! | [`model`] | jobs, slabs, flaws, limits, plans | `units`, `geom` |
//! | [`rules`] | what makes a placement legal, answered fast | `geom`, `model` |
//! | [`search`] | which slabs, and where each piece lies | `geom`, `model`, `rules` |
//! | [`craft`] | how an opening is cut, held and carried | `geom`, `model` |
//! | [`cad`] | drawings as CAD programs exchange them | `units`, `geom`, `model` |
//! | [`quote`] | what a job costs, line by line | `units`, `geom`, `model` |
//! | [`photo`] | photographs of slabs, straightened by their marks | `geom`, `model` |
//! | [`check`] | the judge, which shares nothing with `rules` and `search` | `geom`, `model` |
//! | [`report`] | drawings and text | `units`, `geom`, `model`, `stock` |
//! | [`stock`] | what becomes of the rack when a plan is cut | `geom`, `model` |
//! | [`diag`] | what is wrong with an input, and where | nothing |
//! | [`io`] | files to model, plan to file | `units`, `geom`, `model`, `diag`, `craft`, `cad`, `photo` |
//! | [`cli`] | arguments, settings, exit codes | everything |

pub mod cad;
pub mod check;
pub mod cli;
pub mod craft;
pub mod diag;
pub mod geom;
pub mod io;
pub mod model;
pub mod photo;
pub mod quote;
pub mod report;
pub mod rules;
pub mod search;
pub mod stock;
pub mod units;
