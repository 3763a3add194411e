//! Programme files: there and back without loss, and complaints that name the line and the cure.

#[path = "../../domain/tests/support/properties.rs"]
mod properties;

use domain::programme::{ShareOfToday, StepBack, WaveWeek};
use domain::{
    Catalogue, DoseRange, Drafting, EquipmentClass, Joint, LiftName, Mass, Muscle, Note,
    PlannedLift, Priority, Programme, ProgrammeDay, ProgrammeName, Progression, Purpose, RepRange,
    Rir,
};
use jiff::civil::Weekday;
use proptest::collection::{btree_map, vec};
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use service::programme::{Planning, check_programme, read_programme, write_programme};

const EXAMPLE: &str = include_str!("../../../examples/programme.toml");

fn name() -> impl Strategy<Value = String> {
    vec(any::<char>(), 1..20).prop_map(|letters| {
        let tidy: String = letters.into_iter().filter(|c| !c.is_control()).collect();
        format!("a\"\\ {tidy}")
    })
}

fn step() -> impl Strategy<Value = Option<Mass>> {
    option::of((1u32..100_000).prop_map(|grams| Mass::try_from_grams(grams).unwrap()))
}

fn rir() -> impl Strategy<Value = Option<Rir>> {
    option::of((0u8..=20).prop_map(|halves| Rir::new(f64::from(halves) / 2.0).unwrap()))
}

fn share() -> impl Strategy<Value = ShareOfToday> {
    (20.0..105.0).prop_map(|pct| ShareOfToday::new(pct).unwrap())
}

fn planned() -> impl Strategy<Value = PlannedLift> {
    let shape = (name(), 1u8..=20, 1u16..=50, 1u16..=50, rir(), option::of(10u16..=900));
    let week = (1u8..=20, 1u16..=50, share()).prop_map(|(s, r, p)| WaveWeek::new(s, r, p).unwrap());
    let rule = (0..5, step(), (1u8..=10, 1.0..30.0), share(), vec(week, 2..=12));
    (shape, rule).prop_map(|((lift, sets, a, b, rir, rest), (which, step, back, share, weeks))| {
        let lift = LiftName::new(&lift).unwrap();
        let range = RepRange::new(a.min(b), a.max(b)).unwrap();
        let one = RepRange::new(a, a).unwrap();
        let back = StepBack::new(back.0, back.1).unwrap();
        let total = u16::from(sets) * range.low();
        let (reps, rule) = match which {
            0 => (range, Progression::Double { step }),
            1 => (one, Progression::LoadSteps { step, back }),
            2 => (range, Progression::RepGoal { total, step }),
            3 => (one, Progression::OfToday(share)),
            _ => return PlannedLift::wave(lift, weeks, rir, rest).unwrap(),
        };
        PlannedLift::new(lift, sets, reps, rir, rest, rule).unwrap()
    })
}

fn purpose() -> impl Strategy<Value = Purpose> {
    let range = (0.0..20.0, 0.0..20.0, 0.0..20.0)
        .prop_map(|(a, b, c): (f64, f64, f64)| DoseRange::new(a, a + b, a + b + c).unwrap());
    (
        vec(name().prop_map(|name| LiftName::new(&name).unwrap()), 0..3),
        option::of(vec(select(EquipmentClass::ALL), 0..4)),
        vec(select(Joint::ALL), 0..3),
        btree_map(select(Muscle::ALL), range, 0..4),
        vec(name().prop_map(|name| LiftName::new(&name).unwrap()), 0..3),
        drafting(),
    )
        .prop_map(|(raise, equipment, spare, dose, refuse, drafting)| Purpose {
            raise,
            equipment,
            spare,
            dose,
            refuse,
            drafting,
        })
}

fn drafting() -> impl Strategy<Value = Drafting> {
    let priority = select(vec![Priority::Low, Priority::Usual, Priority::High]);
    let priorities = btree_map(select(Muscle::ALL), priority, 0..4);
    (priorities, option::of(1u8..=20), any::<bool>()).prop_map(
        |(priorities, most_lifts, ignore_hours)| Drafting { priorities, most_lifts, ignore_hours },
    )
}

fn programme() -> impl Strategy<Value = Programme> {
    let days = btree_map(0i8..7, (option::of(10u16..=300), vec(planned(), 1..5)), 1..5);
    (name(), ".{0,60}", purpose(), days).prop_map(|(name, note, purpose, days)| {
        let note: String = note.chars().filter(|c| !c.is_control()).collect();
        let day = |(weekday, (minutes, lifts))| {
            let weekday = Weekday::from_monday_zero_offset(weekday).unwrap();
            ProgrammeDay::new(weekday, minutes, lifts).unwrap()
        };
        let days = days.into_iter().map(day).collect();
        let name = ProgrammeName::new(&name).unwrap();
        let note = Note::new(&format!("{note}\n\tend")).unwrap();
        Programme::new(name, note, purpose, days).unwrap()
    })
}

proptest! {
    #![proptest_config(properties::config(128))]

    #[test]
    fn a_programme_goes_there_and_back_without_loss(programme in programme()) {
        let text = write_programme(&programme);
        let again = read_programme(&text).map_err(|e| TestCaseError::fail(format!("{e}\n{text}")))?;
        prop_assert_eq!(&again, &programme);
        prop_assert_eq!(write_programme(&again), text);
    }
}

#[test]
fn the_example_is_read() {
    let programme = read_programme(EXAMPLE).unwrap();
    assert_eq!(programme.days().len(), 3);
    assert_eq!(programme.weeks(), 3, "the wave has three weeks");
    assert_eq!(read_programme(&write_programme(&programme)).unwrap(), programme);
}

/// Reads the example with one text replaced by another, and gives the complaint.
fn complaint(from: &str, to: &str) -> String {
    assert!(EXAMPLE.contains(from), "the example has no {from}");
    read_programme(&EXAMPLE.replacen(from, to, 1)).unwrap_err().to_string()
}

#[test]
fn complaints_name_the_line_the_place_and_the_cure() {
    let check = |from: &str, to: &str, needed: &[&str]| {
        let told = complaint(from, to);
        for part in needed {
            assert!(told.contains(part), "{told}\nlacks {part}");
        }
        assert!(told.starts_with("line "), "{told}");
        assert!(!told.ends_with('.'), "{told}");
    };
    check("weekday = \"Monday\"", "weekday = \"Mo\"", &["weekday `Mo` is not known", "`Monday`"]);
    check("sets = 4", "sets = 21", &["Monday, lift 1", "sets `21` is out of range", "1 to 20"]);
    check("sets = 4", "sets = 4.5", &["Monday, lift 1", "`sets` must be a whole number"]);
    check("rir = 2", "rir = 2.25", &["rir `2.25` is between two steps"]);
    check("reps = [4, 6]", "reps = [6, 4]", &["highest reps `4`", "from 6 to 50"]);
    check("reps = [4, 6]", "reps = []", &["write one number, or the lowest and the highest"]);
    check("\"double progression\"", "\"luck\"", &["`luck` is not known", "`rep goal`"]);
    check("minutes = 75", "minuets = 75", &["`minuets` is not known here", "minutes"]);
    check("minutes = 75", "minutes = 5", &["Monday", "minutes `5` is out of range", "10 to 300"]);
    check("weekday = \"Wednesday\"", "weekday = \"Monday\"", &["Monday comes twice"]);
    check("total = 30", "total = 300", &["a goal of 300 repetitions is not within"]);
    check("name = ", "name == ", &["line 3", "not TOML"]);
    check("spare = [\"knee\"]", "spare = [\"nose\"]", &["joint `nose` is not known", "`knee`"]);
}

#[test]
fn a_check_of_one_week_says_that_other_weeks_have_remarks_of_their_own() {
    let text = "name = \"Slack water\"\n\
        [[day]]\nweekday = \"Mon\"\n\
        [[day.lift]]\nlift = \"bench press\"\nrir = 1\n\
        progression = { rule = \"wave\", weeks = [\
        { sets = 6, reps = 8, pct = 75 }, { sets = 14, reps = 8, pct = 75 }] }\n";
    let (catalogue, anybody) = (Catalogue::built_in(), Planning::for_anybody());
    let grounds = |week: usize| {
        let check = check_programme(text, week, &catalogue, &anybody).unwrap();
        let mut words = check.findings.iter().map(|finding| &finding.words);
        (words.any(|words| words.contains("in one session")), check.recovery)
    };
    let (found, told) = grounds(1);
    assert!(!found && told.contains("Other weeks have remarks of their own: week 2 ("), "{told}");
    let (found, _) = grounds(2);
    assert!(found);
}
