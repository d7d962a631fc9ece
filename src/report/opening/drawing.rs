//! The drawing: the part of the piece round the opening, with everything that is done to it. What it draws it tells the
//! placer, so that words keep off.

use super::super::placer::{self, Words};
use super::super::scene::{Colour, Item, Layer, Stroke};
use super::super::sheet::{flaw_area, flaw_line, flaw_spot};
use super::super::{hatch, text};
use super::{Builder, words};
use crate::geom::curve::Side;
use crate::geom::{BBox, Point, Region, Ring, boolean, pt};
use crate::model::openings::{RailVerdict, Verdict};
use crate::model::{Fixture, FlawBody};

const PIECE: Stroke = Stroke::solid(Colour::BLACK, 0.5);
const FRONT: Stroke = Stroke::solid(Colour::BLACK, 0.9);
const BREAK: Stroke = Stroke::dashed(Colour::GREY, 0.25, &[2.0, 0.8, 0.3, 0.8]);
const CUT: Stroke = Stroke::solid(Colour::BLACK, 0.35);
const OTHER: Stroke = Stroke::solid(Colour::GREY, 0.25);
const FIXTURE: Stroke = Stroke::dashed(Colour::BLACK, 0.2, &[2.2, 1.0]);
const DROP: Stroke = Stroke::solid(Colour::LIGHT, 0.1);
const CENTRE: Stroke = Stroke::dashed(Colour::BLACK, 0.13, &[4.0, 0.8, 0.8, 0.8]);
const THIN: Stroke = Stroke::solid(Colour::BLACK, 0.15);
const CORE: Stroke = Stroke::solid(Colour::BLUE, 0.3);
const FACE: Stroke = Stroke::solid(Colour::BLACK, 0.15);
const FULL: Stroke = Stroke::solid(Colour::BLACK, 0.6);
const ROD: Stroke = Stroke::dashed(Colour::VERMILLION, 0.7, &[3.0, 0.8]);
const GROOVE: Stroke = Stroke::solid(Colour::VERMILLION, 0.15);

/// Stone shown round everything of interest, mm of stone.
const AROUND: f64 = 60.0;
/// How far a rail is shown where it is wider, mm of stone: the widest limit below which a rail wants rods, and some more.
const WIDEST: f64 = 200.0;
/// How far a label may lie from what it tells, mm.
const FAR: f64 = 80.0;
/// What a label may cross at most, in the placer's costs.
const MOST: f64 = 120.0;

impl Builder<'_> {
    /// What the drawing is to show of the piece frame.
    pub(super) fn wanted(&self) -> BBox {
        let sheet = self.sheet;
        let hole = self.opening.ring.bbox();
        let mut b = hole;
        for rod in &sheet.rods {
            for p in [rod.from, rod.to, rod.groove_from, rod.groove_to] {
                b = b.with(p.into());
            }
        }
        let far = pt(WIDEST, WIDEST);
        let most = BBox { min: hole.min - far, max: hole.max + far };
        for rail in &sheet.rails {
            for p in rail.at.map(Point::from) {
                b = b.with(pt(p.x.clamp(most.min.x, most.max.x), p.y.clamp(most.min.y, most.max.y)));
            }
        }
        for (shape, _) in self.fixture() {
            b = b.join(shape.bbox());
        }
        let around = pt(AROUND, AROUND);
        let piece = self.piece.outline.ring.bbox();
        let (min, max) = (b.min - around, b.max + around);
        BBox {
            min: pt(min.x.max(piece.min.x), min.y.max(piece.min.y)),
            max: pt(max.x.min(piece.max.x), max.y.min(piece.max.y)),
        }
    }

    fn fixture(&self) -> Vec<(Ring, &'static str)> {
        let ring = |d: &crate::model::Drawn| Ring::vouched_outline(d.shape.flatten(Side::Outer).points);
        match self.opening.origin.as_ref().map(|o| &o.fixture) {
            Some(Fixture::DropIn { rim, body, .. }) => vec![(ring(rim), "rim"), (ring(body), "body")],
            Some(Fixture::Undermount { bowl, .. }) => vec![(ring(bowl), "bowl")],
            Some(Fixture::Cooktop { body, .. }) => vec![(ring(body), "body")],
            None => Vec::new(),
        }
    }

    fn paper(&self, p: Point) -> Point {
        self.origin + p * (1.0 / self.scale)
    }

    fn paper_ring(&self, ring: &Ring) -> Ring {
        ring.map(|p| self.paper(p))
    }

    pub(super) fn draw(&mut self) {
        self.draw_stone();
        self.draw_flaws();
        self.draw_cutting();
        self.draw_rods();
        self.label_others();
        self.label_rails();
        self.label_cutting();
        self.label_rods();
        self.label_flaws();
        self.label_rest();
    }

    fn draw_stone(&mut self) {
        let window = Ring::rectangle(self.window).to_region();
        let shown = boolean::intersection(&self.piece.outline.ring.to_region(), &window);
        let w = self.window;
        let on_break = |a: Point, b: Point| {
            let near = |u: f64, v: f64, at: f64| (u - at).abs() < 0.01 && (v - at).abs() < 0.01;
            let on_window = near(a.x, b.x, w.min.x)
                || near(a.x, b.x, w.max.x)
                || near(a.y, b.y, w.min.y)
                || near(a.y, b.y, w.max.y);
            let middle = a.lerp(b, 0.5);
            let own = self.piece.outline.ring.edges();
            let away = own.map(|(p, q)| crate::geom::distance::nearest_on_segment(middle, p, q).distance(middle));
            on_window && away.fold(f64::INFINITY, f64::min) > 0.01
        };
        let (mut outline, mut front, mut broken) = (Vec::new(), Vec::new(), Vec::new());
        for (a, b) in shown.edges() {
            let path = vec![self.paper(a), self.paper(b)];
            if on_break(a, b) {
                broken.push(path);
            } else if a.y.abs() < 0.01 && b.y.abs() < 0.01 {
                front.push(path);
            } else {
                outline.push(path);
            }
        }
        for (paths, stroke) in [(outline, PIECE), (front, FRONT), (broken, BREAK)] {
            for path in &paths {
                self.placer.avoid(path[0], path[1], 20.0);
            }
            if !paths.is_empty() {
                self.items.push(Item::lines(Layer::Piece, paths, stroke));
            }
        }
        let hole = self.paper_ring(&self.opening.ring);
        self.placer.avoid_ring(&hole, 20.0);
        let hatched = hatch::lines(&hole.to_region(), 45.0, 3.0);
        if !hatched.is_empty() {
            self.items.push(Item::lines(Layer::Slab, hatched, DROP));
        }
        self.items.push(Item::area(Layer::Opening, hole.points().to_vec(), Some(CUT), None));
        for other in self.piece.openings.iter().filter(|o| o.name != self.opening.name) {
            for part in boolean::intersection(&other.ring.to_region(), &window).rings() {
                let ring = self.paper_ring(part);
                self.placer.avoid_ring(&ring, 5.0);
                self.items.push(Item::area(Layer::Opening, ring.points().to_vec(), Some(OTHER), None));
            }
        }
        for (ring, _) in self.fixture() {
            let ring = self.paper_ring(&ring);
            self.placer.avoid_ring(&ring, 2.0);
            self.items.push(Item::area(Layer::Edge, ring.points().to_vec(), Some(FIXTURE), None));
        }
        let c = self.opening.centre();
        let hole = self.opening.ring.bbox();
        let past = 4.0 * self.scale;
        for (a, b) in [
            (pt(c.x, self.window.min.y), pt(c.x, (hole.max.y + past).min(self.window.max.y))),
            (pt(hole.min.x - past, c.y), pt(hole.max.x + past, c.y)),
        ] {
            let (a, b) = (self.paper(a), self.paper(b));
            self.placer.avoid(a, b, 4.0);
            self.items.push(Item::line(Layer::Datum, vec![a, b], CENTRE));
        }
    }

    /// The flaws that are on the sheet, as they lie on the slab.
    fn draw_flaws(&mut self) {
        let (Some(slab), Some(pose)) = (self.slab, self.pose) else { return };
        let window = Ring::rectangle(self.window).to_region();
        for near in &self.sheet.flaws {
            let Some(flaw) = near.number.checked_sub(1).and_then(|i| slab.flaws.get(i)) else { continue };
            match &flaw.body {
                FlawBody::Line(line) => {
                    let line: Vec<Point> = line.iter().map(|&p| pose.undo(p)).collect();
                    for part in super::super::template::clipped(&line, false, &self.window) {
                        let part: Vec<Point> = part.into_iter().map(|p| self.paper(p)).collect();
                        for s in part.windows(2) {
                            self.placer.avoid(s[0], s[1], 10.0);
                        }
                        self.items.extend(flaw_line(flaw.kind, &part));
                    }
                }
                FlawBody::Area(ring) => {
                    let here = boolean::intersection(&ring.map(|p| pose.undo(p)).to_region(), &window);
                    let mut region = Region::empty();
                    for polygon in here.polygons {
                        let outer = self.paper_ring(&polygon.outer);
                        self.placer.avoid_ring(&outer, 10.0);
                        region.polygons.push(crate::geom::Polygon { outer, holes: Vec::new() });
                    }
                    if !region.is_empty() {
                        self.items.extend(flaw_area(flaw.kind, &region));
                    }
                }
                FlawBody::Spot(at) => {
                    let at = pose.undo(*at);
                    if self.shows(at) {
                        let at = self.paper(at);
                        self.items.extend(flaw_spot(flaw.kind, at, flaw.radius / self.scale));
                        self.placer.take(placer::around(at, (2.0, 2.0)));
                    }
                }
            }
        }
    }

    fn shows(&self, p: Point) -> bool {
        self.window.near(&BBox::EMPTY.with(p), 0.01)
    }

    fn draw_cutting(&mut self) {
        let cutting = &self.sheet.cutting;
        for core in &cutting.cores {
            let (centre, r) = (self.paper(core.centre.into()), core.diameter / 2.0 / self.scale);
            let cross = 0.7;
            let (x, y) = (pt(cross, 0.0), pt(0.0, cross));
            self.items.push(Item::disc(Layer::Tool, centre, r, Some(CORE), None));
            self.items.push(Item::lines(
                Layer::Tool,
                vec![vec![centre - x, centre + x], vec![centre - y, centre + y]],
                THIN,
            ));
            for t in core.tangents {
                self.items.push(Item::disc(Layer::Tool, self.paper(t.into()), 0.4, None, Some(Colour::BLACK)));
            }
            let reach = pt(r.max(0.8), r.max(0.8));
            self.placer.avoid(centre - reach, centre + reach, 6.0);
        }
        // The dark lines lie a little inside the hole, so that the cut line stays seen.
        for pass in &cutting.passes {
            let (a, b) = (self.paper(pass.from.into()), self.paper(pass.to.into()));
            let long = a.distance(b);
            if long < 1e-6 {
                continue;
            }
            let inward = (b - a).left() * (1.0 / long);
            let aside = inward * 1.6;
            self.items.push(Item::lines(
                Layer::Tool,
                vec![
                    vec![a + aside, b + aside],
                    vec![a + inward * 0.8, a + inward * 2.4],
                    vec![b + inward * 0.8, b + inward * 2.4],
                ],
                FACE,
            ));
            if let (Some(from), Some(to)) = (pass.full_depth_from, pass.full_depth_to) {
                let (p, q) = (self.paper(from.into()) + aside, self.paper(to.into()) + aside);
                self.items.push(Item::line(Layer::Tool, vec![p, q], FULL));
            }
            self.placer.avoid(a + aside, b + aside, 4.0);
        }
        for row in &cutting.rows {
            let cuts: Vec<Vec<Point>> =
                row.cuts.iter().map(|c| c.iter().map(|&p| self.paper(p.into())).collect()).collect();
            for cut in &cuts {
                self.placer.avoid(cut[0], cut[1], 3.0);
            }
            if !cuts.is_empty() {
                self.items.push(Item::lines(Layer::Tool, cuts, FACE));
            }
        }
        if let (Some(score), Verdict::Score) = (&cutting.score, self.sheet.verdict) {
            for tab in &score.tabs {
                let at = self.paper(Point::from(*tab));
                let r = (score.tab / 2.0 / self.scale).max(1.0);
                self.items.push(Item::disc(Layer::Tool, at, r, Some(THIN), None));
            }
        }
    }

    fn draw_rods(&mut self) {
        for rod in &self.sheet.rods {
            let ends = [rod.groove_from, rod.groove_to, rod.from, rod.to].map(|p| self.paper(p.into()));
            let [a, b, p, q] = ends;
            let long = a.distance(b);
            if long < 1e-6 {
                continue;
            }
            let half = (b - a).left() * (rod.groove_width / 2.0 / self.scale / long);
            self.items.push(Item::area(Layer::Rod, vec![a - half, b - half, b + half, a + half], Some(GROOVE), None));
            self.items.push(Item::line(Layer::Rod, vec![p, q], ROD));
            self.placer.avoid(a, b, 8.0);
        }
    }

    fn label_others(&mut self) {
        let size = text::LEAST_SIZE;
        let others: Vec<(String, Point)> = self
            .piece
            .openings
            .iter()
            .filter(|o| o.name != self.opening.name)
            .map(|o| (o.name.clone(), o.centre()))
            .filter(|o| self.shows(o.1))
            .collect();
        for (name, at) in others {
            let aside = [pt(0.0, 0.0), pt(0.0, 8.0), pt(0.0, -8.0), pt(5.0, 5.0), pt(-5.0, 5.0)];
            let places = aside.map(|v| self.paper(at + v));
            self.label_any(vec![(text::shorten(&name, size, false, 40.0), size, false)], &places);
        }
    }

    fn label_rails(&mut self) {
        for rail in &self.sheet.rails {
            let [a, b] = rail.at.map(Point::from);
            if !(self.shows(a) || self.shows(b)) {
                continue;
            }
            let clamp = |p: Point| {
                let w = &self.window;
                self.paper(pt(p.x.clamp(w.min.x, w.max.x), p.y.clamp(w.min.y, w.max.y)))
            };
            let (p, q) = (clamp(a), clamp(b));
            let long = p.distance(q);
            if long > 0.3 {
                let along = (q - p) * (1.0 / long);
                let slant = (along + along.left()) * 0.6;
                let mut paths = vec![vec![p, q]];
                for (end, at) in [(a, p), (b, q)] {
                    if self.shows(end) {
                        paths.push(vec![at - slant, at + slant]);
                    }
                }
                self.items.push(Item::lines(Layer::Dimension, paths, THIN));
                self.placer.avoid(p, q, 9.0);
            }
            let mut lines =
                vec![(format!("{} {}", rail.side, self.settings.shown.length(rail.least)), text::LEAST_SIZE, true)];
            if rail.verdict != RailVerdict::Fine {
                lines.push((words::rail_word(rail.verdict).to_owned(), text::LEAST_SIZE, false));
            }
            self.label_any(lines, &[0.5, 0.35, 0.65, 0.2, 0.8].map(|t| p.lerp(q, t)));
        }
    }

    fn label_cutting(&mut self) {
        let size = text::LEAST_SIZE;
        let shown = self.settings.shown;
        for (i, core) in self.sheet.cutting.cores.iter().enumerate() {
            let aside = if core.from_centre_line.abs() < 0.05 {
                "on the centre line".to_owned()
            } else {
                let side = if core.from_centre_line < 0.0 { "left" } else { "right" };
                format!("{} {side}", shown.length(core.from_centre_line.abs()))
            };
            let lines = vec![
                (format!("C{}: bit {}", i + 1, shown.length(core.diameter)), size, true),
                (aside, size, false),
                (format!("{} from front", shown.length(core.from_front)), size, false),
            ];
            let (centre, r) = (self.paper(core.centre.into()), core.diameter / 2.0 / self.scale);
            let round = [pt(r, 0.0), pt(0.0, r), pt(-r, 0.0), pt(0.0, -r)].map(|v| centre + v);
            self.label_any(lines, &[&[centre][..], &round].concat());
        }
        for (i, pass) in self.sheet.cutting.passes.iter().enumerate() {
            let (a, b) = (self.paper(pass.from.into()), self.paper(pass.to.into()));
            let long = a.distance(b).max(1e-9);
            let aside = (b - a).left() * (1.6 / long);
            let blade = pass.blade.map_or_else(|| "no blade fits".to_owned(), |d| format!("blade {}", shown.length(d)));
            let places = [0.4, 0.6, 0.25, 0.75].map(|t| a.lerp(b, t) + aside);
            self.label_any(vec![(format!("S{} {blade}", i + 1), size, false)], &places);
        }
    }

    fn label_rods(&mut self) {
        for (i, rod) in self.sheet.rods.iter().enumerate() {
            let (p, q) = (self.paper(rod.from.into()), self.paper(rod.to.into()));
            let words = format!("R{}: rod {}", i + 1, self.settings.shown.length(rod.diameter));
            self.label_any(
                vec![(words, text::LEAST_SIZE, true)],
                &[0.2, 0.8, 0.35, 0.65, 0.05, 0.95].map(|t| p.lerp(q, t)),
            );
        }
    }

    fn label_flaws(&mut self) {
        let (Some(slab), Some(pose)) = (self.slab, self.pose) else { return };
        for near in &self.sheet.flaws {
            let Some(flaw) = near.number.checked_sub(1).and_then(|i| slab.flaws.get(i)) else { continue };
            let points: Vec<Point> = match &flaw.body {
                FlawBody::Line(line) => line.iter().map(|&p| pose.undo(p)).collect(),
                FlawBody::Area(ring) => ring.points().iter().map(|&p| pose.undo(p)).collect(),
                FlawBody::Spot(p) => vec![pose.undo(*p)],
            };
            let visible: Vec<Point> = points.into_iter().filter(|&p| self.shows(p)).collect();
            if visible.is_empty() {
                continue;
            }
            let n = visible.len();
            let places: Vec<Point> = [n / 2, 0, n - 1, n / 4].iter().map(|&i| self.paper(visible[i])).collect();
            let mut lines = vec![(format!("F{} {}", near.number, near.flaw), text::LEAST_SIZE, true)];
            if near.in_drop {
                lines.push(("in the drop".to_owned(), text::LEAST_SIZE, false));
            } else {
                let spare = self.settings.shown.length(near.spare.abs());
                let (words, bad) = if near.spare < 0.0 { ("too near", true) } else { ("to spare", false) };
                lines.push((format!("{spare} {words}"), text::LEAST_SIZE, bad));
            }
            self.label_any(lines, &places);
        }
    }

    fn label_rest(&mut self) {
        let size = text::LEAST_SIZE;
        let shown = self.settings.shown;
        let c = self.opening.centre();
        let hole = self.opening.ring.bbox();
        let line = format!("centre line, {} from the left end", shown.length(c.x));
        let along = |v: [f64; 5], f: &dyn Fn(f64) -> Point| v.map(|t| self.paper(f(t)));
        let up = along([0.3, -0.3, 0.6, -0.6, 0.9], &|t| pt(c.x, c.y + t * (hole.max.y - c.y)));
        let level = along([0.4, -0.4, 0.7, -0.7, 0.9], &|t| pt(c.x + t * (hole.max.x - c.x), c.y));
        let front = along([0.25, 0.75, 0.1, 0.9, 0.4], &|t| pt(self.window.min.x + t * self.window.width(), 0.0));
        self.label_any(vec![(line, size, false)], &up);
        let across = format!("{} from the front", shown.length(c.y));
        self.label_any(vec![(across, size, false)], &level);
        if self.window.min.y < 0.01 {
            self.label_any(vec![("front edge".to_owned(), size, true)], &front);
        }
        if self.window.min.y >= 0.01 {
            let foot = self.paper(pt(self.window.min.x * 0.75 + self.window.max.x * 0.25, self.window.min.y));
            let (tip, wing) = (foot + pt(0.0, 0.5), 0.9);
            self.items.push(Item::line(Layer::Mark, vec![foot + pt(0.0, 5.0), tip], CUT));
            let head = vec![tip, tip + pt(wing, 2.0), tip + pt(-wing, 2.0)];
            self.items.push(Item::area(Layer::Mark, head, None, Some(Colour::BLACK)));
            self.placer.avoid(foot, foot + pt(0.0, 5.0), 10.0);
            let away = shown.length(self.window.min.y);
            self.label(vec![(format!("front edge, {away} farther"), size, true)], foot + pt(0.0, 3.0));
        }
        for (ring, name) in self.fixture() {
            let points = ring.points();
            let n = points.len();
            let places: Vec<Point> =
                [1, 2, 3, 4, 0].iter().filter_map(|k| points.get(k * n / 5)).map(|&p| self.paper(p)).collect();
            self.label_any(vec![(name.to_owned(), size, false)], &places);
        }
    }

    /// Words near a place, with a line to it; counted where there is no room.
    fn label(&mut self, lines: Vec<(String, f64, bool)>, at: Point) {
        self.label_any(lines, &[at]);
    }

    /// Words near the first of some places where there is room, with a line to it; counted where there is none.
    fn label_any(&mut self, lines: Vec<(String, f64, bool)>, places: &[Point]) {
        let words = Words { lines, upright: false };
        let (w, h) = words.size();
        let size = (w + 0.8, h + 0.6);
        let found = places.iter().find_map(|&at| Some((at, self.spot(size, at)?)));
        let Some((at, m)) = found else {
            self.left_out += 1;
            return;
        };
        let near = nearest(&placer::around(m, (w, h)), at);
        if near.distance(at) > 1.2 {
            self.items.push(Item::line(Layer::Dimension, vec![near, at], THIN));
            self.items.push(Item::disc(Layer::Dimension, at, 0.35, None, Some(Colour::BLACK)));
            self.placer.take_line(near, at);
        }
        self.placer.take(placer::around(m, (w, h)));
        self.items.extend(words.texts(m).into_iter().map(|t| Item::text(Layer::Label, t)));
    }

    /// The best middle for a box of that size, from which a line to the place crosses no words.
    fn spot(&self, size: (f64, f64), at: Point) -> Option<Point> {
        let mut best: Option<(Point, f64)> = None;
        for (m, own) in placer::round_about(at, size, FAR) {
            if own >= best.map_or(MOST, |b| b.1) {
                break;
            }
            let room = placer::around(m, size);
            if let Some(cost) = self.placer.cost(&room)
                && own + cost < best.map_or(MOST, |b| b.1)
                && self.placer.is_clear(nearest(&room, at), at)
            {
                best = Some((m, own + cost));
            }
        }
        best.map(|b| b.0)
    }
}

/// The point of a box nearest to a place.
fn nearest(b: &BBox, at: Point) -> Point {
    pt(at.x.clamp(b.min.x, b.max.x), at.y.clamp(b.min.y, b.max.y))
}
