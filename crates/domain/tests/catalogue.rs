//! The built-in catalogue is whole, and a lift file's mistakes are named with line and cure.

use std::collections::BTreeSet;

use domain::{Catalogue, CatalogueError, EquipmentClass, Joint, LiftName, Muscle};

fn find<'a>(catalogue: &'a Catalogue, name: &str) -> &'a domain::Lift {
    catalogue.find(&LiftName::new(name).unwrap()).unwrap()
}

#[test]
fn the_built_in_catalogue_covers_the_body() {
    let catalogue = Catalogue::built_in();
    assert!(catalogue.lifts().len() >= 120, "{}", catalogue.lifts().len());
    let prime: BTreeSet<Muscle> = catalogue
        .lifts()
        .iter()
        .flat_map(|lift| lift.muscles.iter().filter(|m| m.is_prime()).map(|m| m.muscle))
        .collect();
    let joints: BTreeSet<Joint> =
        catalogue.lifts().iter().flat_map(|lift| lift.joints.iter().map(|j| j.joint)).collect();
    let classes: BTreeSet<EquipmentClass> =
        catalogue.lifts().iter().map(|lift| lift.equipment).collect();
    assert_eq!(prime.len(), Muscle::ALL.len());
    assert_eq!(joints.len(), Joint::ALL.len());
    assert_eq!(classes.len(), EquipmentClass::ALL.len());
    for lift in catalogue.lifts() {
        assert!(lift.muscles.iter().any(|m| m.is_prime()), "{} has no prime mover", lift.name);
        assert!(!lift.joints.is_empty(), "{} loads no joint", lift.name);
        let sourced = lift.body_mass_share.as_ref().is_none_or(|share| share.source.len() > 10);
        assert!(sourced, "{} gives no source for its body mass share", lift.name);
        assert_eq!(find(&catalogue, lift.name.as_str()).name, lift.name);
    }
}

#[test]
fn a_lift_is_found_under_any_of_its_spellings() {
    let catalogue = Catalogue::built_in();
    for spelling in ["back squat", "Back Squat", "BACK-SQUAT", "squat"] {
        assert_eq!(find(&catalogue, spelling).name.as_str(), "back squat");
    }
}

// Source: a push-up moves 0.64 of body mass (Ebben et al. 2011, J Strength Cond Res 25:2891, from memory); hanging
//   from or standing on the hands, all but forearms and hands, 0.95 (Winter after Dempster 1955, from memory).
// Goes red if a share, the load or the sign of assistance is left out of what a set moves.
#[test]
fn a_set_moves_its_load_and_its_share_of_body_mass() {
    let catalogue = Catalogue::built_in();
    for (name, load, moved) in [
        ("push-up", 0.0, 0.64 * 80.0),
        ("push-up", 10.0, 0.64 * 80.0 + 10.0),
        ("dip", 20.0, 0.95 * 80.0 + 20.0),
        ("pull-up", -25.0, 0.95 * 80.0 - 25.0),
        ("bench press", 70.0, 70.0),
    ] {
        let lift = find(&catalogue, name);
        assert!((lift.moved_kg(load, 80.0) - moved).abs() < 1e-9, "{name} with {load}");
        assert!((lift.load_kg(moved, 80.0) - load).abs() < 1e-9, "{name} with {load}");
        let accepted = lift.accepts_load(domain::Load::from_kg(load).unwrap());
        assert!(accepted.is_ok(), "{name} with {load}");
    }
    let bench = find(&catalogue, "bench press");
    for nothing in [0.0, -2.5] {
        assert!(bench.accepts_load(domain::Load::from_kg(nothing).unwrap()).is_err(), "{nothing}");
    }
    // Prime movers are those with the whole weight.
    assert!(bench.has_prime_mover(Muscle::Chest) && !bench.has_prime_mover(Muscle::Triceps));
    assert_eq!(
        [Muscle::Chest, Muscle::Triceps, Muscle::Calves].map(|m| bench.weight_of(m)),
        [1.0, 0.5, 0.0]
    );
}

#[test]
fn a_coachs_lift_overrides_extends_and_inherits() {
    let catalogue = Catalogue::built_in()
        .with_file(
            "[[lift]]\nname = \"pause squat to a box\"\nlike = \"tall box squat\"\n\n\
             [[lift]]\nname = \"tall box squat\"\nlike = \"back squat\"\nscatter_pct = 1.5\n\n\
             [[lift]]\nname = \"Back Squat\"\nequipment = \"barbell\"\nincrement_kg = 1\n\
             muscles = { glutes = 1.0 }\n",
        )
        .unwrap();
    let squat = find(&catalogue, "back squat");
    assert_eq!((squat.increment.kg(), squat.muscles.len()), (1.0, 1));
    let box_squat = find(&catalogue, "tall box squat");
    assert_eq!(box_squat.starting_scatter_pct, 1.5);
    // `like` finds the file's own back squat, which stands further down
    assert_eq!(box_squat.muscles, squat.muscles);
    assert_eq!(find(&catalogue, "pause squat to a box").muscles, squat.muscles);
    assert_eq!(catalogue.lifts().len(), Catalogue::built_in().lifts().len() + 2);
}

/// The file is refused with a message that has `line` and `words` in it.
#[track_caller]
fn check_refused(file: &str, line: usize, words: &str) {
    let error = Catalogue::built_in().with_file(file).expect_err(file);
    let found = match &error {
        CatalogueError::NotToml { line, .. } | CatalogueError::Lift { line, .. } => *line,
        CatalogueError::Empty => 0,
    };
    assert!(found == line && error.to_string().contains(words), "{file}\n→ {error}");
}

#[test]
fn mistakes_in_a_lift_file_are_named_with_their_line() {
    let lift = "[[lift]]\nname = \"sled pull\"\nequipment = \"plate_machine\"\nincrement_kg = 5\n";
    let with = |rest: &str| format!("{lift}{rest}");
    check_refused("", 0, "there is no `[[lift]]`");
    check_refused("name = ", 1, "not TOML");
    check_refused(lift, 1, "`muscles` is missing");
    check_refused(&with("muscles = {}"), 5, "at least one muscle");
    check_refused(&with("muscles = { lats = 0 }"), 5, "`lats` must be above 0");
    check_refused(&with("muscles = { lats = -1.0 }"), 5, "above 0");
    check_refused(&with("muscles = { lats = 1.01 }"), 5, "at most 1");
    check_refused(&with("muscles = { lats = nan }"), 5, "must be a number");
    check_refused(&with("muscles = { lats = \"1\" }"), 5, "must be a number");
    check_refused(&with("muscles = { wings = 1 }"), 5, "muscle `wings` is not known");
    check_refused(&with("muscles = { lats = 1 }\njoints = { jaw = 1 }"), 6, "joint `jaw`");
    check_refused(&with("muscles = { lats = 1 }\ncolour = 3"), 6, "`colour` is not known");
    check_refused(&with("muscles = { lats = 1 }\nper_hand = 1"), 6, "true or false");
    check_refused(&with("muscles = { lats = 1 }\nbody_mass_share = 7"), 6, "from 0 to 1.2");
    check_refused(&with("muscles = { lats = 1 }\nlike = \"nothing\""), 6, "must name a known lift");
    check_refused(&with("muscles = { lats = 1 }\nalso = [\"a\", 3]"), 6, "names in quotes");
}

#[test]
fn lifts_that_are_like_each_other_in_a_circle_are_refused() {
    let file = "[[lift]]\nname = \"a\"\nlike = \"b\"\n[[lift]]\nname = \"b\"\nlike = \"c\"\n\
                [[lift]]\nname = \"c\"\nlike = \"a\"\n";
    check_refused(file, 3, "in a circle: `a` → `b` → `c` → `a`");
    check_refused("[[lift]]\nname = \"a\"\nlike = \"a\"\n", 3, "must name a known lift");
}

#[test]
fn one_spelling_can_not_stand_for_two_lifts_of_a_file() {
    let lift = |name: &str, also: &str| {
        format!("[[lift]]\nname = \"{name}\"\nlike = \"back squat\"\nalso = [\"{also}\"]\n")
    };
    let file = lift("one", "shared") + &lift("two", "Shared");
    check_refused(&file, 8, "`Shared` already stands for `one`");
}

/// Masses of body segments as shares of the whole: Winter, Biomechanics and Motor Control of Human Movement, table
/// 4.1, after Dempster 1955 (from memory). Limbs are of one side.
mod segment {
    pub(super) const FOREARM_AND_HAND: f64 = 0.022;
    pub(super) const FOOT: f64 = 0.0145;
    pub(super) const LEG_AND_FOOT: f64 = 0.061;
    pub(super) const WHOLE_LEG: f64 = 0.161;
    pub(super) const HEAD_ARMS_TRUNK: f64 = 0.678;
}

#[test]
fn shares_of_body_mass_are_those_of_the_segments_that_move() {
    use segment::{FOOT, FOREARM_AND_HAND, HEAD_ARMS_TRUNK, LEG_AND_FOOT, WHOLE_LEG};
    let all = Catalogue::built_in();
    let shares = [
        ("body-weight squat", 1.0 - 2.0 * LEG_AND_FOOT),
        ("pistol squat", 1.0 - LEG_AND_FOOT),
        ("nordic curl", 1.0 - 2.0 * LEG_AND_FOOT),
        ("body-weight calf raise", 1.0 - 2.0 * FOOT),
        ("body-weight single-leg calf raise", 1.0 - FOOT),
        ("chin-up", 1.0 - 2.0 * FOREARM_AND_HAND),
        ("pull-up", 1.0 - 2.0 * FOREARM_AND_HAND),
        ("dip", 1.0 - 2.0 * FOREARM_AND_HAND),
        ("back extension", HEAD_ARMS_TRUNK),
        ("sit-up", HEAD_ARMS_TRUNK),
        ("hanging leg raise", 2.0 * WHOLE_LEG),
        ("lying leg raise", 2.0 * WHOLE_LEG),
        ("side-lying leg raise", WHOLE_LEG),
        // Measured with a force plate: Ebben et al. 2011, J Strength Cond Res 25:2891 (from memory).
        ("push-up", 0.64),
        ("knee push-up", 0.49),
    ];
    for (name, share) in shares {
        let lift = find(&all, name);
        // A whole percent at most from what the segments come to.
        let moved = lift.moved_kg(0.0, 100.0);
        assert!((moved - 100.0 * share).abs() < 1.0, "{name}: {moved} %, not {share}");
    }
}
