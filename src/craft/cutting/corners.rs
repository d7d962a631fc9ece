//! Corners of an opening: the core that makes each, or the row of small cuts in its place.
//!
//! In: the corners as drawn, the core bits. Out: cores, rows, notes. Must not know: saw passes.

use super::strip::Line;
use super::{Datum, Making, note};
use crate::geom::curve::{Corner, Side};
use crate::geom::{Point, Ring, tol};
use crate::model::openings::{CutRow, Cutting};
use crate::model::{Shape, Tools};

/// Width of the fingers of stone between two cuts of a row, mm. 6: thin enough to break out by hand (common practice).
const FINGER: f64 = 6.0;

/// More cuts in a row are no help to anybody.
const MOST_CUTS: f64 = 400.0;

/// What is made of a corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Made {
    /// A core of this diameter touches both sides.
    Core(f64),
    /// A core of this diameter touches the arc from inside; the rest of the arc is a row of small cuts.
    CoreInArc(f64),
    /// A row of small cuts.
    Row,
    /// Nothing: the line hardly turns.
    Step,
    /// Nothing: it points into the hole, and the saw may run on past it.
    Open,
}

/// A corner with the sides that meet there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Turn {
    /// Where the sides meet.
    pub(super) at: Point,
    /// Its radius as drawn.
    pub(super) radius: f64,
    /// By how much the line turns, radians; positive where the corner points into the stone.
    pub(super) angle: f64,
    /// Direction of the side that ends here, and of the one that starts, of length 1.
    pub(super) sides: [Point; 2],
    /// Lengths of these sides.
    pub(super) lengths: [f64; 2],
    /// What is made of it.
    pub(super) made: Made,
}

impl Turn {
    /// Radius of what is made: the core's where it touches both sides, else as drawn.
    pub(super) fn made_radius(&self) -> f64 {
        match self.made {
            Made::Core(diameter) => diameter / 2.0,
            _ => self.radius,
        }
    }

    /// How far from the corner a circle of a radius touches the sides.
    pub(super) fn tangent(&self, radius: f64) -> f64 {
        radius * (self.angle.abs() / 2.0).tan()
    }

    /// How far from the corner the straight part of the sides begins once it is made, mm.
    pub(super) fn taken(&self) -> f64 {
        self.tangent(self.made_radius())
    }

    /// The point that far from the corner on the bisector, towards the hole.
    fn inwards(&self, by: f64) -> Point {
        let towards = self.sides[1] - self.sides[0];
        let norm = towards.norm();
        if norm > 0.0 { self.at + towards * (by / norm) } else { self.at }
    }

    /// From the corner to the middle of a circle of a radius that touches both sides.
    fn centre_off(&self, radius: f64) -> f64 {
        radius / (self.angle / 2.0).cos()
    }

    /// How far a core of half the diameter lies beyond the line as drawn: `(r - D/2)(1 / cos(a/2) - 1)` for a turn by a.
    fn past_line(&self, diameter: f64) -> f64 {
        ((self.radius - diameter / 2.0) * (1.0 / (self.angle / 2.0).cos() - 1.0)).max(0.0)
    }

    pub(super) fn touches(&self, distance: f64) -> [Point; 2] {
        [self.at - self.sides[0] * distance, self.at + self.sides[1] * distance]
    }
}

/// The corners of a tidy polygon, with what is made of each. Corners without sides (repeated points) are left out.
pub(super) fn corners(drawn: &[Corner], tools: &Tools) -> Vec<Turn> {
    let n = drawn.len();
    (0..n)
        .filter_map(|i| {
            let (before, corner, after) = (drawn[(i + n - 1) % n], drawn[i], drawn[(i + 1) % n]);
            let (u, v) = (corner.at - before.at, after.at - corner.at);
            let (a, b) = (u.norm(), v.norm());
            if !(a > tol::SAME_POINT && b > tol::SAME_POINT) {
                return None;
            }
            let angle = u.cross(v).atan2(u.dot(v));
            let sides = [u * (1.0 / a), v * (1.0 / b)];
            let mut turn = Turn {
                at: corner.at,
                radius: corner.radius,
                angle,
                sides,
                lengths: [a, b],
                made: if angle < 0.0 { Made::Open } else { Made::Step },
            };
            if angle.to_degrees() > Tools::CORNER {
                let bits = tools.core_bits.iter().copied();
                let bit = bits.filter(|d| d / 2.0 <= corner.radius + tol::CLEARANCE).reduce(f64::max);
                turn.made = match bit {
                    None => Made::Row,
                    Some(d) if turn.past_line(d) <= Tools::PAST_LINE => Made::Core(d),
                    Some(d) => Made::CoreInArc(d),
                };
            }
            Some(turn)
        })
        .collect()
}

/// The hole as its cores make it.
pub(super) fn made_ring(turns: &[Turn]) -> Ring {
    ring(turns, Turn::made_radius)
}

fn ring(turns: &[Turn], radius: impl Fn(&Turn) -> f64) -> Ring {
    let corners = turns.iter().map(|t| Corner { at: t.at, radius: radius(t) }).collect();
    Ring::vouched_outline(Shape::Polygon(corners).flatten(Side::Outer).points)
}

/// Cores and rows for all corners.
pub(super) fn cores(turns: &[Turn], from: &Datum, making: Making<'_>, cutting: &mut Cutting) {
    let Making { tools, thickness, shown } = making;
    let said = |mm: f64| shown.said(mm);
    // Small cuts stay within the line as drawn.
    let ring = ring(turns, |t| t.radius);
    for turn in turns {
        match turn.made {
            Made::Core(diameter) => {
                let centre = turn.inwards(turn.centre_off(diameter / 2.0));
                let past = turn.past_line(diameter);
                if past > tol::FLATTEN {
                    note(
                        cutting,
                        format!(
                            "corners of radius {} are made by the bit of {}: the hole becomes up to {} larger there than drawn",
                            said(turn.radius),
                            said(diameter),
                            said(past)
                        ),
                    );
                }
                cutting.cores.push(from.core(centre, diameter, turn.touches(turn.taken()), past));
            }
            Made::CoreInArc(diameter) => {
                let middle = turn.inwards(turn.centre_off(turn.radius) - turn.radius);
                let centre = turn.inwards(turn.centre_off(turn.radius) - turn.radius + diameter / 2.0);
                note(
                    cutting,
                    format!(
                        "corners of radius {}: the largest bit that fits, {}, would take {} too much if it touched both \
                         sides. It is set to touch the arc from inside; the rest of the arc is a row of small cuts, ground to the line",
                        said(turn.radius),
                        said(diameter),
                        said(turn.past_line(diameter))
                    ),
                );
                cutting.cores.push(from.core(centre, diameter, [middle, middle], 0.0));
                cutting.rows.push(row(turn, &ring, tools, thickness, Some((centre, diameter / 2.0))));
            }
            Made::Row => {
                let why = match tools.core_bits.iter().copied().reduce(f64::min) {
                    None => "the shop lists no core bits".to_owned(),
                    Some(least) => format!("the smallest core bit makes {}", said(least / 2.0)),
                };
                note(
                    cutting,
                    format!(
                        "corners of radius {} get no core: {why}. A row of small cuts from the drop, ending {} or a little more \
                         short of the line; break the fingers out and grind to the line. A corner so tight starts cracks",
                        said(turn.radius),
                        shown.said_to(Tools::ROW_SHORT, 0)
                    ),
                );
                cutting.rows.push(row(turn, &ring, tools, thickness, None));
            }
            Made::Step | Made::Open => {}
        }
    }
    if turns.iter().any(|t| t.angle.to_degrees() < -Tools::CORNER) {
        note(
            cutting,
            "corners that point into the hole need no core: the saw runs on past them into the drop".to_owned(),
        );
    }
}

/// The row of small cuts for a corner; cuts that a core makes needless are left out.
fn row(turn: &Turn, ring: &Ring, tools: &Tools, thickness: f64, core: Option<(Point, f64)>) -> CutRow {
    let depth = tools.through(thickness);
    // The smallest blade that reaches through.
    let blades = tools.blades_by_size();
    let blade = blades.iter().rfind(|b| b.overrun(depth).is_some());
    let kerf = blade.map_or(0.0, |b| b.kerf);
    let half = turn.angle / 2.0;
    let arc = turn.tangent(turn.radius);
    // The pocket that a core would have opened, as far as the sides have room for it.
    let pocket = tools.core_bits.iter().copied().reduce(f64::min).map_or(Tools::POCKET, |d| d / 2.0);
    let room = turn.lengths[0].min(turn.lengths[1]) / 2.0;
    let reach = if core.is_some() { arc } else { turn.tangent(pocket).min(room).max(arc) };
    let centre = turn.inwards(reach / half.sin());
    // The line of the corner: a straight stretch, the arc, a straight stretch.
    let straight = reach - arc;
    let total = 2.0 * straight + turn.radius * turn.angle;
    let n = (total / (FINGER + kerf)).ceil().clamp(1.0, MOST_CUTS);
    let short = Tools::ROW_SHORT + kerf / 2.0 * half.tan().max(1.0);
    let at = |place: f64| -> Point {
        if place < straight {
            turn.at - turn.sides[0] * (reach - place)
        } else if place > total - straight {
            turn.at + turn.sides[1] * (reach - (total - place))
        } else if turn.radius > 0.0 {
            let middle = turn.inwards(turn.centre_off(turn.radius));
            let from = turn.at - turn.sides[0] * arc - middle;
            let (sin, cos) = ((place - straight) / turn.radius).sin_cos();
            middle + Point { x: cos * from.x - sin * from.y, y: sin * from.x + cos * from.y }
        } else {
            turn.at
        }
    };
    let ends = (0..=n as usize)
        .map(|k| at(total * k as f64 / n))
        .filter(|p| core.is_none_or(|(middle, radius)| p.distance(middle) > radius + kerf / 2.0));
    let lines: Vec<Line> = ends
        .filter_map(|end| {
            let d = centre - end;
            let norm = d.norm();
            (norm > short).then(|| Line { start: end, along: d * (1.0 / norm) })
        })
        .collect();
    // On the face a cut is twice the overrun long.
    let fits = |long: f64| {
        lines.iter().all(|l| {
            let strip = Line { start: l.at(0.0, -kerf / 2.0), along: l.along };
            strip.is_free(ring, kerf, short, short + long)
        })
    };
    let chord = blade.and_then(|b| b.overrun(depth)).map(|e| 2.0 * e).filter(|&long| kerf > 0.0 && fits(long));
    let cuts = lines.iter().map(|l| {
        let start = chord.map_or(centre, |long| l.at(short + long, 0.0));
        [start.into(), l.at(short, 0.0).into()]
    });
    CutRow {
        corner: turn.at.into(),
        radius: turn.radius,
        blade: chord.and(blade).map(|b| b.diameter),
        cuts: cuts.collect(),
    }
}
