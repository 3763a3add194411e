//! Exact relations that pooling must keep on any data, and inputs meant to break it.
//!
//! No value here comes from elsewhere; `pooling_reference.rs` holds those. Long because every relation is
//! tried on both forms of covariance and every refusal is named.

#[path = "../../domain/tests/support/properties.rs"]
mod properties;

use engine::pooling::{
    Between, Component, Estimate, Pooled, PoolingError, Priors, RepeatedMeasures, Search,
    SpreadPrior, Structure, Verdict, fit_repeated, pool, without_prior,
};
use nalgebra::{DMatrix, DVector};
use proptest::prelude::*;

#[track_caller]
fn assert_close(got: &DMatrix<f64>, expected: &DMatrix<f64>, tolerance: f64) {
    let gap = (got - expected).amax();
    let size = 1.0 + expected.amax();
    assert!(gap <= tolerance * size, "got {got}, expected {expected}, gap {gap:e}");
}

#[track_caller]
fn assert_close_vector(got: &DVector<f64>, expected: &DVector<f64>, tolerance: f64) {
    assert_close(
        &DMatrix::from_columns(std::slice::from_ref(got)),
        &DMatrix::from_columns(std::slice::from_ref(expected)),
        tolerance,
    );
}

fn column(values: &[f64]) -> DVector<f64> {
    DVector::from_row_slice(values)
}

fn matrix<const R: usize, const C: usize>(rows: [[f64; C]; R]) -> DMatrix<f64> {
    DMatrix::from_fn(R, C, |row, column| rows[row][column])
}

fn number(mean: f64, variance: f64) -> Estimate {
    Estimate::from_covariance(column(&[mean]), &matrix([[variance]])).unwrap()
}

/// Means and the elements of a root of the covariance, for two components.
type Raw = ([f64; 2], [f64; 3]);

fn vector(&(mean, root): &Raw) -> (DVector<f64>, DMatrix<f64>) {
    let root = matrix([[root[0], 0.0], [root[1], root[2]]]);
    (DVector::from_row_slice(&mean), &root * root.transpose())
}

fn estimates(raw: &[Raw]) -> Vec<Estimate> {
    raw.iter()
        .map(|one| {
            let (mean, covariance) = vector(one);
            Estimate::from_covariance(mean, &covariance).unwrap()
        })
        .collect()
}

fn raw_persons(n: std::ops::Range<usize>) -> impl Strategy<Value = Vec<Raw>> {
    let mean = [-3.0..3.0, -3.0..3.0];
    let root = [0.2..1.5, -0.5..0.5, 0.2..1.5];
    proptest::collection::vec((mean, root), n)
}

fn plain(persons: &[Estimate], structure: &Structure) -> Pooled {
    pool(persons, structure, &Priors::default()).unwrap()
}

fn at_floor(search: &Search) -> bool {
    search.verdict == Verdict::Converged
}

fn structures() -> [Structure; 2] {
    [Structure::full(2), Structure::diagonal(2)]
}

/// −2 ln of the restricted likelihood, written out with the inverse covariances.
fn by_definition(raw: &[Raw], spread: &DMatrix<f64>) -> f64 {
    let n = spread.nrows();
    let (mut information, mut right) = (DMatrix::zeros(n, n), DVector::zeros(n));
    let mut total = 0.0;
    for one in raw {
        let (mean, covariance) = vector(one);
        let inverse = (covariance + spread).try_inverse().unwrap();
        total += mean.dot(&(&inverse * &mean)) - inverse.determinant().ln();
        right += &inverse * mean;
        information += inverse;
    }
    total -= right.dot(&(information.clone().try_inverse().unwrap() * &right));
    total += information.determinant().ln();
    total + (n * (raw.len() - 1)) as f64 * std::f64::consts::TAU.ln()
}

// ------------------------------------------------------------------------------------------------
// Against the definition

proptest! {
    #![proptest_config(properties::config(48))]

    #[test]
    fn criterion_is_the_definitions_and_least(
        raw in raw_persons(3..9),
        nudges in proptest::collection::vec([-1.0..1.0f64, -1.0..1.0, -1.0..1.0], 12),
    ) {
        for structure in structures() {
            let pooled = plain(&estimates(&raw), &structure);
            prop_assert!(at_floor(&pooled.search), "{:?}", pooled.search);
            let least = by_definition(&raw, &pooled.spread);
            prop_assert!((pooled.criterion - least).abs() <= 1e-9 * (1.0 + least.abs()));
            // Any covariance nearby, inside or on the boundary, is no better.
            for nudge in &nudges {
                for size in [0.01, 0.1, 1.0] {
                    let along = if structure.between == Between::Full { nudge[1] } else { 0.0 };
                    let root = matrix([[nudge[0], 0.0], [along, nudge[2]]]) * size;
                    let other = &pooled.spread * (1.0 - 0.5 * size * nudge[0].abs())
                        + &root * root.transpose();
                    let there = by_definition(&raw, &other);
                    prop_assert!(there >= least - 1e-9 * (1.0 + least.abs()), "{there} < {least}");
                }
            }
        }
    }

    #[test]
    fn shrunk_persons_are_precision_weighted_means(raw in raw_persons(3..8)) {
        let pooled = plain(&estimates(&raw), &Structure::full(2));
        for (one, shrunk) in raw.iter().zip(&pooled.persons) {
            let (own, covariance) = vector(one);
            let weight = &pooled.spread * (covariance + &pooled.spread).try_inverse().unwrap();
            let expected = &pooled.mean + &weight * (own - &pooled.mean);
            assert_close_vector(&shrunk.mean, &expected, 1e-9);
            let open = DMatrix::identity(2, 2) - weight;
            let error = &open * &pooled.spread + &open * &pooled.mean_covariance * open.transpose();
            assert_close(&shrunk.covariance, &error, 1e-9);
        }
    }

    // ------------------------------------------------------------------------------------------------
    // Invariances

    #[test]
    fn shift_moves_means_alone(raw in raw_persons(3..8), shift in [-50.0..50.0, -50.0..50.0]) {
        for structure in structures() {
            let pooled = plain(&estimates(&raw), &structure);
            let by = DVector::from_row_slice(&shift);
            let moved: Vec<Raw> =
                raw.iter().map(|&([a, b], root)| ([a + shift[0], b + shift[1]], root)).collect();
            let moved = plain(&estimates(&moved), &structure);
            assert_close_vector(&moved.mean, &(&pooled.mean + &by), 1e-8);
            assert_close(&moved.spread, &pooled.spread, 1e-5);
            prop_assert!((moved.criterion - pooled.criterion).abs() < 1e-8);
        }
    }

    #[test]
    fn units_change_nothing_else(raw in raw_persons(3..8), first in -9.0..9.0, second in -9.0..9.0) {
        for structure in structures() {
            let pooled = plain(&estimates(&raw), &structure);
            let units = DMatrix::from_diagonal(&column(&[f64::exp(first), f64::exp(second)]));
            let scaled: Vec<Estimate> = raw
                .iter()
                .map(|one| {
                    let (mean, covariance) = vector(one);
                    Estimate::from_covariance(&units * mean, &(&units * covariance * &units)).unwrap()
                })
                .collect();
            let scaled = plain(&scaled, &structure);
            prop_assert!(at_floor(&scaled.search), "{:?}", scaled.search);
            let back = units.clone().try_inverse().unwrap();
            assert_close_vector(&(&back * &scaled.mean), &pooled.mean, 1e-6);
            assert_close(&(&back * &scaled.spread * &back), &pooled.spread, 1e-5);
            let jacobian = 2.0 * (raw.len() - 1) as f64 * (first + second);
            prop_assert!((scaled.criterion - pooled.criterion - jacobian).abs() < 1e-8);
        }
    }

    #[test]
    fn order_of_persons_does_not_matter(raw in raw_persons(3..8)) {
        for structure in structures() {
            let pooled = plain(&estimates(&raw), &structure);
            let mut backwards = raw.clone();
            backwards.reverse();
            let mut backwards = plain(&estimates(&backwards), &structure);
            backwards.persons.reverse();
            prop_assert!((pooled.criterion - backwards.criterion).abs() < 1e-9);
            assert_close_vector(&pooled.mean, &backwards.mean, 1e-6);
            assert_close(&pooled.spread, &backwards.spread, 1e-5);
            for (one, other) in pooled.persons.iter().zip(&backwards.persons) {
                assert_close_vector(&one.mean, &other.mean, 1e-5);
            }
        }
    }

    #[test]
    fn independent_components_pool_alone(raw in raw_persons(4..9)) {
        let side = |idx: usize| -> Vec<Estimate> {
            raw.iter().map(|(mean, root)| number(mean[idx], root[2 * idx].powi(2))).collect()
        };
        let both: Vec<Raw> = raw.iter().map(|&(mean, [a, _, c])| (mean, [a, 0.0, c])).collect();
        let both = plain(&estimates(&both), &Structure::diagonal(2));
        let alone = [0, 1].map(|idx| plain(&side(idx), &Structure::diagonal(1)));
        for (idx, alone) in alone.iter().enumerate() {
            prop_assert!((both.mean[idx] - alone.mean[0]).abs() < 1e-6);
            prop_assert!((both.spread[(idx, idx)] - alone.spread[(0, 0)]).abs() < 1e-5);
        }
        prop_assert!((both.criterion - alone[0].criterion - alone[1].criterion).abs() < 1e-8);
    }

    // ------------------------------------------------------------------------------------------------
    // What isn't known

    #[test]
    fn somebody_unknown_changes_nothing(raw in raw_persons(3..8)) {
        for structure in structures() {
            let pooled = plain(&estimates(&raw), &structure);
            let mut more = estimates(&raw);
            more.insert(1, Estimate::nothing(2));
            let more = plain(&more, &structure);
            // To the bit: the search takes the same way.
            prop_assert_eq!(pooled.criterion, more.criterion);
            prop_assert_eq!(&pooled.spread, &more.spread);
            prop_assert_eq!(&pooled.mean, &more.mean);
            // Of that person, what is believed of a newcomer.
            assert_close_vector(&more.persons[1].mean, &more.mean, 0.0);
            assert_close(&more.persons[1].covariance, &more.newcomer().covariance, 1e-12);
        }
    }

    #[test]
    fn missing_component_is_the_limit_of_a_vague_one(raw in raw_persons(4..8)) {
        let mut vague = estimates(&raw);
        let mut missing = vague.clone();
        let (mean, covariance) = vector(&raw[0]);
        let known = matrix([[covariance[(0, 0)]]]);
        missing[0] = Estimate::of_components(2, &[0], &column(&[mean[0]]), &known).unwrap();
        let wide = matrix([[covariance[(0, 0)], 0.0], [0.0, 1e9]]);
        vague[0] = Estimate::from_covariance(column(&[mean[0], 1.0]), &wide).unwrap();
        for structure in structures() {
            let (missing, vague) = (plain(&missing, &structure), plain(&vague, &structure));
            assert_close_vector(&missing.mean, &vague.mean, 1e-4);
            assert_close(&missing.spread, &vague.spread, 1e-4);
            assert_close(&missing.persons[0].covariance, &vague.persons[0].covariance, 1e-4);
        }
    }

    #[test]
    fn prior_taken_out_is_the_datas_own_estimate(
        data in raw_persons(1..2),
        prior in raw_persons(1..2),
    ) {
        let ((own, covariance), (prior_mean, prior_covariance)) = (vector(&data[0]), vector(&prior[0]));
        let inverse = |matrix: &DMatrix<f64>| matrix.clone().try_inverse().unwrap();
        let precision = inverse(&covariance) + inverse(&prior_covariance);
        let right = inverse(&covariance) * &own + inverse(&prior_covariance) * &prior_mean;
        let posterior = inverse(&precision) * right;
        let standard = prior_covariance.clone().cholesky().unwrap().l();
        let learnt = standard.transpose() * inverse(&covariance) * &standard;
        prop_assume!(learnt.symmetric_eigenvalues().min() > 0.011);
        let got = without_prior(&posterior, &precision, &prior_mean, &prior_covariance).unwrap();
        assert_close_vector(got.mean(), &own, 1e-8);
        assert_close(got.precision(), &inverse(&covariance), 1e-8);
    }
}

#[test]
fn prior_taken_out_never_leaves_negative_precision() {
    // Wider than the prior along the first component, narrower along the second.
    let posterior = matrix([[0.5, 0.0], [0.0, 5.0]]);
    let got = without_prior(
        &column(&[3.0, 2.0]),
        &posterior,
        &column(&[0.0, 1.0]),
        &DMatrix::identity(2, 2),
    )
    .unwrap();
    assert_close(got.precision(), &matrix([[0.0, 0.0], [0.0, 4.0]]), 1e-14);
    assert!((got.mean()[1] - 2.25).abs() < 1e-14, "5·2 = 1·1 + 4·2.25");
    assert!(got.mean()[0].abs() < 1e-14);
}

#[test]
fn prior_taken_out_of_itself_is_nothing() {
    let covariance = matrix([[2.0, 0.3], [0.3, 1.0]]);
    let mean = column(&[1.0, -1.0]);
    let precision = covariance.clone().try_inverse().unwrap();
    let got = without_prior(&mean, &precision, &mean, &covariance).unwrap();
    assert_close(got.precision(), &DMatrix::zeros(2, 2), 0.0);
}

#[test]
fn a_sum_known_alone_is_used() {
    // Everybody knows the sum of both components; some know the first too.
    let sum = matrix([[1.0, 1.0], [1.0, 1.0]]) * 4.0;
    let first = matrix([[9.0, 0.0], [0.0, 0.0]]);
    let persons: Vec<Estimate> =
        [(1.0, 4.0, true), (2.0, 6.5, true), (0.5, 3.0, true), (0.0, 5.0, false)]
            .iter()
            .map(|&(one, total, both)| {
                let precision = if both { &sum + &first } else { sum.clone() };
                Estimate::from_precision(column(&[one, total - one]), precision).unwrap()
            })
            .collect();
    let pooled = plain(&persons, &Structure::diagonal(2));
    assert!(at_floor(&pooled.search), "{:?}", pooled.search);
    // The same with the last person's sum split otherwise: the split isn't information.
    let mut other = persons.clone();
    other[3] = Estimate::from_precision(column(&[100.0, -95.0]), sum.clone()).unwrap();
    let other = plain(&other, &Structure::diagonal(2));
    assert_close_vector(&pooled.mean, &other.mean, 1e-9);
    assert_close(&pooled.spread, &other.spread, 1e-8);
    // Without anybody who knows the first, its mean is open.
    let open = vec![persons[3].clone(); 4];
    let got = pool(&open, &Structure::diagonal(2), &Priors::default());
    assert!(matches!(got, Err(PoolingError::MeanUnknown { .. })), "{got:?}");
}

// ------------------------------------------------------------------------------------------------
// Few persons, boundary, priors

#[test]
fn one_person_says_nothing_of_spread() {
    for structure in structures() {
        let pooled = plain(&estimates(&[([1.0, -2.0], [0.5, 0.1, 0.7])]), &structure);
        assert_eq!(pooled.search.verdict, Verdict::FlatAlong(vec![0, 1]));
        assert_close_vector(&pooled.mean, &column(&[1.0, -2.0]), 1e-12);
        assert_close_vector(&pooled.persons[0].mean, &column(&[1.0, -2.0]), 1e-12);
        let own = vector(&([1.0, -2.0], [0.5, 0.1, 0.7])).1;
        assert_close(&pooled.persons[0].covariance, &own, 1e-12);
        assert!(pooled.search.without_spread.is_empty(), "zero spread claims too much");
    }
}

#[test]
fn a_component_that_one_person_knows_is_flat() {
    let mut persons = estimates(&[([1.0, 5.0], [0.3, 0.0, 0.4])]);
    for mean in [0.0, 2.0, -1.5] {
        persons.push(Estimate::of_components(2, &[0], &column(&[mean]), &matrix([[0.1]])).unwrap());
    }
    let pooled = plain(&persons, &Structure::diagonal(2));
    assert_eq!(pooled.search.verdict, Verdict::FlatAlong(vec![1]));
    assert!((pooled.mean[1] - 5.0).abs() < 1e-12);
}

// Equal sampling variances v: Σ̂ = max(0, s² − v) with s² the usual variance, a textbook case
// (e.g. Searle, Casella & McCulloch 1992, section 3.8).
#[test]
fn equal_precision_has_a_closed_form() {
    let values = [1.0, 4.0, 2.5, 7.0, 3.0];
    let mean = values.iter().sum::<f64>() / 5.0;
    let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / 4.0;
    for sampling in [1e-6, 0.1, 1.0, 0.99 * variance, variance, 1.01 * variance, 1e3] {
        let persons: Vec<Estimate> = values.iter().map(|&value| number(value, sampling)).collect();
        let pooled = plain(&persons, &Structure::full(1));
        assert!(at_floor(&pooled.search), "{sampling}: {:?}", pooled.search);
        let expected = (variance - sampling).max(0.0);
        // Exactly on the edge the criterion is flat to the fourth order of the standard deviation.
        let tolerance = if sampling == variance { 1e-3 } else { 1e-6 };
        let got = pooled.spread[(0, 0)];
        assert!((got - expected).abs() <= tolerance * variance, "{sampling}: {got}, {expected}");
        assert_eq!(got == 0.0, pooled.search.rank == 0);
        if sampling > variance {
            assert_eq!(pooled.search.without_spread, [0]);
        }
        let error = (expected + sampling) / 5.0;
        assert!((pooled.mean_covariance[(0, 0)] - error).abs() <= tolerance * error.max(variance));
    }
}

#[test]
fn persons_alike_in_every_component_have_no_spread() {
    let raw = vec![([1.0, 2.0], [0.4, 0.1, 0.3]); 5];
    for structure in structures() {
        let pooled = plain(&estimates(&raw), &structure);
        assert!(at_floor(&pooled.search), "{:?}", pooled.search);
        assert_eq!(pooled.search.without_spread, [0, 1]);
        assert_eq!(pooled.spread, DMatrix::zeros(2, 2));
        assert_close(&pooled.mean_covariance, &(vector(&raw[0]).1 / 5.0), 1e-12);
    }
}

fn spread_prior(persons: f64, sds: &[f64]) -> Priors {
    let sds = DVector::from_row_slice(sds);
    Priors { mean: None, spread: Some(SpreadPrior { persons, sds }) }
}

#[test]
fn a_weak_prior_keeps_three_alike_from_claiming_no_spread() {
    let raw = vec![([1.0, 2.0], [0.4, 0.1, 0.3]); 3];
    for structure in structures() {
        let pooled = pool(&estimates(&raw), &structure, &spread_prior(2.0, &[0.3, 0.2])).unwrap();
        assert!(at_floor(&pooled.search), "{:?}", pooled.search);
        assert_eq!(pooled.search.rank, 2);
        for (component, prior) in [(0, 0.3), (1, 0.2)] {
            let sd = pooled.spread[(component, component)].sqrt();
            assert!((0.5 * prior..prior).contains(&sd), "{component}: {sd}");
        }
    }
}

// With perfect knowledge of every person the mode is (S + ν₀ s²) / (n − 1 + ν₀), the conjugate update.
#[test]
fn spread_prior_counts_as_that_many_persons() {
    let values = [1.0, 4.0, 2.5, 7.0, 3.0];
    let mean = values.iter().sum::<f64>() / 5.0;
    let squares = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
    let persons: Vec<Estimate> = values.iter().map(|&value| number(value, 1e-10)).collect();
    for weight in [0.5, 3.0, 100.0] {
        let pooled = pool(&persons, &Structure::full(1), &spread_prior(weight, &[0.7])).unwrap();
        let expected = (squares + weight * 0.49) / (4.0 + weight);
        assert!((pooled.spread[(0, 0)] / expected - 1.0).abs() < 1e-7, "{}", pooled.spread);
    }
}

#[test]
fn priors_alone_come_back() {
    let guess = matrix([[0.5, 0.1], [0.1, 0.4]]);
    let mut priors = spread_prior(3.0, &[0.3, 0.2]);
    priors.mean = Some(Estimate::from_covariance(column(&[1.0, -1.0]), &guess).unwrap());
    for structure in structures() {
        let pooled = pool(&[Estimate::nothing(2)], &structure, &priors).unwrap();
        assert!(at_floor(&pooled.search), "{:?}", pooled.search);
        assert_close_vector(&pooled.mean, &column(&[1.0, -1.0]), 1e-12);
        assert_close(&pooled.mean_covariance, &guess, 1e-12);
        assert_close(&pooled.spread, &matrix([[0.09, 0.0], [0.0, 0.04]]), 1e-7);
    }
}

#[test]
fn a_prior_on_the_mean_weighs_like_an_estimate_of_it() {
    let persons = [number(1.0, 0.5), number(3.0, 0.5), number(2.0, 0.5)];
    let priors = Priors { mean: Some(number(8.0, 2.0)), spread: None };
    let pooled = pool(&persons, &Structure::full(1), &priors).unwrap();
    let weight = 3.0 / (0.5 + pooled.spread[(0, 0)]);
    let expected = (weight * 2.0 + 0.5 * 8.0) / (weight + 0.5);
    assert!((pooled.mean[0] - expected).abs() < 1e-9);
    assert!((pooled.mean_covariance[(0, 0)] - 1.0 / (weight + 0.5)).abs() < 1e-9);
}

#[test]
fn many_components_and_few_persons_still_end() {
    let n = 12;
    let persons: Vec<Estimate> = (0..8)
        .map(|person| {
            let mean = DVector::from_fn(n, |j, _| ((person * 7 + j * 3) as f64 * 1.7).sin());
            let tilt = DVector::from_fn(n, |j, _| 0.1 * ((person + j) as f64).cos());
            let covariance = DMatrix::identity(n, n) * 0.2 + &tilt * tilt.transpose();
            Estimate::from_covariance(mean, &covariance).unwrap()
        })
        .collect();
    for structure in [Structure::full(n), Structure::diagonal(n)] {
        let pooled = plain(&persons, &structure);
        assert!(at_floor(&pooled.search), "{:?}", pooled.search);
        let eigenvalues = pooled.spread.symmetric_eigenvalues();
        assert!(eigenvalues.min() > -1e-12);
        // Eight persons about their mean span seven directions.
        assert!(structure.between == Between::Diagonal || pooled.search.rank <= 7);
    }
}

// Once ran out of iterations: the spread left in one direction is next to nothing, so that a factor with
// the components in the wrong order has a long bent valley.
#[test]
fn nearly_no_spread_in_one_direction_still_ends() {
    let raw = [
        ([-0.5296038364861226, -0.9712375601041883], [1.3745405168206513, 0.0, 0.2]),
        ([1.9492044543558746, 0.6800317464120615], [0.9894103455387249, -0.2544459812003073, 0.2]),
        ([1.5199125288720186, -2.9210810993054657], [0.2, 0.0, 0.2]),
    ];
    let pooled = plain(&estimates(&raw), &Structure::full(2));
    assert!(at_floor(&pooled.search), "{:?}", pooled.search);
    assert!(pooled.search.iterations < 50, "{:?}", pooled.search);
}

// Once called converged where a nearby point is better: the two who are known well are alike in one valley, and
// the third far off by bad luck; in the other, lower one all three are far apart. Every covariance of a grid is tried.
#[test]
fn persons_far_apart_are_not_taken_for_bad_luck() {
    let raw = [
        ([-0.9649610990241588, 2.871571263987018], [0.2, 0.0, 0.2]),
        ([0.0, 2.4615197180070747], [0.2, 0.0, 0.2]),
        ([-1.989888983374053, -0.6434733876173747], [0.8535890102754952, 0.0, 1.3685067080194975]),
    ];
    for structure in structures() {
        let pooled = plain(&estimates(&raw), &structure);
        assert!(at_floor(&pooled.search), "{:?}", pooled.search);
        let correlations: &[f64] = match structure.between {
            Between::Full => &[-1.0, -0.5, 0.0, 0.5, 1.0],
            Between::Diagonal => &[0.0],
        };
        let sds: Vec<f64> = (-12..=8).map(|k| f64::from(k).exp2().sqrt()).collect();
        for (one, other) in sds.iter().flat_map(|one| sds.iter().map(move |other| (one, other))) {
            for correlation in correlations {
                let both = correlation * one * other;
                let spread = matrix([[one * one, both], [both, other * other]]);
                let there = by_definition(&raw, &spread);
                assert!(there >= pooled.criterion - 1e-9, "{there} < {}", pooled.criterion);
            }
        }
    }
}

// Once the unknown person, counted when the search chose where to begin, led it into another valley.
#[test]
fn somebody_unknown_does_not_move_where_the_search_begins() {
    let raw = [
        (
            [2.8970009201477804, -2.4099196810941894],
            [0.25476289971286453, 0.18138815696633745, 0.2],
        ),
        ([0.27408154865650636, 0.0], [1.1023453149112519, 0.0, 0.49105287421794624]),
        ([2.7927054943296707, 0.0], [0.494802198432729, -0.3533189024825912, 0.7055945454202978]),
    ];
    for structure in structures() {
        let pooled = plain(&estimates(&raw), &structure);
        let mut more = estimates(&raw);
        more.extend(vec![Estimate::nothing(2); 5]);
        let more = plain(&more, &structure);
        assert_eq!((more.criterion, &more.search), (pooled.criterion, &pooled.search));
        assert_eq!((&more.spread, &more.mean), (&pooled.spread, &pooled.mean));
    }
}

// Once, rounding passed for knowledge of the component that nobody knows.
#[test]
fn a_component_that_nobody_knows_is_refused_among_others() {
    let known = |mean: [f64; 2], tilt: f64| {
        let covariance = matrix([[4.0, tilt], [tilt, 7.0]]);
        Estimate::of_components(3, &[0, 2], &column(&mean), &covariance).unwrap()
    };
    let persons = [known([-3.7, 1.4], 1.3), known([2.6, -3.0], -0.7), known([0.3, 0.9], 2.1)];
    let open = PoolingError::MeanUnknown { component: 1 };
    for structure in [Structure::full(3), Structure::diagonal(3)] {
        for priors in [Priors::default(), spread_prior(2.0, &[1.0, 1.0, 1.0])] {
            assert_eq!(pool(&persons, &structure, &priors), Err(open.clone()));
        }
    }
}

#[test]
fn the_same_input_gives_the_same_bits() {
    let raw = [
        ([1.0, -2.0], [0.5, 0.1, 0.7]),
        ([0.2, 1.0], [0.6, 0.2, 0.4]),
        ([2.0, 0.1], [0.3, 0.0, 0.9]),
    ];
    for structure in structures() {
        assert_eq!(plain(&estimates(&raw), &structure), plain(&estimates(&raw), &structure));
    }
}

// ------------------------------------------------------------------------------------------------
// Repeated measures

fn measured(values: &[f64]) -> RepeatedMeasures {
    let design = DMatrix::from_element(values.len(), 1, 1.0);
    RepeatedMeasures::new(&design, &DVector::from_row_slice(values)).unwrap()
}

// Balanced one-way layout: σ² = MSW and σ_b² = (MSB − MSW) / n, the textbook's analysis of variance.
#[test]
fn balanced_one_way_is_the_analysis_of_variance() {
    let table = [[4.0, 5.0, 4.5], [7.0, 6.0, 7.5], [5.5, 5.0, 6.5], [3.0, 4.0, 2.0]];
    let people: Vec<RepeatedMeasures> = table.iter().map(|row| measured(row)).collect();
    let fit = fit_repeated(&people, &Structure::full(1)).unwrap();
    let means = table.map(|row| row.iter().sum::<f64>() / 3.0);
    let grand = means.iter().sum::<f64>() / 4.0;
    let between = means.iter().map(|mean| 3.0 * (mean - grand).powi(2)).sum::<f64>() / 3.0;
    let within = table.iter().zip(means);
    let within = within.flat_map(|(row, mean)| row.map(|value| (value - mean).powi(2)));
    let within = within.sum::<f64>() / 8.0;
    assert!(at_floor(&fit.search));
    assert!((fit.noise_variance - within).abs() < 1e-8);
    assert!((fit.spread[(0, 0)] - (between - within) / 3.0).abs() < 1e-7);
    assert!((fit.mean[0] - grand).abs() < 1e-12);
}

#[test]
fn a_person_without_measurements_gets_the_mean() {
    let mut people = vec![measured(&[4.0, 5.0, 4.5]), measured(&[7.0, 6.0, 7.5]), measured(&[5.5])];
    let without = fit_repeated(&people, &Structure::full(1)).unwrap();
    people.push(measured(&[]));
    let with = fit_repeated(&people, &Structure::full(1)).unwrap();
    assert!((with.criterion - without.criterion).abs() < 1e-10);
    assert_close_vector(&with.persons[3].mean, &with.mean, 0.0);
}

// A centred component adds variance and no mean: with the intercept's mean known to be 0, the spread is
// the mean square about 0 rather than about the mean.
#[test]
fn centred_components_have_no_mean() {
    let people: Vec<Estimate> = [2.0, -1.0, 3.0, -2.0].iter().map(|&x| number(x, 0.5)).collect();
    let structure = Structure { components: vec![Component::Centred], between: Between::Full };
    let pooled = plain(&people, &structure);
    assert_eq!(pooled.mean[0], 0.0);
    assert_eq!(pooled.mean_covariance[(0, 0)], 0.0);
    assert!((pooled.spread[(0, 0)] - (18.0 / 4.0 - 0.5)).abs() < 1e-8);
}

// ------------------------------------------------------------------------------------------------
// Bad input

#[test]
fn bad_input_is_named() {
    let nan = Estimate::from_covariance(column(&[f64::NAN]), &matrix([[1.0]]));
    assert!(matches!(nan, Err(PoolingError::NotFinite { what: "mean", .. })));
    let infinite = Estimate::from_covariance(column(&[1.0]), &matrix([[f64::INFINITY]]));
    assert!(matches!(infinite, Err(PoolingError::NotFinite { what: "covariance", .. })));
    let zero = Estimate::from_covariance(column(&[1.0]), &matrix([[0.0]]));
    assert_eq!(zero, Err(PoolingError::NotPositive { what: "covariance" }));
    let past_one =
        Estimate::from_covariance(column(&[1.0, 1.0]), &matrix([[1.0, 2.0], [2.0, 1.0]]));
    assert_eq!(past_one, Err(PoolingError::NotPositive { what: "covariance" }));
    let lopsided =
        Estimate::from_covariance(column(&[1.0, 1.0]), &matrix([[1.0, 0.2], [0.1, 1.0]]));
    assert!(matches!(lopsided, Err(PoolingError::NotSymmetric { row: 1, column: 0, .. })));
    let size = Estimate::from_covariance(column(&[1.0]), &DMatrix::identity(2, 2));
    assert_eq!(size, Err(PoolingError::Size { what: "covariance", got: 2, need: 1 }));
    let empty = Estimate::from_precision(column(&[]), DMatrix::zeros(0, 0));
    assert_eq!(empty, Err(PoolingError::Size { what: "mean", got: 0, need: 1 }));
    let negative = Estimate::from_precision(column(&[1.0]), matrix([[-1.0]]));
    assert_eq!(negative, Err(PoolingError::NegativePrecision { what: "precision" }));
    let order = Estimate::of_components(3, &[1, 1], &column(&[0.0, 0.0]), &DMatrix::identity(2, 2));
    assert_eq!(order, Err(PoolingError::BadComponents { got: 1, before: 1, need: 3 }));
    let beyond = Estimate::of_components(1, &[1], &column(&[0.0]), &matrix([[1.0]]));
    assert_eq!(beyond, Err(PoolingError::BadComponents { got: 1, before: 0, need: 1 }));
}

#[test]
fn persons_that_cannot_be_pooled_are_refused() {
    let structure = Structure::full(1);
    let none = Priors::default();
    assert_eq!(pool(&[], &structure, &none), Err(PoolingError::NoPersons));
    assert_eq!(
        pool(&[number(1.0, 1.0)], &Structure::full(0), &none),
        Err(PoolingError::NoComponents)
    );
    let other = [number(1.0, 1.0), Estimate::nothing(2)];
    let size = PoolingError::Size { what: "estimate", got: 2, need: 1 };
    assert_eq!(pool(&other, &structure, &none), Err(size));
    let open = PoolingError::MeanUnknown { component: 0 };
    assert_eq!(pool(&[Estimate::nothing(1)], &structure, &none), Err(open));
    for (weight, sds, what, got) in [
        (0.0, 1.0, "persons", 0.0),
        (1.0, 0.0, "sds", 0.0),
        (1.0, f64::INFINITY, "sds", f64::INFINITY),
    ] {
        let refused = pool(&[number(1.0, 1.0)], &structure, &spread_prior(weight, &[sds]));
        assert_eq!(refused, Err(PoolingError::BadSpreadPrior { what, got }));
    }
}

// Means 1, 4 and 2 times `size`, each known to an sd of 1: far apart their own variance is the answer, 7/3 · size²,
// and close together there is none. What can't be computed in double precision is refused.
#[test]
fn extreme_sizes_are_computed_or_refused() {
    let pooled = |size: f64| {
        let persons: Vec<Estimate> =
            [1.0, 4.0, 2.0].iter().map(|value| number(value * size, 1.0)).collect();
        pool(&persons, &Structure::full(1), &Priors::default())
    };
    for (size, variance) in [(1e-150, 0.0), (1e-20, 0.0), (1e20, 7.0 / 3.0)] {
        let pooled = pooled(size).unwrap();
        assert!((pooled.mean[0] / size - 7.0 / 3.0).abs() < 1e-9, "{size}: {}", pooled.mean);
        let got = pooled.spread[(0, 0)] / (size * size);
        assert!((got - variance).abs() < 1e-6, "{size}: {got}");
    }
    for size in [1e150, 1e300] {
        if let Ok(pooled) = pooled(size) {
            assert!(pooled.mean[0].is_finite() && pooled.spread[(0, 0)].is_finite(), "{size}");
        }
    }
}

#[test]
fn measurements_that_tell_too_little_are_refused() {
    let structure = Structure::full(1);
    assert_eq!(fit_repeated(&[], &structure), Err(PoolingError::NoPersons));
    let once = [measured(&[1.0]), measured(&[2.0]), measured(&[4.0])];
    let seldom = PoolingError::MeasuredTooSeldom { got: 1, need: 2 };
    assert_eq!(fit_repeated(&once, &structure), Err(seldom));
    let few = PoolingError::TooFewMeasurements { got: 1, need: 2 };
    assert_eq!(fit_repeated(&once[..1], &structure), Err(few));
    let exact = [measured(&[1.0, 1.0]), measured(&[2.0, 2.0]), measured(&[5.0, 5.0])];
    assert_eq!(fit_repeated(&exact, &structure), Err(PoolingError::NoResidual));
    let zero = [measured(&[0.0, 0.0]), measured(&[0.0, 0.0])];
    assert_eq!(fit_repeated(&zero, &structure), Err(PoolingError::NoResidual));
    let line = |from: f64| {
        let design = matrix([[1.0, 0.0], [1.0, 1.0], [1.0, 2.0]]);
        RepeatedMeasures::new(&design, &column(&[from, from + 1.0, from + 2.0])).unwrap()
    };
    let shared = Structure {
        components: vec![Component::Varying, Component::Common],
        between: Between::Full,
    };
    let parallel = [line(1.0), line(5.0), line(-2.0)];
    assert_eq!(fit_repeated(&parallel, &shared), Err(PoolingError::NoResidual));
    let nan = RepeatedMeasures::new(&matrix([[1.0]]), &column(&[f64::NAN]));
    assert!(matches!(nan, Err(PoolingError::NotFinite { what: "response", .. })));
}
