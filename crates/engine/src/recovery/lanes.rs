//! The few loops over whole rows in which the recovery model spends its time.
//!
//! Each runs with the widest instructions that the processor has, chosen while running (the `pulp` crate).
//! Numbers are multiplied and added one by one and in a fixed order all the same, so the result is the
//! same to the bit on every machine. A group of lanes is read whole, computed, and written whole, so that no
//! test is needed whether what is written is read again.

use pulp::{Arch, NullaryFnOnce};

/// Numbers that are computed at once.
pub(super) const LANES: usize = 4;

/// How many products are taken off a triangle at once.
pub(super) const HELD: usize = 4;

/// Upper triangle of a symmetric matrix −= Σ amount·along·along', over [`HELD`] amounts and as many rows of
/// `along`, each as long as the triangle's, a multiple of [`LANES`]. Up to three numbers before the diagonal
/// are written over.
pub(super) fn lessen(triangle: &mut [f64], along: &[f64], amounts: [f64; HELD]) {
    Arch::new().dispatch(Lessen { triangle, along, amounts });
}

/// `along` −= amount·held, both a multiple of [`LANES`] long.
pub(super) fn lessen_product(along: &mut [f64], held: &[f64], amount: f64) {
    Arch::new().dispatch(LessenProduct { along, held, amount });
}

/// The product of a symmetric matrix, given as its upper triangle, with a vector of few numbers other
/// than 0, given as (row, number).
pub(super) fn gather(triangle: &[f64], sum: &[(usize, f64)], along: &mut [f64]) {
    Arch::new().dispatch(Gather { triangle, sum, along });
}

/// A symmetric matrix, whole, times a vector.
pub(super) fn multiply(matrix: &[f64], vector: &[f64], result: &mut [f64]) {
    Arch::new().dispatch(Multiply { matrix, vector, result });
}

struct Lessen<'a> {
    triangle: &'a mut [f64],
    along: &'a [f64],
    amounts: [f64; HELD],
}

impl NullaryFnOnce for Lessen<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let stride = self.along.len() / HELD;
        let along: [&[f64]; HELD] =
            std::array::from_fn(|idx| &self.along[idx * stride..][..stride]);
        let lanes = along.map(|one| one.as_chunks::<LANES>().0);
        for (row, of_row) in self.triangle.chunks_exact_mut(stride).enumerate() {
            let amounts: [f64; HELD] =
                std::array::from_fn(|idx| self.amounts[idx] * along[idx][row]);
            let first = row / LANES;
            let [a, b, c, d] = lanes.map(|one| &one[first..]);
            let (by_lanes, _) = of_row.as_chunks_mut::<LANES>();
            let others = a.iter().zip(b).zip(c.iter().zip(d));
            for (values, ((a, b), (c, d))) in by_lanes[first..].iter_mut().zip(others) {
                let (old, [a, b, c, d]) = (*values, [*a, *b, *c, *d]);
                *values = std::array::from_fn(|lane| {
                    let early = amounts[0] * a[lane] + amounts[1] * b[lane];
                    let late = amounts[2] * c[lane] + amounts[3] * d[lane];
                    old[lane] - (early + late)
                });
            }
            of_row[row] = of_row[row].max(0.0);
        }
    }
}

/// `values` += weight·row.
#[inline(always)]
fn add(values: &mut [[f64; LANES]], row: &[[f64; LANES]], weight: f64) {
    for (values, others) in values.iter_mut().zip(row) {
        let (old, others) = (*values, *others);
        *values = std::array::from_fn(|lane| old[lane] + weight * others[lane]);
    }
}

struct LessenProduct<'a> {
    along: &'a mut [f64],
    held: &'a [f64],
    amount: f64,
}

impl NullaryFnOnce for LessenProduct<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let (groups, _) = self.along.as_chunks_mut::<LANES>();
        let (held, _) = self.held.as_chunks::<LANES>();
        add(groups, held, -self.amount);
    }
}

struct Gather<'a> {
    triangle: &'a [f64],
    sum: &'a [(usize, f64)],
    along: &'a mut [f64],
}

impl NullaryFnOnce for Gather<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let stride = self.along.len();
        self.along.fill(0.0);
        for &(of, weight) in self.sum {
            for (value, row) in self.along[..of].iter_mut().zip(self.triangle.chunks_exact(stride))
            {
                *value += weight * row[of];
            }
            // To the next whole group of lanes one by one, then groups.
            let of_row = &self.triangle[of * stride..][..stride];
            let next = (of + 1).next_multiple_of(LANES);
            for (value, other) in self.along[of..next].iter_mut().zip(&of_row[of..next]) {
                *value += weight * other;
            }
            let (groups, _) = self.along[next..].as_chunks_mut::<LANES>();
            let (others, _) = of_row[next..].as_chunks::<LANES>();
            add(groups, others, weight);
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
