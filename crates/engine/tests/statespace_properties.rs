//! Exact relations that the state-space engine must keep on any data, and inputs meant to break it.
//!
//! The dense route builds the joint covariance of all observations and knows no recursion; the diffuse
//! likelihood and states are held against it through generalised least squares. No value here comes
//! from elsewhere; `statespace_reference.rs` holds those.

#[path = "../../domain/tests/support/properties.rs"]
mod properties;

use engine::statespace::{
    Convention, Filter, Forecast, Innovation, LocalLevel, LocalLinearTrend, MaximiseOptions, Model,
    Observation, Parameter, Side, Start, StateSpaceError, Verdict, filter_series, fit_local_level,
    fit_local_linear_trend, log_likelihood, maximise, smooth,
};
use nalgebra::{DMatrix, DVector, Matrix1, Matrix2, SMatrix, SVector, Vector1, Vector2};
use proptest::prelude::*;

// ------------------------------------------------------------------------------------------------
// Dense against recursive

/// Everything at once: `[x(t₁); …; x(tₙ)] ~ N(F·x₀, C)` with the start `x₀ ~ N(mean, covariance)`.
struct Dense {
    /// From the state at the first time to all states (nN × N).
    from_start: DMatrix<f64>,
    /// Covariance of all states given the start (nN × nN).
    noise: DMatrix<f64>,
    /// From all states to the observations present (m × nN).
    observe: DMatrix<f64>,
    values: DVector<f64>,
    variances: DVector<f64>,
}

fn dense<M: Model<N>, const N: usize>(model: &M, series: &[Observation]) -> Dense {
    let (n, first) = (series.len(), series[0].time_days);
    let between = |from: usize, to: usize| {
        let gap_days = series[to].time_days - series[from].time_days;
        model.transition(gap_days)
    };
    let mut from_start = DMatrix::zeros(n * N, N);
    let mut noise = DMatrix::zeros(n * N, n * N);
    for (i, observation) in series.iter().enumerate() {
        from_start.view_mut((i * N, 0), (N, N)).copy_from(&between(0, i));
        let own = model.process_noise(observation.time_days - first);
        for j in i..n {
            let block: SMatrix<f64, N, N> = between(i, j) * own;
            noise.view_mut((j * N, i * N), (N, N)).copy_from(&block);
            noise.view_mut((i * N, j * N), (N, N)).copy_from(&block.transpose());
        }
    }
    let seen: Vec<usize> = (0..n).filter(|&i| series[i].value.is_some()).collect();
    let mut observe = DMatrix::zeros(seen.len(), n * N);
    for (row, &i) in seen.iter().enumerate() {
        observe.view_mut((row, i * N), (1, N)).copy_from(&model.loading().transpose());
    }
    let values = DVector::from_iterator(seen.len(), seen.iter().map(|&i| series[i].value.unwrap()));
    let variances = DVector::from_iterator(seen.len(), seen.iter().map(|&i| series[i].variance));
    Dense { from_start, noise, observe, values, variances }
}

fn normal_log_density(residual: &DVector<f64>, covariance: &DMatrix<f64>) -> f64 {
    let factor = covariance.clone().cholesky().unwrap();
    let log_determinant = 2.0 * factor.l().diagonal().map(f64::ln).sum();
    let squares = residual.dot(&factor.solve(residual));
    -0.5 * (residual.len() as f64 * (2.0 * std::f64::consts::PI).ln() + log_determinant + squares)
}

/// Posterior means (nN), covariance (nN × nN) and log-likelihood by conditioning the joint normal, with
/// every state diffuse if `start` is `None`. The diffuse likelihood is the limit of the proper one plus
/// `½·N·ln κ`: density at the least-squares start, less `½·ln|X'V⁻¹X|` (`X`: start to observations).
fn dense_answer<M: Model<N>, const N: usize>(
    model: &M,
    series: &[Observation],
    start: Option<(&SVector<f64, N>, &SMatrix<f64, N, N>)>,
) -> (DVector<f64>, DMatrix<f64>, f64) {
    let all = dense(model, series);
    let own_noise = DMatrix::from_diagonal(&all.variances);
    if let Some((mean, covariance)) = start {
        let mean = &all.from_start * DVector::from_column_slice(mean.as_slice());
        let covariance = DMatrix::from_column_slice(N, N, covariance.as_slice());
        let states = &all.noise + &all.from_start * covariance * all.from_start.transpose();
        let spread = &all.observe * &states * all.observe.transpose() + own_noise;
        let residual = &all.values - &all.observe * &mean;
        let log_density = normal_log_density(&residual, &spread);
        let gain = states.clone() * all.observe.transpose() * spread.try_inverse().unwrap();
        return (mean + &gain * residual, &states - &gain * &all.observe * &states, log_density);
    }
    let spread = &all.observe * &all.noise * all.observe.transpose() + own_noise;
    let inverse = spread.clone().try_inverse().unwrap();
    let design = &all.observe * &all.from_start;
    let information = design.transpose() * &inverse * &design;
    let uncertain = information.clone().try_inverse().unwrap();
    let best = &uncertain * design.transpose() * &inverse * &all.values;
    let residual = &all.values - &design * &best;
    let log_density = normal_log_density(&residual, &spread) - 0.5 * information.determinant().ln();
    let gain = &all.noise * all.observe.transpose() * &inverse;
    let mean = &all.from_start * &best + &gain * residual;
    let left = &all.from_start - &gain * &design;
    let covariance =
        &all.noise - &gain * &all.observe * &all.noise + &left * uncertain * left.transpose();
    (mean, covariance, log_density)
}

/// Irregular series: gaps may be 0, variances differ, some values are missing.
fn a_series(least: usize) -> impl Strategy<Value = Vec<Observation>> {
    let gap = prop_oneof![1 => Just(0.0), 5 => 0.1..5.0_f64];
    let one = (gap, prop::option::weighted(0.8, -10.0..10.0_f64), 0.1..4.0_f64);
    prop::collection::vec(one, least..25).prop_map(|rows| {
        let mut day = 3.0;
        rows.into_iter()
            .map(|(gap, value, variance)| {
                day += gap;
                Observation { value, variance, ..Observation::missing(day) }
            })
            .collect()
    })
}

/// A series that pins down level and slope: its first two values are present and days apart.
fn a_pinned_series() -> impl Strategy<Value = Vec<Observation>> {
    a_series(3).prop_map(|mut series| {
        series[0].value = Some(series[0].value.unwrap_or(1.0));
        for later in &mut series[1..] {
            later.time_days += 1.0;
        }
        series[1].value = Some(series[1].value.unwrap_or(-1.0));
        series
    })
}

/// Kept mild, since it is the dense route that loses digits when the prior dwarfs the noise.
fn a_trend() -> impl Strategy<Value = LocalLinearTrend> {
    let level = prop_oneof![Just(0.0), 0.001..1.0_f64];
    let slope = prop_oneof![Just(0.0), 1e-5..3e-3_f64];
    (level, slope).prop_map(|(level, slope)| LocalLinearTrend::try_new(level, slope).unwrap())
}

fn close(got: f64, expected: f64, tolerance: f64) -> bool {
    (got - expected).abs() <= tolerance * (1.0 + expected.abs())
}

fn all_constants<M: Model<N>, const N: usize>(
    model: &M,
    start: &Start<N>,
    series: &[Observation],
) -> f64 {
    log_likelihood(model, start, series).unwrap().total(Convention::EveryObservation)
}

/// Recursive likelihood and smoothed states against the dense ones.
fn assert_matches_dense<M: Model<N>, const N: usize>(
    model: &M,
    start: &Start<N>,
    series: &[Observation],
) -> Result<(), TestCaseError> {
    let proper = (start.diffuse == [false; N]).then_some((&start.mean, &start.covariance));
    let (mean, covariance, log_density) = dense_answer(model, series, proper);
    let filtered = filter_series(model, start, series).unwrap();
    let total = filtered.log_likelihood.total(Convention::EveryObservation);
    prop_assert!(close(total, log_density, 1e-9), "{total} against {log_density}");
    for (i, state) in smooth(model, &filtered).states.iter().enumerate() {
        prop_assert_eq!(state.n_diffuse(), 0);
        for row in 0..N {
            let (got, expected) = (state.mean[row], mean[i * N + row]);
            prop_assert!(close(got, expected, 1e-6), "mean {i} {row}: {got} against {expected}");
            for column in 0..N {
                let got = state.covariance[(row, column)];
                let expected = covariance[(i * N + row, i * N + column)];
                prop_assert!(close(got, expected, 1e-6), "{i}: {got} against {expected}");
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(properties::config(256))]

    #[test]
    fn recursive_equals_dense_from_a_diffuse_start(model in a_trend(), series in a_pinned_series()) {
        assert_matches_dense(&model, &Start::diffuse(), &series)?;
    }

    #[test]
    fn recursive_equals_dense_from_a_proper_start(model in a_trend(), series in a_series(1)) {
        let covariance = Matrix2::new(9.0, 0.5, 0.5, 0.2);
        assert_matches_dense(&model, &Start::proper(Vector2::new(1.0, -0.1), covariance), &series)?;
    }

    /// Level diffuse, slope proper: the limit of a proper start with a wide level, plus ½·ln κ.
    #[test]
    fn half_diffuse_start_is_the_limit_of_a_wide_one(series in a_pinned_series()) {
        let model = LocalLinearTrend::try_new(0.1, 0.001).unwrap();
        let half = Start {
            diffuse: [true, false],
            ..Start::proper(Vector2::new(0.0, 0.2), Matrix2::new(0.0, 0.0, 0.0, 0.3))
        };
        let wide = 1e9_f64;
        let proper = Start::proper(half.mean, Matrix2::new(wide, 0.0, 0.0, 0.3));
        let limit = all_constants(&model, &proper, &series) + 0.5 * wide.ln();
        let exact = all_constants(&model, &half, &series);
        prop_assert!(close(exact, limit, 1e-6), "{exact} against {limit}");
        let (exact, limit) = (
            smooth(&model, &filter_series(&model, &half, &series).unwrap()),
            smooth(&model, &filter_series(&model, &proper, &series).unwrap()),
        );
        for (exact, limit) in exact.states.iter().zip(&limit.states) {
            prop_assert!((exact.mean - limit.mean).amax() < 1e-5 * (1.0 + limit.mean.amax()));
            let spread = (exact.covariance - limit.covariance).amax();
            prop_assert!(spread < 1e-5 * (1.0 + limit.covariance.amax()), "{spread}");
        }
    }

    #[test]
    fn missing_equals_skipped(model in a_trend(), series in a_pinned_series()) {
        let seen: Vec<_> = series.iter().copied().filter(|one| one.value.is_some()).collect();
        let with = filter_series(&model, &Start::diffuse(), &series).unwrap();
        let without = filter_series(&model, &Start::diffuse(), &seen).unwrap();
        let (a, b) = (with.log_likelihood, without.log_likelihood);
        let convention = Convention::EveryObservation;
        prop_assert!(close(a.total(convention), b.total(convention), 1e-9));
        let last_seen = series.iter().rposition(|one| one.value.is_some()).unwrap();
        let gap = with.steps[last_seen].filtered.mean - without.steps[seen.len() - 1].filtered.mean;
        prop_assert!(gap.amax() < 1e-7, "{gap}");
    }

    #[test]
    fn two_short_gaps_equal_one_long(model in a_trend(), series in a_pinned_series(), share in 0.0..1.0_f64) {
        let mut once = Filter::new(model, &Start::<2>::diffuse()).unwrap();
        for observation in &series {
            once.update(observation).unwrap();
        }
        let mut twice = once.clone();
        let from = once.time_days().unwrap();
        once.predict_to(from + 17.0).unwrap();
        twice.predict_to(from + 17.0 * share).unwrap();
        twice.predict_to(from + 17.0).unwrap();
        prop_assert!((once.state().mean - twice.state().mean).amax() < 1e-9 * (1.0 + once.state().mean.amax()));
        let gap = (once.state().covariance - twice.state().covariance).amax();
        prop_assert!(gap < 1e-10 * (1.0 + once.state().covariance.amax()), "{gap}");
    }

    /// y → c·y + d moves the states along and the likelihood by −ln c per observation with a constant.
    #[test]
    fn shift_and_scale(series in a_pinned_series(), c in 0.01..100.0_f64, d in -1e3..1e3_f64) {
        let (level, slope) = (0.2, 0.003);
        let moved: Vec<_> = series
            .iter()
            .map(|one| Observation {
                value: one.value.map(|value| c * value + d),
                variance: c * c * one.variance,
                ..*one
            })
            .collect();
        let model = LocalLinearTrend::try_new(level, slope).unwrap();
        let scaled = LocalLinearTrend::try_new(c * c * level, c * c * slope).unwrap();
        let before = filter_series(&model, &Start::diffuse(), &series).unwrap();
        let after = filter_series(&scaled, &Start::diffuse(), &moved).unwrap();
        let n_proper = before.log_likelihood.n_proper() as f64;
        let convention = Convention::EveryObservation;
        let expected = before.log_likelihood.total(convention) - n_proper * c.ln();
        prop_assert!(close(after.log_likelihood.total(convention), expected, 1e-8));
        let (before, after) = (smooth(&model, &before), smooth(&scaled, &after));
        for (before, after) in before.states.iter().zip(&after.states) {
            prop_assert!(close(after.mean[0], c * before.mean[0] + d, 1e-7));
            prop_assert!(close(after.mean[1], c * before.mean[1], 1e-7));
            let gap = (after.covariance - before.covariance * (c * c)).amax();
            prop_assert!(gap <= 1e-8 * after.covariance.amax(), "{gap}");
        }
    }

    /// Hostile inputs: gaps of a second to three thousand years, repeated times, no noise anywhere.
    #[test]
    fn covariances_stay_symmetric_and_semidefinite(
        rows in prop::collection::vec((prop_oneof![Just(0.0), Just(1e-5), 0.1..10.0_f64, Just(1e6)],
            prop::option::weighted(0.8, -10.0..10.0_f64), prop_oneof![Just(0.0), Just(1e-12), Just(1.0), Just(1e12)]), 1..30),
        level in prop_oneof![Just(0.0), Just(1e-9), Just(1.0)],
        slope in prop_oneof![Just(0.0), Just(1e-12), Just(1.0)],
    ) {
        let model = LocalLinearTrend::try_new(level, slope).unwrap();
        let mut filter = Filter::new(model, &Start::<2>::diffuse()).unwrap();
        let (mut day, mut kept) = (0.0, Vec::new());
        for (gap, value, variance) in rows {
            day += gap;
            let observation = Observation { value, variance, ..Observation::missing(day) };
            match filter.update(&observation) {
                Ok(_) => kept.push(observation),
                Err(StateSpaceError::Contradiction { .. }) => {}
                Err(other) => prop_assert!(false, "{other}"),
            }
        }
        prop_assume!(!kept.is_empty());
        let filtered = filter_series(&model, &Start::diffuse(), &kept).unwrap();
        let smoothed = smooth(&model, &filtered);
        let steps = filtered.steps.iter().flat_map(|step| [step.predicted, step.filtered]);
        for state in steps.chain(smoothed.states.iter().copied()) {
            let covariance = state.covariance;
            prop_assert_eq!(covariance, covariance.transpose());
            prop_assert!(covariance.iter().chain(&state.mean).all(|entry| entry.is_finite()));
            let (variances, cross) = (covariance.diagonal(), covariance[(0, 1)]);
            prop_assert!(variances.min() >= 0.0, "{covariance}");
            let limit = (variances[0] * variances[1]).sqrt();
            prop_assert!(cross.abs() <= limit * (1.0 + 1e-12), "{covariance}");
        }
    }

    /// The online filter, the whole-series pass and the likelihood pass are one and the same.
    #[test]
    fn online_equals_whole_series(model in a_trend(), series in a_pinned_series()) {
        let filtered = filter_series(&model, &Start::diffuse(), &series).unwrap();
        let mut filter = Filter::new(model, &Start::diffuse()).unwrap();
        for (observation, step) in series.iter().zip(&filtered.steps) {
            filter.predict_to(observation.time_days).unwrap();
            let forecast = filter.forecast(observation.variance).unwrap();
            match (step.innovation, forecast) {
                (Innovation::Diffuse { .. }, Forecast::Unknown) | (Innovation::Missing, _) => {}
                (Innovation::Proper { value, variance: spread, .. }, Forecast::Known { mean, variance }) => {
                    prop_assert!(close(mean + value, observation.value.unwrap(), 1e-10));
                    prop_assert_eq!(spread, variance);
                }
                other => prop_assert!(false, "{other:?}"),
            }
            prop_assert_eq!(&filter.update(observation).unwrap().filtered, &step.filtered);
        }
        prop_assert_eq!(*filter.log_likelihood(), filtered.log_likelihood);
        prop_assert_eq!(log_likelihood(&model, &Start::diffuse(), &series).unwrap(), filtered.log_likelihood);
    }
}

// ------------------------------------------------------------------------------------------------
// Analytic cases and named hostile inputs

fn at(day: f64, value: f64) -> Observation {
    Observation::new(day, value, 1.0)
}

fn level_of(series: &[Observation]) -> Result<f64, StateSpaceError> {
    let model = LocalLevel::try_new(0.5).unwrap();
    log_likelihood(&model, &Start::diffuse(), series)
        .map(|one| one.total(Convention::EveryObservation))
}

#[test]
fn constant_level_is_the_weighted_mean() {
    let model = LocalLevel::try_new(0.0).unwrap();
    let series = [
        Observation::new(0.0, 2.0, 1.0),
        Observation::new(5.0, 5.0, 0.5),
        Observation::new(5.0, 8.0, 2.0),
    ];
    let filtered = filter_series(&model, &Start::diffuse(), &series).unwrap();
    // Weights 1, 2, 0.5: (2 + 10 + 4)/3.5, variance 1/3.5.
    for state in &smooth(&model, &filtered).states {
        assert!((state.mean[0] - 16.0 / 3.5).abs() < 1e-14);
        assert!((state.covariance[(0, 0)] - 1.0 / 3.5).abs() < 1e-15);
    }
}

#[test]
fn noiseless_line_is_found_exactly() {
    let model = LocalLinearTrend::try_new(0.0, 0.0).unwrap();
    let series: Vec<_> =
        [1.0, 4.0, 4.0, 9.0].map(|day| Observation::new(day, 3.0 + 2.0 * day, 0.0)).to_vec();
    let filtered = filter_series(&model, &Start::diffuse(), &series).unwrap();
    assert_eq!(filtered.steps[2].innovation, Innovation::Certain);
    for (observation, state) in series.iter().zip(&smooth(&model, &filtered).states) {
        assert!((state.mean - Vector2::new(observation.value.unwrap(), 2.0)).amax() < 1e-14);
        assert_eq!(state.covariance, Matrix2::zeros());
    }
}

#[test]
fn what_was_never_pinned_down_stays_diffuse() {
    let model = LocalLinearTrend::try_new(0.1, 0.1).unwrap();
    let series = [at(0.0, 1.0), at(0.0, 2.0), Observation::missing(3.0)];
    let filtered = filter_series(&model, &Start::diffuse(), &series).unwrap();
    let counts: Vec<_> = filtered.steps.iter().map(|step| step.filtered.n_diffuse()).collect();
    assert_eq!(counts, [1, 1, 1]);
    let smoothed = smooth(&model, &filtered);
    let gap = smoothed.states[0].diffuse_covariance() - Matrix2::new(0.0, 0.0, 0.0, 1.0);
    assert!(gap.amax() < 1e-15, "{gap}");
    assert_eq!(smoothed.states[2].diffuse_covariance(), Matrix2::new(9.0, 3.0, 3.0, 1.0));
    let mut filter = Filter::new(model, &Start::<2>::diffuse()).unwrap();
    filter.update(&series[0]).unwrap();
    assert!(matches!(filter.forecast(1.0).unwrap(), Forecast::Known { .. }));
    filter.predict_to(1.0).unwrap();
    assert_eq!(filter.forecast(1.0).unwrap(), Forecast::Unknown);
}

#[test]
fn log_jacobians_are_added_where_there_is_a_value() {
    let series = [at(0.0, 1.0), at(1.0, 2.0), Observation::missing(2.0)];
    let added = series.map(|one| one.with_log_jacobian(-0.25));
    let difference = level_of(&added).unwrap() - level_of(&series).unwrap();
    assert!((difference + 0.5).abs() < 1e-14, "{difference}");
}

#[test]
fn hostile_series_are_refused_with_a_reason() {
    let far =
        |value, variance| [at(0.0, 0.0), at(1.0, 0.0), Observation::new(2.0, value, variance)];
    assert_eq!(level_of(&[]), Err(StateSpaceError::EmptySeries));
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(matches!(
            level_of(&[at(0.0, bad)]),
            Err(StateSpaceError::NotFinite { what: "observation", .. })
        ));
        assert!(matches!(
            level_of(&[at(bad, 0.0)]),
            Err(StateSpaceError::NotFinite { what: "time", .. })
        ));
        assert!(matches!(
            level_of(&far(0.0, bad)),
            Err(StateSpaceError::NotFinite { what: "observation variance", .. })
        ));
        assert!(matches!(LocalLevel::try_new(bad), Err(StateSpaceError::NotFinite { .. })));
    }
    assert!(matches!(
        level_of(&far(0.0, -1.0)),
        Err(StateSpaceError::NegativeVariance { got: -1.0, .. })
    ));
    assert!(matches!(
        LocalLinearTrend::try_new(0.0, -1e-9),
        Err(StateSpaceError::NegativeVariance { .. })
    ));
    assert_eq!(
        level_of(&[at(3.0, 0.0), at(2.0, 0.0)]),
        Err(StateSpaceError::TimeBackwards { from: 3.0, to: 2.0 })
    );
    assert_eq!(level_of(&far(1e300, 1.0)), Err(StateSpaceError::Overflow { time_days: 2.0 }));
    let sure = [Observation::new(0.0, 1.0, 0.0), Observation::new(0.0, 2.0, 0.0)];
    let refused = level_of(&sure).unwrap_err();
    assert_eq!(refused, StateSpaceError::Contradiction { time_days: 0.0, got: 2.0, expected: 1.0 });
    assert_eq!(
        refused.to_string(),
        "`observation` on day 0 is 2, but the model is certain of 1; give it a noise variance above 0"
    );
    // One value, and nothing but missing ones, are no errors.
    assert!(level_of(&[at(0.0, 1.0)]).is_ok() && level_of(&[Observation::missing(0.0)]) == Ok(0.0));
}

#[test]
fn a_refused_observation_leaves_the_filter_as_it_was() {
    let model = LocalLevel::try_new(0.5).unwrap();
    let mut filter = Filter::new(model, &Start::<1>::diffuse()).unwrap();
    filter.update(&at(3.0, 1.0)).unwrap();
    let before = filter.clone();
    for bad in [at(2.0, 1.0), at(4.0, f64::NAN), at(9.0, 1e200), Observation::new(4.0, 0.0, -1.0)] {
        assert!(filter.update(&bad).is_err());
        assert_eq!(filter, before);
    }
}

#[test]
fn bad_starts_are_refused() {
    let model = LocalLinearTrend::try_new(0.1, 0.1).unwrap();
    let refuse = |covariance, diffuse| {
        let start = Start { diffuse, ..Start::proper(Vector2::zeros(), covariance) };
        Filter::new(model, &start).unwrap_err()
    };
    let proper = [false, false];
    assert!(matches!(
        refuse(Matrix2::new(1.0, 0.1, 0.2, 1.0), proper),
        StateSpaceError::BadStart { row: 0, column: 1, .. }
    ));
    assert!(matches!(
        refuse(Matrix2::new(1.0, 2.0, 2.0, 1.0), proper),
        StateSpaceError::BadStart { .. }
    ));
    assert!(matches!(
        refuse(Matrix2::identity(), [true, false]),
        StateSpaceError::BadStart { row: 0, column: 0, .. }
    ));
    assert!(matches!(
        refuse(-Matrix2::identity(), proper),
        StateSpaceError::NegativeVariance { .. }
    ));
    assert!(matches!(
        refuse(Matrix2::from_element(f64::NAN), proper),
        StateSpaceError::NotFinite { .. }
    ));
    let early = Start::proper(Vector1::new(0.0), Matrix1::new(1.0)).at(-2.0);
    let mut filter = Filter::new(LocalLevel::try_new(0.5).unwrap(), &early).unwrap();
    filter.predict_to(0.0).unwrap();
    assert_eq!(filter.state().covariance[(0, 0)], 2.0);
}

// ------------------------------------------------------------------------------------------------
// Estimation

const THREE: [Parameter; 3] = [
    Parameter { name: "a", start: 1.0, lower: 1e-6, upper: 1e6 },
    Parameter { name: "b", start: 1.0, lower: 1e-6, upper: 1e6 },
    Parameter { name: "c", start: 1.0, lower: 1e-6, upper: 1e6 },
];

#[test]
fn a_correlated_quadratic_is_climbed_to_its_top() {
    let objective = |x: &[f64]| {
        let (a, b, c) = (x[0] - 1.0, x[1] + 2.0, x[2] - 0.5);
        7.0 - a * a - 3.0 * b * b - 0.1 * c * c - 1.5 * a * b
    };
    let found = maximise(objective, &THREE, &MaximiseOptions::default()).unwrap();
    assert_eq!(found.verdict, Verdict::Converged);
    for (got, expected) in found.log_values.iter().zip([1.0, -2.0, 0.5]) {
        assert!((got - expected).abs() < 1e-5, "{:?}", found.log_values);
    }
    assert!((found.objective - 7.0).abs() < 1e-12 && found.at_bound.is_empty());
    assert_eq!(found, maximise(objective, &THREE, &MaximiseOptions::default()).unwrap());
}

#[test]
fn verdicts_name_bounds_flatness_and_exhaustion() {
    let options = MaximiseOptions::default();
    let bounds = |x: &[f64]| -x[0].exp() - (x[1] - 1.0).powi(2) + x[2];
    let found = maximise(bounds, &THREE, &options).unwrap();
    assert_eq!(found.at_bound, [("a", Side::Lower), ("c", Side::Upper)]);
    assert_eq!(found.verdict, Verdict::Converged);
    // Only a·b matters: a ridge.
    let ridge = |x: &[f64]| -(x[0] + x[1]).powi(2) - x[2] * x[2];
    let found = maximise(ridge, &THREE, &options).unwrap();
    assert!(
        found.verdict == Verdict::FlatAlong(vec!["a", "b"]) || !found.at_bound.is_empty(),
        "{found:?}"
    );
    let hurried = MaximiseOptions { max_iterations: 1, ..options };
    let curved =
        |x: &[f64]| -(1.0 - x[0]).powi(2) - 100.0 * (x[1] - x[0] * x[0]).powi(2) - x[2] * x[2];
    assert_eq!(maximise(curved, &THREE, &hurried).unwrap().verdict, Verdict::OutOfIterations);
    let found = maximise(curved, &THREE, &options).unwrap();
    assert!(
        (found.log_values[0] - 1.0).abs() < 1e-4 && found.verdict == Verdict::Converged,
        "{found:?}"
    );
}

#[test]
fn hostile_objectives_and_parameters_are_refused() {
    let options = MaximiseOptions::default();
    assert!(matches!(
        maximise(|_| f64::NAN, &THREE, &options),
        Err(StateSpaceError::BadObjective { .. })
    ));
    for (start, lower, upper) in [
        (1.0, 0.0, 2.0),
        (1.0, 2.0, 3.0),
        (f64::NAN, 1.0, 2.0),
        (1.0, 1.0, 1.0),
        (1.0, 0.5, f64::INFINITY),
    ] {
        let bad = [Parameter { name: "bad", start, lower, upper }];
        assert!(matches!(
            maximise(|_| 0.0, &bad, &options),
            Err(StateSpaceError::BadParameter { name: "bad", .. })
        ));
    }
    // Undefined over half the range: the search turns back.
    let half = |x: &[f64]| if x[0] > 0.5 { f64::NAN } else { -(x[0] - 0.4).powi(2) };
    let found = maximise(half, &THREE[..1], &options).unwrap();
    assert!((found.log_values[0] - 0.4).abs() < 1e-5, "{found:?}");
}

#[test]
fn fits_refuse_what_cannot_be_fitted() {
    assert!(matches!(fit_local_level(&[]), Err(StateSpaceError::EmptySeries)));
    assert!(matches!(
        fit_local_level(&[at(0.0, 1.0), at(1.0, 2.0)]),
        Err(StateSpaceError::TooShort { got: 2, need: 3 })
    ));
    assert!(matches!(
        fit_local_linear_trend(&[at(0.0, 1.0); 3]),
        Err(StateSpaceError::TooShort { got: 3, need: 4 })
    ));
    assert!(matches!(
        fit_local_level(&[at(0.0, 1.0), at(1.0, 1.0), at(2.0, 1.0)]),
        Err(StateSpaceError::Constant)
    ));
    assert!(matches!(
        fit_local_level(&[at(4.0, 1.0), at(4.0, 2.0), at(4.0, 3.0)]),
        Err(StateSpaceError::OneTime { time_days: 4.0 })
    ));
    assert!(matches!(
        fit_local_level(&[at(0.0, 1.0), at(1.0, f64::NAN), at(2.0, 1.0)]),
        Err(StateSpaceError::NotFinite { .. })
    ));
}

/// Fits move with the units of the data and of time.
#[test]
fn fits_are_equivariant() {
    let series: Vec<_> = [5.0, 5.4, 4.9, 6.1, 6.0, 6.9, 6.2, 7.5, 7.1, 8.0, 9.2, 8.1]
        .iter()
        .enumerate()
        .map(|(i, &value)| Observation::new(3.0 * i as f64, value, 0.0))
        .collect();
    let moved: Vec<_> = series
        .iter()
        .map(|one| Observation::new(one.time_days / 10.0, one.value.unwrap() * 40.0 - 7.0, 0.0))
        .collect();
    let (fit, other) = (fit_local_level(&series).unwrap(), fit_local_level(&moved).unwrap());
    assert_eq!(fit.maximum.verdict, Verdict::Converged);
    assert!((other.noise_variance / fit.noise_variance / 1600.0 - 1.0).abs() < 1e-5);
    let levels = other.model.level_variance_per_day() / fit.model.level_variance_per_day();
    assert!((levels / 16000.0 - 1.0).abs() < 1e-5, "{levels}");
    // A straight line with alternating noise has no drift: both variances at their bound, said so.
    let line: Vec<_> = (0..20).map(|i| at(f64::from(i), f64::from(i) + f64::from(i % 2))).collect();
    let fit = fit_local_linear_trend(&line).unwrap();
    assert_eq!(fit.maximum.at_bound.len(), 3, "{:?}", fit.maximum);
}
