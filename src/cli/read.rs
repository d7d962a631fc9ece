//! `scantling read`.

use clap::Args;

use super::Exit;
use super::args::Showing;
use crate::diag::Remarks;

/// `scantling read`.
#[derive(Debug, Args)]
pub struct ReadArgs {
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

pub(super) fn run(_args: &ReadArgs) -> Result<Exit, Remarks> {
    Ok(Exit::Unusable)
}
