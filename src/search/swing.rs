//! Bodies of one slab turned a little as well as moved, where their grain leaves a range of turns: overlaps closed, margins
//! widened.
//!
//! Two convex parts are apart where a line parts them (as J. Kallrath keeps polygons apart that turn freely, "Cutting circles
//! and polygons from area-minimizing rectangles", Journal of Global Optimization 43, 2009; from memory). The variables are
//! shifts, turns, and how each of these lines slants; near a layout all is linear but for terms of second order, so steps
//! are short, and what comes out is measured on the parts themselves before it counts.

use super::legal::{MOVE, OVERLAP, STEPS, moves};
use super::lp::{Outcome, Programme};
use super::space::{Space, published_turn};
use super::state::{Cut, Spot};
use crate::geom::parting::parting;
use crate::geom::pose::angle_off;
use crate::geom::sum::Convex;
use crate::geom::{BBox, Point, Region, pt, sum, tol};
use crate::model::Limits;
use crate::rules::{Against, Turns, clearance, turns};

/// Round corners of what is forbidden as polygons: at most this much too large, mm.
const EXCESS: f64 = 0.02;

/// The longest step of a body, and of its corners as it turns, mm. Longer: terms of second order spoil more steps. Shorter: more
/// steps.
const REACH: f64 = 15.0;

/// Steps shorter than this are not worth a programme, mm.
const SHORTEST: f64 = 2e-3;

/// Clearances are asked for by so much more than must be, mm: what is left of second order must not break one.
const GIVE: f64 = 2.0 * tol::LENIENCE;

/// What never moves, as convex parts in the slab frame, and how far a layer of a body must keep from each.
struct Fixed {
    parts: Vec<(Convex, BBox)>,
    body: usize,
    layer: usize,
    need: f64,
    flaw: bool,
}

/// One body as it is turned and moved.
#[derive(Clone, Debug)]
struct Mover {
    spot: Spot,
    /// How far it may still be turned, degrees: clockwise (at most 0) and counter-clockwise.
    range: (f64, f64),
    /// True if it must stay where it is.
    stays: bool,
    /// The farthest corner from the middle of its box, mm.
    radius: f64,
}

/// Two convex parts near one another, the second part of a body that moves.
struct Near<'p> {
    from: Option<usize>,
    to: usize,
    first: &'p [Point],
    second: &'p [Point],
    need: f64,
    flaw: bool,
}

/// A layout of one slab with all that bears on it.
struct Scene<'s, 'q> {
    space: &'s Space<'q>,
    movers: Vec<Mover>,
    fixed: Vec<Fixed>,
    /// Steps of work so far, each about a multiplication.
    work: u64,
}

/// The layers of all bodies where they lie, as convex parts with their boxes: body, layer, part.
type Layers = Vec<Vec<Vec<(Convex, BBox)>>>;

/// How far a layout is from what is wanted.
#[derive(Clone, Copy, Debug)]
struct Measure {
    /// The most by which a clearance falls short, mm.
    short: f64,
    /// The least distance to a flaw beyond what is needed, mm, as far as it was looked for.
    margin: f64,
}

fn boxed(parts: Vec<Convex>) -> Vec<(Convex, BBox)> {
    parts.into_iter().filter(|p| p.len() > 2).map(|p| (p.clone(), BBox::of(&p))).collect()
}

/// By how much a body may be turned where it lies, degrees: clockwise (at most 0) and counter-clockwise.
#[must_use]
pub fn range(space: &Space<'_>, slab: usize, spot: &Spot) -> (f64, f64) {
    match turns(space.piece_of(spot.class), &space.question.rack[slab]) {
        Turns::Free => (-180.0, 180.0),
        Turns::Near { centres, tolerance } => {
            let offs = centres.iter().map(|&c| angle_off(spot.turn, c, 360.0));
            let Some(off) = offs.min_by(|a, b| a.abs().total_cmp(&b.abs())) else { return (0.0, 0.0) };
            ((-tolerance - off).min(0.0), (tolerance - off).max(0.0))
        }
    }
}

/// True if some body of the cut may be turned a little.
#[must_use]
pub fn can_turn(space: &Space<'_>, cut: &Cut) -> bool {
    cut.spots.iter().any(|s| range(space, cut.slab, s) != (0.0, 0.0))
}

impl<'s, 'q> Scene<'s, 'q> {
    fn new(space: &'s Space<'q>, cut: &Cut, keep: Option<&Region>, stays: &[bool]) -> Self {
        let (slab, limits) = (cut.slab, space.limits());
        let rack = &space.question.rack[slab];
        let movers = cut.spots.iter().zip(stays).map(|(spot, &stays)| {
            let body = space.body(spot.class, spot.turn);
            let c = body.bbox.centre();
            let radius =
                body.stone().region.rings().flat_map(|r| r.points()).map(|p| p.distance(c)).fold(1.0, f64::max);
            let range = if stays { (0.0, 0.0) } else { range(space, slab, spot) };
            Mover { spot: *spot, range, stays, radius }
        });
        let mut out = Self { space, movers: movers.collect(), fixed: Vec::new(), work: 0 };
        let around = boxed(sum::convex_parts(&sum::outside(&space.slab(slab).room, 4.0 * REACH)));
        let still: Vec<(Vec<(Convex, BBox)>, f64)> = space
            .past
            .pins(slab)
            .map(|r| {
                let body = space.body(r.spot.class, r.spot.turn);
                (boxed(moved(&body.stone().parts, r.spot.shift)), limits.gap)
            })
            .chain(keep.map(|k| (boxed(sum::convex_parts(k)), limits.gap)))
            .collect();
        for (body, spot) in cut.spots.iter().enumerate() {
            let rim = Fixed { parts: around.clone(), body, layer: 0, need: 0.0, flaw: false };
            out.fixed.push(rim);
            for (parts, need) in &still {
                out.fixed.push(Fixed { parts: parts.clone(), body, layer: 0, need: *need, flaw: false });
            }
            let layers = &space.body(spot.class, spot.turn).layers;
            for flaw in &rack.flaws {
                let against = Against::Flaw(Limits::forbidden(flaw.allow));
                for (layer, shape) in layers.iter().enumerate() {
                    if let Some(need) = clearance(shape.layer, against, limits) {
                        let parts = boxed(flaw.grown_parts(need, EXCESS));
                        out.fixed.push(Fixed { parts, body, layer, need: 0.0, flaw: true });
                    }
                }
            }
        }
        out
    }

    fn layers(&self) -> Layers {
        let of = |m: &Mover| {
            let body = self.space.body(m.spot.class, m.spot.turn);
            body.layers.iter().map(|l| boxed(moved(&l.parts, m.spot.shift))).collect()
        };
        self.movers.iter().map(of).collect()
    }

    /// All pairs of parts that are nearer than what they need and `window` (mm) more; flaws than `wide` more.
    fn near<'p>(&'p self, layers: &'p Layers, window: f64, wide: f64) -> Vec<Near<'p>> {
        let mut out = Vec::new();
        for f in &self.fixed {
            let within = f.need + if f.flaw { wide } else { window };
            for (second, reach) in &layers[f.body][f.layer] {
                for (first, _) in f.parts.iter().filter(|(_, b)| b.gap(reach) <= within) {
                    out.push(Near { from: None, to: f.body, first, second, need: f.need, flaw: f.flaw });
                }
            }
        }
        let need = self.space.limits().gap;
        for (to, of_second) in layers.iter().enumerate() {
            for (from, of_first) in layers[..to].iter().enumerate() {
                for (second, reach) in &of_second[0] {
                    for (first, _) in of_first[0].iter().filter(|(_, b)| b.gap(reach) <= need + window) {
                        out.push(Near { from: Some(from), to, first, second, need, flaw: false });
                    }
                }
            }
        }
        out
    }

    fn measure(&self, layers: &Layers, wide: f64) -> Measure {
        let mut out = Measure { short: 0.0, margin: f64::INFINITY };
        for n in self.near(layers, 0.0, wide.max(0.0)) {
            let spare = parting(n.first, n.second).distance - n.need;
            out.short = out.short.max(-spare);
            if n.flaw {
                out.margin = out.margin.min(spare);
            }
        }
        out
    }

    /// One programme: the bodies where they lie best near where they are; `None` if it has no solution. With `widen`, the margin
    /// is to be as wide as can be, up to so many mm, and is now as given; else moves are to be as small as can be.
    fn step(&mut self, layers: &Layers, reach: f64, short: f64, widen: Option<(f64, f64)>) -> Option<Vec<Mover>> {
        let mut lp = Programme::default();
        let cost = if widen.is_some() { MOVE } else { 1.0 };
        // By body: right, left, up, down; counter-clockwise, clockwise (mm at its radius).
        for m in &self.movers {
            for _ in 0..4 {
                lp.variable(cost, 0.0, if m.stays { 0.0 } else { reach });
            }
            for most in [m.range.1, -m.range.0] {
                lp.variable(cost, 0.0, (most.to_radians() * m.radius).min(reach));
            }
        }
        let overlap = lp.variable(OVERLAP, 0.0, short + 1.0);
        let widest = widen.map(|(now, most)| (now + reach).min(most));
        let missing = widest.map(|w| (w, lp.variable(1.0, 0.0, w + short + 1.0)));
        let slack = GIVE;
        let (window, wide) = (4.0 * reach + short, 4.0 * reach + short + widest.unwrap_or(0.0));
        let near = self.near(layers, window, wide);
        let middle = |i: usize| {
            let m = &self.movers[i];
            self.space.body(m.spot.class, m.spot.turn).bbox.centre() + m.spot.shift
        };
        let mut work = 0;
        for n in &near {
            let spread = missing.filter(|_| n.flaw);
            work += 4 * (n.first.len() * n.second.len()) as u64;
            let apart = parting(n.first, n.second);
            let want = n.need + slack + spread.map_or(0.0, |s| s.0);
            // Too far off to matter, however the two move and turn.
            if apart.distance - want > 4.0 * std::f64::consts::SQRT_2 * reach {
                continue;
            }
            let normal = apart.normal;
            let turns = |i: usize| self.movers[i].range != (0.0, 0.0);
            let any = turns(n.to) || n.from.is_some_and(turns);
            // The parting line may slant by as much as the bodies may turn.
            let radius = n.from.map_or(f64::INFINITY, |i| self.movers[i].radius).min(self.movers[n.to].radius);
            let most = if any { 2.0 * reach / radius } else { 0.0 };
            let slant = any.then(|| [lp.variable(MOVE, 0.0, 2.0 * reach), lp.variable(MOVE, 0.0, 2.0 * reach)]);
            let along = normal.left();
            for &v in &supports(n.second, -normal, 2.0 * most) {
                for &u in &supports(n.first, normal, 2.0 * most) {
                    let by = v - u;
                    let mut terms: Vec<(usize, f64)> = Vec::with_capacity(20);
                    for (body, at, sign) in [(Some(n.to), v, 1.0), (n.from, u, -1.0)] {
                        let Some(i) = body else { continue };
                        let n = normal * sign;
                        terms.extend(moves(6 * i, n));
                        let swing = n.dot((at - middle(i)).left()) / self.movers[i].radius;
                        terms.extend([(6 * i + 4, swing), (6 * i + 5, -swing)]);
                    }
                    if let Some([one, other]) = slant {
                        let swing = along.dot(by) / radius;
                        terms.extend([(one, swing), (other, -swing)]);
                    }
                    terms.push((overlap, 1.0));
                    if let Some((_, missing)) = spread {
                        terms.push((missing, 1.0));
                    }
                    lp.row(terms, want - normal.dot(by));
                }
            }
        }
        let (outcome, spent) = lp.solve(STEPS);
        self.work += work + spent;
        let Outcome::Solved(x) = outcome else { return None };
        let to = self.movers.iter().enumerate().map(|(i, m)| {
            let by = pt(x[6 * i] - x[6 * i + 1], x[6 * i + 2] - x[6 * i + 3]);
            self.turned(m, by, ((x[6 * i + 4] - x[6 * i + 5]) / m.radius).to_degrees())
        });
        Some(to.collect())
    }

    /// A body moved by a vector and turned by some degrees about the middle of its box.
    fn turned(&self, m: &Mover, by: Point, degrees: f64) -> Mover {
        let turn = if degrees == 0.0 { m.spot.turn } else { published_turn(m.spot.turn + degrees) };
        let done = angle_off(turn, m.spot.turn, 360.0);
        let spot = self.space.turned(&m.spot, turn, by);
        let range = ((m.range.0 - done).min(0.0), (m.range.1 - done).max(0.0));
        Mover { spot, range: if m.range == (0.0, 0.0) { m.range } else { range }, ..m.clone() }
    }

    /// Moves and turns everything until no clearance falls short and, with `widen`, the margin (at most so many mm) is as wide as
    /// it gets, in at most so many steps. True if no clearance falls short then.
    fn strive(&mut self, widen: Option<f64>, steps: usize) -> bool {
        let most = widen.unwrap_or(0.0);
        let mut layers = self.layers();
        let mut now = self.measure(&layers, most);
        let mut reach = REACH;
        // What lacks comes first; then the margin.
        let value = |m: &Measure| OVERLAP * m.short - if widen.is_some() { m.margin.min(most) } else { 0.0 };
        for _ in 0..steps {
            if reach < SHORTEST || (now.short <= 0.0 && widen.is_none_or(|w| now.margin >= w)) {
                break;
            }
            let margin = widen.map(|w| (now.margin.min(w), w));
            let Some(to) = self.step(&layers, reach, now.short, margin) else { break };
            let before = std::mem::replace(&mut self.movers, to);
            let then_layers = self.layers();
            let then = self.measure(&then_layers, most);
            if value(&then) < value(&now) - 1e-6 {
                let small = value(&then) > value(&now) - 0.01 && then.short <= 0.0;
                (layers, now) = (then_layers, then);
                if small {
                    break;
                }
            } else {
                self.movers = before;
                reach *= 0.3;
            }
        }
        now.short <= 0.0
    }
}

/// The parts moved by a vector.
fn moved(parts: &[Convex], by: Point) -> Vec<Convex> {
    parts.iter().map(|p| p.iter().map(|&q| q + by).collect()).collect()
}

/// The corners of a convex loop that are the farthest along a direction, also after the loop is turned by up to `slant` radians.
fn supports(points: &[Point], along: Point, slant: f64) -> Vec<Point> {
    let far = |p: &Point| along.dot(*p);
    let Some(top) = points.iter().copied().max_by(|a, b| far(a).total_cmp(&far(b))) else { return Vec::new() };
    let across = along.left();
    points.iter().copied().filter(|p| far(p) + slant * across.dot(*p - top).abs() >= far(&top) - 1e-9).collect()
}

fn cut_of(cut: &Cut, movers: &[Mover]) -> Cut {
    let mut out = Cut::empty(cut.slab);
    for m in movers {
        out.place(m.spot);
    }
    out
}

/// The cut with overlaps (and overhangs) of up to `deep` (mm) closed by moves and turns; `None` if that is not found. Gives the
/// work done too. `keep` is stone to leave alone.
pub fn closed(space: &Space<'_>, cut: &Cut, keep: Option<&Region>, deep: f64) -> (Option<Cut>, u64) {
    let mut scene = Scene::new(space, cut, keep, &vec![false; cut.spots.len()]);
    let short = scene.measure(&scene.layers(), 0.0).short;
    let found = short <= deep && scene.strive(None, 40);
    (found.then(|| cut_of(cut, &scene.movers)).filter(|c| c.holds(space)), scene.work)
}

/// The cut with the least margin to flaws as wide as it gets by moves and turns of all bodies at once, up to `enough` (mm); `None`
/// if that is not found. `keep` is stone to leave alone; `stays` says of each body whether it must stay where it is.
pub fn widened(space: &Space<'_>, cut: &Cut, keep: Option<&Region>, stays: &[bool], enough: f64) -> Option<Cut> {
    let mut scene = Scene::new(space, cut, keep, stays);
    scene.strive(Some(enough), 30).then(|| cut_of(cut, &scene.movers)).filter(|c| c.holds(space))
}
