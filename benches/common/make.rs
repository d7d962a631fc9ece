//! Pieces, slabs and flaws made in code, and the dice they are drawn with.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use scantling::geom::curve::Corner;
use scantling::geom::{BBox, Point, Ring, pt};
use scantling::model::{
    Finish, Flaw, FlawBody, FlawKind, GrainWish, Hidden, Job, Opening, OpeningKind, Outline, Piece, Question, Shape,
    Shop, Slab, StoneClass,
};

/// The one material of all racks here.
pub const MATERIAL: &str = "grey granite";

/// Its thickness, mm.
pub const THICKNESS: f64 = 30.0;

/// Random draws of one case: the same for the same seed and stream.
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// The dice of a stream.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self(rng)
    }

    /// A number in `[0, 1)`.
    pub fn share(&mut self) -> f64 {
        self.0.random::<f64>()
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.share() < p
    }

    /// A number in `[from, to)`.
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.share()
    }

    /// A multiple of `step` in about `[from, to]`.
    pub fn stepped(&mut self, from: f64, to: f64, step: f64) -> f64 {
        (self.between(from, to) / step).round() * step
    }

    /// An index below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        self.0.random_range(0..n)
    }

    /// One of these.
    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// Into any order.
    pub fn shuffle<T>(&mut self, what: &mut [T]) {
        for i in (1..what.len()).rev() {
            what.swap(i, self.below(i + 1));
        }
    }
}

/// A raw-edged piece with these corners, that may be turned freely.
pub fn piece(name: &str, corners: Vec<Corner>) -> Piece {
    let finishes = vec![Finish::Raw; corners.len()];
    Piece {
        name: name.to_owned(),
        kind: 0,
        outline: Outline::new(Shape::Polygon(corners), finishes),
        openings: Vec::new(),
        grain: GrainWish::Any,
        grain_tolerance: 0.0,
        one_way: false,
        hidden: Hidden::default(),
    }
}

/// A sharp corner.
pub const fn sharp(x: f64, y: f64) -> Corner {
    Corner { at: pt(x, y), radius: 0.0 }
}

/// The corners of a rectangle: front left, front right, back right, back left.
pub fn rectangle(length: f64, depth: f64) -> Vec<Corner> {
    vec![sharp(0.0, 0.0), sharp(length, 0.0), sharp(length, depth), sharp(0.0, depth)]
}

/// Finishes these sides, each named by the corner where it starts; side 0 of a rectangle is its front.
pub fn finish(piece: &mut Piece, sides: &[usize]) {
    let finishes = (0..piece.outline.finishes.len())
        .map(|i| if sides.contains(&i) { Finish::Finished("eased".to_owned()) } else { Finish::Raw })
        .collect();
    piece.outline = Outline::new(piece.outline.shape.clone(), finishes);
}

/// A rectangular opening with corners of 15 mm, its middle at `centre`.
pub fn opening(name: &str, kind: OpeningKind, centre: Point, width: f64, depth: f64) -> Opening {
    let shape = Shape::rectangle(width, depth, 15.0).moved(centre - pt(width / 2.0, depth / 2.0));
    Opening::new(name.to_owned(), kind, shape)
}

/// A tap hole of 35 mm.
pub fn tap(centre: Point) -> Opening {
    Opening::new("tap".to_owned(), OpeningKind::TapHole, Shape::Ellipse { centre, half_x: 17.5, half_y: 17.5 })
}

/// A slab without flaws.
pub fn slab(outline: Ring, price: f64, grain: Option<f64>) -> Slab {
    Slab {
        name: String::new(),
        material: MATERIAL.to_owned(),
        stone: StoneClass::Granite,
        stone_given: true,
        thickness: THICKNESS,
        lot: None,
        number: None,
        price,
        outline,
        grain,
        flaws: Vec::new(),
        tests: None,
        photo: None,
        from: None,
    }
}

/// A convex outline that leaves a rectangle by up to `by` (mm) at each corner; the rectangle itself for `by` = 0.
pub fn outline(dice: &mut Dice, length: f64, depth: f64, by: f64) -> Ring {
    let mut off = || (dice.share() * by).round();
    let corners =
        [pt(off(), off()), pt(length - off(), off()), pt(length - off(), depth - off()), pt(off(), depth - off())];
    Ring::tidy(&corners).unwrap().0
}

/// A flaw with the default zones of its kind; `width` is that of a line or the diameter of a spot, mm.
pub fn flaw(kind: FlawKind, body: FlawBody, width: f64) -> Flaw {
    Flaw { kind, body, radius: width / 2.0, allow: kind.default_zones() }
}

/// Up to `most` flaws anywhere on a slab, as a yard marks them: pits, stains, fissures, patches, short cracks at the rim.
pub fn strew_flaws(dice: &mut Dice, slab: &mut Slab, most: usize) {
    let b = slab.outline.bbox();
    for _ in 0..dice.below(most + 1) {
        let at = |dice: &mut Dice| {
            pt(dice.stepped(b.min.x + 60.0, b.max.x - 60.0, 1.0), dice.stepped(b.min.y + 60.0, b.max.y - 60.0, 1.0))
        };
        let middle = at(dice);
        let flaw = match dice.below(6) {
            0 | 1 => {
                let width = dice.stepped(4.0, 16.0, 1.0);
                flaw(FlawKind::Pit, FlawBody::Spot(middle), width)
            }
            2 => {
                let end = middle + pt(dice.stepped(200.0, 900.0, 1.0), dice.stepped(-150.0, 150.0, 1.0));
                flaw(FlawKind::Fissure, FlawBody::Line(vec![middle, end]), 2.0)
            }
            3 => {
                let reach = pt(dice.stepped(15.0, 60.0, 1.0), dice.stepped(15.0, 40.0, 1.0));
                let ring = Ring::rectangle(BBox { min: middle - reach, max: middle + reach });
                flaw(dice.pick(&[FlawKind::Stain, FlawKind::Patch]), FlawBody::Area(ring), 0.0)
            }
            _ => {
                // A crack runs in from the rim.
                let from = pt(middle.x, if dice.chance(0.5) { b.min.y } else { b.max.y });
                let end = from + pt(dice.stepped(-120.0, 120.0, 1.0), (middle.y - from.y).clamp(-300.0, 300.0));
                flaw(FlawKind::Crack, FlawBody::Line(vec![from, end]), 1.0)
            }
        };
        slab.flaws.push(flaw);
    }
}

/// A job with these pieces, none a copy of another.
pub fn job(name: &str, mut pieces: Vec<Piece>) -> Job {
    for (kind, piece) in pieces.iter_mut().enumerate() {
        piece.kind = kind;
    }
    Job { name: name.to_owned(), material: MATERIAL.to_owned(), thickness: THICKNESS, pieces }
}

/// A question under the default limits; the slabs get their names in rack order.
pub fn question(jobs: Vec<Job>, mut rack: Vec<Slab>) -> Question {
    for (i, slab) in rack.iter_mut().enumerate() {
        slab.name = format!("S{}", i + 1);
    }
    Question { jobs, rack, shop: Shop::default() }
}
