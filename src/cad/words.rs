//! What a cutting drawing says, and where: numbers, names and sizes beside the lines that they are about.
//!
//! In: slabs, pieces, openings, flaws, offcuts. Out: texts in the slab frame, mm. Must not know: what is drawn.

use super::Body;
use super::body::open;
use super::cutting::{rough_stone, size};
use super::layers::{self, Look};
use crate::geom::rectangle::{Want, largest};
use crate::geom::{BBox, Point, Pose, Ring, pt};
use crate::model::openings::{OpeningSheet, Pass, Verdict};
use crate::model::{Flaw, FlawBody, Opening, Piece, PlanNumber, Rectangle, Shape, Slab};
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

/// Heights of capitals of a label beside an opening, and how far off it is tried, mm.
const BESIDE: [f64; 3] = [10.0, 7.0, LEAST];
const OFF: [f64; 10] = [10.0, 18.0, 30.0, 45.0, 65.0, 90.0, 130.0, 180.0, 260.0, 400.0];

/// Texts in the making, with their leaders.
pub(super) struct Words {
    shown: Shown,
    texts: Vec<Body>,
    /// The room that they take, slab frame.
    taken: Vec<BBox>,
}

impl Words {
    pub(super) const fn new(shown: Shown) -> Self {
        Self { shown, texts: Vec::new(), taken: Vec::new() }
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
        let b = BBox { min: at - pt(0.0, 0.3 * height), max: at + pt(width(content, height), height) };
        self.taken.push(moved(&b, pose));
        let (at, turn) = (pose.apply(at), pose.turn.rem_euclid(360.0));
        self.texts.push(Body::Text { at, height, turn, content: content.to_owned() });
    }

    /// Above the slab: which it is, and the unit of all lengths.
    pub(super) fn slab(&mut self, slab: &Slab, (number, of): (usize, usize), jobs: &[String], plan: PlanNumber) {
        let unit = match self.shown {
            Shown::Mm => "mm",
            Shown::In => "inches",
        };
        let b = slab.outline.bbox();
        let lines = [
            format!("slab {number} of {of}: {}", slab.name),
            format!("{}, {} thick", slab.material, self.shown.length(slab.thickness)),
            format!("plan {plan} for {}", jobs.join(", ")),
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

    /// In the drop: name and size, whether it is cut, with which tools; what has no room there stands beside it with a leader.
    /// `near` is what labels keep off.
    pub(super) fn opening(&mut self, opening: &Opening, sheet: Option<&OpeningSheet>, near: &Near<'_>, pose: &Pose) {
        let mut head = vec![opening.name.clone()];
        let [w, h] = size(&opening.shape);
        let room = match opening.shape {
            Shape::Polygon(_) => [w, h],
            // The square in a circle.
            Shape::Ellipse { .. } => [w * 0.7, h * 0.7],
        };
        if !opening.kind.is_small() {
            head.push(self.size([w, h]));
        }
        match sheet.map(|s| s.verdict) {
            Some(Verdict::Stop) => head.push("DO NOT CUT".to_owned()),
            Some(Verdict::Score) => head.push("SCORE ONLY".to_owned()),
            _ => {}
        }
        let said = sheet.filter(|s| s.verdict != Verdict::Stop).map(|s| self.tools(s)).unwrap_or_default();
        // A small hole of one core says nothing that its circle does not.
        let needless = opening.kind.is_small() && said.is_only_cores;
        let tools = if needless { Vec::new() } else { said.lines };
        let whole: Vec<String> = head.iter().chain(&tools).cloned().collect();
        let fits = |lines: &[String]| height_for(lines, room) >= LEAST;
        let inside = |words: &mut Self, lines: &[String]| {
            words.block(lines, fitting(lines, room, SMALL), opening.centre(), pose);
        };
        if tools.is_empty() || fits(&whole) {
            inside(self, &whole);
        } else if fits(&head) {
            inside(self, &head);
            self.beside(&tools, &opening.ring, near, pose);
        } else {
            self.beside(&whole, &opening.ring, near, pose);
        }
        for (at, line) in said.at_passes {
            let spot = Ring::rectangle(BBox { min: at - pt(0.5, 0.5), max: at + pt(0.5, 0.5) });
            self.beside(&[line], &spot, near, pose);
        }
    }

    /// Near a ring of the piece frame, on the stone of the piece if it can be, with a line that leads to the ring.
    fn beside(&mut self, lines: &[String], ring: &Ring, near: &Near<'_>, pose: &Pose) {
        let target = ring.bbox();
        let spot = |height: f64, off: f64, step: i32| {
            let (w, h) = (widest(lines) * height, lines.len() as f64 * PITCH * height);
            let (sin, cos) = (f64::from(step) * std::f64::consts::PI / 8.0).sin_cos();
            let reach = pt(target.width() / 2.0 + off + w / 2.0, target.height() / 2.0 + off + h / 2.0);
            let middle = target.centre() + pt(cos * reach.x, sin * reach.y);
            (middle, BBox { min: middle - pt(w, h) * 0.5, max: middle + pt(w, h) * 0.5 }, height)
        };
        let all = || {
            BESIDE.into_iter().flat_map(move |height| {
                OFF.into_iter().flat_map(move |off| (0..16).map(move |step| spot(height, off, step)))
            })
        };
        let is_free = |b: &BBox| {
            near.boxes.iter().all(|o| !o.near(b, 1.0)) && {
                let b = moved(b, pose);
                self.taken.iter().all(|o| !o.near(&b, 1.0))
            }
        };
        let on_stone = |b: &BBox| Ring::rectangle(*b).points().iter().all(|&p| near.stone.contains(p));
        let found = all()
            .find(|(_, b, _)| on_stone(b) && is_free(b))
            .or_else(|| all().find(|(_, b, _)| is_free(b)))
            .unwrap_or_else(|| spot(LEAST, OFF[0], 0));
        let (middle, b, height) = found;
        self.block(lines, height, middle, pose);
        let end = nearest(ring, middle);
        let start = pt(end.x.clamp(b.min.x, b.max.x), end.y.clamp(b.min.y, b.max.y));
        self.texts.push(open([start, end].map(|p| pose.apply(p))));
    }

    /// What is said of the tools of an opening: a line for the cores, one for each way in which a saw is used, one for what no
    /// saw does. Where ways differ between the sides, each says for which.
    fn tools(&self, sheet: &OpeningSheet) -> Said {
        let cutting = &sheet.cutting;
        let length = |v: f64| self.shown.bare_length(v);
        let mut said = Said { lines: Vec::new(), is_only_cores: true, at_passes: Vec::new() };
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
            said.lines.push(format!("cores {}", bits.join(", ")));
        }
        let cores = said.lines.len();
        let mut ways: Vec<(String, Vec<&Pass>)> = Vec::new();
        for pass in passes {
            let way = match pass.blade {
                Some(blade) => {
                    let back = if pass.from_back { " from the back" } else { "" };
                    format!("blade {}, {} deep{back}", length(blade), length(pass.depth))
                }
                None => BY_OTHER.to_owned(),
            };
            match ways.iter_mut().find(|w| w.0 == way) {
                Some(w) => w.1.push(pass),
                None => ways.push((way, vec![pass])),
            }
        }
        let differ = ways.len() > 1;
        for (way, passes) in ways {
            if !differ {
                said.lines.push(way);
                continue;
            }
            // A side that is called by a number is nothing that anybody could find: it is told at its pass.
            let (numbered, named): (Vec<&Pass>, Vec<&Pass>) =
                passes.into_iter().partition(|p| p.side.starts_with("side "));
            let mut sides: Vec<&str> = named.iter().map(|p| p.side.as_str()).collect();
            sides.dedup();
            if !sides.is_empty() {
                said.lines.push(format!("{}: {way}", sides.join(", ")));
            }
            let middle = |p: &Pass| Point::from(p.from).lerp(p.to.into(), 0.5);
            said.at_passes.extend(numbered.iter().map(|p| (middle(p), way.clone())));
        }
        if !scored {
            for row in &cutting.rows {
                let with = row.blade.map_or_else(|| BY_OTHER.to_owned(), |b| format!("blade {}", length(b)));
                let line = format!("row cuts: {with}");
                if !said.lines.contains(&line) {
                    said.lines.push(line);
                }
            }
            if !cutting.curves.is_empty() {
                said.lines.push(format!("curve: {BY_OTHER}"));
            }
        }
        said.is_only_cores = said.lines.len() == cores && said.at_passes.is_empty();
        said
    }
}

/// What is said of the tools of an opening.
#[derive(Default)]
struct Said {
    /// For the opening as a whole.
    lines: Vec<String>,
    /// True if the lines tell of cores only.
    is_only_cores: bool,
    /// At the middles of passes.
    at_passes: Vec<(Point, String)>,
}

/// How a line is cut for which the shop has no blade.
const BY_OTHER: &str = "no blade, see the sheet";

/// What labels beside an opening keep off, piece frame.
pub(super) struct Near<'a> {
    /// They are to stand on this.
    pub(super) stone: &'a Ring,
    /// All openings, grooves.
    pub(super) boxes: Vec<BBox>,
}

/// The point of a ring that is nearest to a point.
fn nearest(ring: &Ring, p: Point) -> Point {
    let on = |(a, b): (Point, Point)| {
        let d = b - a;
        let t = (p - a).dot(d) / d.dot(d);
        if t.is_finite() { a.lerp(b, t.clamp(0.0, 1.0)) } else { a }
    };
    ring.edges().map(on).min_by(|a, b| a.distance(p).total_cmp(&b.distance(p))).unwrap_or(p)
}

/// The box round a box of the pose's frame.
fn moved(b: &BBox, pose: &Pose) -> BBox {
    BBox::of(b.corners().map(|p| pose.apply(p)).iter())
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
    height_for(lines, [w, h]).clamp(LEAST, most)
}

/// The same without any limit.
fn height_for(lines: &[String], [w, h]: [f64; 2]) -> f64 {
    let wide = w * 0.9 / widest(lines);
    let high = h * 0.8 / (PITCH * lines.len() as f64);
    wide.min(high)
}

/// The middle of the longest straight stretch of a piece on y = 0, or of the lowest part of a bowed front, and the height of a mark
/// there, mm.
fn front(piece: &Piece) -> Option<(f64, f64)> {
    /// mm; a shorter stretch is no front that a mark could name.
    const SHORTEST: f64 = 60.0;
    let on_front = |p: Point| p.y.abs() < 0.01;
    let stretches = piece.outline.ring.edges().filter(|&(a, b)| on_front(a) && on_front(b) && b.x - a.x >= SHORTEST);
    let straight = stretches.max_by(|(a, b), (c, d)| (b.x - a.x).total_cmp(&(d.x - c.x)));
    // Of a bow the stretch that is all but level.
    let bowed = || {
        let bow = piece.outline.bow(0.1);
        let ends = (*bow.first()?, *bow.last()?);
        (ends.1.x - ends.0.x >= SHORTEST).then_some(ends)
    };
    let (a, b) = straight.or_else(bowed)?;
    let height = ((b.x - a.x) / 8.0).min(size(&piece.outline.shape)[1] / 8.0).clamp(LEAST, MARK);
    Some(((a.x + b.x) / 2.0, height))
}
