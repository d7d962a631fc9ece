//! A photograph of a slab, straightened by its marks, and pictures of the pieces cut out of it.
//!
//! In: pixels, marks, a slab, where pieces lie. Out: how well the marks agree, and pixels. Must not know: files, how
//! pictures are written, paper.
//!
//! Picture frame: pixels, (0, 0) is the upper left corner of the picture, y runs down; see [`crate::model::Photo`].

mod grid;
mod homography;
mod mask;
mod pictures;
mod raster;

pub use grid::Grid;
pub use homography::Homography;
pub use pictures::{PiecePicture, Seen, piece_picture, pieces, slab_picture};
pub use raster::Raster;

use crate::geom::{Point, Ring};
use crate::model::Photo;

/// Marks whose [`thickness`] is below this are nearly in a line: small errors in them become large ones elsewhere.
pub const LEAST_THICKNESS: f64 = 0.05;

/// A mark that is farther off than this (mm) is probably a mistake. A tape is read to 1 or 2 mm, and the lens of a phone
/// bends lines by a few.
pub const MOST_OFF: f64 = 10.0;

/// Why marks do not straighten a photograph.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// Fewer than four marks.
    TooFew,
    /// Not as many places as marks.
    Unequal,
    /// All marks but one at most are nearly in a line in the picture; with their thickness.
    MarksInLine(f64),
    /// The same of their places on the slab.
    PlacesInLine(f64),
    /// No camera sees the places as the marks lie: they are in another order, or one is wrong. Says which mark (from 0) lies
    /// behind the horizon, if one does.
    Disordered(Option<usize>),
    /// The marks run round the other way than their places: the picture is mirrored, or the order is.
    Mirrored,
}

/// How thick a set of points is where it is thinnest when any one of them is left out: the standard deviation across the
/// best line through the rest, over that of all points along theirs. Four points determine a homography if no three of
/// them are in a line, more if not all but one are; then this is above 0. A square has 0.67, the corners of 3 m by 1.8 m
/// have 0.46, three points in a line and one beside it have 0.
#[must_use]
pub fn thickness(points: &[Point]) -> f64 {
    let (long, _) = deviations(points.iter().copied());
    let least = (0..points.len())
        .map(|out| deviations(points.iter().enumerate().filter(|(i, _)| *i != out).map(|(_, &p)| p)).1)
        .fold(f64::INFINITY, f64::min);
    let share = least / long;
    if share.is_finite() { share } else { 0.0 }
}

/// Standard deviations along the best line through points and across it.
fn deviations(points: impl Iterator<Item = Point> + Clone) -> (f64, f64) {
    let n = points.clone().count().max(1) as f64;
    let middle = points.clone().fold(Point::default(), |sum, p| sum + p) * (1.0 / n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for p in points {
        let d = p - middle;
        (xx, xy, yy) = (xx + d.x * d.x, xy + d.x * d.y, yy + d.y * d.y);
    }
    let (mean, half) = ((xx + yy) / 2.0, ((xx - yy) / 2.0).hypot(xy));
    (((mean + half) / n).max(0.0).sqrt(), ((mean - half) / n).max(0.0).sqrt())
}

/// What the marks of a photograph say.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// From the slab frame (mm) to the picture (pixels).
    pub to_picture: Homography,
    /// And back.
    pub to_slab: Homography,
    /// How far each mark, brought onto the slab, is from its place, mm. With four marks all are 0, whatever is wrong.
    pub off: Vec<f64>,
}

impl Fit {
    /// The map from the marks: the squares of their distances in the picture add up to least.
    ///
    /// # Errors
    /// Says why the marks do not give one.
    pub fn of(photo: &Photo) -> Result<Self, Fault> {
        let (marks, at) = (&photo.marks, &photo.at);
        if marks.len() != at.len() {
            return Err(Fault::Unequal);
        }
        if marks.len() < 4 {
            return Err(Fault::TooFew);
        }
        for (points, fault) in [(marks, Fault::MarksInLine as fn(f64) -> Fault), (at, Fault::PlacesInLine)] {
            let thick = thickness(points);
            if thick < LEAST_THICKNESS {
                return Err(fault(thick));
            }
        }
        let to_picture = Homography::fit(at, marks).ok_or(Fault::Disordered(None))?;
        if let Some(behind) = at.iter().position(|&p| to_picture.apply(p).is_none()) {
            return Err(Fault::Disordered(Some(behind)));
        }
        // The slab's y runs up, the picture's down: a true picture turns the frame over.
        if !to_picture.mirrors() {
            return Err(Fault::Mirrored);
        }
        let to_slab = to_picture.inverse().ok_or(Fault::Disordered(None))?;
        let off: Option<Vec<f64>> =
            marks.iter().zip(at).map(|(&m, &p)| to_slab.apply(m).map(|q| q.distance(p))).collect();
        Ok(Self { to_picture, to_slab, off: off.ok_or(Fault::Disordered(None))? })
    }

    /// The worst mark (from 0) and how far it is off, mm.
    #[must_use]
    pub fn worst(&self) -> (usize, f64) {
        let mut worst = (0, 0.0);
        for (i, &off) in self.off.iter().enumerate() {
            if off > worst.1 {
                worst = (i, off);
            }
        }
        worst
    }

    /// Root of the mean square of how far the marks are off, mm.
    #[must_use]
    pub fn rms(&self) -> f64 {
        (self.off.iter().map(|v| v * v).sum::<f64>() / self.off.len() as f64).sqrt()
    }

    /// True if all of the outline lies in front of the horizon.
    #[must_use]
    pub fn sees(&self, outline: &Ring) -> bool {
        outline.points().iter().all(|&p| self.to_picture.apply(p).is_some())
    }
}

/// How far a point of the outline moves at worst if every mark may be off by one pixel along x and along y, each by itself
/// and all added as squares, mm. This is what four marks cannot say by what is left over.
#[must_use]
pub fn play(photo: &Photo, outline: &Ring) -> Option<f64> {
    let fit = Homography::fit(&photo.at, &photo.marks)?;
    let seen: Option<Vec<Point>> = outline.points().iter().map(|&p| fit.apply(p)).collect();
    let seen = seen?;
    let mut squares = vec![0.0; seen.len()];
    for mark in 0..photo.marks.len() {
        for by in [Point { x: 1.0, y: 0.0 }, Point { x: 0.0, y: 1.0 }] {
            let mut marks = photo.marks.clone();
            marks[mark] = marks[mark] + by;
            let moved = Homography::fit(&photo.at, &marks)?.inverse()?;
            for ((sum, &q), &p) in squares.iter_mut().zip(&seen).zip(outline.points()) {
                let d = moved.apply(q)? - p;
                *sum += d.dot(d);
            }
        }
    }
    squares.into_iter().map(f64::sqrt).fold(None, |most: Option<f64>, v| Some(most.map_or(v, |m| m.max(v))))
}
