//! A piece cut across at every x: which strips of stone and of openings lie on the line.
//!
//! In: an outline and openings, x along the piece. Out: panels between which nothing begins or ends, exact in between.
//! Must not know: loads, strengths.

use crate::geom::{BBox, Ring, tol};

/// What has become of an opening's stone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Gone {
    /// It is all there.
    Filled,
    /// It is cut nearly through round its border; so much of the thickness is left there, mm.
    Scored(f64),
    /// It is out.
    Cut,
}

/// A strip on the line across: from `lo` to `hi`, each at the left and at the right end of its panel, mm.
#[derive(Clone, Debug)]
pub(super) struct Strip {
    /// The opening that it belongs to; `None` for stone.
    pub(super) owner: Option<usize>,
    pub(super) lo: [f64; 2],
    pub(super) hi: [f64; 2],
}

/// The value at a part of the way from the first to the second.
pub(super) fn between(ends: [f64; 2], part: f64) -> f64 {
    ends[0] + (ends[1] - ends[0]) * part
}

impl Strip {
    /// Its lower and upper end at a part of the panel.
    pub(super) fn at(&self, part: f64) -> [f64; 2] {
        [between(self.lo, part), between(self.hi, part)]
    }

    /// Its height at a part of the panel.
    pub(super) fn height(&self, part: f64) -> f64 {
        let [lo, hi] = self.at(part);
        hi - lo
    }
}

/// A stretch of the piece in which no side begins or ends: all borders are straight in it.
#[derive(Clone, Debug)]
pub(super) struct Panel {
    pub(super) from: f64,
    pub(super) to: f64,
    /// From below upwards; they touch where no gap of the outline is between them.
    pub(super) strips: Vec<Strip>,
}

impl Panel {
    /// Where x lies in it, 0 at its left end, 1 at its right.
    pub(super) fn part(&self, x: f64) -> f64 {
        ((x - self.from) / (self.to - self.from)).clamp(0.0, 1.0)
    }
}

/// A piece as panels from left to right.
#[derive(Clone, Debug)]
pub(super) struct Sections {
    pub(super) panels: Vec<Panel>,
    /// For every opening, where it begins and ends.
    pub(super) spans: Vec<[f64; 2]>,
}

/// A border that crosses a panel.
struct Crossing {
    ring: usize,
    y: [f64; 2],
}

impl Sections {
    pub(super) fn of(outline: &Ring, openings: &[Ring]) -> Self {
        let spans = openings.iter().map(|o| [o.bbox().min.x, o.bbox().max.x]).collect();
        let size = outline.bbox();
        let rings: Vec<&Ring> = std::iter::once(outline).chain(openings).collect();
        let cuts = borders(&rings, &size);
        let mut crossings: Vec<Vec<Crossing>> = cuts.windows(2).map(|_| Vec::new()).collect();
        // The place of an x: that of the last border at or before it.
        let place = |x: f64| cuts.partition_point(|&c| c <= x).saturating_sub(1);
        for (ring, line) in rings.iter().enumerate() {
            for (a, b) in line.edges() {
                let (a, b) = if a.x <= b.x { (a, b) } else { (b, a) };
                let (first, last) = (place(a.x), place(b.x));
                for (k, list) in crossings.iter_mut().enumerate().take(last).skip(first) {
                    let y = [cuts[k], cuts[k + 1]].map(|x| a.lerp(b, ((x - a.x) / (b.x - a.x)).clamp(0.0, 1.0)).y);
                    list.push(Crossing { ring, y });
                }
            }
        }
        let panels = cuts.windows(2).zip(crossings).map(|(ends, list)| panel(ends[0], ends[1], list)).collect();
        Self { panels, spans }
    }

    /// Left and right end of the piece; `None` if it has no length.
    pub(super) fn ends(&self) -> Option<[f64; 2]> {
        Some([self.panels.first()?.from, self.panels.last()?.to])
    }

    /// The panels that hold x: one, or the two that meet there.
    pub(super) fn at(&self, x: f64) -> impl Iterator<Item = usize> {
        let first = self.panels.partition_point(|p| p.to < x);
        let last = self.panels.partition_point(|p| p.from <= x);
        first..last
    }
}

/// Every x at which a side begins or ends, ascending, none twice.
fn borders(rings: &[&Ring], size: &BBox) -> Vec<f64> {
    let mut xs: Vec<f64> = rings.iter().flat_map(|r| r.points()).map(|p| p.x).collect();
    xs.retain(|x| (size.min.x..=size.max.x).contains(x));
    xs.sort_by(f64::total_cmp);
    xs.dedup_by(|b, a| *b - *a < tol::SAME_POINT);
    xs
}

fn panel(from: f64, to: f64, mut list: Vec<Crossing>) -> Panel {
    list.sort_by(|a, b| (a.y[0] + a.y[1]).total_cmp(&(b.y[0] + b.y[1])).then(a.ring.cmp(&b.ring)));
    let mut inside = false;
    let mut open: Vec<usize> = Vec::new();
    let mut strips = Vec::new();
    for pair in list.windows(2) {
        match pair[0].ring {
            0 => inside = !inside,
            ring => match open.iter().position(|&o| o == ring - 1) {
                Some(k) => {
                    open.remove(k);
                }
                None => open.push(ring - 1),
            },
        }
        let (lo, hi) = (pair[0].y, pair[1].y);
        if inside && hi[0] - lo[0] + hi[1] - lo[1] > 2.0 * tol::SAME_POINT {
            strips.push(Strip { owner: open.first().copied(), lo, hi });
        }
    }
    Panel { from, to, strips }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::pt;

    #[test]
    fn strips_follow_the_outline_and_its_openings() {
        let outline = Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(1000.0, 600.0) });
        let hole = Ring::tidy(&[pt(400.0, 300.0), pt(500.0, 200.0), pt(600.0, 300.0), pt(500.0, 400.0)]).unwrap().0;
        let sections = Sections::of(&outline, &[hole]);
        let ends: Vec<(f64, f64)> = sections.panels.iter().map(|p| (p.from, p.to)).collect();
        assert_eq!(ends, [(0.0, 400.0), (400.0, 500.0), (500.0, 600.0), (600.0, 1000.0)]);
        let heights = |k: usize, part: f64| -> Vec<(Option<usize>, f64)> {
            sections.panels[k].strips.iter().map(|s| (s.owner, s.height(part))).collect()
        };
        assert_eq!(heights(0, 0.3), [(None, 600.0)]);
        assert_eq!(heights(1, 0.5), [(None, 250.0), (Some(0), 100.0), (None, 250.0)]);
        assert_eq!(heights(2, 0.0), [(None, 200.0), (Some(0), 200.0), (None, 200.0)]);
        assert_eq!(sections.at(400.0).collect::<Vec<_>>(), [0, 1]);
        assert_eq!(sections.at(450.0).collect::<Vec<_>>(), [1]);
    }

    #[test]
    fn a_notch_leaves_a_gap() {
        let u = [
            (0.0, 0.0),
            (900.0, 0.0),
            (900.0, 600.0),
            (300.0, 600.0),
            (300.0, 400.0),
            (700.0, 400.0),
            (700.0, 200.0),
            (0.0, 200.0),
        ];
        let outline = Ring::tidy(&u.map(|(x, y)| pt(x, y))).unwrap().0;
        let sections = Sections::of(&outline, &[]);
        let middle = &sections.panels[1];
        assert_eq!((middle.from, middle.to), (300.0, 700.0));
        assert_eq!(middle.strips.iter().map(|s| s.at(0.5)).collect::<Vec<_>>(), [[0.0, 200.0], [400.0, 600.0]]);
    }
}
