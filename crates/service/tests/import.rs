//! Tables in, sets out: our own format, foreign tables, and everything that can be wrong with a
//! file. What the store keeps is tested in `import_store.rs`.

#[path = "../../domain/tests/support/properties.rs"]
mod properties;

use std::sync::LazyLock;

use domain::{
    Catalogue, LiftName, LifterName, Load, LoggedSet, Note, Reps, Rir, SetKind, SetNumber, Unit,
    When,
};
use jiff::civil::{Date, date};
use proptest::prelude::*;
use service::import::{
    DateOrder, DecimalMark, FileKind, Import, ImportError, ImportPlan, ImportReport, Progress,
    Question, RefusalClass, TableKind, look, near_lifts, read_check_ins, read_log_whole, recognise,
};

const HEADER: &str = "lifter,date,lift,set,kind,load,unit,reps,rir,note\n";
static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(Catalogue::built_in);
const TODAY: Date = date(2031, 6, 1);

struct Outcome {
    sets: Vec<(u64, LoggedSet)>,
    report: ImportReport,
    rejects: String,
}

fn read_bytes(bytes: &[u8], plan: &ImportPlan) -> Result<Outcome, ImportError> {
    let catalogue = &*CATALOGUE;
    let (mut rejects, mut progress) = (Vec::new(), |_: Progress| ());
    let with =
        Import { catalogue, plan, today: TODAY, rejects: &mut rejects, progress: &mut progress };
    let (sets, report) = read_log_whole(bytes, with)?;
    assert_eq!(
        report.new + report.repeated + report.refused,
        report.lines,
        "every line is accounted for"
    );
    Ok(Outcome { sets, report, rejects: String::from_utf8(rejects).expect("UTF-8") })
}

fn read(text: &str) -> Outcome {
    read_bytes(text.as_bytes(), &ImportPlan::default()).expect("readable")
}

fn plan(options: &[&str]) -> ImportPlan {
    let mut plan = ImportPlan::default();
    for option in options {
        match option.split_once(' ').expect("option and value") {
            ("column", text) => plan.columns.push(text.parse().expect("column")),
            ("value", text) => plan.values.push(text.parse().expect("value")),
            ("order", text) => plan.date_order = Some(text.parse().expect("order")),
            ("unit", text) => plan.unit = Some(Unit::parse(text).expect("unit")),
            ("decimal", text) => plan.decimal = Some(text.parse().expect("decimal")),
            other => panic!("unknown option {other:?}"),
        }
    }
    plan
}

/// One line in words: `Ada 2031-05-04 back squat 1 work 100 kg × 5 rir 2`.
fn words(set: &LoggedSet) -> String {
    let rir = set.rir.map_or("?".to_owned(), |rir| rir.to_string());
    format!(
        "{} {} {} {} {} {} × {} rir {rir}{}",
        set.lifter,
        set.when,
        set.lift,
        set.number.get(),
        set.kind.as_str(),
        set.load,
        set.reps,
        if set.note.is_empty() { String::new() } else { format!(" {:?}", set.note.as_str()) }
    )
}

/// Checks one line of our own format.
fn check(line: &str, expected: &str) {
    let outcome = read(&format!("{HEADER}{line}\n"));
    let got: Vec<_> = outcome.sets.iter().map(|(_, set)| words(set)).collect();
    assert_eq!(got, [expected], "{line}: {:?}", outcome.report.first_refusals);
    assert_eq!(outcome.sets[0].0, 2);
}

/// Checks that one line of our own format is refused, with words in the reason and the line among
/// the rejects.
fn check_refused(line: &str, class: RefusalClass, words: &str) {
    let outcome = read(&format!("{HEADER}{line}\n"));
    assert!(outcome.sets.is_empty(), "{line} was taken: {:?}", outcome.sets);
    let refusal = &outcome.report.first_refusals[0];
    assert_eq!((refusal.line, refusal.class), (2, class), "{line}: {}", refusal.reason);
    assert!(refusal.reason.contains(words), "{line}: {}", refusal.reason);
    assert!(outcome.rejects.contains(line), "{line} is not in {}", outcome.rejects);
}

#[test]
fn our_own_lines_are_read() {
    check(
        "Ada,2031-05-04,back squat,1,work,100,kg,5,2,felt heavy",
        "Ada 2031-05-04 back squat 1 work 100 kg × 5 rir 2 \"felt heavy\"",
    );
    check(
        "Ada,2031-05-04T18:20,Back Squat,2,,225,lb,3,,",
        "Ada 2031-05-04T18:20 back squat 2 work 225 lb × 3 rir ?",
    );
    check(
        "Ada,2031-05-04,chin-up,1,test,-20,,8,0.5,",
        "Ada 2031-05-04 chin-up 1 test -20 kg × 8 rir 0.5",
    );
    check(
        "Ada,2031-05-04,chin-up,1,warm-up,0,kg,8,,",
        "Ada 2031-05-04 chin-up 1 warm-up 0 kg × 8 rir ?",
    );
    check(
        "Ada,2031-05-04,chin-up,1,,BW+10,kg,8,,",
        "Ada 2031-05-04 chin-up 1 work 10 kg × 8 rir ?",
    );
    check(
        "Ada,2031-05-04,back squat,1,,225 lbs,,5,,",
        "Ada 2031-05-04 back squat 1 work 225 lb × 5 rir ?",
    );
}

#[test]
fn nonsense_is_refused_with_its_reason() {
    use RefusalClass as C;
    check_refused("Ada,2031-05-04,back squat,1,,100,kg,0,,", C::Reps, "from 1 to 200");
    check_refused("Ada,2031-05-04,back squat,1,,100,kg,1e9,,", C::Reps, "from 1 to 200");
    check_refused("Ada,2031-05-04,back squat,1,,100,kg,NaN,,", C::Reps, "not a number");
    check_refused("Ada,2031-05-04,back squat,1,,100,kg,5.5,,", C::Reps, "between two steps");
    check_refused("Ada,2031-05-04,back squat,1,,NaN,kg,5,,", C::Load, "not a number");
    check_refused("Ada,2031-05-04,back squat,1,,inf,kg,5,,", C::Load, "not a number");
    check_refused("Ada,2031-05-04,back squat,1,,1e9,kg,5,,", C::Load, "out of range");
    check_refused("Ada,2031-05-04,back squat,1,,-20,kg,5,,", C::Load, "moves no body mass");
    check_refused("Ada,2031-05-04,back squat,1,,0,kg,5,,", C::Load, "moves no body mass");
    check_refused("Ada,2031-05-04,back squat,1,,,kg,5,,", C::Load, "write a number");
    check_refused("Ada,2031-05-04,back squat,1,,100,stone,5,,", C::Load, "unit `stone`");
    check_refused("Ada,2031-05-04,back squat,1,,225 lb,kg,5,,", C::Load, "its own unit is lb");
    check_refused("Ada,2031-06-03,back squat,1,,100,kg,5,,", C::Date, "in the future");
    check_refused("Ada,2031-02-30,back squat,1,,100,kg,5,,", C::Date, "write it as");
    check_refused("Ada,2031-05-04T18:20Z,back squat,1,,100,kg,5,,", C::Date, "without a zone");
    check_refused("Ada,1931-05-04,back squat,1,,100,kg,5,,", C::Date, "1950 to 2200");
    check_refused("Ada,2031-05-04,back squat,0,,100,kg,5,,", C::SetNumber, "from 1 to 99");
    check_refused("Ada,2031-05-04,back squat,,,100,kg,5,,", C::SetNumber, "set is empty");
    check_refused("Ada,2031-05-04,back squat,1,hard,100,kg,5,,", C::Kind, "`warm-up`");
    check_refused("Ada,2031-05-04,back squat,1,,100,kg,5,11,", C::Rir, "from 0 to 10");
    check_refused(",2031-05-04,back squat,1,,100,kg,5,,", C::Lifter, "at least one letter");
    check_refused("Ada,2031-05-04,,1,,100,kg,5,,", C::UnknownLift, "at least one letter");
    check_refused(
        "Ada,2031-05-04,bakc squat,1,,100,kg,5,,",
        C::UnknownLift,
        "did you mean `back squat`",
    );
    check_refused("Ada", C::Date, "write it as");
    let long = "x".repeat(2_001);
    check_refused(
        &format!("Ada,2031-05-04,back squat,1,,100,kg,5,,{long}"),
        C::Note,
        "2000 characters",
    );
}

#[test]
fn tomorrow_is_not_the_future() {
    check(
        "Ada,2031-06-02,back squat,1,,100,kg,5,,",
        "Ada 2031-06-02 back squat 1 work 100 kg × 5 rir ?",
    );
}

// Source: Zourdos et al. 2016, J Strength Cond Res 30:267, RIR-based RPE scale: RPE 10 = no
//   repetition in reserve, 9 = 1, 8 = 2, 7 = 3; 9.5 and 8.5 lie between; light effort below 5 is not
//   expressed in repetitions. Values 8 and 9.5 from memory.
#[test]
fn rpe_is_ten_less_reps_in_reserve() {
    let check = |rpe: &str, expected: Option<f64>| {
        let text = format!(
            "lifter,date,lift,load,unit,reps,rpe\nAda,2031-05-04,deadlift,200,kg,3,{rpe}\n"
        );
        let outcome = read(&text);
        assert_eq!(outcome.sets[0].1.rir.map(Rir::get), expected, "RPE {rpe}");
    };
    check("10", Some(0.0));
    check("9.5", Some(0.5));
    check("9", Some(1.0));
    check("8", Some(2.0));
    check("7", Some(3.0));
    check("5", Some(5.0));
    check("4.5", None);
    check("1", None);
    check("", None);
    let refused =
        read("lifter,date,lift,load,unit,reps,rpe\nAda,2031-05-04,deadlift,200,kg,3,11\n");
    assert_eq!(refused.report.first_refusals[0].class, RefusalClass::Rir);
}

// Source: NIST Special Publication 811, appendix B: 1 lb = 0.453 592 37 kg exactly; 225 lb are
//   102.058 283 25 kg, kept to the gram.
#[test]
fn pounds_are_the_international_pound() {
    let outcome = read(&format!("{HEADER}Ada,2031-05-04,back squat,1,,225,lb,5,,\n"));
    assert_eq!(outcome.sets[0].1.load.grams(), 102_058);
}

#[test]
fn a_foreign_table_is_read_by_naming_its_columns() {
    let bytes = include_bytes!("../../../examples/foreign-log.csv");
    let named = plan(&[
        "value lifter=Ines Marrow",
        "column date=Training date",
        "column lift=Exercise",
        "column load=Weight (lb)",
        "column reps=Repetitions",
        "column rpe=effort (rpe)",
        "column note=Remarks",
    ]);
    let outcome = read_bytes(bytes, &named).expect("readable");
    assert_eq!(outcome.report.refused, 0, "{:?}", outcome.report.first_refusals);
    assert_eq!(outcome.report.new, 37);
    assert_eq!(outcome.report.how.ignored, ["Gym"]);
    assert_eq!(
        outcome.sets[4].1,
        LoggedSet {
            lifter: LifterName::new("Ines Marrow").expect("name"),
            when: When::parse("2025-04-07").expect("date"),
            lift: LiftName::new("bench press").expect("name"),
            number: SetNumber::new(2).expect("number"),
            kind: SetKind::Work,
            load: Load::new(182.5, Unit::Lb).expect("load"),
            reps: Reps::new(6).expect("reps"),
            rir: Some(Rir::new(1.5).expect("rir")),
            note: Note::default(),
        }
    );
}

#[test]
fn unnamed_columns_are_proposed_and_never_taken_unasked() {
    let bytes: &[u8] = include_bytes!("../../../examples/foreign-log.csv");
    let lifter = plan(&["value lifter=Ines Marrow"]);
    let error = read_bytes(bytes, &lifter).err().expect("columns are missing").to_string();
    for option in ["--column load=\"Weight (lb)\"", "--column lift=\"Exercise\""] {
        assert!(error.contains(option), "{error}");
    }
    let seen = look(bytes, TableKind::Log, &lifter, &CATALOGUE).expect("a look");
    assert_eq!((seen.kind, seen.missing, seen.questions), (FileKind::OtherTable, vec![], vec![]));
    assert_eq!((seen.how.separator.as_str(), seen.how.decimal.as_str()), ("semicolon", "comma"));
    assert_eq!((seen.how.date_order.as_str(), seen.how.unit.as_deref()), ("day-first", Some("lb")));
    let taken = ImportPlan { take_proposals: true, ..lifter };
    assert_eq!(read_bytes(bytes, &taken).expect("readable").report.new, 37);
}

#[test]
fn a_date_is_proposed_by_what_stands_in_its_column() {
    let text = "lifter,D,what,load,unit,reps\nAda,2031-05-04,back squat,100,kg,5\n";
    let taken = ImportPlan { take_proposals: true, ..ImportPlan::default() };
    assert_eq!(read_bytes(text.as_bytes(), &taken).expect("readable").report.new, 1);
}

/// Checks what is asked about a table of these dates, or the order that is found.
fn check_order(dates: &[&str], expected: Result<&str, &str>) {
    let mut text = "lifter;date;lift;load;unit;reps\n".to_owned();
    for date in dates {
        text.push_str(&format!("Ada;{date};back squat;100;kg;5\n"));
    }
    match (read_bytes(text.as_bytes(), &ImportPlan::default()), expected) {
        (Ok(outcome), Ok(first)) => {
            assert_eq!(outcome.sets[0].1.when.to_string(), first, "{dates:?}");
        }
        (Err(error @ ImportError::Asked(_)), Err(words)) => {
            assert!(error.to_string().contains(words), "{dates:?}: {error}");
        }
        (got, _) => panic!("{dates:?}: {:?}", got.map(|outcome| outcome.report)),
    }
}

#[test]
fn date_orders_are_found_or_asked_for() {
    check_order(&["2031-05-04"], Ok("2031-05-04"));
    check_order(&["2031/5/4"], Ok("2031-05-04"));
    check_order(&["4.5.2031"], Ok("2031-05-04"));
    check_order(&["04/05/2031", "13/05/2031"], Ok("2031-05-04"));
    check_order(&["04/05/2031", "05/13/2031"], Ok("2031-04-05"));
    check_order(&["4 May 2031"], Ok("2031-05-04"));
    check_order(&["May 4, 2031"], Ok("2031-05-04"));
    check_order(&["04-May-31 6:20 PM"], Ok("2031-05-04T18:20"));
    check_order(&["05/05/2031"], Ok("2031-05-05"));
    check_order(&["04/05/2031"], Err("2031-05-04 or 2031-04-05"));
    check_order(&["04/05/2031"], Err("--date-order day-first"));
    check_order(&["04/05/2031", "05/05/2031"], Err("line 2"));
    check_order(&["13/05/2031", "05/13/2031"], Err("disagree"));
}

#[test]
fn a_date_that_contradicts_the_order_is_refused() {
    let text = "lifter,date,lift,load,unit,reps\nAda,04/05/2031,back squat,100,kg,5\n\
                Ada,05/13/2031,back squat,100,kg,5\n";
    let outcome = read_bytes(text.as_bytes(), &plan(&["order day-first"])).expect("readable");
    assert_eq!(outcome.sets.len(), 1);
    let refusal = &outcome.report.first_refusals[0];
    assert_eq!((refusal.line, refusal.class), (3, RefusalClass::Date));
    assert!(refusal.reason.contains("day first"), "{}", refusal.reason);
    assert_eq!("dmy".parse(), Ok(DateOrder::DayFirst));
}

#[test]
fn decimal_marks_are_found_or_asked_for() {
    let read = |load: &str, more: &str, options: &[&str]| {
        let text = format!(
            "lifter;date;lift;load;unit;reps\nAda;2031-05-04;back squat;{load};lb;5\n{more}"
        );
        read_bytes(text.as_bytes(), &plan(options))
            .map(|outcome| outcome.sets.first().map(|(_, set)| set.load.value()))
    };
    assert_eq!(read("102,5", "", &[]).expect("read"), Some(102.5));
    assert_eq!(read("102.5", "", &[]).expect("read"), Some(102.5));
    assert!(matches!(
        read("1,250", "", &[]),
        Err(ImportError::Asked(asked)) if matches!(asked[0], Question::Decimal { line: 2, .. })
    ));
    assert_eq!(read("1,250", "", &["decimal comma"]).expect("read"), Some(1.25));
    let both = "Ada;2031-05-04;back squat;100.5;lb;5\n";
    assert!(matches!(read("102,5", both, &[]), Err(ImportError::Asked(_))));
    assert_eq!(read("102,5", "", &["decimal point"]).expect("read"), None, "the other mark");
    assert_eq!(",".parse(), Ok(DecimalMark::Comma));
}

#[test]
fn the_unit_is_asked_for_unless_something_names_it() {
    let text = "lifter,date,exercise,weight,reps\nAda,2031-05-04,back squat,100,5\n";
    let columns = ["column lift=exercise", "column load=weight"];
    let error = read_bytes(text.as_bytes(), &plan(&columns)).err().expect("asked");
    assert!(error.to_string().contains("--unit kg"), "{error}");
    let said = plan(&[columns[0], columns[1], "unit lb"]);
    let outcome = read_bytes(text.as_bytes(), &said).expect("readable");
    assert_eq!(outcome.sets[0].1.load.to_string(), "100 lb");
}

#[test]
fn separators_encodings_and_line_ends_are_found() {
    let text = "lifter,date,lift,set,kind,load,unit,reps,rir,note\r\n\
                Zoë,2031-05-04,back squat,1,,100,kg,5,,für später\r\n\r\n";
    let expected = "Zoë 2031-05-04 back squat 1 work 100 kg × 5 rir ? \"für später\"";
    let check = |bytes: &[u8], how: &str| {
        let outcome = read_bytes(bytes, &ImportPlan::default()).expect("readable");
        let got: Vec<_> = outcome.sets.iter().map(|(line, set)| (*line, words(set))).collect();
        assert_eq!(got, [(2, expected.to_owned())], "{how}");
        let encoding = &outcome.report.how.encoding;
        assert!(how.starts_with(encoding.as_str()), "{how}, got {encoding}");
    };
    check(text.as_bytes(), "utf-8");
    check(&[b"\xef\xbb\xbf", text.as_bytes()].concat(), "utf-8 with a mark");
    check(&encoding_rs::WINDOWS_1252.encode(text).0, "windows-1252");
    let utf16: Vec<u16> = text.encode_utf16().collect();
    let little: Vec<u8> = utf16.iter().flat_map(|unit| unit.to_le_bytes()).collect();
    let big: Vec<u8> = utf16.iter().flat_map(|unit| unit.to_be_bytes()).collect();
    check(&[&b"\xff\xfe"[..], &little].concat(), "utf-16le");
    check(&[&b"\xfe\xff"[..], &big].concat(), "utf-16be");
    check(text.replace("\r\n", "\r").as_bytes(), "utf-8 with carriage returns");
    for separator in [";", "\t", "|"] {
        check(text.replace(',', separator).as_bytes(), "utf-8 with another separator");
    }
}

#[test]
fn windows_letters_after_a_long_ascii_beginning_are_read_and_told() {
    let mut bytes = HEADER.as_bytes().to_vec();
    for n in 0..30_000 {
        let line = format!("Ada{n},2031-05-04,back squat,1,,100,kg,5,,\n");
        bytes.extend_from_slice(line.as_bytes());
    }
    bytes.extend_from_slice(b"Zo\xeb,2031-05-04,back squat,1,,100,kg,5,,\n");
    let outcome = read_bytes(&bytes, &ImportPlan::default()).expect("readable");
    assert_eq!(outcome.sets.last().expect("a set").1.lifter.as_str(), "Zoë");
    assert!(outcome.report.warnings[0].contains("windows-1252"), "{:?}", outcome.report.warnings);
}

#[test]
fn sets_are_counted_where_the_table_has_no_numbers() {
    let text = "lifter,date,lift,load,unit,reps\n\
                Ada,2031-05-04,back squat,100,kg,5\n\
                Ada,2031-05-04,back squat,100,kg,nine\n\
                Bo,2031-05-04,back squat,100,kg,5\n\
                Ada,2031-05-04,Back-Squat,100,kg,5\n\
                Ada,2031-05-06,back squat,100,kg,5\n";
    let outcome = read(text);
    let numbers: Vec<u8> = outcome.sets.iter().map(|(_, set)| set.number.get()).collect();
    assert_eq!(numbers, [1, 1, 3, 1]);
    let (header, line) = outcome.rejects.split_once('\n').expect("two lines");
    assert_eq!(header, "line,reason,set,lifter,date,lift,load,unit,reps");
    assert!(line.contains(",2,Ada,2031-05-04,back squat,100,kg,nine"), "{line}");
    let mended = read(&outcome.rejects.replace("kg,nine", "kg,9"));
    assert_eq!(mended.sets[0].1.number.get(), 2, "a mended line keeps its place");
}

#[test]
fn lines_that_repeat_are_skipped_and_lines_that_differ_are_refused() {
    let line = "Ada,2031-05-04,back squat,1,,100,kg,5,,\n";
    let other = "ADA,2031-05-04,back squat,1,,105,kg,5,,\n";
    let outcome = read(&format!("{HEADER}{line}{line}{other}"));
    assert_eq!((outcome.report.new, outcome.report.repeated), (1, 1));
    let refusal = &outcome.report.first_refusals[0];
    assert_eq!((refusal.line, refusal.class), (4, RefusalClass::EarlierLine));
    assert!(refusal.reason.contains("line 2"), "{}", refusal.reason);
}

#[test]
fn units_that_look_swapped_are_told() {
    let text = |lb: f64| {
        let mut text = HEADER.to_owned();
        for day in 1..=4 {
            let (load, unit) = if day < 3 { (100.0, "kg") } else { (lb, "lb") };
            text.push_str(&format!("Ada,2031-05-0{day},back squat,1,,{load},{unit},5,,\n"));
        }
        read(&text).report.warnings
    };
    assert_eq!(text(102.0).len(), 1, "100 lb beside 100 kg");
    assert!(text(220.0).is_empty(), "the same mass in both units");
}

/// Checks that a file as a whole is refused, in these words.
fn check_file_refused(bytes: &[u8], words: &str) {
    let error = read_bytes(bytes, &ImportPlan::default()).err().expect("refused").to_string();
    assert!(error.contains(words), "{error}");
}

#[test]
fn files_that_are_no_log_are_refused_in_plain_words() {
    check_file_refused(b"", "the file is empty");
    check_file_refused(b"\n\n\r\n", "the file is empty");
    check_file_refused(b"lifter,date\0,lift\n", "NUL bytes");
    check_file_refused(b"PK\x03\x04 and so on", "a workbook or a zip archive");
    check_file_refused(&[0x81, 0x8d, 0x90, 0xff, 0xfe, 0x81, b'\n'], "neither UTF-8 nor");
    check_file_refused(b"lifter,date,lift,reps\n", "no column is named for `load`");
    check_file_refused(b"lifter,date,lift,load,load,reps\n", "stands over two columns");
    let columns = plan(&["column load=Wieght"]);
    let error = read_bytes(b"lifter,date,lift,Weight,reps\n", &columns).err().expect("refused");
    assert!(error.to_string().contains("did you mean `Weight`"), "{error}");
}

#[test]
fn a_header_alone_is_no_error() {
    let outcome = read(HEADER);
    assert_eq!((outcome.report.lines, outcome.report.warnings.len()), (0, 1));
    assert_eq!(outcome.rejects, "", "no rejects are written");
}

#[test]
fn a_line_of_200_mb_costs_that_line_only() {
    use std::io::Read;
    let before = format!("{HEADER}Ada,2031-05-04,back squat,1,,100,kg,5,,\n");
    let after = "\nAda,2031-05-04,back squat,2,,100,kg,5,,\n";
    let reader =
        before.as_bytes().chain(std::io::repeat(b'x').take(200 << 20)).chain(after.as_bytes());
    let catalogue = &*CATALOGUE;
    let (mut rejects, mut told) = (Vec::new(), 0);
    let with = Import {
        catalogue,
        plan: &ImportPlan::default(),
        today: TODAY,
        rejects: &mut rejects,
        progress: &mut |progress| told = progress.bytes,
    };
    let (sets, report) = read_log_whole(reader, with).expect("readable");
    assert_eq!(sets.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [2, 4]);
    assert_eq!(report.first_refusals[0].line, 3);
    assert!(report.first_refusals[0].reason.contains("longer than 1 MiB"));
    assert!(rejects.len() < 4_000 && told > 200 << 20, "{} {told}", rejects.len());
}

#[test]
fn an_open_quote_costs_its_line_and_not_the_rest() {
    let mut text = HEADER.to_owned();
    for set in 1..=9 {
        let note = if set == 3 { "\"never closed" } else { "" };
        for day in 1..=28 {
            let line = format!("Ada,2031-05-{day:02},back squat,{set},,100,kg,5,,");
            text.push_str(&format!("{line}{}\n", if day == 1 { note } else { "" }));
        }
    }
    let outcome = read(&text);
    assert_eq!((outcome.report.new, outcome.report.refused), (9 * 28 - 1, 1));
    let refusal = &outcome.report.first_refusals[0];
    assert_eq!(refusal.line, 2 + 2 * 28);
    assert!(refusal.reason.contains("not closed"), "{}", refusal.reason);
    let short = read(&format!("{HEADER}A,\"x\nAda,2031-05-04,back squat,1,,100,kg,5,,"));
    assert_eq!((short.report.new, short.report.refused), (1, 1), "open to the end of the file");
}

#[test]
fn blank_lines_trailing_separators_and_more_columns_do_no_harm() {
    let text = "lifter,date,lift,set,load,reps,,Mood\n\n,,,,,,,\n   \n\
                Ada,2031-05-04,back squat,1,100,5,,fine,,\n";
    let outcome = read(text);
    assert_eq!(outcome.sets[0].0, 5);
    assert_eq!(outcome.report.how.ignored, ["Mood"]);
}

#[test]
fn quoted_cells_may_run_over_lines_and_the_line_is_where_they_start() {
    let text = format!(
        "{HEADER}Ada,2031-05-04,back squat,1,,100,kg,5,,\"one\ntwo\"\n\
         Ada,2031-05-04,back squat,2,,100,kg,none,,\"a \"\"b\"\", c\"\n"
    );
    let outcome = read(&text);
    assert_eq!(outcome.sets[0].1.note.as_str(), "one\ntwo");
    assert_eq!(outcome.report.first_refusals[0].line, 4);
    let mended = read(&outcome.rejects.replace("none", "5"));
    assert_eq!(mended.sets[0].1.note.as_str(), "a \"b\", c");
}

#[test]
fn rejects_are_well_formed_csv() {
    let text = format!("{HEADER}\"x,y\",1,2,3,4,5,6,7,8,9,10,11,12\nAda\na,\"\nb,\"c\",d\"\n");
    let outcome = read(&text);
    let mut reader = csv::ReaderBuilder::new().from_reader(outcome.rejects.as_bytes());
    let records: Vec<_> = reader.records().collect::<Result<_, _>>().expect("all of one width");
    assert_eq!(records.len() as u64, outcome.report.refused);
    assert_eq!(&records[0][2], "\"x,y\",1,2,3,4,5,6,7,8,9,10,11,12", "kept word for word");
}

/// The signs: OWASP's page on CSV injection, from memory. A spreadsheet that opens the rejects runs nothing, a
/// load below 0 stays a number, and the mended lines say what the first ones said.
#[test]
fn rejects_hold_no_formula_and_say_the_same_again() {
    let body = "=Ada,2031-05-04,chin-up,1,,-20,kg,none,,=cmd|' /C calc'!A0\n\
        @Bo,2031-05-04,chin-up,1,,-20,kg,none,,\"-1 kg, \"\"slow\"\"\"\n\
        '+Cy,2031-05-04,chin-up,1,,'-20,kg,none,,''=1+1\n\
        +Di,2031-05-04,chin-up,1,,+20,kg,none,,\"\t+1\"\n\
        =too,few\n=too,many,3,4,5,6,7,8,9,10,11\n";
    let outcome = read(&format!("{HEADER}{body}"));
    assert_eq!((outcome.sets.len(), outcome.report.refused), (0, 6));
    let mut reader = csv::ReaderBuilder::new().from_reader(outcome.rejects.as_bytes());
    let rows: Vec<_> = reader.records().collect::<Result<_, _>>().expect("all of one width");
    for cell in rows.iter().flat_map(|row| row.iter()) {
        let runs = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
        assert!(!runs || ["-20", "+20"].contains(&cell), "{cell} in {}", outcome.rejects);
    }
    assert_eq!((&rows[0][7], &rows[3][7]), ("-20", "+20"), "numbers stay numbers");
    assert_eq!(&rows[5][2], "'=too,many,3,4,5,6,7,8,9,10,11");
    let mended = read(&outcome.rejects.replace("none", "5"));
    let told = |idx: usize| {
        let set: &LoggedSet = &mended.sets[idx].1;
        (set.lifter.as_str(), set.load.kg(), set.note.as_str())
    };
    assert_eq!(mended.sets.len(), 4);
    assert_eq!(told(0), ("=Ada", -20.0, "=cmd|' /C calc'!A0"));
    assert_eq!(told(1), ("@Bo", -20.0, "-1 kg, \"slow\""));
    assert_eq!(told(2), ("+Cy", -20.0, "'=1+1"));
    assert_eq!(told(3), ("+Di", 20.0, "+1"));
    let headers = "lifter,date,lift,load,reps,=note\n";
    let columns = plan(&["column note==note", "unit kg"]);
    let table = format!("{headers}Ada,2031-05-04,chin-up,5,none,@home\n");
    let first = read_bytes(table.as_bytes(), &columns).expect("readable");
    assert!(first.rejects.lines().next().is_some_and(|line| line.ends_with(",'=note")));
    let again = first.rejects.replace("none", "5");
    let again = read_bytes(again.as_bytes(), &columns).expect("readable");
    assert_eq!(again.sets[0].1.note.as_str(), "@home");
}

#[test]
fn unknown_lifts_are_listed_with_near_matches() {
    let text = format!(
        "{HEADER}Ada,2031-05-04,squat back,1,,100,kg,5,,\nAda,2031-05-04,Squat Back,2,,100,kg,5,,\n\
         Ada,2031-05-04,qqqq,1,,100,kg,5,,\n"
    );
    let unknown = read(&text).report.unknown_lifts;
    assert_eq!((unknown[0].name.as_str(), unknown[0].lines), ("squat back", 2));
    assert_eq!(unknown[0].near[0], "back squat");
    assert!(unknown[1].near.is_empty());
    assert_eq!(near_lifts("dedlift", &CATALOGUE)[0], "deadlift");
}

#[test]
fn the_example_files_are_whole_and_recognised() {
    let log: &[u8] = include_bytes!("../../../examples/log.csv");
    let check_ins: &[u8] = include_bytes!("../../../examples/check-ins.csv");
    let lifts = include_str!("../../../examples/lifts.toml");
    assert_eq!(recognise(log), FileKind::Log);
    assert_eq!(recognise(check_ins), FileKind::CheckIns);
    assert_eq!(recognise(lifts.as_bytes()), FileKind::LiftFile);
    assert_eq!(recognise(b"{\"fact\":1}\n"), FileKind::Export);
    assert_eq!(recognise(b"a,b\n1,2\n"), FileKind::OtherTable);
    assert_eq!(recognise(b""), FileKind::Empty);
    assert!(matches!(recognise(b"\0\0\0"), FileKind::NotATable(_)));
    Catalogue::built_in().with_file(lifts).expect("whole");
    let outcome = read_bytes(log, &ImportPlan::default()).expect("readable");
    assert_eq!((outcome.report.new, outcome.report.refused), (84, 0));
    assert_eq!(outcome.report.lifters.len(), 2);
    assert_eq!(outcome.report.first, Some(date(2025, 3, 3)));
}

#[test]
fn the_format_page_shows_what_is_read() {
    let page = include_str!("../../../docs/log-format.md");
    let blocks: Vec<&str> = page.split("```csv\n").skip(1).collect();
    let example = |n: usize| blocks[n].split("```").next().expect("a block");
    let outcome = read(example(0));
    assert_eq!((outcome.report.refused, outcome.report.new), (0, 6));
    let (check_ins, report) = read_check_in_bytes(example(1).as_bytes());
    assert_eq!((check_ins.len(), report.refused), (3, 0));
}

fn read_check_in_bytes(bytes: &[u8]) -> (Vec<domain::CheckIn>, ImportReport) {
    let catalogue = &*CATALOGUE;
    let (mut rejects, mut check_ins) = (Vec::new(), Vec::new());
    let with = Import {
        catalogue,
        plan: &ImportPlan::default(),
        today: TODAY,
        rejects: &mut rejects,
        progress: &mut |_| (),
    };
    let report = read_check_ins(bytes, with, &mut |_, check_in| {
        check_ins.push(check_in);
        Ok(service::import::Taken::New)
    })
    .expect("readable");
    (check_ins, report)
}

#[test]
fn check_ins_are_read_and_an_empty_cell_is_a_missing_item() {
    let (check_ins, report) =
        read_check_in_bytes(include_bytes!("../../../examples/check-ins.csv"));
    assert_eq!((check_ins.len(), report.refused), (14, 0), "{:?}", report.first_refusals);
    assert_eq!(check_ins[5].pain.map(domain::Pain::rating), Some(2));
    assert_eq!((check_ins[12].sleep_h, check_ins[12].stress), (None, Some(2.0)));
    let check_refused = |line: &str, words: &str| {
        let text = format!("{}\n{line}\n", TableKind::CheckIns.header());
        let (taken, report) = read_check_in_bytes(text.as_bytes());
        assert!(taken.is_empty(), "{line}");
        assert!(report.first_refusals[0].reason.contains(words), "{:?}", report.first_refusals);
    };
    check_refused("Ada,2031-05-04,25,,,,,", "sleep_h");
    check_refused("Ada,2031-05-04,,8,,,,", "stress");
    check_refused("Ada,2031-05-04,,,,5,,", "body_mass");
    check_refused("Ada,2031-05-04,,,,,knee,", "rate the pain");
    check_refused("Ada,2031-05-04,,,,,,4", "name the joint");
    check_refused("Ada,2031-05-04,,,,,knee,3.5", "whole points");
    check_refused("Ada,2031-05-04,,,,,knee,11", "pain");
}

#[test]
fn pounds_of_body_mass_are_read_from_the_header() {
    let text = "lifter,date,body_mass (lb)\nAda,2031-05-04,150\n";
    let (check_ins, _) = read_check_in_bytes(text.as_bytes());
    assert_eq!(check_ins[0].body_mass.map(domain::Mass::grams), Some(68_039));
}

fn any_set() -> impl Strategy<Value = LoggedSet> {
    let kinds = [SetKind::WarmUp, SetKind::Work, SetKind::Speed, SetKind::Test];
    (
        "[A-Za-z][A-Za-z ,;\"'é–]{0,12}",
        (0i64..20_000, proptest::option::of((0i8..24, 0i8..60, 0i8..60))),
        prop_oneof![Just("back squat"), Just("deadlift"), Just("chin-up")],
        (1u8..=99, 0usize..4),
        (1i32..1_500_000, any::<bool>()),
        (1u16..=200, proptest::option::of(0u8..=20)),
        "[ -~éß\n\t]{0,30}",
    )
        .prop_map(
            move |(lifter, (days, time), lift, (number, kind), (grams, lb), (reps, rir), note)| {
                let day =
                    date(1970, 1, 1).checked_add(jiff::Span::new().days(days)).expect("a day");
                let time = time.map(|(h, m, s)| jiff::civil::time(h, m, s, 0));
                let unit = if lb { Unit::Lb } else { Unit::Kg };
                LoggedSet {
                    lifter: LifterName::new(&lifter).expect("name"),
                    when: When::new(day, time).expect("when"),
                    lift: LiftName::new(lift).expect("name"),
                    number: SetNumber::new(number).expect("number"),
                    kind: kinds[kind],
                    load: Load::from_grams(grams, unit).expect("load"),
                    reps: Reps::new(reps).expect("reps"),
                    rir: rir.map(|halves| Rir::new(f64::from(halves) / 2.0).expect("rir")),
                    note: Note::new(&note).expect("note"),
                }
            },
        )
}

/// A cell of text as `docs/log-format.md` asks for: an apostrophe before what a spreadsheet would run.
fn as_text_cell(text: &str) -> String {
    let bare = text.trim_start_matches(|c: char| c == '\'' || c.is_whitespace());
    let is_set_off = text.trim_start_matches('\'').starts_with(['\t', '\r', '\n']);
    let runs = bare.starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']) || is_set_off;
    let apostrophe = if runs { "'" } else { "" };
    format!("{apostrophe}{text}")
}

proptest! {
    #![proptest_config(properties::config(256))]

    #[test]
    fn any_sets_written_in_our_format_come_back(sets in prop::collection::vec(any_set(), 1..20)) {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(TableKind::Log.header().split(',')).expect("written");
        let mut expected: Vec<LoggedSet> = Vec::new();
        for set in sets {
            if expected.iter().any(|other| other.id() == set.id()) {
                continue;
            }
            writer.write_record([
                set.lifter.as_str(),
                &set.when.to_string(),
                set.lift.as_str(),
                &set.number.get().to_string(),
                set.kind.as_str(),
                &format!("{:.6}", set.load.kg() / set.load.unit().kg()),
                set.load.unit().as_str(),
                &set.reps.to_string(),
                &set.rir.map_or(String::new(), |rir| rir.to_string()),
                &as_text_cell(set.note.as_str()),
            ]).expect("written");
            expected.push(set);
        }
        let bytes = writer.into_inner().expect("written");
        let outcome = read_bytes(&bytes, &ImportPlan::default()).expect("readable");
        prop_assert_eq!(&outcome.report.first_refusals, &[]);
        let got: Vec<LoggedSet> = outcome.sets.into_iter().map(|(_, set)| set).collect();
        // One lifter has one spelling: the first.
        for (got, expected) in got.iter().zip(&expected) {
            prop_assert_eq!(got.lifter.key(), expected.lifter.key());
            prop_assert_eq!(&LoggedSet { lifter: expected.lifter.clone(), ..got.clone() }, expected);
        }
        prop_assert_eq!(got.len(), expected.len());
    }

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = recognise(&bytes);
        if let Ok(outcome) = read_bytes(&bytes, &ImportPlan::default()) {
            prop_assert!(outcome.report.lines > 0 || !outcome.report.warnings.is_empty());
        }
    }

    #[test]
    fn random_tables_never_panic(body in "([Ada\"0-9,;:./T\r\n -]|back squat|2031-05-04){0,60}") {
        let text = format!("{HEADER}{body}");
        let outcome = read_bytes(text.as_bytes(), &plan(&["order day-first", "decimal point"])).expect("readable");
        if outcome.report.refused > 0 {
            let mut reader = csv::ReaderBuilder::new().from_reader(outcome.rejects.as_bytes());
            let rows = reader.records().collect::<Result<Vec<_>, _>>().expect("one width");
            prop_assert_eq!(rows.len() as u64, outcome.report.refused);
        }
    }
}
