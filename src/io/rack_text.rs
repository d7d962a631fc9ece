//! A rack file as text: where each slab stands, slabs taken out and put in, and no other byte touched.
//!
//! In: the text of a rack that has been read without errors. Out: texts. The only file that knows `toml_edit`, which says where in
//! the text a slab's header and values stand. Must not know: why slabs come and go.
//!
//! A comment belongs to the slab that it stands directly before, else to the slab that it stands directly behind. One with blank
//! lines on both sides belongs to no slab and stays, and so does a comment at the head of the file.

use std::fmt::Write as _;
use std::ops::Range;

use toml_edit::{ArrayOfTables, Document, Item, Table, Value};

use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::geom::{BBox, Point};
use crate::model::{Flaw, FlawBody, Slab, StoneTests, TestedStrength};
use crate::units::Unit;

/// The text of a rack file.
#[derive(Clone, Debug)]
pub struct RackText {
    text: String,
    unit: Unit,
    slabs: Vec<Block>,
}

/// A slab in the text.
#[derive(Clone, Debug)]
struct Block {
    name: String,
    /// From the first of its comments to the end of its last line, in bytes.
    span: Range<usize>,
}

/// Where a new slab is put.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Put {
    /// At a place of the text, in bytes, that [`RackText::place`] gave.
    At(usize),
    /// Behind the last slab.
    Last,
}

impl RackText {
    /// Finds the slabs in a text; `file` names it in remarks.
    ///
    /// # Errors
    /// A text that is not TOML, or whose slabs do not each stand under a header `[[slab]]`.
    pub fn read(file: &str, text: &str) -> Result<Self, Remarks> {
        let fail = |what, given: &str, expected: &str, fix: &str| {
            Remarks::from(Remark::about_file(Severity::Error, what, file, given, expected, fix))
        };
        let not_toml = || fail(Kind::Syntax, "a text that is not TOML", "a rack", "run scantling rack to see where");
        // The parser's places do not count a mark of byte order, which only may stand at the head.
        let head = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
        let body = text.get(head..).unwrap_or("");
        let document = Document::parse(body).map_err(|_| not_toml())?;
        let unit = document.get("units").and_then(Item::as_str).and_then(Unit::from_name).unwrap_or(Unit::Mm);
        let none = ArrayOfTables::new();
        let tables = match document.get("slab") {
            None => &none,
            Some(Item::ArrayOfTables(tables)) => tables,
            Some(_) => {
                return Err(fail(
                    Kind::WrongType,
                    "slabs written as one list",
                    "every slab under a header [[slab]] of its own",
                    "write them so; only then can slabs be taken out and put in",
                ));
            }
        };
        let mut bare: Vec<(String, Range<usize>)> = Vec::new();
        for table in tables {
            let name = table.get("name").and_then(Item::as_str).map_or("", str::trim).to_owned();
            let span = reach(table).ok_or_else(not_toml)?;
            bare.push((name, span.start + head..span.end + head));
        }
        let slabs = with_comments(text, bare);
        Ok(Self { text: text.to_owned(), unit, slabs })
    }

    /// The unit of its bare numbers.
    #[must_use]
    pub const fn unit(&self) -> Unit {
        self.unit
    }

    /// The names of the slabs, in order.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.slabs.iter().map(|b| b.name.as_str())
    }

    /// True if a slab has this name.
    #[must_use]
    pub fn has(&self, name: &str) -> bool {
        self.names().any(|n| n == name)
    }

    /// The text of a slab with its comments.
    #[must_use]
    pub fn slab(&self, name: &str) -> Option<&str> {
        let block = self.slabs.iter().find(|b| b.name == name)?;
        self.text.get(block.span.clone())
    }

    /// The lines that are not blank and belong to no slab, from behind a slab (or from the head) to before another one.
    #[must_use]
    pub fn free_lines(&self, behind: Option<&str>, before: &str) -> Vec<&str> {
        let find = |name: &str| self.slabs.iter().find(|b| b.name == name).map(|b| &b.span);
        let from = behind.and_then(find).map_or(0, |s| s.end);
        let to = find(before).map_or(from, |s| s.start);
        let mut free = Vec::new();
        let mut at = from;
        for stop in self.slabs.iter().map(|b| &b.span).filter(|s| s.start >= from && s.start < to).chain([&(to..to)]) {
            free.extend(self.text.get(at..stop.start).unwrap_or("").lines().filter(|l| !l.trim().is_empty()));
            at = stop.end;
        }
        free
    }

    /// Where a slab belongs that stood behind another one (or first), with some free lines between the two. Slabs of the names to
    /// be passed over do not count.
    #[must_use]
    pub fn place(&self, behind: Option<&str>, free: &[&str], passed: &[String]) -> Put {
        let neighbour = behind.and_then(|name| self.slabs.iter().find(|b| b.name == name));
        let from = neighbour.map_or(0, |b| b.span.end);
        let (mut at, mut place, mut free) = (from, from, free.iter().peekable());
        for line in self.text.get(from..).unwrap_or("").split_inclusive('\n') {
            let start = at;
            at += line.len();
            if self.slabs.iter().any(|b| b.span.contains(&start) && passed.contains(&b.name)) {
                continue;
            }
            if free.peek().is_some_and(|l| l.trim_end() == line.trim_end()) {
                free.next();
                place = at;
            } else if !line.trim().is_empty() {
                break;
            }
        }
        // Before a changed head there may be keys that no slab may stand before.
        match self.slabs.first() {
            Some(first) if neighbour.is_none() && free.peek().is_some() => Put::At(first.span.start),
            None if free.peek().is_some() => Put::Last,
            _ => Put::At(place),
        }
    }

    /// How this file writes a slab: in its unit, with its line ends.
    #[must_use]
    pub fn write(&self, slab: &Slab) -> String {
        let text = slab_text(slab, self.unit);
        if self.text.contains("\r\n") { text.replace('\n', "\r\n") } else { text }
    }

    /// The text without the slabs of some names and with new ones (each as [`RackText::write`] or [`RackText::slab`] gives
    /// it), those for one place in their order.
    #[must_use]
    pub fn edited(&self, without: &[String], with: &[(Put, String)]) -> String {
        let newline = if self.text.contains("\r\n") { "\r\n" } else { "\n" };
        let kept: Vec<&Block> = self.slabs.iter().filter(|b| !without.contains(&b.name)).collect();
        // Places in the old text at which something is put in, in order of place.
        let mut puts: Vec<(usize, &str)> = with
            .iter()
            .map(|(put, text)| {
                let at = match put {
                    Put::At(at) => Some(*at),
                    Put::Last => kept.last().map(|b| b.span.end),
                };
                (at.unwrap_or(self.text.len()), text.as_str())
            })
            .collect();
        puts.sort_by_key(|p| p.0);
        let mut out = String::with_capacity(self.text.len());
        let mut at = 0;
        let mut gone = self.slabs.iter().filter(|b| without.contains(&b.name)).map(|b| b.span.clone()).peekable();
        let mut puts = puts.into_iter().peekable();
        loop {
            let next_put = puts.peek().map(|p| p.0);
            let next_gone = gone.peek().map(|g| g.start);
            match (next_put, next_gone) {
                (Some(place), other) if other.is_none_or(|g| place <= g) => {
                    out.push_str(self.text.get(at..place).unwrap_or(""));
                    at = place.max(at);
                    if let Some((_, text)) = puts.next() {
                        put_in(&mut out, text, newline, self.text.get(at..).unwrap_or(""));
                    }
                }
                (_, Some(start)) => {
                    out.push_str(self.text.get(at..start).unwrap_or(""));
                    let end = gone.next().map_or(start, |g| g.end);
                    // The blank lines behind go too where some stand before already.
                    at = if ends_blank(&out) { end + blank_lines(self.text.get(end..).unwrap_or("")) } else { end };
                }
                _ => break,
            }
        }
        out.push_str(self.text.get(at..).unwrap_or(""));
        // No blank line at the end where there was none.
        if !ends_blank(&self.text) && ends_blank(&out) {
            out.truncate(out.trim_end().len());
            if !out.is_empty() {
                out.push_str(newline);
            }
        }
        out
    }
}

/// Puts a slab's text in at the end of what is written so far, blank lines round it.
fn put_in(out: &mut String, text: &str, newline: &str, rest: &str) {
    if !out.is_empty() && !out.ends_with('\n') {
        out.push_str(newline);
    }
    if !ends_blank(out) {
        out.push_str(newline);
    }
    out.push_str(text);
    if !text.ends_with('\n') {
        out.push_str(newline);
    }
    if !rest.is_empty() && blank_lines(rest) == 0 {
        out.push_str(newline);
    }
}

/// True if nothing or a blank line stands at the end.
fn ends_blank(text: &str) -> bool {
    let mut lines = text.split_inclusive('\n').rev();
    lines.next().is_none_or(|last| last.ends_with('\n') && last.trim().is_empty())
}

/// Bytes of the blank lines at the head.
fn blank_lines(text: &str) -> usize {
    text.split_inclusive('\n').take_while(|l| l.trim().is_empty() && l.ends_with('\n')).map(str::len).sum()
}

/// From the header of a table to the end of its last value, tables within it included.
fn reach(table: &Table) -> Option<Range<usize>> {
    fn last(item: &Item) -> usize {
        let own = item.span().map_or(0, |s| s.end);
        match item {
            Item::Table(table) => own.max(table.iter().map(|(_, i)| last(i)).max().unwrap_or(0)),
            Item::ArrayOfTables(tables) => {
                let each = tables.iter().map(|t| {
                    let header = t.span().map_or(0, |s| s.end);
                    header.max(t.iter().map(|(_, i)| last(i)).max().unwrap_or(0))
                });
                own.max(each.max().unwrap_or(0))
            }
            Item::Value(Value::InlineTable(table)) => own.max(table.span().map_or(0, |s| s.end)),
            _ => own,
        }
    }
    let header = table.span()?;
    let end = table.iter().map(|(_, item)| last(item)).max().unwrap_or(0);
    Some(header.start..end.max(header.end))
}

/// A line of the text.
struct Line {
    span: Range<usize>,
    blank: bool,
    comment: bool,
}

/// Every slab with the lines and comments that belong to it.
fn with_comments(text: &str, bare: Vec<(String, Range<usize>)>) -> Vec<Block> {
    let mut at = 0;
    let lines: Vec<Line> = text
        .split_inclusive('\n')
        .map(|line| {
            let span = at..at + line.len();
            at = span.end;
            let inner = line.trim_start_matches('\u{feff}').trim();
            Line { span, blank: inner.is_empty(), comment: inner.starts_with('#') }
        })
        .collect();
    let line_of = |offset: usize| lines.partition_point(|l| l.span.end <= offset).min(lines.len().saturating_sub(1));
    // First and last line of each, without comments.
    let rows: Vec<(usize, usize)> =
        bare.iter().map(|(_, s)| (line_of(s.start), line_of(s.end.saturating_sub(1)))).collect();
    let mut starts: Vec<usize> = Vec::with_capacity(rows.len());
    for (k, &(first, _)) in rows.iter().enumerate() {
        let floor = k.checked_sub(1).and_then(|p| rows.get(p)).map_or(0, |r| r.1 + 1);
        let mut start = first;
        while start > floor && lines.get(start - 1).is_some_and(|l| l.comment) {
            start -= 1;
        }
        // A comment at the head of the file is about the file.
        starts.push(if start == 0 { first } else { start });
    }
    bare.into_iter()
        .enumerate()
        .map(|(k, (name, _))| {
            let (start, mut end) = (starts.get(k).copied().unwrap_or(0), rows.get(k).map_or(0, |r| r.1));
            let ceiling = starts.get(k + 1).copied().unwrap_or(lines.len());
            while end + 1 < ceiling && lines.get(end + 1).is_some_and(|l| l.comment && !l.blank) {
                end += 1;
            }
            let from = lines.get(start).map_or(0, |l| l.span.start);
            let to = lines.get(end).map_or(text.len(), |l| l.span.end);
            Block { name, span: from..to }
        })
        .collect()
}

/// A slab as TOML.
fn slab_text(slab: &Slab, unit: Unit) -> String {
    let mut out = String::from("[[slab]]\n");
    // Writing to a string does not fail.
    let mut line = |key: &str, value: String| {
        let _ = writeln!(out, "{key} = {value}");
    };
    line("name", quoted(&slab.name));
    line("material", quoted(&slab.material));
    if slab.stone_given {
        line("stone", quoted(slab.stone.name()));
    }
    line("thickness", number(slab.thickness, unit));
    if let Some(lot) = &slab.lot {
        line("lot", quoted(lot));
    }
    if let Some(number) = slab.number {
        line("number", number.to_string());
    }
    line("price", slab.price.to_string());
    let corners = slab.outline.points();
    match rectangle(corners) {
        Some([length, depth]) => {
            line("outline.rectangle", format!("[{}, {}]", number(length, unit), number(depth, unit)));
        }
        None => line("outline.polygon", points(corners, unit)),
    }
    line("grain", slab.grain.map_or_else(|| "\"none\"".to_owned(), |g| g.to_string()));
    if let Some(from) = &slab.from {
        let mut parts = vec![format!("slab = {}", quoted(&from.slab))];
        if !from.jobs.is_empty() {
            let jobs: Vec<String> = from.jobs.iter().map(|j| quoted(j)).collect();
            parts.push(format!("jobs = [{}]", jobs.join(", ")));
        }
        parts.push(format!("at = {}", point(from.at, unit)));
        parts.extend(from.date.as_ref().map(|d| format!("date = {}", quoted(d))));
        line("from", format!("{{ {} }}", parts.join(", ")));
    }
    if let Some(photo) = &slab.photo {
        line("photo.file", quoted(&photo.file));
        line("photo.marks", listed(&photo.marks, |p| format!("[{}, {}]", p.x, p.y)));
        line("photo.at", points(&photo.at, unit));
    }
    for flaw in &slab.flaws {
        out.push_str(&flaw_text(flaw, unit));
    }
    if let Some(tests) = &slab.tests {
        out.push_str(&tests_text(tests));
    }
    out
}

fn flaw_text(flaw: &Flaw, unit: Unit) -> String {
    let mut out = format!("\n[[slab.flaw]]\nkind = \"{}\"\n", flaw.kind.name());
    let _ = match &flaw.body {
        FlawBody::Line(line) if flaw.radius > 0.0 => {
            writeln!(out, "line = {}\nwidth = {}", points(line, unit), number(2.0 * flaw.radius, unit))
        }
        FlawBody::Line(line) => writeln!(out, "line = {}", points(line, unit)),
        FlawBody::Area(ring) => writeln!(out, "area = {}", points(ring.points(), unit)),
        FlawBody::Spot(p) => {
            writeln!(out, "spot = {}\ndiameter = {}", point(*p, unit), number(2.0 * flaw.radius, unit))
        }
    };
    if flaw.allow != flaw.kind.default_zones() {
        let zones: Vec<String> = flaw.allow.iter().map(|z| format!("\"{}\"", z.name())).collect();
        let _ = writeln!(out, "allow = [{}]", zones.join(", "));
    }
    out
}

fn tests_text(tests: &StoneTests) -> String {
    let mut out = String::from("\n[slab.tests]\n");
    if let Some(density) = tests.density {
        let _ = writeln!(out, "density = {density}");
    }
    match &tests.strength {
        None => {}
        Some(TestedStrength::Values(values)) => {
            let values: Vec<String> = values.iter().map(f64::to_string).collect();
            let _ = writeln!(out, "strength = [{}]", values.join(", "));
        }
        Some(TestedStrength::Summary { mean, deviation, specimens }) => {
            let _ = writeln!(out, "strength_mean = {mean}\nstrength_deviation = {deviation}\nspecimens = {specimens}");
        }
    }
    if let Some(source) = &tests.source {
        let _ = writeln!(out, "source = {}", quoted(source));
    }
    out
}

/// A text in quotes, as TOML writes it.
fn quoted(text: &str) -> String {
    Value::from(text).to_string()
}

/// Length and depth, if the corners are those of a rectangle from the origin along the axes.
fn rectangle(corners: &[Point]) -> Option<[f64; 2]> {
    let size = BBox::of(corners);
    let is_one =
        corners.len() == 4 && size.min == Point::default() && size.corners().iter().all(|c| corners.contains(c));
    is_one.then(|| [size.width(), size.height()])
}

fn points(points: &[Point], unit: Unit) -> String {
    listed(points, |p| point(p, unit))
}

/// Points as a list, on several lines where they are many.
fn listed(points: &[Point], one: impl Fn(Point) -> String) -> String {
    /// Points on a line of the file.
    const A_LINE: usize = 5;
    let each: Vec<String> = points.iter().map(|&p| one(p)).collect();
    if each.len() <= A_LINE {
        return format!("[{}]", each.join(", "));
    }
    let lines: Vec<String> = each.chunks(A_LINE).map(|chunk| format!("    {},\n", chunk.join(", "))).collect();
    format!("[\n{}]", lines.concat())
}

fn point(p: Point, unit: Unit) -> String {
    format!("[{}, {}]", number(p.x, unit), number(p.y, unit))
}

/// A length in the file's unit, with as few decimals as give it back to a nanometre.
fn number(mm: f64, unit: Unit) -> String {
    const NANOMETRE: f64 = 1e-6;
    for decimals in 0..=12 {
        let text = format!("{:.decimals$}", mm / unit.mm());
        if text.parse::<f64>().is_ok_and(|v| (v * unit.mm() - mm).abs() < NANOMETRE / 2.0) {
            return if text.trim_start_matches('-').bytes().all(|b| matches!(b, b'0' | b'.')) {
                "0".to_owned()
            } else {
                text
            };
        }
    }
    (mm / unit.mm()).to_string()
}
