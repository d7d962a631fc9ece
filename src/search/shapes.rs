//! The shapes that a layout may use (a class of bodies at a turn each), and for every two of them the shifts that bring
//! them too close.

use std::fmt;
use std::sync::{Arc, OnceLock};

use super::cache::Weigh;
use super::field::Field;
use crate::geom::cell::Obstacle;
use crate::geom::{BBox, Point, Region, pt};

/// A class of bodies at a turn.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    /// Which class.
    pub class: usize,
    /// Degrees in `[0, 360)`.
    pub turn: f64,
    /// Box of the body at that turn, about its origin, mm.
    pub reach: BBox,
    /// Area of its convex hull, mm².
    pub hull: f64,
}

/// Gives what is forbidden between two bodies: class and turn of the first, class and turn of the second.
pub type Maker<'a> = dyn Fn(usize, f64, usize, f64) -> Arc<Pair> + Sync + 'a;

/// The table of the shifts of one body, relative to another, at which the two are too close.
#[derive(Debug)]
pub struct Pair {
    field: Field,
    obstacle: Obstacle,
}

impl Pair {
    /// With the table made.
    #[must_use]
    pub fn new(region: &Region) -> Self {
        Self { field: Field::new(region), obstacle: Obstacle::region(region) }
    }

    /// What the relative shift must keep out of.
    #[must_use]
    pub fn obstacle(&self) -> &Obstacle {
        &self.obstacle
    }
}

impl Weigh for Pair {
    fn bytes(&self) -> usize {
        // A side of the obstacle is two points, about.
        self.field.bytes() + self.obstacle.sides() * 2 * std::mem::size_of::<Point>()
    }
}

/// How the answer for two shapes follows from a table: relative shifts are turned back by so many quarters first.
#[derive(Clone, Copy, Debug)]
struct Link {
    pair: u32,
    quarters: u8,
}

/// A class and a turn, and another class and turn.
type Key = (usize, u64, usize, u64);

/// All shapes, and what is forbidden between them. Tables are made when first asked for; they depend on nothing else.
pub struct Shapes<'a> {
    list: Vec<Shape>,
    links: Vec<Link>,
    keys: Vec<Key>,
    pairs: Vec<OnceLock<Arc<Pair>>>,
    gap: f64,
    make: Box<Maker<'a>>,
}

impl fmt::Debug for Shapes<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Shapes").field("list", &self.list).field("gap", &self.gap).finish_non_exhaustive()
    }
}

/// Number of quarters in a turn, if it is made of quarters.
fn quarters(turn: f64) -> Option<u8> {
    let q = turn / 90.0;
    (q == q.floor() && (0.0..4.0).contains(&q)).then_some(q as u8)
}

/// The vector turned back by so many quarters.
#[must_use]
pub fn turned_back(p: Point, quarters: u8) -> Point {
    match quarters {
        0 => p,
        1 => pt(p.y, -p.x),
        2 => pt(-p.x, -p.y),
        _ => pt(-p.y, p.x),
    }
}

impl<'a> Shapes<'a> {
    /// Shapes between whose bodies `gap` (mm) is the largest distance that anything of two bodies must keep; `make` works
    /// out what is forbidden.
    #[must_use]
    pub fn new(list: Vec<Shape>, gap: f64, make: Box<Maker<'a>>) -> Self {
        let n = list.len();
        let mut links = Vec::with_capacity(n * n);
        let mut known: std::collections::BTreeMap<Key, u32> = std::collections::BTreeMap::new();
        let mut keys: Vec<Key> = Vec::new();
        for one in &list {
            for other in &list {
                let (key, quarters) = canonical(one, other);
                let pair = *known.entry(key).or_insert_with(|| {
                    keys.push(key);
                    (keys.len() - 1) as u32
                });
                links.push(Link { pair, quarters });
            }
        }
        let pairs = keys.iter().map(|_| OnceLock::new()).collect();
        Self { list, links, keys, pairs, gap, make }
    }

    /// The shapes.
    #[must_use]
    pub fn list(&self) -> &[Shape] {
        &self.list
    }

    /// How many different tables there are.
    #[must_use]
    pub fn tables(&self) -> usize {
        self.pairs.len()
    }

    /// Makes a table, if that has not been done. `index` below [`Shapes::tables`].
    pub fn prepare(&self, index: usize) {
        self.pair(index);
    }

    fn pair(&self, index: usize) -> &Pair {
        self.pairs[index].get_or_init(|| {
            let (a, ta, b, tb) = self.keys[index];
            (self.make)(a, f64::from_bits(ta), b, f64::from_bits(tb))
        })
    }

    /// Box of the relative shifts of `other` at which it may be too close to `one`.
    #[must_use]
    pub fn reach(&self, one: usize, other: usize) -> BBox {
        let (a, b) = (self.list[one].reach, self.list[other].reach);
        let g = pt(self.gap, self.gap);
        BBox { min: a.min - b.max - g, max: a.max - b.min + g }
    }

    /// The table for two shapes, and by how many quarters the relative shift of `other` must be turned back to ask it.
    #[must_use]
    pub fn field(&self, one: usize, other: usize) -> (&Field, u8) {
        let link = self.links[one * self.list.len() + other];
        (&self.pair(link.pair as usize).field, link.quarters)
    }

    /// What the relative shift of `other` must keep out of, once turned back by so many quarters.
    #[must_use]
    pub fn obstacle(&self, one: usize, other: usize) -> (&Obstacle, u8) {
        let link = self.links[one * self.list.len() + other];
        (&self.pair(link.pair as usize).obstacle, link.quarters)
    }

    /// How deep (mm) two shapes are in one another, `other` lying at `by` relative to `one`; `None` if they are not.
    #[must_use]
    pub fn depth(&self, one: usize, other: usize, by: Point) -> Option<f64> {
        let (field, quarters) = self.field(one, other);
        field.depth(turned_back(by, quarters))
    }
}

/// The pair of shapes that stands for all that differ from it by quarter turns or by order, and the quarters.
fn canonical(one: &Shape, other: &Shape) -> (Key, u8) {
    let swapped = (other.class, other.turn.to_bits()) < (one.class, one.turn.to_bits());
    let (a, b) = if swapped { (other, one) } else { (one, other) };
    let half = if swapped { 2 } else { 0 };
    match quarters(a.turn) {
        Some(q) => {
            let by = (b.turn - a.turn).rem_euclid(360.0);
            ((a.class, 0.0f64.to_bits(), b.class, by.to_bits()), (q + half) % 4)
        }
        None => ((a.class, a.turn.to_bits(), b.class, b.turn.to_bits()), half),
    }
}
