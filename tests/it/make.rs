//! Questions made in code, for tests of every subject.

use scantling::geom::curve::Corner;
use scantling::geom::{BBox, Point, Ring, pt};
use scantling::model::{
    Finish, Flaw, FlawBody, FlawKind, GrainWish, Hidden, Job, Limits, Opening, OpeningKind, Outline, Piece, Question,
    Shape, Shop, Slab, StoneClass,
};

/// A raw-edged rectangle that may be turned freely.
pub fn piece(name: &str, length: f64, depth: f64) -> Piece {
    Piece {
        name: name.to_owned(),
        kind: 0,
        outline: Outline::new(Shape::rectangle(length, depth, 0.0), vec![Finish::Raw; 4]),
        openings: Vec::new(),
        grain: GrainWish::Any,
        grain_tolerance: 0.0,
        one_way: false,
        hidden: Hidden::default(),
    }
}

/// A rectangular opening, its middle at `centre`.
pub fn opening(name: &str, kind: OpeningKind, centre: [f64; 2], width: f64, depth: f64, radius: f64) -> Opening {
    let shape = Shape::rectangle(width, depth, radius).moved(Point::from(centre) - pt(width / 2.0, depth / 2.0));
    Opening::new(name.to_owned(), kind, shape)
}

/// A rectangular slab of granite without grain or flaws.
pub fn slab(name: &str, length: f64, depth: f64, price: f64) -> Slab {
    Slab {
        name: name.to_owned(),
        material: "grey granite".to_owned(),
        stone: StoneClass::Granite,
        stone_given: true,
        thickness: 30.0,
        lot: None,
        number: None,
        price,
        outline: Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(length, depth) }),
        grain: None,
        flaws: Vec::new(),
        tests: None,
        photo: None,
        from: None,
    }
}

/// A flaw along a straight line, with the default zones of its kind.
pub fn line_flaw(kind: FlawKind, from: [f64; 2], to: [f64; 2], width: f64) -> Flaw {
    Flaw { kind, body: FlawBody::Line(vec![from.into(), to.into()]), radius: width / 2.0, allow: kind.default_zones() }
}

/// One job on a rack, with the default shop.
pub fn question(pieces: Vec<Piece>, rack: Vec<Slab>) -> Question {
    let job = Job { name: "boathouse".to_owned(), material: "grey granite".to_owned(), thickness: 30.0, pieces };
    Question { jobs: vec![job], rack, shop: Shop::default() }
}

/// The same with kerf, gap and trim zero: pure geometry, for packings from the literature.
pub fn tight(pieces: Vec<Piece>, rack: Vec<Slab>) -> Question {
    let mut q = question(pieces, rack);
    q.shop.limits = Limits { kerf: 0.0, gap: 0.0, trim: 0.0, ..Limits::default() };
    q
}

/// A raw-edged polygon whose grain runs along it, its box from the origin.
pub fn polygon(name: &str, points: &[Point]) -> Piece {
    let low = BBox::of(points).min;
    let points: Vec<Point> = points.iter().map(|&p| p - low).collect();
    let finishes = vec![Finish::Raw; points.len()];
    let shape = Shape::Polygon(points.into_iter().map(|at| Corner { at, radius: 0.0 }).collect());
    Piece { outline: Outline::new(shape, finishes), grain: GrainWish::Towards(0.0), ..piece(name, 100.0, 100.0) }
}
