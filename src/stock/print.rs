//! Fingerprints of slabs: has a slab changed since a plan was made?

use std::fmt::Write as _;

use crate::geom::Point;
use crate::model::{FlawBody, Plan, Question, Slab, fnv1a};

/// What the fingerprint in a plan says of its slab on the rack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Print {
    /// The slab is as it was.
    Same,
    /// Something on which the plan rests has changed.
    Changed,
    /// The plan has no fingerprint of it.
    Missing,
    /// The rack has no slab of that name.
    Gone,
}

/// The fingerprint of a slab: `p1-` and 16 hexadecimal digits.
///
/// It covers what a plan rests on: name, material, class of stone, thickness, price, outline, grain and flaws; lengths to a
/// nanometre, so that a rack may be written anew in other units. Lot, number, test values and origin may be mended later.
///
/// The hash ([`fnv1a`]) is here to notice an edit, not to withstand a forger, who could as well write the right fingerprint.
#[must_use]
pub fn slab_print(slab: &Slab) -> String {
    format!("p1-{:016x}", fnv1a(content(slab).as_bytes()))
}

/// Writes the fingerprint of every slab into a plan that was made on this rack.
pub fn mark(question: &Question, plan: &mut Plan) {
    for layout in &mut plan.layouts {
        layout.slab_print = question.rack.iter().find(|s| s.name == layout.slab).map(slab_print);
    }
}

/// For every layout of the plan, what its fingerprint says.
#[must_use]
pub fn prints(question: &Question, plan: &Plan) -> Vec<Print> {
    plan.layouts
        .iter()
        .map(|l| match (question.rack.iter().find(|s| s.name == l.slab), &l.slab_print) {
            (None, _) => Print::Gone,
            (Some(_), None) => Print::Missing,
            (Some(slab), Some(print)) if *print == slab_print(slab) => Print::Same,
            (Some(_), Some(_)) => Print::Changed,
        })
        .collect()
}

/// True if a slab that was written and read again is what it was: all names and marks alike, its outline and flaws to two
/// nanometres, which is what the writing may lose.
#[must_use]
pub fn is_same_stone(a: &Slab, b: &Slab) -> bool {
    /// mm.
    const LOST: f64 = 2e-6;
    let near = |p: &Point, q: &Point| p.distance(*q) <= LOST;
    let alike = |a: &[Point], b: &[Point]| a.len() == b.len() && a.iter().zip(b).all(|(p, q)| near(p, q));
    // A corner that all but lies on the line of its neighbours may be lost; the outline is then the same all the same.
    let outline = {
        let (a, b) = (&a.outline, &b.outline);
        let off = |x: f64, y: f64| (x - y).abs() <= LOST * (a.perimeter() + b.perimeter());
        let (s, t) = (a.bbox(), b.bbox());
        alike(a.points(), b.points()) || (off(a.area(), b.area()) && near(&s.min, &t.min) && near(&s.max, &t.max))
    };
    let flaws = a.flaws.len() == b.flaws.len()
        && a.flaws.iter().zip(&b.flaws).all(|(f, g)| {
            let body = match (&f.body, &g.body) {
                (FlawBody::Line(p), FlawBody::Line(q)) => alike(p, q),
                (FlawBody::Area(p), FlawBody::Area(q)) => (p.area() - q.area()).abs() <= LOST * (p.perimeter() + 1.0),
                (FlawBody::Spot(p), FlawBody::Spot(q)) => near(p, q),
                _ => false,
            };
            body && f.kind == g.kind && f.allow == g.allow && (f.radius - g.radius).abs() <= LOST
        });
    let from = match (&a.from, &b.from) {
        (Some(x), Some(y)) => x.slab == y.slab && x.jobs == y.jobs && x.date == y.date && near(&x.at, &y.at),
        (x, y) => x.is_none() && y.is_none(),
    };
    let photo = match (&a.photo, &b.photo) {
        (Some(x), Some(y)) => x.file == y.file && x.marks == y.marks && alike(&x.at, &y.at),
        (x, y) => x.is_none() && y.is_none(),
    };
    let marks = a.name == b.name && a.material == b.material && a.lot == b.lot && a.number == b.number;
    let stone = a.stone == b.stone && a.stone_given == b.stone_given && a.grain == b.grain && a.tests == b.tests;
    let figures = (a.thickness - b.thickness).abs() <= LOST && (a.price - b.price).abs() < 0.005;
    outline && flaws && from && photo && marks && stone && figures
}

/// The content of a slab in one way of writing. Names hold no control characters, so a line end parts entries.
fn content(slab: &Slab) -> String {
    let mut out = String::new();
    let thickness = number(slab.thickness);
    let grain = slab.grain.map_or_else(|| "none".to_owned(), number);
    // Writing to a string does not fail.
    let _ = write!(out, "{}\n{}\n{}\n", slab.name, slab.material, slab.stone.name());
    let _ = write!(out, "{thickness}\n{}\n{grain}\n{}\n", number(slab.price), points(slab.outline.points()));
    for flaw in &slab.flaws {
        let body = match &flaw.body {
            FlawBody::Line(line) => format!("line {}", points(line)),
            FlawBody::Area(ring) => format!("area {}", points(ring.points())),
            FlawBody::Spot(p) => format!("spot {}", points(&[*p])),
        };
        let allow: Vec<&str> = flaw.allow.iter().map(crate::model::Zone::name).collect();
        let _ = writeln!(out, "{} {body} {} {}", flaw.kind.name(), number(flaw.radius), allow.join(","));
    }
    out
}

fn points(points: &[Point]) -> String {
    points.iter().map(|p| format!("{},{}", number(p.x), number(p.y))).collect::<Vec<_>>().join(" ")
}

/// Six decimals; zero has no sign.
fn number(v: f64) -> String {
    let text = format!("{v:.6}");
    if text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.')) { "0.000000".to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::number;

    #[test]
    fn zero_has_no_sign() {
        assert_eq!(number(-0.0), number(0.0));
        assert_eq!(number(-1e-9), "0.000000");
        assert_ne!(number(1e-6), number(0.0));
    }
}
