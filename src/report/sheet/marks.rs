//! Numbers, letters, dimensions and names on the drawing, each where there is room for it. What has no room is counted, or
//! stands in the margin only.

use super::super::placer::Words;
use super::super::scene::{Anchor, Colour, Item, Layer, Stroke, Text};
use super::super::text::LEAST_SIZE;
use super::super::{measure, placer, text};
use super::drawing::rectangle_corners;
use super::{Sheet, THIN, short_name};
use crate::geom::{BBox, Point, Pose, Ring, distance, pt};
use crate::model::FlawKind;
use crate::model::letters;

impl Sheet<'_> {
    pub(super) fn mark_findings(&mut self) {
        for i in 0..self.remarks.len() {
            for at in self.remarks[i].at.clone() {
                let at = self.paper(at);
                let stroke = Stroke::solid(Colour::VERMILLION, 0.5);
                self.items.push(Item::disc(Layer::Finding, at, 1.6, Some(stroke), None));
                let words = Words { lines: vec![(format!("!{}", i + 1), 3.4, true)], upright: false };
                self.lead(&words, at, 1.8, Home::Anywhere, ACROSS);
            }
        }
    }

    pub(super) fn mark_corners(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let (number, pose) = (part.number, part.pose);
            let marks = measure::marks(part.piece, &pose, self.datum.along);
            let turn = Pose::new(pose.turn, pt(0.0, 0.0));
            let at = [marks.p, marks.q].map(|p| self.paper(pose.apply(p)));
            for (k, at) in at.into_iter().enumerate() {
                let fill = Some(if k == 0 { Colour::BLACK } else { Colour::WHITE });
                let line = Some(Stroke::solid(Colour::BLACK, 0.25));
                let item = match marks.sides {
                    Some(sides) => {
                        let [u, v] = sides[k].map(|s| turn.apply(s) * 1.9);
                        Item::area(Layer::Mark, vec![at, at + u, at + v], line, fill)
                    }
                    None => Item::disc(Layer::Mark, at, 0.8, line, fill),
                };
                self.placer.take(item.bbox());
                self.items.push(item.of_piece(number));
            }
        }
    }

    /// The number of every piece in a circle with a beak that points to the piece's back.
    pub(super) fn mark_numbers(&mut self) {
        let mut outside = Vec::new();
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let number = part.number;
            let ring = self.paper_ring(&part.outline);
            let openings: Vec<Ring> = part.openings.iter().map(|r| self.paper_ring(r)).collect();
            let back = Pose::new(part.pose.turn, pt(0.0, 0.0)).apply(pt(0.0, 1.0));
            let home = part.piece.stone().centroid().map_or(ring.bbox().centre(), |c| self.paper(part.pose.apply(c)));
            let label = number.to_string();
            let mut done = false;
            for (size, beak) in [(3.4, true), (LEAST_SIZE, true), (LEAST_SIZE, false)] {
                let radius = (text::width(&label, size, true) / 2.0).hypot(size * 0.4) + 0.35;
                let badge = Badge { label: &label, size, radius, back, beak };
                let (wh, shift) = badge.room();
                let candidates: Vec<(Point, f64)> = placer::grid(&ring.bbox(), wh, home)
                    .into_iter()
                    .filter(|(m, _)| placer::box_in_ring(&placer::around(*m, wh), &ring))
                    .map(|(m, c)| (m, c + if openings.iter().any(|o| o.contains(m)) { 25.0 } else { 0.0 }))
                    .collect();
                if let Some((m, _)) = self.placer.best(wh, candidates, 90.0) {
                    self.placer.take(placer::around(m, wh));
                    self.items.extend(badge.items(m - shift).into_iter().map(|i| i.of_piece(number)));
                    done = true;
                    break;
                }
            }
            if !done && !self.number_strip(number, &label, &ring, home) {
                outside.push((number, label, back, home));
            }
        }
        // No room in the piece: outside, with a leader. These come last, for leaders take the room of many numbers.
        for (number, label, back, home) in outside {
            let radius = (text::width(&label, LEAST_SIZE, true) / 2.0).hypot(LEAST_SIZE * 0.4) + 0.35;
            let badge = Badge { label: &label, size: LEAST_SIZE, radius, back, beak: true };
            let (wh, shift) = badge.room();
            match self.spot(wh, home, Home::Piece(number), ACROSS) {
                Some(m) => {
                    let c = m - shift;
                    let end = c + (home - c) * (radius / home.distance(c).max(radius));
                    self.leader(end, home);
                    self.placer.take(placer::around(m, wh));
                    self.items.extend(badge.items(c).into_iter().map(|i| i.of_piece(number)));
                }
                None => self.left_out += 1,
            }
        }
    }

    /// The number of a piece that is too slim for a circle: bare, over the lines in it, but never over its outline.
    fn number_strip(&mut self, number: usize, label: &str, ring: &Ring, home: Point) -> bool {
        for upright in [false, true] {
            let words = Words { lines: vec![(label.to_owned(), LEAST_SIZE, true)], upright };
            let size = words.size();
            // Digits are lower than a line of text: they have no descenders and no accents.
            let across = LEAST_SIZE * 0.78;
            let bare = if upright { (across, size.1 + 0.6) } else { (size.0 + 0.6, across) };
            // Finer steps than elsewhere: there may be a tenth of a millimetre to spare.
            let b = ring.bbox();
            let (rx, ry) = (b.width() - bare.0, b.height() - bare.1);
            if rx < 0.0 || ry < 0.0 {
                continue;
            }
            let low = b.min + pt(bare.0 / 2.0, bare.1 / 2.0);
            let spots: Vec<(Point, f64)> = (0..=STEPS)
                .flat_map(|i| (0..=STEPS).map(move |j| (f64::from(i), f64::from(j))))
                .map(|(i, j)| low + pt(rx * i, ry * j) * (1.0 / f64::from(STEPS)))
                .filter(|&m| placer::box_in_ring(&placer::around(m, bare), ring))
                .map(|m| (m, m.distance(home) * 0.05))
                .collect();
            let Some((m, _)) = self.placer.best(size, spots, 400.0) else { continue };
            self.placer.take(placer::around(m, size));
            let white = placer::around(m, bare).corners().to_vec();
            self.items.push(Item::area(Layer::Label, white, None, Some(Colour::WHITE)).of_piece(number));
            // Down to where the digits, not the line, have their middle.
            let down = LEAST_SIZE
                * (0.36 - (text::PITCH / 2.0 - (text::PITCH - text::ASCENT - text::DESCENT) / 2.0 - text::DESCENT));
            let m = if upright { m + pt(down, 0.0) } else { m - pt(0.0, down) };
            for mut t in words.texts(m) {
                t.backed = false;
                self.items.push(Item::text(Layer::Label, t).of_piece(number));
            }
            return true;
        }
        false
    }

    pub(super) fn mark_openings(&mut self) {
        for i in 0..self.parts.len() {
            for j in 0..self.parts[i].openings.len() {
                let part = &self.parts[i];
                let number = part.number;
                let opening = &part.piece.openings[j];
                let ring = self.paper_ring(&part.openings[j]);
                let id = format!("{number}{}", letters(j));
                let b = ring.bbox();
                let centre = b.centre();
                let narrow = b.width() < b.height();
                let mut tries = Vec::new();
                // What must be known before the piece is lifted stands in the drop itself.
                let crack = self.in_drops.iter().find(|d| d.part == i && d.opening == j && d.kind == FlawKind::Crack);
                if crack.is_some() {
                    let bold = |words: String| (words, LEAST_SIZE, true);
                    let name = format!("{id} {}", text::clean(&opening.name));
                    for lines in
                        [vec![name.as_str(), CRACK, FIRST], vec![&id, CRACK, FIRST], vec![&id, "CRACK IN", "THE DROP"]]
                    {
                        for upright in [narrow, !narrow] {
                            let lines = lines.iter().map(|&l| bold(l.to_owned())).collect();
                            tries.push(Words { lines, upright });
                        }
                    }
                }
                for upright in [narrow, !narrow] {
                    let long = if upright { b.height() } else { b.width() };
                    let name = short_name(&opening.name, LEAST_SIZE, false, long - 2.0);
                    if name == text::clean(&opening.name) {
                        tries.push(Words {
                            lines: vec![(id.clone(), LEAST_SIZE, true), (name, LEAST_SIZE, false)],
                            upright,
                        });
                    }
                }
                for upright in [false, true] {
                    tries.push(Words { lines: vec![(id.clone(), LEAST_SIZE, true)], upright });
                }
                let warns = crack.is_some();
                let mut done = false;
                for (k, words) in tries.iter().enumerate() {
                    // A drop too small for the warning has it outside.
                    if warns && k == WARNINGS {
                        let lines = vec![(format!("{id} {CRACK}"), LEAST_SIZE, true)];
                        let before = self.left_out;
                        self.lead(&Words { lines, upright: false }, centre, 0.6, Home::Anywhere, ACROSS);
                        if self.left_out == before {
                            done = true;
                            break;
                        }
                    }
                    let size = words.size();
                    let spots: Vec<(Point, f64)> = placer::grid(&b, size, centre)
                        .into_iter()
                        .filter(|(m, _)| placer::box_in_ring(&placer::around(*m, size), &ring))
                        .collect();
                    if let Some((m, _)) = self.placer.best(size, spots, 14.0) {
                        self.put(words, m, Some(number));
                        done = true;
                        break;
                    }
                }
                if !done {
                    let words = Words { lines: vec![(id, LEAST_SIZE, true)], upright: false };
                    let before = self.left_out;
                    if self.is_copy(number) {
                        self.lead(&words, centre, 0.6, Home::Piece(number), CLOSE);
                        self.left_out = before;
                    } else {
                        self.lead(&words, centre, 0.6, Home::Piece(number), FAR);
                    }
                }
            }
        }
    }

    /// Narrowest rails, and the narrowest web of every piece, as dimension lines; wide ones stand in the margin only. Numbers that fit close by are put there at once, so that the numbers of the
    /// pieces keep off; of copies only on the first.
    pub(super) fn mark_rails(&mut self) {
        for i in 0..self.parts.len() {
            for j in 0..self.parts[i].openings.len() {
                let part = &self.parts[i];
                let number = part.number;
                let rail = measure::narrowest_rail(part.piece, &part.piece.openings[j]);
                if !rail.distance.is_finite() || rail.distance > WIDE {
                    continue;
                }
                let (a, b) = (self.paper(part.pose.apply(rail.from)), self.paper(part.pose.apply(rail.to)));
                let words = Words::plain(self.bare(rail.distance));
                let copy = self.is_copy(number);
                let item = Item::lines(Layer::Dimension, ticked(a, b), Stroke::solid(Colour::BLACK, 0.22));
                self.items.push(item.of_piece(number));
                self.placer.take_line(a, b);
                self.rails.push((number, copy, a.lerp(b, 0.5), words));
            }
            let part = &self.parts[i];
            if let Some(web) = measure::narrowest_web(part.piece).filter(|w| w.near.distance <= WIDE) {
                let number = part.number;
                let (a, b) = (self.paper(part.pose.apply(web.near.from)), self.paper(part.pose.apply(web.near.to)));
                let words = Words::plain(self.bare(web.near.distance));
                let item = Item::lines(Layer::Dimension, ticked(a, b), Stroke::solid(Colour::BLACK, 0.22));
                self.items.push(item.of_piece(number));
                self.placer.take_line(a, b);
                self.rails.push((number, self.is_copy(number), a.lerp(b, 0.5), words));
            }
        }
        self.put_rails(|copy| !copy, CLOSE);
    }

    /// Puts the numbers of rails that have none yet. What a copy has no room for stands on the first of its kind.
    pub(super) fn number_rails(&mut self) {
        self.put_rails(|copy| !copy, FAR);
        self.put_rails(|copy| copy, CLOSE);
        self.left_out += self.rails.iter().filter(|r| !r.1).count();
    }

    fn put_rails(&mut self, wanted: impl Fn(bool) -> bool, reach: f64) {
        for (number, copy, at, words) in std::mem::take(&mut self.rails) {
            let home = Home::Piece(number);
            match self.spot(words.size(), at, home, reach).filter(|_| wanted(copy)) {
                Some(m) => self.place_led(&words, at, 0.0, m, home),
                None => self.rails.push((number, copy, at, words)),
            }
        }
    }

    /// True if a like piece with a lower number is on the sheet.
    fn is_copy(&self, number: usize) -> bool {
        !self.alike().iter().any(|(first, _)| first.number == number)
    }

    pub(super) fn name_offcuts(&mut self) {
        for (i, offcut) in self.layout.offcuts.iter().enumerate() {
            let Some(corners) = rectangle_corners(&offcut.rectangle) else { continue };
            let corners = corners.map(|p| self.paper(p));
            let middle = corners[0].lerp(corners[2], 0.5);
            let b = BBox::of(&corners);
            let [w, h] = offcut.rectangle.size;
            let label = format!("R{}", i + 1);
            let long = Words {
                lines: vec![(format!("keep: offcut {label}"), 3.4, true), (self.sizes(w, h), LEAST_SIZE, false)],
                upright: b.width() < b.height(),
            };
            let size = long.size();
            if let Some((m, _)) = self.placer.best(size, placer::grid(&b, size, middle), 10.0) {
                self.put(&long, m, None);
            } else {
                let words = Words { lines: vec![(label, LEAST_SIZE, true)], upright: false };
                self.lead(&words, middle, 0.0, Home::Anywhere, ACROSS);
            }
        }
    }

    pub(super) fn name_pieces(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let number = part.number;
            let ring = self.paper_ring(&part.outline);
            let openings: Vec<Ring> = part.openings.iter().map(|r| self.paper_ring(r)).collect();
            let (w, h) = part.piece.size();
            let size_words = self.sizes(w, h);
            let b = ring.bbox();
            let home = part.piece.stone().centroid().map_or(b.centre(), |c| self.paper(part.pose.apply(c)));
            let narrow = b.width() < b.height();
            let name = part.piece.name.as_str();
            // Whole names first, in smaller type if need be; shortened ones only then.
            let (mut tries, mut shortened) = (Vec::new(), Vec::new());
            for (size, plain) in [(3.4, 2.9), (LEAST_SIZE, LEAST_SIZE)] {
                for upright in [narrow, !narrow] {
                    let long = if upright { b.height() } else { b.width() };
                    let short = short_name(name, size, true, (long - 3.0).clamp(12.0, 70.0));
                    let list = if short == text::clean(name) { &mut tries } else { &mut shortened };
                    let both = vec![(short, size, true), (size_words.clone(), plain, false)];
                    list.push(Words { lines: both, upright });
                    let one = format!("{}  {size_words}", short_name(name, plain, false, 60.0));
                    list.push(Words { lines: vec![(one, plain, false)], upright });
                }
            }
            // A long name in two lines is better than a part of it.
            for upright in [narrow, !narrow] {
                let long = if upright { b.height() } else { b.width() };
                let mut lines =
                    text::wrap(name, LEAST_SIZE, true, (long - 3.0).min(0.62 * text::width(name, LEAST_SIZE, true)));
                if lines.len() == 2 {
                    lines.push(size_words.clone());
                    let lines = lines.into_iter().enumerate().map(|(i, l)| (l, LEAST_SIZE, i < 2)).collect();
                    tries.push(Words { lines, upright });
                }
            }
            tries.extend(shortened);
            for upright in [narrow, !narrow] {
                tries.push(Words { lines: vec![(size_words.clone(), LEAST_SIZE, false)], upright });
            }
            for words in &tries {
                let size = words.size();
                let spots: Vec<(Point, f64)> = placer::grid(&b, size, home)
                    .into_iter()
                    .filter(|(m, _)| {
                        let room = placer::around(*m, size);
                        placer::box_in_ring(&room, &ring) && !openings.iter().any(|o| o.bbox().near(&room, 0.0))
                    })
                    .collect();
                if let Some((m, _)) = self.placer.best(size, spots, 8.0) {
                    self.put(words, m, Some(number));
                    break;
                }
            }
        }
    }

    /// Distances of corner P from A and B as dimension lines, where they are short and cross no other piece.
    pub(super) fn short_dimensions(&mut self) {
        let mut wanted = Vec::new();
        for part in &self.parts {
            let marks = measure::marks(part.piece, &part.pose, self.datum.along);
            let p = part.pose.apply(marks.p);
            let [x, y] = self.datum.measure(p);
            for (foot, length) in [(self.datum.point(0.0, y), x), (self.datum.point(x, 0.0), y)] {
                let on_paper = length / self.scale;
                let clear = self.parts.iter().all(|other| {
                    let own = other.number == part.number;
                    let end = if own { p.lerp(foot, 1e-6) } else { p };
                    other
                        .outline
                        .edges()
                        .all(|(a, b)| distance::segments(end, foot, a, b).distance > if own { 0.0 } else { 1.0 })
                });
                if (6.0..=30.0).contains(&on_paper) && clear {
                    wanted.push((foot, p, length, part.number));
                }
            }
        }
        for (foot, p, length, number) in wanted {
            let (a, b) = (self.paper(foot), self.paper(p));
            let words = Words::plain(self.bare(length)).turned((a.x - b.x).abs() < (a.y - b.y).abs());
            let size = words.size();
            let side = if words.upright { pt(-size.0 / 2.0 - 0.6, 0.0) } else { pt(0.0, size.1 / 2.0 + 0.6) };
            let spots = [0.5, 0.4, 0.6, 0.3, 0.7].map(|t| (a.lerp(b, t) + side, (t - 0.5_f64).abs()));
            if !self.placer.is_clear(a, b.lerp(a, 0.1)) {
                continue;
            }
            if let Some((m, _)) = self.placer.best(size, spots, 6.0) {
                self.put(&words, m, Some(number));
                self.items.push(Item::lines(Layer::Dimension, ticked(a, b), THIN).of_piece(number));
                self.placer.take_line(a, b);
            }
        }
    }

    pub(super) fn word_fronts(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let number = part.number;
            let ring = self.paper_ring(&part.outline);
            let back = Pose::new(part.pose.turn, pt(0.0, 0.0)).apply(pt(0.0, 1.0));
            let mut lines = measure::front(part.piece);
            lines.sort_by(|x, y| y.0.distance(y.1).total_cmp(&x.0.distance(x.1)));
            let Some(&(a, b)) = lines.first() else { continue };
            let (mut a, mut b) = (self.paper(part.pose.apply(a)), self.paper(part.pose.apply(b)));
            if a.distance(b) < 3.0 {
                // A round front: along the line that touches it, as far as the words are still seen with its bar.
                (a, b) = (a + back.left() * CLOSE * 2.0, b - back.left() * CLOSE * 2.0);
            }
            let words = Words::plain("front").turned(back.x.abs() > back.y.abs());
            let size = words.size();
            let half = (size.0 * back.x.abs() + size.1 * back.y.abs()) / 2.0;
            let spots: Vec<(Point, f64)> = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88]
                .iter()
                .flat_map(|&t: &f64| [(t, 2.1), (t, 3.0)])
                .map(|(t, off)| (a.lerp(b, t) + back * (off + half), (t - 0.5_f64).abs() + off * 0.1))
                .filter(|(m, _)| placer::box_in_ring(&placer::around(*m, size), &ring))
                .collect();
            if let Some((m, _)) = self.placer.best(size, spots, 4.5) {
                self.put(&words, m, Some(number));
            }
        }
    }

    pub(super) fn letter_corners(&mut self) {
        for i in 0..self.parts.len() {
            let part = &self.parts[i];
            let number = part.number;
            let ring = self.paper_ring(&part.outline);
            let marks = measure::marks(part.piece, &part.pose, self.datum.along);
            let turn = Pose::new(part.pose.turn, pt(0.0, 0.0));
            let ends = [marks.p, marks.q].map(|p| self.paper(part.pose.apply(p)));
            for (k, (at, letter)) in ends.into_iter().zip(["P", "Q"]).enumerate() {
                let words = Words::plain(letter);
                let size = words.size();
                let inward = marks.sides.map_or(pt(0.7, 0.7), |s| turn.apply(s[k][0] + s[k][1]));
                let away = |along: f64, across: f64| at + pt(inward.x.signum() * along, inward.y.signum() * across);
                let spots = [(2.9, 2.9), (2.6, 3.4), (3.4, 2.6), (3.9, 1.9), (1.6, 4.2), (4.6, 2.4), (2.4, 4.6)]
                    .map(|(u, v)| (away(u, v), u + v))
                    .into_iter()
                    .filter(|(m, _)| placer::box_in_ring(&placer::around(*m, size), &ring))
                    .collect::<Vec<_>>();
                if let Some((m, _)) = self.placer.best(size, spots, 11.0) {
                    self.put(&words, m, Some(number));
                }
            }
        }
    }

    /// Puts words about a middle and takes the room.
    pub(super) fn put(&mut self, words: &Words, middle: Point, piece: Option<usize>) {
        self.placer.take(placer::around(middle, words.size()));
        for t in words.texts(middle) {
            let mut item = Item::text(Layer::Label, t);
            item.piece = piece;
            self.items.push(item);
        }
    }

    /// A free middle within `reach` mm of a target for a box of that size, from which a leader to the target crosses no
    /// text. What belongs to a piece stays in it or off all pieces: in another it would be taken for that one's.
    fn spot(&self, size: (f64, f64), target: Point, home: Home, reach: f64) -> Option<Point> {
        // Most labels find room close by, where only few things have to be looked at.
        for reach in [reach.min(20.0), reach] {
            let far = pt(reach + size.0, reach + size.1);
            let span = BBox { min: target - far, max: target + far };
            let local = self.placer.within(&span);
            let foreign: Vec<&Ring> =
                self.holes.iter().filter(|h| h.bbox().near(&span, 0.0) && !h.contains(target)).collect();
            let mut best: Option<(Point, f64)> = None;
            for (m, own) in placer::round_about(target, size, reach) {
                if best.is_some_and(|b| own >= b.1) {
                    break;
                }
                let room = placer::around(m, size);
                if let Some(c) = local.cost(&room)
                    && best.is_none_or(|b| own + c < b.1)
                    && let c = c + FOREIGN * crossed(&foreign, &room, target) as f64
                    && best.is_none_or(|b| own + c < b.1)
                    && local.is_clear(nearest(&room, target), target)
                    && self.is_at_home(&room, home)
                {
                    best = Some((m, own + c));
                }
            }
            if let Some((m, cost)) = best
                && (cost < 12.0 || reach > 20.0)
            {
                return Some(m);
            }
        }
        None
    }

    /// True if a box on the paper lies inside its piece, or outside all pieces.
    fn is_at_home(&self, room: &BBox, home: Home) -> bool {
        let Home::Piece(number) = home else { return true };
        let corners = room.corners().map(|p| (p - self.origin) * self.scale);
        let b = BBox::of(&corners);
        self.parts.iter().all(|part| {
            let apart = !part.outline.bbox().near(&b, 0.0)
                || !(corners.iter().any(|&c| part.outline.contains(c))
                    || part.outline.edges().any(|(p, q)| placer::crosses(p, q, &b, 0.0)));
            apart || (part.number == number && placer::box_in_ring(&b, &part.outline))
        })
    }

    /// Puts words near a target, with a leader unless they touch it. `clear` is the radius of the mark at the target.
    pub(super) fn lead(&mut self, words: &Words, target: Point, clear: f64, home: Home, reach: f64) {
        let size = words.size();
        match self.spot((size.0 + 2.0 * clear, size.1 + 2.0 * clear), target, home, reach) {
            Some(m) => self.place_led(words, target, clear, m, home),
            None => self.left_out += 1,
        }
    }

    fn place_led(&mut self, words: &Words, target: Point, clear: f64, middle: Point, home: Home) {
        let room = placer::around(middle, words.size());
        let near = nearest(&room, target);
        if near.distance(target) > 1.6 + clear {
            let start = target + (near - target) * (clear / near.distance(target));
            self.leader(near, start);
        }
        self.put(words, middle, if let Home::Piece(n) = home { Some(n) } else { None });
    }

    fn leader(&mut self, from: Point, to: Point) {
        self.items.push(Item::line(Layer::Dimension, vec![from, to], THIN));
        self.items.push(Item::disc(Layer::Dimension, to, 0.35, None, Some(Colour::BLACK)));
        self.placer.take_line(from, to);
    }
}

/// Places for a number along a slim piece, and across it.
const STEPS: u32 = 24;

/// Whose a label is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Home {
    /// The piece of that number.
    Piece(usize),
    /// Nobody's: it may lie anywhere.
    Anywhere,
}

/// Stone wider than this is no risk, and its dimension line would run right through the piece, mm. Own choice: twice
/// the widest limit (150 mm) below which a rail wants rods.
const WIDE: f64 = 300.0;
/// What it costs to put a label into an opening that it does not tell of, or to lead its line across one: as much as
/// 15 mm of distance.
const FOREIGN: f64 = 6.0;

/// What is written into a drop that has a crack.
const CRACK: &str = "CRACK IN THE DROP";
/// How many ways to write it are tried.
const WARNINGS: usize = 6;
/// And what to do about it.
const FIRST: &str = "take it out first";

/// How far a label may lie from what it tells to be seen with it at a glance, mm.
const CLOSE: f64 = 5.0;
/// How far a label may lie from what it tells, mm: farther, nobody finds it.
pub(super) const FAR: f64 = 25.0;
/// The same for what must be on the drawing: across the whole of it.
const ACROSS: f64 = 150.0;

/// A dimension line with slanted ticks at its ends.
pub(in crate::report) fn ticked(a: Point, b: Point) -> Vec<Vec<Point>> {
    let length = a.distance(b);
    let along = if length > 1e-9 { (b - a) * (1.0 / length) } else { pt(1.0, 0.0) };
    let slant = (along + along.left()) * 0.55;
    vec![vec![a, b], vec![a - slant, a + slant], vec![b - slant, b + slant]]
}

/// How many of some openings a label or its leader would cross.
fn crossed(openings: &[&Ring], room: &BBox, target: Point) -> usize {
    let (from, middle) = (nearest(room, target), room.centre());
    // The leader may end on the border of an opening: a rail does.
    let short = target.lerp(from, 0.05);
    openings
        .iter()
        .filter(|ring| {
            ring.contains(middle)
                || ring.edges().any(|(a, b)| {
                    placer::crosses(a, b, room, 0.0) || distance::segment_contact(from, short, a, b).is_some()
                })
        })
        .count()
}

/// The point of a box nearest to a target.
fn nearest(b: &BBox, target: Point) -> Point {
    pt(target.x.clamp(b.min.x, b.max.x), target.y.clamp(b.min.y, b.max.y))
}

/// A number in a circle, with a beak towards the piece's back.
pub(super) struct Badge<'a> {
    pub(super) label: &'a str,
    pub(super) size: f64,
    pub(super) radius: f64,
    pub(super) back: Point,
    pub(super) beak: bool,
}

impl Badge<'_> {
    /// Its room, and where the room's middle lies from the circle's.
    fn room(&self) -> ((f64, f64), Point) {
        let r = pt(self.radius, self.radius);
        let mut b = BBox { min: -r, max: r };
        if self.beak {
            b = b.with(self.back * (self.radius + 1.7));
        }
        ((b.width(), b.height()), b.centre())
    }

    pub(super) fn items(&self, centre: Point) -> Vec<Item> {
        let mut out = Vec::new();
        if self.beak {
            let tip = centre + self.back * (self.radius + 1.7);
            let foot = centre + self.back * (self.radius * 0.8);
            let side = self.back.left() * 1.5;
            out.push(Item::area(Layer::Mark, vec![tip, foot + side, foot - side], None, Some(Colour::BLACK)));
        }
        let line = Some(Stroke::solid(Colour::BLACK, 0.3));
        out.push(Item::disc(Layer::Mark, centre, self.radius, line, Some(Colour::WHITE)));
        let base = centre - pt(0.0, self.size * 0.365);
        out.push(Item::text(Layer::Label, Text::new(self.label, base, Anchor::Middle, self.size).bold()));
        out
    }
}
