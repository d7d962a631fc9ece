//! Reads `[slab.photo]` of `rack.toml`: a photograph with marks.
//!
//! In: the table of a slab. Out: a [`Photo`] whose marks straighten it, and remarks. Does not open the picture.

use super::reader::{Keys, Table, Value};
use super::shape::{count, points};
use crate::diag::Kind;
use crate::geom::{Point, Ring, pt};
use crate::model::Photo;
use crate::photo::{Fault, Fit, LEAST_THICKNESS, MOST_OFF};
use crate::units::{Decimal, Unit};

/// The keys of the table.
pub(super) const PHOTO: &[&str] = &["file", "marks", "at"];

/// More marks than anybody sets by hand.
const MOST_MARKS: usize = 500;

/// Larger than any picture that is read, pixels.
const FARTHEST: f64 = 1e6;

/// A mark that is this far off (mm) is no slip of the tape: two are swapped, or a number is misread.
const WRONG_OFF: f64 = 100.0;

const ADD: &str = "set marks that can be found again on the stone, near the corners of the slab";

/// Reads the table `photo` of a slab: outside `None` after an error, inside `None` if there is none.
#[expect(clippy::option_option, reason = "\"wrong\" and \"not given\" are two things")]
pub(super) fn read(
    slab: &Table<'_>,
    unit: Unit,
    outline: Option<&Ring>,
    all: &'static Keys,
) -> Option<Option<Box<Photo>>> {
    let Some(value) = slab.get("photo") else { return Some(None) };
    let before = slab.desk.errors();
    let table = value.table(PHOTO, all)?;
    let file = table.need("file", "the picture's file", "add for example file = \"slab.jpg\", beside the rack file");
    let marks_value = table.need("marks", "marks in the picture, pixels", "add marks = [[x, y], ...], 4 or more");
    let at_value = table.need("at", "where the marks are on the slab", "add at = [[x, y], ...], one for each mark");
    let file = file.and_then(|v| v.name());
    let marks = marks_value.as_ref().and_then(read_marks);
    let at = at_value.as_ref().and_then(|v| points(v, unit));
    let at: Option<Vec<Point>> = at.map(|list| list.into_iter().map(|(p, _)| p).collect());
    if slab.desk.errors() > before {
        return None;
    }
    let photo = Photo { file: file?, marks: marks?, at: at? };
    match Fit::of(&photo) {
        Ok(fit) => {
            if outline.is_some_and(|o| !fit.sees(o)) {
                let given = "marks by which a part of the slab lies behind the camera";
                let expected = "marks by which the whole slab can be seen";
                marks_value?.error(Kind::MarksDisordered, given, expected, "check each mark and its place in \"at\"");
                return None;
            }
            let fine = tell_off(&fit, &photo, &at_value?);
            fine.then(|| Some(Box::new(photo)))
        }
        Err(fault) => {
            tell(fault, &photo, &marks_value?, &at_value?);
            None
        }
    }
}

fn read_marks(value: &Value<'_>) -> Option<Vec<Point>> {
    let entries = value.list("a list of marks [[x, y], ...] in pixels")?;
    if entries.len() > MOST_MARKS {
        let given = count(entries.len(), "mark");
        value.error(Kind::WrongCount, given, format!("at most {MOST_MARKS}"), "leave out marks");
        return None;
    }
    let read: Vec<Option<Point>> = entries.iter().map(read_mark).collect();
    read.into_iter().collect()
}

/// A mark `[x, y]` in pixels.
fn read_mark(value: &Value<'_>) -> Option<Point> {
    let parts = value.list("a mark [x, y] in pixels")?;
    if parts.len() != 2 {
        let fix = "write a mark as [x, y]: pixels from the left and from the top of the picture";
        value.error(Kind::WrongCount, count(parts.len(), "number"), "2 numbers", fix);
        return None;
    }
    let (x, y) = (parts[0].number_within(0.0, FARTHEST), parts[1].number_within(0.0, FARTHEST));
    Some(pt(x?, y?))
}

/// Warns about marks that do not agree. False if they do so little that one of them must be wrong.
fn tell_off(fit: &Fit, photo: &Photo, at: &Value<'_>) -> bool {
    let (worst, off) = fit.worst();
    if off <= MOST_OFF {
        return true;
    }
    let mark = photo.marks.get(worst).copied().unwrap_or_default();
    let given = format!(
        "mark {} at [{}, {}] is {} mm off its place; all marks together {} mm (root of the mean square)",
        worst + 1,
        Decimal(mark.x, 1),
        Decimal(mark.y, 1),
        Decimal(off, 1),
        Decimal(fit.rms(), 1)
    );
    let expected = format!("marks that agree within {} mm", Decimal(MOST_OFF, 1));
    let fix = "check this mark and its place first, then those near it";
    if off <= WRONG_OFF {
        at.warning(Kind::MarksOff, given, expected, fix);
    } else {
        at.error(Kind::MarksOff, given, expected, fix);
    }
    off <= WRONG_OFF
}

fn tell(fault: Fault, photo: &Photo, marks: &Value<'_>, at: &Value<'_>) {
    let line = "marks of which no three of four, or not all but one, are nearly in a line";
    let thin = |t: f64| {
        let limit = Decimal(LEAST_THICKNESS, 2);
        format!(
            "without one of them the rest are {} as thick as all are long; at least {limit} is wanted",
            Decimal(t, 3)
        )
    };
    match fault {
        Fault::TooFew => {
            marks.error(Kind::WrongCount, count(photo.marks.len(), "mark"), "4 marks or more", ADD);
        }
        Fault::Unequal => {
            let given = format!("{} for {}", count(photo.at.len(), "place"), count(photo.marks.len(), "mark"));
            at.error(Kind::WrongCount, given, "one place for each mark, in the same order", "add or take out some");
        }
        Fault::MarksInLine(t) => {
            marks.error(Kind::MarksInLine, format!("marks nearly in a line: {}", thin(t)), line, ADD);
        }
        Fault::PlacesInLine(t) => {
            at.error(Kind::MarksInLine, format!("places nearly in a line: {}", thin(t)), line, ADD);
        }
        Fault::Disordered(which) => {
            let given = which.map_or_else(
                || "marks that no camera sees so".to_owned(),
                |i| format!("marks that no camera sees so: mark {} would lie behind it", i + 1),
            );
            let fix = "give marks and places in the same order, and check each";
            marks.error(Kind::MarksDisordered, given, "marks in the order of their places", fix);
        }
        Fault::Mirrored => {
            let given = "marks that run round the other way than their places";
            let expected = "a picture of the face, not mirrored: y of pixels runs down, y of the slab up";
            marks.error(Kind::MarksDisordered, given, expected, "check the order of the marks, and y of each");
        }
    }
}
