//! Outlines from drawings: finds the file that a table names, and says what is wrong with it in words.
//!
//! In: a table with `file` and its wishes. Out: the outlines of the drawing, and remarks about the drawing with line, handle, layer and place.
//! Must not know: what the outlines are of.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::rc::Rc;

use super::disk;
use super::dxf::{self, Dxf, Unread};
use super::reader::{Table, Value};
use super::shape::{at, count};
use super::source::{Desk, shortened};
use crate::cad::outlines::{self, Fault, Outline, Outlines, Wanted};
use crate::cad::{Body, is_same_layer};
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::geom::Point;
use crate::geom::curve::Side;
use crate::units::{Decimal, Unit};

/// Ends of lines within this of one another (mm) count as one, unless a job says otherwise: drawings that are exported with three decimals
/// of an inch are off by a fortieth of a millimetre, hand-drawn ones by less than a tenth.
pub const TOLERANCE: f64 = 0.1;

/// A gap that is wider than this (mm) is a missing line, not a slip.
pub const MOST_TOLERANCE: f64 = 10.0;

/// The units that a drawing may be in.
pub const UNITS: [(&str, Unit); 5] = Unit::NAMES;

/// What one wants of a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// The unit of its numbers, in place of what its header says.
    pub unit: Option<Unit>,
    /// Only lines on this layer.
    pub layer: Option<String>,
    /// Only texts on this layer.
    pub text_layer: Option<String>,
    /// Ends within this of one another (mm) count as one.
    pub tolerance: f64,
    /// On which side of the true line outlines may lie.
    pub err: Side,
}

/// A drawing that was read.
#[derive(Clone, Debug)]
pub struct Seen {
    /// Its name, as one reads it.
    pub file: String,
    /// What it holds.
    pub dxf: Dxf,
    /// Its closed outlines.
    pub outlines: Outlines,
    /// What is to be said about it.
    pub remarks: Vec<Remark>,
}

/// Reads a drawing. What is wrong with it is in its remarks; without an error among them all of its lines on the layer are understood.
///
/// # Errors
/// Why there is no drawing at all.
pub fn see(file: &str, bytes: &[u8], request: &Request) -> Result<Seen, Remarks> {
    let dxf = dxf::read(bytes, request.unit).map_err(|why| unread(file, &why))?;
    let wanted = Wanted {
        layer: request.layer.as_deref(),
        text_layer: request.text_layer.as_deref(),
        tolerance: request.tolerance,
        err: request.err,
    };
    let outlines = outlines::find(&dxf.drawing, &wanted);
    let mut seen = Seen { file: file.to_owned(), dxf, outlines, remarks: Vec::new() };
    seen.remarks = Teller { seen: &seen, request }.all();
    Ok(seen)
}

/// Says why a file is no drawing.
fn unread(file: &str, why: &Unread) -> Remark {
    let about = |what, given: String, expected: &str, fix: &str| {
        Remark::about_file(Severity::Error, what, file, given, expected, fix)
    };
    match why {
        Unread::Broken { place, binary, given, expected } => {
            let given = if *binary { format!("{given}, at byte {place}") } else { given.clone() };
            let fix = "save the drawing as DXF again; if it was sent to you, ask for it again";
            Remark { line: if *binary { 0 } else { *place }, ..about(Kind::BrokenDrawing, given, expected, fix) }
        }
        Unread::NoUnit => about(
            Kind::DrawingUnit,
            "a drawing whose header names no unit".to_owned(),
            "$INSUNITS of 1 (in), 2 (ft), 4 (mm), 5 (cm) or 6 (m)",
            "set the unit of the drawing, or give it beside the file, for example units = \"mm\"",
        ),
        Unread::OddUnit(code) => about(
            Kind::DrawingUnit,
            format!("a drawing whose header has $INSUNITS {code}"),
            "$INSUNITS of 1 (in), 2 (ft), 4 (mm), 5 (cm) or 6 (m)",
            "set the unit of the drawing, or give it beside the file, for example units = \"mm\"",
        ),
    }
}

/// Turns what was found into remarks.
struct Teller<'a> {
    seen: &'a Seen,
    request: &'a Request,
}

impl Teller<'_> {
    fn remark(&self, severity: Severity, what: Kind, entity: Option<usize>, words: [String; 3]) -> Remark {
        let [given, expected, fix] = words;
        let place = entity.and_then(|e| self.seen.dxf.places.get(e)).copied().unwrap_or(0);
        let line = if self.seen.dxf.binary { 0 } else { place };
        Remark { line, ..Remark::about_file(severity, what, &self.seen.file, given, expected, fix) }
    }

    fn on_layer(&self, layer: &str) -> bool {
        self.request.layer.as_ref().is_none_or(|l| is_same_layer(l, layer))
    }

    fn all(&self) -> Vec<Remark> {
        let mut out = Vec::new();
        let Dxf { unit, header_unit, .. } = self.seen.dxf;
        if let Some(header) = header_unit.filter(|&h| h != unit) {
            let given = format!("a header that says {}, and {} asked for", header.name(), unit.name());
            let fix = "none if the header is wrong; it was read as asked for".to_owned();
            out.push(self.remark(Severity::Warning, Kind::DrawingUnit, None, [given, "one unit".to_owned(), fix]));
        }
        for w in self.seen.dxf.wrong.iter().filter(|w| self.on_layer(&w.layer)) {
            let place = w.at.map_or_else(String::new, |p| format!(" at {}", at(p)));
            let given = format!("{}{place}, which {}", named(&w.kind, &w.handle, &w.layer), w.why);
            let expected =
                "lines, arcs, circles, ellipses, polylines and splines with control points, flat and seen from above";
            let words = [given, expected.to_owned(), w.fix.to_owned()];
            let line = if self.seen.dxf.binary { 0 } else { w.place };
            out.push(Remark { line, ..self.remark(Severity::Error, Kind::NotRead, None, words) });
        }
        for fault in &self.seen.outlines.faults {
            out.push(self.fault(fault));
        }
        let notes = self.notes();
        if !notes.is_empty() {
            let expected = format!("closed outlines; ends within {} count as one", mm(self.request.tolerance));
            out.push(self.remark(
                Severity::Note,
                Kind::LeftOut,
                None,
                [notes.join("; "), expected, "none needed if that is as you expect".to_owned()],
            ));
        }
        out
    }

    /// What was done and left out, in words.
    fn notes(&self) -> Vec<String> {
        let (dxf, found) = (&self.seen.dxf, &self.seen.outlines);
        let mut notes = Vec::new();
        if let Some((widest, p)) = found.widest {
            notes.push(format!("{} closed, the widest {} at {}", count(found.gaps, "gap"), mm(widest), at(p)));
        }
        let curves: usize = found.all.iter().map(|o| o.made.curves).sum();
        let off = found.all.iter().map(|o| o.made.deviation).fold(0.0, f64::max);
        if curves > 0 {
            let side = if self.request.err == Side::Outer { "outside" } else { "inside" };
            let off = format!("at most {off:.3} mm");
            notes.push(format!("{} drawn as lines, {side}, {off} off", count(curves, "curve")));
        } else if off > 0.0 {
            notes.push(format!("arcs moved by at most {off:.4} mm onto the lines that they round"));
        }
        if !found.repeated.is_empty() {
            let n = count(found.repeated.len(), "entity").replace("entitys", "entities");
            notes.push(format!("{n} left out that lie on others"));
        }
        if found.specks > 0 {
            notes.push(format!("{} left out, too short to be told from a gap", count(found.specks, "line")));
        }
        if dxf.hidden > 0 {
            notes.push(format!("{} left out on layers that are off or frozen", dxf.hidden));
        }
        if dxf.aside > 0 {
            notes.push(format!("{} left out that are switched off or on a sheet of paper", dxf.aside));
        }
        if let Some(page) = dxf.old_letters {
            notes.push(format!("texts read as code page {page}"));
        }
        for name in &dxf.other_files {
            notes.push(format!("\"{}\" left out, which lies in another file", shortened(name)));
        }
        if !dxf.left_out.is_empty() {
            let kinds: Vec<String> = dxf.left_out.iter().map(|(k, n)| format!("{n} {k}")).collect();
            notes.push(format!("left out, as no outline is drawn so: {}", kinds.join(", ")));
        }
        notes
    }

    fn entity(&self, e: usize) -> String {
        entity(&self.seen.dxf, e)
    }

    fn fault(&self, fault: &Fault) -> Remark {
        let tolerance = mm(self.request.tolerance);
        let error = |what, e: Option<usize>, given: String, expected: &str, fix: String| {
            self.remark(Severity::Error, what, e, [given, expected.to_owned(), fix])
        };
        match fault {
            Fault::Open { run, nearest } => {
                let (a, b) = run.ends;
                let near = nearest.map_or_else(String::new, |(p, d)| {
                    format!("; the nearest other end is {} off, at {}", mm(d), at(p))
                });
                let given = format!(
                    "a line of {} that does not close: from {}, {}, to {}, {}{near}",
                    mm(run.length),
                    at(a),
                    self.entity(run.entities.0),
                    at(b),
                    self.entity(run.entities.1)
                );
                let expected = format!("closed outlines; ends within {tolerance} count as one");
                let fix = match nearest {
                    Some((_, d)) if *d <= MOST_TOLERANCE => {
                        format!("close the gap in the drawing, or give a tolerance above {}", mm(*d))
                    }
                    _ => "close it or delete it; or name the layer of the outlines".to_owned(),
                };
                error(Kind::OpenOutline, Some(run.entities.0), given, &expected, fix)
            }
            Fault::Branch(b) => {
                let names: Vec<String> = b.entities.iter().take(4).map(|&e| self.entity(e)).collect();
                let given = format!("{} ends that meet at {}: {}", b.ends, at(b.at), names.join(", "));
                let fix = "take out what is no outline, or name the layer of the outlines".to_owned();
                error(Kind::Tangled, b.entities.first().copied(), given, "two ends at every corner", fix)
            }
            Fault::Overlap { at: p, entities: (i, j) } => {
                let given =
                    format!("outlines that overlap near {}: {} and {}", at(*p), self.entity(*i), self.entity(*j));
                let fix = "draw them apart, or name the layer of the outlines".to_owned();
                error(Kind::Tangled, Some(*j), given, "outlines beside or within one another", fix)
            }
            Fault::TooDeep { at: p, entity } => {
                let given =
                    format!("an outline within an outline within an outline: {} at {}", self.entity(*entity), at(*p));
                let fix = "take it out, or name the layer of the outlines".to_owned();
                error(Kind::Tangled, Some(*entity), given, "pieces with openings in them, and nothing in these", fix)
            }
            Fault::NoOutline { at: p, entity, why } => {
                let given = format!("{} with {why} at {}", self.entity(*entity), at(*p));
                let fix = "mend it in the drawing, or name the layer of the outlines".to_owned();
                let expected = "an outline with an area that does not cross or touch itself";
                error(Kind::SelfCrossing, Some(*entity), given, expected, fix)
            }
            Fault::TooMany { loops } => {
                let fix = "name the layer of the outlines".to_owned();
                error(Kind::TooMany, None, count(*loops, "closed outline"), "at most 400", fix)
            }
        }
    }
}

/// An entity, for people.
pub(super) fn entity(dxf: &Dxf, e: usize) -> String {
    let Some(entity) = dxf.drawing.entities.get(e) else { return "an entity".to_owned() };
    let kind = match &entity.body {
        Body::Path { vertices, closed: false } if vertices.len() == 2 => {
            if vertices[0].bulge == 0.0 {
                "line"
            } else {
                "arc"
            }
        }
        Body::Path { .. } => "polyline",
        Body::Circle { .. } => "circle",
        Body::Ellipse { .. } => "ellipse",
        Body::Curve(_) => "curve",
        Body::Text { .. } => "text",
    };
    named(kind, &entity.handle, &entity.layer)
}

fn named(kind: &str, handle: &str, layer: &str) -> String {
    let handle = if handle.is_empty() { String::new() } else { format!("handle {handle}, ") };
    format!("{kind} ({handle}layer \"{}\")", shortened(layer))
}

/// A length in mm as it stands in remarks.
fn mm(length: f64) -> String {
    format!("{} mm", Decimal(length, if length < 1.0 { 3 } else { 1 }))
}

/// A drawing that was asked for: its path, the wishes, and what is in it unless it cannot be read.
type Kept = (PathBuf, Request, Option<Rc<Seen>>);

/// Where the drawings of a file are, and those read so far.
#[derive(Debug, Default)]
pub(super) struct Folder {
    beside: Option<PathBuf>,
    seen: RefCell<Vec<Kept>>,
    /// Requests whose remarks were put down.
    told: RefCell<BTreeSet<usize>>,
}

impl Folder {
    /// The folder in which the file of this name stands.
    pub(super) fn beside(file: &str) -> Self {
        let parent = Path::new(file).parent().unwrap_or_else(|| Path::new(""));
        Self { beside: Some(parent.to_path_buf()), ..Self::default() }
    }

    /// No folder: for texts that are in no file.
    pub(super) fn nowhere() -> Self {
        Self::default()
    }

    /// The drawing of that name, and the number of this request. Reads every file once for every request; the remarks of a file that cannot
    /// be read come with the first one.
    fn see(&self, name: &str, request: &Request) -> Result<(usize, Rc<Seen>), Vec<Remark>> {
        let Some(folder) = &self.beside else {
            let given = "a drawing named in a text that is in no file";
            let fix = "save the text beside the drawing";
            return Err(vec![Remark::about_file(
                Severity::Error,
                Kind::FileMissing,
                name,
                given,
                "a file beside the drawing",
                fix,
            )]);
        };
        let path = folder.join(name);
        let mut all = self.seen.borrow_mut();
        if let Some(i) = all.iter().position(|(p, r, _)| *p == path && r == request) {
            return all[i].2.clone().map(|seen| (i, seen)).ok_or_else(Vec::new);
        }
        let shown = path.display().to_string();
        let found =
            disk::read_bytes(&path).map_err(|r| r.0).and_then(|bytes| see(&shown, &bytes, request).map_err(|r| r.0));
        let (seen, result) = match found {
            Ok(seen) => {
                let seen = Rc::new(seen);
                (Some(Rc::clone(&seen)), Ok((all.len(), seen)))
            }
            Err(remarks) => (None, Err(remarks)),
        };
        all.push((path, request.clone(), seen));
        result
    }
}

/// The outlines of a drawing that a table asks for.
pub(super) struct Found<'a> {
    /// The value of `file`.
    pub(super) value: Value<'a>,
    pub(super) seen: Rc<Seen>,
}

const WISHES: [&str; 3] = ["layer", "units", "tolerance"];

/// Says that wishes about a drawing have no drawing to go with.
pub(super) fn refuse_without_file(table: &Table<'_>) -> Option<()> {
    let mut fine = Some(());
    for key in WISHES.into_iter().chain(["text_layer", "named", "openings"]) {
        if let Some(value) = table.optional(key) {
            let given = format!("\"{key}\" without \"file\"");
            value.error(Kind::Conflict, given, format!("\"{key}\" with \"file\" only"), format!("take {key} out"));
            fine = None;
        }
    }
    fine
}

/// Reads the drawing that a table names with `file` (its value), and puts down what is to be said about it. `None` after an error.
pub(super) fn find<'a>(table: &Table<'a>, file: &Value<'a>, unit: Unit, err: Side) -> Option<Found<'a>> {
    let name = file.name();
    let layer = table.optional("layer").map_or(Some(None), |v| v.name().map(Some));
    let text_layer = table.optional("text_layer").map_or(Some(None), |v| v.name().map(Some));
    let drawn_in = table.optional("units").map_or(Some(None), |v| v.word(&UNITS).map(Some));
    let tolerance = table.optional("tolerance").map_or(Some(TOLERANCE), |v| {
        let mm = v.length_from_zero(unit)?;
        if mm > MOST_TOLERANCE {
            let expected = format!("at most {MOST_TOLERANCE} mm: a wider gap is a missing line");
            v.error(Kind::OutOfRange, v.as_written(), expected, "check the value and the unit, or mend the drawing");
            return None;
        }
        Some(mm)
    });
    let request = Request { unit: drawn_in?, layer: layer?, text_layer: text_layer?, tolerance: tolerance?, err };
    let desk = table.desk;
    let Some(folder) = desk.folder else {
        file.error(Kind::FileMissing, file.as_written(), "a file that may name drawings", "draw it in this file");
        return None;
    };
    match folder.see(&name?, &request) {
        Ok((number, seen)) => {
            if folder.told.borrow_mut().insert(number) {
                seen.remarks.iter().for_each(|r| tell(desk, file, r));
            }
            let sound = !seen.remarks.iter().any(|r| r.severity == Severity::Error);
            sound.then(|| Found { value: file.clone(), seen })
        }
        Err(remarks) => {
            if remarks.is_empty() {
                // It was told where the file was named first; this entry cannot be read either.
                let given = "a drawing that could not be read above";
                file.error(Kind::BrokenDrawing, given, "a drawing that can be read", "mend it there");
            }
            for r in &remarks {
                if matches!(r.what, Kind::BrokenDrawing | Kind::DrawingUnit) {
                    tell(desk, file, r);
                } else {
                    // That there is no such file is a mistake of the one that names it.
                    file.error(r.what, format!("{}: {}", r.file, r.given), r.expected.clone(), r.fix.clone());
                }
            }
            None
        }
    }
}

fn tell(desk: &Desk<'_>, file: &Value<'_>, remark: &Remark) {
    desk.add(Remark { key: file.key.clone(), ..remark.clone() });
}

impl<'a> Found<'a> {
    /// Puts down an error about the drawing, at an entity.
    pub(super) fn error(&self, what: Kind, entity: Option<usize>, given: String, expected: &str, fix: &str) {
        let place = entity.and_then(|e| self.seen.dxf.places.get(e)).copied().unwrap_or(0);
        let line = if self.seen.dxf.binary { 0 } else { place };
        let remark = Remark::about_file(Severity::Error, what, &self.seen.file, given, expected, fix);
        tell(self.value.desk, &self.value, &Remark { line, ..remark });
    }

    /// An entity, for people.
    pub(super) fn entity(&self, e: usize) -> String {
        entity(&self.seen.dxf, e)
    }

    /// An outline, for people: its name if it has one, what it is and where.
    pub(super) fn told(&self, outline: &Outline) -> String {
        let b = outline.made.shape.extent();
        let size = format!("{} by {} mm at {}", Decimal(b.width(), 1), Decimal(b.height(), 1), at(b.min));
        let name = name_of(&self.seen, outline).ok().flatten();
        let name = name.map_or_else(String::new, |n| format!("\"{}\", ", shortened(&n)));
        format!("{name}{size}, {}", self.entity(outline.entity))
    }

    /// The only outline of the drawing, with nothing in it. `None` after an error.
    pub(super) fn only(&self) -> Option<&Outline> {
        let outer: Vec<&Outline> = self.seen.outlines.outer().collect();
        let one = self.one(&outer, "one closed outline", "delete the others, or name the layer of the outline")?;
        if let Some(inner) = self.seen.outlines.inner(one).next() {
            let given = format!("an outline within the outline: {}", self.told(inner));
            let fix = "take it out, or name the layer of the outline alone";
            self.error(Kind::InnerOutlines, Some(inner.entity), given, "one closed outline with nothing in it", fix);
            return None;
        }
        Some(one)
    }

    /// The one of a list. `None` after an error, also where it has none.
    pub(super) fn one<'o>(&self, of: &[&'o Outline], expected: &str, fix: &str) -> Option<&'o Outline> {
        match of {
            [] => {
                let fix = "check the layer's name, and whether it is off or frozen; outlines must close";
                self.error(Kind::OutlineCount, None, "no closed outline".to_owned(), expected, fix);
                None
            }
            [one] => Some(one),
            [first, second, ..] => {
                let more = if of.len() > 2 { format!(", and {} more", of.len() - 2) } else { String::new() };
                let given = format!("{} closed outlines: {}; {}{more}", of.len(), self.told(first), self.told(second));
                self.error(Kind::OutlineCount, Some(second.entity), given, expected, fix);
                None
            }
        }
    }
}

/// The text that names an outline: the one in it, or the largest of several; `None` if there is none.
///
/// # Errors
/// Two texts that are equally large and differ.
pub fn name_of(seen: &Seen, outline: &Outline) -> Result<Option<String>, (usize, usize)> {
    let text = |e: usize| match seen.dxf.drawing.entities.get(e).map(|e| &e.body) {
        Some(Body::Text { height, content, .. }) => Some((e, *height, content.as_str())),
        _ => None,
    };
    let mut all: Vec<(usize, f64, &str)> = outline.texts.iter().filter_map(|&e| text(e)).collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let Some(&(first, height, name)) = all.first() else { return Ok(None) };
    match all.iter().skip(1).find(|t| t.2 != name && t.1 > height * 0.99) {
        Some(&(second, ..)) => Err((first, second)),
        None => Ok(Some(name.to_owned())),
    }
}

/// Where a text stands, mm.
pub(super) fn text_at(seen: &Seen, e: usize) -> Point {
    match seen.dxf.drawing.entities.get(e).map(|e| &e.body) {
        Some(Body::Text { at, .. }) => *at,
        _ => Point { x: 0.0, y: 0.0 },
    }
}
