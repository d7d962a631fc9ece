//! Shapes as drawn, and outlines with their sides and finishes.

use crate::geom::curve::{self, Corner, Flattened, Side, Source};
use crate::geom::{BBox, Point, Ring, RingFault, Tidied, pt};

/// A closed shape as drawn, with its true arcs.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Corners, each sharp or rounded.
    Polygon(Vec<Corner>),
    /// An axis-parallel ellipse; a circle if both half axes are equal.
    Ellipse {
        /// Middle, mm.
        centre: Point,
        /// Half the width, mm.
        half_x: f64,
        /// Half the height, mm.
        half_y: f64,
    },
}

/// How an edge is finished.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Finish {
    /// As sawn.
    #[default]
    Raw,
    /// Any finish; it counts as polished for zones.
    Finished(String),
}

impl Finish {
    /// True for any finish but raw.
    #[must_use]
    pub const fn is_finished(&self) -> bool {
        matches!(self, Self::Finished(_))
    }

    /// Its name as written in files.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Raw => "raw",
            Self::Finished(name) => name,
        }
    }
}

/// Why a shape makes no outline.
#[derive(Clone, Debug, PartialEq)]
pub enum OutlineFault {
    /// The corners do not make a ring.
    Ring(RingFault),
    /// A rounding does not fit its corner; the index is that of the corner as given.
    Rounding(curve::Misfit),
    /// The corners make a ring, but the roundings make it cross itself near this point.
    RoundedCrossing(Point),
}

impl Shape {
    /// A rectangle with its lower left corner at the origin and one radius for all corners.
    #[must_use]
    pub fn rectangle(width: f64, height: f64, radius: f64) -> Self {
        let b = BBox { min: pt(0.0, 0.0), max: pt(width, height) };
        Self::Polygon(b.corners().iter().map(|&at| Corner { at, radius }).collect())
    }

    /// Checks the shape, orients it counter-clockwise, and takes out repeated and collinear corners.
    ///
    /// Returns the tidied shape, what was mended, and for every side of the tidied shape the index of the side as given
    /// (a side is named by the corner where it starts). A collinear corner stays where `keep(i)` says that the sides that
    /// meet at given corner `i` differ.
    ///
    /// # Errors
    /// The first fault found.
    pub fn tidy(&self, keep: impl Fn(usize) -> bool) -> Result<(Self, Tidied, Vec<usize>), OutlineFault> {
        let Self::Polygon(corners) = self else { return Ok((self.clone(), Tidied::default(), vec![0])) };
        let given: Vec<Point> = corners.iter().map(|c| c.at).collect();
        let (ring, mut tidied) = Ring::tidy(&given).map_err(OutlineFault::Ring)?;
        // Walk the given corners in ring direction and keep those that are corners of the ring, or asked for.
        let n = given.len();
        let order: Vec<usize> = if tidied.reversed { (0..n).rev().collect() } else { (0..n).collect() };
        let mut kept: Vec<usize> = Vec::with_capacity(n);
        // Sorted, for outlines of ten thousand corners. Adding 0 makes -0 and 0 one number, as `==` has it.
        let bits = |p: Point| ((p.x + 0.0).to_bits(), (p.y + 0.0).to_bits());
        let mut on_ring: Vec<(u64, u64)> = ring.points().iter().map(|&p| bits(p)).collect();
        on_ring.sort_unstable();
        for &i in &order {
            let repeated = kept.last().is_some_and(|&k| given[k].distance(given[i]) < crate::geom::tol::SAME_POINT)
                || (kept.len() > 1 && given[kept[0]].distance(given[i]) < crate::geom::tol::SAME_POINT);
            if !repeated && (on_ring.binary_search(&bits(given[i])).is_ok() || keep(i)) {
                kept.push(i);
            }
        }
        tidied.collinear = tidied.collinear.saturating_sub(kept.len() - ring.points().len());
        // The side that starts at a corner in ring direction: as given, or, reversed, the one that ended there.
        let sides = kept.iter().map(|&i| if tidied.reversed { (i + n - 1) % n } else { i }).collect();
        let tidy: Vec<Corner> = kept.iter().map(|&i| corners[i]).collect();
        if let Err(mut misfit) = curve::check_roundings(&tidy) {
            misfit.corner = kept[misfit.corner];
            return Err(OutlineFault::Rounding(misfit));
        }
        if tidy.iter().any(|c| c.radius > 0.0) {
            let flat = curve::rounded(&tidy, Side::Outer);
            if let Err(RingFault::Crossing { at, .. }) = Ring::tidy(&flat.points) {
                return Err(OutlineFault::RoundedCrossing(at));
            }
        }
        Ok((Self::Polygon(tidy), tidied, sides))
    }

    /// The shape as a polyline that errs on the given side. The shape must be tidy.
    #[must_use]
    pub fn flatten(&self, side: Side) -> Flattened {
        match self {
            Self::Polygon(corners) => curve::rounded(corners, side),
            Self::Ellipse { centre, half_x, half_y } => curve::ellipse(*centre, *half_x, *half_y, side),
        }
    }

    /// Exact bounding box of the true shape. The shape must be tidy.
    #[must_use]
    pub fn extent(&self) -> BBox {
        match self {
            Self::Polygon(corners) => curve::extent(corners),
            Self::Ellipse { centre, half_x, half_y } => {
                let h = pt(*half_x, *half_y);
                BBox { min: *centre - h, max: *centre + h }
            }
        }
    }

    /// Area inside the true line, mm². The shape must be tidy.
    ///
    /// A corner of turn `a` rounded by `r` loses two right triangles of legs `r` and `r tan(a/2)` and keeps the sector between
    /// them: `r² (tan(a/2) - a/2)`; a corner that points inwards gains as much.
    #[must_use]
    pub fn area(&self) -> f64 {
        let corners = match self {
            Self::Ellipse { half_x, half_y, .. } => return std::f64::consts::PI * half_x * half_y,
            Self::Polygon(corners) => corners,
        };
        let n = corners.len();
        let Some(origin) = corners.first().map(|c| c.at) else { return 0.0 };
        let mut sum = 0.0;
        for i in 0..n {
            let (a, b, c) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
            sum += (b - origin).cross(c - origin) / 2.0;
            let (u, v) = (b - a, c - b);
            let turn = u.cross(v).atan2(u.dot(v));
            let half = turn.abs() / 2.0;
            if corners[i].radius > 0.0 {
                sum -= corners[i].radius.powi(2) * (half.tan() - half) * turn.signum();
            }
        }
        sum
    }

    /// The shape moved by a vector.
    #[must_use]
    pub fn moved(&self, by: Point) -> Self {
        match self {
            Self::Polygon(corners) => {
                Self::Polygon(corners.iter().map(|c| Corner { at: c.at + by, radius: c.radius }).collect())
            }
            Self::Ellipse { centre, half_x, half_y } => {
                Self::Ellipse { centre: *centre + by, half_x: *half_x, half_y: *half_y }
            }
        }
    }

    /// Corners at which the line turns by more than 15 degrees, with their radius and whether they point outwards.
    /// An ellipse has one "corner" of its least radius of curvature, pointing outwards.
    ///
    /// The 15 degrees tell a corner from a step of a curve that was drawn as a polyline (common practice).
    #[must_use]
    pub fn turns(&self) -> Vec<(Point, f64, bool)> {
        match self {
            Self::Polygon(corners) => {
                let n = corners.len();
                (0..n)
                    .filter_map(|i| {
                        let (a, b, c) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
                        let (u, v) = (b - a, c - b);
                        let turn = u.cross(v).atan2(u.dot(v)).to_degrees();
                        (turn.abs() > 15.0).then_some((b, corners[i].radius, turn > 0.0))
                    })
                    .collect()
            }
            Self::Ellipse { centre, half_x, half_y } => {
                // Least radius of curvature of an ellipse: b²/a at the ends of the long axis.
                let (long, short) = (half_x.max(*half_y), half_x.min(*half_y));
                let end = if half_x >= half_y { pt(*half_x, 0.0) } else { pt(0.0, *half_y) };
                vec![(*centre + end, short * short / long, true)]
            }
        }
    }
}

/// The outline of a piece: its true shape, the polyline that stands in for it, and the finish of every side.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// The true shape, counter-clockwise, piece frame.
    pub shape: Shape,
    /// The polyline: never inside the true shape.
    pub ring: Ring,
    /// For every edge of `ring`, where it comes from: a side or a rounding of `shape`.
    pub sources: Vec<Source>,
    /// For every side of `shape` (by the corner where it starts), its finish.
    pub finishes: Vec<Finish>,
}

impl Outline {
    /// The outline of a tidy shape with the finish of each of its sides.
    ///
    /// # Panics
    /// If there are not as many finishes as sides.
    #[must_use]
    pub fn new(shape: Shape, finishes: Vec<Finish>) -> Self {
        let Flattened { points, sources } = shape.flatten(Side::Outer);
        let sides = match &shape {
            Shape::Polygon(corners) => corners.len(),
            Shape::Ellipse { .. } => 1,
        };
        assert_eq!(sides, finishes.len(), "one finish per side");
        Self { shape, ring: Ring::vouched_outline(points), sources, finishes }
    }

    /// True if edge `i` of the ring is finished. A rounding is finished if either of its sides is.
    #[must_use]
    pub fn is_finished(&self, edge: usize) -> bool {
        match self.sources[edge] {
            Source::Side(s) => self.finishes[s].is_finished(),
            Source::Rounding(c) => {
                let n = self.finishes.len();
                self.finishes[c].is_finished() || self.finishes[(c + n - 1) % n].is_finished()
            }
        }
    }

    /// The front of an outline that is bowed there: its line about its lowest point, from left to right, as far as it rises or
    /// falls by less than `slope` times what it goes to the right. Empty for a lowest corner with steeper sides.
    #[must_use]
    pub fn bow(&self, slope: f64) -> Vec<Point> {
        let points = self.ring.points();
        let n = points.len();
        let by_height =
            |&a: &usize, &b: &usize| points[a].y.total_cmp(&points[b].y).then(points[a].x.total_cmp(&points[b].x));
        let Some(low) = (0..n).min_by(by_height) else { return Vec::new() };
        let is_level = |i: usize| {
            let d = points[(i + 1) % n] - points[i % n];
            d.x > 0.0 && d.y.abs() < slope * d.x
        };
        let after = (0..n).take_while(|k| is_level(low + k)).count();
        let before = (1..=n - after).take_while(|k| is_level(low + n - k)).count();
        if before + after == 0 {
            return Vec::new();
        }
        (0..=before + after).map(|k| points[(low + n - before + k) % n]).collect()
    }

    /// The finished edges of the ring.
    pub fn finished_edges(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        self.ring.edges().enumerate().filter(|&(i, _)| self.is_finished(i)).map(|(_, e)| e)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_area_is_that_of_the_true_shape() {
        // A rectangle with round corners lacks (4 - pi) r² (any handbook).
        let (w, h, r) = (700.0, 400.0, 20.0);
        let shape = Shape::rectangle(w, h, r);
        let expected = w * h - (4.0 - std::f64::consts::PI) * r * r;
        assert!((shape.area() - expected).abs() < 1e-6);
        // An L whose inside corner is rounded gains there what it loses at an outside one.
        let l = [
            (0.0, 0.0, 0.0),
            (300.0, 0.0, 0.0),
            (300.0, 100.0, 0.0),
            (100.0, 100.0, 15.0),
            (100.0, 300.0, 0.0),
            (0.0, 300.0, 0.0),
        ];
        let shape = Shape::Polygon(l.iter().map(|&(x, y, radius)| Corner { at: pt(x, y), radius }).collect());
        let ring = Ring::vouched_outline(shape.flatten(Side::Outer).points);
        let expected = 50_000.0 + (1.0 - std::f64::consts::FRAC_PI_4) * 15.0 * 15.0;
        assert!((shape.area() - expected).abs() < 1e-6);
        // The polyline is never smaller, and hardly larger.
        assert!(ring.area() >= expected - 1e-6 && ring.area() - expected < 0.05 * ring.perimeter());
    }
}
