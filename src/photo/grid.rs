//! Pixels laid over the plane of a slab or a piece, and a photograph seen through them.

use super::raster::{Light, Raster};
use crate::geom::{BBox, Point, pt};

/// Pixels over a part of a plane: columns to the right, rows downwards, while the plane's y runs up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    /// The upper left corner of the first pixel, mm.
    pub corner: Point,
    /// Side of a pixel, mm.
    pub mm_per_pixel: f64,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
}

impl Grid {
    /// The pixels of that size that cover a box, from its upper left corner; at most `most` along its longer side, for which
    /// they become larger where they must.
    #[must_use]
    pub fn over(b: &BBox, mm_per_pixel: f64, most: usize) -> Self {
        let long = b.width().max(b.height()).max(f64::MIN_POSITIVE);
        let most = most.max(1);
        let mm_per_pixel = mm_per_pixel.max(long / most as f64);
        // A hair less, so that a box of a whole number of pixels gets that number.
        let count = |mm: f64| ((mm / mm_per_pixel - 1e-6).ceil().max(1.0) as usize).min(most);
        Self { corner: pt(b.min.x, b.max.y), mm_per_pixel, width: count(b.width()), height: count(b.height()) }
    }

    /// The place of a point of the picture (pixels), mm.
    #[must_use]
    pub fn place(&self, x: f64, y: f64) -> Point {
        self.corner + pt(x, -y) * self.mm_per_pixel
    }

    /// The point of the picture (pixels) that shows a place.
    #[must_use]
    pub fn pixel(&self, p: Point) -> Point {
        let d = (p - self.corner) * (1.0 / self.mm_per_pixel);
        pt(d.x, -d.y)
    }

    /// What the grid covers, mm.
    #[must_use]
    pub fn bbox(&self) -> BBox {
        let low = self.place(0.0, self.height as f64);
        BBox { min: low, max: self.place(self.width as f64, 0.0) }
    }

    /// What a photograph shows in each pixel, and in which pixels it shows nothing (then `blank` stands there).
    ///
    /// Every pixel is the mean of light over the part of the photograph that it covers, so nothing flickers where the
    /// photograph is finer than the grid.
    pub(super) fn look(
        &self,
        photograph: &Raster,
        to_picture: impl Fn(Point) -> Option<Point>,
        blank: [u8; 3],
    ) -> Option<(Raster, Vec<bool>)> {
        /// Points along each side of a pixel at most; a homography that asks for more squeezes a slab beyond sense.
        const MOST: usize = 8;
        let light = Light::new();
        let whole = self.finest(&to_picture);
        // Blocks of pixels that every pixel of the grid covers are made into one first; what is left is sampled.
        let by = if whole.is_finite() { whole.floor().clamp(1.0, 4096.0) as usize } else { 1 };
        let small = photograph.shrunk(by, &light);
        let see = |x: f64, y: f64| to_picture(self.place(x, y)).map(|p| p * (1.0 / by as f64));
        let mut blind = Vec::with_capacity(self.width * self.height);
        let raster = Raster::made(self.width, self.height, |i, j| {
            let (x, y) = (i as f64, j as f64);
            let corners = (see(x, y), see(x + 1.0, y), see(x, y + 1.0));
            let n = match corners {
                (Some(a), Some(b), Some(c)) => (a.distance(b).max(a.distance(c)).ceil().max(1.0) as usize).min(MOST),
                _ => 1,
            };
            let mut sum = [0.0_f32; 3];
            let mut seen = 0.0_f32;
            for u in 0..n {
                for v in 0..n {
                    let at = |k: usize| (k as f64 + 0.5) / n as f64;
                    let found = see(x + at(u), y + at(v)).and_then(|p| small.light_at(p.x, p.y, &light));
                    if let Some(found) = found {
                        for (s, f) in sum.iter_mut().zip(found) {
                            *s += f;
                        }
                        seen += 1.0;
                    }
                }
            }
            // A pixel that the photograph's border cuts is the mean of what is seen of it.
            blind.push(seen == 0.0);
            if seen == 0.0 { blank } else { sum.map(|s| light.value(s / seen)) }
        })?;
        Some((raster, blind))
    }

    /// The least distance in the photograph (pixels) that a pixel of the grid covers along x or y, as looked at in a few
    /// places; infinite if none of them is seen.
    fn finest(&self, to_picture: &impl Fn(Point) -> Option<Point>) -> f64 {
        /// Places along each side. The scale of a homography changes slowly over a slab.
        const PLACES: usize = 5;
        let mut least = f64::INFINITY;
        for u in 0..PLACES {
            for v in 0..PLACES {
                let share = |k: usize, n: usize| k as f64 / (PLACES - 1) as f64 * (n - 1) as f64;
                let (x, y) = (share(u, self.width), share(v, self.height));
                let see = |x: f64, y: f64| to_picture(self.place(x, y));
                if let (Some(a), Some(b), Some(c)) = (see(x, y), see(x + 1.0, y), see(x, y + 1.0)) {
                    least = least.min(a.distance(b)).min(a.distance(c));
                }
            }
        }
        least
    }
}
