//! Where the fit of a chain starts: from runs of points that lie straight, and from tangents in a few directions.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::chain::{Chain, Side, normal, wrapped};
use crate::geom::Point;

/// A run needs so many points: three lie straight by chance.
const LEAST_RUN: usize = 4;

/// Corners that turn by more (radians) get a tangent between their sides.
const MOST_TURN: f64 = 2.0;

/// Runs: first index, number of points, direction of travel.
type Run = (usize, usize, f64);

/// Starts for the points of an outline about the origin, run counter-clockwise.
pub(super) fn chains(points: &[Point], allowed: f64) -> Vec<Chain> {
    let mut starts: Vec<Chain> = Vec::new();
    let mut seen: Vec<Vec<Run>> = Vec::new();
    for share in [0.5, 1.0, 2.0] {
        let runs = straight_runs(points, share * allowed);
        if runs.is_empty() || seen.contains(&runs) {
            continue;
        }
        starts.extend(from_runs(points, &runs));
        seen.push(runs);
    }
    let quarters: Vec<f64> = (0..4).map(|k| f64::from(k) * FRAC_PI_2).collect();
    starts.push(from_tangents(points, &quarters));
    starts
}

/// The straight line through a run by total least squares: direction of travel, and the worst distance to it.
fn line_through(points: &[Point], first: usize, count: usize) -> (f64, f64) {
    let n = points.len();
    let run = || (0..count).map(|k| points[(first + k) % n]);
    let middle = run().fold(Point::default(), |s, p| s + p) * (1.0 / count as f64);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for p in run() {
        let d = p - middle;
        (xx, xy, yy) = (xx + d.x * d.x, xy + d.x * d.y, yy + d.y * d.y);
    }
    let mut angle = 0.5 * (2.0 * xy).atan2(xx - yy);
    let travel = points[(first + count - 1) % n] - points[first];
    if travel.x * angle.cos() + travel.y * angle.sin() < 0.0 {
        angle += PI;
    }
    let out = normal(angle);
    let worst = run().map(|p| out.dot(p - middle).abs()).fold(0.0, f64::max);
    (wrapped(angle), worst)
}

/// Runs of points that lie straight within `within`, longest first in the making, no point in two; in order round the outline.
fn straight_runs(points: &[Point], within: f64) -> Vec<Run> {
    let n = points.len();
    let mut longest: Vec<(f64, Run)> = Vec::new();
    for first in 0..n {
        let mut count = 2;
        while count < n && line_through(points, first, count + 1).1 <= within {
            count += 1;
        }
        if count >= LEAST_RUN {
            let length = points[first].distance(points[(first + count - 1) % n]);
            longest.push((length, (first, count, line_through(points, first, count).0)));
        }
    }
    longest.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.0.cmp(&b.1.0)));
    let mut taken = vec![false; n];
    let mut runs: Vec<Run> = Vec::new();
    for (_, (first, count, angle)) in longest {
        if (0..count).any(|k| taken[(first + k) % n]) {
            continue;
        }
        (0..count).for_each(|k| taken[(first + k) % n] = true);
        runs.push((first, count, angle));
    }
    runs.sort_by_key(|r| r.0);
    // Two runs that all but share a line are one side that a stray point divides: the longer one stands for both.
    let mut i = 0;
    while runs.len() > 1 && i < runs.len() {
        let j = (i + 1) % runs.len();
        if wrapped(runs[j].2 - runs[i].2).abs() < 0.06 {
            let gone = if runs[i].1 >= runs[j].1 { j } else { i };
            runs.remove(gone);
            i = 0;
        } else {
            i += 1;
        }
    }
    runs
}

/// Sides along the runs, with tangents between those that turn far.
fn from_runs(points: &[Point], runs: &[Run]) -> Option<Chain> {
    let n = points.len();
    let heading = |i: usize| {
        let d = points[(i + 1) % n] - points[i % n];
        d.y.atan2(d.x)
    };
    let mut sides: Vec<Side> = Vec::new();
    for (k, &(first, count, angle)) in runs.iter().enumerate() {
        let out = normal(angle);
        let offset = (0..count).map(|j| out.dot(points[(first + j) % n])).sum::<f64>() / count as f64;
        sides.push(Side { angle, offset, radius: 0.0, sharp: false });
        let (next_first, _, next_angle) = runs[(k + 1) % runs.len()];
        let last = first + count - 1;
        let until = if runs.len() == 1 || next_first % n <= last % n { next_first + n } else { next_first };
        let until = if until <= last { until + n } else { until };
        // The whole turn between the two, also beyond half a turn: by the headings on the way.
        let mut turned = wrapped(heading(last) - angle);
        for i in last..until {
            turned += wrapped(heading(i + 1) - heading(i));
        }
        let exact = wrapped(next_angle - angle);
        let turn = exact + ((turned - exact) / TAU).round() * TAU;
        let parts = (turn.abs() / MOST_TURN).ceil().max(1.0);
        for j in 1..parts as usize {
            let between = angle + turn * j as f64 / parts;
            let out = normal(between);
            let heights = (last..=until).map(|i| out.dot(points[i % n]));
            let offset = if turn > 0.0 { heights.fold(f64::MIN, f64::max) } else { heights.fold(f64::MAX, f64::min) };
            sides.push(Side { angle: between, offset, radius: 0.0, sharp: false });
        }
    }
    if sides.len() < 3 {
        return None;
    }
    Some(rounded(Chain { sides }, points))
}

/// Tangents to the hull in the given directions of travel.
fn from_tangents(points: &[Point], angles: &[f64]) -> Chain {
    let sides = angles
        .iter()
        .map(|&angle| {
            let out = normal(angle);
            let offset = points.iter().map(|p| out.dot(*p)).fold(f64::MIN, f64::max);
            Side { angle, offset, radius: 0.0, sharp: false }
        })
        .collect();
    rounded(Chain { sides }, points)
}

/// The chain with a first guess at each radius: the arc that passes the corner as near as the nearest point does.
fn rounded(mut chain: Chain, points: &[Point]) -> Chain {
    let Some(corners) = chain.corners() else { return chain };
    let n = corners.len();
    let turn = |k: usize| wrapped(chain.sides[k].angle - chain.sides[(k + n - 1) % n].angle).abs();
    let radii: Vec<f64> = (0..n)
        .map(|k| {
            let at = corners[k].at;
            let room = at.distance(corners[(k + 1) % n].at).min(at.distance(corners[(k + n - 1) % n].at));
            let gap = points.iter().map(|p| p.distance(at)).fold(f64::MAX, f64::min);
            let half = turn(k) / 2.0;
            (gap / (1.0 / half.cos() - 1.0)).min(0.48 * room / half.tan())
        })
        .collect();
    chain.sides.iter_mut().zip(radii).for_each(|(s, r)| s.radius = if r.is_finite() { r.max(0.0) } else { 0.0 });
    chain
}
