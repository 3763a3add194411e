//! Pooling over persons against published fits and another implementation.
//!
//! Published: the linear mixed model of the `sleepstudy` data (Bates et al. 2015), a random-effects summary
//! of 13 trials (Viechtbauer 2010) and one of 8 schools (Rubin 1981). Computed: statsmodels and a dense
//! restricted likelihood, both in `reference/pooling_reference.py`. Exact relations that hold on any data
//! are in `pooling_properties.rs`.

use engine::pooling::{
    Between, Component, Estimate, Pooled, Priors, RepeatedFit, RepeatedMeasures, Structure,
    Verdict, fit_repeated, pool,
};
use nalgebra::{DMatrix, DVector};

/// Rows of numbers, header left out.
fn rows(text: &str) -> Vec<Vec<f64>> {
    let parse = |line: &str| line.split(',').map(|cell| cell.parse().unwrap()).collect();
    text.lines().skip(1).map(parse).collect()
}

/// Rows with the same number in `column`, in order of first appearance.
fn by_person(rows: &[Vec<f64>], column: usize) -> Vec<(f64, Vec<&Vec<f64>>)> {
    let mut people: Vec<(f64, Vec<&Vec<f64>>)> = Vec::new();
    for row in rows {
        match people.iter_mut().find(|(code, _)| *code == row[column]) {
            Some((_, own)) => own.push(row),
            None => people.push((row[column], vec![row])),
        }
    }
    people
}

#[track_caller]
fn assert_near(got: f64, expected: f64, tolerance: f64) {
    let gap = (got - expected).abs();
    assert!(gap <= tolerance, "got {got}, expected {expected}, gap {gap:e}");
}

#[track_caller]
fn assert_rel(got: f64, expected: f64, tolerance: f64) {
    let gap = ((got - expected) / expected).abs();
    assert!(gap <= tolerance, "got {got}, expected {expected}, gap {gap:e}");
}

#[track_caller]
fn assert_all_near(got: &DVector<f64>, expected: &[f64], tolerance: f64) {
    assert_eq!(got.len(), expected.len());
    got.iter().zip(expected).for_each(|(&got, &expected)| assert_near(got, expected, tolerance));
}

#[track_caller]
fn assert_spread(got: &DMatrix<f64>, expected: [[f64; 3]; 3], tolerance: f64) {
    for (row, expected) in expected.iter().enumerate() {
        for (column, &expected) in expected.iter().enumerate() {
            assert_near(got[(row, column)], expected, tolerance);
        }
    }
}

fn standard_errors(covariance: &DMatrix<f64>) -> DVector<f64> {
    covariance.diagonal().map(f64::sqrt)
}

// Source: Bates, Mächler, Bolker & Walker 2015, J Stat Softw 67(1); digits beyond the printed ones were
//   computed with lme4 and a tight optimiser. Data: Belenky et al. 2003 (see data/README.md).
// Tolerance: a unit of the last digit given; variances ± 0.02 at most, since optimisers that stop early
//   (the paper's own 612.10) differ by that much.
mod sleepstudy {
    use super::*;

    fn people() -> Vec<(f64, RepeatedMeasures)> {
        let rows = rows(include_str!("data/sleepstudy.csv"));
        by_person(&rows, 2)
            .into_iter()
            .map(|(code, own)| {
                let design =
                    DMatrix::from_fn(
                        own.len(),
                        2,
                        |row, column| {
                            if column == 0 { 1.0 } else { own[row][1] }
                        },
                    );
                let response = DVector::from_fn(own.len(), |row, _| own[row][0]);
                (code, RepeatedMeasures::new(&design, &response).unwrap())
            })
            .collect()
    }

    fn fit(components: [Component; 2], between: Between) -> RepeatedFit {
        let people: Vec<RepeatedMeasures> = people().into_iter().map(|(_, one)| one).collect();
        let structure = Structure { components: components.to_vec(), between };
        fit_repeated(&people, &structure).unwrap()
    }

    fn position(code: f64) -> usize {
        people().iter().position(|(own, _)| *own == code).unwrap()
    }

    #[test]
    fn data_are_complete() {
        let rows = rows(include_str!("data/sleepstudy.csv"));
        assert_eq!(rows.len(), 180);
        assert_eq!(by_person(&rows, 2).len(), 18);
        assert_near(rows.iter().map(|row| row[0]).sum(), 53_731.420_5, 1e-6);
    }

    #[test]
    fn full_fit() {
        let fit = fit([Component::Varying; 2], Between::Full);
        assert_eq!(fit.search.verdict, Verdict::Converged);
        assert_eq!(fit.search.rank, 2);
        assert_all_near(&fit.mean, &[251.405_104_8, 10.467_286_0], 1e-7);
        assert_all_near(&standard_errors(&fit.mean_covariance), &[6.824_555_8, 1.545_788_9], 1e-6);
        assert_near(fit.spread[(0, 0)], 612.089_75, 2e-3);
        assert_near(fit.spread[(1, 1)], 35.071_66, 1e-4);
        assert_near(fit.spread[(0, 1)], 9.604_34, 1e-3);
        assert_near(fit.spread[(1, 0)], fit.spread[(0, 1)], 0.0);
        assert_near(fit.spread[(0, 0)].sqrt(), 24.740_45, 2e-5);
        assert_near(fit.spread[(1, 1)].sqrt(), 5.922_13, 1e-5);
        let correlation = fit.spread[(0, 1)] / (fit.spread[(0, 0)] * fit.spread[(1, 1)]).sqrt();
        assert_near(correlation, 0.065_551_3, 1e-5);
        assert_near(fit.noise_variance, 654.941_04, 1e-4);
        assert_near(fit.noise_variance.sqrt(), 25.591_82, 1e-5);
        assert_near(fit.criterion, 1_743.628_271_96, 1e-8);
        assert_near(-0.5 * fit.criterion, -871.814_135_98, 1e-8);
    }

    // What the paper prints.
    #[test]
    fn full_fit_as_printed() {
        let fit = fit([Component::Varying; 2], Between::Full);
        assert_near(fit.criterion, 1_743.6, 0.05);
        assert_near(fit.spread[(0, 0)], 612.10, 0.02);
        assert_near(fit.spread[(1, 1)], 35.07, 0.02);
        assert_near(fit.noise_variance, 654.94, 0.02);
        let errors = standard_errors(&fit.mean_covariance);
        assert_near(fit.mean[0] / errors[0], 36.838, 5e-4);
        assert_near(fit.mean[1] / errors[1], 6.771, 5e-4);
    }

    #[test]
    fn person_effects() {
        let fit = fit([Component::Varying; 2], Between::Full);
        let published = [
            (308.0, [2.258_57, 9.198_97]),
            (309.0, [-40.398_58, -8.619_70]),
            (335.0, [-0.333_70, -10.752_16]),
            (337.0, [34.890_35, 8.628_28]),
        ];
        for (code, effects) in published {
            assert_all_near(&(&fit.persons[position(code)].mean - &fit.mean), &effects, 1e-4);
        }
    }

    #[test]
    fn shrinkage_of_slopes() {
        let fit = fit([Component::Varying; 2], Between::Full);
        for (code, own, shrunk) in [(335.0, -2.881_03, -0.284_87), (308.0, 21.764_70, 19.666_26)] {
            let position = position(code);
            assert_near(people()[position].1.least_squares()[1], own, 1e-5);
            assert_near(fit.persons[position].mean[1], shrunk, 1e-5);
        }
    }

    #[test]
    fn intercept_alone_varies() {
        let fit = fit([Component::Varying, Component::Common], Between::Full);
        assert_eq!(fit.search.verdict, Verdict::Converged);
        assert_near(fit.spread[(0, 0)], 1_378.178_5, 1e-3);
        assert_near(fit.spread[(1, 1)], 0.0, 0.0);
        assert_near(fit.noise_variance, 960.456_6, 1e-4);
        assert_near(fit.criterion, 1_786.5, 0.05);
    }

    #[test]
    fn uncorrelated() {
        let fit = fit([Component::Varying; 2], Between::Diagonal);
        assert_eq!(fit.search.verdict, Verdict::Converged);
        assert_near(fit.spread[(0, 0)], 627.569_1, 0.02);
        assert_near(fit.spread[(1, 1)], 35.858_4, 0.02);
        assert_near(fit.spread[(0, 1)], 0.0, 0.0);
        assert_near(fit.noise_variance, 653.583_5, 0.02);
        assert_near(fit.criterion, 1_743.7, 0.05);
        // The figures above are a default optimiser's, which stops early: a dense likelihood
        // (pooling_reference.py) has its minimum at these, as far as its simplex could tell.
        assert_near(fit.spread[(0, 0)], 627.569_04, 5e-4);
        assert_near(fit.spread[(1, 1)], 35.858_21, 5e-5);
        assert_near(fit.noise_variance, 653.583_84, 5e-4);
        assert_rel(fit.criterion, 1_743.669_293_581, 1e-12);
    }

    #[test]
    fn nobody_varies_is_least_squares() {
        let fit = fit([Component::Common; 2], Between::Full);
        assert_all_near(&standard_errors(&fit.mean_covariance), &[6.610_154, 1.238_195], 1e-6);
        assert_near(fit.noise_variance.sqrt(), 47.714_72, 1e-5);
    }

    // Two stages: each person's own line with its sampling covariance at the joint fit's noise variance,
    // then pooled. That is the same model, so the same published figures must come out.
    #[test]
    fn pooling_each_persons_own_line_gives_the_same_fit() {
        let joint = fit([Component::Varying; 2], Between::Full);
        let estimates: Vec<Estimate> = people()
            .iter()
            .map(|(_, one)| {
                let covariance = one.information().try_inverse().unwrap() * joint.noise_variance;
                Estimate::from_covariance(one.least_squares(), &covariance).unwrap()
            })
            .collect();
        let pooled = pool(&estimates, &Structure::full(2), &Priors::default()).unwrap();
        assert_eq!(pooled.search.verdict, Verdict::Converged);
        assert_all_near(&pooled.mean, &[251.405_104_8, 10.467_286_0], 1e-6);
        assert_all_near(
            &standard_errors(&pooled.mean_covariance),
            &[6.824_555_8, 1.545_788_9],
            1e-6,
        );
        assert_near(pooled.spread[(0, 0)], 612.089_75, 2e-3);
        assert_near(pooled.spread[(1, 1)], 35.071_66, 1e-4);
        assert_near(pooled.spread[(0, 1)], 9.604_34, 1e-3);
        let effects = &pooled.persons[position(308.0)].mean - &pooled.mean;
        assert_all_near(&effects, &[2.258_57, 9.198_97], 1e-4);
    }
}

/// Numbers with known sampling variances, pooled.
fn pool_numbers(values: &[f64], variances: &[f64]) -> Pooled {
    let estimate = |(&value, &variance): (&f64, &f64)| {
        let covariance = DMatrix::from_element(1, 1, variance);
        Estimate::from_covariance(DVector::from_element(1, value), &covariance).unwrap()
    };
    let estimates: Vec<Estimate> = values.iter().zip(variances).map(estimate).collect();
    pool(&estimates, &Structure::full(1), &Priors::default()).unwrap()
}

mod published_summaries {
    use super::*;

    // Source: Viechtbauer 2010, J Stat Softw 36(3), section 3 (REML: τ² 0.3132, mean log risk ratio −0.7145,
    //   SE 0.1798); counts of Colditz et al. 1994, JAMA 271:698. Both from memory; that these counts give
    //   those figures to every printed digit bears them out. Longer digits: pooling_reference.py.
    #[test]
    fn thirteen_trials() {
        const TRIALS: [[f64; 4]; 13] = [
            [4.0, 119.0, 11.0, 128.0],
            [6.0, 300.0, 29.0, 274.0],
            [3.0, 228.0, 11.0, 209.0],
            [62.0, 13_536.0, 248.0, 12_619.0],
            [33.0, 5_036.0, 47.0, 5_761.0],
            [180.0, 1_361.0, 372.0, 1_079.0],
            [8.0, 2_537.0, 10.0, 619.0],
            [505.0, 87_886.0, 499.0, 87_892.0],
            [29.0, 7_470.0, 45.0, 7_232.0],
            [17.0, 1_699.0, 65.0, 1_600.0],
            [186.0, 50_448.0, 141.0, 27_197.0],
            [5.0, 2_493.0, 3.0, 2_338.0],
            [27.0, 16_886.0, 29.0, 17_825.0],
        ];
        let log_ratios = TRIALS.map(|[a, b, c, d]| (a / (a + b)).ln() - (c / (c + d)).ln());
        let variances =
            TRIALS.map(|[a, b, c, d]| 1.0 / a - 1.0 / (a + b) + 1.0 / c - 1.0 / (c + d));
        let pooled = pool_numbers(&log_ratios, &variances);
        assert_eq!(pooled.search.verdict, Verdict::Converged);
        let error = pooled.mean_covariance[(0, 0)].sqrt();
        assert_near(pooled.spread[(0, 0)], 0.313_2, 5e-5);
        assert_near(pooled.mean[0], -0.714_5, 5e-5);
        assert_near(error, 0.179_8, 5e-5);
        assert_rel(pooled.spread[(0, 0)], 0.313_243_261, 1e-7);
        assert_rel(pooled.mean[0], -0.714_532_342, 1e-8);
        assert_rel(error, 0.179_781_517, 1e-8);
        assert_rel(pooled.criterion, 26.969_692_188_448_68, 1e-12);
    }

    // Source: Rubin 1981, J Educ Stat 6:377; Gelman et al., Bayesian Data Analysis, section 5.5 (pooled
    //   completely: 7.7, SE 4.1). Data and figures from memory. REML finds no spread here, so complete
    //   pooling is its answer: a test of the boundary.
    #[test]
    fn eight_schools() {
        let effects = [28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0];
        let errors: [f64; 8] = [15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0];
        let pooled = pool_numbers(&effects, &errors.map(|error| error * error));
        assert_eq!(pooled.search.verdict, Verdict::Converged);
        assert_eq!(pooled.search.without_spread, [0]);
        assert_near(pooled.spread[(0, 0)], 0.0, 0.0);
        assert_near(pooled.mean[0], 7.7, 0.05);
        assert_near(pooled.mean_covariance[(0, 0)].sqrt(), 4.1, 0.05);
        assert_rel(pooled.criterion, 54.702_381_457_570_94, 1e-12);
        for person in &pooled.persons {
            assert_near(person.mean[0], pooled.mean[0], 1e-12);
        }
    }
}

// Source: statsmodels 0.15.0 MixedLM, REML, best of five optimisers; standard errors by a dense restricted
//   likelihood, since statsmodels' add the variances' uncertainty. Script: pooling_reference.py. The two
//   agree to 1e-8 on everything else.
// Tolerance: 3e-8 for estimates (as far as the reference's optimiser went), 1e-12 relative for criteria.
mod repeated_measures {
    use super::*;

    fn fit(between: Between) -> RepeatedFit {
        let rows = rows(include_str!("data/repeated_measures.csv"));
        let people: Vec<RepeatedMeasures> = by_person(&rows, 0)
            .into_iter()
            .map(|(_, own)| {
                let design = DMatrix::from_fn(own.len(), 3, |row, column| {
                    if column == 0 { 1.0 } else { own[row][column] }
                });
                let response = DVector::from_fn(own.len(), |row, _| own[row][3]);
                RepeatedMeasures::new(&design, &response).unwrap()
            })
            .collect();
        fit_repeated(&people, &Structure { components: vec![Component::Varying; 3], between })
            .unwrap()
    }

    #[test]
    fn full_matches_statsmodels() {
        let fit = fit(Between::Full);
        assert_eq!(fit.search.verdict, Verdict::Converged);
        assert_rel(fit.criterion, 143.512_109_578_983_7, 1e-12);
        assert_near(fit.noise_variance, 0.130_855_551, 3e-8);
        assert_all_near(&fit.mean, &[5.090_802_259, -0.850_121_079, 0.410_476_700], 3e-8);
        assert_all_near(
            &standard_errors(&fit.mean_covariance),
            &[0.338_202_144, 0.123_834_306, 0.111_634_751],
            3e-8,
        );
        assert_spread(
            &fit.spread,
            [
                [1.521_292_56, 0.121_710_58, -0.226_104_17],
                [0.121_710_58, 0.147_008_77, 0.011_522_02],
                [-0.226_104_17, 0.011_522_02, 0.083_451_96],
            ],
            5e-8,
        );
    }

    #[test]
    fn full_person_effects_match_statsmodels() {
        let fit = fit(Between::Full);
        for (person, effects) in [
            (0, [-0.536_614_151, -0.473_150_373, -0.089_751_827]),
            (2, [-0.940_797_274, -0.166_591_272, 0.084_354_362]),
            (5, [1.501_195_496, 0.424_205_891, -0.155_526_413]),
        ] {
            assert_all_near(&(&fit.persons[person].mean - &fit.mean), &effects, 3e-8);
        }
    }

    #[test]
    fn uncorrelated_matches_statsmodels() {
        let fit = fit(Between::Diagonal);
        assert_eq!(fit.search.verdict, Verdict::Converged);
        assert_rel(fit.criterion, 147.489_302_954_026_5, 1e-12);
        assert_near(fit.noise_variance, 0.135_592_401, 3e-8);
        assert_all_near(&fit.mean, &[5.116_239_111, -0.827_684_214, 0.365_700_137], 3e-8);
        assert_all_near(
            &standard_errors(&fit.mean_covariance),
            &[0.321_112_691, 0.123_288_656, 0.112_309_192],
            3e-8,
        );
        assert_all_near(&fit.spread.diagonal(), &[1.367_255_97, 0.142_510_75, 0.078_596_24], 5e-8);
        for (person, effects) in [
            (0, [-0.579_935_883, -0.482_685_492, -0.091_989_069]),
            (2, [-0.844_827_011, -0.061_199_857, -0.056_966_268]),
        ] {
            assert_all_near(&(&fit.persons[person].mean - &fit.mean), &effects, 3e-8);
        }
    }
}

// Source: dense restricted likelihood of all components at once (pooling_reference.py), minimised by
//   SciPy's simplex. Components missing in 5 of 12 vectors. Both covariances lie on the boundary.
// Tolerance: criterion 1e-9 (what the simplex reached), estimates 1e-5.
mod vague_vectors {
    use super::*;

    fn fit(between: Between) -> Pooled {
        let rows = rows(include_str!("data/vague_vectors.csv"));
        let estimates: Vec<Estimate> = by_person(&rows, 0)
            .into_iter()
            .map(|(_, own)| {
                let known: Vec<usize> = own.iter().map(|row| row[1] as usize).collect();
                let mean = DVector::from_fn(own.len(), |row, _| own[row][2]);
                let covariance = DMatrix::from_fn(own.len(), own.len(), |row, column| {
                    own[row][3 + known[column]]
                });
                Estimate::of_components(3, &known, &mean, &covariance).unwrap()
            })
            .collect();
        let structure = Structure { components: vec![Component::Varying; 3], between };
        pool(&estimates, &structure, &Priors::default()).unwrap()
    }

    fn assert_persons(pooled: &Pooled, expected: [(usize, [f64; 3], [f64; 3]); 3]) {
        for (person, mean, errors) in expected {
            assert_all_near(&pooled.persons[person].mean, &mean, 1e-5);
            assert_all_near(&standard_errors(&pooled.persons[person].covariance), &errors, 1e-5);
        }
    }

    #[test]
    fn full_matches_dense() {
        let pooled = fit(Between::Full);
        assert_eq!(pooled.search.rank, 2);
        assert!(pooled.search.without_spread.is_empty());
        assert_eq!(pooled.search.verdict, Verdict::Converged);
        assert_near(pooled.criterion, 36.575_999_412_5, 1e-9);
        assert_all_near(&pooled.mean, &[0.162_338_252, -1.028_211_090, 1.922_519_291], 1e-5);
        assert_all_near(
            &standard_errors(&pooled.mean_covariance),
            &[0.226_017_898, 0.119_818_568, 0.142_550_599],
            1e-5,
        );
        assert_spread(
            &pooled.spread,
            [
                [0.259_016_1, -0.029_677_1, -0.096_405_1],
                [-0.029_677_1, 0.006_859_7, 0.010_543_8],
                [-0.096_405_1, 0.010_543_8, 0.035_954_6],
            ],
            1e-5,
        );
        assert_persons(
            &pooled,
            [
                (
                    0,
                    [0.340_349_79, -1.048_771_50, 1.856_287_73],
                    [0.358_182_1, 0.132_318_5, 0.173_999_6],
                ),
                (
                    8,
                    [0.402_811_89, -1.056_028_63, 1.833_054_07],
                    [0.388_608_3, 0.139_445_1, 0.184_282_2],
                ),
                (
                    11,
                    [0.128_471_97, -1.024_507_14, 1.935_149_82],
                    [0.537_213_4, 0.144_782_2, 0.226_636_5],
                ),
            ],
        );
    }

    #[test]
    fn diagonal_matches_dense() {
        let pooled = fit(Between::Diagonal);
        assert_eq!(pooled.search.verdict, Verdict::Converged);
        assert_eq!(pooled.search.without_spread, [2]);
        assert_near(pooled.criterion, 38.204_175_464_9, 1e-9);
        assert_all_near(&pooled.mean, &[0.147_661_255, -0.990_641_937, 1.949_689_312], 1e-5);
        assert_all_near(&pooled.spread.diagonal(), &[0.224_929_98, 0.025_804_92, 0.0], 1e-5);
        assert_persons(
            &pooled,
            [
                (
                    0,
                    [0.315_214_63, -1.000_156_75, 1.949_689_31],
                    [0.370_110_4, 0.192_504_3, 0.129_829_8],
                ),
                (
                    8,
                    [0.400_429_50, -0.990_641_94, 1.949_689_31],
                    [0.386_019_5, 0.207_421_4, 0.129_829_8],
                ),
                (
                    11,
                    [0.147_661_25, -0.990_641_94, 1.949_689_31],
                    [0.524_100_6, 0.207_421_4, 0.129_829_8],
                ),
            ],
        );
    }
}
