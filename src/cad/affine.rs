//! Turning, scaling and mirroring of what is on a drawing, as blocks are put into it.
//!
//! In: a body. Out: the bodies that it becomes. Must not know: blocks, files.

use super::path::{arc_of, stretches};
use super::{Body, Curve, Vertex, path};
use crate::geom::{Point, pt};

/// The map `p -> origin + x p.x + y p.y`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Affine {
    /// Where the unit step along x goes.
    pub x: Point,
    /// Where the unit step along y goes.
    pub y: Point,
    /// Where the origin goes.
    pub origin: Point,
}

impl Affine {
    /// The map that changes nothing.
    pub const NONE: Self = Self { x: pt(1.0, 0.0), y: pt(0.0, 1.0), origin: pt(0.0, 0.0) };

    /// The point that `p` becomes.
    #[must_use]
    pub fn point(&self, p: Point) -> Point {
        self.vector(p) + self.origin
    }

    /// The vector that `v` becomes.
    #[must_use]
    pub fn vector(&self, v: Point) -> Point {
        self.x * v.x + self.y * v.y
    }

    /// First `inner`, then this.
    #[must_use]
    pub fn after(&self, inner: &Self) -> Self {
        Self { x: self.vector(inner.x), y: self.vector(inner.y), origin: self.point(inner.origin) }
    }

    /// By how much it changes areas; negative: it mirrors.
    #[must_use]
    pub fn determinant(&self) -> f64 {
        self.x.cross(self.y)
    }

    /// The scale, if it keeps all angles.
    fn similar(&self) -> Option<f64> {
        let (a, b) = (self.x.norm(), self.y.norm());
        let same = (a - b).abs() <= 1e-9 * a.max(b) && self.x.dot(self.y).abs() <= 1e-9 * a * b;
        same.then_some(a)
    }

    /// What a body becomes. Where angles change, circles become ellipses, and paths with arcs fall into their parts.
    #[must_use]
    pub fn body(&self, body: &Body) -> Vec<Body> {
        let similar = self.similar();
        match (body, similar) {
            (Body::Text { at, height, turn, content }, _) => {
                let (s, c) = turn.to_radians().sin_cos();
                let along = self.vector(pt(c, s));
                vec![Body::Text {
                    at: self.point(*at),
                    height: height * self.determinant().abs().sqrt(),
                    turn: along.y.atan2(along.x).to_degrees(),
                    content: content.clone(),
                }]
            }
            (Body::Path { vertices, closed }, Some(_)) => {
                let sign = self.determinant().signum();
                let map = |v: &Vertex| Vertex { at: self.point(v.at), bulge: v.bulge * sign };
                vec![Body::Path { vertices: vertices.iter().map(map).collect(), closed: *closed }]
            }
            (Body::Path { vertices, closed }, None) if vertices.iter().all(|v| v.bulge == 0.0) => {
                let map = |v: &Vertex| Vertex { at: self.point(v.at), bulge: 0.0 };
                vec![Body::Path { vertices: vertices.iter().map(map).collect(), closed: *closed }]
            }
            (Body::Path { .. }, None) => {
                let all = stretches(body, 0).map(|s| s.0).unwrap_or_default();
                all.iter()
                    .map(|s| match s.way {
                        path::Way::Arc(bulge) => {
                            let arc = arc_of(s.from, s.to, bulge);
                            let out = s.from - arc.centre;
                            Body::Curve(Curve::Elliptic {
                                centre: self.point(arc.centre),
                                first: self.vector(out),
                                second: self.vector(out.left()),
                                from: 0.0,
                                sweep: arc.sweep,
                            })
                        }
                        _ => Body::Path {
                            vertices: [s.from, s.to].map(|p| Vertex { at: self.point(p), bulge: 0.0 }).to_vec(),
                            closed: false,
                        },
                    })
                    .collect()
            }
            (Body::Circle { centre, radius }, Some(scale)) => {
                vec![Body::Circle { centre: self.point(*centre), radius: radius * scale }]
            }
            (Body::Circle { centre, radius }, None) => {
                vec![principal(self.point(*centre), self.x * *radius, self.y * *radius)]
            }
            (Body::Ellipse { centre, half_x, half_y, turn }, _) => {
                let (s, c) = turn.to_radians().sin_cos();
                let axis = pt(c, s);
                vec![principal(self.point(*centre), self.vector(axis * *half_x), self.vector(axis.left() * *half_y))]
            }
            (Body::Curve(Curve::Elliptic { centre, first, second, from, sweep }), _) => {
                vec![Body::Curve(Curve::Elliptic {
                    centre: self.point(*centre),
                    first: self.vector(*first),
                    second: self.vector(*second),
                    from: *from,
                    sweep: *sweep,
                })]
            }
            (Body::Curve(Curve::Spline(s)), _) => vec![Body::Curve(Curve::Spline(s.map(|p| self.point(p))))],
        }
    }
}

/// The ellipse of two conjugate half axes.
///
/// `u cos t + v sin t` is longest at t = atan2(2 u·v, u² - v²) / 2 (the derivative of its square vanishes there); the other axis is a
/// quarter on.
fn principal(centre: Point, u: Point, v: Point) -> Body {
    let t = f64::atan2(2.0 * u.dot(v), u.dot(u) - v.dot(v)) / 2.0;
    let (s, c) = t.sin_cos();
    let (a, b) = (u * c + v * s, v * c - u * s);
    Body::Ellipse { centre, half_x: a.norm(), half_y: b.norm(), turn: a.y.atan2(a.x).to_degrees() }
}
