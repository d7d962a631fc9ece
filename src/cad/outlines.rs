//! The closed outlines of a drawing: each with its shape, the texts in it and the outlines within it.
//!
//! In: a drawing, a layer, a tolerance. Out: outlines, what was mended, and faults with places. Must not know: files, what the outlines
//! are of.

use std::collections::BTreeSet;

use super::chain::{Branch, Loop, OpenRun, chain};
use super::nest::{innermost, nest};
use super::shape::{Converted, convert};
use super::{Body, Drawing, is_same_layer};
use crate::geom::curve::Side;
use crate::geom::{BBox, Point, Ring};
use crate::model::Shape;

/// What to look for.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// Only lines on this layer; all layers without one.
    pub layer: Option<&'a str>,
    /// Only texts on this layer; all layers without one.
    pub text_layer: Option<&'a str>,
    /// Ends within this of one another (mm) count as one.
    pub tolerance: f64,
    /// On which side of the true line shapes may lie where they are not exact.
    pub err: Side,
}

/// A closed outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Its shape.
    pub made: Converted,
    /// Area of the polyline that stands in for it, mm².
    pub area: f64,
    /// The entity that it starts with, by its place in the drawing.
    pub entity: usize,
    /// Texts that lie in it and in no outline within it, by their place in the drawing.
    pub texts: Vec<usize>,
    /// Outlines within it, by their place in [`Outlines::all`].
    pub inner: Vec<usize>,
    /// How many outlines lie round it.
    pub depth: usize,
}

/// Why a drawing is not understood.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// Lines that do not close.
    Open {
        /// The lines.
        run: OpenRun,
        /// The nearest other loose end, and how far it is from one of the run's, mm.
        nearest: Option<(Point, f64)>,
    },
    /// More than two ends meet.
    Branch(Branch),
    /// Two outlines overlap.
    Overlap {
        /// Where, mm.
        at: Point,
        /// An entity of each.
        entities: (usize, usize),
    },
    /// An outline within one that lies within another.
    TooDeep {
        /// A place in it, mm.
        at: Point,
        /// Its entity.
        entity: usize,
    },
    /// A loop that makes no outline: it crosses or touches itself, or has no area.
    NoOutline {
        /// A place on it, mm.
        at: Point,
        /// Its entity.
        entity: usize,
        /// What is wrong with it.
        why: &'static str,
    },
    /// More loops than are looked at.
    TooMany {
        /// How many there are.
        loops: usize,
    },
}

/// What was found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outlines {
    /// All closed outlines; those that lie in no other one come from left to right, then from front to back.
    pub all: Vec<Outline>,
    /// What is not understood.
    pub faults: Vec<Fault>,
    /// How many gaps were closed.
    pub gaps: usize,
    /// The widest of them, mm, and where.
    pub widest: Option<(f64, Point)>,
    /// Entities that were left out because another one lies on them.
    pub repeated: Vec<usize>,
    /// How many entities were left out because they are shorter than the tolerance.
    pub specks: usize,
    /// Texts that lie in no outline, by their place in the drawing.
    pub stray_texts: Vec<usize>,
}

impl Outlines {
    /// Outlines that lie in no other one.
    pub fn outer(&self) -> impl Iterator<Item = &Outline> {
        self.all.iter().filter(|o| o.depth == 0)
    }

    /// Outlines within an outline.
    pub fn inner<'a>(&'a self, outline: &'a Outline) -> impl Iterator<Item = &'a Outline> {
        outline.inner.iter().filter_map(|&i| self.all.get(i))
    }
}

/// More loops on a drawing than a job has pieces and openings; each is compared with each other.
const MOST_LOOPS: usize = 400;

/// Faults listed one by one; a drawing that is not meant to close has as many as it has lines.
const MOST_FAULTS: usize = 20;

/// Finds the closed outlines of a drawing.
#[must_use]
pub fn find(drawing: &Drawing, wanted: &Wanted<'_>) -> Outlines {
    let on = |e: &super::Entity, layer: Option<&str>| layer.is_none_or(|l| is_same_layer(l, &e.layer));
    let is_text = |e: &super::Entity| matches!(e.body, Body::Text { .. });
    let pick = |texts: bool, layer: Option<&str>| -> Vec<usize> {
        let all = drawing.entities.iter().enumerate();
        all.filter(|(_, e)| is_text(e) == texts && on(e, layer)).map(|(i, _)| i).collect()
    };
    let chained = chain(drawing, &pick(false, wanted.layer), wanted.tolerance);
    let mut found = Outlines {
        gaps: chained.gaps,
        widest: chained.widest,
        repeated: chained.repeated,
        specks: chained.specks,
        ..Outlines::default()
    };
    let loose: Vec<Point> = chained.open.iter().flat_map(|r| [r.ends.0, r.ends.1]).collect();
    for (i, run) in chained.open.into_iter().enumerate().take(MOST_FAULTS) {
        let others = loose.iter().enumerate().filter(|&(k, _)| k / 2 != i || run.length > 3.0 * wanted.tolerance);
        let nearest = others
            .flat_map(|(k, &p)| [(k, 2 * i, p, run.ends.0), (k, 2 * i + 1, p, run.ends.1)])
            .filter(|&(k, own, ..)| k != own)
            .map(|(.., p, own)| (p, p.distance(own)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        found.faults.push(Fault::Open { run, nearest });
    }
    found.faults.extend(chained.branches.into_iter().take(MOST_FAULTS).map(Fault::Branch));
    if chained.loops.len() > MOST_LOOPS {
        found.faults.push(Fault::TooMany { loops: chained.loops.len() });
        return found;
    }
    found.place(&chained.loops, wanted.err);
    let rings: Vec<Ring> = found.all.iter().filter_map(|o| outline_ring(&o.made.shape).ok()).collect();
    for text in pick(true, wanted.text_layer) {
        let Some(Body::Text { at, .. }) = drawing.entities.get(text).map(|e| &e.body) else { continue };
        match innermost(&rings, *at).and_then(|i| found.all.get_mut(i)) {
            Some(o) => o.texts.push(text),
            None => found.stray_texts.push(text),
        }
    }
    found
}

/// The polyline of a shape as a ring, if it is one.
fn outline_ring(shape: &Shape) -> Result<Ring, (Point, &'static str)> {
    let mut somewhere = Point { x: 0.0, y: 0.0 };
    if let Shape::Polygon(corners) = shape {
        let Some(first) = corners.first() else { return Err((somewhere, "no length")) };
        somewhere = first.at;
        let few: BTreeSet<_> = corners.iter().map(|c| (c.at.x.to_bits(), c.at.y.to_bits())).collect();
        if few.len() < 3 {
            return Err((somewhere, "no area"));
        }
        // What checks the sizes of roundings says so with the corner; here they only must not fold the polyline.
        if crate::geom::curve::check_roundings(corners).is_err() {
            return Err((somewhere, "arcs that do not fit their neighbours"));
        }
    }
    let flat = shape.flatten(Side::Outer).points;
    match Ring::tidy(&flat) {
        Ok((ring, _)) => Ok(ring),
        Err(crate::geom::RingFault::Crossing { at, .. }) => Err((at, "a line that crosses or touches itself")),
        Err(crate::geom::RingFault::TooFew { .. }) => Err((somewhere, "no area")),
        Err(crate::geom::RingFault::OutOfRange { .. }) => Err((somewhere, "coordinates beyond 1 km")),
    }
}

impl Outlines {
    /// Converts the loops and finds how they lie.
    fn place(&mut self, loops: &[Loop], err: Side) {
        let mut made: Vec<(Converted, Ring, usize)> = Vec::new();
        for l in loops {
            let converted = convert(l, err);
            match outline_ring(&converted.shape) {
                Ok(ring) => made.push((converted, ring, l.entity())),
                Err((at, why)) if self.faults.len() < 3 * MOST_FAULTS => {
                    self.faults.push(Fault::NoOutline { at, entity: l.entity(), why });
                }
                Err(_) => {}
            }
        }
        // In reading order, so that pieces are numbered as people see them: by columns of their left ends, then from front to back.
        let key = |b: BBox| (b.min.x, b.min.y);
        made.sort_by(|a, b| {
            let (p, q) = (key(a.1.bbox()), key(b.1.bbox()));
            p.0.total_cmp(&q.0).then(p.1.total_cmp(&q.1)).then(a.2.cmp(&b.2))
        });
        let rings: Vec<Ring> = made.iter().map(|m| m.1.clone()).collect();
        let mut lie = nest(&rings);
        let mut kept = made;
        if !lie.repeated.is_empty() {
            let repeated: BTreeSet<usize> = lie.repeated.iter().map(|r| r.0).collect();
            self.repeated.extend(repeated.iter().map(|&i| kept[i].2));
            let all = std::mem::take(&mut kept).into_iter().enumerate();
            kept = all.filter(|(i, _)| !repeated.contains(i)).map(|(_, m)| m).collect();
            let rings: Vec<Ring> = kept.iter().map(|m| m.1.clone()).collect();
            lie = nest(&rings);
        }
        for &(i, j, at) in lie.overlaps.iter().take(MOST_FAULTS) {
            self.faults.push(Fault::Overlap { at, entities: (kept[i].2, kept[j].2) });
        }
        let inner: Vec<Vec<usize>> =
            (0..kept.len()).map(|i| (0..kept.len()).filter(|&k| lie.parent[k] == Some(i)).collect()).collect();
        for (i, ((made, ring, entity), inner)) in kept.into_iter().zip(inner).enumerate() {
            let depth = lie.depth(i);
            if depth > 1 && self.faults.len() < 3 * MOST_FAULTS {
                self.faults.push(Fault::TooDeep { at: ring.points()[0], entity });
            }
            self.all.push(Outline { made, area: ring.area(), entity, texts: Vec::new(), inner, depth });
        }
    }
}
