//! `scantling quote`.

use clap::Args;

use super::Exit;
use super::args::{Inputs, Showing};
use crate::diag::Remarks;

/// `scantling quote`.
#[derive(Debug, Args)]
pub struct QuoteArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

pub(super) fn run(_args: &QuoteArgs) -> Result<Exit, Remarks> {
    Ok(Exit::Unusable)
}
