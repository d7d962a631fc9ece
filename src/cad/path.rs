//! Stretches: lines, arcs and curves with a start and an end, as paths and loops are made of.
//!
//! In: bodies of entities. Out: stretches with their tangents, lengths and points. Must not know: layers, files, what an outline is of.

use std::f64::consts::TAU;

use super::{Body, Curve, Vertex, curve};
use crate::geom::{BBox, Point};

/// Part of a path.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Where it starts, mm.
    pub from: Point,
    /// Where it ends, mm.
    pub to: Point,
    /// How it gets there.
    pub way: Way,
    /// The entity that it belongs to, by its place in the drawing.
    pub entity: usize,
}

/// How a stretch gets from its start to its end.
#[derive(Clone, Debug, PartialEq)]
pub enum Way {
    /// Straight.
    Line,
    /// By an arc with this bulge (never 0); see [`Vertex::bulge`].
    Arc(f64),
    /// By a curve, whose ends are the stretch's up to what chaining moved them.
    Curve(Curve),
}

/// The circle of an arc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Its middle, mm.
    pub centre: Point,
    /// Its radius, mm.
    pub radius: f64,
    /// Angle from start to end, radians; positive counter-clockwise.
    pub sweep: f64,
}

/// The circle of the arc from `from` to `to` with a bulge (not 0).
///
/// With the chord d and the bulge b = tan(sweep / 4): radius = |d| (1 + b²) / (4 |b|), and the middle lies (1 - b²) / (4 b) |d| to the
/// left of the chord's middle (half-angle formulas).
#[must_use]
pub fn arc_of(from: Point, to: Point, bulge: f64) -> Arc {
    let d = to - from;
    let centre = from.lerp(to, 0.5) + d.left() * ((1.0 - bulge * bulge) / (4.0 * bulge));
    let radius = d.norm() * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
    Arc { centre, radius, sweep: 4.0 * bulge.atan() }
}

/// A vector turned by an angle (radians, counter-clockwise).
#[must_use]
pub fn turned(v: Point, angle: f64) -> Point {
    let (s, c) = angle.sin_cos();
    Point { x: v.x * c - v.y * s, y: v.x * s + v.y * c }
}

impl Stretch {
    /// The stretch run through backwards.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let way = match &self.way {
            Way::Line => Way::Line,
            Way::Arc(b) => Way::Arc(-b),
            Way::Curve(c) => Way::Curve(curve::reversed(c)),
        };
        Self { from: self.to, to: self.from, way, entity: self.entity }
    }

    /// Its arc, if it is one.
    #[must_use]
    pub fn arc(&self) -> Option<Arc> {
        match self.way {
            Way::Arc(bulge) => Some(arc_of(self.from, self.to, bulge)),
            _ => None,
        }
    }

    /// Points along it, the end left out: enough to see on which side it runs, not to measure it.
    #[must_use]
    pub fn sketch(&self) -> Vec<Point> {
        /// Points of a full turn.
        const FINE: f64 = 64.0;
        match &self.way {
            Way::Line => vec![self.from],
            Way::Arc(bulge) => {
                let arc = arc_of(self.from, self.to, *bulge);
                let n = (arc.sweep.abs() / TAU * FINE).ceil().max(2.0);
                let out = self.from - arc.centre;
                (0..n as usize).map(|k| arc.centre + turned(out, arc.sweep * k as f64 / n)).collect()
            }
            Way::Curve(c) => {
                let mut points = curve::sketch(c);
                points.pop();
                if let Some(first) = points.first_mut() {
                    *first = self.from;
                }
                points
            }
        }
    }

    /// Its middle, halfway through its arc or curve, mm.
    #[must_use]
    pub fn middle(&self) -> Point {
        match &self.way {
            Way::Line => self.from.lerp(self.to, 0.5),
            Way::Arc(bulge) => {
                let arc = arc_of(self.from, self.to, *bulge);
                arc.centre + turned(self.from - arc.centre, arc.sweep / 2.0)
            }
            Way::Curve(c) => {
                let points = curve::sketch(c);
                points.get(points.len() / 2).copied().unwrap_or(self.from)
            }
        }
    }

    /// Its length, mm; of a curve that of a fine polyline.
    #[must_use]
    pub fn length(&self) -> f64 {
        match &self.way {
            Way::Line => self.from.distance(self.to),
            Way::Arc(bulge) => {
                let arc = arc_of(self.from, self.to, *bulge);
                arc.radius * arc.sweep.abs()
            }
            Way::Curve(c) => curve::sketch(c).windows(2).map(|w| w[0].distance(w[1])).sum(),
        }
    }
}

/// What a body is made of, if it is lines, arcs or curves; and whether it says of itself that it is closed. Stretches of no length
/// are left out.
#[must_use]
pub fn stretches(body: &Body, entity: usize) -> Option<(Vec<Stretch>, bool)> {
    match body {
        Body::Path { vertices, closed } => Some((path(vertices, *closed, entity), *closed)),
        Body::Curve(c) => {
            let (from, to) = curve::ends(c);
            Some((vec![Stretch { from, to, way: Way::Curve(c.clone()), entity }], false))
        }
        Body::Circle { .. } | Body::Ellipse { .. } | Body::Text { .. } => None,
    }
}

fn path(vertices: &[Vertex], closed: bool, entity: usize) -> Vec<Stretch> {
    let n = vertices.len();
    let last = if closed { n } else { n.saturating_sub(1) };
    (0..last)
        .map(|i| (vertices[i], vertices[(i + 1) % n].at))
        .filter(|(v, to)| v.at.distance(*to) > 0.0)
        .map(|(v, to)| {
            let way = if v.bulge.abs() < 1e-9 { Way::Line } else { Way::Arc(v.bulge) };
            Stretch { from: v.at, to, way, entity }
        })
        .collect()
}

/// Signed area of a closed run of stretches, by [`Stretch::sketch`]; positive if it runs counter-clockwise.
#[must_use]
pub fn sketched_area(stretches: &[Stretch]) -> f64 {
    let points: Vec<Point> = stretches.iter().flat_map(Stretch::sketch).collect();
    let Some(&o) = points.first() else { return 0.0 };
    points.windows(2).map(|w| (w[0] - o).cross(w[1] - o)).sum::<f64>() / 2.0
}

/// A box round a body, near enough for people, mm.
#[must_use]
pub fn rough_box(body: &Body) -> BBox {
    match body {
        Body::Circle { centre, radius } => {
            let r = Point { x: *radius, y: *radius };
            BBox { min: *centre - r, max: *centre + r }
        }
        Body::Ellipse { .. } => curve::of_ellipse(body).map_or(BBox::EMPTY, |c| BBox::of(&curve::sketch(&c))),
        Body::Text { at, .. } => BBox::of([at]),
        Body::Path { .. } | Body::Curve(_) => stretches(body, 0).map_or(BBox::EMPTY, |(all, _)| {
            let ends = all.last().map(|s| s.to);
            // A path without length is where it is all the same.
            let stays = if let Body::Path { vertices, .. } = body { vertices.first().map(|v| v.at) } else { None };
            all.iter().flat_map(Stretch::sketch).chain(ends).chain(stays).fold(BBox::EMPTY, BBox::with)
        }),
    }
}

/// The bulge of an arc over an angle (radians, signed, less than a full turn either way).
#[must_use]
pub fn bulge_of(sweep: f64) -> f64 {
    (sweep / 4.0).tan()
}

/// An angle brought into (0, 2π].
#[must_use]
pub fn positive_turn(angle: f64) -> f64 {
    let a = angle.rem_euclid(TAU);
    if a < 1e-12 { TAU } else { a }
}
