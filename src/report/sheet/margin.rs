//! Tables, key and title block.

use super::super::flow::{Block, Cell, Row};
use super::super::measure::Part;
use super::super::scene::{Anchor, Colour, Item, Layer, Stroke, Text};
use super::super::text::LEAST_SIZE;
use super::super::told::ranges;
use super::super::{hatch, measure, text};
use super::drawing::front_bar;
use super::flaws::{flaw_area, flaw_line};
use super::marks::Badge;
use super::{CAUTION, CENTRE, FINISHED, OFFCUT, RECTANGLE, Sheet, THIN, TITLE, TRIM, short_name};
use crate::geom::{BBox, Point, Pose, Ring, pt};
use crate::model::letters;
use crate::model::{Finish, Flaw, FlawBody, FlawKind, Grade};
use crate::units::{Decimal, MM_PER_INCH, Shown};

/// A cell whose left end is at `x`.
pub(in crate::report) const fn start(content: &str, x: f64, room: f64, bold: bool) -> Cell<'_> {
    Cell { content, x, anchor: Anchor::Start, room, bold }
}

/// A cell whose right end is at `x`.
pub(in crate::report) const fn end(content: &str, x: f64, room: f64, bold: bool) -> Cell<'_> {
    Cell { content, x, anchor: Anchor::End, room, bold }
}

/// Heads of the number columns of the chalk table.
const CHALK_HEADS: [&str; 5] = ["from B", "from A", "from B", "from A", "turn"];
/// Where names begin, right of their numbers, mm.
const CHALK_INDENT: f64 = 5.0;
/// Least width of the tables, mm: sentences broken into shorter lines are hard to read.
const COLUMN: f64 = 60.0;

impl Sheet<'_> {
    pub(super) fn blocks(&self) -> Vec<Block> {
        let mut out = Vec::new();
        out.extend(self.held_blocks());
        out.extend(self.findings_block());
        out.extend(self.missing_block());
        out.extend(self.drops_block());
        out.extend(self.chalk_block());
        out.extend(self.openings_block());
        out.extend(self.offcuts_block(false));
        out.push(self.key_block(false));
        out
    }

    pub(super) fn heading(&self, words: &str) -> Row {
        let column = self.column;
        let cell = Cell { content: words, x: 0.0, anchor: Anchor::Start, room: column, bold: true };
        let mut row = Row::sized(&[cell], 3.0, 4.4);
        let rule = vec![pt(0.0, -4.1), pt(column, -4.1)];
        row.items.push(Item::line(Layer::Margin, rule, Stroke::solid(Colour::BLACK, 0.25)));
        row
    }

    pub(super) fn findings_block(&self) -> Option<Block> {
        if self.remarks.is_empty() {
            return None;
        }
        let broken = self.remarks.iter().any(|r| r.told.grade() == Grade::Broken);
        let heading = vec![self.heading(if broken { "DO NOT CUT: rules are broken" } else { "Look before cutting" })];
        let groups = self
            .remarks
            .iter()
            .enumerate()
            .map(|(i, r)| {
                let grade = if r.told.grade() == Grade::Broken { "broken" } else { "warning" };
                let words = format!("{grade}: {}{}", r.told.message, r.told.times());
                let mut rows = Row::paragraph(&words, 6.0, self.column, false);
                let tag = format!("!{}", i + 1);
                if let Some(first) = rows.first_mut() {
                    let cell = Cell { content: &tag, x: 0.0, anchor: Anchor::Start, room: 6.0, bold: true };
                    first.items.extend(Row::cells(&[cell]).items);
                }
                rows
            })
            .collect();
        Some(Block { heading, groups })
    }

    pub(super) fn drops_block(&self) -> Option<Block> {
        if self.in_drops.is_empty() {
            return None;
        }
        let groups = self
            .in_drops
            .iter()
            .map(|d| {
                let part = &self.parts[d.part];
                let id = format!("{}{}", part.number, letters(d.opening));
                let words = format!("{id} {}: {}", part.piece.openings[d.opening].name, d.words());
                Row::paragraph(&words, 0.0, self.column, d.kind == FlawKind::Crack)
            })
            .collect();
        Some(Block { heading: vec![self.heading("Flaws in drops")], groups })
    }

    pub(super) fn missing_block(&self) -> Option<Block> {
        if self.missing.is_empty() {
            return None;
        }
        let groups = self.missing.iter().map(|m| Row::paragraph(m, 0.0, self.column, false)).collect();
        Some(Block { heading: vec![self.heading("Not on the drawing")], groups })
    }

    /// The numbers of a piece in the chalk table: P from B, P from A, Q from B, Q from A, turn.
    pub(super) fn chalk_numbers(&self, part: &Part<'_>) -> [String; 5] {
        let marks = measure::marks(part.piece, &part.pose, self.datum.along);
        let [p, q] = [marks.p, marks.q].map(|m| self.datum.measure(part.pose.apply(m)));
        let turn = part.pose.turn.rem_euclid(360.0);
        let turn = format!("{}°", Decimal(if turn >= 359.95 { 0.0 } else { turn }, 1));
        [self.bare(p[0]), self.bare(p[1]), self.bare(q[0]), self.bare(q[1]), turn]
    }

    /// Makes the columns of the chalk table as wide as their numbers, and all tables as wide as that one.
    pub(super) fn set_columns(&mut self) {
        let mut widths = CHALK_HEADS.map(|h| text::width(h, LEAST_SIZE, false));
        for part in &self.parts {
            for (w, n) in widths.iter_mut().zip(self.chalk_numbers(part)) {
                *w = w.max(text::width(&n, LEAST_SIZE, false));
            }
        }
        let letter = text::width("Q", LEAST_SIZE, true);
        // Before the columns: number and letter P, a gap, letter Q, a gap.
        let before = [CHALK_INDENT + letter + 0.8, 1.5, 1.8 + letter + 0.8, 1.5, 1.8];
        let least: f64 = before.iter().chain(&widths).sum();
        self.column = least.max(COLUMN);
        let spare = (self.column - least) / 5.0;
        let mut x = 0.0;
        for (i, stop) in self.stops.iter_mut().enumerate() {
            x += before[i] + widths[i] + spare;
            *stop = x;
        }
        self.second = self.stops[1] + 1.8 + spare / 2.0;
    }

    fn chalk_block(&self) -> Option<Block> {
        if self.parts.is_empty() {
            return None;
        }
        let column = self.column;
        let (stops, second) = (self.stops, self.second);
        let mut heading = vec![self.heading("Pieces, and where to chalk them")];
        heading.push(Row::cells(&[
            start("no.", 0.0, 6.0, false),
            start("piece", CHALK_INDENT, 20.0, false),
            end("length × depth", column, 30.0, false),
        ]));
        let mut cells: Vec<Cell<'_>> = CHALK_HEADS.iter().zip(stops).map(|(h, x)| end(h, x, column, false)).collect();
        cells.push(start("P", CHALK_INDENT, 3.0, true));
        cells.push(start("Q", second, 3.0, true));
        heading.push(Row::cells(&cells));
        if let Some(rule) = heading.last_mut() {
            rule.height += 0.5;
            let y = -rule.height + 0.3;
            rule.items.push(Item::line(Layer::Margin, vec![pt(0.0, y), pt(column, y)], THIN));
        }
        let several = self.plan.jobs.len() > 1;
        let mut groups: Vec<Vec<Row>> = self
            .parts
            .iter()
            .map(|part| {
                let (w, h) = part.piece.size();
                let size = self.sizes(w, h);
                let room = column - CHALK_INDENT - 1.5 - text::width(&size, LEAST_SIZE, false);
                let name = if several {
                    format!("{} ({})", part.piece.name, part.placed.job)
                } else {
                    part.piece.name.clone()
                };
                let name = short_name(&name, LEAST_SIZE, true, room);
                let number = part.number.to_string();
                let first = Row::cells(&[
                    start(&number, 0.0, 6.0, true),
                    start(&name, CHALK_INDENT, room, true),
                    end(&size, column, 40.0, false),
                ]);
                let numbers = self.chalk_numbers(part);
                let mut cells: Vec<Cell<'_>> =
                    numbers.iter().zip(stops).map(|(n, x)| end(n, x, column, false)).collect();
                cells.push(start("P", CHALK_INDENT, 3.0, false));
                cells.push(start("Q", second, 3.0, false));
                let mut numbers = Row::cells(&cells);
                numbers.height += 0.5;
                vec![first, numbers]
            })
            .collect();
        groups.push(Row::paragraph(
            "A: straight-edge against the slab's lower side, touching it at two triangles. B: square to A, touching the \
             slab at the third. Corners P and Q: marked on the drawing; a rounded corner is measured to where its sides \
             would meet; a round piece has P in its middle and Q on its rim.",
            0.0,
            column,
            false,
        ));
        Some(Block { heading, groups })
    }

    /// The pieces that are drawn, copies together: the first of each kind with the numbers of all.
    pub(super) fn alike(&self) -> Vec<(&Part<'_>, Vec<usize>)> {
        let mut out: Vec<(&Part<'_>, Vec<usize>)> = Vec::new();
        for part in &self.parts {
            let same = |other: &Part<'_>| {
                other.placed.job == part.placed.job
                    && other.piece.kind == part.piece.kind
                    && other.piece.outline == part.piece.outline
                    && other.piece.openings == part.piece.openings
            };
            match out.iter_mut().find(|(first, _)| same(first)) {
                Some((_, numbers)) => numbers.push(part.number),
                None => out.push((part, vec![part.number])),
            }
        }
        out
    }

    fn openings_block(&self) -> Option<Block> {
        let column = self.column;
        let mut groups = Vec::new();
        for (part, numbers) in self.alike() {
            for (j, opening) in part.piece.openings.iter().enumerate() {
                let id = if numbers.len() == 1 {
                    format!("{}{}", part.number, letters(j))
                } else {
                    format!("{} of {}", letters(j), ranges(&numbers, ""))
                };
                let indent = if numbers.len() == 1 { 8.5 } else { 5.0 };
                let extent = opening.shape.extent();
                let size = self.sizes(extent.width(), extent.height());
                let room = column - indent - 1.5 - text::width(&size, LEAST_SIZE, false);
                // The kind of opening gets a row of its own where it finds no room behind the name.
                let both = format!("{}, {}", opening.name, opening.kind.name());
                let alone = text::width(&text::clean(&both), LEAST_SIZE, false) > room;
                let name = if alone { short_name(&opening.name, LEAST_SIZE, false, room) } else { both };
                let c = opening.centre();
                let centre = format!("{} | {}", self.bare(c.x), self.bare(c.y));
                let rail = measure::narrowest_rail(part.piece, opening).distance;
                let rail = if rail.is_finite() { format!("rail {}", self.bare(rail)) } else { String::new() };
                // Copies share their rows, under a line of their numbers.
                let mut rows = Vec::new();
                let mut first = Row::cells(&[start(&name, indent, room, false), end(&size, column, 40.0, false)]);
                if numbers.len() == 1 {
                    first.items.extend(Row::cells(&[start(&id, 0.0, indent, true)]).items);
                } else {
                    rows.extend(Row::paragraph(&id, 0.0, column, true));
                }
                rows.push(first);
                if alone {
                    rows.push(Row::cells(&[start(opening.kind.name(), indent, column - indent, false)]));
                }
                let left = column - indent - 1.5 - text::width(&centre, LEAST_SIZE, false);
                let mut second = Row::cells(&[start(&centre, indent, column, false), end(&rail, column, left, false)]);
                second.height += 0.5;
                rows.push(second);
                groups.push(rows);
            }
            if let (Some(web), Some(last)) = (measure::narrowest_web(part.piece), groups.last_mut()) {
                let [a, b] = web.between.map(letters);
                let indent = if numbers.len() == 1 { 8.5 } else { CHALK_INDENT };
                let words = format!("narrowest web, {a} to {b}: {}", self.bare(web.near.distance));
                let mut rows = Row::paragraph(&words, indent, column, false);
                if let Some(row) = rows.last_mut() {
                    row.height += 0.5;
                }
                last.extend(rows);
            }
        }
        if groups.is_empty() {
            return None;
        }
        let mut heading = vec![self.heading("Openings")];
        heading.extend(Row::paragraph(
            "size; centre from the piece's left end | from its front; narrowest rail",
            0.0,
            column,
            false,
        ));
        Some(Block { heading, groups })
    }

    /// The key as a block of rows.
    pub(super) fn key_block(&self, chalk: bool) -> Block {
        let groups = self
            .key(chalk)
            .into_iter()
            .map(|(icon, words)| {
                let mut rows = Row::paragraph(&words, 12.0, self.column, false);
                if let Some(first) = rows.first_mut() {
                    first.items.extend(icon);
                }
                if let Some(last) = rows.last_mut() {
                    last.height += 0.7;
                }
                rows
            })
            .collect();
        Block { heading: vec![self.heading("Key")], groups }
    }

    /// What the drawing's marks mean: an icon 12 mm wide, its top on y = 0 and 3.3 mm high, and words. On a
    /// sheet for chalking, corners have numbers and rails stand on the sheets of the pieces.
    pub(super) fn key(&self, chalk: bool) -> Vec<(Vec<Item>, String)> {
        let mut out: Vec<(Vec<Item>, String)> = Vec::new();
        let mut add = |icon: Vec<Item>, words: &str| out.push((icon, words.to_owned()));
        let y = -1.55;
        let line = |stroke: Stroke| vec![Item::line(Layer::Margin, vec![pt(0.5, y), pt(10.0, y)], stroke)];
        let margin = |items: Vec<Item>| -> Vec<Item> {
            items
                .into_iter()
                .map(|mut i| {
                    i.layer = Layer::Margin;
                    i
                })
                .collect()
        };
        for (_, kind) in FlawKind::NAMES {
            let flaws: Vec<&Flaw> = self.slab.flaws.iter().filter(|f| f.kind == kind).collect();
            if flaws.is_empty() {
                continue;
            }
            let lines = flaws.iter().any(|f| matches!(f.body, FlawBody::Line(_)));
            let areas = flaws.iter().any(|f| !matches!(f.body, FlawBody::Line(_)));
            let (end, from) = if areas { (6.0, if lines { 7.0 } else { 3.0 }) } else { (10.5, 0.0) };
            let mut icon = if lines { flaw_line(kind, &[pt(0.0, y), pt(end, y)]) } else { Vec::new() };
            if areas {
                let b = BBox { min: pt(from, -2.9), max: pt(from + 4.0, -0.2) };
                icon.extend(flaw_area(kind, &Ring::rectangle(b).to_region()));
            }
            add(margin(icon), &self.flaw_words(kind, &flaws));
        }
        if let Some(grain) = self.slab.grain.filter(|g| g.is_finite()) {
            let along = Pose::new(grain, pt(0.0, 0.0)).apply(pt(1.0, 0.0));
            let c = pt(5.0, y);
            let reach = 1.5 + 3.0 * along.x.abs();
            let tip = c + along * reach;
            let back = tip - along * 1.6;
            let paths =
                vec![vec![c - along * reach, tip], vec![back + along.left() * 0.7, tip, back - along.left() * 0.7]];
            let icon = vec![Item::lines(Layer::Margin, paths, Stroke::solid(Colour::GREY, 0.25))];
            add(icon, &format!("grain, {}° to the drawing's x", Decimal(grain, 1)));
        }
        if self.parts.is_empty() {
            add(line(TRIM), &format!("trim, {}", self.settings.shown.length(self.question.shop.limits.trim)));
            return out;
        }
        let badge = Badge { label: "1", size: LEAST_SIZE, radius: 1.45, back: pt(1.0, 0.0), beak: true };
        add(margin(badge.items(pt(4.0, y))), "number of a piece; the beak points to its back");
        let (bar, ticks) = front_bar(pt(0.5, -2.6), pt(10.0, -2.6), pt(1.0, 0.0));
        let icon = vec![
            Item::line(Layer::Margin, bar, Stroke::solid(Colour::BLACK, 1.0)),
            Item::lines(Layer::Margin, ticks, Stroke::solid(Colour::BLACK, 0.35)),
        ];
        add(icon, "front edge");
        if self.parts.iter().any(|p| p.piece.outline.finishes.iter().any(Finish::is_finished)) {
            add(line(FINISHED), "finished edge");
        }
        let corner = |x: f64, fill: Colour| {
            let points = vec![pt(x, -2.5), pt(x + 1.9, -2.5), pt(x, -0.6)];
            Item::area(Layer::Margin, points, Some(Stroke::solid(Colour::BLACK, 0.25)), Some(fill))
        };
        if chalk {
            let dot = Item::disc(Layer::Margin, pt(1.5, y), 0.45, None, Some(Colour::BLACK));
            let words = Text::new("1-2", pt(3.0, y - 0.9), Anchor::Start, LEAST_SIZE).bold();
            add(vec![dot, Item::text(Layer::Margin, words)], "corner 2 of piece 1");
        } else {
            add(vec![corner(1.5, Colour::BLACK), corner(6.5, Colour::WHITE)], "corner P, corner Q");
        }
        if self.parts.iter().any(|p| !p.openings.is_empty()) {
            add(line(CENTRE), "centre lines of an opening");
        }
        if !chalk && self.parts.iter().any(|p| !p.openings.is_empty()) {
            let (a, b, s) = (pt(2.0, y), pt(8.0, y), pt(0.55, 0.55));
            let paths = vec![vec![a, b], vec![a - s, a + s], vec![b - s, b + s]];
            add(
                vec![Item::lines(Layer::Margin, paths, Stroke::solid(Colour::BLACK, 0.22))],
                "narrowest rail or web (copies: on the first)",
            );
        }
        add(line(TRIM), &format!("trim, {}", self.settings.shown.length(self.question.shop.limits.trim)));
        if !self.layout.offcuts.is_empty() {
            let b = BBox { min: pt(0.5, -2.9), max: pt(10.0, -0.2) };
            let mut icon = vec![Item::area(Layer::Margin, b.corners().to_vec(), Some(RECTANGLE), None)];
            icon.push(Item::lines(Layer::Margin, hatch::lines(&Ring::rectangle(b).to_region(), 135.0, 1.6), OFFCUT));
            add(icon, "offcut to keep, largest rectangle");
        }
        if let Some((gap, [a, b])) = measure::least_gap(&self.parts) {
            let tick = |x: f64| vec![pt(x, -2.9), pt(x, -0.2)];
            let icon = vec![Item::lines(Layer::Margin, vec![tick(4.5), tick(6.0)], Stroke::solid(Colour::BLACK, 0.4))];
            let kerf = self.bare(self.question.shop.limits.kerf);
            add(icon, &format!("least gap {} ({a} and {b}); kerf {kerf}", self.bare(gap)));
        }
        if self.backdrop.is_some() {
            add(Vec::new(), "picture: a photograph, straightened; cut by the figures");
        }
        if self.remarks.iter().any(|r| !r.at.is_empty()) {
            let ring = Some(Stroke::solid(Colour::VERMILLION, 0.5));
            add(vec![Item::disc(Layer::Margin, pt(5.0, y), 1.3, ring, None)], "place of a finding (!)");
        }
        out
    }

    /// The kind with the widths of its lines and the diameters of its spots.
    fn flaw_words(&self, kind: FlawKind, flaws: &[&Flaw]) -> String {
        let range = |sizes: Vec<f64>| -> Option<String> {
            let low = sizes.iter().copied().reduce(f64::min)?;
            let high = sizes.iter().copied().reduce(f64::max)?;
            let (a, b) = (self.bare(low), self.settings.shown.length(high));
            Some(if self.settings.shown.length(low) == b { b } else { format!("{a} to {b}") })
        };
        let of = |line: bool| -> Vec<f64> {
            flaws
                .iter()
                .filter(
                    |f| if line { matches!(f.body, FlawBody::Line(_)) } else { matches!(f.body, FlawBody::Spot(_)) },
                )
                .map(|f| 2.0 * f.radius)
                .collect()
        };
        let mut words = kind.name().to_owned();
        if let Some(r) = range(of(true)) {
            words += &format!(", {r} wide");
        }
        if let Some(r) = range(of(false)) {
            words += &format!(", {r} across");
        }
        words
    }

    pub(super) fn title_block(&mut self, frame: &BBox, rows_left_out: usize) {
        let shown = self.settings.shown;
        let block = BBox { min: frame.min, max: pt(frame.max.x, frame.min.y + TITLE) };
        let caution = 4.6;
        let line = Stroke::solid(Colour::BLACK, 0.35);
        self.items.push(Item::area(Layer::Margin, block.corners().to_vec(), Some(line), None));
        let low = block.min.y + caution;
        self.items.push(Item::line(Layer::Margin, vec![pt(block.min.x, low), pt(block.max.x, low)], THIN));
        let shares = [0.29, 0.25, 0.22, 0.24];
        let y = measure::yields(self.question, self.layout, self.slab);
        let stone = self.slab.outline.bbox();
        let lot = match (&self.slab.lot, self.slab.number) {
            (Some(lot), Some(n)) => format!("Lot {lot}, number {n}"),
            (Some(lot), None) => format!("Lot {lot}"),
            (None, Some(n)) => format!("Number {n}"),
            (None, None) => "Lot not given".to_owned(),
        };
        let class = if self.slab.stone_given { "" } else { " (assumed)" };
        let units = match shown {
            Shown::Mm => "All lengths in mm",
            Shown::In => "All lengths in inches, to 1/16",
        };
        let sheet = format!("Sheet {} of {}", self.index + 1, self.plan.layouts.len());
        let mut notes = Vec::new();
        if !self.plan.unplaced.is_empty() {
            let n = self.plan.unplaced.len();
            notes.push(if n == 1 { "1 piece has no place".to_owned() } else { format!("{n} pieces have no place") });
        }
        if rows_left_out > 0 {
            notes.push(format!("{rows_left_out} table rows do not fit: take larger paper"));
        }
        if self.left_out > 0 {
            let n = self.left_out;
            let marks = if n == 1 { "1 mark does".to_owned() } else { format!("{n} marks do") };
            notes.push(format!("{marks} not fit: see the tables"));
        }
        let label = |words: &str, bold: bool, size: f64| (words.to_owned(), bold, size);
        let jobs = self.plan.jobs.join(", ");
        let room = shares[0] * block.width() - 3.0;
        let mut first = Vec::new();
        if text::width(&text::clean(&jobs), 3.8, true) <= room {
            first.push(label(&jobs, true, 3.8));
        } else {
            let mut lines = text::wrap(&jobs, LEAST_SIZE, true, room);
            if lines.len() > 2 {
                lines = vec![lines[0].clone(), text::shorten(&lines[1..].join(" "), LEAST_SIZE, true, room)];
            }
            first.extend(lines.iter().map(|l| label(l, true, LEAST_SIZE)));
        }
        let slab = format!("Slab {}", self.slab.name);
        let large = text::width(&text::clean(&slab), 3.8, true) <= room;
        first.push(label(&slab, true, if large { 3.8 } else { LEAST_SIZE }));
        notes.truncate(2);
        let line = if notes.len() > 1 { format!("{sheet}; {}", notes.remove(0)) } else { sheet };
        first.push(label(&line, notes.len() > 1, LEAST_SIZE));
        first.extend(notes.iter().map(|n| label(n, true, LEAST_SIZE)));
        let second = vec![
            label(&self.slab.material, true, 3.0),
            label(
                &format!("{}{class}, {} thick", self.slab.stone.name(), shown.length(self.slab.thickness)),
                false,
                LEAST_SIZE,
            ),
            label(&lot, false, LEAST_SIZE),
            label(&format!("Slab {} overall", self.sizes(stone.width(), stone.height())), false, LEAST_SIZE),
            label(&format!("Slab area {}", shown.area(y.slab_mm2)), false, LEAST_SIZE),
        ];
        let scale = format!("Scale 1:{} on {}", Decimal(self.scale, 1), self.settings.paper.name());
        let print =
            self.number.map_or_else(|| "Print at 100 %, landscape".to_owned(), |n| format!("Plan {n}; print at 100 %"));
        let third = vec![label(&scale, true, 3.0), label(&print, false, LEAST_SIZE), label(units, false, LEAST_SIZE)];
        let fourth = vec![
            label("Polished face up. Never mirrored.", true, 3.0),
            label(&format!("Gross yield {:.1} % (openings filled)", y.gross * 100.0), false, LEAST_SIZE),
            label(&format!("Net yield {:.1} % (without openings)", y.net * 100.0), false, LEAST_SIZE),
            label(&format!("Pieces {}", shown.area(y.pieces_mm2)), false, LEAST_SIZE),
            label(&format!("Openings {}", shown.area(y.openings_mm2)), false, LEAST_SIZE),
        ];
        let mut x = block.min.x;
        for (i, (column, share)) in [first, second, third, fourth].into_iter().zip(shares).enumerate() {
            let width = share * block.width();
            if i > 0 {
                self.items.push(Item::line(Layer::Margin, vec![pt(x, low), pt(x, block.max.y)], THIN));
            }
            let mut top = block.max.y - 1.2;
            for (words, bold, size) in column {
                let words = text::shorten(&words, size, bold, width - 3.0);
                let mut t = Text::new(&words, pt(x + 1.5, top - text::ASCENT * size), Anchor::Start, size);
                t.bold = bold;
                if !words.is_empty() {
                    self.items.push(Item::text(Layer::Margin, t));
                }
                top -= size * text::PITCH + 0.7;
            }
            if i == 2 {
                self.scale_bar(pt(x + 3.0, low + 2.2), width - 10.0);
            }
            x += width;
        }
        let words = text::shorten(CAUTION, LEAST_SIZE, true, block.width() - 3.0);
        let at = pt(block.min.x + 1.5, block.min.y + 1.5);
        self.items.push(Item::text(Layer::Margin, Text::new(&words, at, Anchor::Start, LEAST_SIZE).bold()));
    }

    /// A bar of a round length with marks at its quarters.
    fn scale_bar(&mut self, at: Point, room: f64) {
        let lengths: &[f64] = match self.settings.shown {
            Shown::Mm => &[10_000.0, 5000.0, 2000.0, 1000.0, 500.0, 200.0, 100.0],
            Shown::In => &[360.0, 120.0, 60.0, 36.0, 24.0, 12.0, 6.0, 4.0],
        };
        let unit = if self.settings.shown == Shown::In { MM_PER_INCH } else { 1.0 };
        let Some(length) = lengths.iter().map(|l| l * unit).find(|l| l / self.scale <= room) else { return };
        let step = length / self.scale / 4.0;
        for i in 0..4 {
            let b = BBox { min: at + pt(f64::from(i) * step, 0.0), max: at + pt(f64::from(i + 1) * step, 1.4) };
            let fill = if i % 2 == 0 { Colour::BLACK } else { Colour::WHITE };
            let line = Some(Stroke::solid(Colour::BLACK, 0.2));
            self.items.push(Item::area(Layer::Margin, b.corners().to_vec(), line, Some(fill)));
        }
        let words = [(0.0, "0".to_owned()), (4.0 * step, self.bare(length))];
        for (x, w) in words {
            let t = Text::new(&w, at + pt(x, 2.2), Anchor::Middle, LEAST_SIZE);
            self.items.push(Item::text(Layer::Margin, t));
        }
    }
}
