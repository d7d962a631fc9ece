//! Reads outlines: rectangles, polygons, circles, ellipses and drawings, with the marks of where each corner stands in the file.
//!
//! In: a table such as `outline`. Out: a tidy [`Shape`], and remarks. Must not know: what the outline is of, beyond which
//! sizes are likely for it.

use std::f64::consts::PI;

use super::drawn::{self, Found};
use super::reader::{Table, Value};
use crate::cad::outlines::Outline as DrawnOutline;
use crate::diag::Kind;
use crate::geom::curve::{Corner, Side};
use crate::geom::{BBox, Point, Ring, RingFault, pt, tol};
use crate::model::side::curve_ends;
use crate::model::{OutlineFault, Shape};
use crate::units::{Decimal, Unit};

/// Keys that give a shape, one of which must be there.
pub(super) const FORMS: [&str; 5] = ["rectangle", "polygon", "circle", "ellipse", "file"];

/// Keys of an outline.
pub(super) const KEYS: &[&str] = &["rectangle", "polygon", "circle", "ellipse", "file", "layer", "units", "tolerance"];

/// Keys of the outline of a piece.
pub(super) const PIECE_KEYS: &[&str] = &[
    "rectangle",
    "polygon",
    "circle",
    "ellipse",
    "file",
    "layer",
    "units",
    "tolerance",
    "text_layer",
    "named",
    "openings",
];

/// More corners than any template has; checks of one outline against another take their product in time.
const MOST_CORNERS: usize = 10_000;

/// The same for the corners of the polyline that stands in for the arcs.
const MOST_POINTS: usize = 20_000;

/// Narrower than this (mm) is no stone that anybody cuts; it also keeps flattened arcs from collapsing.
const LEAST_EXTENT: f64 = 1.0;

/// Which sizes (mm) are likely for a thing; beyond them a wrong unit is.
#[derive(Clone, Copy)]
pub(super) struct Likely {
    /// What it is, in words.
    pub(super) what: &'static str,
    /// Least likely size.
    pub(super) least: f64,
    /// Largest likely size.
    pub(super) most: f64,
}

impl Likely {
    pub(super) const PIECE: Self = Self { what: "piece", least: 10.0, most: 10_000.0 };
    pub(super) const SLAB: Self = Self { what: "slab", least: 50.0, most: 6_000.0 };
    pub(super) const OPENING: Self = Self { what: "opening", least: 5.0, most: 3_000.0 };
    pub(super) const THICKNESS: Self = Self { what: "thickness", least: 6.0, most: 100.0 };

    /// Warns about a size that is likely in another unit only.
    pub(super) fn check(&self, value: &Value<'_>, mm: f64, unit: Unit) {
        if mm >= self.least && mm <= self.most {
            return;
        }
        let number = mm / unit.mm();
        let other = [Unit::Mm, Unit::Cm, Unit::In, Unit::M]
            .into_iter()
            .filter(|&u| u != unit)
            .find(|u| number * u.mm() >= 2.0 * self.least && number * u.mm() <= self.most * 0.75);
        let written = format!("{} {}", Decimal(number, 4), unit.name());
        let given = if written == spoken(mm) { written } else { format!("{written} is {}", spoken(mm)) };
        let article = if self.what.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
        let expected = format!("{article} {} of {} to {}", self.what, spoken(self.least), spoken(self.most));
        let fix = other.map_or_else(
            || "check the value and the unit".to_owned(),
            |u| format!("did you mean {} {}? see the key \"units\"", Decimal(number, 4), u.name()),
        );
        value.warning(Kind::UnlikelySize, given, expected, fix);
    }
}

/// A length as people say it: metres from 1 m, else mm.
pub(super) fn spoken(mm: f64) -> String {
    if mm.abs() >= 1000.0 { format!("{} m", Decimal(mm / 1000.0, 3)) } else { format!("{} mm", Decimal(mm, 3)) }
}

/// A point as it stands in messages, mm.
pub(super) fn at(p: Point) -> String {
    format!("[{}, {}] mm", Decimal(p.x, 1), Decimal(p.y, 1))
}

/// A shape as written, repeated corners taken out, not yet tidy.
pub(super) struct Raw<'a> {
    /// The key that gave it.
    pub(super) value: Value<'a>,
    form: &'static str,
    corners: Vec<Corner>,
    /// True where the corner was given a radius of its own.
    own_radius: Vec<bool>,
    /// Where each corner stands; empty for rectangles.
    marks: Vec<Value<'a>>,
    /// The corner's place in the list as written, from 1.
    numbers: Vec<usize>,
    ellipse: Option<Shape>,
    repeated: usize,
    unit: Unit,
    /// Of a drawing: for every corner the side as drawn that starts there, and what it is.
    drawn: Option<Vec<(usize, String)>>,
}

/// A tidy shape, and for each of its sides the index of the side as written.
pub(super) struct Tidy {
    pub(super) shape: Shape,
    pub(super) sides: Vec<usize>,
}

impl<'a> Raw<'a> {
    /// Reads the shape that a table gives; what a drawing shows only nearly errs on the side `err`. `None` after an error.
    pub(super) fn read(table: &Table<'a>, unit: Unit, err: Side) -> Option<Self> {
        let (form, value) = table.one_of(&FORMS, "give the shape, for example rectangle = [600, 400]")?;
        if form == "file" {
            let found = drawn::find(table, &value, unit, err)?;
            return found.only().map(|outline| Self::of_drawing(&found, outline));
        }
        drawn::refuse_without_file(table)?;
        let mut raw = Self {
            value: value.clone(),
            form,
            corners: Vec::new(),
            own_radius: Vec::new(),
            marks: Vec::new(),
            numbers: Vec::new(),
            ellipse: None,
            repeated: 0,
            unit,
            drawn: None,
        };
        match form {
            "rectangle" => {
                let [w, h] = sizes(&value, unit, "[length, depth]")?;
                let b = BBox { min: pt(0.0, 0.0), max: pt(w, h) };
                raw.corners = b.corners().iter().map(|&at| Corner { at, radius: 0.0 }).collect();
                raw.own_radius = vec![false; 4];
                raw.numbers = vec![1, 2, 3, 4];
            }
            "polygon" => raw.read_polygon(unit)?,
            "circle" => {
                let r = value.positive_length(unit)? / 2.0;
                raw.ellipse = Some(Shape::Ellipse { centre: pt(r, r), half_x: r, half_y: r });
            }
            _ => {
                let [w, h] = sizes(&value, unit, "[width, depth]")?;
                let (half_x, half_y) = (w / 2.0, h / 2.0);
                raw.ellipse = Some(Shape::Ellipse { centre: pt(half_x, half_y), half_x, half_y });
            }
        }
        Some(raw)
    }

    /// The outline of a drawing.
    pub(super) fn of_drawing(found: &Found<'a>, outline: &DrawnOutline) -> Self {
        let made = &outline.made;
        let (corners, ellipse) = match &made.shape {
            Shape::Polygon(corners) => (corners.clone(), None),
            round @ Shape::Ellipse { .. } => (Vec::new(), Some(round.clone())),
        };
        let what = made.side_of.iter().zip(&made.entities).map(|(&side, &e)| (side, found.entity(e)));
        Self {
            value: found.value.clone(),
            form: "file",
            own_radius: vec![true; corners.len()],
            marks: Vec::new(),
            numbers: (1..=corners.len()).collect(),
            corners,
            ellipse,
            repeated: 0,
            unit: Unit::Mm,
            drawn: Some(what.collect()),
        }
    }

    /// True if it comes from a drawing.
    pub(super) const fn is_drawn(&self) -> bool {
        self.drawn.is_some()
    }

    fn read_polygon(&mut self, unit: Unit) -> Option<()> {
        let entries = corners_of(&self.value)?;
        let mut whole = true;
        for (i, entry) in entries.iter().enumerate() {
            let Some(parts) = entry.list("a corner [x, y] or [x, y, radius]") else {
                whole = false;
                continue;
            };
            if parts.len() != 2 && parts.len() != 3 {
                let fix = "write each corner as [x, y], or [x, y, radius] to round it";
                entry.error(Kind::WrongCount, count(parts.len(), "number"), "2 or 3 numbers", fix);
                whole = false;
                continue;
            }
            let (x, y) = (parts[0].length(unit), parts[1].length(unit));
            let radius = parts.get(2).map_or(Some(0.0), |r| r.length_from_zero(unit));
            let (Some(x), Some(y), Some(radius)) = (x, y, radius) else {
                whole = false;
                continue;
            };
            if self.corners.last().is_some_and(|c| c.at.distance(pt(x, y)) < tol::SAME_POINT) {
                self.repeated += 1;
                continue;
            }
            self.corners.push(Corner { at: pt(x, y), radius });
            self.own_radius.push(parts.len() == 3);
            self.marks.push(entry.clone());
            self.numbers.push(i + 1);
        }
        if !whole {
            return None;
        }
        while self.corners.len() > 1
            && self.corners[0].at.distance(self.corners[self.corners.len() - 1].at) < tol::SAME_POINT
        {
            self.corners.pop();
            self.own_radius.pop();
            self.marks.pop();
            self.numbers.pop();
            self.repeated += 1;
        }
        Some(())
    }

    /// Rounds all corners that have no radius of their own.
    pub(super) fn round(&mut self, radius: &Value<'a>) -> Option<()> {
        if self.ellipse.is_some() || self.is_drawn() {
            let given = if self.is_drawn() {
                "a radius for the corners of a drawing".to_owned()
            } else {
                format!("a radius for the corners of a \"{}\"", self.form)
            };
            let expected =
                if self.is_drawn() { "no radius: the drawing has its own" } else { "no radius: it has no corners" };
            radius.error(Kind::Conflict, given, expected, "take corner_radius out");
            return None;
        }
        let r = radius.length_from_zero(self.unit)?;
        for (corner, own) in self.corners.iter_mut().zip(&self.own_radius) {
            if !own {
                corner.radius = r;
            }
        }
        if self.form == "rectangle" {
            // The rounding that does not fit is then told where the radius stands.
            self.marks = vec![radius.clone(); 4];
        }
        Some(())
    }

    /// Number of sides as written: a repeated corner makes none; a circle or an ellipse has one. Of a drawing: as drawn.
    pub(super) fn sides(&self) -> usize {
        match &self.drawn {
            _ if self.ellipse.is_some() => 1,
            Some(drawn) => drawn.iter().map(|d| d.0 + 1).max().unwrap_or(0),
            None => self.corners.len(),
        }
    }

    /// The side as written that starts at a corner.
    fn side_at(&self, corner: usize) -> usize {
        self.drawn.as_ref().and_then(|d| d.get(corner)).map_or(corner, |d| d.0)
    }

    fn mark(&self, corner: usize) -> &Value<'a> {
        self.marks.get(corner).unwrap_or(&self.value)
    }

    fn corner_name(&self, corner: usize) -> String {
        let number = self.numbers.get(corner).copied().unwrap_or(corner + 1);
        let place = self.corners.get(corner).map_or_else(String::new, |c| format!(" at {}", at(c.at)));
        match self.drawn.as_ref().and_then(|d| d.get(corner)) {
            Some((_, what)) => format!("the corner{place} of {what}"),
            None => format!("corner {number}{place}"),
        }
    }

    /// Checks the shape and tidies it: corners on straight lines are left out. `None` after an error.
    pub(super) fn tidy(&self, likely: Likely) -> Option<Tidy> {
        self.tidy_but(likely, |_| false)
    }

    /// The same for a piece, whose sides are told and finished one by one: a corner on a straight line stays where `differ` says that
    /// the finishes of the sides as written that meet there are two, and where a curve goes over into a straight side.
    pub(super) fn tidy_piece(&self, differ: impl Fn(usize, usize) -> bool) -> Option<Tidy> {
        let n = self.corners.len().max(1);
        let differ = |i: usize| differ(self.side_at((i + n - 1) % n), self.side_at(i));
        let ends = curve_ends(&self.corners, differ);
        self.tidy_but(Likely::PIECE, |i| differ(i) || ends.get(i).copied().unwrap_or_default())
    }

    /// The same, but the corners of which `keep` says so stay.
    fn tidy_but(&self, likely: Likely, keep: impl Fn(usize) -> bool) -> Option<Tidy> {
        let shape = match &self.ellipse {
            Some(e) => e.clone(),
            None => Shape::Polygon(self.corners.clone()),
        };
        if !self.points_are_few() {
            let given = format!("an outline of more than {MOST_POINTS} points once its arcs are polylines");
            self.value.error(
                Kind::TooManyCorners,
                given,
                "a simpler outline",
                "leave out corners, or round fewer of them",
            );
            return None;
        }
        // The size of the drawing first: what is too thin for a saw is too thin for the checks below.
        let drawn = match &shape {
            Shape::Polygon(corners) => BBox::of(corners.iter().map(|c| &c.at)),
            Shape::Ellipse { .. } => shape.extent(),
        };
        if drawn.width() < LEAST_EXTENT || drawn.height() < LEAST_EXTENT {
            let given = format!("{} by {}", spoken(drawn.width().max(0.0)), spoken(drawn.height().max(0.0)));
            let flat = drawn.width() < tol::COLLINEAR || drawn.height() < tol::COLLINEAR;
            let few = self.ellipse.is_none() && (self.corners.len() < 3 || flat);
            let (kind, expected) = if few {
                (Kind::TooFewCorners, "3 or more distinct corners, not all on one line".to_owned())
            } else {
                (Kind::OutOfRange, format!("a {} of at least {} either way", likely.what, spoken(LEAST_EXTENT)))
            };
            self.value.error(kind, given, expected, "check the value and the unit");
            return None;
        }
        let (shape, tidied, sides) = match shape.tidy(keep) {
            Ok(tidy) => tidy,
            Err(fault) => {
                self.tell(&fault);
                return None;
            }
        };
        if !self.polylines_hold(&shape) {
            let given = "roundings that leave no outline";
            self.value.error(Kind::RoundingMisfit, given, "an outline with an area", "give smaller radii");
            return None;
        }
        let size = shape.extent();
        let worst = if size.width() > likely.most || size.height() > likely.most {
            size.width().max(size.height())
        } else {
            size.width().min(size.height())
        };
        likely.check(&self.value, worst, self.unit);
        if !self.is_drawn() {
            self.note_mended(tidied.reversed, tidied.repeated + self.repeated, tidied.collinear);
        }
        let sides = sides.into_iter().map(|s| self.side_at(s)).collect();
        Some(Tidy { shape, sides })
    }

    /// True if both polylines that may stand in for the shape are rings: what builds on them relies on it.
    fn polylines_hold(&self, shape: &Shape) -> bool {
        self.corners.iter().all(|c| c.radius == 0.0)
            || [Side::Outer, Side::Inner]
                .into_iter()
                .all(|side| Ring::tidy(&shape.flatten(side).points).is_ok_and(|(_, t)| !t.reversed))
    }

    fn note_mended(&self, reversed: bool, repeated: usize, collinear: usize) {
        let mut found = Vec::new();
        if reversed {
            found.push("corners that run clockwise".to_owned());
        }
        if repeated > 0 {
            found.push(count(repeated, "repeated corner"));
        }
        if collinear > 0 {
            found.push(format!("{} on straight sides", count(collinear, "corner")));
        }
        if !found.is_empty() {
            let expected = "each corner once, counter-clockwise";
            self.value.note(
                Kind::Tidied,
                found.join(", "),
                expected,
                "none needed: read as if written so; sides keep their order as written",
            );
        }
    }

    /// True if the polyline that stands in for the arcs has a bearable number of points (bounded from above, by the steps
    /// that [`crate::geom::curve`] takes).
    fn points_are_few(&self) -> bool {
        let n = self.corners.len();
        let mut points = n as f64;
        for (i, c) in self.corners.iter().enumerate() {
            if c.radius > 0.0 {
                let (a, b, d) = (self.corners[(i + n - 1) % n].at, c.at, self.corners[(i + 1) % n].at);
                let (u, v) = (b - a, d - b);
                let turn = u.cross(v).atan2(u.dot(v)).abs();
                let half = (1.0 - tol::FLATTEN / c.radius).clamp(-1.0, 1.0).acos();
                points += (turn / (2.0 * half * 0.9)).max(turn / (PI / 4.0)) + 3.0;
            }
        }
        points <= MOST_POINTS as f64
    }

    fn tell(&self, fault: &OutlineFault) {
        match *fault {
            OutlineFault::Ring(fault) => self.tell_ring(fault),
            OutlineFault::Rounding(misfit) => {
                let given = format!("{} rounded by {} mm", self.corner_name(misfit.corner), Decimal(misfit.radius, 3));
                let largest = (misfit.largest * 1000.0).floor() / 1000.0;
                let expected = format!(
                    "at most {} mm: the roundings of a side may not take more than its length",
                    Decimal(largest, 3)
                );
                self.mark(misfit.corner).error(Kind::RoundingMisfit, given, expected, "give a smaller radius");
            }
            OutlineFault::RoundedCrossing(p) => {
                let given = format!("roundings that make the outline touch itself near {}", at(p));
                self.value.error(
                    Kind::SelfCrossing,
                    given,
                    "an outline that does not touch itself",
                    "give smaller radii there",
                );
            }
        }
    }

    fn tell_ring(&self, fault: RingFault) {
        tell_ring(fault, &self.value, |i| self.mark(i).clone(), |i| self.corner_name(i));
    }
}

/// Says why corners make no outline. `mark` finds the value of a corner, `name` names it.
pub(super) fn tell_ring<'a>(
    fault: RingFault,
    whole: &Value<'a>,
    mark: impl Fn(usize) -> Value<'a>,
    name: impl Fn(usize) -> String,
) {
    match fault {
        RingFault::OutOfRange { index } => {
            mark(index).error(
                Kind::OutOfRange,
                name(index),
                "coordinates of at most 1 km",
                "check the value and the unit",
            );
        }
        RingFault::TooFew { .. } => {
            let expected = "3 or more distinct corners, not all on one line, in order round the outline";
            whole.error(Kind::TooFewCorners, whole.as_written(), expected, "add the missing corners");
        }
        RingFault::Crossing { at: p, sides: (i, j) } => {
            let given = format!("the side from {} and the side from {} meet at {}", name(i), name(j), at(p));
            let fix = "put the corners in order round the outline, each once";
            mark(j).error(Kind::SelfCrossing, given, "an outline that does not cross or touch itself", fix);
        }
    }
}

/// The entries of a list of corners, of a bearable number.
pub(super) fn corners_of<'a>(value: &Value<'a>) -> Option<Vec<Value<'a>>> {
    let entries = value.list("a list of corners [[x, y], ...]")?;
    if entries.len() > MOST_CORNERS {
        let given = count(entries.len(), "corner");
        value.error(
            Kind::TooManyCorners,
            given,
            format!("at most {MOST_CORNERS}"),
            "leave out corners that nobody can cut",
        );
        return None;
    }
    Some(entries)
}

/// The points of a list `[[x, y], ...]`, each with its value. `None` after an error.
pub(super) fn points<'a>(value: &Value<'a>, unit: Unit) -> Option<Vec<(Point, Value<'a>)>> {
    let entries = corners_of(value)?;
    let read: Vec<_> = entries.iter().map(|e| point(e, unit).map(|p| (p, e.clone()))).collect();
    read.into_iter().collect()
}

/// A point `[x, y]`, mm.
pub(super) fn point(value: &Value<'_>, unit: Unit) -> Option<Point> {
    let parts = value.list("a point [x, y]")?;
    if parts.len() != 2 {
        value.error(Kind::WrongCount, count(parts.len(), "number"), "2 numbers", "write a point as [x, y]");
        return None;
    }
    let (x, y) = (parts[0].length(unit), parts[1].length(unit));
    Some(pt(x?, y?))
}

fn sizes(value: &Value<'_>, unit: Unit, form: &str) -> Option<[f64; 2]> {
    let parts = value.list(form)?;
    if parts.len() != 2 {
        value.error(Kind::WrongCount, count(parts.len(), "number"), format!("2 numbers, {form}"), "give both sizes");
        return None;
    }
    let (a, b) = (parts[0].positive_length(unit), parts[1].positive_length(unit));
    Some([a?, b?])
}

/// "1 corner", "2 corners".
pub(super) fn count(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}
