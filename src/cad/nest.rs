//! Which closed outline lies in which, and which point in which.
//!
//! In: rings. Out: for each the one round it, and pairs that overlap. Must not know: what the rings are of.

use crate::geom::{Point, Ring, boolean};

/// How rings lie in one another.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Nest {
    /// For every ring the smallest one round it.
    pub parent: Vec<Option<usize>>,
    /// Pairs that overlap and of which neither lies in the other, and a place where they do.
    pub overlaps: Vec<(usize, usize, Point)>,
    /// Rings that are one of the others over again, with that other (which comes first).
    pub repeated: Vec<(usize, usize)>,
}

/// Outlines are looked for this deep in one another: pieces, openings in them, and what is in these, which is an error.
const DEEPEST: usize = 3;

/// How two rings lie.
enum Lie {
    Apart,
    FirstInSecond,
    SecondInFirst,
    Same,
    Overlap(Point),
}

/// Areas (mm²) per length of line (mm) below which two rings do not overlap: what drawings are off by.
const SLIVER: f64 = 0.02;

fn lie(a: &Ring, b: &Ring) -> Lie {
    if !a.bbox().near(&b.bbox(), 0.0) {
        return Lie::Apart;
    }
    let both = boolean::intersection(&a.to_region(), &b.to_region());
    let (common, area_a, area_b) = (both.area(), a.area(), b.area());
    let small = SLIVER * a.perimeter().min(b.perimeter());
    match (common >= area_a - small, common >= area_b - small) {
        (true, true) => Lie::Same,
        (true, false) => Lie::FirstInSecond,
        (false, true) => Lie::SecondInFirst,
        (false, false) if common <= small => Lie::Apart,
        (false, false) => {
            let at = both.rings().next().and_then(|r| r.points().first().copied());
            Lie::Overlap(at.unwrap_or_else(|| a.bbox().centre()))
        }
    }
}

/// Finds how rings lie in one another. Rings that touch from outside are apart.
///
/// Each is compared, the largest first, with those that lie in no other one; where it lies in one of these, with what lies in that, and so
/// on, but not deeper than [`DEEPEST`]: what lies beside a ring cannot overlap what lies in it.
#[must_use]
pub fn nest(rings: &[Ring]) -> Nest {
    let n = rings.len();
    let mut found = Nest { parent: vec![None; n], ..Nest::default() };
    let areas: Vec<f64> = rings.iter().map(Ring::area).collect();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&i, &j| areas[j].total_cmp(&areas[i]).then(i.cmp(&j)));
    let mut roots: Vec<usize> = Vec::new();
    let mut within: Vec<Vec<usize>> = vec![Vec::new(); n];
    for j in order {
        let mut among = &roots;
        let mut depth = 0;
        let mut repeats = false;
        while depth < DEEPEST {
            let mut holder = None;
            for &i in among {
                match lie(&rings[i], &rings[j]) {
                    Lie::Apart => {}
                    Lie::Same => {
                        found.repeated.push((i.max(j), i.min(j)));
                        repeats = true;
                        break;
                    }
                    Lie::Overlap(at) => found.overlaps.push((i.min(j), i.max(j), at)),
                    // Of two that are all but as large as each other either may lie in the other.
                    Lie::SecondInFirst | Lie::FirstInSecond => holder = Some(i),
                }
            }
            let Some(i) = holder.filter(|_| !repeats) else { break };
            found.parent[j] = Some(i);
            among = &within[i];
            depth += 1;
        }
        if repeats {
            continue;
        }
        match found.parent[j] {
            Some(i) => within[i].push(j),
            None => roots.push(j),
        }
    }
    found.overlaps.sort_by_key(|o| (o.0, o.1));
    found.repeated.sort_unstable();
    found
}

impl Nest {
    /// How many rings lie round a ring.
    #[must_use]
    pub fn depth(&self, mut ring: usize) -> usize {
        let mut depth = 0;
        while let Some(p) = self.parent.get(ring).copied().flatten() {
            ring = p;
            depth += 1;
            if depth > self.parent.len() {
                break; // no ring lies in itself
            }
        }
        depth
    }
}

/// The smallest of the rings that holds a point.
#[must_use]
pub fn innermost(rings: &[Ring], p: Point) -> Option<usize> {
    let holding = (0..rings.len()).filter(|&i| rings[i].contains(p));
    holding.min_by(|&i, &j| rings[i].area().total_cmp(&rings[j].area()).then(i.cmp(&j)))
}
