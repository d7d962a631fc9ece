//! A traced outline as straight lines and tangent arcs.
//!
//! In: points measured round an outline, unevenly spaced and noisy. Out: a circle, an axis-parallel ellipse, or a polygon with
//! rounded corners (arcs that follow one another are corners that leave no straight part between them), and how far the
//! points are off it. Must not know: what the outline is of.
//!
//! Each model is fitted by least squares of the distances, and the model is taken that explains the points with the fewest
//! numbers: the least `n ln(S/(n-k)) + k ln n` for `n` points, `k` numbers and the sum of squares `S` (the criterion of
//! G. Schwarz, Annals of Statistics 6 (1978) 461-464, from memory; with the unbiased scatter, which few points need).

mod chain;
mod round;
mod start;

pub use round::circle;

use crate::geom::curve::{self, Corner};
use crate::geom::{BBox, Point, Ring, RingFault, distance, tol};
use crate::model::{Drawn, Fit, Shape};
use chain::Chain;

use super::line;

/// Fewer points say too little: four sharp sides have eight numbers, and some points must be left to tell shape from noise.
pub const LEAST_POINTS: usize = 12;

/// More points than anybody takes by hand; the time for a fit grows with them.
pub const MOST_POINTS: usize = 2000;

/// A fit that is off by more than this many times the allowed deviation is none: a point is wrong, or the outline is no
/// outline of lines and arcs.
pub const GROSS: f64 = 3.0;

/// The end of a trace may be this many times its widest spacing from its start.
const WIDEST: f64 = 1.5;

/// Points that the structure of the outline is found with; the rest only shares in the last fit.
const SAMPLE: usize = 80;

/// Points of the last fit.
const LAST_SAMPLE: usize = 400;

/// More sides than any basin has.
const MOST_SIDES: usize = 16;

/// Scatter (mm) below which points count as exact.
const EXACT: f64 = 0.01;

/// Why points make no outline. Lengths mm.
#[derive(Clone, Debug, PartialEq)]
pub enum TraceFault {
    /// Too few distinct points.
    TooFew {
        /// Distinct points found.
        points: usize,
    },
    /// More than [`MOST_POINTS`].
    TooMany {
        /// Points given.
        points: usize,
    },
    /// A coordinate that is no number, or beyond 1 km.
    OutOfRange {
        /// The point.
        at: Point,
    },
    /// All points on one line, or within less than a millimetre.
    Flat,
    /// The end is far from the start.
    Open {
        /// Distance of the last point to the first.
        gap: f64,
        /// Widest spacing elsewhere.
        spacing: f64,
        /// The last point.
        from: Point,
        /// The first point.
        to: Point,
    },
    /// The line through the points crosses itself.
    Crossing {
        /// Where.
        at: Point,
        /// The points with which the two stretches that cross begin.
        stretches: (Point, Point),
    },
    /// No line of few straight sides and arcs comes near enough.
    Scattered {
        /// Distance of the worst point to the best line found.
        deviation: f64,
        /// The most that is taken: [`GROSS`] times the allowed deviation.
        most: f64,
        /// That point.
        at: Point,
    },
}

/// One way to explain the points.
struct Model {
    shape: Shape,
    sum: f64,
    unknowns: usize,
    worst: f64,
}

impl Model {
    fn of(shape: Shape, residuals: &[f64], unknowns: usize) -> Self {
        let worst = residuals.iter().fold(0.0f64, |w, r| w.max(r.abs()));
        Self { shape, sum: residuals.iter().map(|r| r * r).sum(), unknowns, worst }
    }

    /// The criterion of Schwarz: less is better.
    fn cost(&self, points: usize) -> f64 {
        cost(self.sum, self.unknowns, points)
    }
}

fn cost(sum: f64, unknowns: usize, points: usize) -> f64 {
    /// So many points must be left over.
    const SPARE: usize = 3;
    if points < unknowns + SPARE {
        return f64::INFINITY;
    }
    let n = points as f64;
    n * (sum / (points - unknowns) as f64).max(EXACT * EXACT).ln() + unknowns as f64 * n.ln()
}

/// The outline through traced points, which run round it in either direction. `allowed` (mm, more than 0): how far a point may
/// be off the outline; more lines and arcs are taken until that holds or nothing is gained. The result reports what it came
/// to, which may be more, up to [`GROSS`] times: points scatter, and only the caller knows how they were taken.
///
/// # Errors
/// [`TraceFault`].
pub fn trace(points: &[Point], allowed: f64) -> Result<Drawn, TraceFault> {
    let points = checked(points)?;
    let sample = thinned(&points, SAMPLE);
    let n = sample.len();
    let mut models: Vec<Model> = Vec::new();
    if let Some((centre, r)) = circle(&sample)
        && (1.0..1e5).contains(&r)
    {
        let residuals: Vec<f64> = sample.iter().map(|p| p.distance(centre) - r).collect();
        models.push(Model::of(Shape::Ellipse { centre, half_x: r, half_y: r }, &residuals, 3));
    }
    if let Some(e) = round::ellipse(&sample) {
        let residuals: Vec<f64> =
            sample.iter().map(|&p| round::off_ellipse(p - e.centre, e.half_x, e.half_y)).collect();
        let shape = Shape::Ellipse { centre: e.centre, half_x: e.half_x, half_y: e.half_y };
        models.push(Model::of(shape, &residuals, 4));
    }
    models.extend(chained(&points, &sample, allowed));
    // A model that is grossly off comes last; among the others scatter beyond what is allowed must not buy more arcs.
    let order = |m: &Model| (m.worst > GROSS * allowed, m.cost(n));
    let best = models.into_iter().min_by(|a, b| {
        let (a, b) = (order(a), order(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    let Some(best) = best else { return Err(TraceFault::Flat) };
    let (at, deviation) = farthest(&best.shape, &points);
    if deviation > GROSS * allowed {
        return Err(TraceFault::Scattered { deviation, most: GROSS * allowed, at });
    }
    Ok(Drawn { shape: best.shape, fit: Some(Fit { points: points.len(), deviation }) })
}

/// Checks a trace; the points come back counter-clockwise, each once.
fn checked(points: &[Point]) -> Result<Vec<Point>, TraceFault> {
    if points.len() > MOST_POINTS {
        return Err(TraceFault::TooMany { points: points.len() });
    }
    if let Some(&at) =
        points.iter().find(|p| !p.is_finite() || p.x.abs() > tol::MAX_COORD || p.y.abs() > tol::MAX_COORD)
    {
        return Err(TraceFault::OutOfRange { at });
    }
    let same = |a: Point, b: Point| a.distance(b) < tol::SAME_POINT;
    let mut distinct: Vec<Point> = Vec::with_capacity(points.len());
    for &p in points {
        if distinct.last().is_none_or(|&q| !same(p, q)) {
            distinct.push(p);
        }
    }
    while distinct.len() > 1 && same(distinct[0], distinct[distinct.len() - 1]) {
        distinct.pop();
    }
    let n = distinct.len();
    if n < LEAST_POINTS {
        return Err(TraceFault::TooFew { points: n });
    }
    let size = BBox::of(&distinct);
    if size.width() < 1.0 || size.height() < 1.0 {
        return Err(TraceFault::Flat);
    }
    let (first, last) = (distinct[0], distinct[n - 1]);
    let spacing = distinct.windows(2).map(|w| w[0].distance(w[1])).fold(0.0, f64::max);
    let gap = last.distance(first);
    if gap > WIDEST * spacing {
        return Err(TraceFault::Open { gap, spacing, from: last, to: first });
    }
    // Points that lie nearer to one another than they scatter may run to and fro: those loops are noise and no crossing.
    let around: f64 = distinct.windows(2).map(|w| w[0].distance(w[1])).sum::<f64>() + gap;
    let apart = around / 100.0;
    let mut sparse: Vec<Point> = Vec::new();
    for &p in &distinct {
        let far = |q: &Point| q.distance(p) >= apart;
        if sparse.last().is_none_or(far) && sparse.first().is_none_or(far) {
            sparse.push(p);
        }
    }
    match Ring::tidy(&sparse) {
        Ok((_, tidied)) => {
            if tidied.reversed {
                distinct.reverse();
            }
            Ok(distinct)
        }
        Err(RingFault::Crossing { at, sides: (i, j) }) => {
            Err(TraceFault::Crossing { at, stretches: (sparse[i], sparse[j]) })
        }
        Err(RingFault::OutOfRange { .. } | RingFault::TooFew { .. }) => Err(TraceFault::Flat),
    }
}

/// At most `most` of the points, evenly taken.
fn thinned(points: &[Point], most: usize) -> Vec<Point> {
    let step = points.len().div_ceil(most).max(1);
    points.iter().copied().step_by(step).collect()
}

/// The point that is farthest off the true line of a shape, and how far.
fn farthest(shape: &Shape, points: &[Point]) -> (Point, f64) {
    let ring = line::outer(shape);
    let sides: Vec<(Point, Point)> = ring.edges().collect();
    let off = |p: Point| distance::lines(std::iter::once((p, p)), sides.iter().copied()).distance;
    let start = (points.first().copied().unwrap_or_default(), 0.0);
    points.iter().map(|&p| (p, off(p))).fold(start, |worst, now| if now.1 > worst.1 { now } else { worst })
}

/// The best chains of sides and arcs, from several starts.
fn chained(points: &[Point], sample: &[Point], allowed: f64) -> Option<Model> {
    let middle = BBox::of(sample).centre();
    let near: Vec<Point> = sample.iter().map(|&p| p - middle).collect();
    let size = BBox::of(&near);
    let reach = (size.width() + size.height()) / 4.0;
    let mut best: Option<(f64, Chain)> = None;
    for start in start::chains(&near, allowed) {
        let Some((chain_cost, chain)) = grown(&start, &near, reach, allowed) else { continue };
        if chain_cost.is_finite() && best.as_ref().is_none_or(|b| chain_cost < b.0 - 1e-9) {
            best = Some((chain_cost, chain));
        }
    }
    let (_, chain) = best?;
    let all: Vec<Point> = thinned(points, LAST_SAMPLE).iter().map(|&p| p - middle).collect();
    let chain = chain.refined(&all, reach, (25, 1e-6));
    let shape = Shape::Polygon(chain.corners()?).moved(middle);
    let shape = settled(shape)?;
    let residuals = chain.residuals(&near)?;
    Some(Model::of(shape, &residuals, chain.unknowns()))
}

/// A chain refined, then with sides added and taken away as long as the points ask for it; with its cost.
fn grown(start: &Chain, points: &[Point], reach: f64, allowed: f64) -> Option<(f64, Chain)> {
    /// Enough to tell models from one another; the one that is chosen is refined in the end.
    const STEPS: (usize, f64) = (20, 2e-3);
    /// What a kink costs: as much as two numbers and a half of 40 points. A line that bends sharply between two points follows
    /// their noise better than an arc does, and the outline worse.
    const KINK: f64 = 9.0;
    let n = points.len();
    let spacing = (0..n).map(|i| points[i].distance(points[(i + 1) % n])).sum::<f64>() / n as f64;
    let judged = |chain: Chain| {
        let residuals = chain.residuals(points)?;
        let worst = residuals.iter().fold(0.0f64, |w, r| w.max(r.abs()));
        let sum: f64 = residuals.iter().map(|r| r * r).sum();
        let kinks = KINK * chain.kinks(spacing) as f64;
        Some((cost(sum, chain.unknowns(), n) + kinks, worst, chain))
    };
    let mut now = judged(start.refined(points, reach, STEPS))?;
    while now.2.sides.len() < MOST_SIDES {
        // Where the points lie worst, the arc is divided.
        let blame = now.2.blame(points)?;
        let mut order: Vec<usize> = (0..blame.len()).collect();
        order.sort_by(|&i, &j| blame[j].total_cmp(&blame[i]).then(i.cmp(&j)));
        let next = order
            .iter()
            .take(4)
            .filter_map(|&k| judged(now.2.split(k)?.refined(points, reach, STEPS)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some(next) = next else { break };
        let needed = now.1 > allowed && next.1 < 0.9 * now.1;
        if next.0 < now.0 - 1.0 || needed {
            now = next;
        } else if next.0 < now.0 + 12.0 {
            // One side more may pay only with a second one: an oval has two arcs on every quarter.
            let blame = next.2.blame(points)?;
            let worst = (0..blame.len()).max_by(|&i, &j| blame[i].total_cmp(&blame[j]).then(j.cmp(&i)))?;
            let second = next.2.split(worst).and_then(|c| judged(c.refined(points, reach, STEPS)));
            match second {
                Some(second) if second.0 < now.0 - 1.0 => now = second,
                _ => break,
            }
        } else {
            break;
        }
    }
    // Then what the points do not ask for goes: sides, and radii too small to be seen.
    loop {
        let n_sides = now.2.sides.len();
        let fewer = (0..n_sides)
            .flat_map(|k| {
                let without = now.2.without(k);
                let sharp = (!now.2.sides[k].sharp).then(|| now.2.sharpened(k));
                [without, sharp]
            })
            .flatten()
            .filter_map(|c| judged(c.refined(points, reach, (6, 2e-3))))
            .filter(|c| c.0 < now.0 && (c.1 <= allowed || c.1 <= now.1 * 1.05))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        match fewer {
            Some(better) => now = better,
            None => break,
        }
    }
    Some((now.0, now.2))
}

/// The shape with radii that fit their sides, tidy; `None` if it is no outline.
fn settled(shape: Shape) -> Option<Shape> {
    let Shape::Polygon(mut corners) = shape else { return Some(shape) };
    for _ in 0..4 * corners.len() {
        match curve::check_roundings(&corners) {
            Ok(()) => break,
            Err(misfit) => {
                // Arcs that touch end to end overlap by a hair of rounding: both give way.
                let n = corners.len();
                let shrink = |c: &mut Corner| c.radius = (c.radius * (1.0 - 1e-7)).max(0.0);
                corners[misfit.corner].radius = misfit.largest * (1.0 - 1e-9);
                shrink(&mut corners[(misfit.corner + 1) % n]);
                shrink(&mut corners[(misfit.corner + n - 1) % n]);
            }
        }
    }
    let (shape, tidied, _) = Shape::Polygon(corners).tidy(|_| false).ok()?;
    (!tidied.reversed).then_some(shape)
}

#[cfg(test)]
mod tests;
