//! Finds room for text on a drawing. Boxes never overlap one another; lines are crossed only where nothing else is left.
//! Paper millimetres. Knows nothing of what the texts say.

use super::scene::{Anchor, Text};
use super::text;
use crate::geom::{BBox, Point, Ring, pt};

/// A line that text should keep off, and how much crossing it costs.
#[derive(Clone, Copy, Debug)]
struct Obstacle {
    a: Point,
    b: Point,
    weight: f64,
}

/// What is taken so far.
#[derive(Clone, Debug)]
pub struct Placer {
    area: BBox,
    boxes: Vec<BBox>,
    leaders: Vec<(Point, Point)>,
    obstacles: Vec<Obstacle>,
}

/// Boxes keep this distance from one another, mm.
const APART: f64 = 0.3;

impl Placer {
    /// Nothing taken in this area.
    #[must_use]
    pub const fn new(area: BBox) -> Self {
        Self { area, boxes: Vec::new(), leaders: Vec::new(), obstacles: Vec::new() }
    }

    /// Text should not cross this line.
    pub fn avoid(&mut self, a: Point, b: Point, weight: f64) {
        self.obstacles.push(Obstacle { a, b, weight });
    }

    /// Text should not cross these lines.
    pub fn avoid_ring(&mut self, ring: &Ring, weight: f64) {
        for (a, b) in ring.edges() {
            self.avoid(a, b, weight);
        }
    }

    /// This room is taken.
    pub fn take(&mut self, b: BBox) {
        self.boxes.push(b);
    }

    /// No text may lie on this line.
    pub fn take_line(&mut self, a: Point, b: Point) {
        self.leaders.push((a, b));
    }

    /// The part that matters inside a box.
    #[must_use]
    pub fn within(&self, b: &BBox) -> Self {
        Self {
            area: self.area,
            boxes: self.boxes.iter().copied().filter(|o| o.near(b, 1.0)).collect(),
            leaders: self.leaders.iter().copied().filter(|&(p, q)| crosses(p, q, b, 1.0)).collect(),
            obstacles: self.obstacles.iter().copied().filter(|o| crosses(o.a, o.b, b, 1.0)).collect(),
        }
    }

    /// What it costs to put a box there; `None` where it must not be.
    #[must_use]
    pub fn cost(&self, b: &BBox) -> Option<f64> {
        let inside = b.min.x >= self.area.min.x
            && b.min.y >= self.area.min.y
            && b.max.x <= self.area.max.x
            && b.max.y <= self.area.max.y;
        if !inside || self.boxes.iter().any(|o| o.near(b, APART)) {
            return None;
        }
        if self.leaders.iter().any(|&(p, q)| crosses(p, q, b, 0.1)) {
            return None;
        }
        Some(self.obstacles.iter().filter(|o| crosses(o.a, o.b, b, 0.2)).map(|o| o.weight).sum())
    }

    /// True if a leader along this line would cross no text.
    #[must_use]
    pub fn is_clear(&self, a: Point, b: Point) -> bool {
        !self.boxes.iter().any(|o| crosses(a, b, o, 0.1))
    }

    /// The cheapest of some middles for a box of that size: own cost plus what it crosses; `None` if none is free or the
    /// cheapest costs more than `most`.
    #[must_use]
    pub fn best(
        &self,
        size: (f64, f64),
        middles: impl IntoIterator<Item = (Point, f64)>,
        most: f64,
    ) -> Option<(Point, f64)> {
        let middles: Vec<(Point, f64)> = middles.into_iter().collect();
        let half = pt(size.0, size.1);
        let span = BBox::of(middles.iter().map(|(m, _)| m));
        let local = self.within(&BBox { min: span.min - half, max: span.max + half });
        let mut best: Option<(Point, f64)> = None;
        for (m, own) in middles {
            let limit = best.map_or(most, |b| b.1);
            if own >= limit {
                continue;
            }
            if let Some(c) = local.cost(&around(m, size))
                && own + c < limit
            {
                best = Some((m, own + c));
            }
        }
        best
    }
}

/// A box about a middle.
#[must_use]
pub fn around(m: Point, (w, h): (f64, f64)) -> BBox {
    let half = pt(w / 2.0, h / 2.0);
    BBox { min: m - half, max: m + half }
}

/// True if the segment meets the box grown by `by` (Liang and Barsky's clipping, 1984).
#[must_use]
pub fn crosses(a: Point, b: Point, bx: &BBox, by: f64) -> bool {
    let (x0, x1, y0, y1) = (bx.min.x - by, bx.max.x + by, bx.min.y - by, bx.max.y + by);
    if a.x.max(b.x) < x0 || a.x.min(b.x) > x1 || a.y.max(b.y) < y0 || a.y.min(b.y) > y1 {
        return false;
    }
    let d = b - a;
    let (mut t0, mut t1) = (0.0_f64, 1.0_f64);
    for (p, q) in [(-d.x, a.x - x0), (d.x, x1 - a.x), (-d.y, a.y - y0), (d.y, y1 - a.y)] {
        if p == 0.0 {
            if q < 0.0 {
                return false;
            }
        } else {
            let r = q / p;
            if p < 0.0 { t0 = t0.max(r) } else { t1 = t1.min(r) }
        }
    }
    t0 <= t1
}

/// True if the whole box lies in the ring.
#[must_use]
pub fn box_in_ring(b: &BBox, ring: &Ring) -> bool {
    b.corners().iter().all(|&c| ring.contains(c)) && !ring.edges().any(|(p, q)| crosses(p, q, b, 0.0))
}

/// Middles on a grid for boxes of that size inside a box, nearest to `home` cheapest.
#[must_use]
pub fn grid(b: &BBox, (w, h): (f64, f64), home: Point) -> Vec<(Point, f64)> {
    let (rx, ry) = (b.width() - w, b.height() - h);
    if rx < 0.0 || ry < 0.0 {
        return Vec::new();
    }
    let steps = |room: f64| ((room / 1.0).ceil() as usize).clamp(1, 40);
    let (nx, ny) = (steps(rx), steps(ry));
    let mut out = Vec::with_capacity((nx + 1) * (ny + 1));
    for j in 0..=ny {
        for i in 0..=nx {
            let at = b.min + pt(w / 2.0 + rx * i as f64 / nx as f64, h / 2.0 + ry * j as f64 / ny as f64);
            out.push((at, at.distance(home) * 0.05));
        }
    }
    out
}

/// Middles round a point, nearest cheapest, for a box that a leader joins to the point.
#[must_use]
pub fn round_about(target: Point, (w, h): (f64, f64), farthest: f64) -> Vec<(Point, f64)> {
    let mut out = Vec::new();
    let mut gap = 0.8;
    while gap <= farthest {
        for step in 0..24 {
            let (s, c) = (f64::from(step) * std::f64::consts::PI / 12.0).sin_cos();
            // The box touches a circle of radius `gap` about the target in that direction.
            let at = target + pt(c * (gap + w / 2.0), s * (gap + h / 2.0));
            out.push((at, gap * 0.4 + f64::from(step) * 0.001));
        }
        gap += if gap < 8.0 { 0.8 } else { 2.5 };
    }
    out
}

/// Some lines of text that stay together.
#[derive(Clone, Debug)]
pub struct Words {
    /// Each with its font size (mm) and whether it is bold.
    pub lines: Vec<(String, f64, bool)>,
    /// Turned a quarter counter-clockwise.
    pub upright: bool,
}

impl Words {
    /// One plain line of the least size.
    #[must_use]
    pub fn plain(content: impl Into<String>) -> Self {
        Self { lines: vec![(text::clean(&content.into()), text::LEAST_SIZE, false)], upright: false }
    }

    /// The same, turned or not.
    #[must_use]
    pub fn turned(mut self, upright: bool) -> Self {
        self.upright = upright;
        self
    }

    fn across(&self) -> f64 {
        self.lines.iter().map(|(_, size, _)| size * text::PITCH).sum()
    }

    /// Width and height on the paper.
    #[must_use]
    pub fn size(&self) -> (f64, f64) {
        let long = self.lines.iter().map(|(s, size, bold)| text::width(s, *size, *bold)).fold(0.0, f64::max);
        if self.upright { (self.across(), long) } else { (long, self.across()) }
    }

    /// The texts about a middle.
    #[must_use]
    pub fn texts(&self, middle: Point) -> Vec<Text> {
        let mut down = self.across() / 2.0;
        self.lines
            .iter()
            .map(|(s, size, bold)| {
                let pad = size * (text::PITCH - text::ASCENT - text::DESCENT) / 2.0;
                let base = down - pad - size * text::ASCENT;
                down -= size * text::PITCH;
                let at = if self.upright { middle + pt(-base, 0.0) } else { middle + pt(0.0, base) };
                let mut t = Text::new(s, at, Anchor::Middle, *size);
                (t.bold, t.upright, t.backed) = (*bold, self.upright, true);
                t
            })
            .collect()
    }
}
