//! The few loops over whole rows in which the recovery model spends its time.
//!
//! Each runs with the widest instructions that the processor has, chosen while running (the `pulp` crate).
//! Numbers are multiplied and added one by one and in a fixed order all the same, so the result is the
//! same to the bit on every machine.

use aligned_vec::{AVec, ConstAlign};
use pulp::{Arch, NullaryFnOnce, Simd, WithSimd};

/// Numbers that are computed at once.
pub(super) const LANES: usize = 4;

/// Numbers that begin where a line of the processor's cache does, so that no vector lies on two.
pub(super) type Aligned<T> = AVec<T, ConstAlign<64>>;

/// So many times the same.
pub(super) fn aligned<T: Copy>(value: T, n: usize) -> Aligned<T> {
    AVec::from_iter(64, std::iter::repeat_n(value, n))
}

/// How many products are taken off a matrix at once.
pub(super) const HELD: usize = 8;

/// [`LANES`] numbers of each of [`HELD`] rows.
type HeldLanes = [[f64; LANES]; HELD];

/// Rows that are to be taken off a matrix, sign·row·row' for each, as both sides of the product are read.
#[derive(Clone, Debug)]
pub(super) struct HeldRows {
    /// [`LANES`] numbers of each row.
    lanes: Aligned<HeldLanes>,
    /// One number of each row, times its sign.
    signed: Aligned<[f64; HELD]>,
}

/// A symmetric matrix less what is held. It stays symmetric to the bit, and no variance gets below 0.
pub(super) fn lessen(matrix: &mut [f64], held: &HeldRows) {
    Arch::new().dispatch(Lessen { matrix, held });
}

/// The product of a symmetric matrix, less the first `n_held` rows held, with a vector of few numbers other than 0,
/// given as (row, number).
pub(super) fn gather(
    matrix: &[f64],
    held: &HeldRows,
    n_held: usize,
    sum: &[(usize, f64)],
    result: &mut [f64],
) {
    Arch::new().dispatch(Gather { matrix, held, n_held, sum, result });
}

/// `mean` += gain·along, and the row held at a place = along·√|shrink|, its sign that of shrink.
pub(super) fn learn(
    mean: &mut [f64],
    (held, place): (&mut HeldRows, usize),
    along: &[f64],
    (gain, shrink): (f64, f64),
) {
    Arch::new().dispatch(Learn { mean, held, place, along, gain, shrink });
}

/// A symmetric matrix, whole, times a vector.
pub(super) fn multiply(matrix: &[f64], vector: &[f64], result: &mut [f64]) {
    Arch::new().dispatch(Multiply { matrix, vector, result });
}

impl HeldRows {
    /// Rows of zeros, each of so many numbers, a multiple of [`LANES`].
    pub(super) fn new(stride: usize) -> HeldRows {
        HeldRows {
            lanes: aligned([[0.0; LANES]; HELD], stride / LANES),
            signed: aligned([0.0; HELD], stride),
        }
    }

    /// What the first `n` rows take off between two places.
    pub(super) fn between(&self, n: usize, one: usize, other: usize) -> f64 {
        let lanes = &self.lanes[other / LANES][..n];
        let products = self.signed[one].iter().zip(lanes);
        products.map(|(signed, lanes)| signed * lanes[other % LANES]).sum()
    }

    /// Puts keep·old + part·(a sum of the row's numbers) in the place of one number of each row.
    pub(super) fn replace(&mut self, place: usize, keep: f64, sum: &[(usize, f64)], part: f64) {
        for idx in 0..HELD {
            let at = |row: usize| self.lanes[row / LANES][idx][row % LANES];
            let of_sum: f64 = sum.iter().map(|&(of, weight)| weight * at(of)).sum();
            let sum_signed: f64 =
                sum.iter().map(|&(of, weight)| weight * self.signed[of][idx]).sum();
            let fresh = keep * at(place) + part * of_sum;
            self.lanes[place / LANES][idx][place % LANES] = fresh;
            self.signed[place][idx] = keep * self.signed[place][idx] + part * sum_signed;
        }
    }

    /// The same rows, longer by zeros.
    pub(super) fn widened(&self, stride: usize) -> HeldRows {
        let mut wider = HeldRows::new(stride);
        wider.lanes[..self.lanes.len()].copy_from_slice(&self.lanes);
        wider.signed[..self.signed.len()].copy_from_slice(&self.signed);
        wider
    }
}

struct Lessen<'a> {
    matrix: &'a mut [f64],
    held: &'a HeldRows,
}

impl WithSimd for Lessen<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Lessen { matrix, held } = self;
        let stride = held.signed.len();
        // A group is so many of the processor's vectors.
        let each = LANES / S::F64_LANES;
        let (vectors, _) = S::as_simd_f64s(held.lanes.as_flattened().as_flattened());
        for (of_row, signed) in matrix.chunks_exact_mut(stride).zip(held.signed.iter()) {
            let amounts = signed.map(|amount| simd.splat_f64s(amount));
            let groups = S::as_mut_simd_f64s(of_row).0.chunks_exact_mut(each);
            for (values, held) in groups.zip(vectors.chunks_exact(HELD * each)) {
                for (idx, value) in values.iter_mut().enumerate() {
                    let product = |of: usize| simd.mul_f64s(amounts[of], held[of * each + idx]);
                    let two = |of: usize| simd.add_f64s(product(of), product(of + 1));
                    let four = |of: usize| simd.add_f64s(two(of), two(of + 2));
                    *value = simd.sub_f64s(*value, simd.add_f64s(four(0), four(4)));
                }
            }
        }
        for variance in matrix.iter_mut().step_by(stride + 1) {
            *variance = variance.max(0.0);
        }
    }
}

struct Gather<'a> {
    matrix: &'a [f64],
    held: &'a HeldRows,
    n_held: usize,
    sum: &'a [(usize, f64)],
    result: &'a mut [f64],
}

impl WithSimd for Gather<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Gather { matrix, held, n_held, sum, result } = self;
        // What is held is taken off like more rows, with weights of their own.
        let mut weights = [0.0; HELD];
        for &(of, weight) in sum {
            let signed = &held.signed[of];
            weights = std::array::from_fn(|idx| weights[idx] - weight * signed[idx]);
        }
        let (result, _) = S::as_mut_simd_f64s(result);
        let rows = Rows::<S> {
            simd,
            stride: result.len(),
            matrix: S::as_simd_f64s(matrix).0,
            sum,
            held: S::as_simd_f64s(held.lanes.as_flattened().as_flattened()).0,
            weights: &weights[..n_held],
        };
        // As many columns at once as there are registers for, then ever fewer.
        let mut from = 0;
        while from < result.len() {
            let result = &mut result[from..];
            from += match result.len() {
                7.. => rows.columns::<7>(from, result),
                4.. => rows.columns::<4>(from, result),
                2.. => rows.columns::<2>(from, result),
                _ => rows.columns::<1>(from, result),
            }
        }
    }
}

/// What is gathered, in the processor's vectors.
struct Rows<'a, S: Simd> {
    simd: S,
    stride: usize,
    matrix: &'a [S::f64s],
    sum: &'a [(usize, f64)],
    held: &'a [S::f64s],
    weights: &'a [f64],
}

impl<S: Simd> Rows<'_, S> {
    /// `N` vectors from `from` on, put into the first of the result; how many that are.
    #[inline(always)]
    fn columns<const N: usize>(&self, from: usize, result: &mut [S::f64s]) -> usize {
        let simd = self.simd;
        let mut total = [simd.splat_f64s(0.0); N];
        for &(row, weight) in self.sum {
            let weight = simd.splat_f64s(weight);
            let values = &self.matrix[row * self.stride + from..][..N];
            for (total, value) in total.iter_mut().zip(values) {
                *total = simd.add_f64s(*total, simd.mul_f64s(weight, *value));
            }
        }
        let each = LANES / S::F64_LANES;
        for (row, &weight) in self.weights.iter().enumerate() {
            let weight = simd.splat_f64s(weight);
            for (place, total) in (from..).zip(&mut total) {
                let value = self.held[(place / each * HELD + row) * each + place % each];
                *total = simd.add_f64s(*total, simd.mul_f64s(weight, value));
            }
        }
        result[..N].copy_from_slice(&total);
        N
    }
}

struct Learn<'a> {
    mean: &'a mut [f64],
    held: &'a mut HeldRows,
    place: usize,
    along: &'a [f64],
    gain: f64,
    shrink: f64,
}

impl WithSimd for Learn<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Learn { mean, held, place, along, gain, shrink } = self;
        let root = shrink.abs().sqrt();
        let signed_root = root.copysign(shrink);
        for (signed, along) in held.signed.iter_mut().zip(along) {
            signed[place] = signed_root * along;
        }
        let (gain, root) = (simd.splat_f64s(gain), simd.splat_f64s(root));
        let each = LANES / S::F64_LANES;
        let means = S::as_mut_simd_f64s(mean).0.chunks_exact_mut(each);
        let alongs = S::as_simd_f64s(along).0.chunks_exact(each);
        for ((mean, lanes), along) in means.zip(held.lanes.iter_mut()).zip(alongs) {
            let lanes = S::as_mut_simd_f64s(&mut lanes[place]).0;
            for ((mean, held), along) in mean.iter_mut().zip(lanes).zip(along) {
                *mean = simd.add_f64s(*mean, simd.mul_f64s(gain, *along));
                *held = simd.mul_f64s(root, *along);
            }
        }
    }
}

struct Multiply<'a> {
    matrix: &'a [f64],
    vector: &'a [f64],
    result: &'a mut [f64],
}

impl NullaryFnOnce for Multiply<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.result.fill(0.0);
        for (row, amount) in self.matrix.chunks_exact(self.vector.len()).zip(self.vector) {
            for (sum, value) in self.result.iter_mut().zip(row) {
                *sum += amount * value;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::Scalar;

    /// Numbers that look random, the same every time.
    fn numbers(n: usize, seed: f64) -> Vec<f64> {
        (0..n).map(|idx| ((idx as f64 + seed) * 12.9898).sin()).collect()
    }

    fn shrink(place: usize) -> f64 {
        if place == 2 { -0.4 } else { 0.7 }
    }

    fn along(stride: usize, place: usize) -> Vec<f64> {
        numbers(stride, 7.0 * place as f64)
    }

    /// Rows held after so many observations of `stride` quantities, and the mean that they moved.
    fn held(stride: usize, n: usize, one_by_one: bool) -> (HeldRows, Vec<f64>) {
        let (mut held, mut mean) = (HeldRows::new(stride), numbers(stride, 0.5));
        for place in 0..n {
            let along = along(stride, place);
            let (gain, shrink) = (0.3 - place as f64, shrink(place));
            if one_by_one {
                let (mean, held) = (&mut mean[..], &mut held);
                Learn { mean, held, place, along: &along, gain, shrink }.with_simd(Scalar);
            } else {
                learn(&mut mean, (&mut held, place), &along, (gain, shrink));
            }
        }
        (held, mean)
    }

    fn symmetric(stride: usize) -> Vec<f64> {
        let half = numbers(stride * stride, 3.0);
        let at = |row: usize, column: usize| half[row.min(column) * stride + row.max(column)];
        (0..stride * stride).map(|idx| at(idx / stride, idx % stride)).collect()
    }

    /// Whatever vectors a processor has, 28 to 60 quantities with 0 to 8 rows held come out the same as one number at
    /// a time, and a matrix stays symmetric to the bit.
    #[test]
    fn results_are_the_same_to_the_bit_one_by_one() {
        let sum = [(1, 0.5), (9, -2.0), (26, 0.25)];
        for (stride, n) in [(28, 0), (32, 3), (44, 7), (60, HELD)] {
            let ((rows, mean), (same_rows, same_mean)) =
                (held(stride, n, false), held(stride, n, true));
            assert_eq!(
                (&mean, &rows.lanes, &rows.signed),
                (&same_mean, &same_rows.lanes, &same_rows.signed)
            );
            let off: f64 = (0..n)
                .map(|place| shrink(place) * along(stride, place)[4] * along(stride, place)[27])
                .sum();
            assert!((rows.between(n, 4, 27) - off).abs() < 1e-12);
            let matrix = symmetric(stride);
            let (mut along, mut same) = (vec![0.0; stride], vec![0.0; stride]);
            gather(&matrix, &rows, n, &sum, &mut along);
            let (matrix_, held, sum) = (&matrix[..], &rows, &sum[..]);
            Gather { matrix: matrix_, held, n_held: n, sum, result: &mut same }.with_simd(Scalar);
            assert_eq!(along, same);
            for (row, along) in along.iter().enumerate() {
                let of = |(other, weight): &(usize, f64)| {
                    weight * (matrix[row * stride + other] - rows.between(n, row, *other))
                };
                assert!((along - sum.iter().map(of).sum::<f64>()).abs() < 1e-12, "{row}");
            }
            if n == HELD {
                let (mut lessened, mut same) = (matrix.clone(), matrix.clone());
                lessen(&mut lessened, &rows);
                Lessen { matrix: &mut same, held: &rows }.with_simd(Scalar);
                assert_eq!(lessened, same);
                for idx in 0..stride * stride {
                    let (row, column) = (idx / stride, idx % stride);
                    assert_eq!(lessened[idx].to_bits(), lessened[column * stride + row].to_bits());
                    let wanted = matrix[idx] - rows.between(HELD, row, column);
                    let wanted = if row == column { wanted.max(0.0) } else { wanted };
                    assert!((lessened[idx] - wanted).abs() < 1e-12, "{row}, {column}");
                }
            }
        }
    }
}
