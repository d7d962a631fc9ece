//! Pictures as plain pixels, and light.
//!
//! Values are sRGB. Averages are taken of light, not of values: the mean of black and white is a lighter grey than 127.

use std::borrow::Cow;

/// A picture: 8-bit sRGB, rows from the top.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Raster {
    width: usize,
    height: usize,
    rgb: Vec<u8>,
}

impl Raster {
    /// A picture of these pixels, three bytes each; `None` if their number is wrong, or zero.
    #[must_use]
    pub fn new(width: usize, height: usize, rgb: Vec<u8>) -> Option<Self> {
        let bytes = width.checked_mul(height)?.checked_mul(3)?;
        (bytes > 0 && bytes == rgb.len()).then_some(Self { width, height, rgb })
    }

    /// A picture made pixel by pixel, from the column and the row of each.
    #[must_use]
    pub fn made(width: usize, height: usize, mut pixel: impl FnMut(usize, usize) -> [u8; 3]) -> Option<Self> {
        let mut rgb = Vec::with_capacity(width.checked_mul(height)?.checked_mul(3)?);
        for y in 0..height {
            for x in 0..width {
                rgb.extend(pixel(x, y));
            }
        }
        Self::new(width, height, rgb)
    }

    /// Width, pixels; at least 1.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.width
    }

    /// Height, pixels; at least 1.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.height
    }

    /// All values, row by row from the top.
    #[must_use]
    pub fn rgb(&self) -> &[u8] {
        &self.rgb
    }

    /// The pixel of a column and a row; beyond the border that of the border.
    #[must_use]
    pub fn pixel(&self, x: usize, y: usize) -> [u8; 3] {
        let i = (y.min(self.height - 1) * self.width + x.min(self.width - 1)) * 3;
        [self.rgb[i], self.rgb[i + 1], self.rgb[i + 2]]
    }

    /// Changes every pixel, given its column and its row.
    pub(super) fn change(&mut self, mut to: impl FnMut(usize, usize, [u8; 3]) -> [u8; 3]) {
        let width = self.width;
        for (i, p) in self.rgb.chunks_exact_mut(3).enumerate() {
            let new = to(i % width, i / width, [p[0], p[1], p[2]]);
            p.copy_from_slice(&new);
        }
    }

    /// The picture with blocks of `by` times `by` pixels made into one. Blocks at the right and lower border may be cut.
    #[must_use]
    pub(super) fn shrunk(&self, by: usize, light: &Light) -> Cow<'_, Self> {
        if by <= 1 {
            return Cow::Borrowed(self);
        }
        let (width, height) = (self.width.div_ceil(by), self.height.div_ceil(by));
        let mut rgb = Vec::with_capacity(width * height * 3);
        let mut row: Vec<([f32; 3], f32)> = Vec::new();
        for y in 0..height {
            row.clear();
            row.resize(width, ([0.0; 3], 0.0));
            for line in self.rgb.chunks_exact(3 * self.width).skip(y * by).take(by) {
                for (x, p) in line.chunks_exact(3).enumerate() {
                    let (sum, n) = &mut row[x / by];
                    for (s, &v) in sum.iter_mut().zip(p) {
                        *s += light.of(v);
                    }
                    *n += 1.0;
                }
            }
            rgb.extend(row.iter().flat_map(|(sum, n)| sum.map(|s| light.value(s / n))));
        }
        Cow::Owned(Self { width, height, rgb })
    }

    /// The light at a place in pixels (the upper left corner of the picture is (0, 0)), between the four nearest pixels;
    /// `None` outside the picture.
    pub(super) fn light_at(&self, x: f64, y: f64, light: &Light) -> Option<[f32; 3]> {
        if !(x >= 0.0 && y >= 0.0 && x <= self.width as f64 && y <= self.height as f64) {
            return None;
        }
        let (x, y) = ((x - 0.5).max(0.0), (y - 0.5).max(0.0));
        let (i, j) = (x as usize, y as usize);
        let (u, v) = ((x - i as f64) as f32, (y - j as f64) as f32);
        let corner = |i, j| self.pixel(i, j).map(|c| light.of(c));
        let (a, b, c, d) = (corner(i, j), corner(i + 1, j), corner(i, j + 1), corner(i + 1, j + 1));
        Some(std::array::from_fn(|k| {
            let (top, low) = (a[k] + (b[k] - a[k]) * u, c[k] + (d[k] - c[k]) * u);
            top + (low - top) * v
        }))
    }
}

/// sRGB values and the light that they stand for, as tables.
pub(super) struct Light {
    of: [f32; 256],
    /// Light half-way between the values n and n + 1.
    between: [f32; 255],
}

impl Light {
    pub(super) fn new() -> Self {
        // IEC 61966-2-1:1999, from memory.
        let light = |v: f64| {
            let c = v / 255.0;
            (if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }) as f32
        };
        Self { of: std::array::from_fn(|i| light(i as f64)), between: std::array::from_fn(|i| light(i as f64 + 0.5)) }
    }

    /// The light of a value, 0 to 1.
    fn of(&self, value: u8) -> f32 {
        self.of[usize::from(value)]
    }

    /// The nearest value of a light.
    pub(super) fn value(&self, light: f32) -> u8 {
        // At most 255, the number of limits.
        self.between.partition_point(|&b| b <= light) as u8
    }
}

#[cfg(test)]
mod tests {
    use super::{Light, Raster};

    #[test]
    fn every_value_comes_back_from_its_light() {
        let light = Light::new();
        for v in 0..=255 {
            assert_eq!(light.value(light.of(v)), v);
        }
        assert_eq!((light.value(-1.0), light.value(2.0), light.value(f32::NAN)), (0, 255, 0));
    }

    #[test]
    fn black_and_white_make_the_grey_of_half_the_light() {
        // 0.5 of the light is the value 188 (sRGB).
        let raster = Raster::made(5, 3, |x, y| [if (x + y) % 2 == 0 { 0 } else { 255 }; 3]).unwrap();
        let half = raster.shrunk(2, &Light::new());
        assert_eq!((half.width(), half.height()), (3, 2));
        assert_eq!(half.pixel(0, 0), [188; 3]);
        assert_eq!(half.pixel(2, 1), [0; 3], "a block cut to one pixel");
    }
}
