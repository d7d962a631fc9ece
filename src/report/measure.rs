//! What a report says of a layout, measured on the geometry of the question at the poses of the plan.

use crate::geom::curve::{Corner, Source};
use crate::geom::{Point, Pose, Region, Ring, distance, pt, sum, tol};
use crate::model::{
    Curve, Flaw, FlawBody, FlawKind, Layout, Offcut, Opening, Piece, Placed, Plan, Question, Shape, Slab, Yield, drops,
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
/// slab frame. Where sides meet in a rounding, the corner is where they would meet; corners in the air on the way of a curve do not
/// count. A piece with fewer than two others is marked like a round one, or by the tops of its curve.
#[must_use]
pub fn marks(piece: &Piece, pose: &Pose, along: Point) -> Marks {
    let corners = match &piece.outline.shape {
        Shape::Ellipse { centre, half_x, .. } => {
            return Marks { p: *centre, q: *centre + pt(*half_x, 0.0), sides: None };
        }
        Shape::Polygon(corners) => corners,
    };
    let n = corners.len();
    let height = |at: Point| {
        let p = pose.apply(at);
        p.dot(along) + along.cross(p)
    };
    let outermost = |points: &[Point]| {
        let pick = |sign: f64| {
            let far = |i: usize| sign * height(points[i]);
            (0..points.len()).min_by(|&i, &j| far(i).total_cmp(&far(j))).unwrap_or(0)
        };
        (pick(1.0), pick(-1.0))
    };
    let air = piece.outline.in_air();
    let real: Vec<usize> = (0..n).filter(|&i| !air[i]).collect();
    if real.len() < 2 {
        let points = self::corners(piece);
        let points: Vec<Point> = points.iter().filter(|c| !c.in_air).map(|c| c.at).collect();
        let [p, q] = match (real.is_empty(), points.get(1)) {
            // All round, like an ellipse: the points are its tops.
            (true, Some(&right)) => [piece.outline.shape.extent().centre(), right],
            _ => {
                let (p, q) = outermost(&points);
                [p, q].map(|i| points.get(i).copied().unwrap_or_default())
            }
        };
        return Marks { p, q, sides: None };
    }
    let points: Vec<Point> = real.iter().map(|&i| corners[i].at).collect();
    let (p, q) = outermost(&points);
    let unit = |v: Point| v * (1.0 / v.norm().max(tol::SAME_POINT));
    let sides = |k: usize| {
        let (i, at) = (real[k], points[k]);
        [unit(corners[(i + 1) % n].at - at), unit(corners[(i + n - 1) % n].at - at)]
    };
    Marks { p: points[p], q: points[q], sides: Some([sides(p), sides(q)]) }
}

/// A point of a piece by which it is measured.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedCorner {
    /// Its number, from 1 at the outline's first corner on counter-clockwise; "T" for the top of a curve, with a number if there are
    /// several; of a round piece "M", its middle, and 1 to 4, the ends of its half axes from the front on.
    pub name: String,
    /// Piece frame, mm. Where sides meet in a rounding, it is where they would meet.
    pub at: Point,
    /// Radius of its rounding, mm; 0: sharp. Of a top: of its curve, if that has one only; else 0.
    pub radius: f64,
    /// True if it is no point of the stone but lies on the way of a curve, where its tangents meet.
    pub in_air: bool,
    /// True for the top of a curve.
    pub is_top: bool,
}

impl NamedCorner {
    /// Its radius, with lengths as `length` writes them, and what else must be known of it.
    #[must_use]
    pub fn words(&self, length: impl Fn(f64) -> String) -> String {
        match (self.radius > 0.0, self.in_air) {
            _ if self.is_top => "top of curve".to_owned(),
            (true, true) => format!("R {} (air)", length(self.radius)),
            (true, false) => format!("R {}", length(self.radius)),
            (false, _) => String::new(),
        }
    }
}

/// What "(air)" means, for a table that has it.
pub const IN_AIR: &str = "(air): no point of the stone, but where the tangents of a curve meet.";

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

/// The points by which a piece is measured: its corners, then the tops of its curves.
#[must_use]
pub fn corners(piece: &Piece) -> Vec<NamedCorner> {
    let named = |name: String, at: Point, radius: f64| NamedCorner { name, at, radius, in_air: false, is_top: false };
    match &piece.outline.shape {
        Shape::Polygon(corners) => {
            let air = piece.outline.in_air();
            let of =
                |(i, c): (usize, &Corner)| NamedCorner { in_air: air[i], ..named((i + 1).to_string(), c.at, c.radius) };
            let mut out: Vec<NamedCorner> = corners.iter().enumerate().map(of).collect();
            let curves = piece.outline.sides().into_iter().filter_map(|s| s.curve);
            let of = |c: Curve| c.tops.into_iter().map(move |top| (top, c.radius.unwrap_or_default()));
            let tops: Vec<(Point, f64)> = curves.flat_map(of).collect();
            let name = |i: usize| if tops.len() == 1 { "T".to_owned() } else { format!("T{}", i + 1) };
            let of = |(i, &(at, r)): (usize, &(Point, f64))| NamedCorner { is_top: true, ..named(name(i), at, r) };
            out.extend(tops.iter().enumerate().map(of));
            out
        }
        Shape::Ellipse { centre, half_x, half_y } => {
            let ends = [pt(0.0, -half_y), pt(*half_x, 0.0), pt(0.0, *half_y), pt(-half_x, 0.0)];
            let ends = ends.iter().enumerate().map(|(i, &v)| named((i + 1).to_string(), *centre + v, 0.0));
            std::iter::once(named("M".to_owned(), *centre, 0.0)).chain(ends).collect()
        }
    }
}

/// The diagonals of a piece with four corners, to check them by: the names of their ends, and their length, mm. Corners in the air and
/// tops of curves do not count; `None` of any other piece.
#[must_use]
pub fn diagonals(corners: &[NamedCorner]) -> Option<[(&str, &str, f64); 2]> {
    let real: Vec<&NamedCorner> = corners.iter().filter(|c| !c.in_air && !c.is_top).collect();
    let [a, b, c, d] = real.as_slice() else { return None };
    Some([[a, c], [b, d]].map(|[p, q]| (p.name.as_str(), q.name.as_str(), p.at.distance(q.at))))
}

/// The lines of the front edge, piece frame: the edges on y = 0; if there is none, the lowest point twice.
#[must_use]
pub fn front(piece: &Piece) -> Vec<(Point, Point)> {
    // Half a millimetre: templates are no better.
    let level = |p: Point| p.y.abs() <= 0.5;
    // The steps of a rounding are level too where it touches the line, and no edge.
    let straight = piece.outline.ring.edges().zip(&piece.outline.sources).filter(|(_, s)| matches!(s, Source::Side(_)));
    let edges = straight.map(|(edge, _)| edge).filter(|&(a, b)| level(a) && level(b));
    let mut on: Vec<_> = edges.filter(|&(a, b)| a.distance(b) > 1.0).collect();
    // And so are steps of a curve that was drawn as a polyline.
    let longest = on.iter().map(|(a, b)| a.distance(*b)).fold(0.0, f64::max);
    on.retain(|(a, b)| a.distance(*b) > 0.1 * longest);
    let round = matches!(piece.outline.shape, Shape::Ellipse { .. });
    let width = piece.outline.shape.extent().width();
    let is_straight = on.iter().map(|(a, b)| a.distance(*b)).sum::<f64>() > STRAIGHT * width;
    if !on.is_empty() && is_straight && !round {
        return on;
    }
    let bow = if round { Vec::new() } else { chords(&piece.outline.bow(1.0)) };
    if bow.iter().map(|(a, b)| a.distance(*b)).sum::<f64>() > STRAIGHT * width {
        return bow;
    }
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

/// The corners of an offcut's line that are to be chalked, slab frame, counter-clockwise; the first is number 1. Corners of the slab
/// itself are none: there the line runs along the slab's own edges. Bends that a chalk line could not show are left out.
#[must_use]
pub fn offcut_corners(offcut: &Offcut, slab: &Slab) -> Vec<Point> {
    /// mm; a chalk line is not finer.
    const CHALK: f64 = 2.0;
    /// mm; an edge that turns round the corner of a piece by the kerf is a corner, where its neighbours would meet.
    const SHORT: f64 = 12.0;
    let given: Vec<Point> = offcut.outline.iter().map(|&p| p.into()).collect();
    let Ok((ring, _)) = Ring::tidy(&given) else { return Vec::new() };
    let mut points = ring.points().to_vec();
    let from_line = |a: Point, b: Point, p: Point| {
        let d = b - a;
        let t = ((p - a).dot(d) / d.dot(d)).clamp(0.0, 1.0);
        a.lerp(b, t).distance(p)
    };
    while points.len() > 3 {
        let n = points.len();
        let off = |i: usize| from_line(points[(i + n - 1) % n], points[(i + 1) % n], points[i]);
        let Some(least) = (0..n).min_by(|&i, &j| off(i).total_cmp(&off(j))) else { break };
        if off(least) >= CHALK {
            break;
        }
        points.remove(least);
    }
    let mut i = 0;
    while points.len() > 3 && i < points.len() {
        let n = points.len();
        let [a, b, c, d] = [i + n - 1, i, i + 1, i + 2].map(|k| points[k % n]);
        let (u, v) = (b - a, c - d);
        let t = (d - a).cross(v) / u.cross(v);
        let meet = a + u * t;
        if b.distance(c) < SHORT && meet.is_finite() && meet.distance(b).max(meet.distance(c)) < SHORT {
            points[i] = meet;
            points.remove((i + 1) % n);
        } else {
            i += 1;
        }
    }
    let on_edge = |p: Point| slab.outline.edges().any(|(a, b)| from_line(a, b, p) <= CHALK);
    let n = points.len();
    let own = |i: usize| {
        let (a, b) = (points[i % n], points[(i + 1) % n]);
        [0.0, 0.25, 0.5, 0.75, 1.0].iter().all(|&t| on_edge(a.lerp(b, t)))
    };
    (0..n).filter(|&i| !(own(i) && own(i + n - 1))).map(|i| points[i]).collect()
}

/// A front that is straight for less than this share of the piece's width is a bow that only touches its front line.
const STRAIGHT: f64 = 0.15;

/// Five chords of a line, the middle one first.
fn chords(line: &[Point]) -> Vec<(Point, Point)> {
    let n = line.len().saturating_sub(1);
    let long: f64 = line.windows(2).map(|s| s[0].distance(s[1])).sum();
    let at = |share: f64| {
        let mut left = long * share;
        for s in line.windows(2) {
            let step = s[0].distance(s[1]);
            if left <= step && step > 0.0 {
                return s[0].lerp(s[1], left / step);
            }
            left -= step;
        }
        line[n]
    };
    if n == 0 {
        return Vec::new();
    }
    [2.0, 1.0, 3.0, 0.0, 4.0].map(|k| (at(k / 5.0), at((k + 1.0) / 5.0))).to_vec()
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

/// Mass of a piece as it comes off the saw, its openings not cut yet, kg; see [`mass_kg`].
#[must_use]
pub fn whole_mass_kg(slab: &Slab, piece: &Piece) -> f64 {
    kg(slab, piece.outline.ring.area())
}

/// Mass of a piece with its openings cut, kg: its area times the slab's thickness and density (tested, else that of its
/// class).
#[must_use]
pub fn mass_kg(slab: &Slab, piece: &Piece) -> f64 {
    let openings: f64 = piece.openings.iter().map(|o| o.ring.area()).sum();
    kg(slab, (piece.outline.ring.area() - openings).max(0.0))
}

fn kg(slab: &Slab, mm2: f64) -> f64 {
    let tested = slab.tests.as_ref().and_then(|t| t.density);
    mm2 * slab.thickness * tested.unwrap_or(slab.stone.strength().density.value) * 1e-9
}
