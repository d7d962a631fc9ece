//! The pictures that people get: the slab under its drawing, and each piece by itself.

use super::grid::Grid;
use super::raster::Raster;
use super::{Fit, mask};
use crate::geom::{BBox, Point, Pose, Ring, tol};
use crate::model::{Layout, Piece, Question, Slab};

/// How much white is laid at least over the waste of a slab, so that lines and words stand out on it ...
const VEIL: f32 = 0.62;
/// ... and over the pieces, which the eye should find first and whose veins it should see.
const VEIL_ON_PIECES: f32 = 0.32;
/// On dark stone more: the darkest parts become this bright (0 to 255) in the waste, and this on pieces.
const DARKEST: [f32; 2] = [205.0, 165.0];
/// The share of the stone that counts as its darkest parts.
const DARK_SHARE: f64 = 0.05;
/// What stands where the photograph shows nothing.
const BLANK: [u8; 3] = [232; 3];
const WHITE: [u8; 3] = [255; 3];

/// A picture with what it covers.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// The pixels.
    pub raster: Raster,
    /// Where they lie, in the slab's or the piece's frame.
    pub grid: Grid,
    /// Share of the stone that the photograph does not show, 0 to 1.
    pub unseen: f64,
}

/// A piece that lies on a slab.
#[derive(Clone, Copy, Debug)]
pub struct PiecePicture<'a> {
    /// Its number on the slab's sheet, from 1.
    pub number: usize,
    /// The piece.
    pub piece: &'a Piece,
    /// Where it lies.
    pub pose: Pose,
}

/// The pieces of a layout that the jobs have, where their positions are within all range.
#[must_use]
pub fn pieces<'a>(question: &'a Question, layout: &Layout) -> Vec<PiecePicture<'a>> {
    let within = |v: f64| v.is_finite() && v.abs() <= tol::MAX_COORD;
    let numbered = layout.placed.iter().enumerate();
    numbered
        .filter_map(|(i, placed)| {
            let job = question.jobs.iter().find(|j| j.name == placed.job)?;
            let piece = job.pieces.iter().find(|p| p.name == placed.piece)?;
            let pose = placed.pose();
            let good = within(pose.turn) && within(pose.shift.x) && within(pose.shift.y);
            good.then_some(PiecePicture { number: i + 1, piece, pose })
        })
        .collect()
}

/// The slab, straight, in its own frame, as it is to lie under the drawing of a layout: pale, paler where no piece lies,
/// white outside the outline. At most `most` pixels along its longer side, and none finer than the photograph's finest.
/// `None` if there is nothing to see.
#[must_use]
pub fn slab_picture(photograph: &Raster, fit: &Fit, slab: &Slab, on: &[PiecePicture<'_>], most: usize) -> Option<Seen> {
    let b = slab.outline.bbox();
    let grid = Grid::over(&b, finest(&b, |p| fit.to_picture.apply(p)), most);
    let (mut raster, blind) = grid.look(photograph, |p| fit.to_picture.apply(p), BLANK)?;
    let stone = mask::cover(&grid, &[&slab.outline]);
    let mut bright = vec![0.0_f32; stone.len()];
    for part in on {
        let outline = part.pose.ring(&part.piece.outline.ring);
        let holes: Vec<Ring> = part.piece.openings.iter().map(|o| part.pose.ring(&o.ring)).collect();
        let rings: Vec<&Ring> = std::iter::once(&outline).chain(&holes).collect();
        for (sum, share) in bright.iter_mut().zip(mask::cover(&grid, &rings)) {
            *sum = (*sum + share).min(1.0);
        }
    }
    let width = grid.width;
    let dark = darkest(&raster, &stone);
    let veil = |least: f32, floor: f32| least.max(1.0 - (255.0 - floor) / (255.0 - dark).max(1.0));
    let (waste, pieces) = (veil(VEIL, DARKEST[0]), veil(VEIL_ON_PIECES, DARKEST[1]));
    raster.change(|x, y, colour| {
        let i = y * width + x;
        let veil = waste + (pieces - waste) * bright[i];
        mixed(colour, WHITE, 1.0 - (1.0 - veil) * stone[i].clamp(0.0, 1.0))
    });
    Some(Seen { raster, grid, unseen: unseen(&stone, &blind) })
}

/// A piece in its own frame, its front edge below, as it will look when it is cut: white outside its outline and in its
/// openings. At most `most` pixels along its longer side. `None` if there is nothing to see.
#[must_use]
pub fn piece_picture(photograph: &Raster, fit: &Fit, part: &PiecePicture<'_>, most: usize) -> Option<Seen> {
    let see = |p: Point| fit.to_picture.apply(part.pose.apply(p));
    let b = part.piece.outline.ring.bbox();
    let grid = Grid::over(&b, finest(&b, see), most);
    let (mut raster, blind) = grid.look(photograph, see, BLANK)?;
    let mut rings = vec![&part.piece.outline.ring];
    rings.extend(part.piece.openings.iter().map(|o| &o.ring));
    let stone = mask::cover(&grid, &rings);
    let width = grid.width;
    raster.change(|x, y, colour| mixed(WHITE, colour, stone[y * width + x].clamp(0.0, 1.0)));
    Some(Seen { raster, grid, unseen: unseen(&stone, &blind) })
}

/// One colour with a share of another.
fn mixed(a: [u8; 3], b: [u8; 3], share: f32) -> [u8; 3] {
    std::array::from_fn(|k| {
        let (from, to) = (f32::from(a[k]), f32::from(b[k]));
        // Between two bytes, so a byte.
        (from + (to - from) * share).round() as u8
    })
}

/// The brightness (0 to 255) below which the darkest parts of the stone are.
fn darkest(raster: &Raster, stone: &[f32]) -> f32 {
    let mut counts = [0_usize; 256];
    for (p, _) in raster.rgb().chunks_exact(3).zip(stone).filter(|(_, s)| **s > 0.5) {
        let sum: usize = p.iter().map(|&v| usize::from(v)).sum();
        counts[sum / 3] += 1;
    }
    let limit = counts.iter().sum::<usize>() as f64 * DARK_SHARE;
    let mut seen = 0;
    for (value, count) in (0_u8..).zip(counts) {
        seen += count;
        if seen as f64 > limit {
            return f32::from(value);
        }
    }
    255.0
}

fn unseen(stone: &[f32], blind: &[bool]) -> f64 {
    let all: f64 = stone.iter().map(|&s| f64::from(s)).sum();
    let dark: f64 = stone.iter().zip(blind).filter(|(_, b)| **b).map(|(&s, _)| f64::from(s)).sum();
    if all > 0.0 { dark / all } else { 0.0 }
}

/// Millimetres that a pixel of the photograph covers where it is finest within a box, looked at in a few places.
fn finest(b: &BBox, to_picture: impl Fn(Point) -> Option<Point>) -> f64 {
    const PLACES: usize = 5;
    let mut most: f64 = 0.0;
    for u in 0..PLACES {
        for v in 0..PLACES {
            let share = |k: usize| k as f64 / (PLACES - 1) as f64;
            let p = Point { x: b.min.x + b.width() * share(u), y: b.min.y + b.height() * share(v) };
            for by in [Point { x: 1.0, y: 0.0 }, Point { x: 0.0, y: 1.0 }] {
                if let (Some(a), Some(c)) = (to_picture(p), to_picture(p + by)) {
                    most = most.max(a.distance(c));
                }
            }
        }
    }
    // A homography that shows nothing gives no scale; the limit in pixels then decides.
    if most > 0.0 && most.is_finite() { 1.0 / most } else { 0.0 }
}
