//! Running dimensions: distances from one datum edge, each written once in a row beside the drawing, at the end of a line that
//! leads to what it measures. The figures are spread so that they never touch; their lines get a knee for that.

use crate::geom::{Point, pt};
use crate::report::scene::{Anchor, Colour, Item, Layer, Stroke, Text};
use crate::report::text::{self, LEAST_SIZE};
use crate::units::Shown;

/// Distance of the figures in a row, mm.
const PITCH: f64 = LEAST_SIZE * text::PITCH;
/// From the datum edge of the drawing to the knee, from there to its other end, and to the figures, mm.
const STRAIGHT: f64 = 3.0;
const KNEE: f64 = 6.5;
const FIGURES: f64 = 7.5;
/// Values nearer than this are one, mm of stone.
const SAME: f64 = 0.05;

const INSIDE: Stroke = Stroke::solid(Colour::LIGHT, 0.1);
const OUTSIDE: Stroke = Stroke::solid(Colour::BLACK, 0.13);
const CENTRE: Stroke = Stroke::dashed(Colour::GREY, 0.13, &[4.0, 0.8, 0.8, 0.8]);

/// Values of equal pitch in their order, each as near as can be to the wanted one (least squares), between two ends; `None` if
/// there are too many. `wanted` must ascend.
///
/// With the pitches taken off, this is a regression on an ascending sequence, by pooling neighbours that are out of order
/// (Ayer and others, Annals of Mathematical Statistics 26, 1955); its pools are moved between the ends last, which keeps it the
/// best.
#[must_use]
pub fn spread(wanted: &[f64], pitch: f64, low: f64, high: f64) -> Option<Vec<f64>> {
    let n = wanted.len();
    let slack = high - low - pitch * n.saturating_sub(1) as f64;
    if slack < 0.0 {
        return None;
    }
    let mut pools: Vec<(f64, usize)> = Vec::with_capacity(n);
    for (i, w) in wanted.iter().enumerate() {
        let mut pool = (w - pitch * i as f64, 1);
        while let Some(&(mean, count)) = pools.last().filter(|p| p.0 > pool.0) {
            pools.pop();
            let both = count + pool.1;
            pool = ((mean * count as f64 + pool.0 * pool.1 as f64) / both as f64, both);
        }
        pools.push(pool);
    }
    let flat = pools.iter().flat_map(|&(mean, count)| std::iter::repeat_n(mean.clamp(low, low + slack), count));
    Some(flat.enumerate().map(|(i, v)| v + pitch * i as f64).collect())
}

/// Something to be measured from a datum edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Mark {
    /// Where it is, piece frame.
    pub(super) at: Point,
    /// 0 for what must be there; higher ones are left out first where there is no room.
    pub(super) rank: u8,
    /// True for the centre line of an opening.
    pub(super) centre: bool,
}

/// One row of running dimensions.
pub(super) struct Row {
    /// True for distances from the front edge, written on the left; false for those from the left end, written below.
    pub(super) level: bool,
    /// What is measured, ascending; each with its distance.
    marks: Vec<(f64, Mark)>,
}

impl Row {
    /// The row of some marks; the same distance is written once.
    pub(super) fn new(level: bool, marks: &[Mark]) -> Self {
        let value = |m: &Mark| if level { m.at.y } else { m.at.x };
        let across = |m: &Mark| if level { m.at.x } else { m.at.y };
        let mut all: Vec<(f64, Mark)> = marks.iter().map(|m| (value(m), *m)).collect();
        all.sort_by(|a, b| {
            a.0.total_cmp(&b.0).then(a.1.rank.cmp(&b.1.rank)).then(across(&a.1).total_cmp(&across(&b.1)))
        });
        let mut out: Vec<(f64, Mark)> = Vec::new();
        for (v, m) in all {
            match out.last_mut().filter(|o| v - o.0 < SAME) {
                Some((_, kept)) => {
                    // The line leads to the farthest of them, and passes the others.
                    if across(&m) > across(kept) {
                        kept.at = m.at;
                    }
                    kept.rank = kept.rank.min(m.rank);
                    kept.centre &= m.centre;
                }
                None => out.push((v, m)),
            }
        }
        Self { level, marks: out }
    }

    fn longest(&self, shown: Shown) -> f64 {
        self.marks.iter().map(|(v, _)| text::width(&shown.bare_length(*v), LEAST_SIZE, true)).fold(0.0, f64::max)
    }

    /// Room beside the drawing, with the words that say what the figures are, mm.
    pub(super) fn room(&self, shown: Shown) -> f64 {
        FIGURES + self.longest(shown) + 0.8 + PITCH
    }

    /// The items of the row, and how many distances found no room. `origin` is where the piece's origin lies on the paper,
    /// `low` and `high` between which paper coordinates figures may stand.
    pub(super) fn items(
        mut self,
        shown: Shown,
        scale: f64,
        origin: Point,
        (low, high): (f64, f64),
    ) -> (Vec<Item>, Vec<(Point, Point)>, usize) {
        let base = if self.level { origin.y } else { origin.x };
        let half = PITCH / 2.0;
        let all = self.marks.len();
        let mut places = None;
        for most in (0..=u8::MAX).rev() {
            if self.marks.iter().all(|m| m.1.rank < most) {
                continue;
            }
            self.marks.retain(|m| m.1.rank <= most);
            let wanted: Vec<f64> = self.marks.iter().map(|m| base + m.0 / scale).collect();
            places = spread(&wanted, PITCH, low + half, high - half);
            if places.is_some() {
                break;
            }
        }
        let places = places.unwrap_or_default();
        let mut out = Vec::new();
        let mut lines = Vec::new();
        let (mut inside, mut outside, mut centres) = (Vec::new(), Vec::new(), Vec::new());
        // A point by its distance along the row and the one off the datum edge, to the outside.
        let place = |along: f64, off: f64| {
            if self.level { pt(origin.x - off, along) } else { pt(along, origin.y - off) }
        };
        for ((v, m), to) in self.marks.iter().zip(&places) {
            let at = base + v / scale;
            let depth = if self.level { m.at.x } else { m.at.y } / scale;
            let (feature, edge) = (place(at, -depth), place(at, 0.0));
            if depth > 0.05 {
                if m.centre {
                    centres.push(vec![feature, edge])
                } else {
                    inside.push(vec![feature, edge])
                }
                lines.push((feature, edge));
            }
            outside.push(vec![place(at, 0.6), place(at, STRAIGHT), place(*to, KNEE), place(*to, FIGURES - 0.4)]);
            let words = shown.bare_length(*v);
            let down = LEAST_SIZE * (text::ASCENT - text::DESCENT) / 2.0;
            let end = if self.level { place(to - down, FIGURES) } else { place(to + down, FIGURES) };
            let mut t = Text::new(&words, end, Anchor::End, LEAST_SIZE);
            t.upright = !self.level;
            t.bold = m.rank == 0;
            out.push(Item::text(Layer::Dimension, t));
        }
        for (paths, stroke) in [(inside, INSIDE), (centres, CENTRE), (outside, OUTSIDE)] {
            if !paths.is_empty() {
                out.push(Item::lines(Layer::Dimension, paths, stroke));
            }
        }
        let words = if self.level { "from the front edge" } else { "from the left end" };
        let off =
            FIGURES + self.longest(shown) + 0.8 + LEAST_SIZE * if self.level { text::DESCENT } else { text::ASCENT };
        let long = text::width(words, LEAST_SIZE, false);
        let ends = (places.first().copied().unwrap_or(low), places.last().copied().unwrap_or(high));
        let middle = ((ends.0 + ends.1) / 2.0).clamp(low + long / 2.0, (high - long / 2.0).max(low + long / 2.0));
        let mut t = Text::new(words, place(middle, off), Anchor::Middle, LEAST_SIZE);
        t.upright = self.level;
        out.push(Item::text(Layer::Dimension, t));
        (out, lines, all - places.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_keep_their_pitch_and_move_as_little_as_can_be() {
        assert_eq!(spread(&[1.0, 5.0, 9.0], 3.0, 0.0, 10.0), Some(vec![1.0, 5.0, 9.0]));
        // Two that want the same place share the way.
        assert_eq!(spread(&[5.0, 5.0], 3.0, 0.0, 10.0), Some(vec![3.5, 6.5]));
        // At the ends they are pushed inwards.
        assert_eq!(spread(&[0.0, 0.0, 10.0], 3.0, 0.0, 10.0), Some(vec![0.0, 3.0, 10.0]));
        assert_eq!(spread(&[0.0, 1.0, 2.0], 6.0, 0.0, 10.0), None);
        assert_eq!(spread(&[], 3.0, 0.0, 10.0), Some(Vec::new()));
    }
}
