//! `scantling new`: a job, a rack and a shop to start from.

use std::path::PathBuf;

use clap::Args;

use super::args::Units;
use super::{Exit, answer};
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::io;

/// `scantling new`.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// The folder; it may be there already, but none of the three files
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Units in which the files are written
    #[arg(long, value_enum, default_value = "mm")]
    pub units: Units,
}

/// Names and texts of the files. They are files of their own in the source, so that tests can read them as users do.
const MM: [(&str, &str); 3] = [
    ("job.toml", include_str!("start/job-mm.toml")),
    ("rack.toml", include_str!("start/rack-mm.toml")),
    ("shop.toml", include_str!("start/shop-mm.toml")),
];
const IN: [(&str, &str); 3] = [
    ("job.toml", include_str!("start/job-in.toml")),
    ("rack.toml", include_str!("start/rack-in.toml")),
    ("shop.toml", include_str!("start/shop-in.toml")),
];

/// Writes the files, if none of them is there.
pub(super) fn run(args: &NewArgs) -> Result<Exit, Remarks> {
    let files = match args.units {
        Units::Mm => MM,
        Units::In => IN,
    };
    let paths = files.map(|(name, text)| (args.folder.join(name), text));
    // A link that leads nowhere is there too.
    let there: Vec<Remark> = paths
        .iter()
        .filter(|(path, _)| path.symlink_metadata().is_ok())
        .map(|(path, _)| {
            let (given, expected) = ("a file that is there already", "a folder without it; nothing was written");
            let fix = "name another folder, or move the file away";
            let file = path.display().to_string();
            Remark::about_file(Severity::Error, Kind::FileThere, file, given, expected, fix)
        })
        .collect();
    if !there.is_empty() {
        return Err(Remarks(there));
    }
    for (path, text) in &paths {
        io::write_atomically(path, text.as_bytes())?;
    }
    let [(job, _), (rack, _), (shop, _)] = paths.each_ref();
    answer(&format!(
        "Written: {}, {}, {}\nNext: scantling plan {}\n",
        job.display(),
        rack.display(),
        shop.display(),
        shell_word(&job.display().to_string())
    ));
    Ok(Exit::Good)
}

/// A word as it is typed in a shell: in quotes, if there is anything in it that a shell may read otherwise.
fn shell_word(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "/\\._-+:@%,".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else if cfg!(windows) {
        format!("\"{word}\"")
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::shell_word;

    #[test]
    fn words_for_the_shell_keep_their_spaces() {
        assert_eq!(shell_word("jobs/küche-1/job.toml"), "jobs/küche-1/job.toml");
        if !cfg!(windows) {
            assert_eq!(shell_word("Maple kitchen/job.toml"), "'Maple kitchen/job.toml'");
            assert_eq!(shell_word("O'Hara/$x"), "'O'\\''Hara/$x'");
        }
    }
}
