//! One test binary: a module per subject.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::disallowed_methods,
    missing_docs,
    reason = "tests may"
)]

mod bounds;
mod carry;
mod cell;
mod cli;
mod cutout;
mod cutting;
mod drawing;
mod drops;
mod dxf_in;
mod dxf_out;
mod fuzz;
mod goals;
mod held;
mod input;
mod judge;
mod kernel;
mod lengths;
mod make;
mod mutation;
mod near;
mod openings;
mod page;
mod papers;
mod photo;
mod plate;
mod properties;
mod quote;
mod rails;
mod said;
mod searching;
mod sides;
mod stock;
mod strips;
mod tidy;
mod turning;
mod whole;
