//! What a rack file is once a taking is taken back.
//!
//! In: the record of the taking and the rack's text now. Out: a text, or why it cannot be done by itself. Must not know: the disk.

use super::rack_text::RackText;
use super::read_rack_from_text;
use super::takings::Record;
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::model::Slab;

/// The rack's text with the taking taken back: byte for byte what it was, if nobody has edited it since. Else the slabs are put
/// back and the offcuts taken out, and all else stays as it is now. `file` names the rack in remarks.
///
/// # Errors
/// An offcut that is gone or edited, a name that is on the rack again, or a rack or a record that cannot be read.
pub fn taken_back(file: &str, record: &Record, now: &str) -> Result<String, Remarks> {
    if now == record.after {
        return Ok(record.before.clone());
    }
    let (before, after) = (RackText::read(file, &record.before)?, RackText::read(file, &record.after)?);
    let rack = RackText::read(file, now)?;
    let fail = |given: String| {
        let expected = "the offcuts of that taking as they were written, and none of its slabs";
        let fix = "bring the slab named to what it was, or edit the rack by hand";
        Remark::about_file(Severity::Error, Kind::RackChanged, file, given, expected, fix)
    };
    let mut faults = Vec::new();
    for name in &record.offcuts {
        match (rack.slab(name), after.slab(name)) {
            (None, _) => faults.push(fail(format!("a rack without the offcut \"{name}\", edited since the taking"))),
            (Some(found), Some(written)) if found.trim() == written.trim() => {}
            (Some(_), _) => faults.push(fail(format!("the offcut \"{name}\", edited since the taking"))),
        }
    }
    for name in record.slabs.iter().filter(|n| rack.has(n)) {
        faults.push(fail(format!("the slab \"{name}\", which is on the rack although it was taken")));
    }
    if !faults.is_empty() {
        return Err(Remarks(faults));
    }
    let mut with = Vec::new();
    for name in before.names().filter(|n| record.slabs.iter().any(|s| s == n)) {
        let Some(text) = before.slab(name) else { continue };
        let stays = |n: &&str| rack.has(n) && !record.offcuts.iter().any(|o| o == n);
        let earlier: Vec<&str> = before.names().take_while(|n| *n != name).filter(stays).collect();
        let neighbour = earlier.last().copied();
        let place = rack.place(neighbour, &before.free_lines(neighbour, name), &record.offcuts);
        with.push((place, text.to_owned()));
    }
    let text = rack.edited(&record.offcuts, &with);
    // What came out is read as every rack is. Most of all this notices other units, in which the old numbers are other sizes.
    let slabs = |text: &str| -> Result<Vec<Slab>, Remarks> { Ok(read_rack_from_text(file, text)?.0) };
    let (old, new) = (slabs(&record.before)?, slabs(&text)?);
    let same = |name: &String| {
        let find = |slabs: &[Slab]| slabs.iter().find(|s| s.name == *name).cloned();
        find(&old).is_some() && find(&old) == find(&new)
    };
    match record.slabs.iter().find(|n| !same(n)) {
        Some(name) => {
            Err(fail(format!("a rack on which \"{name}\" would not be what it was, edited since the taking")).into())
        }
        None => Ok(text),
    }
}
