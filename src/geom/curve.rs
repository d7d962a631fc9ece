//! Curves as polylines that err on a chosen side, within [`tol::FLATTEN`].

use std::f64::consts::{PI, TAU};

use super::point::{BBox, Point, orient, pt};
use super::tol;

/// On which side of the true curve the polyline may lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The polyline encloses at least what the true line encloses.
    Outer,
    /// The polyline encloses at most what the true line encloses.
    Inner,
}

/// A corner of an outline: where its two straight sides would meet, and the radius that rounds it (0: sharp).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corner {
    /// Where the sides meet, mm.
    pub at: Point,
    /// Radius of the rounding, mm.
    pub radius: f64,
}

/// Where an edge of a flattened outline comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Part of the straight side that starts at this corner.
    Side(usize),
    /// Part of the rounding of this corner.
    Rounding(usize),
}

/// A flattened closed line; edge `i` runs from point `i` to the next and comes from `sources[i]`.
#[derive(Clone, Debug, PartialEq)]
pub struct Flattened {
    /// The points; the first is not repeated.
    pub points: Vec<Point>,
    /// One per edge.
    pub sources: Vec<Source>,
}

/// Why roundings do not fit an outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Misfit {
    /// Index of the corner.
    pub corner: usize,
    /// The radius that was asked for, mm.
    pub radius: f64,
    /// The largest that fits beside its neighbour, mm (0 where the line folds back on itself).
    pub largest: f64,
}

/// Number of equal steps for an arc of `sweep` radians so that chords (or tangents) stay within [`tol::FLATTEN`].
fn steps(radius: f64, sweep: f64, side_is_tangent: bool) -> usize {
    let half = if side_is_tangent {
        (radius / (radius + tol::FLATTEN)).acos()
    } else {
        (1.0 - tol::FLATTEN / radius).clamp(-1.0, 1.0).acos()
    };
    let least = (sweep.abs() / (PI / 4.0)).ceil().max(1.0);
    // A hair more, so that rounding never exceeds the bound.
    (sweep.abs() / (2.0 * half * 0.999)).ceil().max(least) as usize
}

/// The points of an arc about `c` from angle `from` over `sweep` (radians, signed), both ends included.
///
/// With `tangent`, the inner points lie outside the arc, where tangents at equal steps meet; the ends stay on it.
fn arc(c: Point, radius: f64, from: f64, sweep: f64, tangent: bool) -> Vec<Point> {
    let at = |r: f64, a: f64| c + pt(r * a.cos(), r * a.sin());
    let n = steps(radius, sweep, tangent);
    let step = sweep / n as f64;
    let mut points = vec![at(radius, from)];
    if tangent {
        let r = radius / (step / 2.0).cos();
        points.extend((0..n).map(|k| at(r, from + (k as f64 + 0.5) * step)));
    } else {
        points.extend((1..n).map(|k| at(radius, from + k as f64 * step)));
    }
    points.push(at(radius, from + sweep));
    points
}

/// Length of the tangent that a rounding of `radius` takes from each side at corner `b` between `a` and `c`.
fn tangent_length(a: Point, b: Point, c: Point, radius: f64) -> f64 {
    if radius == 0.0 {
        return 0.0;
    }
    let (u, v) = (b - a, c - b);
    let turn = u.cross(v).atan2(u.dot(v)).abs();
    radius * (turn / 2.0).tan()
}

/// Checks that every rounding fits between its neighbours.
///
/// # Errors
/// The first [`Misfit`], in corner order.
pub fn check_roundings(corners: &[Corner]) -> Result<(), Misfit> {
    let n = corners.len();
    let at = |i: usize| corners[(i + n) % n].at;
    let needs = |i: usize| tangent_length(at(i + n - 1), at(i), at(i + 1), corners[i % n].radius);
    for (i, &Corner { radius, .. }) in corners.iter().enumerate() {
        if radius == 0.0 {
            continue;
        }
        let need = needs(i);
        if radius.is_nan() || radius < 0.0 || !need.is_finite() {
            return Err(Misfit { corner: i, radius, largest: 0.0 });
        }
        let mut least = f64::INFINITY;
        for (other, side) in
            [((i + n - 1) % n, at(i + n - 1).distance(at(i))), ((i + 1) % n, at(i).distance(at(i + 1)))]
        {
            // Where both corners are rounded the room is shared; what fits is what the other leaves, or half the side
            // if the other one is greedy too. A corner content with half is not to blame: the other one is, in its turn.
            let room = (side - needs(other)).max(side / 2.0);
            if need > room + 1e-9 * side {
                least = least.min(room);
            }
        }
        if least.is_finite() {
            return Err(Misfit { corner: i, radius, largest: (radius * least / need).min(radius) });
        }
    }
    Ok(())
}

/// A polygon with rounded corners as a polyline. The corners must run counter-clockwise and pass
/// [`check_roundings`].
#[must_use]
pub fn rounded(corners: &[Corner], side: Side) -> Flattened {
    let n = corners.len();
    let mut points: Vec<Point> = Vec::new();
    let mut sources = Vec::new();
    let push = |points: &mut Vec<Point>, sources: &mut Vec<Source>, p: Point, source: Source| {
        // A rounding that takes the whole side leaves a side of no length: the point is there already.
        if points.last().is_some_and(|q| q.distance(p) < tol::SAME_POINT) {
            sources.pop();
        } else {
            points.push(p);
        }
        sources.push(source);
    };
    for i in 0..n {
        let (a, b, c) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
        let r = corners[i].radius;
        let (u, v) = (b - a, c - b);
        let turn = u.cross(v).atan2(u.dot(v));
        if r == 0.0 || turn == 0.0 {
            push(&mut points, &mut sources, b, Source::Side(i));
            continue;
        }
        let t = r * (turn.abs() / 2.0).tan();
        let start = b - u * (t / u.norm());
        let inward = u.left() * (turn.signum() * r / u.norm());
        let centre = start + inward;
        let radial = start - centre;
        let convex = turn > 0.0;
        let tangent = convex == (side == Side::Outer);
        let arc = arc(centre, r, radial.y.atan2(radial.x), turn, tangent);
        let last = arc.len() - 1;
        for (k, p) in arc.into_iter().enumerate() {
            push(&mut points, &mut sources, p, if k == last { Source::Side(i) } else { Source::Rounding(i) });
        }
    }
    if points.len() > 1 && points[points.len() - 1].distance(points[0]) < tol::SAME_POINT {
        // The last side has no length: the ring closes onto its first point.
        points.pop();
        sources.pop();
    }
    Flattened { points, sources }
}

/// An axis-parallel ellipse with the given half axes (a circle if equal) as a polyline; all edges are side 0.
#[must_use]
pub fn ellipse(centre: Point, half_x: f64, half_y: f64, side: Side) -> Flattened {
    // The affine image of a regular polygon round (or in) the unit circle: it errs on the same side, by at most the
    // larger half axis times the unit circle's error.
    let n = steps(half_x.max(half_y), TAU, side == Side::Outer).max(8);
    let n = n.div_ceil(4) * 4;
    let step = TAU / n as f64;
    let (r, offset) = match side {
        Side::Outer => (1.0 / (step / 2.0).cos(), 0.5),
        Side::Inner => (1.0, 0.0),
    };
    let points = (0..n)
        .map(|k| {
            let a = (k as f64 + offset) * step;
            centre + pt(half_x * r * a.cos(), half_y * r * a.sin())
        })
        .collect();
    Flattened { points, sources: vec![Source::Side(0); n] }
}

/// A polygon round the circle of `radius` about the origin: the circle lies inside it, and no point of it is farther out
/// than `radius + excess` (as long as that takes no more than 4096 sides).
///
/// Its sides touch the circle; their outward normals include the four axes and the given `normals`, so that straight
/// borders in those directions are offset exactly.
#[must_use]
pub fn disc_outside(radius: f64, excess: f64, normals: &[Point]) -> Vec<Point> {
    let half = (radius / (radius + excess.max(1e-9))).acos();
    // 4096 corners keep an excess of 1 µm round 3 m; the cap only stops absurd arguments from asking for millions.
    let n = ((PI / half).ceil() as usize).clamp(8, 4096).div_ceil(4) * 4;
    let mut angles: Vec<f64> = (0..n).map(|k| k as f64 * TAU / n as f64).collect();
    angles.extend(normals.iter().map(|d| d.y.atan2(d.x).rem_euclid(TAU)));
    angles.sort_by(f64::total_cmp);
    // Sides that nearly share a direction would meet far off or not at all; the first of them stands for all.
    angles.dedup_by(|b, a| *b - *a < 1e-7);
    if angles.len() > 1 && angles[0] + TAU - angles[angles.len() - 1] < 1e-7 {
        angles.pop();
    }
    (0..angles.len())
        .map(|k| {
            let a = angles[k];
            let b = if k + 1 < angles.len() { angles[k + 1] } else { angles[0] + TAU };
            let r = radius / ((b - a) / 2.0).cos();
            let mid = (a + b) / 2.0;
            pt(r * mid.cos(), r * mid.sin())
        })
        .collect()
}

/// The exact bounding box of a rounded polygon (corners counter-clockwise).
#[must_use]
pub fn extent(corners: &[Corner]) -> BBox {
    let n = corners.len();
    let mut b = BBox::EMPTY;
    for i in 0..n {
        let (p, q, s) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
        let r = corners[i].radius;
        let turn = {
            let (u, v) = (q - p, s - q);
            u.cross(v).atan2(u.dot(v))
        };
        if r == 0.0 || turn == 0.0 {
            b = b.with(q);
            continue;
        }
        let (u, v) = (q - p, s - q);
        let t = r * (turn.abs() / 2.0).tan();
        let (start, end) = (q - u * (t / u.norm()), q + v * (t / v.norm()));
        b = b.with(start).with(end);
        if turn > 0.0 {
            let centre = start + u.left() * (r / u.norm());
            for d in [pt(1.0, 0.0), pt(0.0, 1.0), pt(-1.0, 0.0), pt(0.0, -1.0)] {
                // The extreme point lies on the arc if its direction is between the two normals.
                if orient(pt(0.0, 0.0), start - centre, d) >= 0.0 && orient(pt(0.0, 0.0), d, end - centre) >= 0.0 {
                    b = b.with(centre + d * r);
                }
            }
        }
    }
    b
}

/// Length of an ellipse by its half axes, mm, by the arithmetic-geometric mean: `2 pi (a² - sum 2^(k-1) c_k²) / M(a, b)` with
/// `c_0² = a² - b²` and `c_(k+1) = (a_k - b_k) / 2` (NIST Digital Library of Mathematical Functions, 19.8.1 and 19.8.6, with
/// the complete integral of the second kind). Exact to the last digits of a float after a few steps.
#[must_use]
pub fn ellipse_length(half_x: f64, half_y: f64) -> f64 {
    let (first, second) = (half_x.max(half_y), half_x.min(half_y));
    if second <= 0.0 {
        return 4.0 * first.max(0.0);
    }
    let (mut a, mut b) = (first, second);
    let mut sum = (a * a - b * b) / 2.0;
    let mut weight = 1.0;
    // Twenty steps are more than any pair of floats needs: differences shrink quadratically.
    for _ in 0..20 {
        let c = (a - b) / 2.0;
        if c <= a * 1e-17 {
            break;
        }
        sum += weight * c * c;
        weight *= 2.0;
        (a, b) = ((a + b) / 2.0, (a * b).sqrt());
    }
    2.0 * PI * (first * first - sum) / a
}
