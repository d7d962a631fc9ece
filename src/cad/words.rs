//! What a cutting drawing says, and where: numbers, names and sizes beside the lines that they are about.
//!
//! In: slabs, pieces, openings, flaws, offcuts. Out: texts in the slab frame, mm. Must not know: what is drawn.

use super::Body;
use super::cutting::{rough_stone, size};
use super::layers::{self, Look};
use crate::geom::rectangle::{Want, largest};
use crate::geom::{Point, Pose, pt};
use crate::model::openings::{OpeningSheet, Verdict};
use crate::model::{Flaw, FlawBody, Opening, Piece, Rectangle, Shape, Slab};
use crate::units::Shown;

/// Advance of a character as a share of the height of capitals. Of the plain single-line faces of CAD programs, which are
/// wider than printed ones.
const ADVANCE: f64 = 0.95;
/// From one baseline to the next, as a share of the height.
const PITCH: f64 = 1.6;
/// Heights of capitals, mm of stone: of a slab's title, at most of a piece's and an offcut's label, of a flaw's, at most of an
/// opening's and of the mark of a front, and the least of all. A slab fills a screen of 300 mm at about 1:10.
const TITLE: f64 = 40.0;
const LARGE: f64 = 40.0;
const FLAW: f64 = 16.0;
const SMALL: f64 = 22.0;
const MARK: f64 = 18.0;
const LEAST: f64 = 5.0;

/// Texts in the making.
pub(super) struct Words {
    shown: Shown,
    texts: Vec<Body>,
}

impl Words {
    pub(super) const fn new(shown: Shown) -> Self {
        Self { shown, texts: Vec::new() }
    }

    /// The texts with their layer.
    pub(super) fn into_texts(self) -> impl Iterator<Item = (Body, Look)> {
        self.texts.into_iter().map(|t| (t, layers::LABEL))
    }

    fn size(&self, [length, depth]: [f64; 2]) -> String {
        format!("{} x {}", self.shown.bare_length(length), self.shown.bare_length(depth))
    }

    /// Puts lines, one below the other from the same left end, their middle at a point of the pose's frame, along its x.
    /// Faces differ in width, so lines that are each put in the middle would not look so.
    fn block(&mut self, lines: &[String], height: f64, middle: Point, pose: &Pose) {
        let n = lines.len() as f64;
        let top = middle.y + (n - 1.0) * PITCH * height / 2.0 - height / 2.0;
        let left = middle.x - widest(lines) * height / 2.0;
        for (i, line) in lines.iter().enumerate() {
            self.put(line, height, pt(left, top - i as f64 * PITCH * height), pose);
        }
    }

    fn put(&mut self, content: &str, height: f64, at: Point, pose: &Pose) {
        let (at, turn) = (pose.apply(at), pose.turn.rem_euclid(360.0));
        self.texts.push(Body::Text { at, height, turn, content: content.to_owned() });
    }

    /// Above the slab: which it is, and the unit of all lengths.
    pub(super) fn slab(&mut self, slab: &Slab, (number, of): (usize, usize), jobs: &[String]) {
        let unit = match self.shown {
            Shown::Mm => "mm",
            Shown::In => "inches",
        };
        let b = slab.outline.bbox();
        let lines = [
            format!("slab {number} of {of}: {}", slab.name),
            format!("{}, {} thick", slab.material, self.shown.length(slab.thickness)),
            format!("for {}", jobs.join(", ")),
            format!("lengths in {unit}, polished face up"),
        ];
        let height = (b.width() / widest(&lines)).clamp(TITLE / 2.0, TITLE);
        for (i, line) in lines.iter().rev().enumerate() {
            self.put(line, height, pt(b.min.x, b.max.y + height * (1.0 + PITCH * i as f64)), &Pose::default());
        }
    }

    /// Beside the flaw, with its number on the slab.
    pub(super) fn flaw(&mut self, flaw: &Flaw, number: usize) {
        let at = match &flaw.body {
            FlawBody::Line(line) => line.get(line.len() / 2).copied().unwrap_or_default(),
            FlawBody::Spot(p) => *p,
            FlawBody::Area(ring) => ring.bbox().centre(),
        };
        let aside = pt(flaw.radius + FLAW / 2.0, flaw.radius + FLAW / 2.0);
        self.put(&format!("F{number} {}", flaw.kind.name()), FLAW, at + aside, &Pose::default());
    }

    /// In the offcut's rectangle.
    pub(super) fn offcut(&mut self, rectangle: &Rectangle, number: usize) {
        let [w, h] = rectangle.size;
        let lines = [format!("offcut {number}"), self.size(rectangle.size)];
        let pose = Pose::new(rectangle.turn, rectangle.corner.into());
        self.block(&lines, fitting(&lines, [w, h], LARGE), pt(w / 2.0, h / 2.0), &pose);
    }

    /// In the largest rectangle of its stone, along its front, so that the words stand on the front edge; which is marked too.
    pub(super) fn piece(&mut self, piece: &Piece, number: usize, job: Option<&str>, pose: &Pose) {
        let front = front(piece);
        let mark = front.map_or(0.0, |(_, height)| 2.0 * height);
        if let Some((middle, height)) = front {
            let at = pt(middle - width("front", height) / 2.0, height / 2.0);
            self.put("front", height, at, pose);
        }
        let rest = || [self.size(size(&piece.outline.shape))].into_iter().chain(job.map(str::to_owned));
        let long: Vec<String> = [format!("{number} {}", piece.name)].into_iter().chain(rest()).collect();
        // A word a line, for narrow stone beside an opening.
        let words = [number.to_string()].into_iter().chain(piece.name.split_whitespace().map(str::to_owned));
        let narrow: Vec<String> = words.chain(rest()).collect();
        let want = Want { least_side: 1.0, least_area: 1.0, detail: 20.0 };
        let room = largest(&rough_stone(piece), &[0.0], &want);
        let (mut low, mut wh) = room.map_or_else(
            || (piece.outline.ring.bbox().min, size(&piece.outline.shape)),
            |room| (room.corner, room.size),
        );
        // Above the mark of the front.
        let lift = mark - low.y;
        if lift > 0.0 && lift < wh[1] / 2.0 {
            low.y += lift;
            wh[1] -= lift;
        }
        let heights = [&long, &narrow].map(|lines| fitting(lines, wh, LARGE));
        let lines = if heights[1] > heights[0] { narrow } else { long };
        self.block(&lines, heights[0].max(heights[1]), low + pt(wh[0], wh[1]) * 0.5, pose);
    }

    /// In the drop: name and size, whether it is cut, with which tools.
    pub(super) fn opening(&mut self, opening: &Opening, sheet: Option<&OpeningSheet>, pose: &Pose) {
        let mut lines = vec![opening.name.clone()];
        let [w, h] = size(&opening.shape);
        let room = match opening.shape {
            Shape::Polygon(_) => [w, h],
            // The square in a circle.
            Shape::Ellipse { .. } => [w * 0.7, h * 0.7],
        };
        if !opening.kind.is_small() {
            lines.push(self.size([w, h]));
        }
        match sheet.map(|s| s.verdict) {
            Some(Verdict::Stop) => lines.push("DO NOT CUT".to_owned()),
            Some(Verdict::Score) => lines.push("SCORE ONLY".to_owned()),
            _ => {}
        }
        if let Some(sheet) = sheet.filter(|s| s.verdict != Verdict::Stop && !opening.kind.is_small()) {
            lines.extend(self.tools(sheet));
        }
        self.block(&lines, fitting(&lines, room, SMALL), opening.centre(), pose);
    }

    /// A line for each way in which a saw is used, and one for the cores.
    fn tools(&self, sheet: &OpeningSheet) -> Vec<String> {
        let cutting = &sheet.cutting;
        let length = |v: f64| self.shown.bare_length(v);
        let mut lines: Vec<String> = Vec::new();
        let scored = sheet.verdict == Verdict::Score;
        let passes = match &cutting.score {
            Some(score) if scored => &score.passes[..],
            _ if scored => &[],
            _ => &cutting.passes[..],
        };
        let mut bits: Vec<f64> = if scored && cutting.score.is_none() {
            Vec::new()
        } else {
            cutting.cores.iter().map(|c| c.diameter).collect()
        };
        bits.sort_by(f64::total_cmp);
        bits.dedup();
        if !bits.is_empty() {
            let bits: Vec<String> = bits.into_iter().map(length).collect();
            lines.push(format!("cores {}", bits.join(", ")));
        }
        for pass in passes {
            let Some(blade) = pass.blade else { continue };
            let back = if pass.from_back { " from the back" } else { "" };
            let line = format!("blade {}, {} deep{back}", length(blade), length(pass.depth));
            if !lines.contains(&line) {
                lines.push(line);
            }
        }
        lines
    }
}

/// Estimated width of a line at a height of capitals, mm.
fn width(line: &str, height: f64) -> f64 {
    line.chars().count() as f64 * ADVANCE * height
}

/// Estimated width of the widest line at a height of 1.
fn widest(lines: &[String]) -> f64 {
    lines.iter().map(|l| width(l, 1.0)).fold(1.0, f64::max)
}

/// Height of capitals at which lines fit a width and a height (mm) with some room, at most `most`.
fn fitting(lines: &[String], [w, h]: [f64; 2], most: f64) -> f64 {
    let wide = w * 0.9 / widest(lines);
    let high = h * 0.8 / (PITCH * lines.len() as f64);
    wide.min(high).clamp(LEAST, most)
}

/// The middle of the longest straight stretch of a piece on y = 0, and the height of a mark there, mm.
fn front(piece: &Piece) -> Option<(f64, f64)> {
    /// mm; a shorter stretch is no front that a mark could name.
    const SHORTEST: f64 = 60.0;
    let on_front = |p: Point| p.y.abs() < 0.01;
    let stretches = piece.outline.ring.edges().filter(|&(a, b)| on_front(a) && on_front(b) && b.x - a.x >= SHORTEST);
    let (a, b) = stretches.max_by(|(a, b), (c, d)| (b.x - a.x).total_cmp(&(d.x - c.x)))?;
    let height = ((b.x - a.x) / 8.0).min(size(&piece.outline.shape)[1] / 8.0).clamp(LEAST, MARK);
    Some(((a.x + b.x) / 2.0, height))
}
