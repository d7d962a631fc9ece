//! `scantling new`.

use clap::Args;

use super::Exit;
use super::args::Showing;
use crate::diag::Remarks;

/// `scantling new`.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

pub(super) fn run(_args: &NewArgs) -> Result<Exit, Remarks> {
    Ok(Exit::Unusable)
}
