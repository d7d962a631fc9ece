//! The shapes of the drawing: slab, trim, grain, flaws, offcuts, pieces with openings and edges, measuring lines. What it
//! draws it tells the placer, so that words keep off.

use super::super::measure::Part;
use super::super::scene::{Anchor, Colour, Item, Layer, Shape, Stroke, Text};
use super::super::{hatch, measure, placer};
use super::flaws::{flaw_area, flaw_line, flaw_spot};
use super::{CENTRE, DATUM, FINISHED, GRAIN, OFFCUT, OPENING, OUTLINE, PIECE, RECTANGLE, STRUCK, Sheet, TRIM};
use crate::geom::clip::line_within;
use crate::geom::{BBox, Point, Pose, Ring, distance, pt};
use crate::model::{Flaw, FlawBody, Rectangle};

impl Sheet<'_> {
    pub(super) fn draw(&mut self) {
        self.draw_slab();
        self.draw_offcuts();
        self.draw_pieces();
        self.draw_grain();
        self.draw_flaws();
        self.draw_datum();
        // Marks that must be there come first, words that also stand in the margin last.
        self.mark_findings();
        self.mark_corners();
        self.mark_rails();
        self.mark_numbers();
        self.mark_openings();
        self.number_rails();
        self.name_offcuts();
        self.name_pieces();
        self.short_dimensions();
        self.word_fronts();
        self.letter_corners();
    }

    pub(super) fn draw_slab(&mut self) {
        let ring = self.paper_ring(&self.slab.outline);
        self.placer.avoid_ring(&ring, 12.0);
        if let Some(backdrop) = self.backdrop {
            let area = BBox { min: self.paper(backdrop.area.min), max: self.paper(backdrop.area.max) };
            self.items.push(Item::picture(Layer::Photo, backdrop.image.clone(), area));
        }
        let filling = self.filling(Colour::PALE);
        self.items.push(Item::area(Layer::Slab, ring.points().to_vec(), Some(OUTLINE), filling));
        let usable = self.paper_region(&measure::usable(self.question, self.slab));
        for ring in usable.rings() {
            self.placer.avoid_ring(ring, 1.0);
            self.items.push(Item::area(Layer::Trim, ring.points().to_vec(), Some(TRIM), None));
        }
    }

    pub(super) fn draw_grain(&mut self) {
        let Some(grain) = self.slab.grain.filter(|g| g.is_finite()) else { return };
        let ring = self.paper_ring(&self.slab.outline);
        let lines = hatch::lines(&ring.to_region(), grain, 9.0);
        let forward = Pose::new(grain, pt(0.0, 0.0)).apply(pt(1.0, 0.0));
        let mut paths = Vec::new();
        for line in &lines {
            paths.push(line.clone());
            // An open head in the middle of every line says which way it runs.
            if line[0].distance(line[1]) > 20.0 {
                let tip = line[0].lerp(line[1], 0.5) + forward * 1.2;
                let back = tip - forward * 2.4;
                paths.push(vec![back + forward.left() * 0.9, tip, back - forward.left() * 0.9]);
            }
        }
        if !paths.is_empty() {
            self.items.push(Item::lines(Layer::Grain, paths, GRAIN));
        }
    }

    pub(super) fn draw_flaws(&mut self) {
        for i in 0..self.slab.flaws.len() {
            let flaw = &self.slab.flaws[i];
            let items = self.flaw_items(flaw);
            for item in &items {
                if let Shape::Lines { paths, closed } = &item.shape {
                    for path in paths {
                        for (a, b) in distance::open_line(path) {
                            self.placer.avoid(a, b, 2.0);
                        }
                        if *closed && path.len() > 2 {
                            self.placer.avoid(path[path.len() - 1], path[0], 2.0);
                        }
                    }
                }
            }
            self.items.extend(items);
        }
    }

    fn flaw_items(&self, flaw: &Flaw) -> Vec<Item> {
        let k = self.scale;
        match &flaw.body {
            FlawBody::Line(line) => {
                let line: Vec<Point> = line.iter().map(|&p| self.paper(p)).collect();
                let mut out = flaw_line(flaw.kind, &line);
                if flaw.radius / k > 0.4 {
                    out.extend(flaw_area(flaw.kind, &self.paper_region(&flaw.grown(0.0, 0.5))));
                }
                out
            }
            FlawBody::Area(ring) => flaw_area(flaw.kind, &self.paper_ring(ring).to_region()),
            FlawBody::Spot(p) => flaw_spot(flaw.kind, self.paper(*p), flaw.radius / k),
        }
    }

    pub(super) fn draw_offcuts(&mut self) {
        for offcut in &self.layout.offcuts {
            let points: Vec<Point> = offcut.outline.iter().map(|&p| Point::from(p)).collect();
            if let Ok((ring, _)) = Ring::tidy(&points) {
                let ring = self.paper_ring(&ring);
                let hatching = hatch::lines(&ring.to_region(), 135.0, 2.6);
                let edge = Stroke::solid(Colour::GREY, 0.2);
                let filling = self.filling(Colour::WHITE);
                self.items.push(Item::area(Layer::Offcut, ring.points().to_vec(), Some(edge), filling));
                if !hatching.is_empty() {
                    self.items.push(Item::lines(Layer::Offcut, hatching, OFFCUT));
                }
            }
            if let Some(corners) = rectangle_corners(&offcut.rectangle) {
                let corners = corners.map(|p| self.paper(p));
                for i in 0..4 {
                    self.placer.avoid(corners[i], corners[(i + 1) % 4], 3.0);
                }
                self.items.push(Item::area(Layer::Offcut, corners.to_vec(), Some(RECTANGLE), None));
            }
        }
    }

    fn is_stopped(&self, part: &Part<'_>, opening: &str) -> bool {
        self.plan.held_of(&part.placed.job, &part.placed.piece).any(|h| h.opening == opening && h.is_stopped())
    }

    pub(super) fn draw_pieces(&mut self) {
        // A piece in a drop is drawn over the drop.
        let depths = measure::depths_in_drops(&self.parts);
        let mut order: Vec<usize> = (0..self.parts.len()).collect();
        order.sort_by_key(|&i| depths[i]);
        for i in order {
            let part = &self.parts[i];
            let (number, pose) = (part.number, part.pose);
            let ring = self.paper_ring(&part.outline);
            let openings: Vec<Ring> = part.openings.iter().map(|r| self.paper_ring(r)).collect();
            let (white, pale) = (self.filling(Colour::WHITE), self.filling(Colour::PALE));
            let mut new = vec![Item::area(Layer::Piece, ring.points().to_vec(), Some(PIECE), white).of_piece(number)];
            if depths[i] > 0 {
                let points = ring.points().to_vec();
                new.push(Item::area(Layer::Opening, points, Some(PIECE), white).of_piece(number));
            }
            for (j, opening) in openings.iter().enumerate() {
                let points = opening.points().to_vec();
                new.push(Item::area(Layer::Opening, points, Some(OPENING), pale).of_piece(number));
                // Centre lines run 2 mm past the opening, along the piece's own axes.
                let extent = part.piece.openings[j].shape.extent();
                let c = extent.centre();
                let past = 2.0 * self.scale;
                let (hx, hy) = (pt(extent.width() / 2.0 + past, 0.0), pt(0.0, extent.height() / 2.0 + past));
                for (a, b) in [(c - hx, c + hx), (c - hy, c + hy)] {
                    let (a, b) = (self.paper(pose.apply(a)), self.paper(pose.apply(b)));
                    self.placer.avoid(a, b, 5.0);
                    new.push(Item::line(Layer::Dimension, vec![a, b], CENTRE).of_piece(number));
                }
            }
            // An opening that must not be cut as drawn is struck out.
            for (j, opening) in openings.iter().enumerate() {
                if !self.is_stopped(part, &part.piece.openings[j].name) {
                    continue;
                }
                let [a, b, c, d] = part.piece.openings[j].ring.bbox().corners().map(|p| self.paper(pose.apply(p)));
                let region = opening.to_region();
                for stroke in [[a, c], [b, d]].iter().flat_map(|ends| line_within(ends, &region)) {
                    for (p, q) in distance::open_line(&stroke) {
                        self.placer.avoid(p, q, 5.0);
                    }
                    new.push(Item::line(Layer::Finding, stroke, STRUCK).of_piece(number));
                }
            }
            // Finished edges: a row of dots 1.5 mm inside.
            let finished: Vec<bool> =
                (0..part.piece.outline.ring.points().len()).map(|e| part.piece.outline.is_finished(e)).collect();
            for path in inset_runs(&ring, &finished, 1.5) {
                for (a, b) in distance::open_line(&path) {
                    self.placer.avoid(a, b, 3.0);
                }
                new.push(Item::line(Layer::Edge, path, FINISHED).of_piece(number));
            }
            for (a, b) in measure::front(part.piece) {
                let (a, b) = (self.paper(pose.apply(a)), self.paper(pose.apply(b)));
                let along = Pose::new(pose.turn, pt(0.0, 0.0)).apply(pt(1.0, 0.0));
                let (bar, ticks) = front_bar(a, b, along);
                self.placer.avoid(bar[0], bar[1], 8.0);
                new.push(Item::line(Layer::Edge, bar, Stroke::solid(Colour::BLACK, 1.0)).of_piece(number));
                new.push(Item::lines(Layer::Edge, ticks, Stroke::solid(Colour::BLACK, 0.35)).of_piece(number));
            }
            self.placer.avoid_ring(&ring, 30.0);
            for opening in &openings {
                self.placer.avoid_ring(opening, 14.0);
            }
            self.holes.extend(openings);
            self.items.extend(new);
        }
    }

    pub(super) fn draw_datum(&mut self) {
        let d = self.datum;
        let past = 4.0 * self.scale;
        let [right, high] = d.reach;
        let ends = [
            (d.point(-past, 0.0), d.point(right + past, 0.0), "A"),
            (d.point(0.0, -past), d.point(0.0, high + past), "B"),
        ];
        for (a, b, letter) in ends {
            let (a, b) = (self.paper(a), self.paper(b));
            self.items.push(Item::line(Layer::Datum, vec![a, b], DATUM));
            self.placer.take_line(a, b);
            let out = (b - a) * (1.0 / (b - a).norm());
            let middle = b + out * 2.0;
            self.flag(middle, letter);
        }
        let up = d.along.left();
        for (touch, inward) in [(d.touch_a[0], up), (d.touch_a[1], up), (d.touch_b, d.along)] {
            let tip = self.paper(touch);
            let (foot, side) = (tip - inward * 2.2, inward.left() * 1.1);
            self.items.push(Item::area(Layer::Datum, vec![tip, foot + side, foot - side], None, Some(Colour::BLACK)));
        }
    }

    /// A letter in a black box.
    fn flag(&mut self, middle: Point, letter: &str) {
        let b = placer::around(middle, (4.0, 4.0));
        self.items.push(Item::area(Layer::Datum, b.corners().to_vec(), None, Some(Colour::BLACK)));
        let mut t = Text::new(letter, middle - pt(0.0, 1.15), Anchor::Middle, 3.2).bold();
        t.colour = Colour::WHITE;
        self.items.push(Item::text(Layer::Label, t));
        self.placer.take(b);
    }
}
/// The corners of a rectangle of the plan, slab frame; `None` if its numbers are no numbers.
pub(in crate::report) fn rectangle_corners(r: &Rectangle) -> Option<[Point; 4]> {
    let pose = Pose::new(r.turn, r.corner.into());
    let [w, h] = r.size;
    let all = [r.turn, r.corner[0], r.corner[1], w, h];
    (all.iter().all(|v| v.is_finite() && v.abs() <= crate::geom::tol::MAX_COORD))
        .then(|| [pt(0.0, 0.0), pt(w, 0.0), pt(w, h), pt(0.0, h)].map(|p| pose.apply(p)))
}

/// Runs of wanted edges of a ring, moved inwards by `by` mm.
pub(in crate::report) fn inset_runs(ring: &Ring, wanted: &[bool], by: f64) -> Vec<Vec<Point>> {
    let p = ring.points();
    let n = p.len();
    let normal = |i: usize| {
        let d = p[(i + 1) % n] - p[i];
        d.left() * (1.0 / d.norm().max(1e-12))
    };
    let shifted = |i: usize| (p[i] + normal(i) * by, p[(i + 1) % n] + normal(i) * by);
    // Where two wanted edges meet, their moved lines are joined on the bisector; sharp bends are cut off.
    let join = |i: usize, j: usize| {
        let m = normal(i) + normal(j);
        let k = m.dot(m) / 2.0;
        p[j] + m * (by / k.max(0.3))
    };
    let first = (0..n).find(|&i| wanted[i] && !wanted[(i + n - 1) % n]);
    let all = wanted.iter().all(|&w| w);
    let start = match (first, all) {
        (Some(i), _) => i,
        (None, true) => 0,
        (None, false) => return Vec::new(),
    };
    let mut out = Vec::new();
    let mut run: Vec<Point> = Vec::new();
    for step in 0..n {
        let i = (start + step) % n;
        if !wanted[i] {
            continue;
        }
        let before = (i + n - 1) % n;
        if run.is_empty() {
            run.push(if all { join(before, i) } else { shifted(i).0 });
        }
        let next = (i + 1) % n;
        if wanted[next] && (step + 1 < n || all) {
            run.push(join(i, next));
        } else {
            run.push(shifted(i).1);
        }
        if !wanted[next] || step + 1 == n {
            out.push(std::mem::take(&mut run));
        }
    }
    out
}

/// The heavy bar of a front edge, just inside it, and its ticks towards the back.
pub(in crate::report) fn front_bar(a: Point, b: Point, along: Point) -> (Vec<Point>, Vec<Vec<Point>>) {
    let inward = along.left();
    // A round front gets a bar of its own about its lowest point.
    let (a, b) = if a.distance(b) < 3.0 { (a - along * 3.0, b + along * 3.0) } else { (a, b) };
    let length = a.distance(b);
    let end = if length > 12.0 { 2.6 } else { length * 0.2 };
    let dir = (b - a) * (1.0 / length);
    let lift = inward * 0.75;
    let (s, e) = (a + dir * end + lift, b - dir * end + lift);
    let count = ((length / 12.0).floor() as usize).clamp(1, 12);
    let ticks = (0..=count)
        .map(|i| {
            let at = s.lerp(e, i as f64 / count as f64);
            vec![at, at + inward * 1.3]
        })
        .collect();
    (vec![s, e], ticks)
}
