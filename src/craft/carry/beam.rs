//! A piece as a beam under its own weight: shear and moment at every x, and the stress where it lies flat.
//!
//! In: sections, what has become of the openings, thickness and weight. Out: moments, stresses, the best two places to hold it.
//! Lengths mm, forces N, stresses MPa. Must not know: knocks, strengths.

use super::sections::{Gone, Sections, between};
use crate::geom::tol;

/// Sections are looked at in steps of the length over this; the worst is then narrowed down.
const STEPS: f64 = 256.0;

/// Narrowings of a golden-section search: 0.618 to the power of this is the share of the range that is left.
const NARROWINGS: usize = 28;

/// A range is looked through in so many steps before it is narrowed: stress over the place of a hand may have several valleys.
const VALLEYS: usize = 12;

/// Where a stress is largest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Peak {
    /// MPa.
    pub(super) stress: f64,
    /// mm from the left end.
    pub(super) at: f64,
}

impl Peak {
    /// The one with more stress; the first of equals.
    fn larger(self, other: Self) -> Self {
        if other.stress > self.stress { other } else { self }
    }
}

/// A place that is looked at.
#[derive(Clone, Copy, Debug)]
struct Sample {
    panel: usize,
    x: f64,
    /// Moment of all that lies left of it, about it.
    weight_moment: f64,
    /// Stress for a moment of 1 when flat.
    flat: f64,
}

/// A piece in one state as a beam.
pub(super) struct Beam<'s> {
    pub(super) sections: &'s Sections,
    pub(super) gone: &'s [Gone],
    pub(super) thickness: f64,
    /// N/mm³.
    unit_weight: f64,
    /// At the left end of each panel: weight to the left of it, and its moment about it.
    starts: Vec<[f64; 2]>,
    /// All its weight, N.
    pub(super) weight: f64,
    /// Where its weight is, along x.
    pub(super) middle: f64,
    pub(super) ends: [f64; 2],
    samples: Vec<Sample>,
}

impl<'s> Beam<'s> {
    /// `None` if the piece has no weight, or if some section has no stone at all: then it is in two parts.
    pub(super) fn new(sections: &'s Sections, gone: &'s [Gone], thickness: f64, unit_weight: f64) -> Option<Self> {
        let ends = sections.ends()?;
        let mut beam = Self {
            sections,
            gone,
            thickness,
            unit_weight,
            starts: Vec::with_capacity(sections.panels.len()),
            weight: 0.0,
            middle: 0.0,
            ends,
            samples: Vec::new(),
        };
        let mut so_far = [0.0, 0.0];
        for (k, panel) in sections.panels.iter().enumerate() {
            beam.starts.push(so_far);
            so_far = beam.before(k, panel.to);
        }
        beam.weight = so_far[0];
        if beam.weight <= 0.0 || !so_far[1].is_finite() {
            return None;
        }
        beam.middle = ends[1] - so_far[1] / so_far[0];
        beam.samples = beam.look()?;
        Some(beam)
    }

    /// The places to look at; `None` if at one of them there is no stone.
    fn look(&self) -> Option<Vec<Sample>> {
        let step = (self.ends[1] - self.ends[0]) / STEPS;
        let mut samples = Vec::new();
        for (k, panel) in self.sections.panels.iter().enumerate() {
            let n = ((panel.to - panel.from) / step).ceil().max(1.0) as usize;
            // An even number, so that the middle of a panel is looked at.
            let n = if n > 1 { n + n % 2 } else { n };
            for i in 0..=n {
                let x = between([panel.from, panel.to], i as f64 / n as f64);
                match self.flat_inverse(k, x) {
                    Some(flat) => {
                        samples.push(Sample { panel: k, x, weight_moment: self.before(k, x)[1], flat });
                    }
                    // A piece may end in a point.
                    None if x <= self.ends[0] || x >= self.ends[1] => {}
                    None => return None,
                }
            }
        }
        Some(samples)
    }

    /// Thickness of the stone of a strip.
    pub(super) fn thickness_of(&self, owner: Option<usize>) -> f64 {
        match owner.and_then(|o| self.gone.get(o)) {
            None | Some(Gone::Filled) => self.thickness,
            Some(&Gone::Scored(left)) => left,
            Some(Gone::Cut) => 0.0,
        }
    }

    /// Weight to the left of x in a panel, and its moment about x.
    fn before(&self, panel: usize, x: f64) -> [f64; 2] {
        let (p, [v, m]) = (&self.sections.panels[panel], self.starts[panel]);
        let heavy = |o: Option<usize>| o.and_then(|o| self.gone.get(o)) != Some(&Gone::Cut);
        let width = |end: usize| -> f64 {
            p.strips.iter().filter(|s| heavy(s.owner)).map(|s| s.hi[end] - s.lo[end]).sum::<f64>()
        };
        let load = [width(0), width(1)].map(|w| w * self.thickness * self.unit_weight);
        let (s, slope) = (x - p.from, (load[1] - load[0]) / (p.to - p.from));
        [v + s * (load[0] + s * slope / 2.0), m + s * (v + s * (load[0] / 2.0 + s * slope / 6.0))]
    }

    /// Moment at x, held at the two places: positive where it sags, N mm.
    pub(super) fn moment(&self, panel: usize, x: f64, held: [f64; 2]) -> f64 {
        self.lifted(x, held) - self.before(panel, x)[1]
    }

    /// Moment at x of the two hands alone.
    fn lifted(&self, x: f64, held: [f64; 2]) -> f64 {
        let right = self.weight * (self.middle - held[0]) / (held[1] - held[0]);
        (self.weight - right) * (x - held[0]).max(0.0) + right * (x - held[1]).max(0.0)
    }

    /// Stress for a moment of 1 where it lies flat: strips side by side that share a moment by their stiffness
    /// `width thickness³ / 12`; the thickest is stressed most. `None` where there is no stone.
    ///
    /// For a strip of one thickness this is `6 / (width thickness²)`; scored all across, `6 / (width left²)`.
    pub(super) fn flat_inverse(&self, panel: usize, x: f64) -> Option<f64> {
        let p = &self.sections.panels[panel];
        let part = p.part(x);
        let (mut stiff, mut thickest) = (0.0, 0.0_f64);
        for strip in &p.strips {
            let t = self.thickness_of(strip.owner);
            let width = strip.height(part).max(0.0);
            if t > 0.0 && width > tol::SAME_POINT {
                stiff += width * t.powi(3) / 12.0;
                thickest = thickest.max(t);
            }
        }
        (stiff > 0.0).then(|| thickest / 2.0 / stiff)
    }

    /// Stress at x, flat, held at the two places.
    pub(super) fn flat(&self, panel: usize, x: f64, held: [f64; 2]) -> Option<f64> {
        Some(self.moment(panel, x, held).abs() * self.flat_inverse(panel, x)?)
    }

    /// Where a stress is largest, also between the places that are looked at, and at the two places given.
    pub(super) fn peak(&self, also: [f64; 2], stress: impl Fn(usize, f64) -> Option<f64>) -> Peak {
        let finite = |panel: usize, x: f64| stress(panel, x).filter(|s| s.is_finite()).unwrap_or(0.0);
        let looked = self.samples.iter().map(|s| (s.panel, s.x));
        let hands = also.into_iter().flat_map(|x| self.sections.at(x).map(move |panel| (panel, x)));
        let found: Vec<(usize, Peak)> =
            looked.chain(hands).map(|(k, x)| (k, Peak { stress: finite(k, x), at: x })).collect();
        let mut best = Peak { stress: 0.0, at: self.middle };
        for (_, peak) in &found {
            best = best.larger(*peak);
        }
        // Between two places it is larger by far less than this.
        let close = best.stress * 0.999;
        let step = (self.ends[1] - self.ends[0]) / STEPS;
        for (k, peak) in found.iter().filter(|(_, p)| p.stress >= close && p.stress > 0.0) {
            let p = &self.sections.panels[*k];
            let at = least([(peak.at - step).max(p.from), (peak.at + step).min(p.to)], |x| -finite(*k, x));
            best = best.larger(Peak { stress: finite(*k, at), at });
        }
        best
    }

    /// The two places to hold it flat at which its largest stress is least. For an even strip they lie 0.2071 of its length
    /// from its ends.
    ///
    /// A hand that moves inwards makes the overhang worse and the middle better. A search in one hand, within a search in the other;
    /// each looks through its whole range first.
    pub(super) fn best_two(&self) -> [f64; 2] {
        // Hands are never nearer than this to the middle: the piece would tip.
        let off = (self.ends[1] - self.ends[0]) * 1e-3;
        let left = [self.ends[0], (self.middle - off).max(self.ends[0])];
        let right = [(self.middle + off).min(self.ends[1]), self.ends[1]];
        let partner = |a: f64| lowest(right, |b| self.worst_flat([a, b]));
        let a = lowest(left, |a| self.worst_flat([a, partner(a)]));
        [a, partner(a)]
    }

    /// The largest stress of the places that are looked at, and of the hands.
    fn worst_flat(&self, held: [f64; 2]) -> f64 {
        let looked = self.samples.iter().map(|s| (self.lifted(s.x, held) - s.weight_moment).abs() * s.flat);
        let hands = held.iter().flat_map(|&x| self.sections.at(x).map(move |k| (k, x)));
        let hands = hands.filter_map(|(k, x)| self.flat(k, x, held));
        looked.chain(hands).fold(0.0, f64::max)
    }
}

/// The place in a range at which a function is least: the lowest of even steps, then its valley.
fn lowest(range: [f64; 2], value: impl Fn(f64) -> f64) -> f64 {
    let step = (range[1] - range[0]) / VALLEYS as f64;
    let mut best = (f64::INFINITY, range[0]);
    for i in 0..=VALLEYS {
        let x = range[0] + step * i as f64;
        let v = value(x);
        if v < best.0 {
            best = (v, x);
        }
    }
    let x = least([(best.1 - step).max(range[0]), (best.1 + step).min(range[1])], &value);
    if value(x) <= best.0 { x } else { best.1 }
}

/// The place in a range at which a function with one valley is least (golden-section search; Kiefer, 1953).
fn least(range: [f64; 2], value: impl Fn(f64) -> f64) -> f64 {
    let ratio = (5.0_f64.sqrt() - 1.0) / 2.0;
    let [mut a, mut b] = range;
    let (mut c, mut d) = (b - ratio * (b - a), a + ratio * (b - a));
    let (mut at_c, mut at_d) = (value(c), value(d));
    for _ in 0..NARROWINGS {
        if at_c <= at_d {
            (b, d, at_d) = (d, c, at_c);
            c = b - ratio * (b - a);
            at_c = value(c);
        } else {
            (a, c, at_c) = (c, d, at_d);
            d = a + ratio * (b - a);
            at_d = value(d);
        }
    }
    f64::midpoint(a, b)
}
