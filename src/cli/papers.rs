//! `scantling papers`, and the papers that `plan --papers` writes.

use clap::Args;

use super::Exit;
use super::args::{Inputs, Showing};
use crate::diag::Remarks;

/// `scantling papers`.
#[derive(Debug, Args)]
pub struct PapersArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

pub(super) fn run(_args: &PapersArgs) -> Result<Exit, Remarks> {
    Ok(Exit::Unusable)
}
