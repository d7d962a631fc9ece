//! The command line as it is typed: the commands, each with its arguments.

use clap::{Parser, Subcommand};

use super::args::{CheckArgs, OpeningsArgs, PlanArgs, SchemaFile};

/// Lay countertop pieces with their openings onto stone slabs, and judge such plans.
#[derive(Debug, Parser)]
#[command(
    name = "scantling",
    version,
    about,
    max_term_width = 100,
    after_help = "Exit codes: 0 all is well; 1 the command ran, and something is unplaced, broken or missing; 2 the input or the usage is \
                  wrong, or a file could not be read or written."
)]
pub struct Cli {
    /// What to do
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Find and check a plan; write plan.json, one drawing a slab and the report
    Plan(PlanArgs),
    /// Judge a plan, also one edited by hand or written by another program
    Check(CheckArgs),
    /// Work out every opening; write sheets, full-size templates and verdicts
    Openings(OpeningsArgs),
    /// Price a job: line items, tax and total
    Quote(super::quote::QuoteArgs),
    /// Write the papers of an existing plan: report page, sheets, labels, drawings for the saw
    Papers(super::papers::PapersArgs),
    /// List the rack
    Rack(super::rack::RackArgs),
    /// Take the slabs of a plan off the rack and put its offcuts on it
    Take(super::take::TakeArgs),
    /// Take back the last taking
    Undo(super::take::UndoArgs),
    /// Show what a DXF drawing holds, as text for a job
    Read(super::read::ReadArgs),
    /// Start a job: commented job, rack and shop files in a new folder
    New(super::new::NewArgs),
    /// Print what makes a shell complete these commands
    Completions(super::manual::CompletionsArgs),
    /// Print the manual page of scantling or of one of its commands
    Manual(super::manual::ManualArgs),
    /// Print the JSON Schema of a file
    Schema {
        /// Which file
        file: SchemaFile,
    },
}
