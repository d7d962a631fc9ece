//! Dual feasible functions: if sizes (as shares of a whole) add up to at most 1, so do their values.

/// One function of a share `x` in `[0, 1]`.
///
/// Fekete and Schepers, Mathematical Methods of Operations Research 60 (2004) 311-329: [`Dual::Rounded`] (`u^(k)`) and
/// [`Dual::Large`] (`phi^(eps)` with the middle kept). [`Dual::Halved`]: Carlier, Clautiaux and Moukrim, Computers & Operations
/// Research 34 (2007) 2223-2250, after Boschetti and Mingozzi, 4OR 1 (2003) 27-42.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Dual {
    /// `x`.
    Same,
    /// Down to a multiple of `1 / k` by steps of `1 / (k + 1)`.
    Rounded(u32),
    /// 1 above `1 - eps`, 0 below `eps`.
    Large(f64),
    /// Steps of `k` below a half, and the rest of them above; `0 < k <= 1/2`.
    Halved(f64),
}

/// Shares that differ by less are equal.
const EQUAL: f64 = 1e-9;

impl Dual {
    /// Its value. Where rounding leaves open on which side of a step `x` is, the smaller value.
    pub fn of(self, x: f64) -> f64 {
        match self {
            Self::Same => x,
            Self::Rounded(k) => {
                let k = f64::from(k);
                let t = (k + 1.0) * x;
                if (t - t.round()).abs() < EQUAL { x.min(t.round() / k) } else { t.floor() / k }
            }
            Self::Large(eps) => {
                if x > 1.0 - eps + EQUAL {
                    1.0
                } else if x < eps - EQUAL {
                    0.0
                } else {
                    x
                }
            }
            Self::Halved(k) => {
                let floor = |v: f64| (v + EQUAL).floor();
                let all = floor(1.0 / k);
                if x > 0.5 + EQUAL {
                    (all - floor((1.0 - x) / k)) / all
                } else {
                    ((x / k) - EQUAL).floor().max(0.0) / all
                }
            }
        }
    }

    /// Functions that may tell these shares apart from the whole.
    pub fn suited(shares: &[f64]) -> Vec<Self> {
        let mut out = vec![Self::Same, Self::Rounded(1), Self::Rounded(2), Self::Rounded(3)];
        let mut sizes: Vec<f64> =
            shares.iter().map(|&x| if x > 0.5 { 1.0 - x } else { x }).filter(|&x| x > 0.02).collect();
        sizes.sort_by(|a, b| b.total_cmp(a));
        sizes.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        sizes.truncate(8);
        for &x in &sizes {
            out.push(Self::Large(x));
            // A hair less, so that `x` itself holds one step for certain.
            out.push(Self::Halved(x * (1.0 - 1e-7)));
        }
        out
    }
}

/// The largest sum, over pairs of functions, of what rectangles count (lengths and depths as shares of the slab's): more than
/// 1 and they cannot lie side by side on it. Each piece may choose between several sets of disjoint rectangles.
///
/// `growth` is added to all sizes, also to those of the slab.
pub fn largest_sum(pieces: &[&[Vec<[f64; 2]>]], size: [f64; 2], growth: [f64; 2]) -> f64 {
    let shares = |side: usize| -> Vec<f64> {
        let whole = size[side] + growth[side];
        pieces.iter().flat_map(|p| p.iter().flatten()).map(|s| ((s[side] + growth[side]) / whole).min(1.0)).collect()
    };
    let functions = [Dual::suited(&shares(0)), Dual::suited(&shares(1))];
    // Values of every rectangle, function by function.
    let values: Vec<Vec<Vec<f64>>> = functions
        .iter()
        .enumerate()
        .map(|(side, f)| f.iter().map(|f| shares(side).iter().map(|&x| f.of(x)).collect()).collect())
        .collect();
    let mut best = 0.0f64;
    for along in &values[0] {
        for across in &values[1] {
            let mut k = 0;
            let mut sum = 0.0;
            for piece in pieces {
                let mut most = 0.0f64;
                for choice in *piece {
                    let value: f64 = (k..k + choice.len()).map(|i| along[i] * across[i]).sum();
                    most = most.max(value);
                    k += choice.len();
                }
                sum += most;
            }
            best = best.max(sum);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    /// Sizes that add up to at most 1 have values that do.
    #[test]
    fn dual_feasible() {
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let mut full = 0;
        for _ in 0..20_000 {
            // Multiples of a unit, so that sums are often exactly 1 and sizes often on a step.
            let units = rng.random_range(4..=60);
            let mut left = units;
            let mut sizes: Vec<f64> = Vec::new();
            while left > 0 && sizes.len() < 8 {
                let take = rng.random_range(1..=left);
                sizes.push(f64::from(take) / f64::from(units));
                left -= take;
                if rng.random_range(0..10) == 0 {
                    break;
                }
            }
            let mut functions = Dual::suited(&sizes);
            let k = f64::from(rng.random_range(1..=30)) / 60.0;
            functions.extend([Dual::Halved(k), Dual::Large(k), Dual::Rounded(rng.random_range(1..=9))]);
            for f in functions {
                let sum: f64 = sizes.iter().map(|&x| f.of(x)).sum();
                assert!(sum <= 1.0 + 1e-9, "{f:?} {sizes:?}: {sum}");
                full += usize::from(sum > 1.0 - 1e-9);
                let values: Vec<f64> = (0..=600).map(|i| f.of(f64::from(i) / 600.0)).collect();
                assert!(values.windows(2).all(|w| w[1] >= w[0] - 1e-9), "{f:?} falls");
            }
        }
        assert!(full > 10_000, "{full}");
    }

    /// Two of three fifths on each side: area says 0.72, functions say 2.
    #[test]
    fn tells_more_than_area() {
        let piece: &[Vec<[f64; 2]>] = &[vec![[0.6, 0.6]]];
        assert!(largest_sum(&[piece, piece], [1.0, 1.0], [0.0, 0.0]) >= 2.0 - 1e-9);
        let half: &[Vec<[f64; 2]>] = &[vec![[0.5, 0.5]]];
        assert!(largest_sum(&[half, half, half, half], [1.0, 1.0], [0.0, 0.0]) <= 1.0 + 1e-9);
    }
}
