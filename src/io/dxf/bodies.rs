//! Checked records to bodies: the only file that knows the crate `dxf`.
//!
//! In: records. Out: for each a body in the drawing's own unit, or what is wrong with it. Must not know: files, units, what is on which layer.

use dxf::entities::{Entity, EntityType, Insert, LwPolyline, MText, Polyline, Spline as DxfSpline, Text};
use dxf::enums::{HorizontalTextJustification, VerticalTextJustification};
use dxf::{Drawing as DxfDrawing, Vector};

use super::pairs::Broken;
use super::sieve::Record;
use super::words::{plain, plain_many};
use crate::cad::affine::Affine;
use crate::cad::path::{bulge_of, positive_turn};
use crate::cad::{Body, Curve, Spline, SplineFault, Vertex};
use crate::geom::{Point, pt};

/// What a record is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Local {
    /// Something drawn.
    Body(Body),
    /// A block put in.
    Insert(Put),
    /// Something that is drawn and that we do not understand.
    Wrong {
        /// A point of it, in the drawing's unit.
        at: Point,
        why: String,
    },
    /// Nothing to see: a vertex (it is in its polyline), a polyline of one point.
    Nothing,
}

/// A block put in, once or in rows and columns.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Put {
    pub(super) name: String,
    /// How the block's own frame lies, its base not yet taken off.
    pub(super) frame: Affine,
    /// Shifts of all copies, in the drawing's frame.
    pub(super) copies: Vec<Point>,
}

/// Records that the crate gets at a time; its entities take a kilobyte or two each.
const CHUNK: usize = 4000;

/// Ends of lines or points of splines that differ in height by more than this (in the drawing's unit) are not flat.
const FLAT: f64 = 1e-4;

/// Most copies of a block by one insertion.
const MOST_COPIES: usize = 10_000;

/// One [`Local`] for every record.
pub(super) fn bodies(records: &[Record]) -> Result<Vec<Local>, Broken> {
    let mut out = Vec::with_capacity(records.len());
    let mut start = 0;
    while start < records.len() {
        let mut end = (start + CHUNK).min(records.len());
        while end < records.len() && records[end].kind == "VERTEX" {
            end += 1;
        }
        chunk(&records[start..end], &mut out)?;
        start = end;
    }
    Ok(out)
}

/// Has the crate read some records, and checks that it gives back what it was given: it leaves out what it cannot read without a word.
fn chunk(records: &[Record], out: &mut Vec<Local>) -> Result<(), Broken> {
    let lost = |place: usize, given: String| Broken { place, given, expected: "an entity that can be read" };
    let first = records.first().map_or(0, |r| r.place);
    let text = pairs_of(records);
    let drawing = DxfDrawing::load(&mut text.as_bytes()).map_err(|e| lost(first, e.to_string()))?;
    let mut read: Vec<Option<&Entity>> = vec![None; records.len()];
    for entity in drawing.entities() {
        let index = usize::try_from(entity.common.handle.0).ok().and_then(|h| h.checked_sub(1));
        if let Some(slot) = index.and_then(|i| read.get_mut(i)) {
            *slot = Some(entity);
        }
    }
    for (record, entity) in records.iter().zip(read) {
        out.push(match (record.kind, entity) {
            ("VERTEX" | "SEQEND", _) => Local::Nothing,
            (kind, None) => {
                return Err(lost(record.place, format!("a {kind} (handle {}) that makes no sense", record.handle)));
            }
            (_, Some(entity)) => local(&entity.specific),
        });
    }
    Ok(())
}

/// A small DXF file of the records, each with its place in the list (from 1) as its handle.
fn pairs_of(records: &[Record]) -> String {
    let mut text = String::from("0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1021\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n");
    let mut open = false;
    for (i, r) in records.iter().enumerate() {
        if r.kind == "SEQEND" {
            continue;
        }
        if open && r.kind != "VERTEX" {
            text.push_str("0\nSEQEND\n");
        }
        open = matches!(r.kind, "POLYLINE" | "VERTEX");
        text.push_str(&format!("0\n{}\n5\n{:X}\n", r.kind, i + 1));
        let mut pairs = r.pairs.iter().peekable();
        while let Some((code, value)) = pairs.next() {
            text.push_str(&format!("{code}\n{value}\n"));
            // The crate pairs the heights of a spline's points with the points by their number.
            if r.kind == "SPLINE" && matches!(code, 20 | 21) && pairs.peek().is_none_or(|p| p.0 != code + 10) {
                text.push_str(&format!("{}\n0.0\n", code + 10));
            }
        }
    }
    if open {
        text.push_str("0\nSEQEND\n");
    }
    text.push_str("0\nENDSEC\n0\nEOF\n");
    text
}

/// Which way the plane of an entity looks: at us, or away from us.
fn facing(normal: &Vector) -> Option<Affine> {
    let flat = normal.x.abs() < 1e-6 && normal.y.abs() < 1e-6;
    if flat && (normal.z - 1.0).abs() < 1e-6 {
        return Some(Affine::NONE);
    }
    // By the arbitrary axis algorithm of the DXF reference x then runs to the left.
    (flat && (normal.z + 1.0).abs() < 1e-6).then_some(Affine { x: pt(-1.0, 0.0), ..Affine::NONE })
}

const TILTED: &str = "lies in a plane that is tilted";

fn wrong(at: Point, why: impl Into<String>) -> Local {
    Local::Wrong { at, why: why.into() }
}

/// A body in the plane of its entity, as seen from above.
fn seen(normal: &Vector, at: Point, body: Body) -> Local {
    match facing(normal) {
        None => wrong(at, TILTED),
        Some(frame) => frame.body(&body).into_iter().next().map_or(Local::Nothing, Local::Body),
    }
}

fn local(entity: &EntityType) -> Local {
    match entity {
        EntityType::Line(l) => {
            let (a, b) = (pt(l.p1.x, l.p1.y), pt(l.p2.x, l.p2.y));
            if (l.p1.z - l.p2.z).abs() > FLAT {
                return wrong(a, "rises out of the plane of the drawing");
            }
            let vertices = [a, b].map(|at| Vertex { at, bulge: 0.0 }).to_vec();
            Local::Body(Body::Path { vertices, closed: false })
        }
        EntityType::Arc(a) => {
            let c = pt(a.center.x, a.center.y);
            if a.radius <= 0.0 {
                return wrong(c, "has no radius");
            }
            let (from, to) = (a.start_angle.to_radians(), a.end_angle.to_radians());
            let sweep = positive_turn(to - from);
            if sweep > std::f64::consts::TAU - 1e-6 {
                return seen(&a.normal, c, Body::Circle { centre: c, radius: a.radius });
            }
            let at = |angle: f64| c + pt(angle.cos(), angle.sin()) * a.radius;
            let start = Vertex { at: at(from), bulge: bulge_of(sweep) };
            let end = Vertex { at: at(to), bulge: 0.0 };
            seen(&a.normal, c, Body::Path { vertices: vec![start, end], closed: false })
        }
        EntityType::Circle(k) => {
            let c = pt(k.center.x, k.center.y);
            if k.radius <= 0.0 {
                return wrong(c, "has no radius");
            }
            seen(&k.normal, c, Body::Circle { centre: c, radius: k.radius })
        }
        EntityType::Ellipse(e) => ellipse(e),
        EntityType::LwPolyline(p) => lw_polyline(p),
        EntityType::Polyline(p) => polyline(p),
        EntityType::Spline(s) => spline(s),
        EntityType::Text(t) => text(t),
        EntityType::MText(t) => m_text(t),
        EntityType::Insert(i) => insert(i),
        _ => Local::Nothing,
    }
}

fn ellipse(e: &dxf::entities::Ellipse) -> Local {
    let (c, major) = (pt(e.center.x, e.center.y), pt(e.major_axis.x, e.major_axis.y));
    let Some(frame) = facing(&e.normal) else { return wrong(c, TILTED) };
    if e.major_axis.z.abs() > FLAT {
        return wrong(c, TILTED);
    }
    if major.norm() <= 0.0 || e.minor_axis_ratio.abs() < 1e-6 {
        return wrong(c, "has an axis of no length");
    }
    // Middle and axis are given in the drawing's own frame, also where it is looked at from behind; only its sense changes.
    let second = major.left() * (e.minor_axis_ratio * frame.x.x);
    let sweep = positive_turn(e.end_parameter - e.start_parameter);
    if sweep > std::f64::consts::TAU - 1e-6 {
        let turn = major.y.atan2(major.x).to_degrees();
        let (half_x, half_y) = (major.norm(), second.norm());
        return Local::Body(Body::Ellipse { centre: c, half_x, half_y, turn });
    }
    Local::Body(Body::Curve(Curve::Elliptic { centre: c, first: major, second, from: e.start_parameter, sweep }))
}

fn lw_polyline(p: &LwPolyline) -> Local {
    let vertices: Vec<Vertex> = p.vertices.iter().map(|v| Vertex { at: pt(v.x, v.y), bulge: v.bulge }).collect();
    let Some(first) = vertices.first().map(|v| v.at) else { return Local::Nothing };
    if vertices.len() < 2 {
        return Local::Nothing;
    }
    seen(&p.extrusion_direction, first, Body::Path { vertices, closed: p.flags & 1 == 1 })
}

fn polyline(p: &Polyline) -> Local {
    const SPACE: i32 = 8;
    const MESH: i32 = 16 | 64;
    /// A corner of the frame round a curve; the curve's own points stand beside it.
    const FRAME: i32 = 16;
    let all: Vec<_> = p.vertices().filter(|v| v.flags & FRAME == 0).collect();
    let Some(first) = all.first() else { return Local::Nothing };
    let at = pt(first.location.x, first.location.y);
    if p.flags & MESH != 0 {
        return wrong(at, "is a mesh");
    }
    if all.len() < 2 {
        return Local::Nothing;
    }
    let in_space = p.flags & SPACE != 0;
    if in_space && all.iter().any(|v| (v.location.z - first.location.z).abs() > FLAT) {
        return wrong(at, "rises out of the plane of the drawing");
    }
    let bulge = |b: f64| if in_space { 0.0 } else { b };
    let vertices = all.iter().map(|v| Vertex { at: pt(v.location.x, v.location.y), bulge: bulge(v.bulge) }).collect();
    let body = Body::Path { vertices, closed: p.flags & 1 == 1 };
    if in_space { Local::Body(body) } else { seen(&p.normal, at, body) }
}

fn spline(s: &DxfSpline) -> Local {
    let Some(first) = s.control_points.first() else {
        let at = s.fit_points.first().map_or(pt(0.0, 0.0), |p| pt(p.x, p.y));
        return wrong(at, "is given by points that it goes through only, so that its course is left to each program");
    };
    let at = pt(first.x, first.y);
    if s.control_points.iter().any(|p| (p.z - first.z).abs() > FLAT) {
        return wrong(at, "rises out of the plane of the drawing");
    }
    let points = s.control_points.iter().map(|p| pt(p.x, p.y)).collect();
    let degree = usize::try_from(s.degree_of_curve).unwrap_or(0);
    match Spline::new(degree, s.knot_values.clone(), points, s.weight_values.clone()) {
        Ok(spline) => Local::Body(Body::Curve(Curve::Spline(spline))),
        Err(fault) => wrong(
            at,
            match fault {
                SplineFault::Degree => format!("has a degree that is not 1 to {}", Spline::MOST_DEGREE),
                SplineFault::TooFewPoints => "has too few control points for its degree".to_owned(),
                SplineFault::KnotCount => "has not as many knots as its control points and degree ask for".to_owned(),
                SplineFault::KnotOrder => "has knots that fall, or are all alike".to_owned(),
                SplineFault::WeightCount => "has not one weight for each control point".to_owned(),
                SplineFault::Weight => "has weights that are not positive, or too far apart".to_owned(),
            },
        ),
    }
}

fn text(t: &Text) -> Local {
    let left = t.horizontal_text_justification == HorizontalTextJustification::Left
        && t.vertical_text_justification == VerticalTextJustification::Baseline;
    let stretched = matches!(
        t.horizontal_text_justification,
        HorizontalTextJustification::Aligned | HorizontalTextJustification::Fit
    );
    let p = if left || stretched { &t.location } else { &t.second_alignment_point };
    let content = plain(&t.value);
    if content.is_empty() {
        return Local::Nothing;
    }
    let at = pt(p.x, p.y);
    seen(&t.normal, at, Body::Text { at, height: t.text_height.abs(), turn: t.rotation, content })
}

fn m_text(t: &MText) -> Local {
    let at = pt(t.insertion_point.x, t.insertion_point.y);
    let content = plain_many(&(t.extended_text.concat() + &t.text));
    if content.is_empty() {
        return Local::Nothing;
    }
    let turn = t.x_axis_direction.y.atan2(t.x_axis_direction.x).to_degrees();
    Local::Body(Body::Text { at, height: t.initial_text_height.abs(), turn, content })
}

fn insert(i: &Insert) -> Local {
    let at = pt(i.location.x, i.location.y);
    let Some(plane) = facing(&i.extrusion_direction) else { return wrong(at, TILTED) };
    if i.x_scale_factor == 0.0 || i.y_scale_factor == 0.0 {
        return wrong(at, "puts in a block scaled to nothing");
    }
    let (s, c) = i.rotation.to_radians().sin_cos();
    let axis = pt(c, s);
    let turned = Affine { x: axis * i.x_scale_factor, y: axis.left() * i.y_scale_factor, origin: at };
    let (columns, rows) = (usize::try_from(i.column_count).unwrap_or(1), usize::try_from(i.row_count).unwrap_or(1));
    let (columns, rows) = (columns.max(1), rows.max(1));
    if columns.saturating_mul(rows) > MOST_COPIES {
        return wrong(at, format!("puts in more than {MOST_COPIES} copies of a block"));
    }
    let step =
        |col: usize, row: usize| axis * (i.column_spacing * col as f64) + axis.left() * (i.row_spacing * row as f64);
    let copies =
        (0..rows).flat_map(|r| (0..columns).map(move |c| (c, r))).map(|(c, r)| plane.vector(step(c, r))).collect();
    Local::Insert(Put { name: i.name.clone(), frame: plane.after(&turned), copies })
}
