//! Small dense linear algebra that the recursions need and a general library does not have ready:
//! covariances kept symmetric, the diffuse part kept in factored form, and a solver that tolerates
//! singular covariances. Householder reflections: Golub & Van Loan, *Matrix Computations*, chapter 5.

use nalgebra::{SMatrix, SVector};

/// An observation sees a diffuse direction only above this share of the direction's length; below it,
/// what it sees is rounding left over from an earlier observation.
const SEEN: f64 = 1e-10;

/// A pivot below this share of its own variance is rounding: the variable is a combination of others.
const SINGULAR: f64 = 1e-14;

/// Factor `A` (N × count) of the diffuse covariance `P_∞ = A A'`, its columns independent.
///
/// Factored, the rank falls by exactly one with each observation that sees a diffuse direction, so no
/// tolerance decides when the diffuse phase ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Directions<const N: usize> {
    columns: SMatrix<f64, N, N>,
    count: usize,
}

impl<const N: usize> Directions<N> {
    pub(super) fn from_flags(diffuse: &[bool; N]) -> Self {
        let mut directions = Self { columns: SMatrix::zeros(), count: 0 };
        for row in (0..N).filter(|&row| diffuse[row]) {
            directions.columns[(row, directions.count)] = 1.0;
            directions.count += 1;
        }
        directions
    }

    pub(super) fn count(&self) -> usize {
        self.count
    }

    pub(super) fn covariance(&self) -> SMatrix<f64, N, N> {
        self.columns * self.columns.transpose()
    }

    /// `A ← F A`.
    pub(super) fn transform(&self, by: &SMatrix<f64, N, N>) -> Self {
        Self { columns: by * self.columns, count: self.count }
    }

    /// Whether an observation through `loading` learns something about a diffuse direction.
    #[inline(always)]
    pub(super) fn sees(&self, loading: &SVector<f64, N>) -> bool {
        self.count > 0
            && (self.columns.transpose() * loading).norm()
                > SEEN * loading.norm() * self.columns.norm()
    }

    /// Turns the columns so that the first alone is seen through `loading`, and takes that one out.
    /// `None` when the observation sees no diffuse direction.
    pub(super) fn take_seen(&mut self, loading: &SVector<f64, N>) -> Option<SVector<f64, N>> {
        if !self.sees(loading) {
            return None;
        }
        let seen = self.columns.transpose() * loading;
        let length = seen.norm();
        // Householder: reflect `seen` onto the first axis, away from cancellation.
        let mut mirror = seen;
        mirror[0] += if seen[0] < 0.0 { -length } else { length };
        let turned = self.columns
            - self.columns * mirror * mirror.transpose() * (2.0 / mirror.norm_squared());
        let first = turned.column(0).into_owned();
        for column in 1..N {
            self.columns.set_column(column - 1, &turned.column(column));
        }
        self.columns.column_mut(N - 1).fill(0.0);
        self.count -= 1;
        // What the others still show is rounding of the reflection; the update takes it out.
        let others_seen = self.columns.transpose() * loading;
        self.columns -= first * others_seen.transpose() / first.dot(loading);
        Some(first)
    }

    /// An orthonormal basis whose first `count` vectors span the directions, and the triangular `R`
    /// with `A = basis · R` (modified Gram–Schmidt, each vector twice; the rest is completed from axes).
    pub(super) fn basis(&self) -> (SMatrix<f64, N, N>, SMatrix<f64, N, N>) {
        let mut basis = SMatrix::<f64, N, N>::zeros();
        let mut triangular = SMatrix::<f64, N, N>::zeros();
        for column in 0..self.count {
            let mut vector = self.columns.column(column).into_owned();
            for _ in 0..2 {
                for earlier in 0..column {
                    let along = basis.column(earlier).dot(&vector);
                    triangular[(earlier, column)] += along;
                    vector -= basis.column(earlier) * along;
                }
            }
            triangular[(column, column)] = vector.norm();
            basis.set_column(column, &(vector / triangular[(column, column)]));
        }
        for column in self.count..N {
            basis.set_column(column, &next_axis(&basis, column));
        }
        (basis, triangular)
    }

    pub(super) fn columns(&self) -> &SMatrix<f64, N, N> {
        &self.columns
    }
}

/// The unit vector orthogonal to the first `filled` columns that is nearest to some axis.
fn next_axis<const N: usize>(basis: &SMatrix<f64, N, N>, filled: usize) -> SVector<f64, N> {
    let mut best = SVector::<f64, N>::zeros();
    for axis in 0..N {
        let mut vector = SVector::<f64, N>::zeros();
        vector[axis] = 1.0;
        for _ in 0..2 {
            for earlier in 0..filled {
                vector -= basis.column(earlier) * basis.column(earlier).dot(&vector);
            }
        }
        if vector.norm() > best.norm() {
            best = vector;
        }
    }
    best.normalize()
}

/// `F P F' + Q`, with the upper triangle copied from the lower so that symmetry is never lost.
#[inline(always)]
pub(super) fn congruence<const N: usize>(
    by: &SMatrix<f64, N, N>,
    covariance: &SMatrix<f64, N, N>,
    plus: &SMatrix<f64, N, N>,
) -> SMatrix<f64, N, N> {
    let mut half = SMatrix::<f64, N, N>::zeros();
    for column in 0..N {
        for inner in 0..N {
            for row in 0..N {
                half[(row, column)] += by[(row, inner)] * covariance[(inner, column)];
            }
        }
    }
    let mut result = SMatrix::<f64, N, N>::zeros();
    for column in 0..N {
        for row in column..N {
            let mut sum = plus[(row, column)];
            for inner in 0..N {
                sum += half[(row, inner)] * by[(column, inner)];
            }
            result[(row, column)] = sum;
            result[(column, row)] = sum;
        }
    }
    result
}

/// Undoes rounding that no covariance can have: variances below 0 and correlations past 1.
///
/// Joseph's form is a sum of squares, so only the last bits of a nearly singular matrix are touched.
#[inline(always)]
pub(super) fn restore_bounds<const N: usize>(covariance: &mut SMatrix<f64, N, N>) {
    for column in 0..N {
        covariance[(column, column)] = covariance[(column, column)].max(0.0);
        for row in 0..column {
            let product = covariance[(row, row)] * covariance[(column, column)];
            let entry = covariance[(row, column)];
            if entry * entry > product {
                let limited = product.sqrt().copysign(entry);
                covariance[(row, column)] = limited;
                covariance[(column, row)] = limited;
            }
        }
    }
}

/// Solves `X S = B` for symmetric positive semidefinite `S`, leaving out dependent variables.
///
/// Scaled to correlations first, since states differ by many orders of magnitude; then Cholesky with
/// the largest remaining pivot, stopped when all that is left is rounding.
pub(super) fn solve_semidefinite<const N: usize>(
    matrix: &SMatrix<f64, N, N>,
    right: &SMatrix<f64, N, N>,
) -> SMatrix<f64, N, N> {
    let scale = SVector::<f64, N>::from_fn(|row, _| {
        let variance = matrix[(row, row)];
        if variance > 0.0 { 1.0 / variance.sqrt() } else { 0.0 }
    });
    let mut left = SMatrix::<f64, N, N>::from_fn(|row, column| {
        matrix[(row, column)] * scale[row] * scale[column]
    });
    let mut solution =
        SMatrix::<f64, N, N>::from_fn(|row, column| right[(row, column)] * scale[column]);
    // Gauss–Jordan on the pivots: after it, `left` is the identity on the pivoted variables.
    let mut used = [false; N];
    for _ in 0..N {
        let Some(pivot) = largest_pivot(&left, &used) else { break };
        used[pivot] = true;
        let inverse = 1.0 / left[(pivot, pivot)];
        let pivot_column = left.column(pivot) * inverse;
        let solution_column = solution.column(pivot) * inverse;
        for column in (0..N).filter(|&column| column != pivot) {
            let factor = left[(pivot, column)];
            for row in 0..N {
                left[(row, column)] -= pivot_column[row] * factor;
                solution[(row, column)] -= solution_column[row] * factor;
            }
        }
        left.set_column(pivot, &pivot_column);
        solution.set_column(pivot, &solution_column);
    }
    SMatrix::from_fn(
        |row, column| if used[column] { solution[(row, column)] * scale[column] } else { 0.0 },
    )
}

fn largest_pivot<const N: usize>(left: &SMatrix<f64, N, N>, used: &[bool; N]) -> Option<usize> {
    (0..N)
        .filter(|&index| !used[index] && left[(index, index)] > SINGULAR)
        .max_by(|&one, &other| left[(one, one)].total_cmp(&left[(other, other)]))
}
