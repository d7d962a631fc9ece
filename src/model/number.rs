//! The number of a plan, by which all its papers are matched: sheets, labels, templates, cutting drawings, reports.
//!
//! In: a question, a plan, the sheets of its openings. Out: [`PlanNumber`]. Must not know: what is said of a plan, units.

use std::fmt;

use super::hash::{EMPTY, eaten};
use super::openings::{OpeningSheet, Openings, Pass, Rod};
use super::{Fixture, FlawBody, GrainWish, Opening, Piece, Plan, Question, Shape, Slab};
use crate::geom::Point;

/// Tells plans apart: eight hexadecimal digits, shown as `0123-CDEF`.
///
/// It changes with everything that is cut or worked: names of jobs, pieces, slabs; where each piece lies; outlines, sides and
/// finishes, hidden strips and grain of the pieces; kind, name, shape and fixture of their openings, with verdict, cores, rows of cuts,
/// passes, curves, scores and rods; outline, stone, thickness, grain and flaws of the slabs; the offcuts. Changes of the shop's limits
/// and tools show in these. It does not change with what is only said: findings, prices, yields, units, seed, carrying.
///
/// Lengths count to a nanometre and angles to a millionth of a degree, so that the same content in other units has the same
/// number. Two plans that differ have the same number once in 4.3e9 times: it tells papers apart, and is no seal.
///
/// It is the 64-bit hash [`super::fnv1a`], folded to half by exclusive or.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct PlanNumber(u32);

impl fmt::Display for PlanNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04X}-{:04X}", self.0 >> 16, self.0 & 0xffff)
    }
}

impl PlanNumber {
    /// The number of a plan; `openings` are the sheets for this very plan. Pieces and slabs that the question does not have
    /// count by their names.
    #[must_use]
    pub fn of(question: &Question, plan: &Plan, openings: &Openings) -> Self {
        let mut hash = Hash(EMPTY);
        hash.list(&plan.jobs, |h, job| h.name(job));
        hash.list(&plan.layouts, |h, layout| {
            h.name(&layout.slab);
            if let Some(slab) = question.rack.iter().find(|s| s.name == layout.slab) {
                h.slab(slab);
            }
            h.list(&layout.placed, |h, placed| {
                h.name(&placed.job);
                h.name(&placed.piece);
                h.values(&[placed.turn, placed.shift[0], placed.shift[1]]);
                let job = question.jobs.iter().find(|j| j.name == placed.job);
                let piece = job.and_then(|j| j.pieces.iter().find(|p| p.name == placed.piece));
                let Some(piece) = piece else { return };
                h.piece(piece);
                h.list(&piece.openings, |h, opening| {
                    let own =
                        |s: &&OpeningSheet| s.job == placed.job && s.piece == piece.name && s.opening == opening.name;
                    h.opening(opening, openings.openings.iter().find(own));
                });
            });
            h.list(&layout.offcuts, |h, offcut| {
                let r = &offcut.rectangle;
                h.values(&[r.corner[0], r.corner[1], r.size[0], r.size[1], r.turn]);
                h.list(&offcut.outline, |h, p| h.values(p));
            });
        });
        Self(((hash.0 >> 32) ^ (hash.0 & 0xffff_ffff)) as u32)
    }
}

struct Hash(u64);

impl Hash {
    fn bytes(&mut self, bytes: &[u8]) {
        self.0 = eaten(self.0, bytes);
    }

    fn count(&mut self, n: usize) {
        self.bytes(&(n as u64).to_be_bytes());
    }

    fn name(&mut self, name: &str) {
        self.count(name.len());
        self.bytes(name.as_bytes());
    }

    /// Lengths or angles, each to a millionth. The border between two numbers is where no fraction of an inch lies, so that
    /// what differs in its last bits only is the same.
    fn values(&mut self, values: &[f64]) {
        for v in values {
            self.bytes(&((v * 1e6 + 0.3).floor() as i64).to_be_bytes());
        }
    }

    fn maybe(&mut self, value: Option<f64>) {
        self.bytes(&[u8::from(value.is_some())]);
        self.values(value.as_slice());
    }

    fn list<T>(&mut self, items: &[T], mut each: impl FnMut(&mut Self, &T)) {
        self.count(items.len());
        for item in items {
            each(self, item);
        }
    }

    fn points(&mut self, points: &[Point]) {
        self.list(points, |h, p| h.values(&[p.x, p.y]));
    }

    fn shape(&mut self, shape: &Shape) {
        match shape {
            Shape::Polygon(corners) => {
                self.bytes(b"p");
                self.list(corners, |h, c| h.values(&[c.at.x, c.at.y, c.radius]));
            }
            Shape::Ellipse { centre, half_x, half_y } => {
                self.bytes(b"e");
                self.values(&[centre.x, centre.y, *half_x, *half_y]);
            }
        }
    }

    fn slab(&mut self, slab: &Slab) {
        self.name(&slab.material);
        self.name(slab.stone.name());
        self.values(&[slab.thickness]);
        self.points(slab.outline.points());
        self.maybe(slab.grain);
        self.list(&slab.flaws, |h, flaw| {
            h.name(flaw.kind.name());
            h.list(&flaw.allow.iter().collect::<Vec<_>>(), |h, zone| h.name(zone.name()));
            h.values(&[flaw.radius]);
            match &flaw.body {
                FlawBody::Line(line) => {
                    h.bytes(b"l");
                    h.points(line);
                }
                FlawBody::Area(ring) => {
                    h.bytes(b"a");
                    h.points(ring.points());
                }
                FlawBody::Spot(at) => {
                    h.bytes(b"s");
                    h.points(&[*at]);
                }
            }
        });
    }

    fn piece(&mut self, piece: &Piece) {
        self.shape(&piece.outline.shape);
        self.list(&piece.outline.finishes, |h, finish| {
            h.bytes(&[u8::from(finish.is_finished())]);
            h.name(finish.name());
        });
        let hidden = &piece.hidden;
        self.values(&[hidden.front, hidden.right, hidden.back, hidden.left]);
        self.maybe(match piece.grain {
            GrainWish::Any => None,
            GrainWish::Towards(angle) => Some(angle),
        });
        self.bytes(&[u8::from(piece.one_way)]);
    }

    fn opening(&mut self, opening: &Opening, sheet: Option<&OpeningSheet>) {
        self.name(&opening.name);
        self.name(opening.kind.name());
        self.shape(&opening.shape);
        // Templates show the fixture too.
        match opening.origin.as_ref().map(|o| &o.fixture) {
            Some(Fixture::DropIn { rim, body, .. }) => {
                self.shape(&rim.shape);
                self.shape(&body.shape);
            }
            Some(Fixture::Undermount { bowl: drawn, .. } | Fixture::Cooktop { body: drawn, .. }) => {
                self.shape(&drawn.shape);
            }
            None => {}
        }
        let Some(sheet) = sheet else { return };
        self.bytes(&[1, sheet.verdict as u8]);
        let cutting = &sheet.cutting;
        self.list(&cutting.cores, |h, c| h.values(&[c.centre[0], c.centre[1], c.diameter]));
        self.list(&cutting.rows, |h, row| {
            h.values(&[row.corner[0], row.corner[1], row.radius]);
            h.maybe(row.blade);
            h.list(&row.cuts, |h, [p, q]| h.values(&[p[0], p[1], q[0], q[1]]));
        });
        self.list(&cutting.passes, Self::pass);
        self.list(&cutting.curves, |h, line| h.list(line, |h, p| h.values(p)));
        self.list(cutting.score.as_slice(), |h, score| {
            h.values(&[score.depth, score.tab]);
            h.list(&score.tabs, |h, t| h.values(t));
            h.list(&score.passes, Self::pass);
        });
        self.list(&sheet.rods, Self::rod);
    }

    fn pass(&mut self, pass: &Pass) {
        for ends in [Some((pass.from, pass.to)), pass.full_depth_from.zip(pass.full_depth_to)] {
            self.list(ends.as_slice(), |h, (p, q)| h.values(&[p[0], p[1], q[0], q[1]]));
        }
        self.maybe(pass.blade);
        self.maybe(pass.kerf);
        self.values(&[pass.depth]);
        self.bytes(&[u8::from(pass.from_back)]);
    }

    fn rod(&mut self, rod: &Rod) {
        for [p, q] in [[rod.from, rod.to], [rod.groove_from, rod.groove_to]] {
            self.values(&[p[0], p[1], q[0], q[1]]);
        }
        self.values(&[rod.diameter, rod.groove_width, rod.groove_depth]);
        self.name(&rod.material);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_bits_of_a_length_do_not_count_and_a_nanometre_does() {
        let of = |v: f64| {
            let mut hash = Hash(0);
            hash.values(&[v]);
            hash.0
        };
        // Sixty-fourths and parts of a millimetre as two ways of reckoning give them.
        for k in 0..3000 {
            for step in [25.4 / 128.0, 0.1, 0.5, 1.0 / 3.0] {
                let v = f64::from(k) * step;
                assert_eq!(of(v), of(v + 1e-10), "{v}");
                assert_eq!(of(v), of(v - 1e-10), "{v}");
                assert_ne!(of(v), of(v + 2e-6), "{v}");
            }
        }
        assert_eq!(of(0.0), of(-0.0));
    }

    #[test]
    fn the_number_has_eight_digits() {
        assert_eq!(PlanNumber(0x00a1_0b2c).to_string(), "00A1-0B2C");
    }
}
