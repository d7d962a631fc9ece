//! The journal of takings beside a rack file, and the lock on it.
//!
//! In: the rack's path, and texts before and after. Out: a rack file that is always either one or the other, whatever happens and
//! whenever. The only file that knows `fs4`. Must not know: what is in a rack.
//!
//! Beside `rack.toml` stands the folder `rack.toml.takings`. It holds `lock`; a file `0001.json` and so on for every taking that
//! can be taken back; and, while the rack is being written, `taking.json` or `undoing.json`. The order of writing is the whole
//! secret. Each step is one rename or one removal, which the disk does wholly or not at all:
//!
//! | taking | undoing |
//! | --- | --- |
//! | 1. `taking.json`: the rack before and after | 1. `undoing.json`: the rack before and after |
//! | 2. `rack.toml` | 2. `rack.toml` |
//! | 3. `taking.json` becomes `0007.json` | 3. `0007.json` goes, then `undoing.json` |
//!
//! Whoever locks the folder next and finds such a file sees by the rack how far the other came: as before, and nothing
//! happened; as after, and step 3 is made up for.

use std::fs::{self, File, OpenOptions};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use fs4::{FileExt, TryLockError};
use serde::{Deserialize, Serialize};

use super::disk::{LARGEST_FILE, explain, read_text, remove_files, sync_folder, write_atomically};
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::model::fnv1a;

/// Takings that can be taken back; older ones are forgotten.
pub const KEPT: u64 = 200;

const LOCK: &str = "lock";
const TAKING: &str = "taking.json";
const UNDOING: &str = "undoing.json";

/// One change of a rack file, as it stands in the journal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// `scantling-taking/1`.
    pub format: String,
    /// Its number, from 1.
    pub number: u64,
    /// The day.
    pub date: String,
    /// The jobs that the slabs were taken for.
    pub jobs: Vec<String>,
    /// The slabs that left the rack, in its order.
    pub slabs: Vec<String>,
    /// The offcuts that came on it.
    pub offcuts: Vec<String>,
    /// The whole rack file before.
    pub before: String,
    /// The whole rack file after.
    pub after: String,
    /// Hash of all else, so that damage to the file is noticed before it is written over a rack; set when the record is written.
    pub seal: String,
}

impl Record {
    /// The value of [`Record::format`].
    pub const FORMAT: &'static str = "scantling-taking/1";

    /// The record with the seal that belongs to it.
    #[must_use]
    pub fn sealed(self) -> Self {
        Self { seal: self.right_seal(), ..self }
    }

    fn right_seal(&self) -> String {
        let bare = Self { seal: String::new(), ..self.clone() };
        // Our own type serialises without fail.
        format!("{:016x}", fnv1a(serde_json::to_string(&bare).unwrap_or_default().as_bytes()))
    }
}

/// A rack file, locked: nobody else takes from it or undoes.
#[derive(Debug)]
pub struct Locked {
    rack: PathBuf,
    /// The rack as the user named it.
    shown: String,
    folder: PathBuf,
    /// What was left unfinished by one that was killed, and what became of it; in words.
    pub mended: Vec<String>,
    /// Held for the lock on it.
    _lock: File,
}

impl Locked {
    /// Waits for the lock, at most as long as given; then finishes or drops what another left unfinished. `names` lists the slabs of
    /// a rack's text; `None` if the text cannot be read.
    ///
    /// # Errors
    /// A rack that is not there, a lock that is not to be had, a journal that cannot be read, or an unfinished taking on a rack
    /// that fits neither its beginning nor its end.
    pub fn wait(rack: &Path, most: Duration, names: impl Fn(&str) -> Option<Vec<String>>) -> Result<Self, Remarks> {
        // A link stays a link: what it leads to is written, and that has one journal however it is reached.
        let shown = rack.display().to_string();
        let rack = rack.canonicalize().map_err(|e| explain(rack, &e))?;
        let folder = folder_of(&rack);
        if !folder.is_dir() {
            fs::create_dir_all(&folder).map_err(|e| not_written(&folder, &e))?;
            // Before anything in it is relied on.
            rack.parent().into_iter().for_each(sync_folder);
        }
        let lock = locked(&folder.join(LOCK), &shown, most)?;
        let mut locked = Self { rack, shown, folder, mended: Vec::new(), _lock: lock };
        locked.mend(names)?;
        Ok(locked)
    }

    /// The text of the rack file.
    ///
    /// # Errors
    /// As [`read_text`].
    pub fn text(&self) -> Result<String, Remarks> {
        read_text(&self.rack)
    }

    /// The last taking, if there is one.
    ///
    /// # Errors
    /// A record that cannot be read.
    pub fn last(&self) -> Result<Option<Record>, Remarks> {
        self.numbers().last().map(|&n| read_record(&self.numbered(n))).transpose()
    }

    /// The taking by which a slab left the rack, the latest first; see [`taking_of`].
    #[must_use]
    pub fn taking_of(&self, slab: &str) -> Option<Record> {
        taking_of(&self.rack, slab)
    }

    /// Writes a taking: its number is set here.
    ///
    /// # Errors
    /// What the disk says; the rack is then as it was before. Or a rack that somebody has edited since it was read.
    pub fn take(&self, mut record: Record) -> Result<(), Remarks> {
        record.number = self.numbers().last().map_or(1, |n| n + 1);
        self.is_still(&record.before)?;
        self.begin(TAKING, &record)?;
        write_atomically(&self.rack, record.after.as_bytes())?;
        self.finish_taking(record.number)?;
        self.forget_old(record.number);
        Ok(())
    }

    /// Takes the last taking back: writes `text` in place of `now`.
    ///
    /// # Errors
    /// As for [`Locked::take`].
    pub fn undo(&self, last: &Record, now: &str, text: &str) -> Result<(), Remarks> {
        self.is_still(now)?;
        // The same record, seen from the other end.
        let undoing = Record { before: now.to_owned(), after: text.to_owned(), ..last.clone() };
        self.begin(UNDOING, &undoing)?;
        write_atomically(&self.rack, text.as_bytes())?;
        self.finish_undoing(last.number)
    }

    /// An error if the rack is not what was read. Only an editor writes it while it is locked.
    fn is_still(&self, text: &str) -> Result<(), Remarks> {
        if self.text()? == text {
            return Ok(());
        }
        Err(self.about(
            Kind::RackChanged,
            "a rack that was edited just now",
            "a rack that nobody edits",
            "run it again",
        ))
    }

    fn about(&self, what: Kind, given: impl Into<String>, expected: &str, fix: &str) -> Remarks {
        Remark::about_file(Severity::Error, what, self.shown.as_str(), given, expected, fix).into()
    }

    fn begin(&self, name: &str, record: &Record) -> Result<(), Remarks> {
        // Our own type serialises without fail.
        let mut text = serde_json::to_string_pretty(&record.clone().sealed()).unwrap_or_default();
        text.push('\n');
        if text.len() as u64 > LARGEST_FILE {
            let expected = "a rack that fits into a journal that can be read back";
            return Err(self.about(Kind::FileTooLarge, "a rack that is too large", expected, "divide it"));
        }
        write_atomically(&self.folder.join(name), text.as_bytes())
    }

    fn finish_taking(&self, number: u64) -> Result<(), Remarks> {
        let (from, to) = (self.folder.join(TAKING), self.numbered(number));
        fs::rename(&from, &to).map_err(|e| not_written(&to, &e))?;
        sync_folder(&self.folder);
        Ok(())
    }

    fn finish_undoing(&self, number: u64) -> Result<(), Remarks> {
        remove(&self.numbered(number))?;
        // Were this removal to survive a power cut and the other not, the taking would seem to stand.
        sync_folder(&self.folder);
        remove(&self.folder.join(UNDOING))?;
        sync_folder(&self.folder);
        Ok(())
    }

    /// Old records that cannot be removed are no reason to fail a taking that is done.
    fn forget_old(&self, number: u64) {
        for old in self.numbers().into_iter().filter(|n| n + KEPT <= number) {
            let _ = fs::remove_file(self.numbered(old));
        }
    }

    fn numbered(&self, number: u64) -> PathBuf {
        numbered(&self.folder, number)
    }

    fn numbers(&self) -> Vec<u64> {
        numbers(&self.folder)
    }

    /// Finishes or drops what another left unfinished, and removes its half-written files.
    fn mend(&mut self, names: impl Fn(&str) -> Option<Vec<String>>) -> Result<(), Remarks> {
        let own = self.rack.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let (head, tail) = (format!(".{own}."), ".tmp");
        if let Some(beside) = self.rack.parent() {
            remove_files(beside, |name| name.starts_with(&head) && name.ends_with(tail))?;
        }
        remove_files(&self.folder, |name| name.starts_with('.') && name.ends_with(tail))?;
        for (name, undoing) in [(TAKING, false), (UNDOING, true)] {
            let path = self.folder.join(name);
            if !path.exists() {
                continue;
            }
            let record = read_record(&path)?;
            let text = self.text()?;
            let Some(done) = is_done(&record, &text, undoing, &names) else {
                let given = format!("a rack that was edited while {} was unfinished", what(&record, undoing));
                let expected = format!(
                    "the rack as it was before, or as it was to be after: see \"before\" and \"after\" in {}",
                    path.display()
                );
                let fix = "bring the rack to one of the two, then run it again";
                return Err(self.about(Kind::RackChanged, given, &expected, fix));
            };
            match (done, undoing) {
                (true, false) => self.finish_taking(record.number)?,
                (true, true) => self.finish_undoing(record.number)?,
                (false, _) => {
                    remove(&path)?;
                    sync_folder(&self.folder);
                }
            }
            let end =
                if done { "was cut short; it is complete now" } else { "was cut short; the rack is as before it" };
            self.mended.push(format!("note: {} {end}", what(&record, undoing)));
        }
        Ok(())
    }
}

/// The taking by which a slab left a rack, the latest first. Records that cannot be read are passed over. Needs no lock: records are
/// written and removed as wholes.
#[must_use]
pub(super) fn taking_of(rack: &Path, slab: &str) -> Option<Record> {
    let folder = folder_of(&rack.canonicalize().ok()?);
    let read = |&n: &u64| read_record(&numbered(&folder, n)).ok().filter(|r| r.slabs.iter().any(|s| s == slab));
    numbers(&folder).iter().rev().find_map(read)
}

/// The folder of the journal beside a rack, whose path leads through no link.
fn folder_of(rack: &Path) -> PathBuf {
    let mut folder = rack.to_path_buf().into_os_string();
    folder.push(".takings");
    PathBuf::from(folder)
}

fn numbered(folder: &Path, number: u64) -> PathBuf {
    folder.join(format!("{number:04}.json"))
}

/// Numbers of the records, in order.
fn numbers(folder: &Path) -> Vec<u64> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let number = |name: &str| name.strip_suffix(".json")?.parse::<u64>().ok();
    let mut numbers: Vec<u64> = entries
        .flatten()
        .filter_map(|e| e.file_name().to_str().and_then(number))
        .filter(|&n| numbered(folder, n).is_file())
        .collect();
    numbers.sort_unstable();
    numbers
}

fn what(record: &Record, undoing: bool) -> String {
    let jobs: Vec<String> = record.jobs.iter().map(|j| format!("\"{j}\"")).collect();
    format!("{} for {}", if undoing { "an undoing of the taking" } else { "a taking" }, jobs.join(", "))
}

/// Whether the rack has been written: by its bytes, or, if it was edited since, by the names on it. `None` if they tell neither.
fn is_done(record: &Record, text: &str, undoing: bool, names: impl Fn(&str) -> Option<Vec<String>>) -> Option<bool> {
    if text == record.after {
        return Some(true);
    }
    if text == record.before {
        return Some(false);
    }
    let on_rack = names(text)?;
    let all = |wanted: &[String]| wanted.iter().all(|n| on_rack.contains(n));
    let none = |wanted: &[String]| !wanted.iter().any(|n| on_rack.contains(n));
    if all(&record.offcuts) && none(&record.slabs) {
        Some(!undoing)
    } else if all(&record.slabs) && none(&record.offcuts) {
        Some(undoing)
    } else {
        None
    }
}

fn read_record(path: &Path) -> Result<Record, Remarks> {
    let text = read_text(path)?;
    let fail = |given: String| {
        let expected = "a record of a taking, as it was written";
        let fix = "restore it from a copy, or remove it: then this taking can no longer be taken back";
        Remark::about_file(Severity::Error, Kind::JournalBroken, path.display().to_string(), given, expected, fix)
    };
    let record: Record = serde_json::from_str(&text).map_err(|e| fail(e.to_string()))?;
    if record.format != Record::FORMAT {
        let given: String = record.format.chars().take(60).collect();
        return Err(fail(format!("the format \"{given}\"")).into());
    }
    if record.seal != record.right_seal() {
        return Err(fail("a record that was damaged or changed since it was written".to_owned()).into());
    }
    Ok(record)
}

/// Opens the lock's file and locks it. The lock goes when the file is closed, also by a kill.
fn locked(path: &Path, rack: &str, most: Duration) -> Result<File, Remarks> {
    /// Between two tries.
    const PAUSE: Duration = Duration::from_millis(20);
    let open = || OpenOptions::new().create(true).truncate(false).write(true).open(path);
    let file = open().map_err(|e| not_written(path, &e))?;
    let mut waited = Duration::ZERO;
    loop {
        match FileExt::try_lock(&file) {
            Ok(()) => return Ok(file),
            Err(TryLockError::Error(e)) => return Err(not_written(path, &e).into()),
            Err(TryLockError::WouldBlock) if waited < most => {
                thread::sleep(PAUSE);
                waited += PAUSE;
            }
            Err(TryLockError::WouldBlock) => {
                let given = format!("a rack that another run of scantling has held for {} s", most.as_secs_f64());
                let fix = "wait until it is done, then run this again; --wait says for how long to wait";
                let expected = "a rack that nobody is changing";
                return Err(Remark::about_file(Severity::Error, Kind::RackBusy, rack, given, expected, fix).into());
            }
        }
    }
}

/// Removes a file; one that is not there is as good.
fn remove(path: &Path) -> Result<(), Remarks> {
    match fs::remove_file(path) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(not_written(path, &e).into()),
        _ => Ok(()),
    }
}

fn not_written(path: &Path, error: &std::io::Error) -> Remark {
    let fix = "check the path, the permissions and the space on the disk";
    let expected = "a folder that can be written";
    let name = path.display().to_string();
    Remark::about_file(Severity::Error, Kind::FileNotWritten, name, error.to_string(), expected, fix)
}
