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

    /// Joins links in three steps: what meets exactly; then loose ends of what is long enough to be told apart from a gap; then the rest. So
    /// a gap never swallows fine lines, which are drawn end to end.
    fn join(&mut self, links: Vec<Link>, tolerance: f64) {
        let lengths: Vec<f64> = links.iter().map(Link::length).collect();
        let ends: Vec<Point> = links.iter().flat_map(|l| [l.end(0), l.end(1)]).collect();
        let mut gone = vec![false; links.len()];
        let exact = knots(&ends, NO_GAP);
        self.drop_repeated(&links, &lengths, &exact, NO_GAP, &mut gone);
        self.drop_repeated(&links, &lengths, &knots(&ends, tolerance), tolerance, &mut gone);
        self.drop_specks(&lengths, &exact, tolerance, &mut gone);
        let mut joints = Joints { ends, lengths, partner: vec![None; exact.len()], branch: vec![false; exact.len()] };
        let there: Vec<usize> = (0..exact.len()).filter(|e| !gone[e / 2]).collect();
        let exact: Vec<usize> = there.iter().map(|&e| exact[e]).collect();
        self.branches.extend(joints.pair_up(&links, &there, &exact));
        let runs = joints.runs(&there);
        let loose: Vec<usize> = there.iter().copied().filter(|&e| joints.is_loose(e)).collect();
        let long: Vec<usize> = loose.iter().copied().filter(|e| runs[*e].length > 3.0 * tolerance).collect();
        let points: Vec<Point> = long.iter().map(|&e| joints.ends[e]).collect();
        self.branches.extend(joints.pair_up(&links, &long, &knots(&points, tolerance)));
        joints.pair_nearest(&loose, &runs, tolerance);
        self.walk(links, &joints, gone, tolerance);
    }

    /// Leaves out links that lie on others. `knot` has the knots of all ends, made with the tolerance.
    fn drop_repeated(&mut self, links: &[Link], lengths: &[f64], knot: &[usize], tolerance: f64, gone: &mut [bool]) {
        /// So many links from one knot to one other are compared with one another.
        const MOST: usize = 16;
        let mut by_ends: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
        for (i, link) in links.iter().enumerate() {
            if gone[i] {
                continue;
            }
            let (a, b) = (knot[2 * i], knot[2 * i + 1]);
            let alike = by_ends.entry((a.min(b), a.max(b))).or_default();
            // Fine lines in a row are all within the tolerance of one another.
            let near = tolerance.min(lengths[i] / 4.0);
            if alike.iter().any(|&k| links[k].repeats(link, near)) {
                gone[i] = true;
                self.repeated.extend(link.stretches.first().map(|s| s.entity));
            } else if alike.len() < MOST {
                alike.push(i);
            }
        }
    }

    /// Leaves out what is shorter than a gap and leads nowhere: it would make branches.
    fn drop_specks(&mut self, lengths: &[f64], knot: &[usize], tolerance: f64, gone: &mut [bool]) {
        let mut count = vec![0_usize; knot.len()];
        for (e, &k) in knot.iter().enumerate() {
            count[k] += usize::from(!gone[e / 2]);
        }
        for i in 0..lengths.len() {
            let (a, b) = (knot[2 * i], knot[2 * i + 1]);
            let closed = a == b && lengths[i] <= 3.0 * tolerance;
            let dangles = lengths[i] <= tolerance && (count[a].min(count[b]) == 1 && count[a].max(count[b]) > 2);
            if !gone[i] && (closed || dangles) {
                gone[i] = true;
                self.specks += 1;
                count[a] -= 1;
                count[b] -= 1;
            }
        }
    }

    /// Follows the joints from loose ends first; then what is left goes round.
    fn walk(&mut self, mut links: Vec<Link>, joints: &Joints, mut gone: Vec<bool>, tolerance: f64) {
        let starts: Vec<usize> =
            (0..joints.ends.len()).filter(|&e| !gone[e / 2] && joints.partner[e].is_none()).collect();
        let rest = (0..links.len()).map(|i| 2 * i);
        for start in starts.into_iter().chain(rest) {
            if gone[start / 2] {
                continue;
            }
            let mut run: Vec<Stretch> = Vec::new();
            let mut count = 0;
            let mut enter = start;
            let closes = loop {
                let i = enter / 2;
                gone[i] = true;
                count += 1;
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
                match joints.partner[enter ^ 1] {
                    None => break false,
                    Some(e) if gone[e / 2] => break true,
                    Some(e) => enter = e,
                }
            };
            let n = run.len();
            let length: f64 = run.iter().map(Stretch::length).sum();
            let (Some(first), Some(last)) = (run.first(), run.last()) else { continue };
            if joints.branch[start] || joints.branch[enter ^ 1] {
                continue; // told as a branch
            }
            if length <= 3.0 * tolerance {
                self.specks += count;
            } else if closes {
                self.close(last.to, first.from);
                let at = joint(last, first);
                (run[n - 1].to, run[0].from) = (at, at);
                self.loops.push(Loop::Path(run));
            } else {
                let (ends, entities) = ((first.from, last.to), (first.entity, last.entity));
                self.open.push(OpenRun { ends, entities, length });
            }
        }
    }
}

/// What is known of the ends of links; link i has the ends 2i and 2i + 1.
struct Joints {
    ends: Vec<Point>,
    lengths: Vec<f64>,
    /// The end that an end is joined with.
    partner: Vec<Option<usize>>,
    /// True where more than two ends meet.
    branch: Vec<bool>,
}

/// Links that are joined, as seen from one of their loose ends.
#[derive(Clone, Copy, Default)]
struct Run {
    /// The other end.
    far: usize,
    /// Length of all of them, mm.
    length: f64,
}

impl Joints {
    fn is_loose(&self, e: usize) -> bool {
        self.partner[e].is_none() && !self.branch[e]
    }

    /// Joins two ends that share a knot by themselves; more are a branch. `knot` has the knots of `which`, in their order.
    fn pair_up(&mut self, links: &[Link], which: &[usize], knot: &[usize]) -> Vec<Branch> {
        let mut at_knot: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (&e, &k) in which.iter().zip(knot) {
            at_knot.entry(k).or_default().push(e);
        }
        let mut branches = Vec::new();
        for there in at_knot.into_values() {
            match there.as_slice() {
                [] | [_] => {}
                &[a, b] => (self.partner[a], self.partner[b]) = (Some(b), Some(a)),
                more => {
                    let mut entities: Vec<usize> =
                        more.iter().filter_map(|&e| links[e / 2].stretches.first()).map(|s| s.entity).collect();
                    entities.sort_unstable();
                    entities.dedup();
                    branches.push(Branch { at: self.ends[more[0]], entities, ends: more.len() });
                    for &e in more {
                        self.branch[e] = true;
                    }
                }
            }
        }
        branches
    }

    /// The runs so far, by their loose ends; for other ends the numbers mean nothing.
    fn runs(&self, which: &[usize]) -> Vec<Run> {
        let mut runs = vec![Run::default(); self.ends.len()];
        for &e in which.iter().filter(|&&e| self.partner[e].is_none()) {
            let (mut at, mut length) = (e, 0.0);
            let far = loop {
                length += self.lengths[at / 2];
                match self.partner[at ^ 1] {
                    None => break at ^ 1,
                    Some(next) => at = next,
                }
            };
            runs[e] = Run { far, length };
        }
        runs
    }

    /// Joins the ends that are still loose, the nearest first, up to the tolerance; but not those of one short run.
    fn pair_nearest(&mut self, loose: &[usize], runs: &[Run], tolerance: f64) {
        /// So many ends in one place are a scrawl, and comparing all with all would take their square in time.
        const CROWD: usize = 16;
        let size = tolerance.max(1e-6);
        let cell = |p: Point| ((p.x / size).floor() as i64, (p.y / size).floor() as i64);
        let mut grid: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
        for &e in loose.iter().filter(|&&e| self.is_loose(e)) {
            grid.entry(cell(self.ends[e])).or_default().push(e);
        }
        let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
        for (&(cx, cy), here) in &grid {
            for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
                let Some(there) = grid.get(&(cx + dx, cy + dy)) else { continue };
                for &a in here.iter().take(CROWD) {
                    for &b in there.iter().take(CROWD).filter(|&&b| b > a) {
                        let distance = self.ends[a].distance(self.ends[b]);
                        let closes_speck = runs[a].far == b && runs[a].length <= 3.0 * tolerance;
                        if distance <= tolerance && !closes_speck {
                            pairs.push((distance, a, b));
                        }
                    }
                }
            }
        }
        pairs.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1)).then(p.2.cmp(&q.2)));
        for (_, a, b) in pairs {
            if self.is_loose(a) && self.is_loose(b) {
                (self.partner[a], self.partner[b]) = (Some(b), Some(a));
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
