//! Drawings in: what a DXF file holds, and what is made of it.
//!
//! All files are made here, pair by pair, as the DXF reference has them; none was exported by a program.

mod areas;
mod blocks;
mod broken;
mod chaining;
mod fuzz;
mod jobs;
mod read;
mod units;

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use scantling::cad::outlines::Outline;
use scantling::geom::curve::{Corner, Side};
use scantling::geom::{Point, Ring, pt};
use scantling::io::drawn::{self, Request, Seen};
use scantling::model::Shape;

/// A DXF file in the making.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    header: String,
    layers: String,
    blocks: String,
    body: String,
    next: u32,
}

impl Draft {
    /// A file without a unit.
    pub(super) fn new() -> Self {
        Self { header: String::new(), layers: String::new(), blocks: String::new(), body: String::new(), next: 0x20 }
    }

    /// A file in millimetres.
    pub(super) fn mm() -> Self {
        Self::new().unit(4)
    }

    pub(super) fn unit(mut self, code: i32) -> Self {
        let _ = write!(self.header, "9\n$INSUNITS\n70\n{code}\n");
        self
    }

    pub(super) fn layer(mut self, name: &str, flags: i32, colour: i32) -> Self {
        let _ = write!(self.layers, "0\nLAYER\n2\n{name}\n70\n{flags}\n62\n{colour}\n6\nCONTINUOUS\n");
        self
    }

    /// An entity; the pairs follow its handle and layer.
    pub(super) fn add(mut self, kind: &str, layer: &str, pairs: &str) -> Self {
        self.next += 1;
        let _ = write!(self.body, "0\n{kind}\n5\n{:X}\n8\n{layer}\n{pairs}", self.next);
        self
    }

    /// A block with its base and its entities, as [`Draft::add`] writes them.
    pub(super) fn block(mut self, name: &str, base: [f64; 2], within: &Self) -> Self {
        let _ = write!(
            self.blocks,
            "0\nBLOCK\n8\n0\n2\n{name}\n70\n0\n10\n{}\n20\n{}\n30\n0\n{}0\nENDBLK\n8\n0\n",
            base[0], base[1], within.body
        );
        self
    }

    pub(super) fn line(self, layer: &str, a: [f64; 2], b: [f64; 2]) -> Self {
        let pairs = format!("10\n{}\n20\n{}\n30\n0\n11\n{}\n21\n{}\n31\n0\n", a[0], a[1], b[0], b[1]);
        self.add("LINE", layer, &pairs)
    }

    pub(super) fn circle(self, layer: &str, c: [f64; 2], r: f64) -> Self {
        self.add("CIRCLE", layer, &format!("10\n{}\n20\n{}\n30\n0\n40\n{r}\n", c[0], c[1]))
    }

    /// Angles in degrees, counter-clockwise.
    pub(super) fn arc(self, layer: &str, c: [f64; 2], r: f64, from: f64, to: f64) -> Self {
        let pairs = format!("10\n{}\n20\n{}\n30\n0\n40\n{r}\n50\n{from}\n51\n{to}\n", c[0], c[1]);
        self.add("ARC", layer, &pairs)
    }

    /// Corners `[x, y, bulge]`.
    pub(super) fn polyline(self, layer: &str, closed: bool, corners: &[[f64; 3]]) -> Self {
        let mut pairs = format!("90\n{}\n70\n{}\n", corners.len(), i32::from(closed));
        for [x, y, bulge] in corners {
            let _ = write!(pairs, "10\n{x}\n20\n{y}\n42\n{bulge}\n");
        }
        self.add("LWPOLYLINE", layer, &pairs)
    }

    pub(super) fn rectangle(self, layer: &str, from: [f64; 2], size: [f64; 2]) -> Self {
        let [x, y] = from;
        let [w, h] = size;
        self.polyline(layer, true, &[[x, y, 0.0], [x + w, y, 0.0], [x + w, y + h, 0.0], [x, y + h, 0.0]])
    }

    pub(super) fn text(self, layer: &str, at: [f64; 2], height: f64, says: &str) -> Self {
        self.add("TEXT", layer, &format!("10\n{}\n20\n{}\n30\n0\n40\n{height}\n1\n{says}\n", at[0], at[1]))
    }

    /// Degree, knots, control points; weights may be empty.
    pub(super) fn spline(
        self,
        layer: &str,
        degree: usize,
        knots: &[f64],
        points: &[[f64; 2]],
        weights: &[f64],
    ) -> Self {
        let mut pairs = format!("70\n8\n71\n{degree}\n72\n{}\n73\n{}\n74\n0\n", knots.len(), points.len());
        pairs.extend(knots.iter().map(|k| format!("40\n{k}\n")));
        pairs.extend(weights.iter().map(|k| format!("41\n{k}\n")));
        pairs.extend(points.iter().map(|[x, y]| format!("10\n{x}\n20\n{y}\n30\n0\n")));
        self.add("SPLINE", layer, &pairs)
    }

    /// The whole file as text.
    pub(super) fn file(&self) -> String {
        format!(
            "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n{}0\nENDSEC\n0\nSECTION\n2\nTABLES\n0\nTABLE\n2\nLAYER\n70\n1\n{}0\nENDTAB\n0\nENDSEC\n\
             0\nSECTION\n2\nBLOCKS\n{}0\nENDSEC\n0\nSECTION\n2\nENTITIES\n{}0\nENDSEC\n0\nEOF\n",
            self.header, self.layers, self.blocks, self.body
        )
    }

    pub(super) fn save(&self, dir: &Path, name: &str) {
        fs::write(dir.join(name), self.file()).unwrap();
    }
}

/// What one asks for by default.
pub(super) fn request() -> Request {
    Request { unit: None, layer: None, text_layer: None, tolerance: 0.1, err: Side::Outer }
}

pub(super) fn see(draft: &Draft) -> Seen {
    see_with(draft, &request())
}

#[track_caller]
pub(super) fn see_with(draft: &Draft, request: &Request) -> Seen {
    match drawn::see("drawing.dxf", draft.file().as_bytes(), request) {
        Ok(seen) => seen,
        Err(remark) => panic!("{remark}"),
    }
}

/// All that was said, as one text.
pub(super) fn said(seen: &Seen) -> String {
    seen.remarks.iter().map(|r| format!("{r}\n")).collect()
}

/// The one outline of a drawing without errors.
#[track_caller]
pub(super) fn one(seen: &Seen) -> &Outline {
    assert!(!said(seen).contains("error:"), "{}", said(seen));
    assert_eq!(seen.outlines.outer().count(), 1, "{}", said(seen));
    seen.outlines.outer().next().unwrap()
}

/// The exact area of a shape: the polygon of its corners, less what each rounding takes, r² (tan(a/2) - a/2) for a turn of a.
pub(super) fn exact_area(shape: &Shape) -> f64 {
    match shape {
        Shape::Ellipse { half_x, half_y, .. } => std::f64::consts::PI * half_x * half_y,
        Shape::Polygon(corners) => {
            let n = corners.len();
            let at = |i: usize| corners[i % n].at;
            let polygon: f64 = (0..n).map(|i| at(i).cross(at(i + 1))).sum::<f64>() / 2.0;
            let taken: f64 = (0..n)
                .map(|i| {
                    let (u, v) = (at(i + n) - at(i + n - 1), at(i + 1) - at(i));
                    let half = u.cross(v).atan2(u.dot(v)) / 2.0;
                    corners[i].radius.powi(2) * (half.tan() - half)
                })
                .sum();
            polygon - taken
        }
    }
}

#[track_caller]
pub(super) fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "found {found}, wanted {wanted}, off by {}", found - wanted);
}

pub(super) fn corner(x: f64, y: f64, radius: f64) -> Corner {
    Corner { at: pt(x, y), radius }
}

pub(super) fn polygon(shape: &Shape) -> &[Corner] {
    match shape {
        Shape::Polygon(corners) => corners,
        Shape::Ellipse { .. } => panic!("{shape:?}"),
    }
}

/// Distance of a point to a ring's line.
pub(super) fn off(ring: &Ring, p: Point) -> f64 {
    ring.edges()
        .map(|(a, b)| {
            let d = b - a;
            let t = ((p - a).dot(d) / d.dot(d)).clamp(0.0, 1.0);
            p.distance(a.lerp(b, t))
        })
        .fold(f64::INFINITY, f64::min)
}

/// The ring that stands in for a shape.
pub(super) fn ring(shape: &Shape, side: Side) -> Ring {
    Ring::tidy(&shape.flatten(side).points).unwrap().0
}
