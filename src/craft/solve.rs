//! Least squares for a few unknowns.
//!
//! In: a start and a function that gives the residuals. Out: the unknowns at which their squares add up to least, nearby.
//! Must not know: what the unknowns mean.

/// Solves a square system by elimination with the largest pivot of each column; `None` if it has no single answer.
pub(super) fn linear(mut rows: Vec<Vec<f64>>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let n = right.len();
    for col in 0..n {
        let pivot = (col..n).max_by(|&i, &j| rows[i][col].abs().total_cmp(&rows[j][col].abs()))?;
        if rows[pivot][col].abs() < 1e-12 || !rows[pivot][col].is_finite() {
            return None;
        }
        rows.swap(col, pivot);
        right.swap(col, pivot);
        let (upper, lower) = rows.split_at_mut(col + 1);
        let lead = &upper[col];
        for (k, row) in lower.iter_mut().enumerate() {
            let factor = row[col] / lead[col];
            if factor != 0.0 {
                for (x, l) in row.iter_mut().zip(lead).skip(col) {
                    *x -= factor * l;
                }
                right[col + 1 + k] -= factor * right[col];
            }
        }
    }
    let mut x = vec![0.0; n];
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|j| rows[i][j] * x[j]).sum();
        x[i] = (right[i] - known) / rows[i][i];
    }
    x.iter().all(|v| v.is_finite()).then_some(x)
}

/// The sum of squares.
pub(super) fn squares(v: &[f64]) -> f64 {
    v.iter().map(|x| x * x).sum()
}

/// Unknowns near `start` at which the squares of the residuals add up to least, by Levenberg's and Marquardt's method
/// (D. W. Marquardt, J. SIAM 11 (1963) 431-441, from memory) with differences for derivatives. All unknowns are lengths in mm.
/// `residuals` gives `None` where there are none; `start` must have some, else it comes back as it is. It ends when a step
/// lowers the sum by less than the share `enough`.
pub(super) fn least_squares(
    start: Vec<f64>,
    steps: usize,
    enough: f64,
    residuals: impl Fn(&[f64]) -> Option<Vec<f64>>,
) -> Vec<f64> {
    /// Step of the differences, mm: far above rounding, far below the noise of any trace.
    const STEP: f64 = 1e-4;
    let mut x = start;
    let Some(mut now) = residuals(&x) else { return x };
    let mut sum = squares(&now);
    let mut damping = 1e-3;
    for _ in 0..steps {
        let mut columns: Vec<Vec<f64>> = Vec::with_capacity(x.len());
        for k in 0..x.len() {
            let mut moved = x.clone();
            moved[k] += STEP;
            let Some(then) = residuals(&moved) else { return x };
            columns.push(then.iter().zip(&now).map(|(a, b)| (a - b) / STEP).collect());
        }
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(p, q)| p * q).sum::<f64>();
        let normal: Vec<Vec<f64>> = columns.iter().map(|a| columns.iter().map(|b| dot(a, b)).collect()).collect();
        let slope: Vec<f64> = columns.iter().map(|c| -dot(c, &now)).collect();
        let mut gained = 0.0;
        for _ in 0..8 {
            let mut rows = normal.clone();
            for (k, row) in rows.iter_mut().enumerate() {
                row[k] += damping * row[k].max(1e-3);
            }
            let better = linear(rows, slope.clone()).and_then(|step| {
                let next: Vec<f64> = x.iter().zip(&step).map(|(a, b)| a + b).collect();
                let then = residuals(&next)?;
                let sum_then = squares(&then);
                (sum_then < sum).then_some((next, then, sum_then))
            });
            if let Some((next, then, sum_then)) = better {
                gained = sum - sum_then;
                (x, now, sum) = (next, then, sum_then);
                damping = (damping * 0.2).max(1e-9);
                break;
            }
            damping *= 8.0;
        }
        if gained <= enough * sum + 1e-12 {
            break;
        }
    }
    x
}

#[cfg(test)]
mod tests {
    use super::{least_squares, linear};

    #[test]
    fn a_system_is_solved_and_a_singular_one_refused() {
        let x = linear(vec![vec![0.0, 2.0], vec![3.0, 1.0]], vec![4.0, 5.0]).unwrap_or_default();
        assert_eq!(x, [1.0, 2.0]);
        assert!(linear(vec![vec![1.0, 2.0], vec![2.0, 4.0]], vec![1.0, 2.0]).is_none());
    }

    #[test]
    fn a_curved_valley_is_followed_to_its_lowest_point() {
        // Rosenbrock's valley as residuals: least at (1, 1).
        let x = least_squares(vec![-1.2, 1.0], 200, 1e-9, |x| Some(vec![10.0 * (x[1] - x[0] * x[0]), 1.0 - x[0]]));
        assert!((x[0] - 1.0).abs() < 1e-3 && (x[1] - 1.0).abs() < 1e-3, "{x:?}");
    }
}
