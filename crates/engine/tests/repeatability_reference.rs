//! Repeatability statistics against published worked examples, another implementation and properties.
//!
//! Worked examples: Shrout & Fleiss 1979, Weir 2005, Bland & Altman 1986. Their data and the figures
//! that they print are from memory; the data reproduce every printed figure. Longer digits come from
//! `reference/repeatability_reference.py` (pingouin 0.7.0, SciPy 1.17.1).

#[path = "../../domain/tests/support/properties.rs"]
mod properties;

use engine::repeatability::{
    Confidence, CoverageFactor, EarlierReadings, IntraclassCorrelation, MeanSquares, Reliability,
    RepeatabilityError, Trials, between_person_sd, chance_of_true_drop, coefficient_of_variation,
    drop_limit, intraclass_correlation, limits_of_agreement, minimal_detectable_change,
    new_reading_factor, repeatability_coefficient, sem_from_reliability,
    smallest_worthwhile_change, typical_error, typical_error_interval, within_person_sd,
};
use proptest::prelude::*;

const SHROUT_FLEISS: [[f64; 4]; 6] = [
    [9.0, 2.0, 5.0, 8.0],
    [6.0, 1.0, 3.0, 2.0],
    [8.0, 4.0, 6.0, 8.0],
    [7.0, 1.0, 2.0, 6.0],
    [10.0, 5.0, 6.0, 9.0],
    [6.0, 2.0, 4.0, 7.0],
];

const WEIR: [[f64; 8]; 2] = [
    [146.0, 148.0, 170.0, 90.0, 157.0, 156.0, 176.0, 205.0],
    [140.0, 152.0, 152.0, 99.0, 145.0, 153.0, 167.0, 218.0],
];

const LARGE: [[f64; 17]; 2] = [
    [
        494.0, 395.0, 516.0, 434.0, 476.0, 557.0, 413.0, 442.0, 650.0, 433.0, 417.0, 656.0, 267.0,
        478.0, 178.0, 423.0, 427.0,
    ],
    [
        490.0, 397.0, 512.0, 401.0, 470.0, 611.0, 415.0, 431.0, 638.0, 429.0, 420.0, 633.0, 275.0,
        492.0, 165.0, 372.0, 421.0,
    ],
];

const MINI: [[f64; 17]; 2] = [
    [
        512.0, 430.0, 520.0, 428.0, 500.0, 600.0, 364.0, 380.0, 658.0, 445.0, 432.0, 626.0, 260.0,
        477.0, 259.0, 350.0, 451.0,
    ],
    [
        525.0, 415.0, 508.0, 444.0, 500.0, 625.0, 460.0, 390.0, 642.0, 432.0, 420.0, 605.0, 227.0,
        467.0, 268.0, 370.0, 443.0,
    ],
];

fn pairs<const N: usize>(first: &[f64; N], second: &[f64; N]) -> Trials {
    let rows: Vec<[f64; 2]> = first.iter().zip(second).map(|(x, y)| [*x, *y]).collect();
    Trials::from_rows(&rows).expect("a complete table with an interval")
}

fn shrout_fleiss() -> Trials {
    Trials::from_rows(&SHROUT_FLEISS).expect("a complete table with an interval")
}

fn weir() -> Trials {
    pairs(&WEIR[0], &WEIR[1])
}

/// Half a unit of the last printed digit, with a little room for the binary form of the print.
#[track_caller]
fn assert_printed(got: f64, printed: f64, decimals: i32) {
    let half_unit = 0.5 * 10f64.powi(-decimals);
    assert!((got - printed).abs() <= half_unit * (1.0 + 1e-6), "got {got}, printed {printed}");
}

#[track_caller]
fn assert_rel(got: f64, expected: f64, tolerance: f64) {
    let gap = ((got - expected) / expected).abs();
    assert!(gap <= tolerance, "got {got}, expected {expected}, gap {gap:e}");
}

/// The six forms in pingouin's order.
fn forms(icc: &IntraclassCorrelation) -> [Reliability; 6] {
    let IntraclassCorrelation { one_single, two_single, three_single, .. } = *icc;
    let two_average = icc.two_average.expect("a complete table with an interval");
    [one_single, two_single, three_single, icc.one_average, two_average, icc.three_average]
}

#[track_caller]
fn assert_icc(trials: &Trials, expected: [(f64, f64, f64); 6]) {
    let icc = intraclass_correlation(trials, Confidence::NINETY_FIVE)
        .expect("a complete table with an interval");
    for (got, (value, lower, upper)) in forms(&icc).into_iter().zip(expected) {
        // 12 decimals were printed; gaps seen are below 1e-12.
        assert_printed(got.value, value, 11);
        let interval = got.interval.expect("a complete table with an interval");
        assert_printed(interval.lower, lower, 11);
        assert_printed(interval.upper, upper, 11);
    }
}

mod worked_examples {
    use super::*;

    // Mean squares of Shrout & Fleiss 1979 to the digits worked directly.
    #[test]
    fn shrout_fleiss_mean_squares() {
        let squares = MeanSquares::of(&shrout_fleiss());
        assert_printed(squares.between_people, 11.241_667, 6);
        assert_printed(squares.within_people, 6.263_889, 6);
        assert_printed(squares.between_trials, 32.486_111, 6);
        assert_printed(squares.error, 1.019_444, 6);
    }

    // Published to two digits (from memory), computed to six, intervals by pingouin to two.
    #[test]
    fn shrout_fleiss_six_forms() {
        let icc = intraclass_correlation(&shrout_fleiss(), Confidence::NINETY_FIVE).unwrap();
        let printed = [
            (0.17, 0.165_742, -0.13, 0.72),
            (0.29, 0.289_764, 0.02, 0.76),
            (0.71, 0.714_841, 0.34, 0.95),
            (0.44, 0.442_797, -0.88, 0.91),
            (0.62, 0.620_051, 0.07, 0.93),
            (0.91, 0.909_316, 0.68, 0.99),
        ];
        for (got, (published, computed, lower, upper)) in forms(&icc).into_iter().zip(printed) {
            assert_printed(got.value, published, 2);
            assert_printed(got.value, computed, 6);
            assert_printed(got.interval.unwrap().lower, lower, 2);
            assert_printed(got.interval.unwrap().upper, upper, 2);
        }
    }

    // pingouin 0.7.0, unrounded (repeatability_reference.py).
    #[test]
    fn six_forms_and_intervals_match_pingouin() {
        assert_icc(
            &shrout_fleiss(),
            [
                (0.165_741_768_405, -0.132_932_324_875, 0.722_560_062_328),
                (0.289_763_779_528, 0.018_786_513_375, 0.761_084_369_649),
                (0.714_840_714_841, 0.342_464_765_034, 0.945_858_259_955),
                (0.442_797_133_679, -0.884_442_155_238, 0.912_415_420_341),
                (0.620_050_547_599, 0.071_136_815_303, 0.927_232_040_168),
                (0.909_315_542_377, 0.675_674_713_816, 0.985_891_678_169),
            ],
        );
        assert_icc(
            &weir(),
            [
                (0.950_053_099_695, 0.792_129_944_305, 0.989_598_644_418),
                (0.949_975_070_633, 0.786_958_514_439, 0.989_636_891_440),
                (0.947_016_137_049, 0.760_678_494_208, 0.989_162_807_231),
                (0.974_386_902_432, 0.884_009_495_877, 0.994_772_133_761),
                (0.974_345_862_098, 0.880_779_836_891, 0.994_791_457_374),
                (0.972_787_147_501, 0.864_074_272_175, 0.994_551_882_466),
            ],
        );
        assert_icc(
            &pairs(&MINI[0], &MINI[1]),
            [
                (0.968_496_276_550, 0.917_253_409_525, 0.988_377_674_667),
                (0.968_470_765_459, 0.915_783_643_522, 0.988_441_060_080),
                (0.966_904_804_789, 0.911_200_456_031, 0.987_887_036_232),
                (0.983_996_046_208, 0.956_841_077_938, 0.994_154_870_334),
                (0.983_982_878_946, 0.956_040_779_050, 0.994_186_933_597),
                (0.983_173_972_055, 0.953_537_294_485, 0.993_906_613_632),
            ],
        );
    }

    #[test]
    fn weir_table() {
        let trials = weir();
        assert_eq!(trials.trial_means(), [156.00, 153.25]);
        for (column, printed) in WEIR.iter().zip([32.772, 32.888]) {
            let mean = column.iter().sum::<f64>() / 8.0;
            let sd = (column.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 7.0).sqrt();
            assert_printed(sd, printed, 3);
        }
        let squares = MeanSquares::of(&trials);
        assert_rel(squares.between_people * 7.0, 14_689.75, 1e-12);
        assert_rel(squares.within_people * 8.0, 430.00, 1e-12);
        assert_rel(squares.between_trials, 30.25, 1e-12);
        assert_rel(squares.error * 7.0, 399.75, 1e-12);
        assert_printed(squares.between_people, 2098.536, 3);
        assert_printed(squares.within_people, 53.750, 3);
        assert_printed(squares.between_trials, 30.250, 3);
        assert_printed(squares.error, 57.107, 3);
        let icc = intraclass_correlation(&trials, Confidence::NINETY_FIVE).unwrap();
        assert_printed(icc.one_single.value, 0.950_053, 6);
        assert_printed(icc.two_single.value, 0.949_975, 6);
        assert_printed(icc.three_single.value, 0.947_016, 6);
    }

    #[test]
    fn weir_typical_error() {
        let trials = weir();
        let error = typical_error(&trials);
        assert_printed(error, 7.556_927, 6);
        let differences = WEIR[0].iter().zip(&WEIR[1]).map(|(x, y)| x - y);
        let mean = differences.clone().sum::<f64>() / 8.0;
        let sd = (differences.map(|d| (d - mean).powi(2)).sum::<f64>() / 7.0).sqrt();
        assert_rel(error, sd / 2f64.sqrt(), 1e-14);
        let change = minimal_detectable_change(error, CoverageFactor::ROUNDED_95).unwrap();
        assert_printed(change, 20.946_732, 6);
        assert_printed(coefficient_of_variation(&trials).unwrap(), 5.161_627, 6);
    }

    // Chi-square quantiles of SciPy (repeatability_reference.py). Tolerance: statrs finds the quantile
    // by bisection; largest gap seen 1.2e-11.
    #[test]
    fn typical_error_intervals_match_scipy() {
        for (trials, lower, upper) in [
            (shrout_fleiss(), 0.745_852_134_100, 1.562_665_778_192),
            (weir(), 4.996_444_653_371, 15.380_402_234_581),
            (pairs(&LARGE[0], &LARGE[1]), 11.440_569_237_748, 23.378_677_079_473),
            (pairs(&MINI[0], &MINI[1]), 15.205_076_730_712, 31.071_406_629_229),
        ] {
            let got = typical_error_interval(&trials, Confidence::NINETY_FIVE);
            assert_rel(got.lower, lower, 1e-10);
            assert_rel(got.upper, upper, 1e-10);
        }
    }

    // First readings, large less mini, of Bland & Altman 1986.
    #[test]
    fn bland_altman_limits_of_two_sd() {
        let got = limits_of_agreement(
            &pairs(&LARGE[0], &MINI[0]),
            CoverageFactor::TWO,
            Confidence::NINETY_FIVE,
        )
        .unwrap();
        assert_printed(got.bias, -2.1, 1);
        assert_printed(got.bias, -2.117_647, 6);
        assert_printed(got.sd, 38.8, 1);
        assert_printed(got.sd, 38.765_130, 6);
        assert_printed(got.limits.lower, -79.6479, 4);
        assert_printed(got.limits.upper, 75.4126, 4);
        // The paper computes its limits from the rounded -2.1 and 38.8.
        assert_printed(-2.1 - 2.0 * 38.8, -79.7, 1);
        assert!((got.limits.lower - -79.7).abs() < 0.1 && (got.limits.upper - 75.5).abs() < 0.1);
        assert_printed(got.correlation.unwrap(), 0.94, 2);
        assert_printed(got.correlation.unwrap(), 0.943_279, 6);
        assert_printed(got.bias_standard_error, 9.4, 1);
        assert_printed(got.bias_standard_error, 9.401_925, 6);
        assert_printed(got.limit_standard_error, 16.3, 1);
        assert_printed(got.limit_standard_error, 16.284_612, 6);
        assert_printed(got.bias_interval.lower, -22.0488, 4);
        assert_printed(got.bias_interval.upper, 17.8135, 4);
        assert_printed(got.bias_interval.lower, -22.0, 1);
        assert_printed(got.bias_interval.upper, 17.8, 1);
        let t = (got.bias_interval.upper - got.bias) / got.bias_standard_error;
        assert_printed(t, 2.12, 2);
        assert_printed(t, 2.119_905, 6);
    }

    #[test]
    fn bland_altman_limits_of_196_sd() {
        let trials = pairs(&LARGE[0], &MINI[0]);
        let rounded = CoverageFactor::ROUNDED_95;
        let got = limits_of_agreement(&trials, rounded, Confidence::NINETY_FIVE).unwrap();
        assert_printed(got.limits.lower, -78.0973, 4);
        assert_printed(got.limits.upper, 73.8620, 4);
        // Intervals of the limits: repeatability_reference.py (SciPy t quantile).
        assert_printed(got.lower_limit_interval.lower, -112.619_136_451, 9);
        assert_printed(got.lower_limit_interval.upper, -43.575_466_771, 9);
        assert_printed(got.upper_limit_interval.lower, 39.340_172_653, 9);
        assert_printed(got.upper_limit_interval.upper, 108.383_842_333, 9);
    }

    #[test]
    fn bland_altman_replicates() {
        struct Meter {
            trials: Trials,
            published: f64,
            coefficient: f64,
            within: f64,
            error: f64,
            cv: f64,
            icc: [f64; 3],
        }
        let meters = [
            Meter {
                trials: pairs(&LARGE[0], &LARGE[1]),
                published: 43.2,
                coefficient: 43.2938,
                within: 15.3067,
                error: 15.3612,
                cv: 3.5118,
                icc: [0.983_165, 0.983_164, 0.983_046],
            },
            Meter {
                trials: pairs(&MINI[0], &MINI[1]),
                published: 56.4,
                coefficient: 56.3163,
                within: 19.9108,
                error: 20.4158,
                cv: 5.3585,
                icc: [0.968_496, 0.968_471, 0.966_905],
            },
        ];
        for meter in meters {
            let coefficient = repeatability_coefficient(&meter.trials, CoverageFactor::TWO);
            assert_printed(coefficient, meter.coefficient, 4);
            // The paper rounds on the way: 2·21.6 and 2·28.2.
            assert!((coefficient - meter.published).abs() < 0.1);
            assert_printed(within_person_sd(&meter.trials), meter.within, 4);
            assert_printed(typical_error(&meter.trials), meter.error, 4);
            assert_printed(coefficient_of_variation(&meter.trials).unwrap(), meter.cv, 4);
            let icc = intraclass_correlation(&meter.trials, Confidence::NINETY_FIVE).unwrap();
            for (got, printed) in forms(&icc).into_iter().zip(meter.icc) {
                assert_printed(got.value, printed, 6);
            }
        }
    }

    // SEM = SD·√(1 − ICC) (Weir 2005, from memory): with ICC(1,1) and the total variance it is √WMS.
    #[test]
    fn sem_from_published_figures() {
        let squares = MeanSquares::of(&weir());
        let total_sd = ((squares.between_people + squares.within_people) / 2.0).sqrt();
        let icc = intraclass_correlation(&weir(), Confidence::NINETY_FIVE).unwrap();
        let sem = sem_from_reliability(total_sd, icc.one_single.value).unwrap();
        assert_rel(sem, within_person_sd(&weir()), 1e-13);
        assert_rel(sem_from_reliability(10.0, 0.91).unwrap(), 3.0, 1e-14);
    }

    // 0.2 of the SD of the eight people's means: √(BMS/2) = 32.39240…
    #[test]
    fn smallest_worthwhile_change_is_a_fifth() {
        let people: Vec<f64> = WEIR[0].iter().zip(&WEIR[1]).map(|(x, y)| (x + y) / 2.0).collect();
        let mean = people.iter().sum::<f64>() / 8.0;
        let sd = (people.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 7.0).sqrt();
        assert_rel(between_person_sd(&weir()), sd, 1e-14);
        assert_rel(smallest_worthwhile_change(sd).unwrap(), sd / 5.0, 1e-14);
    }
}

mod thresholds {
    use super::*;

    fn earlier(count: u32) -> EarlierReadings {
        EarlierReadings::new(count).expect("a count in range")
    }

    // 2.772·CV; Weir 2005's formula, from memory.
    #[test]
    fn detectable_change_in_percent() {
        let factor = CoverageFactor::two_sided(Confidence::NINETY_FIVE);
        for (cv, printed, decimals) in [
            (1.0, 2.772, 3),
            (2.1, 5.82, 2),
            (3.0, 8.32, 2),
            (4.2, 11.64, 2),
            (5.0, 13.86, 2),
            (12.1, 33.5, 1),
        ] {
            assert_printed(minimal_detectable_change(cv, factor).unwrap(), printed, decimals);
        }
        assert_printed(factor.value(), 1.959_964, 6);
    }

    // From the SEMs of Mitter 2022 (0.7 and 1.1 repetitions).
    #[test]
    fn detectable_change_in_repetitions() {
        for (sem, printed) in [(0.7, 1.94), (1.1, 3.05)] {
            let change = minimal_detectable_change(sem, CoverageFactor::ROUNDED_95).unwrap();
            assert_printed(change, printed, 2);
        }
    }

    #[test]
    fn factor_of_a_new_reading() {
        for (count, printed) in
            [(1, std::f64::consts::SQRT_2), (3, 1.1547), (6, 1.0801), (12, 1.0408)]
        {
            assert_printed(new_reading_factor(earlier(count)), printed, 4);
        }
    }

    // Normal quantiles, worked with SciPy.
    #[test]
    fn drop_limits_one_sided() {
        for (error, at_five, at_ten) in
            [(2.1, 3.73, 2.91), (2.5, 4.44, 3.46), (3.0, 5.33, 4.15), (4.2, 7.46, 5.81)]
        {
            let five = drop_limit(error, earlier(6), Confidence::NINETY_FIVE).unwrap();
            assert_printed(five, at_five, 2);
            let ten = drop_limit(error, earlier(6), Confidence::NINETY).unwrap();
            assert_printed(ten, at_ten, 2);
        }
    }

    #[test]
    fn chance_that_a_drop_is_true() {
        for (error, drop, printed) in [(2.5, 5.0, 0.8711), (4.2, 5.0, 0.7497), (2.1, 3.0, 0.7497)] {
            let chance = chance_of_true_drop(error, earlier(1), drop, 1.0).unwrap();
            assert_printed(chance, printed, 4);
        }
        assert_rel(chance_of_true_drop(2.0, earlier(4), 3.0, 3.0).unwrap(), 0.5, 1e-12);
    }

    // A drop at the one-sided limit leaves exactly that chance of any drop at all.
    #[test]
    fn limit_and_chance_are_inverse() {
        let limit = drop_limit(2.5, earlier(6), Confidence::NINETY).unwrap();
        assert_rel(chance_of_true_drop(2.5, earlier(6), limit, 0.0).unwrap(), 0.90, 1e-10);
    }

    #[test]
    fn bounds() {
        for bad in [f64::NAN, f64::INFINITY, -0.1, 0.499, 0.999_91, 95.0] {
            assert!(Confidence::new(bad).is_err(), "{bad}");
        }
        assert_eq!(Confidence::new(0.95), Ok(Confidence::NINETY_FIVE));
        assert!(Confidence::new(0.5).is_ok() && Confidence::new(0.9999).is_ok());
        assert!(EarlierReadings::new(0).is_err() && EarlierReadings::new(10_001).is_err());
        assert_eq!(earlier(10_000).get(), EarlierReadings::MAX);
        assert_eq!(
            Confidence::new(95.0).unwrap_err().to_string(),
            "confidence `95` is out of range: it must be a share from 0.5 to 0.9999, such as 0.95"
        );
        for bad in [f64::NAN, f64::INFINITY, -1.0, 1e300] {
            let factor = CoverageFactor::TWO;
            assert!(minimal_detectable_change(bad, factor).is_err(), "{bad}");
            assert!(drop_limit(bad, earlier(1), Confidence::NINETY).is_err(), "{bad}");
            assert!(chance_of_true_drop(bad, earlier(1), 5.0, 1.0).is_err(), "{bad}");
            assert!(smallest_worthwhile_change(bad).is_err(), "{bad}");
            assert!(sem_from_reliability(bad, 0.9).is_err(), "{bad}");
        }
        assert!(chance_of_true_drop(0.0, earlier(1), 5.0, 1.0).is_err());
        assert!(chance_of_true_drop(2.0, earlier(1), f64::NAN, 1.0).is_err());
        assert!(chance_of_true_drop(2.0, earlier(1), 5.0, f64::INFINITY).is_err());
        assert!(sem_from_reliability(1.0, 1.01).is_err());
        assert!(sem_from_reliability(1.0, f64::NAN).is_err());
    }
}

mod hostile_tables {
    use super::*;

    #[test]
    fn empty_and_one_point() {
        let none: [[f64; 2]; 0] = [];
        for (refused, what, got) in [
            (Trials::from_rows(&none), "people", 0),
            (Trials::from_rows(&[[1.0, 2.0]]), "people", 1),
            (Trials::from_rows(&[[1.0], [2.0]]), "trials", 1),
            (Trials::from_rows(&[vec![], vec![]]), "trials", 0),
        ] {
            assert_eq!(refused, Err(RepeatabilityError::TooFew { what, got, need: 2 }));
        }
    }

    #[test]
    fn gaps_are_named() {
        let refused = Trials::from_rows(&[vec![1.0, 2.0], vec![3.0]]).unwrap_err();
        assert_eq!(refused, RepeatabilityError::Ragged { person: 2, got: 1, need: 2 });
        assert_eq!(
            refused.to_string(),
            "person 2 has `1` trials, but person 1 has 2: fill in the missing ones or leave the person out"
        );
    }

    #[test]
    fn nan_infinity_and_huge_values_are_named() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1.1e9] {
            let refused = Trials::from_rows(&[[1.0, 2.0], [3.0, bad]]).unwrap_err();
            assert!(
                matches!(refused, RepeatabilityError::Value { person: 2, trial: 2, .. }),
                "{refused}"
            );
        }
        assert!(Trials::from_rows(&[[1.0, 2.0], [3.0, Trials::MAX]]).is_ok());
    }

    #[test]
    fn constant_table() {
        // 0.1 isn't a binary fraction: rounding must not pass for variation.
        let trials = Trials::from_rows(&[[0.1, 0.1, 0.1], [0.1, 0.1, 0.1]]).unwrap();
        assert_eq!(typical_error(&trials), 0.0);
        assert_eq!(within_person_sd(&trials), 0.0);
        assert_eq!(coefficient_of_variation(&trials), Ok(0.0));
        assert!(matches!(
            intraclass_correlation(&trials, Confidence::NINETY_FIVE),
            Err(RepeatabilityError::PeopleAlike { .. })
        ));
        let pair = Trials::from_rows(&[[0.1, 0.1], [0.1, 0.1], [0.1, 0.1]]).unwrap();
        let got = limits_of_agreement(&pair, CoverageFactor::TWO, Confidence::NINETY_FIVE).unwrap();
        assert_eq!((got.bias, got.sd, got.correlation), (0.0, 0.0, None));
    }

    #[test]
    fn perfect_repeats() {
        let trials = Trials::from_rows(&[[1.1, 1.1], [2.3, 2.3], [3.7, 3.7]]).unwrap();
        let icc = intraclass_correlation(&trials, Confidence::NINETY_FIVE).unwrap();
        for form in forms(&icc) {
            assert_eq!(form.value, 1.0);
            let interval = form.interval.unwrap();
            assert_eq!((interval.lower, interval.upper), (1.0, 1.0));
        }
    }

    // Two people, two trials: F with 1 and 1 degrees of freedom has the quantile tan²(πp/2). BMS 10.5625,
    // EMS 0.5625 by hand. The smallest table at every confidence: statrs neither panics nor hangs.
    #[test]
    fn smallest_table() {
        let trials = Trials::from_rows(&[[1.0, 2.0], [5.0, 4.5]]).unwrap();
        for share in [0.5, 0.9, 0.95, 0.9999] {
            let icc = intraclass_correlation(&trials, Confidence::new(share).unwrap()).unwrap();
            let f = (std::f64::consts::PI * (1.0 + share) / 4.0).tan().powi(2);
            let interval = icc.three_single.interval.unwrap();
            let form = |noise: f64| (10.5625 - noise) / (10.5625 + noise);
            assert_rel(icc.three_single.value, form(0.5625), 1e-13);
            assert_rel(interval.lower, form(0.5625 * f), 1e-9);
            assert_rel(interval.upper, form(0.5625 / f), 1e-9);
            assert!(typical_error_interval(&trials, Confidence::new(share).unwrap()).lower > 0.0);
        }
    }

    #[test]
    fn many_people() {
        let rows: Vec<[f64; 2]> =
            (0..20_000).map(|i| [f64::from(i % 97), f64::from((i % 97) + (i % 5))]).collect();
        let trials = Trials::from_rows(&rows).unwrap();
        let icc = intraclass_correlation(&trials, Confidence::NINETY_FIVE).unwrap();
        for form in forms(&icc) {
            let interval = form.interval.unwrap();
            assert!(interval.lower <= form.value && form.value <= interval.upper);
        }
        // Differences 0 to 4, each as often: SD √2, typical error 1.
        assert_rel(typical_error(&trials), 1.0, 1e-4);
        let narrow = typical_error_interval(&trials, Confidence::NINETY_FIVE);
        assert!(narrow.upper - narrow.lower < 0.03);
    }

    // A shift between trials and nothing else: forms 3 don't see it, forms 2 do.
    #[test]
    fn a_pure_shift() {
        let trials = Trials::from_rows(&[[1.0, 2.0], [2.0, 3.0], [3.0, 4.0]]).unwrap();
        let icc = intraclass_correlation(&trials, Confidence::NINETY_FIVE).unwrap();
        assert_eq!(icc.three_single.value, 1.0);
        // BMS 2, JMS 1.5, EMS 0: 2/(2 + 2·1.5/3).
        assert_rel(icc.two_single.value, 2.0 / 3.0, 1e-14);
        assert!(icc.two_single.interval.unwrap().lower < 2.0 / 3.0);
        assert_eq!(typical_error(&trials), 0.0);
    }

    // People all but alike and errors large: 2,1 falls far below −1 and 2,k has no denominator.
    #[test]
    fn error_that_drowns_everything() {
        let trials = Trials::from_rows(&[[0.0, 10.0], [10.0, 0.001]]).unwrap();
        let icc = intraclass_correlation(&trials, Confidence::NINETY_FIVE).unwrap();
        assert!(icc.two_single.value < -1.0);
        assert_eq!(icc.two_average, None);
        assert!(icc.one_single.value >= -1.0 && icc.three_single.value >= -1.0);
    }

    #[test]
    fn logarithms_need_positive_values() {
        let trials = Trials::from_rows(&[[1.0, 2.0], [0.0, 3.0]]).unwrap();
        assert_eq!(
            coefficient_of_variation(&trials),
            Err(RepeatabilityError::NotAboveZero { person: 2, trial: 1, got: 0.0 })
        );
    }

    #[test]
    fn agreement_needs_two_trials() {
        let got =
            limits_of_agreement(&shrout_fleiss(), CoverageFactor::TWO, Confidence::NINETY_FIVE);
        assert_eq!(got, Err(RepeatabilityError::NotAPair { got: 4 }));
    }
}

mod relations {
    use super::*;

    fn table() -> impl Strategy<Value = Vec<Vec<f64>>> {
        (2usize..8, 2usize..5).prop_flat_map(|(n, k)| {
            prop::collection::vec(prop::collection::vec(50.0..150.0f64, k), n)
        })
    }

    fn mapped(rows: &[Vec<f64>], change: impl Fn(f64) -> f64) -> Trials {
        let rows: Vec<Vec<f64>> =
            rows.iter().map(|row| row.iter().map(|x| change(*x)).collect()).collect();
        Trials::from_rows(&rows).expect("values in range")
    }

    proptest! {
        #![proptest_config(crate::properties::config(256))]

        // Tolerance: values of 1e3 with spreads of 30 lose two digits in the mean squares, and the
        // coefficient's own size scales what is left.
        #[test]
        fn icc_keeps_under_shift_and_scale(rows in table(), shift in -900.0..900.0f64, scale in 0.1..9.0f64) {
            let plain = intraclass_correlation(&mapped(&rows, |x| x), Confidence::NINETY).unwrap();
            let moved = mapped(&rows, |x| scale * (x + shift));
            let moved = intraclass_correlation(&moved, Confidence::NINETY).unwrap();
            for (a, b) in [
                (plain.one_single, moved.one_single),
                (plain.three_single, moved.three_single),
                (plain.two_single, moved.two_single),
            ] {
                prop_assert!((a.value - b.value).abs() <= 1e-6 * (1.0 + a.value.abs()).powi(2));
            }
        }

        // Forms 3 also ignore a shift of one whole trial, and so does the typical error.
        #[test]
        fn a_shifted_trial_leaves_the_error_alone(rows in table(), shift in -90.0..90.0f64) {
            let mut moved = rows.clone();
            for row in &mut moved {
                row[0] += shift;
            }
            let (plain, moved) = (mapped(&rows, |x| x), mapped(&moved, |x| x));
            assert_rel(typical_error(&moved), typical_error(&plain), 1e-9);
        }

        #[test]
        fn typical_error_scales(rows in table(), scale in 0.1..9.0f64) {
            let (plain, scaled) = (mapped(&rows, |x| x), mapped(&rows, |x| scale * x));
            assert_rel(typical_error(&scaled), scale * typical_error(&plain), 1e-9);
            let (cv, scaled_cv) =
                (coefficient_of_variation(&plain).unwrap(), coefficient_of_variation(&scaled).unwrap());
            assert_rel(scaled_cv, cv, 1e-9);
        }

        // The parts of the variation add up to the whole, computed without the table's structure.
        #[test]
        fn sums_of_squares_add_up(rows in table()) {
            let squares = MeanSquares::of(&mapped(&rows, |x| x));
            let (n, k) = (rows.len() as f64, rows[0].len() as f64);
            let values: Vec<f64> = rows.concat();
            let mean = values.iter().sum::<f64>() / (n * k);
            let total: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
            let parts = squares.between_people * (n - 1.0)
                + squares.between_trials * (k - 1.0)
                + squares.error * (n - 1.0) * (k - 1.0);
            assert_rel(parts, total, 1e-10);
            assert_rel(
                squares.between_people * (n - 1.0) + squares.within_people * n * (k - 1.0),
                total,
                1e-10,
            );
        }

        #[test]
        fn intervals_hold_their_value_and_nothing_panics(rows in table()) {
            let trials = mapped(&rows, |x| x);
            let icc = intraclass_correlation(&trials, Confidence::NINETY_FIVE).unwrap();
            for form in [icc.one_single, icc.three_single, icc.one_average, icc.three_average] {
                let interval = form.interval.unwrap();
                prop_assert!(interval.lower <= form.value && form.value <= interval.upper);
                prop_assert!(form.value <= 1.0);
            }
            if let Some(interval) = icc.two_single.interval {
                prop_assert!(interval.lower <= interval.upper && interval.upper <= 1.0);
            }
            let error = typical_error(&trials);
            let interval = typical_error_interval(&trials, Confidence::NINETY_FIVE);
            prop_assert!(interval.lower <= error && error <= interval.upper);
        }
    }
}
