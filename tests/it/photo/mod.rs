//! Photographs of slabs: homographies against a published example and a general-purpose library, pictures painted by the
//! tests and photographed askew, broken files, drawings, the program from outside.

mod demo;
mod drawing;
mod files;
mod homography;
mod program;
mod straight;

use scantling::geom::{BBox, Point, Ring, pt};
use scantling::model::{Photo, Slab};
use scantling::photo::{Homography, Raster};

use crate::make;

/// The slab of most tests, mm.
pub const SIZE: [f64; 2] = [2000.0, 1200.0];

/// The picture of most tests, pixels.
pub const PICTURE: [usize; 2] = [900, 640];

/// A camera that sees the slab askew: from the slab frame to the picture.
pub fn camera() -> Homography {
    let at = corners(SIZE);
    Homography::fit(&at, &[pt(70.0, 590.0), pt(850.0, 560.0), pt(790.0, 70.0), pt(130.0, 40.0)]).unwrap()
}

pub fn corners([w, h]: [f64; 2]) -> [Point; 4] {
    [pt(0.0, 0.0), pt(w, 0.0), pt(w, h), pt(0.0, h)]
}

/// The slab with a photograph by that camera, whose marks are exact.
pub fn slab(file: &str) -> Slab {
    let at: Vec<Point> =
        [[100.0, 80.0], [1900.0, 90.0], [1850.0, 1100.0], [60.0, 1130.0], [1000.0, 600.0]].map(Point::from).to_vec();
    let marks = at.iter().map(|&p| camera().apply(p).unwrap()).collect();
    let outline = Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(SIZE[0], SIZE[1]) });
    let photo = Some(Box::new(Photo { file: file.to_owned(), marks, at }));
    Slab { outline, photo, ..make::slab("GV-1", SIZE[0], SIZE[1], 500.0) }
}

/// What a camera sees of a painted plane: 16 points a pixel, averaged as light.
pub fn photograph(camera: &Homography, [w, h]: [usize; 2], paint: impl Fn(Point) -> [u8; 3]) -> Raster {
    let back = camera.inverse().unwrap();
    painted([w, h], |p| back.apply(p).map_or([0; 3], &paint))
}

/// A picture of a painting over pixels.
pub fn painted([w, h]: [usize; 2], paint: impl Fn(Point) -> [u8; 3]) -> Raster {
    const N: usize = 4;
    Raster::made(w, h, |x, y| {
        let mut sum = [0.0; 3];
        for u in 0..N {
            for v in 0..N {
                let at = |i: usize, k: usize| i as f64 + (k as f64 + 0.5) / N as f64;
                let colour = paint(pt(at(x, u), at(y, v)));
                for (s, c) in sum.iter_mut().zip(colour) {
                    *s += light(c);
                }
            }
        }
        sum.map(|s| value(s / (N * N) as f64))
    })
    .unwrap()
}

/// The light of an sRGB value (IEC 61966-2-1), 0 to 1.
pub fn light(v: u8) -> f64 {
    let c = f64::from(v) / 255.0;
    if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
}

/// The sRGB value of a light.
pub fn value(l: f64) -> u8 {
    let c = if l <= 0.003_130_8 { 12.92 * l } else { 1.055 * l.powf(1.0 / 2.4) - 0.055 };
    (c * 255.0).round() as u8
}

/// Squares of 100 mm, light and dark.
pub fn chess(p: Point) -> [u8; 3] {
    let odd = ((p.x / 100.0).floor() as i64 + (p.y / 100.0).floor() as i64).rem_euclid(2) == 1;
    if odd { [225, 215, 200] } else { [40, 45, 60] }
}
