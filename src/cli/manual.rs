//! `scantling completions` and `scantling manual`: both from the definitions of the commands. The only file that knows
//! `clap_complete` and `clap_mangen`.

use std::path::PathBuf;

use clap::{Args, Command};

use super::{Exit, answer};
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::io;

/// `scantling completions`.
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell; its manual says where such a script belongs
    pub shell: clap_complete::Shell,
}

/// Prints the script for a program.
pub(super) fn completions(args: &CompletionsArgs, mut program: Command) -> Result<Exit, Remarks> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut program, "scantling", &mut script);
    answer(&String::from_utf8_lossy(&script));
    Ok(Exit::Good)
}

/// `scantling manual`.
#[derive(Debug, Args)]
pub struct ManualArgs {
    /// The command that it is about [default: the page that lists them all]
    #[arg(value_name = "COMMAND")]
    pub command: Option<String>,
    /// Write all pages into this folder: scantling.1, scantling-plan.1 and so on
    #[arg(long, value_name = "DIR", conflicts_with = "command")]
    pub out: Option<PathBuf>,
}

/// Prints a manual page of a program, or writes all of them.
pub(super) fn run(args: &ManualArgs, program: Command) -> Result<Exit, Remarks> {
    // Built, so that every command knows that it is one of scantling.
    let mut whole = program.disable_help_subcommand(true);
    whole.build();
    if let Some(folder) = &args.out {
        let mut pages = vec![("scantling.1".to_owned(), page(&whole))];
        pages.extend(whole.get_subcommands().map(|c| (format!("scantling-{}.1", c.get_name()), page(c))));
        for (name, text) in &pages {
            io::write_atomically(&folder.join(name), text.as_bytes())?;
        }
        answer(&format!("{} pages written to {}\n", pages.len(), folder.display()));
        return Ok(Exit::Good);
    }
    let Some(name) = &args.command else {
        answer(&page(&whole));
        return Ok(Exit::Good);
    };
    let Some(command) = whole.get_subcommands().find(|c| c.get_name() == name) else {
        let names: Vec<String> = whole.get_subcommands().map(|c| format!("\"{}\"", c.get_name())).collect();
        let given: String = name.chars().map(|c| if c.is_control() { ' ' } else { c }).take(60).collect();
        let expected = format!("one of {}", names.join(", "));
        let given = format!("\"{given}\"");
        let fix = "name a command, or none";
        return Err(Remark::about_file(Severity::Error, Kind::UnknownWord, "COMMAND", given, expected, fix).into());
    };
    answer(&page(command));
    Ok(Exit::Good)
}

fn page(command: &clap::Command) -> String {
    let page = clap_mangen::Man::new(command.clone()).manual("scantling");
    let mut text = Vec::new();
    // Writing to memory does not fail.
    let _ = page.render(&mut text);
    String::from_utf8_lossy(&text).into_owned()
}
