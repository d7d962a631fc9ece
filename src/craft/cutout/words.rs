//! What was done, in sentences. Lengths come in mm and are told in the units `shown`.

use super::corners::{Bits, Hole, Made};
use super::ellipse;
use crate::model::{Drawn, Shape, Shown};

/// The hole follows the rim.
pub(super) const FROM_RIM: &str = "Corners that a core bit can make and that clear the body leave the rim too little beside \
    the body's own line; so the line follows the rim, as far inside it as the body allows.";

/// Nothing is known about the rim.
pub(super) const NO_RIM: &str =
    "No rim is given: how far the appliance reaches over the stone, and what may still be cut away, is not known.";

/// How an outline was fitted to its trace.
pub(super) fn traced(what: &str, drawn: &Drawn, shown: Shown) -> Option<String> {
    let fit = drawn.fit?;
    let by = match &drawn.shape {
        Shape::Ellipse { half_x, half_y, .. } if half_x == half_y => {
            format!("a circle of {}", shown.said(2.0 * half_x))
        }
        Shape::Ellipse { half_x, half_y, .. } => {
            format!("an ellipse of {} by {}", shown.said_bare(2.0 * half_x), shown.said(2.0 * half_y))
        }
        Shape::Polygon(corners) => {
            let arcs = corners.iter().filter(|c| c.radius > 0.0).count();
            format!("{} and {}", counted(corners.len(), "side"), counted(arcs, "arc"))
        }
    };
    let (points, off) = (counted(fit.points, "traced point"), shown.said(fit.deviation));
    let sharp = match &drawn.shape {
        Shape::Polygon(corners) if corners.iter().any(|c| c.radius == 0.0) => {
            " A corner in which no point shows a radius is taken as sharp: measure a point in each corner."
        }
        _ => "",
    };
    Some(format!("{what}: {points}, followed by {by}; the worst of them is {off} off that line.{sharp}"))
}

/// "1 side", "2 sides".
fn counted(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// The distance between body and hole.
pub(super) fn grown(clearance: f64, accuracy: f64, shown: Shown) -> String {
    format!(
        "The line runs {} outside the body: {} clearance and {} for the accuracy of template and cut.",
        shown.said(clearance + accuracy),
        shown.said(clearance),
        shown.said(accuracy)
    )
}

/// Like corners once, with their number.
fn alike(corners: &[Made]) -> Vec<(Made, usize)> {
    let mut groups: Vec<(Made, usize)> = Vec::new();
    for made in corners {
        let same = |m: &Made| {
            (m.asked - made.asked).abs() < 0.05 && (m.radius - made.radius).abs() < 1e-6 && m.is_curve == made.is_curve
        };
        match groups.iter_mut().find(|g| same(&g.0)) {
            Some(group) => group.1 += 1,
            None => groups.push((*made, 1)),
        }
    }
    groups
}

/// What became of the corners of a hole round a body.
pub(super) fn corners(hole: &Hole, bits: &Bits, shown: Shown) -> Vec<String> {
    let mut said = of_corners(hole, bits, shown);
    if hole.pushed > 0.005 {
        let (least, out) = (shown.said(2.0 * bits.least()), shown.said(hole.pushed));
        said.push(format!(
            "Sides go out by up to {out} more, so that corners of a larger radius than they ask for still clear the body; \
             the smallest core bit has {least}."
        ));
    }
    said
}

/// What became of the corners of a hole inside a bowl.
pub(super) fn bowl_corners(hole: &Hole, bits: &Bits, shown: Shown) -> Vec<String> {
    let mut said = of_corners(hole, bits, shown);
    if hole.corners.iter().any(|m| m.radius > m.asked + 0.05) {
        said.push("In corners of a larger radius than they ask for, the stone covers more of the bowl.".to_owned());
    }
    said
}

fn of_corners(hole: &Hole, bits: &Bits, shown: Shown) -> Vec<String> {
    let curves = hole.corners.iter().filter(|m| m.is_curve).count();
    let mut said: Vec<String> = alike(&hole.corners)
        .into_iter()
        .filter(|(m, _)| !m.is_curve)
        .map(|(made, n)| {
            let (many, asked, got) = (counted(n, "corner"), shown.said(made.asked), shown.said(made.radius));
            if bits.is_empty() {
                format!("{many} of radius {got}: the shop lists no core bits, so none is chosen.")
            } else if bits.has(made.radius) {
                let bit = shown.said(2.0 * made.radius);
                format!("{many} of radius {got}, by a core bit of {bit}; the line asks for {asked}.")
            } else {
                format!("{many} of radius {got}, along the line: no core bit of the shop fits there.")
            }
        })
        .collect();
    if curves > 0 {
        said.push(format!("{} of a curve, along the line and without cores.", counted(curves, "arc")));
    }
    if hole.corners.is_empty() {
        said.push("The line is round: there are no corners to core.".to_owned());
    }
    said
}

/// By how much an ellipse is larger than the line at a distance from one.
pub(super) fn ellipse(body: &Shape, hole: &Shape, by: f64, shown: Shown) -> Option<String> {
    let (Shape::Ellipse { half_x, half_y, .. }, Shape::Ellipse { .. }) = (body, hole) else { return None };
    if half_x == half_y {
        return None;
    }
    let more = ellipse::holding(*half_x, *half_y, by).2;
    let more = match shown {
        Shown::Mm => format!("{more:.2} mm"),
        Shown::In => shown.said_to(more, 2),
    };
    Some(format!("The line is an ellipse, which is nowhere more than {more} outside the line at that distance."))
}

/// What may still be cut away under a rim.
pub(super) fn still(may: f64, shown: Shown) -> String {
    if may < 0.05 {
        "Nothing may be cut away beyond the line: the rim would bear too little.".to_owned()
    } else {
        format!("{} may still be cut away all round, if the fixture sits tight.", shown.said(may))
    }
}

/// The signed overhang, for people: the trade uses both signs.
pub(super) fn overhang(overhang: f64, shown: Shown) -> String {
    let by = shown.said(overhang.abs());
    if overhang > 0.0 {
        format!("The stone covers the bowl's rim by {by}.")
    } else if overhang < 0.0 {
        format!("The bowl's rim shows by {by}.")
    } else {
        "The stone ends flush with the bowl's rim.".to_owned()
    }
}

/// What may still be cut away above a bowl.
pub(super) fn until_it_shows(overhang: f64, may: f64, shown: Shown) -> String {
    if overhang > 0.0 && may >= 0.05 {
        format!("{} may still be cut away before the bowl's rim shows, the accuracy counted.", shown.said(may))
    } else if overhang > 0.0 {
        "At the accuracy of template and cut, the bowl's rim may just show.".to_owned()
    } else {
        "Whatever is cut away shows more of the bowl's rim.".to_owned()
    }
}
