//! `scantling rack`, `take` and `undo`.

use clap::Args;

use super::Exit;
use super::args::{Inputs, Showing};
use crate::diag::Remarks;

/// `scantling rack`.
#[derive(Debug, Args)]
pub struct RackArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

pub(super) fn list(_args: &RackArgs) -> Result<Exit, Remarks> {
    Ok(Exit::Unusable)
}

/// `scantling take`.
#[derive(Debug, Args)]
pub struct TakeArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

pub(super) fn take(_args: &TakeArgs) -> Result<Exit, Remarks> {
    Ok(Exit::Unusable)
}

/// `scantling undo`.
#[derive(Debug, Args)]
pub struct UndoArgs {
    /// Files to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

pub(super) fn undo(_args: &UndoArgs) -> Result<Exit, Remarks> {
    Ok(Exit::Unusable)
}
