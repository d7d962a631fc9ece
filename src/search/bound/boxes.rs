//! Pieces as rectangles in line with the grain of a slab: what lies inside a piece at every turn that it may have.
//!
//! Frame: the slab turned back by its grain, so that the grain runs along x on every slab. A piece that wishes its grain
//! some way has one or two turns there, the same on all slabs that have a grain.

use super::PROOF_SLACK;
use crate::geom::{BBox, Point, Pose, Region, pt, rectangle, sum};
use crate::model::{GrainWish, Slab};
use crate::rules::{Turns, turns};
use crate::search::space::Space;

/// Sides shorter than this give no rectangle, mm.
const LEAST_SIDE: f64 = 20.0;

/// Rectangles of one piece at most.
const RECTANGLES: usize = 3;

/// Coordinates along one axis from which rectangles are built, at most.
const COORDINATES: usize = 8;

/// One way round of a piece.
#[derive(Clone, Debug)]
pub struct Way {
    /// Turns in the frame of the grain, degrees, each with the middle of the outline's box there.
    pub turns: Vec<(f64, Point)>,
    /// Rectangles inside the piece at all of its turns, relative to that middle; they may overlap.
    pub cover: Vec<BBox>,
}

/// A class as rectangles.
#[derive(Clone, Debug)]
pub struct Form {
    /// The ways round.
    pub ways: Vec<Way>,
    /// Degrees that a turn may be off by.
    pub tolerance: f64,
    /// Choices of rectangles that lie in the piece together, at least the gap apart from one another: lengths and depths, mm.
    pub sizes: Vec<Vec<[f64; 2]>>,
}

/// True if the class has a form on that slab: both know where their grain runs.
pub fn in_line(space: &Space<'_>, class: usize, slab: usize) -> bool {
    matches!(turns(space.piece_of(class), &space.question.rack[slab]), Turns::Near { .. })
}

/// The form of a class; `None` if it may be turned freely, or holds no rectangle. `gap` is the least distance of two pieces, mm.
pub fn form(space: &Space<'_>, class: usize, gap: f64) -> Option<Form> {
    let piece = space.piece_of(class);
    let GrainWish::Towards(wish) = piece.grain else { return None };
    let tolerance = piece.grain_tolerance;
    if tolerance > 20.0 {
        return None;
    }
    let stone = if space.limits().use_drops { piece.stone() } else { piece.outline.ring.to_region() };
    let mut ways: Vec<Way> = Vec::new();
    for k in 0..if piece.one_way { 1 } else { 2 } {
        let turn = 180.0f64.mul_add(f64::from(k), -wish).rem_euclid(360.0);
        let turned = Pose::new(turn, pt(0.0, 0.0)).region(&stone);
        let centre = turned.bbox().centre();
        let about = Pose::new(0.0, pt(-centre.x, -centre.y)).region(&turned);
        let mut cover = rectangles(&about);
        if tolerance > 0.0 {
            cover = cover.iter().flat_map(|r| steady(r, tolerance)).collect();
        }
        if cover.is_empty() {
            return None;
        }
        match ways.iter_mut().find(|w| same(&w.cover, &cover)) {
            Some(way) => way.turns.push((turn, centre)),
            None => ways.push(Way { turns: vec![(turn, centre)], cover }),
        }
    }
    let cover = &ways.first()?.cover;
    let sizes = (0..cover.len())
        .map(|first| disjoint(cover, first, gap).iter().map(|r| [r.width(), r.height()]).collect())
        .collect();
    Some(Form { ways, tolerance, sizes })
}

fn same(a: &[BBox], b: &[BBox]) -> bool {
    let near = |p: Point, q: Point| p.distance(q) < 1e-6;
    a.len() == b.len() && a.iter().all(|r| b.iter().any(|s| near(r.min, s.min) && near(r.max, s.max)))
}

/// Large rectangles inside a region, largest first; none of them lies in another.
fn rectangles(region: &Region) -> Vec<BBox> {
    let axis = |across: fn(Point) -> f64, along: fn(Point) -> f64| -> Vec<f64> {
        let mut sides: Vec<(f64, f64)> = region
            .edges()
            .filter(|(a, b)| (across(*a) - across(*b)).abs() < 1e-6)
            .map(|(a, b)| ((along(a) - along(b)).abs(), across(a)))
            .filter(|s| s.0 >= LEAST_SIDE)
            .collect();
        sides.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
        let mut out: Vec<f64> = Vec::new();
        for (_, at) in sides {
            if out.len() < COORDINATES && !out.iter().any(|o| (o - at).abs() < 1e-6) {
                out.push(at);
            }
        }
        out.sort_by(f64::total_cmp);
        out
    };
    let xs = axis(|p| p.x, |p| p.y);
    let ys = axis(|p| p.y, |p| p.x);
    let mut found: Vec<BBox> = Vec::new();
    for (i, &x0) in xs.iter().enumerate() {
        for &x1 in &xs[i + 1..] {
            for (j, &y0) in ys.iter().enumerate() {
                for &y1 in &ys[j + 1..] {
                    let b = BBox { min: pt(x0, y0), max: pt(x1, y1) };
                    if b.width() >= LEAST_SIDE && b.height() >= LEAST_SIDE && inside(&b, region) {
                        found.push(b);
                    }
                }
            }
        }
    }
    if found.is_empty() {
        let want = rectangle::Want { least_side: LEAST_SIDE, least_area: 0.0, detail: 5.0 };
        found.extend(rectangle::largest(region, &[0.0], &want).map(|r| {
            let hair = pt(0.01, 0.01);
            BBox { min: r.corner + hair, max: r.corner + pt(r.size[0], r.size[1]) - hair }
        }));
        found.retain(|b| b.width() > 0.0 && b.height() > 0.0 && inside(b, region));
    }
    let within = |a: &BBox, b: &BBox| {
        a.min.x >= b.min.x && a.min.y >= b.min.y && a.max.x <= b.max.x && a.max.y <= b.max.y && a != b
    };
    let mut out: Vec<BBox> = found.iter().filter(|a| !found.iter().any(|b| within(a, b))).copied().collect();
    out.sort_by(|a, b| (b.width() * b.height()).total_cmp(&(a.width() * a.height())).then(a.min.x.total_cmp(&b.min.x)));
    out.truncate(RECTANGLES);
    out
}

/// True if the open box lies in the region.
fn inside(b: &BBox, region: &Region) -> bool {
    let hair = pt(1e-6, 1e-6);
    let b = BBox { min: b.min + hair, max: b.max - hair };
    region.contains(b.centre()) && !region.edges().any(|(p, q)| crosses(&b, p, q))
}

/// True if the segment has a point in the open box: it is clipped side by side, after Liang and Barsky (ACM Transactions on
/// Graphics 3, 1984, 1-22).
fn crosses(b: &BBox, p: Point, q: Point) -> bool {
    let d = q - p;
    let (mut from, mut to) = (0.0f64, 1.0f64);
    for (step, low, high) in [(d.x, b.min.x - p.x, b.max.x - p.x), (d.y, b.min.y - p.y, b.max.y - p.y)] {
        if step == 0.0 {
            if low >= 0.0 || high <= 0.0 {
                return false;
            }
            continue;
        }
        let (a, c) = (low / step, high / step);
        from = from.max(a.min(c));
        to = to.min(a.max(c));
    }
    from < to
}

/// Rectangles that lie in `r` however it is turned about the origin by up to `tolerance` degrees: its whole length, less the way
/// that its corners move; and its middle half, which moves less.
fn steady(r: &BBox, tolerance: f64) -> Vec<BBox> {
    let (sin, cos) = (tolerance.to_radians().sin(), tolerance.to_radians().cos());
    let mut out = Vec::new();
    for share in [1.0, 0.5] {
        let (width, height) = (r.width(), r.height());
        let part = if width >= height {
            let off = width * (1.0 - share) / 2.0;
            BBox { min: pt(r.min.x + off, r.min.y), max: pt(r.max.x - off, r.max.y) }
        } else {
            let off = height * (1.0 - share) / 2.0;
            BBox { min: pt(r.min.x, r.min.y + off), max: pt(r.max.x, r.max.y - off) }
        };
        let far = pt(part.min.x.abs().max(part.max.x.abs()), part.min.y.abs().max(part.max.y.abs()));
        // A point (x, y) moves to (x cos t - y sin t, y cos t + x sin t).
        let by = pt(far.y * sin + far.x * (1.0 - cos), far.x * sin + far.y * (1.0 - cos));
        let b = BBox { min: part.min + by, max: part.max - by };
        // The middle half may grow along its length without leaving `r`: it only needs to be no larger.
        if b.width() > LEAST_SIDE && b.height() > LEAST_SIDE {
            out.push(b);
        }
    }
    out
}

/// The rectangle `first`, and of each of the others the largest part that keeps the gap from all before it.
fn disjoint(cover: &[BBox], first: usize, gap: f64) -> Vec<BBox> {
    let mut out = vec![cover[first]];
    for (_, r) in cover.iter().enumerate().filter(|(i, _)| *i != first) {
        let mut rest = *r;
        for o in &out {
            let o = BBox { min: o.min - pt(gap, gap), max: o.max + pt(gap, gap) };
            if rest.min.x >= o.max.x || rest.max.x <= o.min.x || rest.min.y >= o.max.y || rest.max.y <= o.min.y {
                continue;
            }
            let parts = [
                BBox { max: pt(o.min.x, rest.max.y), ..rest },
                BBox { min: pt(o.max.x, rest.min.y), ..rest },
                BBox { max: pt(rest.max.x, o.min.y), ..rest },
                BBox { min: pt(rest.min.x, o.max.y), ..rest },
            ];
            let area = |b: &BBox| if b.width() > 0.0 && b.height() > 0.0 { b.width() * b.height() } else { 0.0 };
            let Some(best) = parts.into_iter().max_by(|a, b| area(a).total_cmp(&area(b))) else { continue };
            rest = best;
        }
        if rest.width() > 0.0 && rest.height() > 0.0 {
            out.push(rest);
        }
    }
    out
}

/// One way round of a class on a slab.
#[derive(Clone, Debug)]
pub struct Seat {
    /// As [`Way::cover`].
    pub cover: Vec<BBox>,
    /// At least all places of the middle, as a convex loop in the frame of the grain.
    pub places: Vec<Point>,
    /// Box of the places.
    pub reach: BBox,
    /// True if the places fill their box.
    pub boxed: bool,
}

/// The ways round in which a class may lie on a slab that has a grain. None: it cannot lie there.
pub fn seats(proof: &Space<'_>, form: &Form, class: usize, slab: usize) -> Vec<Seat> {
    let rack = &proof.question.rack[slab];
    let Some(grain) = rack.grain else { return Vec::new() };
    let mut out = Vec::new();
    for way in &form.ways {
        let mut points: Vec<Point> = Vec::new();
        for &(turn, centre) in &way.turns {
            if form.tolerance > 0.0 {
                points.extend(places_within(proof, class, turn, centre, form.tolerance, rack, grain));
                continue;
            }
            // The very turns of `rules::turns`, for the sake of the cache.
            let Turns::Near { centres, .. } = turns(proof.piece_of(class), rack) else { continue };
            let on_slab = turn + grain;
            let Some(&on_slab) =
                centres.iter().find(|c| crate::geom::pose::angle_off(**c, on_slab, 360.0).abs() < 1e-6)
            else {
                continue;
            };
            let back = Pose::new(-grain, centre);
            let free = proof.free(class, on_slab, slab);
            points.extend(free.rings().flat_map(|r| r.points()).map(|&p| back.apply(p)));
        }
        if points.is_empty() {
            continue;
        }
        // A hair more, so that the grid cannot fake a proof.
        let hair = [pt(-0.01, -0.01), pt(0.01, -0.01), pt(0.01, 0.01), pt(-0.01, 0.01)];
        let places = sum::convex_sum(&sum::hull(&points), &hair);
        let reach = BBox::of(&places);
        let boxed = places.len() == 4 && places.iter().all(|p| reach.corners().iter().any(|c| c.distance(*p) < 1e-9));
        out.push(Seat { cover: way.cover.clone(), places, reach, boxed });
    }
    out
}

/// At least the places of the middle of a piece whose turn is within `tolerance` of `turn`, in the frame of the grain: in the
/// direction of each side of the room's hull, the piece reaches at least so far at any of its turns.
fn places_within(
    proof: &Space<'_>,
    class: usize,
    turn: f64,
    centre: Point,
    tolerance: f64,
    rack: &Slab,
    grain: f64,
) -> Vec<Point> {
    let room = super::rows::room_in_line(rack, proof.limits(), PROOF_SLACK, grain);
    let corners: Vec<Point> = room.rings().flat_map(|r| r.points().to_vec()).collect();
    let hull = sum::hull(&corners);
    let stone = Pose::new(turn, pt(-centre.x, -centre.y)).region(&proof.piece_of(class).outline.ring.to_region());
    let own: Vec<Point> = stone.rings().flat_map(|r| r.points().to_vec()).collect();
    // The furthest reach of the piece towards `n`, at the turn of the range where it is least.
    let reach = |n: Point| -> f64 {
        const PARTS: u32 = 16;
        let at = |k: u32| tolerance * (2.0 * f64::from(k) / f64::from(PARTS) - 1.0);
        let far = |degrees: f64, p: Point| Pose::new(degrees, pt(0.0, 0.0)).apply(p).dot(n);
        (0..PARTS)
            .map(|k| {
                // Between two turns the reach of a corner in front is a sine below its top or across it: never less than at
                // one of the two.
                own.iter().map(|&p| far(at(k), p).min(far(at(k + 1), p))).filter(|&r| r > 0.0).fold(0.0f64, f64::max)
            })
            .fold(f64::INFINITY, f64::min)
    };
    let b = room.bbox();
    let mut places = vec![b.min, pt(b.max.x, b.min.y), b.max, pt(b.min.x, b.max.y)];
    for (i, &p) in hull.iter().enumerate() {
        let q = hull[(i + 1) % hull.len()];
        if p.distance(q) < 1e-9 {
            continue;
        }
        let n = (q - p).left() * (-1.0 / p.distance(q));
        let limit = p.dot(n) - reach(n);
        places = halved(&places, n, limit);
    }
    places
}

/// What of a convex loop has `n · p <= limit`.
pub fn halved(loop_: &[Point], n: Point, limit: f64) -> Vec<Point> {
    let mut out = Vec::with_capacity(loop_.len() + 1);
    for (i, &p) in loop_.iter().enumerate() {
        let q = loop_[(i + 1) % loop_.len()];
        let (a, b) = (p.dot(n) - limit, q.dot(n) - limit);
        if a <= 0.0 {
            out.push(p);
        }
        if (a < 0.0 && b > 0.0) || (a > 0.0 && b < 0.0) {
            out.push(p.lerp(q, a / (a - b)));
        }
    }
    out
}
