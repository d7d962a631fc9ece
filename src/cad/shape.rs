//! A loop of lines, arcs and curves as a [`Shape`]: arcs stay arcs, curves become polylines on the safe side.
//!
//! In: a loop, and on which side it may err. Out: a shape counter-clockwise, and what each of its sides was drawn as. Must not know: what
//! the loop is of, files.
//!
//! An arc from S to E whose tangents meet in M is the corner M rounded by its radius, between the corners S and E: the rounding takes
//! both sides whole. An arc of more than a quarter turn becomes several such corners, and where S and E lie on the straight lines before
//! and after, they are no corners. So nothing of an arc is lost.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::chain::Loop;
use super::path::{Stretch, Way, arc_of, sketched_area, turned};
use super::{Body, curve};
use crate::geom::curve::{Corner, Side, check_roundings, extent};
use crate::geom::point::orient;
use crate::geom::{Point, pt, tol};
use crate::model::Shape;

/// An arc between two lines is their rounded corner if the rounding's ends are within this (mm) of the arc's. Larger: a drawing would
/// be changed visibly. Smaller: files with four decimals would make two corners and an arc of what was drawn as a rounding.
const ROUNDING: f64 = 0.005;

/// Coordinates that were worked out are rounded to this many parts of a millimetre, so that a file that says 600 gives 600.
const PARTS: f64 = 1e6;

/// Arcs of one circle: middles and radii that agree within this (mm).
const ONE_CIRCLE: f64 = 1e-3;

/// What a side was drawn as.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drawn {
    /// A straight line.
    Line,
    /// An arc of this radius (mm) and angle (degrees; positive if it bulges out of the outline).
    Arc {
        /// Its radius, mm.
        radius: f64,
        /// Its angle, degrees.
        sweep: f64,
    },
    /// A curve, or an ellipse that is not upright.
    Curve,
    /// A full circle or an upright ellipse.
    Round,
}

/// A side as drawn. Rounded corners belong to the sides that they join, as everywhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrawnSide {
    /// What it is.
    pub drawn: Drawn,
    /// Where it starts, mm.
    pub from: Point,
    /// Where it ends, mm.
    pub to: Point,
    /// Its length, mm.
    pub length: f64,
    /// The entity, by its place in the drawing.
    pub entity: usize,
}

/// A loop as a shape.
#[derive(Clone, Debug, PartialEq)]
pub struct Converted {
    /// The shape; a polygon runs counter-clockwise and starts with the side that begins nearest to the lower left of its box.
    pub shape: Shape,
    /// For every side of the shape, by the corner where it starts, the side as drawn that it is part of.
    pub side_of: Vec<usize>,
    /// The sides as drawn, in the order of the shape.
    pub sides: Vec<DrawnSide>,
    /// For every side of the shape the entity that it comes from.
    pub entities: Vec<usize>,
    /// Largest distance (mm) of the shape to what was drawn.
    pub deviation: f64,
    /// How many curves became polylines.
    pub curves: usize,
}

/// A corner in the making: where, radius, the side as drawn that starts there.
struct Knee {
    corner: Corner,
    side: usize,
}

/// Converts a loop. Only curves lose anything: they become polylines within [`curve::DEVIATION`], outside the loop for [`Side::Outer`].
#[must_use]
pub fn convert(given: &Loop, err: Side) -> Converted {
    match given {
        Loop::Round { body, entity } => round(body, *entity, err),
        Loop::Path(stretches) => {
            // A curve may end where it starts; a line or an arc that does is none.
            let counts = |s: &&Stretch| s.from.distance(s.to) > tol::SAME_POINT || s.length() > 1.0;
            let mut all: Vec<Stretch> = stretches.iter().filter(counts).cloned().collect();
            if sketched_area(&all) < 0.0 {
                all = all.iter().rev().map(Stretch::reversed).collect();
            }
            one_circle(&all).unwrap_or_else(|| path(&all, err))
        }
    }
}

fn round(body: &Body, entity: usize, err: Side) -> Converted {
    let whole = |shape: Shape, length: f64, at: Point| Converted {
        shape,
        side_of: vec![0],
        sides: vec![DrawnSide { drawn: Drawn::Round, from: at, to: at, length, entity }],
        entities: vec![entity],
        deviation: 0.0,
        curves: 0,
    };
    match body {
        Body::Circle { centre, radius: r } => {
            whole(Shape::Ellipse { centre: *centre, half_x: *r, half_y: *r }, TAU * r, *centre + pt(*r, 0.0))
        }
        Body::Ellipse { centre, half_x, half_y, turn } => {
            // Upright if the ends of the axes are then less than a thousandth of a millimetre off.
            let quarter = (turn / 90.0).round();
            let off = (turn - quarter * 90.0).to_radians().abs() * half_x.max(*half_y);
            let equal = (half_x - half_y).abs() < 1e-9;
            let c = curve::of_ellipse(body);
            let length = c.as_ref().map_or(0.0, |c| curve::sketch(c).windows(2).map(|w| w[0].distance(w[1])).sum());
            if off < 1e-3 || equal {
                let swap = quarter.rem_euclid(2.0) >= 1.0;
                let (x, y) = if swap { (*half_y, *half_x) } else { (*half_x, *half_y) };
                return whole(Shape::Ellipse { centre: *centre, half_x: x, half_y: y }, length, *centre + pt(x, 0.0));
            }
            let Some(c) = c else { return whole(Shape::Polygon(Vec::new()), 0.0, *centre) };
            let (from, to) = curve::ends(&c);
            path(&[Stretch { from, to, way: Way::Curve(c), entity }], err)
        }
        Body::Path { .. } | Body::Curve(_) | Body::Text { .. } => whole(Shape::Polygon(Vec::new()), 0.0, pt(0.0, 0.0)),
    }
}

/// The circle, if all stretches are arcs of one and run round it once.
fn one_circle(all: &[Stretch]) -> Option<Converted> {
    let arcs: Vec<_> = all.iter().map(Stretch::arc).collect::<Option<_>>()?;
    let first = *arcs.first()?;
    let turn: f64 = arcs.iter().map(|a| a.sweep).sum();
    let same = arcs.iter().all(|a| {
        a.centre.distance(first.centre) < ONE_CIRCLE && (a.radius - first.radius).abs() < ONE_CIRCLE && a.sweep > 0.0
    });
    (same && (turn - TAU).abs() < 1e-3).then(|| {
        let centre = snapped(first.centre);
        let radius = (first.radius * PARTS).round() / PARTS;
        let mut found = round(&Body::Circle { centre, radius }, all[0].entity, Side::Outer);
        let off = arcs.iter().map(|a| a.centre.distance(centre) + (a.radius - radius).abs()).fold(0.0, f64::max);
        found.deviation = if off > 1e-5 { off } else { 0.0 };
        found
    })
}

/// Rounded to a nanometre.
fn snapped(p: Point) -> Point {
    pt((p.x * PARTS).round() / PARTS, (p.y * PARTS).round() / PARTS)
}

/// Where the lines a-b and c-d meet.
fn meet(a: Point, b: Point, c: Point, d: Point) -> Option<Point> {
    let (u, v) = (b - a, d - c);
    let cross = u.cross(v);
    (cross.abs() > 1e-6 * u.norm() * v.norm()).then(|| a + u * ((c - a).cross(v) / cross))
}

/// The arc at `i` as the rounded corner of the lines before and after it; with how far off it then is.
fn rounding(all: &[Stretch], i: usize) -> Option<(Corner, f64)> {
    let n = all.len();
    let (before, arc, after) = (&all[(i + n - 1) % n], &all[i], &all[(i + 1) % n]);
    if n < 3 || before.way != Way::Line || after.way != Way::Line {
        return None;
    }
    let circle = arc.arc()?;
    let m = snapped(meet(before.from, before.to, after.from, after.to)?);
    let (u, v) = (m - before.from, after.to - m);
    let turn = u.cross(v).atan2(u.dot(v));
    // The lines must meet beyond their own ends, and turn the way that the arc does. An arc of more than half a circle is an ear, as at
    // the corners that a bit leaves room for: it has the ends and the radius of a rounding, and is none.
    if turn * circle.sweep <= 0.0
        || circle.sweep.abs() >= PI
        || turn.abs() > 2.7
        || u.dot(before.to - before.from) <= 0.0
    {
        return None;
    }
    let radius = (circle.radius * PARTS).round() / PARTS;
    let t = radius * (turn.abs() / 2.0).tan();
    let (start, end) = (m - u * (t / u.norm()), m + v * (t / v.norm()));
    let off = start.distance(arc.from).max(end.distance(arc.to));
    (off <= ROUNDING).then_some((Corner { at: m, radius }, off))
}

fn path(all: &[Stretch], err: Side) -> Converted {
    let mut knees: Vec<Knee> = Vec::new();
    let mut sides: Vec<DrawnSide> = Vec::new();
    let (mut deviation, mut curves) = (0.0_f64, 0);
    let roundings: Vec<Option<(Corner, f64)>> = (0..all.len()).map(|i| rounding(all, i)).collect();
    let n = all.len();
    for (i, s) in all.iter().enumerate() {
        if let Some((corner, off)) = roundings[i] {
            // It belongs to the line that follows; that one takes the number below.
            knees.push(Knee { corner, side: usize::MAX });
            if off > 1e-5 {
                deviation = deviation.max(off);
            }
            continue;
        }
        let side = sides.len();
        let drawn = match &s.way {
            Way::Line => Drawn::Line,
            Way::Arc(b) => {
                let arc = arc_of(s.from, s.to, *b);
                Drawn::Arc { radius: arc.radius, sweep: arc.sweep.to_degrees() }
            }
            Way::Curve(_) => Drawn::Curve,
        };
        sides.push(DrawnSide { drawn, from: s.from, to: s.to, length: s.length(), entity: s.entity });
        if let Some(last) = knees.last_mut().filter(|k| k.side == usize::MAX) {
            last.side = side;
        }
        let mut push = |at: Point, radius: f64| knees.push(Knee { corner: Corner { at, radius }, side });
        if roundings[(i + n - 1) % n].is_none() {
            push(s.from, 0.0);
        }
        match &s.way {
            Way::Line => {}
            Way::Arc(bulge) => {
                let arc = arc_of(s.from, s.to, *bulge);
                let parts = ((arc.sweep.abs() - 1e-6) / FRAC_PI_2).ceil().max(1.0);
                let step = arc.sweep / parts;
                let out = (s.from - arc.centre) * (1.0 / (step / 2.0).cos());
                let radius = (arc.radius * PARTS).round() / PARTS;
                for k in 0..parts as usize {
                    push(snapped(arc.centre + turned(out, step * (k as f64 + 0.5))), radius);
                }
            }
            Way::Curve(c) => {
                let line = curve::polyline(c, err == Side::Outer);
                deviation = deviation.max(line.deviation);
                curves += 1;
                let inner = line.points.len().saturating_sub(1).max(1);
                for &p in &line.points[1..inner] {
                    push(snapped(p), 0.0);
                }
            }
        }
    }
    // A rounding at the very end belongs to the first side.
    for k in &mut knees {
        if k.side == usize::MAX {
            k.side = 0;
        }
    }
    finish(knees, sides, deviation, curves)
}

/// Puts the first side first, makes the roundings fit, and hands all over.
fn finish(mut knees: Vec<Knee>, sides: Vec<DrawnSide>, deviation: f64, curves: usize) -> Converted {
    let n = knees.len();
    let corners: Vec<Corner> = knees.iter().map(|k| k.corner).collect();
    let low = if n < 3 { pt(0.0, 0.0) } else { extent(&corners).min };
    let starts = (0..n).filter(|&i| n == 1 || knees[i].side != knees[(i + n - 1) % n].side);
    let far = |i: usize| corners[i].at.distance(low);
    let first = starts.min_by(|&i, &j| far(i).total_cmp(&far(j)).then(i.cmp(&j))).unwrap_or(0);
    knees.rotate_left(first);
    // Sides are numbered as they come.
    let shift = knees.first().map_or(0, |k| k.side);
    let m = sides.len().max(1);
    let side_of: Vec<usize> = knees.iter().map(|k| (k.side + m - shift) % m).collect();
    let mut sides = sides;
    if shift < sides.len() {
        sides.rotate_left(shift);
    }
    let mut corners: Vec<Corner> = knees.iter().map(|k| k.corner).collect();
    fit_roundings(&mut corners);
    let entities = side_of.iter().map(|&s| sides.get(s).map_or(0, |d| d.entity)).collect();
    Converted { shape: Shape::Polygon(corners), side_of, sides, entities, deviation, curves }
}

/// Makes roundings smaller by what rounding of coordinates took from their sides, with and without the sharp corners on straight lines.
///
/// What is missing by more than a thousandth of a millimetre stays as it is: that rounding does not fit, and whoever checks it says so.
pub fn fit_roundings(corners: &mut [Corner]) {
    const MOST: f64 = 1e-3;
    shrink(corners, MOST);
    let n = corners.len();
    let needless = |i: usize| {
        let (a, b, c) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
        let len = a.distance(c);
        corners[i].radius == 0.0 && orient(a, c, b).abs() <= tol::COLLINEAR * len && (b - a).dot(c - b) > 0.0
    };
    let kept: Vec<usize> = (0..n).filter(|&i| !needless(i)).collect();
    if kept.len() == n || kept.len() < 3 {
        return;
    }
    let mut fewer: Vec<Corner> = kept.iter().map(|&i| corners[i]).collect();
    shrink(&mut fewer, MOST);
    for (&i, c) in kept.iter().zip(&fewer) {
        corners[i].radius = c.radius;
    }
}

fn shrink(corners: &mut [Corner], most: f64) {
    for _ in 0..4 * corners.len() {
        let Err(misfit) = check_roundings(corners) else { return };
        let short = misfit.radius - misfit.largest;
        if !(0.0..=most * misfit.radius.max(1.0)).contains(&short) {
            return;
        }
        corners[misfit.corner].radius = misfit.largest * (1.0 - 1e-9);
    }
}
