//! What flaws look like.

use super::super::hatch;
use super::super::scene::{Colour, Item, Layer, Stroke};
use crate::geom::{Point, Region, Ring, distance, pt};
use crate::model::FlawKind;

/// The kinds of flaw are told apart by line and filling; colour only helps.
fn flaw_colour(kind: FlawKind) -> Colour {
    match kind {
        FlawKind::Crack => Colour::VERMILLION,
        FlawKind::Fissure => Colour::BLUE,
        FlawKind::Pit => Colour::PURPLE,
        FlawKind::Stain => Colour::ORANGE,
        FlawKind::Patch => Colour::GREEN,
    }
}

fn flaw_stroke(kind: FlawKind) -> Stroke {
    let colour = flaw_colour(kind);
    match kind {
        FlawKind::Crack => Stroke::solid(colour, 0.6),
        FlawKind::Fissure => Stroke::dashed(colour, 0.4, &[3.5, 1.0, 0.7, 1.0, 0.7, 1.0]),
        FlawKind::Pit => Stroke::dashed(colour, 0.8, &[0.0, 1.5]),
        FlawKind::Stain => Stroke::dashed(colour, 0.6, &[1.6, 1.0]),
        FlawKind::Patch => Stroke::solid(colour, 0.3),
    }
}

pub(in super::super) fn flaw_line(kind: FlawKind, line: &[Point]) -> Vec<Item> {
    let mut out = Vec::new();
    if line.len() > 1 {
        out.push(Item::line(Layer::Flaw, line.to_vec(), flaw_stroke(kind)));
    }
    // A crack has ticks across it, a patch crosses on it.
    let every = match kind {
        FlawKind::Crack => 2.5,
        FlawKind::Patch => 3.5,
        FlawKind::Fissure | FlawKind::Pit | FlawKind::Stain => return out,
    };
    let mut marks = Vec::new();
    let mut left = every / 2.0;
    for (a, b) in distance::open_line(line) {
        let length = a.distance(b);
        let along = (b - a) * (1.0 / length.max(1e-12));
        while left < length {
            let at = a + along * left;
            if kind == FlawKind::Crack {
                marks.push(vec![at - along.left() * 0.9, at + along.left() * 0.9]);
            } else {
                let (u, v) = ((along + along.left()) * 0.6, (along - along.left()) * 0.6);
                marks.push(vec![at - u, at + u]);
                marks.push(vec![at - v, at + v]);
            }
            left += every;
        }
        left -= length;
    }
    if !marks.is_empty() {
        out.push(Item::lines(Layer::Flaw, marks, Stroke::solid(flaw_colour(kind), 0.3)));
    }
    out
}

pub(in super::super) fn flaw_area(kind: FlawKind, region: &Region) -> Vec<Item> {
    let thin = Stroke::solid(flaw_colour(kind), 0.2);
    let mut out: Vec<Item> = region
        .rings()
        .map(|r| Item::area(Layer::Flaw, r.points().to_vec(), Some(Stroke::solid(flaw_colour(kind), 0.35)), None))
        .collect();
    let lines = match kind {
        FlawKind::Crack => hatch::lines(region, 90.0, 0.9),
        FlawKind::Fissure => hatch::lines(region, 0.0, 1.5),
        FlawKind::Stain => hatch::lines(region, 45.0, 1.2),
        FlawKind::Patch => [hatch::lines(region, 45.0, 1.6), hatch::lines(region, 135.0, 1.6)].concat(),
        FlawKind::Pit => {
            let dots = hatch::dots(region, 1.1);
            out.extend(dots.into_iter().map(|p| Item::disc(Layer::Flaw, p, 0.25, None, Some(flaw_colour(kind)))));
            return out;
        }
    };
    if !lines.is_empty() {
        out.push(Item::lines(Layer::Flaw, lines, thin));
    }
    out
}

/// A round spot, drawn at least 0.8 mm in radius so that it is seen.
pub(in super::super) fn flaw_spot(kind: FlawKind, at: Point, radius: f64) -> Vec<Item> {
    let radius = radius.max(0.8);
    let circle: Vec<Point> = (0..32)
        .map(|i| {
            let (s, c) = (f64::from(i) * std::f64::consts::PI / 16.0).sin_cos();
            at + pt(c, s) * radius
        })
        .collect();
    Ring::tidy(&circle).map_or_else(|_| Vec::new(), |(ring, _)| flaw_area(kind, &ring.to_region()))
}
