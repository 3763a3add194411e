//! The few loops over whole rows in which the recovery model spends its time.
//!
//! Each runs with the widest instructions that the processor has, chosen while running (the `pulp` crate). Where it can
//! multiply and add in one it does, and rounds once instead of twice: two kinds of processor agree to about fourteen
//! digits, one always gives the same.

use aligned_vec::{AVec, ConstAlign};
use pulp::{Arch, NullaryFnOnce, Simd, WithSimd};

/// Numbers of a row that are kept together: a line of the processor's cache.
pub(super) const LANES: usize = 8;

/// Numbers that begin where a line of the processor's cache does, so that no vector lies on two.
pub(super) type Aligned<T> = AVec<T, ConstAlign<64>>;

/// So many times the same.
pub(super) fn aligned<T: Copy>(value: T, n: usize) -> Aligned<T> {
    AVec::from_iter(64, std::iter::repeat_n(value, n))
}

/// How many products are taken off a matrix at once.
pub(super) const HELD: usize = 8;

/// Rows and columns of the blocks in which a matrix is worked on; a divisor of [`LANES`].
const BLOCK: usize = 4;

/// [`LANES`] numbers of each of [`HELD`] rows.
type HeldLanes = [[f64; LANES]; HELD];

/// Rows that are to be taken off a matrix, row·row' for each.
#[derive(Clone, Debug)]
pub(super) struct HeldRows(Aligned<HeldLanes>);

/// A symmetric matrix less what is held. It stays symmetric to the bit, and no variance gets below 0.
pub(super) fn lessen(matrix: &mut [f64], held: &HeldRows) {
    Arch::new().dispatch(Lessen { matrix: &mut *matrix, held });
    mirror(matrix, held.stride());
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

/// `mean` += gain·along, and the row held at a place = root·along.
pub(super) fn learn(
    mean: &mut [f64],
    (held, place): (&mut HeldRows, usize),
    along: &[f64],
    (gain, root): (f64, f64),
) {
    Arch::new().dispatch(Learn { mean, held, place, along, gain, root });
}

/// A symmetric matrix, whole, times a vector.
pub(super) fn multiply(matrix: &[f64], vector: &[f64], result: &mut [f64]) {
    Arch::new().dispatch(Multiply { matrix, vector, result });
}

impl HeldRows {
    /// Rows of zeros, each of so many numbers, a multiple of [`LANES`].
    pub(super) fn new(stride: usize) -> HeldRows {
        HeldRows(aligned([[0.0; LANES]; HELD], stride / LANES))
    }

    fn stride(&self) -> usize {
        self.0.len() * LANES
    }

    /// What the first `n` rows take off between two places.
    pub(super) fn between(&self, n: usize, one: usize, other: usize) -> f64 {
        let rows = self.0[one / LANES].iter().zip(&self.0[other / LANES]).take(n);
        rows.map(|(ones, others)| ones[one % LANES] * others[other % LANES]).sum()
    }

    /// Puts keep·old + part·(a sum of the row's numbers) in the place of one number of each row.
    pub(super) fn replace(&mut self, place: usize, keep: f64, sum: &[(usize, f64)], part: f64) {
        for idx in 0..HELD {
            let at = |row: usize| self.0[row / LANES][idx][row % LANES];
            let of_sum: f64 = sum.iter().map(|&(of, weight)| weight * at(of)).sum();
            self.0[place / LANES][idx][place % LANES] = keep * at(place) + part * of_sum;
        }
    }

    /// The same rows, longer by zeros.
    pub(super) fn widened(&self, stride: usize) -> HeldRows {
        let mut wider = HeldRows::new(stride);
        wider.0[..self.0.len()].copy_from_slice(&self.0);
        wider
    }
}

/// Takes off above the diagonal alone, and in the blocks that touch it.
struct Lessen<'a> {
    matrix: &'a mut [f64],
    held: &'a HeldRows,
}

impl WithSimd for Lessen<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        /// Vectors of each row that are worked on at once.
        const WIDTH: usize = 2;
        const { assert!(S::F64_LANES * WIDTH <= LANES) };
        let Lessen { matrix, held } = self;
        let stride = held.stride();
        // A group is so many of the processor's vectors. Everything is written out: arrays that are mapped or copied
        // become calls, and take longer than the products.
        let each = LANES / S::F64_LANES;
        let (vectors, _) = S::as_simd_f64s(held.0.as_flattened().as_flattened());
        for (block, rows) in matrix.chunks_exact_mut(BLOCK * stride).enumerate() {
            let group = block * BLOCK / LANES;
            let part = block % (LANES / BLOCK);
            let amounts = &held.0[group];
            let [one, two, three, four] = rows_of(S::as_mut_simd_f64s(rows).0);
            let start = group * each;
            let groups = one[start..]
                .chunks_exact_mut(each)
                .zip(two[start..].chunks_exact_mut(each))
                .zip(three[start..].chunks_exact_mut(each))
                .zip(four[start..].chunks_exact_mut(each))
                .zip(vectors[start * HELD..].chunks_exact(each * HELD));
            for ((((one, two), three), four), held) in groups {
                for from in (0..each).step_by(WIDTH) {
                    let mut cells = [
                        [one[from], one[from + 1]],
                        [two[from], two[from + 1]],
                        [three[from], three[from + 1]],
                        [four[from], four[from + 1]],
                    ];
                    for (row, amounts) in amounts.iter().enumerate() {
                        let others = [held[row * each + from], held[row * each + from + 1]];
                        let amounts: &[f64; BLOCK] = &amounts.as_chunks().0[part];
                        for (cells, amount) in cells.iter_mut().zip(amounts) {
                            let amount = simd.splat_f64s(*amount);
                            for (cell, other) in cells.iter_mut().zip(&others) {
                                *cell = simd.negate_mul_add_e_f64s(amount, *other, *cell);
                            }
                        }
                    }
                    [one[from], one[from + 1]] = cells[0];
                    [two[from], two[from + 1]] = cells[1];
                    [three[from], three[from + 1]] = cells[2];
                    [four[from], four[from + 1]] = cells[3];
                }
            }
        }
        for variance in matrix.iter_mut().step_by(stride + 1) {
            *variance = variance.max(0.0);
        }
    }
}

/// The rows of a block, each by itself.
#[inline(always)]
fn rows_of<T>(rows: &mut [T]) -> [&mut [T]; BLOCK] {
    let stride = rows.len() / BLOCK;
    let (one, rest) = rows.split_at_mut(stride);
    let (two, rest) = rest.split_at_mut(stride);
    let (three, four) = rest.split_at_mut(stride);
    [one, two, three, four]
}

/// Puts what is above the diagonal below it too.
fn mirror(matrix: &mut [f64], stride: usize) {
    #[cfg(target_arch = "x86_64")]
    if let Arch::V3(v3) = Arch::new() {
        v3.vectorize(Mirror { matrix, stride, transpose: |block| transposed_by(v3, block) });
        return;
    }
    Mirror { matrix, stride, transpose: transposed }.call();
}

type Block = [[f64; BLOCK]; BLOCK];

struct Mirror<'a, F> {
    matrix: &'a mut [f64],
    stride: usize,
    transpose: F,
}

impl<F: Fn(Block) -> Block> NullaryFnOnce for Mirror<'_, F> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Mirror { matrix, stride, transpose } = self;
        for block in 1..stride / BLOCK {
            let (above, rows) = matrix.split_at_mut(block * BLOCK * stride);
            // Columns from that group on were worked on themselves.
            let upto = block * BLOCK / LANES * LANES;
            let [one, two, three, four] = rows_of(&mut rows[..BLOCK * stride]);
            let blocks = one[..upto]
                .as_chunks_mut::<BLOCK>()
                .0
                .iter_mut()
                .zip(two[..upto].as_chunks_mut::<BLOCK>().0)
                .zip(three[..upto].as_chunks_mut::<BLOCK>().0)
                .zip(four[..upto].as_chunks_mut::<BLOCK>().0)
                .zip(above.chunks_exact(BLOCK * stride));
            for ((((one, two), three), four), above) in blocks {
                let at = |row: usize| above[row * stride..].as_chunks().0[block];
                [*one, *two, *three, *four] = transpose([at(0), at(1), at(2), at(3)]);
            }
        }
    }
}

fn transposed(block: Block) -> Block {
    std::array::from_fn(|row| block.map(|of_row| of_row[row]))
}

/// The same by the processor's own shuffles, which the compiler doesn't find.
#[cfg(target_arch = "x86_64")]
#[inline(always)]
fn transposed_by(v3: pulp::x86::V3, block: Block) -> Block {
    let [one, two, three, four] = block;
    let [one, two] = [pulp::cast(one), pulp::cast(two)];
    let [three, four] = [pulp::cast(three), pulp::cast(four)];
    let [first, second] =
        [v3.avx._mm256_unpacklo_pd(one, two), v3.avx._mm256_unpackhi_pd(one, two)];
    let [third, fourth] =
        [v3.avx._mm256_unpacklo_pd(three, four), v3.avx._mm256_unpackhi_pd(three, four)];
    [
        pulp::cast(v3.avx._mm256_permute2f128_pd::<0x20>(first, third)),
        pulp::cast(v3.avx._mm256_permute2f128_pd::<0x20>(second, fourth)),
        pulp::cast(v3.avx._mm256_permute2f128_pd::<0x31>(first, third)),
        pulp::cast(v3.avx._mm256_permute2f128_pd::<0x31>(second, fourth)),
    ]
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
        let parts = weights.as_chunks_mut::<BLOCK>().0.iter_mut();
        for (idx, part) in parts.enumerate().take(n_held.div_ceil(BLOCK)) {
            for &(of, weight) in sum {
                let rows: &[[f64; LANES]; BLOCK] = &held.0[of / LANES].as_chunks().0[idx];
                for (total, row) in part.iter_mut().zip(rows) {
                    *total -= weight * row[of % LANES];
                }
            }
        }
        let (result, _) = S::as_mut_simd_f64s(result);
        let rows = Rows::<S> {
            simd,
            stride: result.len(),
            matrix: S::as_simd_f64s(matrix).0,
            sum,
            held: S::as_simd_f64s(held.0.as_flattened().as_flattened()).0,
            weights: &weights[..n_held],
        };
        // As many columns at once as there are registers for, then ever fewer; always whole groups.
        let each = LANES / S::F64_LANES;
        let mut from = 0;
        while from < result.len() {
            let result = &mut result[from..];
            from += match result.len() {
                14.. if each <= 2 => rows.columns::<14>(from, result),
                8.. => rows.columns::<8>(from, result),
                4.. => rows.columns::<4>(from, result),
                _ => rows.columns::<2>(from, result),
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
                *total = simd.mul_add_e_f64s(weight, *value, *total);
            }
        }
        let each = LANES / S::F64_LANES;
        for (row, &weight) in self.weights.iter().enumerate() {
            let weight = simd.splat_f64s(weight);
            let held = &self.held[from * HELD..][..N * HELD];
            for (idx, total) in total.iter_mut().enumerate() {
                let value = held[(idx / each * HELD + row) * each + idx % each];
                *total = simd.mul_add_e_f64s(weight, value, *total);
            }
        }
        for (result, total) in result.iter_mut().zip(total) {
            *result = total;
        }
        N
    }
}

struct Learn<'a> {
    mean: &'a mut [f64],
    held: &'a mut HeldRows,
    place: usize,
    along: &'a [f64],
    gain: f64,
    root: f64,
}

impl WithSimd for Learn<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Learn { mean, held, place, along, gain, root } = self;
        let (gain, root) = (simd.splat_f64s(gain), simd.splat_f64s(root));
        let each = LANES / S::F64_LANES;
        let means = S::as_mut_simd_f64s(mean).0.chunks_exact_mut(each);
        let alongs = S::as_simd_f64s(along).0.chunks_exact(each);
        for ((mean, lanes), along) in means.zip(held.0.iter_mut()).zip(alongs) {
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

    fn along(stride: usize, place: usize) -> Vec<f64> {
        numbers(stride, 7.0 * place as f64)
    }

    /// Rows held after so many observations of `stride` quantities, and the mean that they moved.
    fn held(stride: usize, n: usize, one_by_one: bool) -> (HeldRows, Vec<f64>) {
        let (mut held, mut mean) = (HeldRows::new(stride), numbers(stride, 0.5));
        for place in 0..n {
            let along = along(stride, place);
            let (gain, root) = (0.3 - place as f64, 0.8);
            if one_by_one {
                let (mean, held) = (&mut mean[..], &mut held);
                Learn { mean, held, place, along: &along, gain, root }.with_simd(Scalar);
            } else {
                learn(&mut mean, (&mut held, place), &along, (gain, root));
            }
        }
        (held, mean)
    }

    fn symmetric(stride: usize) -> Vec<f64> {
        let half = numbers(stride * stride, 3.0);
        let at = |row: usize, column: usize| half[row.min(column) * stride + row.max(column)];
        (0..stride * stride).map(|idx| at(idx / stride, idx % stride)).collect()
    }

    fn assert_near(ones: &[f64], others: &[f64]) {
        for (idx, (one, other)) in ones.iter().zip(others).enumerate() {
            assert!((one - other).abs() < 1e-12, "{idx}: {one} and {other}");
        }
    }

    /// Whatever vectors a processor has, 32 to 120 quantities with 0 to 8 rows held come out as one number at a time
    /// and as by hand, and a matrix stays symmetric to the bit.
    #[test]
    fn results_are_those_of_one_by_one() {
        let sum = [(1, 0.5), (9, -2.0), (26, 0.25)];
        for (stride, n) in [(32, 0), (40, 3), (48, 7), (56, 5), (64, HELD), (120, HELD)] {
            let ((rows, mean), (same_rows, same_mean)) =
                (held(stride, n, false), held(stride, n, true));
            assert_eq!((&mean, &rows.0), (&same_mean, &same_rows.0));
            let off: f64 =
                (0..n).map(|place| 0.64 * along(stride, place)[4] * along(stride, place)[27]).sum();
            assert!((rows.between(n, 4, 27) - off).abs() < 1e-12);
            let matrix = symmetric(stride);
            let (mut along, mut same) = (vec![0.0; stride], vec![0.0; stride]);
            gather(&matrix, &rows, n, &sum, &mut along);
            let (matrix_, held, sum) = (&matrix[..], &rows, &sum[..]);
            Gather { matrix: matrix_, held, n_held: n, sum, result: &mut same }.with_simd(Scalar);
            assert_near(&along, &same);
            let by_hand = (0..stride).map(|row| {
                let of = |(other, weight): &(usize, f64)| {
                    weight * (matrix[row * stride + other] - rows.between(n, row, *other))
                };
                sum.iter().map(of).sum()
            });
            assert_near(&along, &by_hand.collect::<Vec<f64>>());
            if n == HELD {
                let (mut lessened, mut same) = (matrix.clone(), matrix.clone());
                lessen(&mut lessened, &rows);
                Lessen { matrix: &mut same, held: &rows }.with_simd(Scalar);
                Mirror { matrix: &mut same, stride, transpose: transposed }.call();
                assert_near(&lessened, &same);
                let by_hand = (0..stride * stride).map(|idx| {
                    let (row, column) = (idx / stride, idx % stride);
                    let wanted = matrix[idx] - rows.between(HELD, row, column);
                    if row == column { wanted.max(0.0) } else { wanted }
                });
                assert_near(&lessened, &by_hand.collect::<Vec<f64>>());
                for (idx, value) in lessened.iter().enumerate() {
                    let mirrored = lessened[idx % stride * stride + idx / stride];
                    assert_eq!(value.to_bits(), mirrored.to_bits(), "{idx}");
                }
            }
        }
    }
}
