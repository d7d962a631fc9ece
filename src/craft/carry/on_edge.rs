//! The stress in a piece that is carried on edge: its plane upright, held at its ends.
//!
//! In: a beam. Out: the pull at every section. Openings that are out make frames of the rails beside them.
//! Must not know: knocks, strengths, names of sides.

use std::ops::Range;

use super::beam::Beam;
use super::sections::{Gone, Strip};
use crate::geom::tol;

/// An opening no longer than this along the piece weakens its section and makes no frame, mm (common practice: a hole for a tap or
/// an outlet).
pub(super) const SHORT: f64 = 100.0;

/// A part of a section that bends as one, or several side by side that share the moment by their stiffness.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Member {
    /// mm².
    area: f64,
    /// Sum of the second moments, each about its own middle, mm⁴.
    pub(super) inertia: f64,
    /// Height of the middle of its area, mm.
    pub(super) middle: f64,
    /// Farthest fibre below the middle of a part, and above it, mm.
    reach: [f64; 2],
}

/// One part of a member while it is put together: area, first and second moment about y = 0, lowest and highest point.
#[derive(Clone, Copy)]
struct Part {
    area: f64,
    first: f64,
    second: f64,
    low: f64,
    high: f64,
    /// Where the next strip must begin to belong to it.
    top: f64,
}

/// The rails beside an opening as a frame with four fixed corners.
struct Frame {
    opening: usize,
    /// Moment that the pulled and the pressed rail carry together, N mm.
    chord_moment: f64,
    /// Distance between the middles of the rails at the middle of the opening, mm.
    apart: f64,
    /// Share of each rail (lower, upper) in the rest of the moment.
    share: [f64; 2],
}

/// A piece on edge.
pub(super) struct OnEdge<'b, 's> {
    beam: &'b Beam<'s>,
    /// True if the lower side of the drawing (least y) is up.
    low_up: bool,
    frames: Vec<Frame>,
}

impl<'b, 's> OnEdge<'b, 's> {
    pub(super) fn new(beam: &'b Beam<'s>, low_up: bool) -> Self {
        let mut edge = Self { beam, low_up, frames: Vec::new() };
        let openings = 0..beam.sections.spans.len();
        edge.frames =
            openings.filter(|&o| beam.gone.get(o) == Some(&Gone::Cut)).filter_map(|o| edge.frame(o)).collect();
        edge
    }

    fn is_short(&self, opening: usize) -> bool {
        self.beam.sections.spans.get(opening).is_none_or(|s| s[1] - s[0] <= SHORT)
    }

    /// The largest pull at x, MPa: where the rails carry, bending and axial force together.
    pub(super) fn pull(&self, panel: usize, x: f64) -> Option<f64> {
        let frames = self.frames.iter().filter(|f| {
            let (span, p) = (self.beam.sections.spans[f.opening], &self.beam.sections.panels[panel]);
            p.from >= span[0] - tol::SAME_POINT && p.to <= span[1] + tol::SAME_POINT
        });
        let in_frames = frames.filter_map(|f| self.in_frame(f, panel, x)).reduce(f64::max);
        in_frames.or_else(|| self.in_solid(panel, x))
    }

    fn in_solid(&self, panel: usize, x: f64) -> Option<f64> {
        let m = self.beam.moment(panel, x, self.beam.ends);
        let whole = self.member(panel, x, 0..self.beam.sections.panels[panel].strips.len())?;
        // A piece that sags is pulled at the side that is down.
        let pulled_low = self.low_up == (m < 0.0);
        Some(m.abs() * whole.reach[usize::from(!pulled_low)] / whole.inertia)
    }

    fn in_frame(&self, frame: &Frame, panel: usize, x: f64) -> Option<f64> {
        let rails = self.rails(frame.opening, panel, x)?;
        let rest = self.beam.moment(panel, x, self.beam.ends) - frame.chord_moment;
        let force = frame.chord_moment / frame.apart;
        let pull = |k: usize| {
            let rail = rails[k];
            let bending = (rest * frame.share[k]).abs() * rail.reach[0].max(rail.reach[1]) / rail.inertia;
            let is_up = (k == 0) == self.low_up;
            bending + if is_up { -force } else { force } / rail.area
        };
        Some(pull(0).max(pull(1)))
    }

    /// The frame of an opening that is out; `None` if it is short or has no rail on one side.
    ///
    /// The rails keep their directions at both ends of the opening, so their bending has no average: what of the moment is an
    /// average, weighed with how easily the rails bend, pulls one rail and presses the other. The rest is shared by the rails as
    /// they resist a step between the two ends. For even rails this is the frame of the handbooks ([`super::formula::rails_on_edge`])
    /// and the rails' own weight on top.
    fn frame(&self, opening: usize) -> Option<Frame> {
        if self.is_short(opening) {
            return None;
        }
        let (sections, [from, to]) = (self.beam.sections, self.beam.sections.spans[opening]);
        let centre = f64::midpoint(from, to);
        let (mut bent, mut weighed) = (0.0, 0.0);
        let mut give = [0.0, 0.0];
        let mut apart = 0.0;
        for k in sections.at(centre) {
            let [low, high] = self.rails(opening, k, centre)?;
            apart = high.middle - low.middle;
        }
        let step = (to - from) / 32.0;
        for (k, p) in sections.panels.iter().enumerate() {
            if p.from < from - tol::SAME_POINT || p.to > to + tol::SAME_POINT {
                continue;
            }
            if !p.strips.iter().any(|s| s.owner == Some(opening)) {
                continue; // thinner than a drawing can show, at the tip of a curve
            }
            // Simpson's rule on even steps: exact for what even rails give.
            let n = ((p.to - p.from) / step).ceil().max(1.0);
            let h = (p.to - p.from) / n;
            for i in 0..n as usize {
                for (at, weight) in [(0.0, 1.0), (0.5, 4.0), (1.0, 1.0)] {
                    let x = p.from + h * (i as f64 + at);
                    let rails = self.rails(opening, k, x)?;
                    let w = weight * h / 6.0;
                    let both = rails[0].inertia + rails[1].inertia;
                    bent += w * self.beam.moment(k, x, self.beam.ends) / both;
                    weighed += w / both;
                    for (g, rail) in give.iter_mut().zip(&rails) {
                        *g += w * (x - centre).powi(2) / rail.inertia;
                    }
                }
            }
        }
        let sum = 1.0 / give[0] + 1.0 / give[1];
        let share = give.map(|g| 1.0 / g / sum);
        let frame = Frame { opening, chord_moment: bent / weighed, apart, share };
        let sound =
            frame.apart > tol::SAME_POINT && frame.chord_moment.is_finite() && share.iter().all(|s| s.is_finite());
        sound.then_some(frame)
    }

    /// The stone below and above an opening at x; `None` if there is none on one side.
    fn rails(&self, opening: usize, panel: usize, x: f64) -> Option<[Member; 2]> {
        let strips = &self.beam.sections.panels[panel].strips;
        let first = strips.iter().position(|s| s.owner == Some(opening))?;
        let last = strips.iter().rposition(|s| s.owner == Some(opening))?;
        Some([self.member(panel, x, 0..first)?, self.member(panel, x, last + 1..strips.len())?])
    }

    /// Some strips of a section as one member; `None` if there is no stone in them.
    ///
    /// Strips that touch, and those on both sides of a short hole, bend as one part about their common middle. A gap of the outline or
    /// a long opening parts them: then each bends about its own middle, and they share the moment.
    pub(super) fn member(&self, panel: usize, x: f64, range: Range<usize>) -> Option<Member> {
        let p = &self.beam.sections.panels[panel];
        let part = p.part(x);
        let mut parts: Vec<Part> = Vec::new();
        let mut is_open = false;
        for strip in p.strips.get(range)? {
            is_open = self.add(&mut parts, is_open, strip, strip.at(part));
        }
        let mut member = Member::default();
        for p in parts.iter().filter(|p| p.area > tol::SAME_POINT) {
            let middle = p.first / p.area;
            member.area += p.area;
            member.middle += p.first;
            member.inertia += (p.second - p.first * middle).max(0.0);
            member.reach[0] = member.reach[0].max(middle - p.low);
            member.reach[1] = member.reach[1].max(p.high - middle);
        }
        member.middle /= member.area;
        (member.area > 0.0 && member.inertia > 0.0).then_some(member)
    }

    /// Adds a strip to the last part, or begins another one. True if that part goes on.
    fn add(&self, parts: &mut Vec<Part>, is_open: bool, strip: &Strip, [lo, hi]: [f64; 2]) -> bool {
        let (t, h) = (self.beam.thickness_of(strip.owner), (hi - lo).max(0.0));
        if t <= 0.0 {
            let bridged = is_open && strip.owner.is_some_and(|o| self.is_short(o));
            if let Some(last) = parts.last_mut().filter(|_| bridged) {
                last.top = hi;
            }
            return bridged;
        }
        let middle = f64::midpoint(lo, hi);
        let area = h * t;
        let second = area * (middle * middle + h * h / 12.0);
        match parts.last_mut() {
            Some(last) if is_open && (lo - last.top).abs() <= tol::SAME_POINT => {
                last.area += area;
                last.first += area * middle;
                last.second += second;
                (last.high, last.top) = (hi, hi);
            }
            _ => parts.push(Part { area, first: area * middle, second, low: lo, high: hi, top: hi }),
        }
        true
    }
}
