//! Charts keep their promises for any view: numbers are numbers and on the paper, text is escaped,
//! each call has its own shape, and time away shows.

use bellwether::chart::{self, Size, Svg};
use domain::Unit;
use proptest::prelude::*;
use service::view::{CallWord, Interval, LiftView, MuscleDay, PointView};

use crate::fixture;

/// Every number in a quoted attribute that holds coordinates.
fn coordinates(svg: &str) -> Vec<f64> {
    let names = [
        " x=\"",
        " y=\"",
        " x1=\"",
        " x2=\"",
        " y1=\"",
        " y2=\"",
        " cx=\"",
        " cy=\"",
        " d=\"",
        " width=\"",
    ];
    names
        .iter()
        .flat_map(|name| svg.split(name).skip(1))
        .filter_map(|rest| rest.split('"').next())
        .flat_map(|value| value.split(|c: char| c.is_ascii_alphabetic() || c == ' '))
        .filter(|number| !number.is_empty())
        .map(|number| number.parse().expect("a coordinate is a number"))
        .collect()
}

fn check(svg: &Svg) {
    let text = svg.as_str();
    for bad in ["NaN", "inf", "-0\"", "var(", "<script", "style="] {
        assert!(!text.contains(bad), "`{bad}` in {text}");
    }
    assert!(text.contains("role=\"img\"") && text.contains("<title") && text.contains("<desc"));
    let found = coordinates(text);
    assert!(found.len() > 4);
    for number in found {
        assert!((-10.0..=730.0).contains(&number), "{number} is off the paper");
        assert!((number * 10.0 - (number * 10.0).round()).abs() < 1e-6, "{number} isn't rounded");
    }
}

fn both(lift: &LiftView) -> Option<(Svg, Svg)> {
    let small = chart::record(lift, Size::Small, "a");
    let large = chart::record(lift, Size::Large, "a");
    assert_eq!(small.is_some(), large.is_some());
    small.zip(large)
}

fn plain() -> LiftView {
    fixture::lift("squat", Unit::Kg, 120.0, 0.002, 1.7, 3)
}

fn point_at(days: f64, seen: f64, expected: Option<Interval>, call: CallWord) -> PointView {
    let model = plain().points.swap_remove(0);
    PointView { days, one_rm_seen: Some(seen), one_rm_expected: expected, call, ..model }
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => -500.0..500.0f64,
        1 => proptest::num::f64::ANY,
        1 => prop::sample::select(vec![0.0, -0.0, f64::NAN, f64::INFINITY, f64::MIN, 1e300, 1e-300]),
    ]
}

fn any_point() -> impl Strategy<Value = PointView> {
    let interval = (any_number(), any_number(), any_number());
    let usual = prop::option::of(any_number());
    let call = prop::sample::select(vec![
        CallWord::GoOn,
        CallWord::Ease,
        CallWord::Stop,
        CallWord::NoReading,
    ]);
    (any_number(), any_number(), prop::option::of(interval), call, usual).prop_map(
        |(days, seen, expected, call, one_rm_usual)| {
            let expected = expected.map(|(low, mid, high)| Interval { low, mid, high });
            let point = point_at(days + 22_000.0, seen, expected, call);
            PointView { one_rm_usual, ..point }
        },
    )
}

proptest! {
    #![proptest_config(crate::properties::config(256))]

    #[test]
    fn any_record_draws_numbers_on_the_paper(points in prop::collection::vec(any_point(), 0..12)) {
        let any = points.iter().any(|p| p.days.is_finite() && p.one_rm_seen.is_some_and(f64::is_finite));
        let lift = LiftView { points, ..plain() };
        let large = chart::record(&lift, Size::Large, "a");
        prop_assert_eq!(large.is_some(), any);
        if let Some(large) = large { check(&large); }
        if let Some(small) = chart::record(&lift, Size::Small, "a") { check(&small); }
    }

    #[test]
    fn any_scatter_draws_numbers_on_the_paper(
        low in any_number(), mid in any_number(), high in any_number(), class in any_number(),
    ) {
        let scatter_pct = Interval { low, mid, high };
        let lift = LiftView { scatter_pct, class_scatter_pct: class, ..plain() };
        if let Some(svg) = chart::scatter(&lift, "a") { check(&svg); }
    }
}

proptest! {
    #![proptest_config(crate::properties::config(256))]

    #[test]
    fn any_muscle_draws_numbers_on_the_paper(
        days in prop::collection::vec((any_number(), any_number(), any_number(), any_number()), 0..6),
    ) {
        let mut view = fixture::muscles();
        view.muscles[0].days = days
            .iter()
            .map(|&(low, mid, high, p_short)| MuscleDay {
                shortfall_pct: Interval { low, mid, high },
                p_short,
            })
            .collect();
        for size in [Size::Small, Size::Large] {
            check(&chart::muscles(&view, size, "a").expect("the other muscles are drawn"));
        }
        view.muscles.truncate(1);
        if let Some(svg) = chart::muscles(&view, Size::Large, "a") { check(&svg); }
    }
}

#[test]
fn muscles_show_numbers_and_the_short_ones_stand_out() {
    let view = fixture::muscles();
    let svg = chart::muscles(&view, Size::Large, "a").expect("drawn");
    let text = svg.as_str();
    let is_short = |day: &&MuscleDay| day.p_short > 0.5;
    let short = view.muscles.iter().flat_map(|m| &m.days).filter(is_short).count();
    let before = view.muscles.iter().flat_map(|m| &m.past).filter(is_short).count();
    assert!(short >= 3 && before >= 3);
    assert_eq!(text.matches("bar-short").count(), short + before);
    assert_eq!(text.matches(", short<").count(), short, "in words too");
    assert!(text.contains(">−4.1 %, short<") && text.contains(">+0.9 %<"));
    assert_eq!(text.matches("class=\"field\"").count(), 8 * 5);
    assert_eq!(text.matches("class=\"day-before\"").count(), 8 * 7);
    assert!(text.contains("likelier short than not now: quadriceps, spinal erectors."));
    // An interval that reaches deeper hangs further down.
    let deepest = |pct: f64| {
        let mut view = fixture::muscles();
        view.muscles.truncate(1);
        view.muscles[0].days[0].shortfall_pct = Interval { low: 0.0, mid: pct, high: pct };
        view.past.clear();
        view.muscles[0].past.clear();
        let svg = chart::muscles(&view, Size::Large, "a").expect("drawn");
        let bar = svg.as_str().split("class=\"bar-short\"").nth(1).expect("a bar").to_owned();
        let height = bar.split("height=\"").nth(1).and_then(|rest| rest.split('"').next());
        height.and_then(|height| height.parse::<f64>().ok()).expect("a height")
    };
    assert!(deepest(4.0) > deepest(2.5) + 3.0, "{} {}", deepest(4.0), deepest(2.5));
}

#[test]
fn no_muscles_draw_nothing() {
    let mut view = fixture::muscles();
    view.muscles.clear();
    assert!(chart::muscles(&view, Size::Small, "a").is_none());
}

#[test]
fn plain_records_draw_in_both_sizes() {
    let (small, large) = both(&plain()).expect("it has points");
    check(&small);
    check(&large);
    assert!(large.as_str().matches("<circle").count() > small.as_str().matches("<circle").count());
}

#[test]
fn an_empty_record_draws_nothing() {
    assert!(both(&LiftView { points: vec![], ..plain() }).is_none());
}

#[test]
fn one_point_and_constant_values_draw() {
    for n in [1, 2, 30] {
        let points = (0..n).map(|i| point_at(22_000.0 + f64::from(i), 100.0, None, CallWord::GoOn));
        let (small, large) =
            both(&LiftView { points: points.collect(), ..plain() }).expect("drawn");
        check(&small);
        check(&large);
    }
}

#[test]
fn time_away_breaks_the_band_and_is_named() {
    let expected = Some(Interval { low: 98.0, mid: 100.0, high: 102.0 });
    let days = |gap: f64| {
        let at = [0.0, 3.0, 6.0, 6.0 + gap, 9.0 + gap].map(|d| 22_000.0 + d);
        let points = at.map(|d| point_at(d, 100.0, expected, CallWord::GoOn)).to_vec();
        chart::record(&LiftView { points, ..plain() }, Size::Large, "a").expect("drawn")
    };
    let away = days(chart::GAP_DAYS + 8.0);
    assert!(away.as_str().contains("22 days without a lead set"));
    assert_eq!(away.as_str().matches("class=\"band\"").count(), 2);
    let steady = days(chart::GAP_DAYS);
    assert!(!steady.as_str().contains("class=\"gap\""));
    assert_eq!(steady.as_str().matches("class=\"band\"").count(), 1);
}

#[test]
fn each_call_has_a_shape_of_its_own_and_ease_and_stop_their_word() {
    let shapes = [CallWord::GoOn, CallWord::Ease, CallWord::Stop, CallWord::NoReading]
        .map(|call| chart::call_mark(call).as_str().to_owned());
    for (i, one) in shapes.iter().enumerate() {
        assert!(shapes.iter().skip(i + 1).all(|other| one != other));
        assert!(one.contains("aria-hidden"));
    }
    let points = [CallWord::Ease, CallWord::Stop, CallWord::GoOn]
        .into_iter()
        .zip([22_000.0, 22_040.0, 22_080.0])
        .map(|(call, days)| point_at(days, 100.0 + days / 1e4, None, call));
    let lift = LiftView { points: points.collect(), ..plain() };
    let svg = chart::record(&lift, Size::Large, "a").expect("drawn");
    for word in ["ease", "stop"] {
        assert!(svg.as_str().contains(&format!(">{word}</text>")), "{word}");
    }
    assert!(!svg.as_str().contains(">go on</text>"));
}

#[test]
fn a_test_stands_out_and_exact_values_are_told() {
    let lift = plain();
    assert!(lift.points.iter().any(|p| p.kind == "test"));
    let svg = chart::record(&lift, Size::Large, "a").expect("drawn");
    assert_eq!(svg.as_str().matches("mark-test").count(), 1);
    let last = lift.points.last().expect("it has points");
    let told = format!(
        "Shows a 1RM of {}",
        bellwether::wording::estimate_in(last.one_rm_seen.unwrap(), Unit::Kg)
    );
    assert!(svg.as_str().contains(&told));
}

#[test]
fn names_are_escaped() {
    let lift = LiftView { name: "<b>&squat".to_owned(), ..plain() };
    let (_, large) = both(&lift).expect("drawn");
    assert!(large.as_str().contains("&lt;b&gt;&amp;squat") && !large.as_str().contains("<b>"));
}
