//! Pieces as rectangles in line with the grain of a slab: what lies inside a piece at every turn that it may have.
//!
//! Frame: the slab turned back by its grain, so that the grain runs along x on every slab. A piece that wishes its grain
//! some way has one or two turns there, the same on all slabs that have a grain.

use super::PROOF_SLACK;
use crate::geom::{BBox, Point, Pose, Region, pt, rectangle, sum};
use crate::model::GrainWish;
use crate::rules::{Turns, claimed_at_least, turns};
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
    /// A turn in the frame of the grain, degrees, and the middle of the outline's box there.
    base: (f64, Point),
    /// Rectangles inside the piece at that turn, relative to that middle.
    cover: Vec<BBox>,
    /// True if half a turn about the middle changes nothing.
    symmetric: bool,
    /// The ways round where the grain fixes the turn.
    ways: Vec<Way>,
    /// Choices of rectangles that lie in the piece together at every turn that the grain allows, at least the gap apart from
    /// one another: lengths and depths, mm. None for a piece that may be turned freely.
    pub sizes: Vec<Vec<[f64; 2]>>,
}

/// Turns within this of one another (degrees) are looked at together at first, where a piece may be turned freely.
const PART: f64 = 15.0;

/// Half ranges of turns below this are not divided further, degrees.
const FINEST: f64 = 0.4;

/// True if the class has a form on that slab: both know where their grain runs.
pub fn in_line(space: &Space<'_>, class: usize, slab: usize) -> bool {
    matches!(turns(space.piece_of(class), &space.question.rack[slab]), Turns::Near { .. })
}

/// The form of a class; `None` if it holds no rectangle. `gap` is the least distance of two pieces, mm.
pub fn form(space: &Space<'_>, class: usize, gap: f64) -> Option<Form> {
    let piece = space.piece_of(class);
    let wish = if let GrainWish::Towards(wish) = piece.grain { Some(wish) } else { None };
    let stone = claimed_at_least(piece, space.limits());
    let at = |k: u32| -> (f64, Point, Region) {
        let turn = 180.0f64.mul_add(f64::from(k), -wish.unwrap_or(0.0)).rem_euclid(360.0);
        let turned = Pose::new(turn, pt(0.0, 0.0)).region(&stone);
        let centre = turned.bbox().centre();
        (turn, centre, Pose::new(0.0, pt(-centre.x, -centre.y)).region(&turned))
    };
    let (turn, centre, about) = at(0);
    let base = (turn, centre);
    let cover = rectangles(&about);
    if cover.is_empty() {
        return None;
    }
    let mut ways = vec![Way { turns: vec![base], cover: cover.clone() }];
    if !piece.one_way {
        let (turn, centre, about) = at(1);
        let cover = rectangles(&about);
        match ways.iter_mut().find(|w| same(&w.cover, &cover)) {
            Some(way) => way.turns.push((turn, centre)),
            None => ways.push(Way { turns: vec![(turn, centre)], cover }),
        }
    }
    let own: Vec<Point> = about.rings().flat_map(|r| r.points().to_vec()).collect();
    let symmetric = own.len() <= 200 && own.iter().all(|p| own.iter().any(|q| (*p + *q).norm() < 1e-6));
    let turned = |r: &BBox| match piece.grain_tolerance {
        0.0 => vec![*r],
        tolerance => blocks(r, 0.0, tolerance),
    };
    let held: Vec<BBox> =
        if piece.grain_tolerance <= 20.0 { cover.iter().flat_map(turned).collect() } else { Vec::new() };
    let sizes = (0..if wish.is_some() { held.len() } else { 0 })
        .map(|first| disjoint(&held, first, gap).iter().map(|r| [r.width(), r.height()]).collect())
        .collect();
    Some(Form { base, cover, symmetric, ways, sizes })
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

/// Upright rectangles that lie in `r` whenever it is turned about the origin by `off`, give or take `half` degrees: one along its
/// whole length, and several short ones along its middle line, which lose less of the depth.
fn blocks(r: &BBox, off: f64, half: f64) -> Vec<BBox> {
    let lying = r.width() >= r.height();
    let (long, short) = if lying { (r.width(), r.height()) } else { (r.height(), r.width()) };
    let middle = r.centre();
    let (far_along, far_across) = if lying { (middle.x, middle.y.abs()) } else { (middle.y, middle.x.abs()) };
    let turn = Pose::new(off, pt(0.0, 0.0));
    // How the long side runs once turned.
    let along = turn.apply(if lying { pt(1.0, 0.0) } else { pt(0.0, 1.0) });
    let (cos, sin) = (along.x.abs(), along.y.abs());
    let (half_sin, half_cos) = (half.to_radians().sin(), 1.0 - half.to_radians().cos());
    let mut out: Vec<BBox> = Vec::new();
    let count = (1.2 * long / short).ceil().clamp(1.0, 5.0);
    for parts in [1.0, count] {
        let length = long / parts;
        for k in 0..parts as u32 {
            let at = (f64::from(k) + 0.5) * length - long / 2.0;
            // Corners lie at most so far along the long side from the middle of the block, and so far from the middle of turning.
            let most = length / 2.0 + short / 2.0 * cos.min(sin) / cos.max(sin);
            let reach = (far_along + at).abs() + most;
            let wide = far_across + short / 2.0;
            // A point (x, y) moves by at most |x| (1 - cos) + |y| sin along x as the turn leaves `off`, and alike along y.
            let depth = short / 2.0 - reach * half_sin - wide * half_cos;
            let room = long / 2.0 - wide * half_sin - (far_along.abs() + long / 2.0) * half_cos;
            let mut step = length / 2.0;
            while step > LEAST_SIDE / 2.0 {
                // Half sizes (p, q) that use the whole depth.
                let (p, q) = if cos >= sin {
                    let p = step * cos;
                    (p, (depth - p * sin) / cos)
                } else {
                    let q = step * sin;
                    ((depth - q * cos) / sin, q)
                };
                let corner = p * cos + q * sin;
                if p.min(q) > LEAST_SIDE / 2.0 && at.abs() + corner <= room && corner <= most {
                    let c = turn.apply(if lying { middle + pt(at, 0.0) } else { middle + pt(0.0, at) });
                    out.push(BBox { min: c - pt(p, q), max: c + pt(p, q) });
                    break;
                }
                step *= 0.9;
            }
        }
        if count == 1.0 {
            break;
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

/// One way round of a class on a slab, or a range of turns.
#[derive(Clone, Debug)]
pub struct Seat {
    /// Rectangles inside the piece, relative to the middle.
    pub cover: Vec<BBox>,
    /// At least all places of the middle, as a convex loop in the frame of the grain.
    pub places: Vec<Point>,
    /// Box of the places.
    pub reach: BBox,
    /// True if the places fill their box.
    pub boxed: bool,
    /// The middle and half of a range of turns, degrees; none for a fixed turn.
    pub range: Option<(f64, f64)>,
}

impl Seat {
    fn new(cover: Vec<BBox>, points: &[Point], range: Option<(f64, f64)>) -> Self {
        // A hair more, so that the grid cannot fake a proof.
        let hair = [pt(-0.01, -0.01), pt(0.01, -0.01), pt(0.01, 0.01), pt(-0.01, 0.01)];
        let places = sum::convex_sum(&sum::hull(points), &hair);
        let reach = BBox::of(&places);
        let boxed = places.len() == 4 && places.iter().all(|p| reach.corners().iter().any(|c| c.distance(*p) < 1e-9));
        Self { cover, places, reach, boxed, range }
    }

    /// The two halves of its range, if it is worth dividing.
    pub fn halves(&self) -> Option<[(f64, f64); 2]> {
        let (middle, half) = self.range.filter(|r| r.1 > FINEST)?;
        Some([(middle - half / 2.0, half / 2.0), (middle + half / 2.0, half / 2.0)])
    }
}

/// The ways round in which a class may lie on a slab: fixed ones, or ranges that hold all turns. None: it cannot lie there.
pub fn seats(proof: &Space<'_>, form: &Form, class: usize, slab: usize) -> Vec<Seat> {
    let rack = &proof.question.rack[slab];
    let grain = rack.grain.unwrap_or(0.0);
    let ranges: Vec<(f64, f64)> = match turns(proof.piece_of(class), rack) {
        Turns::Near { centres, tolerance: 0.0 } => {
            return form.ways.iter().filter_map(|way| fixed(proof, way, class, slab, &centres, grain)).collect();
        }
        Turns::Near { centres, tolerance } => {
            // Half a turn more is nothing new to a piece that looks the same.
            let count = if form.symmetric { 1 } else { centres.len() };
            centres.iter().take(count).map(|c| (c - grain, tolerance)).collect()
        }
        Turns::Free => {
            let parts = if form.symmetric { 180.0 } else { 360.0 } / PART;
            (0..parts as u32).map(|k| (f64::from(k) * PART, PART / 2.0)).collect()
        }
    };
    ranges.into_iter().filter_map(|r| seat_within(proof, form, class, slab, r)).collect()
}

/// One way round, if it has places.
fn fixed(proof: &Space<'_>, way: &Way, class: usize, slab: usize, centres: &[f64], grain: f64) -> Option<Seat> {
    let mut points: Vec<Point> = Vec::new();
    for &(turn, centre) in &way.turns {
        // The very turns of `rules::turns`, for the sake of the cache.
        let near = |c: &&f64| crate::geom::pose::angle_off(**c, turn + grain, 360.0).abs() < 1e-6;
        let Some(&on_slab) = centres.iter().find(near) else { continue };
        let back = Pose::new(-grain, centre);
        let free = proof.free(class, on_slab, slab);
        points.extend(free.rings().flat_map(|r| r.points()).map(|&p| back.apply(p)));
    }
    (!points.is_empty()).then(|| Seat::new(way.cover.clone(), &points, None))
}

/// A class at all turns of a range (middle and half, degrees, in the frame of the grain); `None` if it has no place at any.
///
/// In the direction of each side of the hull of the room, the piece reaches at least so far at any of its turns.
pub fn seat_within(proof: &Space<'_>, form: &Form, class: usize, slab: usize, range: (f64, f64)) -> Option<Seat> {
    const PARTS: u32 = 8;
    let (middle, half) = range;
    let rack = &proof.question.rack[slab];
    let room = super::rows::room_in_line(rack, proof.limits(), PROOF_SLACK, rack.grain.unwrap_or(0.0));
    let corners: Vec<Point> = room.rings().flat_map(|r| r.points().to_vec()).collect();
    let hull = sum::hull(&corners);
    let (base, centre) = form.base;
    let outline = Pose::new(base, pt(-centre.x, -centre.y)).ring(&proof.piece_of(class).outline.ring);
    let own = sum::hull(outline.points());
    let turned: Vec<Vec<Point>> = (0..=PARTS)
        .map(|k| {
            let off = half.mul_add(2.0 * f64::from(k) / f64::from(PARTS) - 1.0, middle - base);
            let pose = Pose::new(off, pt(0.0, 0.0));
            own.iter().map(|&p| pose.apply(p)).collect()
        })
        .collect();
    let reach = |n: Point| -> f64 {
        // Between two turns the reach of a corner is a sine: where positive, never less than at one of the two; else by its sag.
        let one = |a: Point, b: Point| {
            let (low, high) = (a.dot(n).min(b.dot(n)), a.dot(n).max(b.dot(n)));
            if low > 0.0 || high == low {
                low
            } else {
                low - a.norm() * (1.0 - (half / f64::from(PARTS)).to_radians().cos())
            }
        };
        let least = |pair: &[Vec<Point>]| {
            pair[0].iter().zip(&pair[1]).map(|(&a, &b)| one(a, b)).fold(f64::NEG_INFINITY, f64::max)
        };
        turned.windows(2).map(least).fold(f64::INFINITY, f64::min)
    };
    let mut places = room.bbox().corners().to_vec();
    for (i, &p) in hull.iter().enumerate() {
        let q = hull[(i + 1) % hull.len()];
        if p.distance(q) < 1e-9 {
            continue;
        }
        let n = (q - p).left() * (-1.0 / p.distance(q));
        places = sum::clipped(&places, n, p.dot(n) - reach(n) + 1e-6);
    }
    let cover = || form.cover.iter().flat_map(|r| blocks(r, middle - base, half)).collect();
    (!places.is_empty()).then(|| Seat::new(cover(), &places, Some(range)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::curve::Corner;
    use crate::geom::{Ring, boolean};
    use crate::model::{Finish, Hidden, Job, Outline, Piece, Question, Shape, Shop, Slab, StoneClass};
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    fn question(corners: &[[f64; 2]], grain: GrainWish) -> Question {
        let finishes = vec![Finish::Raw; corners.len()];
        let shape = Shape::Polygon(corners.iter().map(|&at| Corner { at: at.into(), radius: 0.0 }).collect());
        let piece = Piece {
            name: "p".to_owned(),
            kind: 0,
            outline: Outline::new(shape, finishes),
            openings: Vec::new(),
            grain,
            grain_tolerance: 0.0,
            one_way: false,
            hidden: Hidden::default(),
        };
        let outline = Ring::tidy(&[pt(0.0, 20.0), pt(2900.0, 0.0), pt(2950.0, 1780.0), pt(10.0, 1700.0)]).unwrap().0;
        let slab = Slab {
            name: "s".to_owned(),
            material: "m".to_owned(),
            stone: StoneClass::Granite,
            stone_given: true,
            thickness: 30.0,
            lot: None,
            number: None,
            price: 1.0,
            outline,
            grain: Some(3.0),
            flaws: Vec::new(),
            tests: None,
            photo: None,
            from: None,
        };
        let job = Job { name: "j".to_owned(), material: "m".to_owned(), thickness: 30.0, pieces: vec![piece] };
        Question { jobs: vec![job], rack: vec![slab], shop: Shop::default() }
    }

    /// At every turn of a range the rectangles lie in the piece, and the places hold all true ones.
    #[test]
    fn ranges_of_turns_err_towards_possible() {
        let shapes: [&[[f64; 2]]; 4] = [
            &[[0.0, 0.0], [1900.0, 0.0], [1900.0, 620.0], [0.0, 620.0]],
            &[[0.0, 0.0], [700.0, 0.0], [700.0, 640.0], [0.0, 640.0]],
            &[[0.0, 0.0], [1500.0, 0.0], [1500.0, 600.0], [600.0, 600.0], [600.0, 1200.0], [0.0, 1200.0]],
            // The middle of its box lies outside its hull.
            &[[0.0, 100.0], [100.0, 0.0], [1000.0, 50.0], [60.0, 900.0]],
        ];
        let mut rng = ChaCha8Rng::seed_from_u64(11);
        let (mut covers, mut places) = (0, 0);
        for case in 0..200 {
            let question = question(shapes[case % 4], GrainWish::Towards([0.0, 90.0, 25.0][case % 3]));
            let space = Space::for_proofs(&question, PROOF_SLACK);
            let Some(form) = form(&space, 0, 6.0) else { continue };
            let range = (rng.random_range(0.0..360.0), [0.5, 2.0, 7.5][case / 4 % 3]);
            let seat = seat_within(&space, &form, 0, 0, range);
            let turn = range.0 + range.1 * rng.random_range(-1.0..=1.0);
            let room = super::super::rows::room_in_line(&question.rack[0], space.limits(), 0.0, 3.0);
            let stone = Pose::new(turn, pt(0.0, 0.0)).region(&space.piece_of(0).outline.ring.to_region());
            let middle = Pose::new(turn - form.base.0, pt(0.0, 0.0)).apply(form.base.1);
            for ring in sum::fits(&room, &sum::convex_parts(&stone)).rings() {
                let seat = seat.as_ref().expect("a place was found");
                for &p in ring.points() {
                    let p = p + middle;
                    let held = seat.places.iter().enumerate().all(|(i, &a)| {
                        let b = seat.places[(i + 1) % seat.places.len()];
                        (b - a).cross(p - a) >= -1e-3 * a.distance(b)
                    });
                    assert!(held, "{range:?} at {turn}: {p:?} is left out of {:?}", seat.places);
                    places += 1;
                }
            }
            let about = Pose::new(0.0, pt(-middle.x, -middle.y)).region(&stone);
            for r in seat.iter().flat_map(|s| &s.cover) {
                let out = boolean::difference(&Ring::rectangle(*r).to_region(), &about).area();
                assert!(out < 1e-3 * r.width().max(r.height()), "{range:?} at {turn}: {r:?} sticks out by {out} mm²");
                covers += 1;
            }
        }
        assert!(covers > 200 && places > 200, "{covers} {places}");
    }
}
