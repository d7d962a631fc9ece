//! The drawing of a piece: stone, openings, edges, rods, with everything that is written on it. What it draws it tells the placer,
//! so that words keep off.

use super::super::dims::Row;
use super::Builder;
use super::tables::WIDE;
use crate::geom::clip::line_within;
use crate::geom::{BBox, Point, Pose, Ring, boolean, distance, pt};
use crate::model::letters;
use crate::model::openings::{Held, Rail};
use crate::model::{Finish, GrainWish};
use crate::report::edges::{self, Edge, edges};
use crate::report::placer::{self, Words};
use crate::report::scene::{Colour, Item, Layer, Stroke};
use crate::report::sheet::{front_bar, inset_runs, short_name, ticked};
use crate::report::text::{self, LEAST_SIZE};
use crate::report::{hatch, measure};

const PIECE: Stroke = Stroke::solid(Colour::BLACK, 0.5);
const OPENING: Stroke = Stroke::solid(Colour::BLACK, 0.35);
const STRUCK: Stroke = Stroke::solid(Colour::VERMILLION, 0.6);
const CENTRE: Stroke = Stroke::dashed(Colour::GREY, 0.13, &[4.0, 0.8, 0.8, 0.8]);
const FINISHED: Stroke = Stroke::dashed(Colour::BLACK, 0.55, &[0.0, 1.3]);
const HIDDEN: Stroke = Stroke::dashed(Colour::GREY, 0.2, &[1.5, 1.0]);
const HATCH: Stroke = Stroke::solid(Colour::LIGHT, 0.1);
const ROD_WIDTH: f64 = 0.7;
const ROD: Stroke = Stroke::dashed(Colour::VERMILLION, ROD_WIDTH, &[3.0, 0.8]);
const THIN: Stroke = Stroke::solid(Colour::BLACK, 0.15);
const RAIL: Stroke = Stroke::solid(Colour::BLACK, 0.2);

/// How far a label may lie from what it tells, mm.
const FAR: f64 = 40.0;
/// What a label may cross at most, in the placer's costs.
const MOST: f64 = 70.0;

impl Builder<'_> {
    pub(super) fn draw(&mut self, rows: [Row; 2], area: &BBox) {
        let ring = self.paper_ring(&self.cut.piece.outline.ring);
        let [below, left] = rows;
        let side = left.room(self.shown);
        let extent = ring.bbox();
        // The rows have their own room; words keep out of it.
        self.placer.take(BBox { min: area.min, max: pt(area.max.x, extent.min.y - 0.5) });
        self.placer.take(BBox { min: pt(extent.min.x - side, area.min.y), max: pt(extent.min.x - 0.5, area.max.y) });
        let figures = [(below, (extent.min.x - 3.0, area.max.x)), (left, (area.min.y, area.max.y))];
        for (row, between) in figures {
            let (items, lines, left_out) = row.items(self.shown, self.scale, self.origin, between);
            self.items.extend(items);
            self.left_out += left_out;
            for (a, b) in lines {
                self.placer.avoid(a, b, 3.0);
            }
        }
        self.draw_stone(&ring);
        self.draw_rods();
        self.number_corners(&ring);
        self.label_openings();
        self.face_up(&ring);
        self.grain(&ring);
        self.label_rails();
        self.label_rods();
        self.label_finishes();
        self.label_radii();
    }

    fn draw_stone(&mut self, ring: &Ring) {
        let piece = self.cut.piece;
        self.items.push(Item::area(Layer::Piece, ring.points().to_vec(), Some(PIECE), Some(Colour::WHITE)));
        self.placer.avoid_ring(ring, 30.0);
        self.draw_hidden();
        for o in &piece.openings {
            let hole = self.paper_ring(&o.ring);
            self.placer.avoid_ring(&hole, 20.0);
            self.items.push(Item::area(Layer::Opening, hole.points().to_vec(), Some(OPENING), Some(Colour::PALE)));
            let is_stopped = |h: &Held| h.opening == o.name && h.is_stopped();
            if self.work.plan.held_of(&self.cut.job.name, &piece.name).any(is_stopped) {
                let [a, b, c, d] = hole.bbox().corners();
                let region = hole.to_region();
                for stroke in [[a, c], [b, d]].iter().flat_map(|ends| line_within(ends, &region)) {
                    if let (Some(&from), Some(&to)) = (stroke.first(), stroke.last()) {
                        self.placer.avoid(from, to, 4.0);
                    }
                    self.items.push(Item::line(Layer::Finding, stroke, STRUCK));
                }
            }
            let e = o.shape.extent();
            let (c, past) = (e.centre(), 2.0 * self.scale);
            let (hx, hy) = (pt(e.width() / 2.0 + past, 0.0), pt(0.0, e.height() / 2.0 + past));
            for (a, b) in [(c - hx, c + hx), (c - hy, c + hy)] {
                let (a, b) = (self.paper(a), self.paper(b));
                self.placer.avoid(a, b, 4.0);
                self.items.push(Item::line(Layer::Datum, vec![a, b], CENTRE));
            }
        }
        let finished: Vec<bool> =
            (0..piece.outline.ring.points().len()).map(|e| piece.outline.is_finished(e)).collect();
        for path in inset_runs(ring, &finished, 1.5) {
            for (a, b) in distance::open_line(&path) {
                self.placer.avoid(a, b, 3.0);
            }
            self.items.push(Item::line(Layer::Edge, path, FINISHED));
        }
        for (a, b) in measure::front(piece) {
            let (bar, ticks) = front_bar(self.paper(a), self.paper(b), pt(1.0, 0.0));
            self.placer.avoid(bar[0], bar[1], 25.0);
            self.items.push(Item::line(Layer::Edge, bar, Stroke::solid(Colour::BLACK, 1.0)));
            self.items.push(Item::lines(Layer::Edge, ticks, Stroke::solid(Colour::BLACK, 0.35)));
        }
    }

    /// Strips that nobody will see: their border, and a light hatching.
    fn draw_hidden(&mut self) {
        let piece = self.cut.piece;
        let (b, h) = (piece.outline.shape.extent(), &piece.hidden);
        let strips = [
            (h.front, BBox { min: b.min, max: pt(b.max.x, b.min.y + h.front) }),
            (h.right, BBox { min: pt(b.max.x - h.right, b.min.y), max: b.max }),
            (h.back, BBox { min: pt(b.min.x, b.max.y - h.back), max: b.max }),
            (h.left, BBox { min: b.min, max: pt(b.min.x + h.left, b.max.y) }),
        ];
        for strip in strips.iter().filter(|s| s.0 > 0.0).map(|s| s.1) {
            let shown = boolean::intersection(&piece.outline.ring.to_region(), &Ring::rectangle(strip).to_region());
            for part in shown.rings() {
                let ring = self.paper_ring(part);
                let hatched = hatch::lines(&ring.to_region(), 45.0, 1.6);
                if !hatched.is_empty() {
                    self.items.push(Item::lines(Layer::Piece, hatched, HATCH));
                }
                self.items.push(Item::area(Layer::Piece, ring.points().to_vec(), Some(HIDDEN), None));
            }
        }
    }

    fn draw_rods(&mut self) {
        for rod in self.sheets.iter().flatten().flat_map(|s| &s.rods) {
            let (a, b) = (self.paper(rod.from.into()), self.paper(rod.to.into()));
            // No words may hide any of it: whoever cuts would not know how far it runs.
            let aside = (b - a).left() * (0.5 * ROD_WIDTH / a.distance(b).max(1e-9));
            for by in [pt(0.0, 0.0), aside, -aside] {
                self.placer.take_line(a + by, b + by);
            }
            self.items.push(Item::line(Layer::Rod, vec![a, b], ROD));
        }
    }

    fn number_corners(&mut self, ring: &Ring) {
        for corner in measure::corners(self.cut.piece).into_iter().filter(|c| !c.in_air) {
            let at = self.paper(corner.at);
            self.items.push(Item::disc(Layer::Mark, at, 0.5, None, Some(Colour::BLACK)));
            let words = Words { lines: vec![(corner.name, 3.0, true)], upright: false };
            let size = words.size();
            let inside = |m: Point| placer::box_in_ring(&placer::around(m, size), ring);
            let near = placer::round_about(at, size, 12.0).into_iter().filter(|(m, _)| inside(*m));
            match self.placer.best(size, near.collect::<Vec<_>>(), 12.0) {
                Some((m, _)) => self.put(&words, m),
                None => self.label(&words, at, FAR),
            }
        }
    }

    fn label_openings(&mut self) {
        let piece = self.cut.piece;
        for (i, o) in piece.openings.iter().enumerate() {
            let e = o.shape.extent();
            let id = letters(i);
            let size = if super::is_circle(&o.shape) {
                format!("Ø {}", self.bare(e.width()))
            } else {
                format!("{} × {}", self.bare(e.width()), self.bare(e.height()))
            };
            let hole = self.paper_ring(&o.ring);
            let b = hole.bbox();
            let long = b.width().max(b.height()) - 2.0;
            let name = short_name(&o.name, LEAST_SIZE, false, long.max(30.0));
            let tries = [
                vec![(id.clone(), 3.4, true), (name.clone(), LEAST_SIZE, false), (size.clone(), LEAST_SIZE, false)],
                vec![(format!("{id} {name}"), LEAST_SIZE, true), (size.clone(), LEAST_SIZE, false)],
                vec![(format!("{id} {name}, {size}"), LEAST_SIZE, false)],
            ];
            let mut done = false;
            for lines in &tries {
                for upright in [false, true] {
                    let words = Words { lines: lines.clone(), upright };
                    let room = words.size();
                    let spots = placer::grid(&b, room, b.centre());
                    let spots =
                        spots.into_iter().filter(|(m, _)| placer::box_in_ring(&placer::around(*m, room), &hole));
                    if let Some((m, _)) = self.placer.best(room, spots.collect::<Vec<_>>(), 14.0) {
                        self.put(&words, m);
                        done = true;
                        break;
                    }
                }
                if done {
                    break;
                }
            }
            if !done {
                let words = Words { lines: tries[1].clone(), upright: false };
                self.label(&words, b.centre(), FAR);
            }
        }
    }

    /// "FACE UP" with an arrow to the front edge.
    fn face_up(&mut self, ring: &Ring) {
        let home = self.home(ring);
        for large in [6.0, 4.5, 3.4, LEAST_SIZE] {
            let small = (large * 0.5_f64).max(LEAST_SIZE);
            let both = vec![("FACE UP".to_owned(), large, true), ("front edge this way".to_owned(), small, false)];
            for (lines, beside) in
                [(both.clone(), false), (both, true), (vec![("FACE UP".to_owned(), large, true)], true)]
            {
                let words = Words { lines, upright: false };
                let (w, h) = words.size();
                let arrow = large * 1.6;
                let size = if beside { (w + 5.0, h.max(arrow + 0.6)) } else { (w + 1.0, h + arrow + 1.0) };
                let Some(m) = self.free(size, ring, home, 9.0) else { continue };
                self.placer.take(placer::around(m, size));
                let (middle, tip) = if beside {
                    (m + pt(-2.0, 0.0), m + pt(size.0 / 2.0 - 1.6, -arrow / 2.0))
                } else {
                    (m + pt(0.0, (arrow + 0.6) / 2.0), m - pt(0.0, size.1 / 2.0 - 0.3))
                };
                self.items.extend(words.texts(middle).into_iter().map(|t| Item::text(Layer::Label, t)));
                let (head, line) = (arrow * 0.45, Stroke::solid(Colour::BLACK, 0.6));
                let path = vec![tip + pt(0.0, arrow), tip + pt(0.0, head)];
                self.items.push(Item::line(Layer::Mark, path, line));
                let wing = head * 0.4;
                let points = vec![tip, tip + pt(wing, head), tip + pt(-wing, head)];
                self.items.push(Item::area(Layer::Mark, points, None, Some(Colour::BLACK)));
                return;
            }
        }
        self.left_out += 1;
    }

    /// The grain as it runs over the piece on its slab: an arrow with two heads, or one where it has a direction.
    fn grain(&mut self, ring: &Ring) {
        let piece = self.cut.piece;
        let wish = match piece.grain {
            GrainWish::Towards(angle) => Some(angle),
            GrainWish::Any => None,
        };
        let on_slab = self.cut.slab.grain.map(|g| g - self.cut.placed.turn);
        let Some(angle) = on_slab.or(wish).filter(|g| g.is_finite()) else { return };
        let along = Pose::new(angle, pt(0.0, 0.0)).apply(pt(1.0, 0.0));
        let words = Words::plain("grain");
        let (w, h) = words.size();
        let home = self.home(ring) + pt(12.0, 0.0);
        for long in [24.0, 16.0, 10.0] {
            let reach = (along.x.abs() * long, along.y.abs() * long);
            let size = ((reach.0 + 2.0).max(w), reach.1 + 2.4 + h);
            let Some(m) = self.free(size, ring, home, 9.0) else { continue };
            self.placer.take(placer::around(m, size));
            let c = m - pt(0.0, h / 2.0);
            let (tip, tail) = (c + along * (long / 2.0), c - along * (long / 2.0));
            let head = |at: Point, back: Point| {
                vec![at + back * 2.0 + along.left() * 0.9, at, at + back * 2.0 - along.left() * 0.9]
            };
            let mut paths = vec![vec![tail, tip], head(tip, along * -1.0)];
            if !piece.one_way {
                paths.push(head(tail, along));
            }
            self.items.push(Item::lines(Layer::Grain, paths, Stroke::solid(Colour::GREY, 0.3)));
            let at = m + pt(0.0, (size.1 - h) / 2.0);
            self.items.extend(words.texts(at).into_iter().map(|t| Item::text(Layer::Label, t)));
            return;
        }
        self.left_out += 1;
    }

    /// The rails of large openings, the narrowest one of each small opening, and the narrowest web; the tables have all.
    fn label_rails(&mut self) {
        let mut rails: Vec<(Point, Point, f64)> = Vec::new();
        let mut web: Option<(Point, Point, f64)> = None;
        for (i, sheet) in self.sheets.iter().enumerate() {
            let Some(sheet) = sheet else {
                rails.extend(edges::rail(self.cut.piece, i).map(|n| (n.from, n.to, n.distance)));
                continue;
            };
            let of = |r: &Rail| -> (Point, Point, f64) { (r.at[0].into(), r.at[1].into(), r.least) };
            let (webs, mut own): (Vec<&Rail>, Vec<&Rail>) = sheet.rails.iter().partition(|r| r.side.starts_with("to "));
            own.sort_by(|a, b| a.least.total_cmp(&b.least));
            own.truncate(if sheet.kind.is_small() { 1 } else { own.len() });
            rails.extend(own.into_iter().map(of));
            let least = webs.into_iter().map(of).min_by(|a, b| a.2.total_cmp(&b.2));
            web = [web, least].into_iter().flatten().min_by(|a, b| a.2.total_cmp(&b.2));
        }
        for (a, b, least) in rails.into_iter().chain(web).filter(|r| r.2 <= WIDE) {
            let (p, q) = (self.paper(a), self.paper(b));
            self.items.push(Item::lines(Layer::Dimension, ticked(p, q), RAIL));
            self.placer.avoid(p, q, 6.0);
            let words = Words::plain(self.bare(least));
            self.label(&words, p.lerp(q, 0.5), 14.0);
        }
    }

    /// Every rod by name, its leader across no other rod and no other leader, so that nobody takes one for the other.
    fn label_rods(&mut self) {
        let rods: Vec<(Point, Point, f64)> = self
            .sheets
            .iter()
            .flatten()
            .flat_map(|s| &s.rods)
            .map(|r| (r.from.into(), r.to.into(), r.diameter))
            .collect();
        let mut led: Vec<(Point, Point)> = Vec::new();
        for (i, &(a, b, diameter)) in rods.iter().enumerate() {
            let name = format!("R{}", i + 1);
            let long = format!("{name} rod {}, in the back", self.shown.length(diameter));
            let others =
                rods.iter().enumerate().filter(|(k, _)| *k != i).map(|(_, r)| (self.paper(r.0), self.paper(r.1)));
            let lines: Vec<(Point, Point)> = others.chain(led.iter().copied()).collect();
            let clear =
                |p: Point, q: Point| !lines.iter().any(|&(c, d)| distance::segment_contact(p, q, c, d).is_some());
            let spots = [0.3, 0.7, 0.12, 0.88, 0.5].map(|t| self.paper(a.lerp(b, t)));
            // Its number alone has room where all of it has none; the table has the rest.
            let tries = [Words::plain(long), Words::plain(name)];
            let found = tries
                .iter()
                .find_map(|words| spots.iter().find_map(|&at| Some((words, at, self.spot(words, at, FAR, clear)?))));
            match found {
                Some((words, at, m)) => led.extend(self.put_led(words, at, m)),
                None => self.left_out += 1,
            }
        }
    }

    /// The finish of every finished side, along it.
    fn label_finishes(&mut self) {
        let ring = self.paper_ring(&self.cut.piece.outline.ring);
        for Edge { side, .. } in edges(self.cut.piece) {
            let Finish::Finished(name) = &side.finish else { continue };
            let [a, b] = side.ends.map(|p| self.paper(p));
            let along = b - a;
            let long = along.norm();
            let upright = along.y.abs() > along.x.abs();
            let words = Words::plain(text::shorten(name, LEAST_SIZE, false, 60.0)).turned(upright);
            let size = words.size();
            let inward = if long > 1e-9 { along.left() * (1.0 / long) } else { pt(0.0, 1.0) };
            // Where the words are to stand, and which way the stone lies there.
            let place = |t: f64| match side.curve.as_ref().filter(|_| side.corners.is_some()).and_then(|c| c.at(t)) {
                Some((p, out)) => (self.paper(p), -out),
                None => (a.lerp(b, t), inward),
            };
            let spots: Vec<(Point, f64)> = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88]
                .iter()
                .flat_map(|&t: &f64| [2.4, 3.4, -1.0].map(|off: f64| (t, off)))
                .map(|(t, off)| {
                    let (at, inward) = place(t);
                    let half = (size.0 * inward.x.abs() + size.1 * inward.y.abs()) / 2.0;
                    let by = if off > 0.0 { off + half } else { off - half };
                    (at + inward * by, (t - 0.5).abs() + off.abs() * 0.1)
                })
                .filter(|(m, _)| {
                    let room = placer::around(*m, size);
                    placer::box_in_ring(&room, &ring) || !ring.bbox().near(&room, 0.0)
                })
                .collect();
            if let Some((m, _)) = self.placer.best(size, spots, 6.0) {
                self.put(&words, m);
            }
        }
    }

    fn label_radii(&mut self) {
        for c in measure::corners(self.cut.piece).iter().filter(|c| c.radius > 0.0 && !c.in_air && !c.is_top) {
            // On the arc, not where the sides would meet.
            let points = self.cut.piece.outline.ring.points().iter().copied();
            let Some(at) = points.min_by(|a, b| a.distance(c.at).total_cmp(&b.distance(c.at))) else { continue };
            self.label_radius(c.radius, at);
        }
        if self.is_round() {
            return;
        }
        for curve in edges(self.cut.piece).into_iter().filter_map(|e| e.side.curve) {
            match (curve.radius, curve.at(0.4)) {
                // Beside the top, which has a name to bear.
                (Some(radius), Some((at, _))) => self.label_radius(radius, at),
                _ => curve.arcs.iter().for_each(|arc| self.label_radius(arc.radius, arc.middle())),
            }
        }
    }

    fn label_radius(&mut self, radius: f64, at: Point) {
        let words = Words::plain(format!("R {}", self.bare(radius)));
        self.label(&words, self.paper(at), 14.0);
    }

    /// Where words about the whole piece would best stand.
    fn home(&self, ring: &Ring) -> Point {
        self.cut.piece.stone().centroid().map_or(ring.bbox().centre(), |c| self.paper(c))
    }

    /// A free middle in the stone for a box of that size.
    fn free(&self, size: (f64, f64), ring: &Ring, home: Point, most: f64) -> Option<Point> {
        let holes: Vec<Ring> = self.cut.piece.openings.iter().map(|o| self.paper_ring(&o.ring)).collect();
        let spots: Vec<(Point, f64)> = placer::grid(&ring.bbox(), size, home)
            .into_iter()
            .filter(|(m, _)| {
                let room = placer::around(*m, size);
                placer::box_in_ring(&room, ring) && !holes.iter().any(|h| h.bbox().near(&room, 0.0))
            })
            .collect();
        self.placer.best(size, spots, most).map(|b| b.0)
    }

    /// Puts words about a middle and takes the room.
    fn put(&mut self, words: &Words, middle: Point) {
        self.placer.take(placer::around(middle, words.size()));
        self.items.extend(words.texts(middle).into_iter().map(|t| Item::text(Layer::Label, t)));
    }

    /// Words near a place, with a line to it; counted where there is no room.
    fn label(&mut self, words: &Words, at: Point, far: f64) {
        match self.spot(words, at, far, |_, _| true) {
            Some(m) => {
                self.put_led(words, at, m);
            }
            None => self.left_out += 1,
        }
    }

    /// The best middle for words near a place whose leader may run there.
    fn spot(&self, words: &Words, at: Point, far: f64, may_run: impl Fn(Point, Point) -> bool) -> Option<Point> {
        let (w, h) = words.size();
        let size = (w + 0.8, h + 0.5);
        let mut best: Option<(Point, f64)> = None;
        for (m, own) in placer::round_about(at, size, far) {
            let limit = best.map_or(MOST, |b| b.1);
            if own >= limit {
                break;
            }
            let room = placer::around(m, size);
            if let Some(cost) = self.placer.cost(&room)
                && own + cost < limit
                && self.placer.is_clear(nearest(&room, at), at)
                && may_run(nearest(&placer::around(m, (w, h)), at), at)
            {
                best = Some((m, own + cost));
            }
        }
        best.map(|b| b.0)
    }

    /// Puts words about a middle, with a line to what they tell unless they touch it; the answer is that line.
    fn put_led(&mut self, words: &Words, at: Point, m: Point) -> Option<(Point, Point)> {
        let near = nearest(&placer::around(m, words.size()), at);
        let led = (near.distance(at) > 1.6).then_some((near, at));
        if let Some((p, q)) = led {
            self.items.push(Item::line(Layer::Dimension, vec![p, q], THIN));
            self.placer.take_line(p, q);
        }
        self.put(words, m);
        led
    }
}

/// The point of a box nearest to a place.
fn nearest(b: &BBox, at: Point) -> Point {
    pt(at.x.clamp(b.min.x, b.max.x), at.y.clamp(b.min.y, b.max.y))
}
