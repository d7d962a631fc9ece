//! Slabs that a taking has put off the rack, read as they were, for a plan that cuts them.
//!
//! In: the rack's path and text, names of slabs. Out: the text with these slabs on it again, and notes. Writes nothing.

use std::path::Path;

use super::rack_text::{Put, RackText};
use super::takings::taking_of;
use crate::diag::{Kind, Remark, Severity};

/// Puts the slabs that are not on the rack and that a taking has put off it at the end of the rack's text. What cannot be read, or was
/// written in other units, is passed over: then the slab is missing, as the reader of the plan will say.
pub(super) fn put_back(rack: &Path, name: &str, text: &mut String, cut: &[String]) -> Vec<Remark> {
    let Ok(now) = RackText::read(name, text) else { return Vec::new() };
    let mut with: Vec<(Put, String)> = Vec::new();
    let mut notes = Vec::new();
    let mut done: Vec<&String> = Vec::new();
    for slab in cut.iter().filter(|s| !now.has(s)) {
        if done.contains(&slab) {
            continue;
        }
        done.push(slab);
        let Some(record) = taking_of(rack, slab) else { continue };
        let Ok(before) = RackText::read(name, &record.before) else { continue };
        let Some(old) = before.slab(slab).filter(|_| before.unit() == now.unit()) else { continue };
        with.push((Put::Last, old.to_owned()));
        let jobs: Vec<String> = record.jobs.iter().map(|j| format!("\"{j}\"")).collect();
        let given = format!("\"{slab}\", taken on {} for {}", record.date, jobs.join(", "));
        let (expected, fix) = ("a slab on the rack", "none needed: it is read as it was before it was taken");
        notes.push(Remark::about_file(Severity::Note, Kind::SlabTaken, name, given, expected, fix));
    }
    if !with.is_empty() {
        *text = now.edited(&[], &with);
    }
    notes
}
