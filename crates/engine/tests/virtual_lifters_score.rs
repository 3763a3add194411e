//! Measures of probabilities and forecasts against another implementation and against their rules.
//!
//! Reference values: scikit-learn 1.9.1 with numpy 2.4.6, script `reference/score_reference.py`; the
//! scores are invented. Convention: where scikit-learn gives corners, false cuts lie on the straight
//! line between them. Tolerance 1e-12: sums of a few dozen numbers, in another order.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use engine::virtual_lifters::score::{
    Forecast, Said, area_under_curve, bootstrap_90, coverage_80, expected_calibration_error,
    false_cuts_at, rates, reliability,
};

const P: [f64; 20] = [
    0.05, 0.1, 0.1, 0.2, 0.2, 0.2, 0.35, 0.35, 0.4, 0.55, 0.55, 0.6, 0.75, 0.8, 0.8, 0.95, 0.15,
    0.25, 0.45, 0.65,
];
const HAPPENED: [u8; 20] = [0, 0, 1, 0, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 0, 1, 0];
const OUTCOMES: [u8; 40] = [
    1, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 1, 0, 1, 0, 0, 1, 0, 1, 1, 0, 1, 1, 0, 1, 0, 1, 1, 0, 1, 1, 1,
    1, 1, 1, 1, 0, 1, 1, 1,
];

fn said(p: &[f64], happened: &[u8]) -> Vec<Said> {
    p.iter().zip(happened).map(|(p, yes)| Said { p: *p, happened: *yes == 1 }).collect()
}

fn close(got: f64, want: f64) {
    assert!((got - want).abs() < 1e-12, "{got} against {want}");
}

#[test]
fn area_and_false_cuts_match_scikit_learn_with_ties() {
    let said = said(&P, &HAPPENED);
    close(area_under_curve(&said).unwrap(), 0.712_121_212_121_212);
    close(false_cuts_at(&said, 0.3).unwrap(), 0.0);
    close(false_cuts_at(&said, 0.5).unwrap(), 0.227_272_727_272_727_27);
    close(false_cuts_at(&said, 0.62).unwrap(), 0.272_727_272_727_272_7);
    close(false_cuts_at(&said, 0.9).unwrap(), 0.827_272_727_272_727_4);
    close(false_cuts_at(&said, 1.0).unwrap(), 0.909_090_909_090_909_1);
}

#[test]
fn the_reliability_table_matches_scikit_learn() {
    let rows = reliability(&said(&P, &HAPPENED));
    let want = [
        (0.05, 0.0),
        (0.116_666_666_666_666_67, 1.0 / 3.0),
        (0.2125, 0.25),
        (0.35, 0.5),
        (0.425, 0.5),
        (0.55, 0.5),
        (0.625, 0.5),
        (0.75, 0.0),
        (0.8, 1.0),
        (0.95, 1.0),
    ];
    assert_eq!(rows.len(), want.len());
    for (row, (said, happened)) in rows.iter().zip(want) {
        close(row.said, said);
        close(row.happened, happened);
    }
    assert_eq!(rows.iter().map(|row| row.n).sum::<usize>(), 20);
}

#[test]
fn the_calibration_error_matches_scikit_learn() {
    let p: Vec<f64> = (1..=40).map(|k| f64::from(k) / 41.0).collect();
    close(expected_calibration_error(&said(&p, &OUTCOMES)).unwrap(), 0.15);
}

#[test]
fn order_and_scale_of_scores_do_not_matter_to_the_area() {
    let one = said(&P, &HAPPENED);
    let mut other: Vec<Said> =
        one.iter().map(|s| Said { p: 3.0 * s.p.exp() - 7.0, ..*s }).collect();
    other.reverse();
    assert_eq!(area_under_curve(&one), area_under_curve(&other));
    let upside_down: Vec<Said> = one.iter().map(|s| Said { p: -s.p, ..*s }).collect();
    close(area_under_curve(&one).unwrap() + area_under_curve(&upside_down).unwrap(), 1.0);
    let mut shuffled = one.clone();
    shuffled.rotate_left(7);
    assert_eq!(expected_calibration_error(&one), expected_calibration_error(&shuffled));
}

#[test]
fn what_cannot_be_measured_is_not() {
    let all_short = [Said { p: 0.4, happened: true }; 3];
    for nothing in [&[][..], &all_short] {
        assert_eq!(area_under_curve(nothing), None);
        assert_eq!(false_cuts_at(nothing, 0.5), None);
    }
    let no_number = [Said { p: f64::NAN, happened: true }, Said { p: 0.2, happened: false }];
    assert_eq!(area_under_curve(&no_number), None);
    assert_eq!(expected_calibration_error(&[]), None);
    assert_eq!(coverage_80(&[]), None);
    assert_eq!(rates(&[(true, true)]), None);
    assert_eq!(bootstrap_90::<Said>(&[], 1, 50, area_under_curve), None);
    assert_eq!(bootstrap_90(&[all_short.to_vec()], 1, 50, area_under_curve), None);
    let same = [Said { p: 0.5, happened: true }, Said { p: 0.5, happened: false }];
    assert_eq!(area_under_curve(&same), Some(0.5));
    assert_eq!(expected_calibration_error(&same), Some(0.0));
}

#[test]
fn rates_and_coverage_count() {
    let calls =
        [(true, true), (false, true), (true, false), (false, false), (false, false), (true, true)];
    let rates = rates(&calls).unwrap();
    close(rates.caught, 2.0 / 3.0);
    close(rates.false_cuts, 1.0 / 3.0);
    // Standard normal table: the middle 80 % ends at 1.2816.
    let at = |seen: f64| Forecast::normal(10.0, 2.0, seen);
    let forecasts = [at(10.0), at(12.56), at(12.57), at(7.44), at(7.43)];
    close(coverage_80(&forecasts).unwrap(), 3.0 / 5.0);
}

/// The bootstrap of a mean has the spread of a mean: sd/√n, and 90 % within 1.645 of it.
#[test]
fn the_bootstrap_draws_whole_lifters() {
    let lifters: Vec<Vec<f64>> = (0..200).map(|k| vec![f64::from(k % 10); 5]).collect();
    let mean = |some: &[f64]| Some(some.iter().sum::<f64>() / some.len() as f64);
    let (low, high) = bootstrap_90(&lifters, 3, 2_000, mean).unwrap();
    let half = 1.645 * (8.25_f64 / 200.0).sqrt(); // the variance of 0 to 9 is 8.25
    assert!(
        (low - (4.5 - half)).abs() < 0.04 && (high - (4.5 + half)).abs() < 0.04,
        "{low} {high}"
    );
    assert_eq!(bootstrap_90(&lifters, 3, 2_000, mean), Some((low, high)));
}
