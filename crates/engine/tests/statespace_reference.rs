//! The state-space engine against published and independently computed values, and against itself.
//!
//! Sources, versions and the script behind each number are in `reference/README-statespace.md`. "Published" means
//! Durbin & Koopman, *Time Series Analysis by State Space Methods*, 2nd edition (2012), quoted from
//! memory to the digits printed there. "Computed" means `statespace_values.py` with statsmodels 0.15.0,
//! at full digits. Relative tolerances have no absolute floor; expected zeros are compared absolutely.

use engine::statespace::{
    Convention, Filter, Filtered, Forecast, Innovation, LocalLevel, LocalLinearTrend, Model,
    Observation, Side, Start, Verdict, filter_series, fit_local_level, fit_local_linear_trend,
    log_likelihood, smooth,
};
use nalgebra::{Matrix1, Matrix2, Vector1, Vector2};

/// Both routes are double precision; the largest gap seen was 2e-13 of the value.
const COMPUTED: f64 = 2e-12;

// ------------------------------------------------------------------------------------------------
// K1: the flow of the Nile, local level

/// Data: annual flow 1871–1970, as in R's `datasets::Nile` and statsmodels' `datasets.nile` (the script
/// asserts that they agree with the file).
fn nile() -> Vec<f64> {
    let text = include_str!("reference/nile.csv");
    text.lines().skip(1).map(|line| line.split(',').nth(1).unwrap().parse().unwrap()).collect()
}

fn yearly(values: &[f64], variance: f64) -> Vec<Observation> {
    let days = 0..values.len();
    days.zip(values).map(|(day, &value)| Observation::new(day as f64, value, variance)).collect()
}

fn nile_level() -> (LocalLevel, Filtered<1>) {
    let model = LocalLevel::try_new(1469.1).unwrap();
    let filtered = filter_series(&model, &Start::diffuse(), &yearly(&nile(), 15099.0)).unwrap();
    (model, filtered)
}

/// Years whose values the reference table lists, as positions in the series.
const LISTED: [usize; 6] = [0, 1, 2, 3, 4, 99];

#[test]
fn nile_level_filter_and_smoother_match_statsmodels() {
    let (model, filtered) = nile_level();
    let smoothed = smooth(&model, &filtered);
    // Computed: nile_filtered, nile_filtered_var, nile_smoothed, nile_smoothed_var.
    let table = [
        (1120.0, 15099.0, 1111.6683191267957, 4032.1579418084766),
        (1140.927839934822, 7899.7363793969125, 1110.857664621807, 3242.9300732247184),
        (1072.7985295274439, 5781.46993870002, 1105.2655673123875, 2818.942170053208),
        (1117.3089545639095, 4898.365194708502, 1113.5156015970224, 2591.167975563148),
        (1129.972136111239, 4478.723259878056, 1112.3779128739206, 2468.803438066876),
        (798.3702926083641, 4032.1579418084766, 798.3702926083641, 4032.157941808477),
    ];
    for (year, (level, variance, smooth_level, smooth_variance)) in LISTED.into_iter().zip(table) {
        assert_rel(filtered.steps[year].filtered.mean[0], level, COMPUTED);
        assert_rel(filtered.steps[year].filtered.covariance[(0, 0)], variance, COMPUTED);
        assert_rel(smoothed.states[year].mean[0], smooth_level, COMPUTED);
        assert_rel(smoothed.states[year].covariance[(0, 0)], smooth_variance, COMPUTED);
    }
    // Computed: nile_smoothed_1898_1899.
    assert_rel(smoothed.states[27].mean[0], 999.585218705269, COMPUTED);
    assert_rel(smoothed.states[28].mean[0], 950.9300867400271, COMPUTED);
    assert_rel(filtered.steps[27].filtered.mean[0], 1133.1262912421244, COMPUTED);
    assert_rel(filtered.steps[28].filtered.mean[0], 1037.2223255160652, COMPUTED);
}

#[test]
fn nile_level_innovations_match_statsmodels() {
    let (_, filtered) = nile_level();
    // Computed: nile_innovations_1872. The diffuse first value has no innovation variance.
    let expected = [
        (40.0, 31667.1),
        (-177.92783993482203, 24467.83637939691),
        (137.20147047255614, 22349.56993870002),
    ];
    assert!(matches!(filtered.steps[0].innovation, Innovation::Diffuse { .. }));
    for (step, (innovation, spread)) in filtered.steps[1..].iter().zip(expected) {
        let Innovation::Proper { value, variance, gain } = step.innovation else {
            panic!("{step:?}")
        };
        assert_rel(value, innovation, COMPUTED);
        assert_rel(variance, spread, COMPUTED);
        assert_rel(gain[0], step.predicted.covariance[(0, 0)] / spread, COMPUTED);
        assert_rel(step.innovation.standardised().unwrap(), innovation / spread.sqrt(), COMPUTED);
    }
}

#[test]
fn nile_level_likelihood_in_every_convention() {
    let (_, filtered) = nile_level();
    let total = |convention| filtered.log_likelihood.total(convention);
    // Computed: log_likelihood_every_constant.
    assert_rel(total(Convention::EveryObservation), -633.4645636488784, COMPUTED);
    // Dropping the first value's constant: 0.5 ln 2π = 0.9189 higher.
    let dropped = -633.4645636488784 + 0.5 * (2.0 * std::f64::consts::PI).ln();
    assert_rel(total(Convention::AfterDiffuse), dropped, COMPUTED);
    // The steps add up to the total.
    let sum: f64 = filtered.steps.iter().map(|step| step.innovation.log_density()).sum();
    assert_rel(sum, total(Convention::EveryObservation), COMPUTED);
    assert_eq!((filtered.log_likelihood.n_diffuse(), filtered.log_likelihood.n_proper()), (1, 99));
    // Known start, a₁ = 0, P₁ = 10⁷. Computed: nile_known_start.
    let known = Start::proper(Vector1::new(0.0), Matrix1::new(1e7));
    let model = LocalLevel::try_new(1469.1).unwrap();
    let known = log_likelihood(&model, &known, yearly(&nile(), 15099.0)).unwrap();
    assert_rel(known.total(Convention::EveryObservation), -641.5855784594153, COMPUTED);
}

#[test]
fn nile_level_concentrated_likelihood_by_ratio() {
    // Ratio, published (two decimals), computed: nile_concentrated_*.
    let table = [
        (1.0, -495.68, -495.68510454586243),
        (0.0360, -492.53, -492.52899871259416),
        (0.0745, -492.10, -492.10458515619024),
        (0.0974, -492.07, -492.0707107709038),
        (0.0973, -492.07, -492.0707103176316),
    ];
    for (ratio, published, computed) in table {
        let model = LocalLevel::try_new(ratio).unwrap();
        let sums = log_likelihood(&model, &Start::diffuse(), yearly(&nile(), 1.0)).unwrap();
        let got = sums.concentrated().unwrap().log_likelihood;
        assert_rel(got, computed, COMPUTED);
        // The book cuts rather than rounds one of them: −495.6851 is printed as −495.68.
        assert!((got - published).abs() < 0.0055, "{got} against {published}");
    }
}

#[test]
fn nile_level_maximum_likelihood() {
    let fit = fit_local_level(&yearly(&nile(), 0.0)).unwrap();
    let (noise, level) = (fit.noise_variance, fit.model.level_variance_per_day());
    assert_eq!(fit.maximum.verdict, Verdict::Converged);
    assert!(fit.maximum.gradient_norm < 1e-6 && fit.maximum.at_bound.is_empty());
    // Published to five digits.
    assert!((noise - 15099.0).abs() < 1.0 && (level - 1469.1).abs() < 0.1, "{noise} {level}");
    // Computed: nile_mle_*, by a one-dimensional search over the ratio. The objective is flat to
    // rounding over 1e-7 of a variance, so no two searches agree to more than that.
    assert_rel(noise, 15098.518387950839, 1e-6);
    assert_rel(level, 1469.176325235646, 1e-6);
    assert_rel(level / noise, 0.0973059930441984, 1e-6);
    // At the top the likelihood itself is good to all digits, in three conventions.
    let sums = fit.log_likelihood;
    assert_rel(sums.concentrated().unwrap().log_likelihood, -492.07071031577834, COMPUTED);
    assert_rel(sums.total(Convention::AfterDiffuse), -632.545625103041, COMPUTED);
    assert_rel(sums.total(Convention::EveryObservation), -633.4645636362457, COMPUTED);
    // A second package, R 4.2.2 `StructTS(Nile, "level")`, stops at 15098.577 and 1469.147.
    assert_rel(noise, 15098.577, 1e-5);
    assert_rel(level, 1469.147, 3e-5);
}

#[test]
fn nile_level_steady_state() {
    // Closed form of the steady state, computed at the estimates: nile_steady_*.
    let model = LocalLevel::try_new(1469.176325235646).unwrap();
    let series = yearly(&nile(), 15098.518387950839);
    let filtered = filter_series(&model, &Start::diffuse(), &series).unwrap();
    let last = filtered.steps[99];
    let Innovation::Proper { variance, gain, .. } = last.innovation else { panic!("{last:?}") };
    assert_rel(last.predicted.covariance[(0, 0)], 5501.3486485632475, COMPUTED);
    assert_rel(last.filtered.covariance[(0, 0)], 4032.172323327602, COMPUTED);
    assert_rel(gain[0], 0.2670574833717076, COMPUTED);
    assert_rel(variance, 20599.867036514086, COMPUTED);
}

// ------------------------------------------------------------------------------------------------
// K2: local linear trend in unit steps

/// The textbook trend, whose slope moves once per step: `Q = diag(q_ℓ, q_s)`. The engine's own trend
/// moves in continuous time, so this one serves the references only (and shows that a model can be
/// brought from outside).
#[derive(Clone)]
struct SteppedTrend {
    level: f64,
    slope: f64,
}

impl Model<2> for SteppedTrend {
    fn transition(&self, gap_days: f64) -> Matrix2<f64> {
        Matrix2::new(1.0, gap_days, 0.0, 1.0)
    }
    fn process_noise(&self, gap_days: f64) -> Matrix2<f64> {
        // Sums of k = 0 … Δ−1 of T^k Q T'^k, for whole gaps.
        let (n, level, slope) = (gap_days, self.level, self.slope);
        let cross = slope * n * (n - 1.0) / 2.0;
        let level = level * n + slope * n * (n - 1.0) * (2.0 * n - 1.0) / 6.0;
        Matrix2::new(level, cross, cross, slope * n)
    }
}

#[test]
fn nile_trend_likelihoods_match_statsmodels() {
    // Computed: nile_trend_*.
    let table = [
        (15099.0, 1469.1, 0.0, -631.7301487070056),
        (15000.0, 1500.0, 1.0, -631.9794456375184),
        (15000.0, 1500.0, 10.0, -633.1307409480911),
        (15047.33, 1426.74, 0.0, -631.7374764313071),
    ];
    for (noise, level, slope, expected) in table {
        let series = yearly(&nile(), noise);
        let sums =
            log_likelihood(&SteppedTrend { level, slope }, &Start::diffuse(), &series).unwrap();
        assert_rel(sums.total(Convention::EveryObservation), expected, COMPUTED);
        if slope == 0.0 {
            // Without slope noise the continuous trend is the same model.
            let model = LocalLinearTrend::try_new(level, 0.0).unwrap();
            let sums = log_likelihood(&model, &Start::diffuse(), &series).unwrap();
            assert_rel(sums.total(Convention::EveryObservation), expected, COMPUTED);
        }
    }
}

#[test]
fn nile_trend_states_match_statsmodels() {
    let model = SteppedTrend { level: 1500.0, slope: 10.0 };
    let filtered = filter_series(&model, &Start::diffuse(), &yearly(&nile(), 15000.0)).unwrap();
    // Computed: nile_trend_last_state.
    let last = filtered.steps[99].filtered;
    assert_state(
        &last.mean,
        &last.covariance,
        [
            780.4659614625914,
            -6.945973522390905,
            4826.034085285336,
            318.96664527387736,
            151.30222369014118,
        ],
    );
    // Computed: nile_trend_smoothed_*, inside the diffuse phase and just after it.
    let smoothed = smooth(&model, &filtered);
    let table = [
        [
            1124.1257184737278,
            -4.490507393338255,
            4826.034085285337,
            -318.96664527387543,
            141.302223690127,
        ],
        [
            1120.0477829277622,
            -4.493257872320741,
            3629.0768472828595,
            -211.887533343496,
            131.7229907878634,
        ],
        [
            1111.9718751955907,
            -4.472124018904211,
            3010.3045299099417,
            -137.66981519953003,
            122.82106123434633,
        ],
    ];
    for (state, expected) in smoothed.states.iter().zip(table) {
        assert_eq!(state.n_diffuse(), 0);
        assert_state(&state.mean, &state.covariance, expected);
    }
}

#[test]
fn nile_trend_maximum_has_no_slope_variance() {
    let fit = fit_local_linear_trend(&yearly(&nile(), 0.0)).unwrap();
    // Computed: nile_trend_mle. Nelder–Mead there, flat top: 1e-4 on the variances.
    assert_rel(fit.log_likelihood.total(Convention::EveryObservation), -631.7106891224776, 1e-11);
    assert_rel(fit.noise_variance, 14678.016343088888, 1e-5);
    assert_rel(fit.model.level_variance_per_day(), 1752.7704095963707, 1e-5);
    assert_eq!(fit.model.slope_variance_per_day(), 0.0);
    assert_eq!(fit.maximum.at_bound, [("slope variance", Side::Lower)]);
    assert_eq!(fit.maximum.verdict, Verdict::Converged);
}

#[test]
fn small_trend_matches_statsmodels() {
    let values =
        [100.0, 101.5, 101.0, 103.2, 104.1, 103.8, 106.0, 106.4, 108.1, 107.6, 109.9, 111.0];
    let model = SteppedTrend { level: 0.2, slope: 0.01 };
    let start = Start::proper(Vector2::new(100.0, 0.0), Matrix2::new(25.0, 0.0, 0.0, 1.0));
    let filtered = filter_series(&model, &start, &yearly(&values, 1.0)).unwrap();
    let smoothed = smooth(&model, &filtered);
    // Computed: small_*.
    assert_rel(
        filtered.log_likelihood.total(Convention::EveryObservation),
        -19.546116012720805,
        COMPUTED,
    );
    let filtered_level = [
        100.0,
        101.02554744525547,
        101.15576323987538,
        102.60519867054644,
        103.8033247876758,
        104.1765278009271,
        105.50409221551452,
        106.3896243680929,
        107.68366863945276,
        108.1293170819192,
        109.43070969817202,
        110.66962083339247,
    ];
    let filtered_slope = [
        0.0,
        0.4744525547445258,
        0.31713168247038254,
        0.7338208716836334,
        0.8727112544256064,
        0.7469655457431262,
        0.8744381726400487,
        0.8766324615916045,
        0.9530964395618401,
        0.8650579244778591,
        0.9379883966929343,
        0.9870513387246191,
    ];
    let smoothed_level = [
        100.07462660722335,
        100.989257173494,
        101.809954140068,
        102.80518821181012,
        103.730237973218,
        104.5902932646044,
        105.62124265254556,
        106.58525059028267,
        107.59488081449058,
        108.50996901323558,
        109.61649366134634,
        110.66962083339247,
    ];
    let smoothed_slope = [
        0.899108231968197,
        0.9073231975727561,
        0.9198694747272527,
        0.9286475220310064,
        0.9376054573659162,
        0.9504409009998018,
        0.9592509202866194,
        0.9678230887009132,
        0.9743049003398566,
        0.9837475470585438,
        0.9870513387246191,
        0.9870513387246191,
    ];
    for (index, (step, state)) in filtered.steps.iter().zip(&smoothed.states).enumerate() {
        assert_rel(step.filtered.mean[0], filtered_level[index], COMPUTED);
        // The first slope is an exact 0: the first observation says nothing of it.
        assert_rel(step.filtered.mean[1], filtered_slope[index], COMPUTED);
        assert_rel(state.mean[0], smoothed_level[index], COMPUTED);
        assert_rel(state.mean[1], smoothed_slope[index], COMPUTED);
    }
    let last = filtered.steps[11].filtered.covariance;
    assert_rel(last[(0, 0)], 0.4766700941020322, COMPUTED);
    assert_rel(last[(0, 1)], 0.07771708216402327, COMPUTED);
    assert_rel(last[(1, 1)], 0.06643303705637449, COMPUTED);
}

#[test]
fn small_trend_forecasts_match_statsmodels() {
    let values =
        [100.0, 101.5, 101.0, 103.2, 104.1, 103.8, 106.0, 106.4, 108.1, 107.6, 109.9, 111.0];
    let model = SteppedTrend { level: 0.2, slope: 0.01 };
    let start = Start::proper(Vector2::new(100.0, 0.0), Matrix2::new(25.0, 0.0, 0.0, 1.0));
    let mut filter = Filter::new(model, &start).unwrap();
    for observation in yearly(&values, 1.0) {
        filter.update(&observation).unwrap();
    }
    // Computed: small_forecast.
    let expected = [
        (111.65667217211708, 1.8985372954864532),
        (112.64372351084171, 2.4632705709836236),
        (113.63077484956634, 3.1908699205935425),
    ];
    let path = filter.forecast_path(&[(12.0, 1.0), (13.0, 1.0), (14.0, 1.0)]).unwrap();
    for (forecast, (mean, variance)) in path.into_iter().zip(expected) {
        assert_forecast(forecast, mean, variance);
    }
    assert_eq!(filter.time_days(), Some(11.0));
}

// ------------------------------------------------------------------------------------------------
// K3: irregular days

const DAYS: [f64; 8] = [0.0, 2.0, 5.0, 9.0, 10.0, 14.0, 21.0, 23.0];
const VALUES: [f64; 8] = [100.0, 101.2, 99.8, 102.5, 101.9, 103.6, 104.0, 101.0];

fn irregular() -> Vec<Observation> {
    DAYS.iter().zip(VALUES).map(|(&day, value)| Observation::new(day, value, 2.25)).collect()
}

#[test]
fn irregular_level_matches_statsmodels_on_a_daily_grid() {
    let model = LocalLevel::try_new(0.10).unwrap();
    let start = Start::proper(Vector1::new(100.0), Matrix1::new(16.0));
    let filtered = filter_series(&model, &start, &irregular()).unwrap();
    let smoothed = smooth(&model, &filtered);
    assert_rel(
        filtered.log_likelihood.total(Convention::EveryObservation),
        -16.094974384214154,
        COMPUTED,
    );
    // Computed: irregular_day_*: predicted, its variance, innovation, its variance, standardised, gain,
    // filtered, its variance, smoothed, its variance.
    let table = [
        [
            100.0,
            16.0,
            0.0,
            18.25,
            0.0,
            0.8767123287671232,
            100.0,
            1.9726027397260282,
            101.04332853087635,
            0.6208943218872527,
        ],
        [
            100.0,
            2.1726027397260284,
            1.2000000000000028,
            4.422602739726028,
            0.5706138132717677,
            0.4912498064116464,
            100.58949976769398,
            1.1053120644262044,
            101.14911045136797,
            0.5329027265132651,
        ],
        [
            100.58949976769398,
            1.4053120644262047,
            -0.7894997676939823,
            3.6553120644262047,
            -0.4129426843846265,
            0.38445747986958934,
            100.28597067664873,
            0.8650293297065761,
            101.30099805895449,
            0.48001232786904097,
        ],
        [
            100.28597067664873,
            1.2650293297065762,
            2.2140293233512693,
            3.515029329706576,
            1.1809156876459603,
            0.3598915431559648,
            101.08278110642217,
            0.8097559721009208,
            101.77035896843952,
            0.44161308354102125,
        ],
        [
            101.08278110642217,
            0.9097559721009207,
            0.8172188935778308,
            3.1597559721009207,
            0.45973929658702517,
            0.28791969384142796,
            101.31807452006254,
            0.6478193111432129,
            101.8552707055192,
            0.44507175008912325,
        ],
        [
            101.31807452006254,
            1.0478193111432128,
            2.281925479937456,
            3.297819311143213,
            1.2565738839901341,
            0.31773096470224094,
            102.0431129041817,
            0.7148946705800423,
            102.18696577926356,
            0.5173983782746736,
        ],
        [
            102.0431129041817,
            1.4148946705800427,
            1.9568870958183027,
            3.6648946705800425,
            1.022197985337812,
            0.3860669399145672,
            102.79860231702257,
            0.8686506148077761,
            102.32782151186485,
            0.6412829349323719,
        ],
        [
            102.79860231702257,
            1.0686506148077761,
            -1.7986023170225707,
            3.318650614807776,
            -0.9873119242924285,
            0.32201359493508325,
            102.21942791905957,
            0.7245305886039373,
            102.21942791905957,
            0.7245305886039372,
        ],
    ];
    for ((step, state), row) in filtered.steps.iter().zip(&smoothed.states).zip(table) {
        let Innovation::Proper { value, variance, gain } = step.innovation else {
            panic!("{step:?}")
        };
        let standardised = step.innovation.standardised().unwrap();
        let (before, after) = (step.predicted, step.filtered);
        let got = [
            before.mean[0],
            before.covariance[(0, 0)],
            value,
            variance,
            standardised,
            gain[0],
            after.mean[0],
            after.covariance[(0, 0)],
            state.mean[0],
            state.covariance[(0, 0)],
        ];
        for (got, expected) in got.into_iter().zip(row) {
            assert_rel(got, expected, COMPUTED);
        }
    }
    let mut filter = Filter::new(model, &start).unwrap();
    for observation in irregular() {
        filter.update(&observation).unwrap();
    }
    filter.predict_to(30.0).unwrap();
    // Computed: irregular_forecast_day_30.
    assert_forecast(filter.forecast(2.25).unwrap(), 102.21942791905957, 3.674530588603938);
}

#[test]
fn irregular_continuous_trend_matches_the_joint_density() {
    let model = LocalLinearTrend::try_new(0.10, 0.0004).unwrap();
    let start = Start::proper(Vector2::new(100.0, 0.0), Matrix2::new(16.0, 0.0, 0.0, 0.04));
    let filtered = filter_series(&model, &start, &irregular()).unwrap();
    // Computed without a recursion: continuous_*. Dense inverses there: 1e-10 on slopes near 0.
    assert_rel(
        filtered.log_likelihood.total(Convention::EveryObservation),
        -16.474800394050195,
        COMPUTED,
    );
    let table = [
        (100.61095228285129, 0.02115335802027373),
        (100.25844845131319, -0.011363793215563543),
        (101.4609767944516, 0.0927396429377206),
        (101.69543417675796, 0.10443154713933418),
        (102.86308157884447, 0.1592313910487851),
        (103.9918387707482, 0.1600113169531167),
        (102.75608121379692, 0.0780636563144478),
    ];
    for (step, (level, slope)) in filtered.steps[1..].iter().zip(table) {
        assert_rel(step.filtered.mean[0], level, COMPUTED);
        assert_rel(step.filtered.mean[1], slope, 1e-10);
    }
    let last = filtered.steps[7].filtered.covariance;
    assert_rel(last[(0, 0)], 1.0569601205262202, COMPUTED);
    assert_rel(last[(0, 1)], 0.055673294835914544, COMPUTED);
    assert_rel(last[(1, 1)], 0.010951850156997268, 1e-11);
}

// ------------------------------------------------------------------------------------------------
// Helpers

#[track_caller]
fn assert_rel(got: f64, expected: f64, tolerance: f64) {
    if expected == 0.0 {
        assert!(got.abs() <= 1e-12, "got {got}, expected 0");
    } else {
        let gap = ((got - expected) / expected).abs();
        assert!(gap <= tolerance, "got {got}, expected {expected}: relative gap {gap:e}");
    }
}

#[track_caller]
fn assert_forecast(forecast: Forecast, expected_mean: f64, expected_variance: f64) {
    let Forecast::Known { mean, variance } = forecast else { panic!("{forecast:?}") };
    assert_rel(mean, expected_mean, COMPUTED);
    assert_rel(variance, expected_variance, COMPUTED);
}

/// Level, slope, and the covariance's three entries.
#[track_caller]
fn assert_state(mean: &Vector2<f64>, covariance: &Matrix2<f64>, expected: [f64; 5]) {
    let got = [mean[0], mean[1], covariance[(0, 0)], covariance[(0, 1)], covariance[(1, 1)]];
    for (got, expected) in got.into_iter().zip(expected) {
        assert_rel(got, expected, 1e-11);
    }
}
