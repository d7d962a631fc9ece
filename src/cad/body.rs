//! Shapes of the model as bodies of a drawing, with their true arcs.
//!
//! In: shapes in a frame, a pose. Out: [`Body`]s in the frame that the pose leads to. Must not know: what they are of.

use super::{Body, Vertex};
use crate::geom::{Point, Pose, tol};
use crate::model::Shape;

/// A tidy shape where the pose puts it: rounded corners are arcs, an ellipse stays one, a circle too.
#[must_use]
pub fn body(shape: &Shape, pose: &Pose) -> Body {
    match shape {
        Shape::Ellipse { centre, half_x, half_y } if half_x == half_y => {
            Body::Circle { centre: pose.apply(*centre), radius: *half_x }
        }
        Shape::Ellipse { centre, half_x, half_y } => {
            let turn = pose.turn.rem_euclid(360.0);
            Body::Ellipse { centre: pose.apply(*centre), half_x: *half_x, half_y: *half_y, turn }
        }
        Shape::Polygon(corners) => {
            let n = corners.len();
            let mut vertices: Vec<Vertex> = Vec::with_capacity(2 * n);
            for i in 0..n {
                let (before, here, after) = (corners[(i + n - 1) % n].at, corners[i].at, corners[(i + 1) % n].at);
                for (at, bulge) in corner(before, here, after, corners[i].radius) {
                    // A rounding that takes the whole side leaves a side of no length: the end of one arc is the start of
                    // the next, and the vertex that starts an arc knows how it bends.
                    if vertices.last().is_some_and(|v| v.bulge == 0.0 && v.at.distance(at) < tol::SAME_POINT) {
                        vertices.pop();
                    }
                    vertices.push(Vertex { at, bulge });
                }
            }
            let meets = |a: &Vertex, b: &Vertex| a.bulge == 0.0 && a.at.distance(b.at) < tol::SAME_POINT;
            if vertices.len() > 2 && vertices.last().zip(vertices.first()).is_some_and(|(a, b)| meets(a, b)) {
                vertices.pop();
            }
            for v in &mut vertices {
                v.at = pose.apply(v.at);
            }
            Body::Path { vertices, closed: true }
        }
    }
}

/// A corner as vertices with their bulges: itself, or the two ends of its arc.
///
/// The arc turns as much as the line does, so its bulge is the tangent of a quarter of that turn.
fn corner(before: Point, here: Point, after: Point, radius: f64) -> Vec<(Point, f64)> {
    let (u, v) = (here - before, after - here);
    let turn = u.cross(v).atan2(u.dot(v));
    let (a, b) = (u.norm(), v.norm());
    if radius == 0.0 || turn == 0.0 || a == 0.0 || b == 0.0 {
        return vec![(here, 0.0)];
    }
    let tangent = radius * (turn.abs() / 2.0).tan();
    vec![(here - u * (tangent / a), (turn / 4.0).tan()), (here + v * (tangent / b), 0.0)]
}

/// A closed path through points.
#[must_use]
pub fn closed(points: impl IntoIterator<Item = Point>) -> Body {
    Body::Path { vertices: points.into_iter().map(|at| Vertex { at, bulge: 0.0 }).collect(), closed: true }
}

/// An open path through points.
#[must_use]
pub fn open(points: impl IntoIterator<Item = Point>) -> Body {
    Body::Path { vertices: points.into_iter().map(|at| Vertex { at, bulge: 0.0 }).collect(), closed: false }
}

/// Every point within `radius` (mm, above 0) of a straight line: two sides and two half circles; a circle round a line of no
/// length.
#[must_use]
pub fn slot(from: Point, to: Point, radius: f64) -> Body {
    let along = to - from;
    let long = along.norm();
    if long < tol::SAME_POINT {
        return Body::Circle { centre: from, radius };
    }
    let side = along.left() * (radius / long);
    // The tangent of a quarter of half a circle is 1.
    let vertices = [(from - side, 0.0), (to - side, 1.0), (to + side, 0.0), (from + side, 1.0)];
    Body::Path { vertices: vertices.iter().map(|&(at, bulge)| Vertex { at, bulge }).collect(), closed: true }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::curve::Corner;
    use crate::geom::pt;

    fn vertices(body: &Body) -> &[Vertex] {
        match body {
            Body::Path { vertices, closed: true } => vertices,
            other => panic!("a closed path, not {other:?}"),
        }
    }

    #[test]
    fn a_rounded_rectangle_has_eight_vertices_and_quarter_bulges() {
        let body = body(&Shape::rectangle(700.0, 400.0, 20.0), &Pose::default());
        let v = vertices(&body);
        assert_eq!(v.len(), 8);
        // The bulge of a quarter circle is the tangent of 22.5 degrees.
        let quarter = 2.0_f64.sqrt() - 1.0;
        for (i, v) in v.iter().enumerate() {
            let expected = if i % 2 == 0 { quarter } else { 0.0 };
            assert!((v.bulge - expected).abs() < 1e-15, "{i}: {v:?}");
        }
        assert!(v[0].at.distance(pt(0.0, 20.0)) < 1e-12);
        assert!(v[1].at.distance(pt(20.0, 0.0)) < 1e-12);
    }

    #[test]
    fn arcs_that_meet_share_their_vertex() {
        // Roundings that take all of the short sides: a slot. All of all sides: four arcs and nothing else.
        let slot = body(&Shape::rectangle(300.0, 80.0, 40.0), &Pose::default());
        assert_eq!(vertices(&slot).len(), 6);
        let round = body(&Shape::rectangle(80.0, 80.0, 40.0), &Pose::default());
        assert_eq!(vertices(&round).len(), 4);
        assert!(vertices(&round).iter().all(|v| v.bulge > 0.4));
    }

    #[test]
    fn a_corner_that_points_inwards_bends_the_other_way() {
        let at = |x: f64, y: f64, radius: f64| Corner { at: pt(x, y), radius };
        let l = Shape::Polygon(vec![
            at(0.0, 0.0, 0.0),
            at(300.0, 0.0, 0.0),
            at(300.0, 100.0, 0.0),
            at(100.0, 100.0, 15.0),
            at(100.0, 300.0, 0.0),
            at(0.0, 300.0, 0.0),
        ]);
        let body = body(&l, &Pose::new(90.0, pt(1000.0, 0.0)));
        let v = vertices(&body);
        assert_eq!(v.len(), 7);
        assert!(v[3].bulge < -0.4);
        assert!(v[3].at.distance(pt(900.0, 115.0)) < 1e-12);
        assert!(v[4].at.distance(pt(885.0, 100.0)) < 1e-12);
    }
}
