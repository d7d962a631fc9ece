//! Jobs whose least cost is known: slabs cut into pieces, shuffled, with more slabs put on the rack.
//!
//! One to three slabs are cut, with exactly the trim at the rim and the gap between pieces, by straight cuts from side to
//! side, by pinwheels and by L-shapes; then some pieces are dropped or made smaller until a given share is wasted. Cracks go
//! under drops and into waste, pits and fissures under hidden strips and into plain fields.
//!
//! The slabs that were cut hold all pieces: the judge is asked about that very plan. That no cheaper set of slabs on the rack
//! holds them is shown set by set ([`Argument`]), with formulas of this file alone; a case for which it cannot be shown is
//! thrown away. So the known cost is the least one for certain.

use scantling::check::judge;
use scantling::geom::curve::Corner;
use scantling::geom::{BBox, Point, Pose, Ring, pt, sum};
use scantling::model::{
    Finding, FlawBody, FlawKind, Goal, Grade, GrainWish, Hidden, Layout, Limits, OpeningKind, Piece, Placed, Plan,
    PlanLimits, Question, Slab, Yield, Zone, Zones,
};

use super::make::{self, Dice};

/// A class of cases by waste: shares of what the slabs could hold, from (not less) and to (not more).
#[derive(Clone, Copy, Debug)]
pub struct Class {
    /// As it stands in tables.
    pub name: &'static str,
    from: f64,
    to: f64,
}

/// Exact jigsaws, and up to a fifth wasted.
pub const CLASSES: [Class; 5] = [
    Class { name: "0 %", from: -1e-6, to: 0.002 },
    Class { name: "0-5 %", from: 0.002, to: 0.05 },
    Class { name: "5-10 %", from: 0.05, to: 0.10 },
    Class { name: "10-15 %", from: 0.10, to: 0.15 },
    Class { name: "15-20 %", from: 0.15, to: 0.20 },
];

/// Most pieces of a case.
const MOST_PIECES: usize = 12;

/// Most slabs on the rack beside those that were cut.
const MOST_OTHERS: usize = 8;

/// No piece is narrower, mm.
const NARROWEST: f64 = 150.0;

/// A clearance may fall short by this before the judge minds, mm: the argument must hold for such plans too.
const SHORT: f64 = 0.001;

/// A question with its least cost.
pub struct Case {
    /// The question.
    pub question: Question,
    /// The least cost of a complete plan.
    pub cost: f64,
    /// Share of the cut slabs that is wasted.
    pub waste: f64,
    /// How many slabs were cut.
    pub slabs: usize,
    /// Cases drawn before this one that were thrown away.
    pub thrown_away: usize,
}

/// Draws until a case can be vouched for.
pub fn case(dice: &mut Dice, class: Class) -> Case {
    let mut thrown_away = 0;
    loop {
        if let Some(case) = draw(dice, class, thrown_away) {
            return case;
        }
        thrown_away += 1;
    }
}

/// What is left of a slab for one piece, slab frame.
#[derive(Clone, Debug)]
struct Cell {
    /// Which of the cut slabs.
    slab: usize,
    /// Corners, counter-clockwise; convex unless it is an L.
    corners: Vec<Point>,
    /// An L is cut no further.
    is_l: bool,
}

fn draw(dice: &mut Dice, class: Class, thrown_away: usize) -> Option<Case> {
    let limits = Limits::default();
    let grain = dice.chance(0.7).then_some(0.0);
    let mut cut = slabs_to_cut(dice, grain);
    let rims = cut.iter().map(|s| inset(s.outline.points(), limits.trim)).collect::<Option<Vec<_>>>()?;
    let (mut cells, mut wasted) = (cells(dice, &rims, limits.gap), Vec::new());
    let capacity: f64 = cut.iter().map(|s| capacity(s, &limits)).sum::<Option<f64>>()?;
    let waste = waste(dice, class, &mut cells, &mut wasted, capacity, &limits)?;
    let mut pieces: Vec<(Piece, Placed, usize)> =
        cells.iter().enumerate().map(|(i, c)| piece(dice, i, c, &mut cut, grain.is_some())).collect();
    for cell in &wasted {
        if dice.chance(0.6) {
            crack_waste(dice, cell, &mut cut[cell.slab]);
        }
    }

    let cost: f64 = cut.iter().map(|s| s.price).sum();
    let slabs = cut.len();
    let mut argument = Argument::new(pieces.iter().map(|p| &p.0), grain.is_some(), &limits);
    for slab in &cut {
        argument.add(slab)?;
    }
    if !argument.no_set_is_cheaper_than(cost) {
        return None;
    }
    // Others that must not help: dearer ones, and ones that are too small.
    let mut rack: Vec<(Slab, Option<usize>)> = cut.into_iter().enumerate().map(|(i, s)| (s, Some(i))).collect();
    for _ in 0..dice.below(MOST_OTHERS + 1) {
        let other = other_slab(dice, &rack[0].0, grain);
        argument.add(&other)?;
        if argument.no_set_is_cheaper_than(cost) {
            rack.push((other, None));
        } else {
            argument.slabs.pop();
        }
    }
    dice.shuffle(&mut rack);
    dice.shuffle(&mut pieces);
    let (rack, origin): (Vec<Slab>, Vec<Option<usize>>) = rack.into_iter().unzip();
    let question = make::question(vec![make::job(JOB, pieces.iter().map(|p| p.0.clone()).collect())], rack);
    let placed = pieces.into_iter().map(|(_, placed, slab)| (placed, slab)).collect();
    let broken = faults(&question, &known_plan(&question, placed, &origin, cost));
    // Not thrown away: a plan by construction that the judge faults is a mistake here or there.
    assert!(broken.is_empty(), "the plan by construction: {broken:?}");
    Some(Case { question, cost, waste, slabs, thrown_away })
}

const JOB: &str = "jigsaw";

/// One to three slabs, alike or not.
fn slabs_to_cut(dice: &mut Dice, grain: Option<f64>) -> Vec<Slab> {
    let alike = dice.chance(0.4);
    let irregular = if dice.chance(0.4) { 60.0 } else { 0.0 };
    let count = dice.below(3) + 1;
    let mut slabs: Vec<Slab> = Vec::new();
    for _ in 0..count {
        if let (true, Some(first)) = (alike, slabs.first()) {
            slabs.push(first.clone());
            continue;
        }
        let (length, depth) = (dice.stepped(2000.0, 3200.0, 1.0), dice.stepped(1200.0, 2000.0, 1.0));
        let outline = make::outline(dice, length, depth, irregular);
        let price = (outline.area() * 1e-6 * dice.between(130.0, 170.0)).round();
        slabs.push(make::slab(outline, price, grain));
    }
    slabs
}

/// A slab that was not cut: an offcut, one of about the size of `like`, or a larger one.
fn other_slab(dice: &mut Dice, like: &Slab, grain: Option<f64>) -> Slab {
    let b = like.outline.bbox();
    let (scale, dearer) = match dice.below(3) {
        0 => (dice.between(0.2, 0.7), dice.between(0.4, 1.1)),
        1 => (dice.between(0.9, 1.05), dice.between(1.0, 1.3)),
        _ => (dice.between(1.05, 1.3), dice.between(1.0, 1.5)),
    };
    let (length, depth) = ((b.width() * scale.sqrt()).round(), (b.height() * scale.sqrt()).round());
    let outline = make::outline(dice, length, depth, 20.0);
    let price = (like.price * outline.area() / like.outline.area() * dearer).round();
    let mut slab = make::slab(outline, price, grain);
    make::strew_flaws(dice, &mut slab, 2);
    slab
}

// ---- cutting

/// Cuts each rim (the slab less its trim) into cells, `gap` (mm) apart.
fn cells(dice: &mut Dice, rims: &[Vec<Point>], gap: f64) -> Vec<Cell> {
    let least = 2 * rims.len();
    let wanted = least + dice.below(MOST_PIECES - least + 1);
    let mut cells: Vec<Cell> =
        rims.iter().enumerate().map(|(slab, rim)| Cell { slab, corners: rim.clone(), is_l: false }).collect();
    for _ in 0..80 {
        let room = wanted - cells.len();
        if room == 0 {
            break;
        }
        // Mostly the largest, so that the cells do not differ beyond reason.
        let largest = |a: &usize, b: &usize| area(&cells[*a].corners).total_cmp(&area(&cells[*b].corners));
        let Some(which) = (0..cells.len()).filter(|&i| !cells[i].is_l).max_by(largest) else { break };
        let any = dice.below(cells.len());
        let which = if dice.chance(0.3) && !cells[any].is_l { any } else { which };
        let parts = match dice.below(10) {
            0 | 1 if room >= 4 => pinwheel(dice, &cells[which], gap),
            2 | 3 => l_shape(dice, &cells[which], gap),
            _ => straight(dice, &cells[which], gap),
        };
        if parts.iter().all(|p| wide_enough(&p.corners)) && !parts.is_empty() {
            cells.swap_remove(which);
            cells.extend(parts);
        }
    }
    cells
}

fn wide_enough(corners: &[Point]) -> bool {
    let b = BBox::of(corners);
    let sides = corners.len() >= 3 && Ring::tidy(corners).is_ok_and(|(ring, _)| ring.points().len() == corners.len());
    sides && b.width() >= NARROWEST && b.height() >= NARROWEST && area(corners) >= 0.5 * b.width() * b.height()
}

/// In two, from side to side.
fn straight(dice: &mut Dice, cell: &Cell, gap: f64) -> Vec<Cell> {
    let b = BBox::of(&cell.corners);
    let across = dice.chance(b.width() / (b.width() + b.height()));
    let share = dice.between(0.25, 0.75);
    let (axis, at) = if across {
        (pt(1.0, 0.0), (b.min.x + share * b.width()).round())
    } else {
        (pt(0.0, 1.0), (b.min.y + share * b.height()).round())
    };
    let low = clip(&cell.corners, axis, at);
    let high = clip(&cell.corners, axis * -1.0, -(at + gap));
    [low, high].map(|corners| Cell { corners, ..cell.clone() }).to_vec()
}

/// In five: four arms round a core. No cut runs from side to side.
fn pinwheel(dice: &mut Dice, cell: &Cell, gap: f64) -> Vec<Cell> {
    let b = BBox::of(&cell.corners);
    let mut along = |from: f64, to: f64, low: f64, high: f64| (from + dice.between(low, high) * (to - from)).round();
    let (xa, xb) = (along(b.min.x, b.max.x, 0.2, 0.4), along(b.min.x, b.max.x, 0.55, 0.8));
    let (ya, yb) = (along(b.min.y, b.max.y, 0.2, 0.4), along(b.min.y, b.max.y, 0.55, 0.8));
    let boxes = [
        (b.min.x, b.min.y, xb, ya - gap),
        (xb + gap, b.min.y, b.max.x, yb),
        (xa, yb + gap, b.max.x, b.max.y),
        (b.min.x, ya, xa - gap, b.max.y),
        (xa, ya, xb, yb),
    ];
    let within = |&(x0, y0, x1, y1): &(f64, f64, f64, f64)| {
        let corners = clip(&cell.corners, pt(1.0, 0.0), x1);
        let corners = clip(&corners, pt(-1.0, 0.0), -x0);
        let corners = clip(&corners, pt(0.0, 1.0), y1);
        Cell { corners: clip(&corners, pt(0.0, -1.0), -y0), ..cell.clone() }
    };
    boxes.iter().map(within).collect()
}

/// A rectangle in two: an L and what it embraces. None of another cell.
fn l_shape(dice: &mut Dice, cell: &Cell, gap: f64) -> Vec<Cell> {
    let b = BBox::of(&cell.corners);
    if !is_rectangle(&cell.corners) {
        return Vec::new();
    }
    let arm = |dice: &mut Dice, of: f64| (dice.between(0.25, 0.6) * of).round();
    let (ax, ay) = (arm(dice, b.width()), arm(dice, b.height()));
    if ax < NARROWEST || ay < NARROWEST {
        return Vec::new();
    }
    // The corner at the upper right is cut out; turned by half, that at the lower left.
    let (x, y) = (b.min.x + ax, b.min.y + ay);
    let l = [b.min, pt(b.max.x, b.min.y), pt(b.max.x, y), pt(x, y), pt(x, b.max.y), pt(b.min.x, b.max.y)];
    let rest = [pt(x + gap, y + gap), pt(b.max.x, y + gap), b.max, pt(x + gap, b.max.y)];
    let turned = dice.chance(0.5);
    let place = |p: Point| if turned { b.min + b.max - p } else { p };
    vec![
        Cell { corners: l.map(place).to_vec(), is_l: true, ..cell.clone() },
        Cell { corners: rest.map(place).to_vec(), ..cell.clone() },
    ]
}

/// Drops cells and makes cells smaller until a share of the capacity within the class is wasted; says which share.
fn waste(
    dice: &mut Dice,
    class: Class,
    cells: &mut Vec<Cell>,
    wasted: &mut Vec<Cell>,
    capacity: f64,
    limits: &Limits,
) -> Option<f64> {
    let take = |c: &Cell| grown_area(&c.corners, (limits.gap - SHORT) / 2.0) / capacity;
    let share = |cells: &[Cell]| 1.0 - cells.iter().map(take).sum::<f64>();
    let target = if class.to < 0.01 { 0.0 } else { dice.between(class.from.max(0.005), class.to) };
    for _ in 0..60 {
        let open = target - share(cells);
        if open < 0.002 {
            break;
        }
        let which = dice.below(cells.len());
        let cell = &cells[which];
        if dice.chance(0.5) {
            if take(cell) <= open && cells.iter().filter(|c| c.slab == cell.slab).count() > 1 {
                wasted.push(cells.swap_remove(which));
            }
        } else if let Some(less) = smaller(dice, cell, open * capacity) {
            cells[which] = less;
        }
    }
    let wasted = share(cells);
    (class.from..=class.to).contains(&wasted).then_some(wasted)
}

/// The cell with one side moved inwards, losing no more than about `most` mm².
fn smaller(dice: &mut Dice, cell: &Cell, most: f64) -> Option<Cell> {
    if cell.is_l {
        return None;
    }
    let b = BBox::of(&cell.corners);
    let axis = dice.pick(&[pt(1.0, 0.0), pt(-1.0, 0.0), pt(0.0, 1.0), pt(0.0, -1.0)]);
    let (depth, width) = if axis.x == 0.0 { (b.height(), b.width()) } else { (b.width(), b.height()) };
    let by = (most / width).min(dice.between(0.05, 0.35) * depth).floor();
    let end = cell.corners.iter().map(|p| p.dot(axis)).fold(f64::NEG_INFINITY, f64::max);
    let less = Cell { corners: clip(&cell.corners, axis, end - by), ..cell.clone() };
    (by >= 1.0 && wide_enough(&less.corners)).then_some(less)
}

// ---- pieces and flaws

/// The piece of a cell, turned into a frame of its own, with openings, hidden strips and the flaws below them; where it lies.
fn piece(dice: &mut Dice, index: usize, cell: &Cell, cut: &mut [Slab], grain: bool) -> (Piece, Placed, usize) {
    let turn = if grain { dice.pick(&[0.0, 0.0, 180.0, 90.0, 270.0]) } else { dice.pick(&[0.0, 90.0, 180.0, 270.0]) };
    let back = Pose::new(-turn, pt(0.0, 0.0));
    let turned: Vec<Point> = cell.corners.iter().map(|&p| back.apply(p)).collect();
    let low = BBox::of(&turned).min;
    // Of a rectangle the front comes first.
    let mut corners: Vec<Corner> = turned.iter().map(|&p| Corner { at: p - low, radius: 0.0 }).collect();
    if let Some(first) = corners.iter().position(|c| c.at == pt(0.0, 0.0)) {
        corners.rotate_left(first);
    }
    let name = format!("piece {}", index + 1);
    let mut piece = make::piece(&name, corners);
    if grain {
        // Turned by 0 or 180 the slab's grain runs along the piece, else across.
        piece.grain = GrainWish::Towards(if turn % 180.0 == 0.0 { 0.0 } else { 90.0 });
        // End for end: 0 along and 270 across are the turns that a one-way piece has.
        piece.one_way = (turn == 0.0 || turn == 270.0) && dice.chance(0.2);
    }
    let pose = Pose::new(turn, Pose::new(turn, pt(0.0, 0.0)).apply(low));
    if is_rectangle(&cell.corners) {
        furnish(dice, &mut piece, pose, &mut cut[cell.slab]);
    }
    let placed = Placed {
        job: JOB.to_owned(),
        piece: name,
        turn,
        shift: pose.shift.into(),
        pinned: false,
        outline: Vec::new(),
        openings: Vec::new(),
    };
    (piece, placed, cell.slab)
}

/// Gives a rectangle a finished front, and an opening or a hidden strip, with a flaw that they can bear.
fn furnish(dice: &mut Dice, piece: &mut Piece, pose: Pose, slab: &mut Slab) {
    let (length, depth) = piece.size();
    if dice.chance(0.6) {
        make::finish(piece, &[0]);
    }
    let mut mark = |kind, points: &[Point], width: f64, allow: Option<Zones>| {
        let points: Vec<Point> = points.iter().map(|&p| pose.apply(p)).collect();
        let body = if points.len() == 1 { FlawBody::Spot(points[0]) } else { FlawBody::Line(points) };
        let mut flaw = make::flaw(kind, body, width);
        flaw.allow = allow.unwrap_or(flaw.allow);
        slab.flaws.push(flaw);
    };
    match dice.below(5) {
        0 | 1 if length >= 700.0 && depth >= 540.0 => {
            // Rails of 60 mm and more; the drop is 500 x 400.
            let at = pt(dice.stepped(310.0, length - 310.0, 1.0), dice.stepped(260.0, depth - 260.0, 1.0));
            piece.openings = vec![make::opening("sink", OpeningKind::UndermountSink, at, 500.0, 400.0)];
            if dice.chance(0.7) {
                let reach = pt(dice.stepped(80.0, 210.0, 1.0), dice.stepped(-160.0, 160.0, 1.0));
                mark(FlawKind::Crack, &[at - reach, at + reach], 2.0, None);
            }
        }
        2 if length >= 300.0 && depth >= 250.0 => {
            piece.hidden = Hidden { back: 60.0, ..Hidden::default() };
            let (left, right) = (pt(80.0, depth - 30.0), pt(length - 80.0, depth - 32.0));
            if dice.chance(0.5) {
                mark(FlawKind::Pit, &[left.lerp(right, dice.share())], 10.0, None);
            } else {
                let hidden_only = Zones::of(&[Zone::Hidden, Zone::Drop]);
                mark(FlawKind::Fissure, &[left, right], 2.0, Some(hidden_only));
            }
        }
        3 if length >= 200.0 && depth >= 200.0 && dice.chance(0.5) => {
            let (low, high) = (pt(60.0, dice.between(60.0, depth - 60.0)), dice.between(60.0, depth - 60.0));
            mark(FlawKind::Fissure, &[low, pt(length - 60.0, high)], 2.0, None);
        }
        _ => {}
    }
}

/// A crack in a convex cell that was dropped, well inside it.
fn crack_waste(dice: &mut Dice, cell: &Cell, slab: &mut Slab) {
    if cell.is_l {
        return;
    }
    let n = cell.corners.len();
    let middle = cell.corners.iter().fold(pt(0.0, 0.0), |s, &p| s + p) * (1.0 / n as f64);
    let first = dice.below(n);
    // Half the way to the corners: no nearer to a side than half the middle is.
    let ends = [first, (first + 1 + dice.below(n - 1)) % n].map(|i| middle.lerp(cell.corners[i], 0.5));
    slab.flaws.push(make::flaw(FlawKind::Crack, FlawBody::Line(ends.to_vec()), 1.0));
}

// ---- the argument

/// Why no cheaper set of slabs holds all pieces.
///
/// Grown by half the gap all round, the pieces on a slab overlap nowhere and lie within its rim grown by as much: so their
/// grown areas sum to no more than that of the grown rim. And a piece lies on no slab that is too narrow for it. For a set of
/// slabs and any part of it, the pieces that can lie on no slab of the set but those of the part must find area there.
struct Argument {
    limits: Limits,
    grain: bool,
    pieces: Vec<Need>,
    slabs: Vec<Supply>,
}

/// What a piece needs.
struct Need {
    /// Grown area, mm².
    area: f64,
    /// Across its bounding box as it lies to the grain, mm.
    size: (f64, f64),
    /// Between the two points of it that are farthest apart, mm.
    diameter: f64,
}

/// What a slab has.
struct Supply {
    price: f64,
    capacity: f64,
    size: (f64, f64),
    diameter: f64,
}

impl Argument {
    fn new<'a>(pieces: impl Iterator<Item = &'a Piece>, grain: bool, limits: &Limits) -> Self {
        let need = |p: &Piece| {
            let corners = p.outline.ring.points();
            let b = BBox::of(corners);
            let size =
                if p.grain == GrainWish::Towards(90.0) { (b.height(), b.width()) } else { (b.width(), b.height()) };
            Need { area: grown_area(corners, (limits.gap - SHORT) / 2.0), size, diameter: diameter(corners) }
        };
        Self { limits: limits.clone(), grain, pieces: pieces.map(need).collect(), slabs: Vec::new() }
    }

    fn add(&mut self, slab: &Slab) -> Option<()> {
        let rim = inset(slab.outline.points(), self.limits.trim - SHORT)?;
        let b = BBox::of(&rim);
        let capacity = capacity(slab, &self.limits)?;
        let size = (b.width(), b.height());
        self.slabs.push(Supply { price: slab.price, capacity, size, diameter: diameter(&rim) });
        Some(())
    }

    fn may_lie(&self, piece: &Need, slab: &Supply) -> bool {
        const HAIR: f64 = 0.01;
        let fits = if self.grain {
            piece.size.0 <= slab.size.0 + HAIR && piece.size.1 <= slab.size.1 + HAIR
        } else {
            piece.diameter <= slab.diameter + HAIR
        };
        fits && piece.area <= slab.capacity
    }

    fn no_set_is_cheaper_than(&self, cost: f64) -> bool {
        let n = self.slabs.len();
        let may: Vec<usize> = self
            .pieces
            .iter()
            .map(|p| (0..n).filter(|&s| self.may_lie(p, &self.slabs[s])).map(|s| 1 << s).sum())
            .collect();
        (0..1usize << n).all(|set| self.sum(set, |s| s.price) >= cost - super::run::CENT || self.refutes(set, &may))
    }

    /// True if some part of the set cannot hold what can lie only there.
    fn refutes(&self, set: usize, may: &[usize]) -> bool {
        let mut part = set;
        loop {
            let only_there = self.pieces.iter().zip(may).filter(|&(_, m)| m & set & !part == 0);
            let needed: f64 = only_there.map(|(p, _)| p.area).sum();
            // A square millimetre for rounding.
            if needed > self.sum(part, |s| s.capacity) + 1.0 {
                return true;
            }
            if part == 0 {
                return false;
            }
            part = (part - 1) & set;
        }
    }

    fn sum(&self, set: usize, of: impl Fn(&Supply) -> f64) -> f64 {
        self.slabs.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1).map(|(_, s)| of(s)).sum()
    }
}

/// Area of a convex slab's rim grown by half the gap, mm², both a hair in favour of the slab: for a convex outline of area A
/// and perimeter p, A + p r + pi r² (Steiner's formula).
fn capacity(slab: &Slab, limits: &Limits) -> Option<f64> {
    let r = limits.gap / 2.0;
    let rim = inset(slab.outline.points(), limits.trim - SHORT)?;
    Some(area(&rim) + perimeter(&rim) * r + std::f64::consts::PI * r * r)
}

/// Area of a polygon grown by `r`, mm²: strips along its sides, sectors at corners that point outwards; at one that points
/// inwards two strips overlap in a kite of r² tan(turn / 2). Right for notches wider than `r`.
fn grown_area(corners: &[Point], r: f64) -> f64 {
    let n = corners.len();
    let bends: f64 = (0..n)
        .map(|i| {
            let (u, v) = (corners[i] - corners[(i + n - 1) % n], corners[(i + 1) % n] - corners[i]);
            let turn = u.cross(v).atan2(u.dot(v));
            if turn > 0.0 { turn / 2.0 } else { (turn / 2.0).tan() }
        })
        .sum();
    area(corners) + perimeter(corners) * r + bends * r * r
}

fn area(corners: &[Point]) -> f64 {
    let n = corners.len();
    (0..n).map(|i| corners[i].cross(corners[(i + 1) % n])).sum::<f64>() / 2.0
}

fn perimeter(corners: &[Point]) -> f64 {
    let n = corners.len();
    (0..n).map(|i| corners[i].distance(corners[(i + 1) % n])).sum()
}

fn diameter(corners: &[Point]) -> f64 {
    corners.iter().flat_map(|&a| corners.iter().map(move |&b| a.distance(b))).fold(0.0, f64::max)
}

fn is_rectangle(corners: &[Point]) -> bool {
    let b = BBox::of(corners);
    corners.len() == 4 && area(corners) >= b.width() * b.height() - 1e-6
}

/// The part of a convex polygon where `axis * p <= at`.
fn clip(corners: &[Point], axis: Point, at: f64) -> Vec<Point> {
    let n = corners.len();
    let mut out: Vec<Point> = Vec::new();
    for i in 0..n {
        let (p, q) = (corners[i], corners[(i + 1) % n]);
        let (a, b) = (p.dot(axis) - at, q.dot(axis) - at);
        if a <= 0.0 {
            out.push(p);
        }
        if (a < 0.0 && b > 0.0) || (a > 0.0 && b < 0.0) {
            let mut cut = p.lerp(q, a / (a - b));
            // Exactly on the line of the cut.
            if axis.x == 0.0 {
                cut.y = at * axis.y;
            } else {
                cut.x = at * axis.x;
            }
            out.push(cut);
        }
    }
    out
}

/// A convex polygon with every side moved inwards; none if a side vanishes.
fn inset(corners: &[Point], by: f64) -> Option<Vec<Point>> {
    let n = corners.len();
    let side = |i: usize| {
        let (p, q) = (corners[i % n], corners[(i + 1) % n]);
        let along = (q - p) * (1.0 / p.distance(q));
        (p + along.left() * by, along)
    };
    let out: Vec<Point> = (0..n)
        .map(|i| {
            let ((p, u), (q, v)) = (side(i + n - 1), side(i));
            p + u * ((q - p).cross(v) / u.cross(v))
        })
        .collect();
    let keeps = |i: usize| (out[(i + 1) % n] - out[i]).dot(side(i).1) > 0.0;
    (0..n).all(keeps).then_some(out)
}

// ---- the plan by construction

fn known_plan(question: &Question, placed: Vec<(Placed, usize)>, origin: &[Option<usize>], cost: f64) -> Plan {
    let limits = &question.shop.limits;
    let layouts = question
        .rack
        .iter()
        .zip(origin)
        .filter_map(|(slab, origin)| {
            let cut = (*origin)?;
            let here: Vec<Placed> = placed.iter().filter(|p| p.1 == cut).map(|p| p.0.clone()).collect();
            let on: Vec<&Piece> =
                question.pieces().map(|p| p.2).filter(|p| here.iter().any(|h| h.piece == p.name)).collect();
            let pieces = on.iter().map(|p| p.outline.ring.area()).sum();
            let openings = on.iter().flat_map(|p| &p.openings).map(|o| o.ring.area()).sum();
            let usable = sum::shrunk(&slab.outline.to_region(), limits.trim, 0.01).area();
            let yields = Yield::of(slab.outline.area(), usable, pieces, openings);
            Some(Layout { slab: slab.name.clone(), slab_print: None, placed: here, yields, offcuts: Vec::new() })
        })
        .collect();
    let rails = limits.rails(&question.rack[0]);
    Plan {
        format: Plan::FORMAT.to_owned(),
        jobs: vec![JOB.to_owned()],
        goal: Goal::Cost,
        seed: 0,
        effort: None,
        limits: PlanLimits::of(limits, rails.stop, rails.rod),
        layouts,
        unplaced: Vec::new(),
        cost,
        cost_bound: 0.0,
        bound_rule: None,
        proven: false,
        offcut_worth: None,
        flaw_margin: None,
        findings: Vec::new(),
        held: Vec::new(),
    }
}

fn faults(question: &Question, plan: &Plan) -> Vec<Finding> {
    judge(question, plan).into_iter().filter(|f| f.grade == Grade::Broken).collect()
}
