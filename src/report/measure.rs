//! What a report says of a layout, measured on the geometry of the question at the poses of the plan.

use crate::geom::{Point, Pose, Region, Ring, distance, pt, sum, tol};
use crate::model::{
    Flaw, FlawBody, FlawKind, Layout, Opening, Piece, Placed, Plan, Question, Shape, Slab, Yield, drops,
};
use crate::units::Decimal;

/// A placed piece that can be drawn.
#[derive(Clone, Debug)]
pub struct Part<'a> {
    /// Its number on the sheet, from 1, in the order of the plan.
    pub number: usize,
    /// What the plan says of it.
    pub placed: &'a Placed,
    /// What the job says of it.
    pub piece: &'a Piece,
    /// Where it lies.
    pub pose: Pose,
    /// Its outline, slab frame.
    pub outline: Ring,
    /// Its openings, slab frame, in the order of the piece.
    pub openings: Vec<Ring>,
}

/// The slab of a layout, if the rack has it.
#[must_use]
pub fn slab<'a>(question: &'a Question, layout: &Layout) -> Option<&'a Slab> {
    question.rack.iter().find(|s| s.name == layout.slab)
}

/// The pieces of a layout that can be drawn, and in words why others cannot.
#[must_use]
pub fn parts<'a>(question: &'a Question, layout: &'a Layout) -> (Vec<Part<'a>>, Vec<String>) {
    let mut parts = Vec::new();
    let mut missing = Vec::new();
    for (i, placed) in layout.placed.iter().enumerate() {
        let piece = question
            .jobs
            .iter()
            .find(|j| j.name == placed.job)
            .and_then(|j| j.pieces.iter().find(|p| p.name == placed.piece));
        let pose = placed.pose();
        let Some(piece) = piece else {
            missing.push(format!("{}: not drawn, no job has it", placed.piece));
            continue;
        };
        let within = |v: f64| v.is_finite() && v.abs() <= tol::MAX_COORD;
        if !(within(pose.turn) && within(pose.shift.x) && within(pose.shift.y)) {
            missing.push(format!("{}: not drawn, its position is out of all range", placed.piece));
            continue;
        }
        let outline = pose.ring(&piece.outline.ring);
        let openings = piece.openings.iter().map(|o| pose.ring(&o.ring)).collect();
        parts.push(Part { number: i + 1, placed, piece, pose, outline, openings });
    }
    (parts, missing)
}

/// The pieces of parts and where they lie.
fn laid<'a>(parts: &[Part<'a>]) -> Vec<(&'a Piece, Pose)> {
    parts.iter().map(|p| (p.piece, p.pose)).collect()
}

/// For each part, in how many drops it lies, one in another.
#[must_use]
pub fn depths_in_drops(parts: &[Part<'_>]) -> Vec<usize> {
    let holders = drops::holders(&laid(parts));
    let depth = |k: usize| {
        let mut at = holders.get(k).copied().flatten();
        // A drop in a drop is smaller: there is no way round.
        let mut steps = 0;
        while let Some(holder) = at
            && steps < parts.len()
        {
            steps += 1;
            at = holders.get(holder.piece).copied().flatten();
        }
        steps
    };
    (0..parts.len()).map(depth).collect()
}

/// Areas of a layout.
#[must_use]
pub fn yields(question: &Question, layout: &Layout, slab: &Slab) -> Yield {
    let own = drops::taken(&laid(&parts(question, layout).0));
    // Sums of nothing are -0; adding 0 makes them 0.
    let pieces = 0.0 + own.iter().map(|t| t.outline).sum::<f64>();
    let openings = 0.0 + own.iter().map(|t| t.openings).sum::<f64>();
    Yield::of(slab.outline.area(), usable(question, slab).area(), pieces, openings)
}

/// The slab's outline less the trim all round.
#[must_use]
pub fn usable(question: &Question, slab: &Slab) -> Region {
    sum::shrunk(&slab.outline.to_region(), question.shop.limits.trim, tol::FLATTEN)
}

/// The narrowest stone between an opening and the outline of its piece: how wide, and between which points (piece frame,
/// the first on the outline).
#[must_use]
pub fn narrowest_rail(piece: &Piece, opening: &Opening) -> distance::Nearest {
    distance::ring_lines(&piece.outline.ring, &opening.ring)
}

/// The narrowest stone between two openings of a piece: which two, how wide, and between which points (piece frame).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Web {
    /// Index of the one opening, and of the other.
    pub between: [usize; 2],
    /// How wide, and where.
    pub near: distance::Nearest,
}

/// The narrowest web of a piece; `None` with fewer than two openings.
#[must_use]
pub fn narrowest_web(piece: &Piece) -> Option<Web> {
    let mut best: Option<Web> = None;
    for (i, a) in piece.openings.iter().enumerate() {
        for (j, b) in piece.openings.iter().enumerate().skip(i + 1) {
            let near = distance::ring_lines(&a.ring, &b.ring);
            if near.distance.is_finite() && best.is_none_or(|w| near.distance < w.near.distance) {
                best = Some(Web { between: [i, j], near });
            }
        }
    }
    best
}

/// A flaw that touches what falls out of an opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InDrop {
    /// Index into the parts.
    pub part: usize,
    /// Index of the opening in its piece.
    pub opening: usize,
    /// Its kind.
    pub kind: FlawKind,
    /// True if all of it falls out.
    pub whole: bool,
}

impl InDrop {
    /// What it is and what to do about it.
    #[must_use]
    pub fn words(&self) -> String {
        let kind = self.kind.name();
        let place = if self.whole { "in the drop" } else { "partly in the drop" };
        // A crack runs on when the stone is bent; with the drop it is out.
        if self.kind == FlawKind::Crack {
            format!("{kind} {place}; take the drop out before the piece is moved")
        } else {
            format!("{kind} {place}")
        }
    }
}

/// The flaws of a slab that touch drops, cracks first.
#[must_use]
pub fn flaws_in_drops(slab: &Slab, parts: &[Part<'_>]) -> Vec<InDrop> {
    let mut out = Vec::new();
    for (i, part) in parts.iter().enumerate() {
        for (j, ring) in part.openings.iter().enumerate() {
            let drop = ring.to_region();
            for flaw in slab.flaws.iter().filter(|f| f.bbox().near(&ring.bbox(), 0.0)) {
                if flaw.distance_to(&drop).distance <= 0.0 {
                    out.push(InDrop { part: i, opening: j, kind: flaw.kind, whole: is_inside(flaw, ring) });
                }
            }
        }
    }
    out.sort_by_key(|d| d.kind);
    out
}

/// True if the whole body of a flaw lies in a ring.
fn is_inside(flaw: &Flaw, ring: &Ring) -> bool {
    let points = match &flaw.body {
        FlawBody::Line(line) => line.as_slice(),
        FlawBody::Area(area) => area.points(),
        FlawBody::Spot(p) => std::slice::from_ref(p),
    };
    let sides: Vec<(Point, Point)> = ring.edges().collect();
    let near = match &flaw.body {
        FlawBody::Area(area) => distance::ring_lines(area, ring),
        FlawBody::Line(_) | FlawBody::Spot(_) => distance::lines(distance::open_line(points), sides.iter().copied()),
    };
    points.iter().all(|&p| ring.contains(p)) && near.distance >= flaw.radius
}

/// The least distance between the stone of two pieces on a slab, with their numbers; `None` with fewer than two pieces.
#[must_use]
pub fn least_gap(parts: &[Part<'_>]) -> Option<(f64, [usize; 2])> {
    let mut best: Option<(f64, [usize; 2])> = None;
    let holders = drops::holders(&laid(parts));
    // A piece in a drop is measured to the hole, not to the outline round it.
    let hole = |inner: usize, outer: usize| {
        let holder = holders.get(inner).copied().flatten().filter(|h| h.piece == outer)?;
        parts.get(outer)?.openings.get(holder.opening)
    };
    for (i, a) in parts.iter().enumerate() {
        for (k, b) in parts.iter().enumerate().skip(i + 1) {
            if best.is_some_and(|(d, _)| a.outline.bbox().gap(&b.outline.bbox()) >= d) {
                continue;
            }
            let (one, other) = (hole(k, i).unwrap_or(&a.outline), hole(i, k).unwrap_or(&b.outline));
            let d = distance::ring_lines(one, other).distance;
            if d.is_finite() && best.is_none_or(|(least, _)| d < least) {
                best = Some((d, [a.number, b.number]));
            }
        }
    }
    best
}

/// Two points of a piece that a sawyer can mark on the stone, piece frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Marks {
    /// The one nearer to the corner of the two lines.
    pub p: Point,
    /// The other.
    pub q: Point,
    /// Directions of the sides that meet at `p` and at `q` (unit vectors away from the corner, piece frame); `None` for a
    /// round piece, whose marks are its middle and the end of a half axis.
    pub sides: Option<[[Point; 2]; 2]>,
}

/// The corners of a piece that lie lowest left and highest right, seen in a direction: `along` is a unit vector in the
/// slab frame. Where sides meet in a rounding, the corner is where they would meet.
#[must_use]
pub fn marks(piece: &Piece, pose: &Pose, along: Point) -> Marks {
    match &piece.outline.shape {
        Shape::Ellipse { centre, half_x, .. } => Marks { p: *centre, q: *centre + pt(*half_x, 0.0), sides: None },
        Shape::Polygon(corners) => {
            let n = corners.len();
            let height = |i: usize| {
                let p = pose.apply(corners[i].at);
                p.dot(along) + along.cross(p)
            };
            let pick =
                |sign: f64| (0..n).min_by(|&i, &j| (sign * height(i)).total_cmp(&(sign * height(j)))).unwrap_or(0);
            let (p, q) = (pick(1.0), pick(-1.0));
            let unit = |v: Point| v * (1.0 / v.norm().max(tol::SAME_POINT));
            let sides = |i: usize| {
                let at = corners[i].at;
                [unit(corners[(i + 1) % n].at - at), unit(corners[(i + n - 1) % n].at - at)]
            };
            Marks { p: corners[p].at, q: corners[q].at, sides: Some([sides(p), sides(q)]) }
        }
    }
}

/// A point of a piece by which it is measured.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedCorner {
    /// Its number, from 1 at the outline's first corner on counter-clockwise; of a round piece "M", its middle, and 1 to 4, the
    /// ends of its half axes from the front on.
    pub name: String,
    /// Piece frame, mm. Where sides meet in a rounding, it is where they would meet.
    pub at: Point,
    /// Radius of its rounding, mm; 0: sharp.
    pub radius: f64,
}

/// How a piece is turned on its slab, degrees counter-clockwise, in words.
#[must_use]
pub fn turn_words(turn: f64) -> String {
    let turn = turn.rem_euclid(360.0);
    if turn.min(360.0 - turn) < 0.05 {
        "not turned".to_owned()
    } else if (turn - 180.0).abs() < 0.05 {
        "turned by 180°".to_owned()
    } else if turn < 180.0 {
        format!("turned by {}° counter-clockwise", Decimal(turn, 1))
    } else {
        format!("turned by {}° clockwise", Decimal(360.0 - turn, 1))
    }
}

/// The points by which a piece is measured.
#[must_use]
pub fn corners(piece: &Piece) -> Vec<NamedCorner> {
    let named = |name: String, at: Point, radius: f64| NamedCorner { name, at, radius };
    match &piece.outline.shape {
        Shape::Polygon(corners) => {
            corners.iter().enumerate().map(|(i, c)| named((i + 1).to_string(), c.at, c.radius)).collect()
        }
        Shape::Ellipse { centre, half_x, half_y } => {
            let ends = [pt(0.0, -half_y), pt(*half_x, 0.0), pt(0.0, *half_y), pt(-half_x, 0.0)];
            let ends = ends.iter().enumerate().map(|(i, &v)| named((i + 1).to_string(), *centre + v, 0.0));
            std::iter::once(named("M".to_owned(), *centre, 0.0)).chain(ends).collect()
        }
    }
}

/// The lines of the front edge, piece frame: the edges on y = 0; if there is none, the lowest point twice.
#[must_use]
pub fn front(piece: &Piece) -> Vec<(Point, Point)> {
    // Half a millimetre: templates are no better.
    let level = |p: Point| p.y.abs() <= 0.5;
    let edges = piece.outline.ring.edges().filter(|&(a, b)| level(a) && level(b));
    let mut on: Vec<_> = edges.filter(|&(a, b)| a.distance(b) > 1.0).collect();
    // The first steps of a rounded corner are level too, and no edge.
    let longest = on.iter().map(|(a, b)| a.distance(*b)).fold(0.0, f64::max);
    on.retain(|(a, b)| a.distance(*b) > 0.1 * longest);
    let round = matches!(piece.outline.shape, Shape::Ellipse { .. });
    if !on.is_empty() && !round {
        return on;
    }
    let lowest =
        piece.outline.ring.points().iter().copied().min_by(|a, b| a.y.total_cmp(&b.y).then(a.x.total_cmp(&b.x)));
    match (&piece.outline.shape, lowest) {
        (Shape::Ellipse { centre, half_y, .. }, _) => {
            let p = *centre - pt(0.0, *half_y);
            vec![(p, p)]
        }
        (Shape::Polygon(_), Some(p)) => vec![(p, p)],
        (Shape::Polygon(_), None) => Vec::new(),
    }
}

/// All slabs of a plan together.
#[must_use]
pub fn total(question: &Question, plan: &Plan) -> Yield {
    let mut sums = [0.0; 4];
    for layout in &plan.layouts {
        if let Some(slab) = slab(question, layout) {
            let y = yields(question, layout, slab);
            for (s, v) in sums.iter_mut().zip([y.slab_mm2, y.usable_mm2, y.pieces_mm2, y.openings_mm2]) {
                *s += v;
            }
        }
    }
    Yield::of(sums[0], sums[1], sums[2], sums[3])
}

/// Mass of a piece with its openings cut, kg: its area times the slab's thickness and density (tested, else that of its
/// class).
#[must_use]
pub fn mass_kg(slab: &Slab, piece: &Piece) -> f64 {
    let tested = slab.tests.as_ref().and_then(|t| t.density);
    let density = tested.unwrap_or(slab.stone.strength().density.value);
    let openings: f64 = piece.openings.iter().map(|o| o.ring.area()).sum();
    (piece.outline.ring.area() - openings).max(0.0) * slab.thickness * density * 1e-9
}
