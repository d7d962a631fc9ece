//! The rack as a living list: takings worked out, written, killed, taken back; the commands round it.

mod commands;
mod files;
mod killed;
mod taking;
mod text;

use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::LazyLock;

use tempfile::TempDir;

use super::cli::{Run, run};

/// Two windowsills, each of which goes on a slab of its own by its material.
const JOB: &str = r#"name = "Lock keeper's house"
rack = "rack.toml"
shop = "shop.toml"
material = "Fell slate"
thickness = 30

[[piece]]
name = "sill"
outline.rectangle = [1500, 300]
grain = "along"
"#;

const OTHER_JOB: &str = r#"name = "Pump house"
rack = "rack.toml"
shop = "shop.toml"
material = "Moss granite"
thickness = 30

[[piece]]
name = "shelf"
outline.rectangle = [1100, 400]
"#;

const SHOP: &str = "[limits]\nkeep_area = 0.2\nkeep_side = 200\n";

/// A rack as people keep it: notes of all sorts, numbers written in odd ways.
const RACK: &str = r#"# Yard behind the office.
# Ask Ines before taking the slates.

units = "mm"   # as on the labels

# This one has stood here since spring.
[[slab]]
name = "FS 1"
material = "Fell slate"
stone = "slate"
thickness = 30.0
lot = "FS"
number = 1
price = 400    # paid
outline.rectangle = [2000, 1000]
grain = 0

# A vein, hardly to be seen.
[[slab.flaw]]
kind = "fissure"
line = [[100, 900], [1900, 400]]
width = 2
allow = ["field", "hidden", "rail", "edge"]
# End of FS 1.

# --- granite ---

[[slab]]
name = "MG 7"
material = "Moss granite"
stone = "granite"
thickness = 30
price_per_m2 = 150
outline = { rectangle = [1800, 0.9e3] }
grain = "none"

[[slab]]   # the spare one
name = "FS 2"
material = "Fell slate"
stone = "slate"
thickness = 30
price = 900
outline.rectangle = [2000, 1000]
grain = 0
# End of the list.
"#;

const DAY: [&str; 2] = ["--date", "2026-11-26"];

/// A folder with both jobs, their rack and their plans. Planned once; copied for every test.
struct Yard(TempDir);

static PLANNED: LazyLock<TempDir> = LazyLock::new(|| {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in [("job.toml", JOB), ("other.toml", OTHER_JOB), ("shop.toml", SHOP), ("rack.toml", RACK)] {
        fs::write(dir.path().join(name), text).unwrap();
    }
    for (job, out) in [("job.toml", "plan"), ("other.toml", "plan-other")] {
        run(dir.path(), &["plan", job, "--effort", "1", "--quiet", "--out", out]).ends_with(0);
    }
    dir
});

impl Yard {
    fn new() -> Self {
        let yard = Self(tempfile::tempdir().unwrap());
        for name in ["job.toml", "other.toml", "shop.toml", "rack.toml", "plan/plan.json", "plan-other/plan.json"] {
            let to = yard.path().join(name);
            fs::create_dir_all(to.parent().unwrap()).unwrap();
            fs::copy(PLANNED.path().join(name), to).unwrap();
        }
        yard
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path().join(name)).unwrap()
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.path().join(name), text).unwrap();
    }

    fn rack(&self) -> String {
        self.read("rack.toml")
    }

    fn run(&self, args: &[&str]) -> Run {
        run(self.path(), args)
    }

    fn take_args() -> Vec<&'static str> {
        [&["take", "job.toml", "--plan", "plan/plan.json", "--quiet"][..], &DAY].concat()
    }

    fn other_args() -> Vec<&'static str> {
        [&["take", "other.toml", "--plan", "plan-other/plan.json", "--quiet"][..], &DAY].concat()
    }

    fn take(&self) -> Run {
        self.run(&Self::take_args())
    }

    fn take_other(&self) -> Run {
        self.run(&Self::other_args())
    }

    fn undo(&self) -> Run {
        self.run(&["undo", "job.toml", "--quiet"])
    }

    fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_scantling"));
        command.current_dir(self.path()).args(args);
        command
    }

    /// Files of the journal, in order; the lock is none.
    fn journal(&self) -> Vec<String> {
        let Ok(entries) = fs::read_dir(self.path().join("rack.toml.takings")) else { return Vec::new() };
        let mut names: Vec<String> =
            entries.map(|e| e.unwrap().file_name().to_str().unwrap().to_owned()).filter(|n| n != "lock").collect();
        names.sort();
        names
    }
}
