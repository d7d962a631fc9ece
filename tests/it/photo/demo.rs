//! The photograph of the demo slab: veined marble painted by formulas, photographed askew in a dark shed. No camera and
//! nobody's picture is behind it.

use std::path::{Path, PathBuf};

use scantling::geom::{Point, distance, pt};
use scantling::io;
use scantling::model::{FlawBody, Slab};
use scantling::photo::{Fit, Homography, Raster};

use super::{light, value};

/// Width and height of the picture.
const PICTURE: [usize; 2] = [1440, 960];

/// Where the marks are, inches: crosses of tape, and where this camera sees them, whole pixels, as one reads them off.
const AT: [[f64; 2]; 6] = [[4.0, 5.0], [58.0, 4.0], [110.0, 5.0], [108.5, 62.0], [57.0, 64.0], [5.5, 61.5]];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-slabs/gannet-inn")
}

fn file() -> PathBuf {
    folder().join("hv-11-3.jpg")
}

fn slab() -> Slab {
    let paths = io::Paths { jobs: vec![folder().join("job.toml")], ..io::Paths::default() };
    io::load(&paths).unwrap().question.rack.into_iter().find(|s| s.name == "HV-11/3").unwrap()
}

/// From the slab (mm) to the picture: four points of its box.
fn camera() -> Homography {
    let box_of_slab = super::corners([2925.0, 1727.0]);
    Homography::fit(&box_of_slab, &[pt(92.0, 862.0), pt(1372.0, 893.0), pt(1305.0, 118.0), pt(188.0, 82.0)]).unwrap()
}

/// A number from 0 to 1 for a point of a lattice.
fn chance(x: i64, y: i64, seed: u64) -> f64 {
    // SplitMix64 (Steele, Lea, Flood 2014) over the coordinates.
    let mut z = (x as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ (y as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F) ^ seed;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}

/// Smooth noise from -1 to 1 with bumps as large as 1.
fn bumps(x: f64, y: f64, seed: u64) -> f64 {
    let (i, j) = (x.floor(), y.floor());
    let smooth = |t: f64| t * t * (3.0 - 2.0 * t);
    let (u, v) = (smooth(x - i), smooth(y - j));
    let at = |a: f64, b: f64| chance((i + a) as i64, (j + b) as i64, seed);
    let row = |b: f64| at(0.0, b) + (at(1.0, b) - at(0.0, b)) * u;
    2.0 * (row(0.0) + (row(1.0) - row(0.0)) * v) - 1.0
}

/// The same with finer and finer bumps on top.
fn rough(x: f64, y: f64, seed: u64) -> f64 {
    (0..4)
        .map(|k| bumps(x * f64::from(1 << k), y * f64::from(1 << k), seed + k as u64) / f64::from(1 << k))
        .sum::<f64>()
        / 1.9
}

/// How much of a vein a distance from its middle leaves, 1 in the middle.
fn vein(off: f64, width: f64) -> f64 {
    (1.0 - (off / width).abs()).max(0.0).powi(2)
}

/// The stone at a place (mm): veins that run along x, as the grain of the slab says.
fn stone(p: Point) -> [f64; 3] {
    let bend = 150.0 * rough(p.x / 900.0, p.y / 420.0, 3) + 26.0 * rough(p.x / 160.0, p.y / 120.0, 9);
    let y = p.y + bend + 0.06 * p.x;
    // Broad bands, then veins of uneven distance and strength, then fine ones that cross them.
    let band = 0.5 + 0.5 * rough(p.x / 1500.0, y / 230.0, 21);
    let mut dark = 0.0_f64;
    for k in -3..12 {
        let middle = 190.0 * f64::from(k) + 120.0 * (chance(i64::from(k), 7, 5) - 0.5);
        let strength = 0.25 + 0.65 * chance(i64::from(k), 8, 5);
        let fades = 0.65 + 0.35 * bumps(p.x / 420.0, f64::from(k) * 3.7, 31);
        dark = dark.max(strength * fades * vein(y - middle, 9.0 + 26.0 * chance(i64::from(k), 9, 5)));
    }
    let across = p.x * 0.8 + p.y * 1.3 + 120.0 * rough(p.x / 300.0, p.y / 300.0, 41);
    let fine = vein((across / 460.0 - (across / 460.0).round()) * 460.0, 5.0)
        * (0.2 + 0.2 * bumps(p.x / 250.0, p.y / 250.0, 43));
    let gold = (0.5 + 0.5 * bumps(p.x / 600.0, y / 90.0, 51)) * dark;
    let grain = 0.012 * bumps(p.x / 5.0, p.y / 5.0, 61);
    let light = [0.80, 0.79, 0.76];
    let vein_colour = [0.21 + 0.12 * gold, 0.22 + 0.05 * gold, 0.26 - 0.05 * gold];
    let k = (dark + fine.max(0.0)).min(1.0);
    std::array::from_fn(|c| (light[c] - 0.16 * band + (vein_colour[c] - light[c]) * k + grain).clamp(0.0, 1.0))
}

/// All that the camera sees: light of the three channels.
fn seen(slab: &Slab, p: Point, at: Point) -> [f64; 3] {
    // The lamp hangs at the upper left.
    let lamp = 1.0 - 0.22 * (at.x / PICTURE[0] as f64) - 0.12 * (at.y / PICTURE[1] as f64);
    if !slab.outline.contains(p) {
        let wall = 0.035 + 0.012 * bumps(at.x / 260.0, at.y / 90.0, 71);
        return [wall * lamp, wall * lamp, wall * 1.15 * lamp];
    }
    for [x, y] in AT {
        let d = p - pt(x, y) * 25.4;
        // Crosses of blue tape, 80 mm long and 10 mm wide.
        if d.x.abs().max(d.y.abs()) < 40.0 && d.x.abs().min(d.y.abs()) < 5.0 {
            return [0.02 * lamp, 0.09 * lamp, 0.35 * lamp];
        }
    }
    let mut colour = stone(p);
    for flaw in &slab.flaws {
        let off: f64 = match &flaw.body {
            FlawBody::Line(line) => {
                distance::open_line(line)
                    .map(|(a, b)| p.distance(distance::nearest_on_segment(p, a, b)))
                    .fold(f64::INFINITY, f64::min)
                    - 1.0
            }
            FlawBody::Spot(middle) => p.distance(*middle) - flaw.radius,
            FlawBody::Area(_) => f64::INFINITY,
        };
        // Flaws are brown, and as wide as the rack says, with a little shade.
        let share: f64 = (1.0 - off / 3.0).clamp(0.0, 1.0);
        colour = std::array::from_fn(|c| colour[c] + ([0.10, 0.06, 0.04][c] - colour[c]) * share);
    }
    // The edge of the stone is ground away a little and darker.
    colour.map(|c| c * lamp)
}

/// Every `step`-th pixel of the picture along both sides.
fn painted(step: usize) -> Raster {
    let (slab, back) = (slab(), camera().inverse().unwrap());
    const N: usize = 3;
    Raster::made(PICTURE[0] / step, PICTURE[1] / step, |x, y| {
        let mut sum = [0.0; 3];
        for u in 0..N {
            for v in 0..N {
                let at = |i: usize, k: usize| (i * step) as f64 + (k as f64 + 0.5) / N as f64;
                let at = pt(at(x, u), at(y, v));
                let colour = seen(&slab, back.apply(at).unwrap(), at);
                for (s, c) in sum.iter_mut().zip(colour) {
                    *s += c;
                }
            }
        }
        sum.map(|s| value(s / (N * N) as f64))
    })
    .unwrap()
}

/// Paints the photograph anew, and tells the marks for the rack file.
#[test]
#[ignore = "rewrites a file of the demo"]
fn take_the_photograph_again() {
    let jpeg = io::jpeg("demo", &painted(1), 78).unwrap();
    io::write_atomically(&file(), &jpeg).unwrap();
    let marks: Vec<[f64; 2]> =
        AT.iter().map(|&[x, y]| camera().apply(pt(x, y) * 25.4).unwrap()).map(|p| [p.x.round(), p.y.round()]).collect();
    println!("marks = {marks:?}, at = {AT:?}; {} bytes", jpeg.len());
}

#[test]
fn the_demo_photograph_is_this_painting_and_its_marks_fit() {
    let bytes = std::fs::read(file()).unwrap();
    assert!(bytes.len() < 120_000, "{}", bytes.len());
    let picture = io::read_picture("demo", &bytes).unwrap();
    assert_eq!([picture.width(), picture.height()], PICTURE);
    const STEP: usize = 12;
    let again = painted(STEP);
    let mut off = 0.0;
    for y in 0..again.height() {
        for x in 0..again.width() {
            for (a, b) in again.pixel(x, y).into_iter().zip(picture.pixel(x * STEP, y * STEP)) {
                off += f64::from(a.abs_diff(b));
            }
        }
    }
    let mean = off / again.rgb().len() as f64;
    assert!(mean < 4.0, "{mean}");
    let photo = slab().photo.expect("the demo slab has a photograph");
    let fit = Fit::of(&photo).unwrap();
    // Read off to whole pixels of two millimetres.
    assert!(fit.worst().1 > 0.0 && fit.worst().1 < 2.5 && fit.rms() < 1.5, "{:?}", fit.off);
    for (&mark, &at) in photo.marks.iter().zip(&photo.at) {
        assert!(camera().apply(at).unwrap().distance(mark) < 0.75);
        // The tape is darker than any stone.
        let p = picture.pixel(mark.x as usize, mark.y as usize);
        assert!(light(p[0]) < 0.1 && p[2] > p[0], "{p:?}");
    }
}
