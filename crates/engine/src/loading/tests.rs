//! Checks of plates, ladders and warm-ups: competition loads, brute force, hostile equipment.

use std::sync::LazyLock;

use domain::{
    Bar, Catalogue, Lift, LiftName, Lifter, LifterName, Load, Mass, PlateStock, Reps, Unit,
};
use proptest::prelude::*;

use super::plates::TOLERANCE_G;
use super::{Fit, Ladder, Loaded, PlateLoading, Warmth, warm_up};

/// Reading the catalogue takes milliseconds, and properties ask for lifts thousands of times.
static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(Catalogue::built_in);

fn lift(name: &str) -> Lift {
    CATALOGUE.find(&LiftName::new(name).unwrap()).unwrap().clone()
}

fn lifter(unit: Unit) -> Lifter {
    Lifter::usual(LifterName::new("Invented Lifter").unwrap(), unit)
}

fn grams(grams: u32) -> Mass {
    Mass::try_from_grams(grams).unwrap()
}

fn stock(pairs: &[(u32, u8)]) -> PlateStock {
    PlateStock::new(pairs.iter().map(|(g, k)| (grams(*g), *k)).collect()).unwrap()
}

fn kg(kg: f64) -> Load {
    Load::from_kg(kg).unwrap()
}

fn side(loaded: &Loaded) -> Vec<u32> {
    loaded.each().map(Mass::grams).collect()
}

/// IPF discs and bar with collars, read second-hand: bar 20 kg, collars 2.5 kg each, discs 50, 25,
/// 20, 15, 10, 5, 2.5 and 1.25 kg.
fn ipf() -> PlateLoading {
    let bar = Bar { mass: grams(20_000), collars: grams(5_000) };
    let discs = stock(&[
        (50_000, 2),
        (25_000, 8),
        (20_000, 1),
        (15_000, 1),
        (10_000, 1),
        (5_000, 1),
        (2_500, 1),
        (1_250, 1),
    ]);
    PlateLoading::of_bar(bar, &discs)
}

#[test]
fn ipf_bar_collars_and_a_pair_of_25_and_of_1_25_make_77_5_kg() {
    let loaded = ipf().at_or_below(kg(77.5)).unwrap();
    assert_eq!(side(&loaded), [25_000, 1_250]);
    assert_eq!((loaded.total, loaded.fit), (grams(77_500), Fit::Exact));
}

#[test]
fn ipf_loads_rise_by_2_5_kg_from_25_kg_on() {
    // IPF rules, from memory: attempts are multiples of 2.5 kg.
    let plates = ipf();
    let mut total = i64::from(plates.empty().grams());
    assert_eq!(total, 25_000);
    while let Some(next) = plates.total_over(total).filter(|next| *next <= 400_000) {
        assert_eq!(next - total, 2_500);
        total = next;
    }
    assert_eq!(total, 400_000);
    assert_eq!(plates.at_or_below(kg(101.0)).unwrap().fit, Fit::Under(grams(1_000)));
    assert_eq!(plates.at_or_above(kg(101.0)).unwrap().fit, Fit::Over(grams(1_500)));
}

#[test]
fn iwf_discs_make_every_kilogram_on_both_bars() {
    // IWF equipment: bars 20 and 15 kg, collars 2.5 kg each, discs 25 to 0.5 kg; steps of 1 kg.
    let discs = stock(&[
        (25_000, 5),
        (20_000, 1),
        (15_000, 1),
        (10_000, 1),
        (5_000, 1),
        (2_500, 1),
        (2_000, 1),
        (1_500, 1),
        (1_000, 1),
        (500, 1),
    ]);
    for bar in [20_000, 15_000] {
        let plates = PlateLoading::of_bar(Bar { mass: grams(bar), collars: grams(5_000) }, &discs);
        for total in (bar / 1000 + 5)..=250 {
            let loaded = plates.at_or_below(kg(f64::from(total))).unwrap();
            assert_eq!(loaded.total, grams(total * 1000));
        }
    }
}

#[test]
fn the_biggest_plate_first_is_not_always_right() {
    let plates = PlateLoading::new(
        grams(20_000),
        &stock(&[(25_000, 1), (20_000, 1), (10_000, 2), (2_500, 1)]),
    );
    assert_eq!(side(&plates.at_or_below(kg(80.0)).unwrap()), [20_000, 10_000]);
    let fewest = PlateLoading::new(grams(20_000), &stock(&[(25_000, 1), (20_000, 2), (5_000, 4)]));
    assert_eq!(side(&fewest.at_or_below(kg(100.0)).unwrap()), [20_000, 20_000]);
}

#[test]
fn pounds_come_out_exact() {
    let lifter = lifter(Unit::Lb);
    let ladder = Ladder::new(&lift("back squat"), &lifter);
    let wanted = Load::new(225.0, Unit::Lb).unwrap();
    let loaded = ladder.plates(wanted).unwrap();
    assert_eq!((side(&loaded), loaded.fit), (vec![20_412, 20_412], Fit::Exact));
    assert_eq!(ladder.at_or_below(wanted.kg()), Some(wanted));
    assert_eq!(ladder.lowest(), Load::new(45.0, Unit::Lb).unwrap());
    let mut load = ladder.lowest();
    for step in 1..100 {
        load = ladder.next_above(load).unwrap();
        assert_eq!(load, Load::new(45.0 + 5.0 * f64::from(step), Unit::Lb).unwrap());
        assert_eq!(ladder.plates(load).unwrap().fit, Fit::Exact);
    }
}

#[test]
fn increments_have_their_pound_steps() {
    for (name, kilograms, pounds) in
        [("back squat", 2.5, 5.0), ("dumbbell bench press", 2.0, 5.0), ("leg extension", 5.0, 10.0)]
    {
        let lift = lift(name);
        assert_eq!(lift.increment.kg(), kilograms, "{name}");
        let ladder = Ladder::new(&lift, &lifter(Unit::Lb));
        assert_eq!(
            ladder.usual_step(),
            Mass::try_from_kg(pounds * Unit::Lb.kg()).unwrap(),
            "{name}"
        );
    }
    let ladder = Ladder::new(&lift("dumbbell bench press"), &lifter(Unit::Lb));
    assert_eq!(ladder.nearest(1000.0 * Unit::Lb.kg()), Load::new(1000.0, Unit::Lb).unwrap());
}

#[test]
fn the_record_moves_the_steps_and_names_another_bar() {
    let pin = lift("leg extension");
    let ladder = Ladder::for_record(&pin, &lifter(Unit::Kg), &[kg(47.0), kg(52.0), kg(50.0)]);
    assert_eq!(ladder.next_above(kg(47.0)), Some(kg(52.0)));
    assert_eq!(ladder.lowest(), kg(2.0));
    let squat = lift("back squat");
    assert!(Ladder::for_record(&squat, &lifter(Unit::Kg), &[kg(20.0)]).has_plates());
    let other_bar = Ladder::for_record(&squat, &lifter(Unit::Kg), &[kg(12.5)]);
    assert_eq!(
        (other_bar.plates(kg(60.0)), other_bar.next_above(kg(12.5))),
        (None, Some(kg(15.0)))
    );
}

#[test]
fn a_bodyweight_lift_has_nothing_added_and_assistance() {
    let ladder = Ladder::new(&lift("pull-up"), &lifter(Unit::Kg));
    assert_eq!(ladder.at_or_below(0.0), Some(kg(0.0)));
    assert!(ladder.next_below(kg(0.0)).unwrap().grams() < 0);
    assert_eq!(ladder.lowest(), kg(-300.0));
    let machine = Ladder::new(&lift("leg extension"), &lifter(Unit::Kg));
    assert_eq!((machine.lowest(), machine.at_or_below(4.9)), (kg(5.0), None));
}

#[test]
fn hostile_equipment_and_numbers_are_borne() {
    let squat = lift("back squat");
    let mut person = lifter(Unit::Kg);
    person.plates = stock(&[]);
    let bare = Ladder::new(&squat, &person);
    assert_eq!((bare.lowest(), bare.highest()), (kg(20.0), kg(20.0)));
    assert_eq!((bare.next_above(kg(20.0)), bare.next_below(kg(20.0))), (None, None));
    assert_eq!((bare.at_or_below(19.0), bare.nearest(10.0)), (None, kg(20.0)));
    for wanted in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert_eq!((bare.at_or_below(wanted), bare.nearest(wanted)), (None, kg(20.0)));
    }
    assert_eq!(bare.at_or_below(1e300), Some(kg(20.0)));
    person.bar = Bar { mass: Mass::MAX, collars: Mass::MAX };
    assert_eq!(Ladder::new(&squat, &person).lowest(), kg(2000.0));
    person.bar = Bar { mass: Mass::ZERO, collars: Mass::ZERO };
    assert!(Ladder::new(&squat, &person).lowest().grams() > 0);
    // Every mass prime to the others, all the stock there can be: a table of a million sums.
    let odd: Vec<(u32, u8)> = (0..40).map(|i| (20_011 + 7 * i, 255)).collect();
    let plates = PlateLoading::new(grams(1), &stock(&odd));
    assert!(plates.heaviest() <= Mass::MAX);
    assert!(plates.at_or_below(kg(1999.0)).unwrap().total <= grams(1_999_010));
    let mut tiny = lift("leg extension");
    tiny.increment = grams(50);
    let ladder = Ladder::new(&tiny, &lifter(Unit::Kg));
    assert_eq!(ladder.next_above(kg(20.0)), Some(kg(20.05)));
    tiny.increment = Mass::ZERO;
    assert!(Ladder::new(&tiny, &lifter(Unit::Lb)).next_above(kg(20.0)).is_some());
}

#[test]
fn a_ramp_rises_and_keeps_plates_on() {
    let ladder = Ladder::new(&lift("back squat"), &lifter(Unit::Kg));
    let reps = |count| Reps::new(count).unwrap();
    let ramp = warm_up(&ladder, &lift("back squat"), kg(140.0), reps(5), Warmth::Cold);
    let shown: Vec<_> = ramp.iter().map(|set| (set.load.kg(), set.reps.get())).collect();
    assert_eq!(shown, [(20.0, 8), (70.0, 5), (100.0, 3), (120.0, 2)]);
    let warm = warm_up(&ladder, &lift("back squat"), kg(140.0), reps(5), Warmth::Warm);
    assert!(warm.len() < ramp.len() && !warm.is_empty());
    let single = warm_up(&ladder, &lift("back squat"), kg(200.0), reps(1), Warmth::Cold);
    assert_eq!(single.len(), 5);
    for (load, name) in [(20.0, "back squat"), (4.0, "lateral raise"), (-20.0, "pull-up")] {
        let lift = lift(name);
        let ladder = Ladder::new(&lift, &lifter(Unit::Kg));
        assert_eq!(warm_up(&ladder, &lift, kg(load), reps(10), Warmth::Cold), [], "{name}");
    }
}

/// Common practice, no source: a sled or a carriage is warmed up with a share of the work load, as there is no
/// bare bar to begin with.
#[test]
fn a_machine_without_a_bar_begins_at_a_share_of_the_work_load() {
    let shown = |name: &str, load: f64, count: u16| -> Vec<(f64, u16)> {
        let lift = lift(name);
        let ladder = Ladder::new(&lift, &lifter(Unit::Kg));
        warm_up(&ladder, &lift, kg(load), Reps::new(count).unwrap(), Warmth::Cold)
            .iter()
            .map(|set| (set.load.kg(), set.reps.get()))
            .collect()
    };
    assert_eq!(shown("leg press", 180.0, 10), [(50.0, 8), (90.0, 5), (120.0, 3), (160.0, 2)]);
    assert_eq!(shown("leg press", 20.0, 10), [(12.5, 5)]);
    for name in ["leg press", "hack squat"] {
        for (load, count) in (10..120).map(|n| f64::from(n) * 2.5).zip((1..12).cycle()) {
            let ramp = shown(name, load, count);
            let (first, _) = ramp[0];
            assert!(first > 0.2 * load, "{name}, {load} kg: {ramp:?}");
            assert!(ramp.len() > 2 || load < 40.0, "{name}, {load} kg: {ramp:?}");
        }
    }
    // Plates of 20 kg alone: the lightest load is a fair share of the work load already.
    let mut heavy = lifter(Unit::Kg);
    heavy.plates = stock(&[(20_000, 5)]);
    let (press, ladder) = (lift("leg press"), Ladder::new(&lift("leg press"), &heavy));
    let ramp = warm_up(&ladder, &press, kg(120.0), Reps::new(8).unwrap(), Warmth::Cold);
    assert_eq!(ramp.iter().map(|set| set.load.kg()).collect::<Vec<_>>(), [40.0, 80.0]);
}

/// Every sum that some choice of pairs makes, with its fewest plates, by trying all choices.
fn all_sums(pairs: &[(u32, u8)]) -> std::collections::BTreeMap<u32, u32> {
    let mut sums = std::collections::BTreeMap::from([(0, 0)]);
    for (mass, count) in pairs {
        let mut next = std::collections::BTreeMap::new();
        for (sum, plates) in &sums {
            for used in 0..=u32::from(*count) {
                let best = next.entry(sum + used * mass).or_insert(u32::MAX);
                *best = (plates + used).min(*best);
            }
        }
        sums = next;
    }
    sums
}

fn any_stock() -> impl Strategy<Value = Vec<(u32, u8)>> {
    let mass = prop_oneof![
        (1_u32..40).prop_map(|n| n * 1_250),
        (1_u32..40).prop_map(|n| (f64::from(n) * 1_133.980_925).round() as u32),
        100_u32..30_000,
    ];
    proptest::collection::btree_map(mass, 0_u8..5, 0..5).prop_map(|map| map.into_iter().collect())
}

fn any_ladder() -> impl Strategy<Value = Ladder> {
    let names = ["back squat", "leg extension", "pull-up", "dumbbell bench press", "hack squat"];
    (0..names.len(), any::<bool>(), any_stock(), 0_u32..30_000).prop_map(
        move |(name, pounds, pairs, bar)| {
            let mut person = lifter(if pounds { Unit::Lb } else { Unit::Kg });
            person.plates = stock(&pairs);
            person.bar = Bar { mass: grams(bar), collars: Mass::ZERO };
            Ladder::new(&lift(names[name]), &person)
        },
    )
}

proptest! {
    // Masses prime to each other make tables of a million sums, slow in a debug build.
    #![proptest_config(crate::properties::config(64))]

    #[test]
    fn plates_equal_brute_force(pairs in any_stock(), empty in 0_u32..30_000, wanted in 0_i32..400_000) {
        let plates = PlateLoading::new(grams(empty), &stock(&pairs));
        let sums = all_sums(&pairs);
        let wanted_load = Load::from_grams(wanted, Unit::Kg).unwrap();
        let totals: Vec<(i64, u32)> =
            sums.iter().map(|(sum, n)| (i64::from(empty + 2 * sum), *n)).collect();
        let wanted = i64::from(wanted);
        let under = totals.iter().filter(|t| t.0 <= wanted).max().copied();
        let over = totals.iter().filter(|t| t.0 > wanted).min().copied();
        let expected = match (under, over) {
            (Some(u), Some(o)) if o.0 - wanted <= TOLERANCE_G && o.0 - wanted < wanted - u.0 => Some(o),
            (None, Some(o)) if o.0 - wanted <= TOLERANCE_G => Some(o),
            (u, _) => u,
        };
        let found = plates.at_or_below(wanted_load);
        prop_assert_eq!(
            found.as_ref().map(|l| (i64::from(l.total.grams()), l.each().count() as u32)),
            expected
        );
        if let Some(loaded) = found {
            let sum: u32 = loaded.each().map(Mass::grams).sum();
            prop_assert_eq!(empty + 2 * sum, loaded.total.grams());
            for used in &loaded.per_side {
                let there = pairs.iter().find(|(g, _)| *g == used.mass.grams()).unwrap().1;
                prop_assert!(used.count >= 1 && used.count <= u16::from(there));
            }
            prop_assert!(loaded.per_side.windows(2).all(|two| two[0].mass > two[1].mass));
        }
    }

    #[test]
    fn a_ladder_is_in_order(ladder in any_ladder(), wanted in -310_000_i64..500_000) {
        let kg = wanted as f64 / 1000.0;
        let slack = TOLERANCE_G as f64 / 1000.0 * 2.0;
        match ladder.at_or_below(kg) {
            None => prop_assert!(ladder.lowest().kg() > kg),
            Some(load) => {
                prop_assert!(load.kg() <= kg + slack);
                prop_assert!(ladder.next_above(load).is_none_or(|next| next.kg() > kg));
                prop_assert_eq!(ladder.at_or_below(load.kg()), Some(load));
                if let Some(next) = ladder.next_above(load) {
                    prop_assert!(next.grams() > load.grams());
                    prop_assert!(ladder.next_below(next).unwrap().grams() >= load.grams());
                }
                prop_assert_eq!(ladder.plates(load).is_some(), ladder.has_plates());
            }
        }
        let nearest = ladder.nearest(kg);
        prop_assert!(nearest.grams() >= ladder.lowest().grams());
        prop_assert!(nearest.grams() <= ladder.highest().grams());
    }

    #[test]
    fn a_warm_up_rises_below_the_work_load(
        ladder in any_ladder(), work in -50.0_f64..400.0, count in 1_u16..20, warm in any::<bool>(),
    ) {
        let work = ladder.nearest(work);
        let warmth = if warm { Warmth::Warm } else { Warmth::Cold };
        let squat = lift("back squat");
        let sets = warm_up(&ladder, &squat, work, Reps::new(count).unwrap(), warmth);
        prop_assert!(sets.windows(2).all(|two| two[0].load.grams() < two[1].load.grams()));
        prop_assert!(sets.iter().all(|set| set.load.grams() < work.grams()));
        for set in &sets {
            prop_assert_eq!(ladder.at_or_below(set.load.kg()), Some(set.load));
        }
        prop_assert!(sets.windows(2).all(|two| two[0].reps >= two[1].reps));
    }
}
