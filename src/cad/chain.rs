//! Loose lines, arcs and curves put end to end, until they close.
//!
//! In: entities of a drawing, and how far apart two ends may be to count as one. Out: loops, and what does not close, with places.
//! Must not know: which loop lies in which, what the loops are of.

use std::collections::BTreeMap;

use super::path::{Stretch, Way, stretches};
use super::{Body, Drawing};
use crate::geom::Point;

/// Ends nearer than this (mm) meet without anything to report: it is the rounding of a file, not a gap.
pub const NO_GAP: f64 = 1e-4;

/// A closed line.
#[derive(Clone, Debug, PartialEq)]
pub enum Loop {
    /// Stretches, each starting where the one before ends.
    Path(Vec<Stretch>),
    /// A body that is closed by itself: a circle or an ellipse.
    Round {
        /// The circle or ellipse.
        body: Body,
        /// The entity, by its place in the drawing.
        entity: usize,
    },
}

impl Loop {
    /// The entity that it starts with.
    #[must_use]
    pub fn entity(&self) -> usize {
        match self {
            Self::Path(all) => all.first().map_or(0, |s| s.entity),
            Self::Round { entity, .. } => *entity,
        }
    }
}

/// Stretches end to end that do not close.
#[derive(Clone, Debug, PartialEq)]
pub struct OpenRun {
    /// Its loose ends, mm.
    pub ends: (Point, Point),
    /// The entities at these ends.
    pub entities: (usize, usize),
    /// Its length, mm.
    pub length: f64,
}

/// A place where more than two ends meet.
#[derive(Clone, Debug, PartialEq)]
pub struct Branch {
    /// Where, mm.
    pub at: Point,
    /// The entities that end there, each once.
    pub entities: Vec<usize>,
    /// How many ends meet.
    pub ends: usize,
}

/// What chaining found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chained {
    /// Closed lines, in the order of their first entity.
    pub loops: Vec<Loop>,
    /// What does not close.
    pub open: Vec<OpenRun>,
    /// Where more than two ends meet.
    pub branches: Vec<Branch>,
    /// How many gaps were closed.
    pub gaps: usize,
    /// The widest of them, mm, and where.
    pub widest: Option<(f64, Point)>,
    /// Entities left out because another one lies on them.
    pub repeated: Vec<usize>,
    /// Entities left out because they are shorter than the tolerance.
    pub specks: usize,
}

/// Open stretches end to end, as one entity draws them.
struct Link {
    stretches: Vec<Stretch>,
}

impl Link {
    fn end(&self, which: usize) -> Point {
        let s = if which == 0 { self.stretches.first() } else { self.stretches.last() };
        s.map_or(Point { x: 0.0, y: 0.0 }, |s| if which == 0 { s.from } else { s.to })
    }

    fn length(&self) -> f64 {
        self.stretches.iter().map(Stretch::length).sum()
    }

    /// True if the two lie on one another within the tolerance.
    fn repeats(&self, other: &Self, tolerance: f64) -> bool {
        let n = self.stretches.len();
        if n != other.stretches.len() {
            return false;
        }
        let near = |a: Point, b: Point| a.distance(b) <= tolerance;
        let same = |a: &Stretch, b: &Stretch| near(a.from, b.from) && near(a.to, b.to) && near(a.middle(), b.middle());
        let ahead = self.stretches.iter().zip(&other.stretches).all(|(a, b)| same(a, b));
        ahead || self.stretches.iter().zip(other.stretches.iter().rev()).all(|(a, b)| same(a, &b.reversed()))
    }
}

/// Chains the given entities of a drawing; ends within `tolerance` (mm) of one another count as one.
///
/// Where a gap is closed, both ends move to its middle; a straight line's end gives way to that of an arc or a curve.
#[must_use]
pub fn chain(drawing: &Drawing, entities: &[usize], tolerance: f64) -> Chained {
    let mut found = Chained::default();
    let mut links: Vec<Link> = Vec::new();
    for &e in entities {
        let Some(body) = drawing.entities.get(e).map(|e| &e.body) else { continue };
        match body {
            Body::Text { .. } => {}
            Body::Circle { .. } | Body::Ellipse { .. } => {
                found.loops.push(Loop::Round { body: body.clone(), entity: e });
            }
            Body::Path { .. } | Body::Curve(_) => {
                let Some((stretches, closed)) = stretches(body, e) else { continue };
                let link = Link { stretches };
                if link.stretches.is_empty() {
                    found.specks += 1;
                } else if closed {
                    found.loops.push(Loop::Path(link.stretches));
                } else if link.end(0).distance(link.end(1)) <= tolerance && link.length() > 3.0 * tolerance {
                    let mut all = link.stretches;
                    let n = all.len();
                    let (a, b) = (all[n - 1].to, all[0].from);
                    found.close(a, b);
                    let at = joint(&all[n - 1], &all[0]);
                    (all[n - 1].to, all[0].from) = (at, at);
                    found.loops.push(Loop::Path(all));
                } else {
                    links.push(link);
                }
            }
        }
    }
    found.join(links, tolerance);
    found.loops.sort_by_key(Loop::entity);
    found
}

/// Where the end of `a` and the start of `b` are to meet.
fn joint(a: &Stretch, b: &Stretch) -> Point {
    match (a.way == Way::Line, b.way == Way::Line) {
        (true, false) => b.from,
        (false, true) => a.to,
        _ => a.to.lerp(b.from, 0.5),
    }
}

impl Chained {
    fn close(&mut self, a: Point, b: Point) {
        let gap = a.distance(b);
        if gap > NO_GAP {
            self.gaps += 1;
            if self.widest.is_none_or(|(w, _)| w < gap) {
                self.widest = Some((gap, a.lerp(b, 0.5)));
            }
        }
    }

    fn join(&mut self, mut links: Vec<Link>, tolerance: f64) {
        let ends: Vec<Point> = links.iter().flat_map(|l| [l.end(0), l.end(1)]).collect();
        let knot = knots(&ends, tolerance);
        // What lies on another one, and what is too short to be a side, goes first: they would make branches.
        let mut gone = vec![false; links.len()];
        let mut by_ends: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
        for (i, link) in links.iter().enumerate() {
            let (a, b) = (knot[2 * i], knot[2 * i + 1]);
            if a == b && link.length() <= 3.0 * tolerance {
                gone[i] = true;
                self.specks += 1;
                continue;
            }
            let alike = by_ends.entry((a.min(b), a.max(b))).or_default();
            if alike.iter().any(|&k| links[k].repeats(link, tolerance)) {
                gone[i] = true;
                self.repeated.extend(link.stretches.first().map(|s| s.entity));
            } else if alike.len() < 16 {
                alike.push(i);
            }
        }
        let mut at_knot: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (e, &k) in knot.iter().enumerate().filter(|(e, _)| !gone[e / 2]) {
            at_knot.entry(k).or_default().push(e);
        }
        for there in at_knot.values().filter(|v| v.len() > 2) {
            let mut entities: Vec<usize> =
                there.iter().filter_map(|&e| links[e / 2].stretches.first()).map(|s| s.entity).collect();
            entities.sort_unstable();
            entities.dedup();
            self.branches.push(Branch { at: ends[there[0]], entities, ends: there.len() });
        }
        let partner = |e: usize| {
            let there = at_knot.get(&knot[e]).map_or(&[] as &[usize], Vec::as_slice);
            if there.len() == 2 { there.iter().copied().find(|&o| o != e) } else { None }
        };
        let is_branch = |e: usize| at_knot.get(&knot[e]).is_some_and(|v| v.len() > 2);
        // From loose ends first, then what is left goes round.
        let starts: Vec<usize> = (0..ends.len()).filter(|&e| !gone[e / 2] && partner(e).is_none()).collect();
        let rest = (0..links.len()).map(|i| 2 * i);
        for start in starts.into_iter().chain(rest) {
            if gone[start / 2] {
                continue;
            }
            let mut run: Vec<Stretch> = Vec::new();
            let mut enter = start;
            let closes = loop {
                let i = enter / 2;
                gone[i] = true;
                let mut next = std::mem::take(&mut links[i].stretches);
                if enter % 2 == 1 {
                    next = next.iter().rev().map(Stretch::reversed).collect();
                }
                if let (Some(a), Some(b)) = (run.last_mut(), next.first_mut()) {
                    self.close(a.to, b.from);
                    let at = joint(a, b);
                    (a.to, b.from) = (at, at);
                }
                run.append(&mut next);
                match partner(enter ^ 1) {
                    None => break false,
                    Some(e) if gone[e / 2] => break true,
                    Some(e) => enter = e,
                }
            };
            let n = run.len();
            if closes && n > 0 {
                self.close(run[n - 1].to, run[0].from);
                let at = joint(&run[n - 1], &run[0]);
                (run[n - 1].to, run[0].from) = (at, at);
                self.loops.push(Loop::Path(run));
            } else if let (Some(first), Some(last)) = (run.first(), run.last())
                && !is_branch(start)
                && !is_branch(enter ^ 1)
            {
                self.open.push(OpenRun {
                    ends: (first.from, last.to),
                    entities: (first.entity, last.entity),
                    length: run.iter().map(Stretch::length).sum(),
                });
            }
        }
    }
}

/// For every point the number of its knot: points within `tolerance` of one another, also by way of others, share one.
fn knots(points: &[Point], tolerance: f64) -> Vec<usize> {
    /// So many ends in one cell are a branch whatever their distances; comparing all with all would take their square in time.
    const CROWD: usize = 16;
    let size = tolerance.max(1e-6);
    let cell = |p: Point| ((p.x / size).floor() as i64, (p.y / size).floor() as i64);
    let mut grid: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for (i, &p) in points.iter().enumerate() {
        grid.entry(cell(p)).or_default().push(i);
    }
    let mut root: Vec<usize> = (0..points.len()).collect();
    let find = |root: &mut Vec<usize>, mut i: usize| {
        while root[i] != i {
            root[i] = root[root[i]];
            i = root[i];
        }
        i
    };
    for (i, &p) in points.iter().enumerate() {
        let (cx, cy) = cell(p);
        for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
            let Some(there) = grid.get(&(cx + dx, cy + dy)) else { continue };
            let crowd = there.len() > CROWD;
            for &j in there.iter().take(CROWD) {
                if j != i && (points[j].distance(p) <= tolerance || (crowd && (dx, dy) == (0, 0))) {
                    let (a, b) = (find(&mut root, i), find(&mut root, j));
                    root[a.max(b)] = a.min(b);
                }
            }
        }
    }
    (0..points.len()).map(|i| find(&mut root, i)).collect()
}
