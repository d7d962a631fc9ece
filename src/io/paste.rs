//! The text for a job or a rack that says what a drawing holds, to be pasted.
//!
//! In: a drawing that was read. Out: TOML. Must not know: the command line.
//!
//! Numbers are rounded, and roundings that used up their sides must still fit when the text is read: radii give way by what rounding took.

use std::fmt::Write as _;

use super::drawn::{Seen, name_of};
use super::parts::kind_in;
use crate::cad::outlines::Outline;
use crate::cad::shape::fit_roundings;
use crate::geom::curve::Corner;
use crate::geom::{BBox, Point, pt};
use crate::model::{OpeningKind, Shape};
use crate::units::{Decimal, Unit};

/// What the outlines of a drawing are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PasteAs {
    /// Pieces, for a job.
    Pieces,
    /// Slabs, for a rack.
    Slabs,
}

/// Numbers of a text in one unit.
#[derive(Clone, Copy)]
struct Pen {
    unit: Unit,
}

impl Pen {
    /// Digits behind the point: millionths of a millimetre.
    fn digits(self) -> usize {
        match self.unit {
            Unit::Mm => 6,
            Unit::Cm => 7,
            Unit::M => 9,
            Unit::In | Unit::Ft => 8,
        }
    }

    fn number(self, mm: f64) -> String {
        Decimal(mm / self.unit.mm(), self.digits()).to_string()
    }

    /// The length that is read from the number.
    fn rounded(self, mm: f64) -> f64 {
        self.number(mm).parse::<f64>().map_or(mm, |v| v * self.unit.mm())
    }

    fn point(self, p: Point) -> String {
        format!("[{}, {}]", self.number(p.x), self.number(p.y))
    }

    /// A radius rounded so that it is not larger than it may be.
    fn radius(self, mm: f64) -> String {
        let text = self.number(mm);
        if self.rounded(mm) <= mm { text } else { self.number(mm - 10f64.powi(-6)) }
    }

    /// The keys of a shape: `prefix.rectangle = ...` and the like. Polygons are moved by `shift`.
    fn shape(self, prefix: &str, shape: &Shape, shift: Point, round_key: Option<&str>) -> String {
        let corners = match shape {
            Shape::Ellipse { half_x, half_y, .. } if (half_x - half_y).abs() < 1e-9 => {
                return format!("{prefix}.circle = {}\n", self.number(2.0 * half_x));
            }
            Shape::Ellipse { half_x, half_y, .. } => {
                return format!("{prefix}.ellipse = [{}, {}]\n", self.number(2.0 * half_x), self.number(2.0 * half_y));
            }
            Shape::Polygon(corners) => self.corners(corners, shift),
        };
        if let Some((size, radius)) = rectangle(&corners)
            && (radius == 0.0 || round_key.is_some())
        {
            let mut text = format!("{prefix}.rectangle = {}\n", self.point(size));
            if let (Some(key), true) = (round_key, radius > 0.0) {
                let _ = writeln!(text, "{key} = {}", self.radius(radius));
            }
            return text;
        }
        let all: Vec<String> = corners
            .iter()
            .map(|c| {
                let p = self.point(c.at);
                if c.radius > 0.0 { format!("{}, {}]", &p[..p.len() - 1], self.radius(c.radius)) } else { p }
            })
            .collect();
        let one_line = format!("{prefix}.polygon = [{}]\n", all.join(", "));
        if one_line.len() <= 110 {
            return one_line;
        }
        let mut text = format!("{prefix}.polygon = [\n");
        for some in all.chunks(4) {
            let _ = writeln!(text, "    {},", some.join(", "));
        }
        text.push_str("]\n");
        text
    }

    /// Corners as they will be read from the text.
    fn corners(self, corners: &[Corner], shift: Point) -> Vec<Corner> {
        let at = |c: &Corner| pt(self.rounded(c.at.x + shift.x), self.rounded(c.at.y + shift.y));
        let mut out: Vec<Corner> =
            corners.iter().map(|c| Corner { at: at(c), radius: self.rounded(c.radius) }).collect();
        fit_roundings(&mut out);
        out
    }
}

/// Size and radius, if the corners are those of an axis-parallel rectangle from the lower left, all rounded alike.
fn rectangle(corners: &[Corner]) -> Option<(Point, f64)> {
    let [a, b, c, d] = corners else { return None };
    let size = c.at - a.at;
    let want = BBox { min: a.at, max: c.at }.corners();
    let near = |p: Point, q: Point| p.distance(q) < 1e-9;
    let same = near(b.at, want[1]) && near(d.at, want[3]) && size.x > 0.0 && size.y > 0.0;
    let alike = [b, c, d].iter().all(|k| (k.radius - a.radius).abs() < 1e-9);
    (same && alike).then_some((size, a.radius))
}

/// A text in quotes, as TOML has it.
pub(crate) fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// The text for all outlines of a drawing that lie in no other one, with lengths in `unit`.
#[must_use]
pub fn text(seen: &Seen, what: PasteAs, unit: Unit) -> String {
    let pen = Pen { unit };
    let mut out = String::new();
    for (i, outline) in seen.outlines.outer().enumerate() {
        let name = name_of(seen, outline).ok().flatten();
        match what {
            PasteAs::Pieces => piece(&mut out, seen, outline, &name.unwrap_or_else(|| format!("piece {}", i + 1)), pen),
            PasteAs::Slabs => slab(&mut out, outline, &name.unwrap_or_else(|| format!("slab {}", i + 1)), pen),
        }
    }
    out
}

fn piece(out: &mut String, seen: &Seen, outline: &Outline, name: &str, pen: Pen) {
    let shape = &outline.made.shape;
    let shift = -shape.extent().min;
    let _ = write!(out, "\n[[piece]]\nname = {}\n", quoted(name));
    out.push_str(&pen.shape("outline", shape, shift, None));
    // One finish for every side of the text, in the order of its corners.
    let edges = vec!["\"raw\""; outline.made.side_of.len()];
    if edges.len() <= 12 {
        let _ = writeln!(out, "edges = [{}]", edges.join(", "));
    }
    let mut names: Vec<String> = Vec::new();
    for (i, hole) in seen.outlines.inner(outline).enumerate() {
        let text = name_of(seen, hole).ok().flatten();
        let said = text.as_deref().and_then(kind_in);
        let kind = said.unwrap_or(OpeningKind::Other);
        let mut name = text.unwrap_or_else(|| format!("opening {}", i + 1));
        if names.contains(&name) {
            name = format!("{name} {}", i + 1);
        }
        let _ = write!(out, "\n[[piece.opening]]\nname = {}\n", quoted(&name));
        let _ = write!(out, "kind = \"{}\"", kind.name());
        out.push_str(if said.is_some() { "\n" } else { "   # no text in it says what it is\n" });
        names.push(name);
        let shape = &hole.made.shape;
        out.push_str(&pen.shape("shape", shape, shift, Some("corner_radius")));
        let _ = writeln!(out, "centre = {}", pen.point(shape.extent().centre() + shift));
    }
}

fn slab(out: &mut String, outline: &Outline, name: &str, pen: Pen) {
    let shape = &outline.made.shape;
    let _ = write!(out, "\n[[slab]]\nname = {}\n", quoted(name));
    out.push_str("# material = \"...\"\n# thickness = ...\n# price = ...\n");
    out.push_str(&pen.shape("outline", shape, pt(0.0, 0.0), None));
}
