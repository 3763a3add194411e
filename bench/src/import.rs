//! Reading a log: every line checked and turned into a set, against the `csv` crate splitting the same
//! bytes into fields and doing nothing with them.

use std::error::Error;
use std::fmt::Write as _;
use std::fs::File;
use std::hint::black_box;
use std::io::{BufReader, Write as _};

use domain::Catalogue;
use service::import::{Import, ImportPlan, Taken, read_log};

use crate::best_of;

/// Writes a log of so many sets to `file`, times both readers over it and prints nanoseconds.
pub fn run(file: &str, lines: &str) -> Result<(), Box<dyn Error>> {
    let n: usize = lines.parse()?;
    File::create(file)?.write_all(log(n).as_bytes())?;
    let catalogue = Catalogue::built_in();
    let (plain, fields) = best_of(5, || split(file));
    let (ours, sets) = best_of(5, || read(file, &catalogue));
    if sets? != n || fields? != n * 10 {
        return Err("the two readers disagree about the number of lines".into());
    }
    println!("import_lines {n}");
    println!("import_plain_ns {plain}");
    println!("import_ours_ns {ours}");
    Ok(())
}

/// Twenty lifters, four lifts a session, five sets each.
fn log(n: usize) -> String {
    let mut text = String::from("lifter,date,lift,set,kind,load,unit,reps,rir,note\n");
    let lifts = ["back squat", "bench press", "barbell row", "leg press"];
    for line in 0..n {
        let (set, lift, lifter) = (line % 5 + 1, lifts[line / 5 % 4], line / 20 % 20);
        let session = line / 400;
        let date = jiff::civil::date(2000, 1, 1) + jiff::Span::new().days(session as i64);
        let load = 60.0 + 2.5 * (line % 31) as f64;
        let kind = if set == 1 { "warm-up" } else { "" };
        // writing to a String can't fail
        let _ = writeln!(
            text,
            "Lifter {lifter},{date}T18:05,{lift},{set},{kind},{load},kg,{},{},",
            5 + line % 4,
            line % 3
        );
    }
    text
}

fn split(file: &str) -> Result<usize, csv::Error> {
    let mut table = csv::Reader::from_reader(File::open(file)?);
    let mut record = csv::ByteRecord::new();
    let mut fields = 0;
    while table.read_byte_record(&mut record)? {
        fields += black_box(&record).len();
    }
    Ok(fields)
}

fn read(file: &str, catalogue: &Catalogue) -> Result<usize, Box<dyn Error>> {
    let mut sets = 0;
    let with = Import {
        catalogue,
        plan: &ImportPlan::default(),
        today: jiff::civil::date(2100, 1, 1),
        rejects: &mut std::io::sink(),
        progress: &mut |_| {},
    };
    read_log(BufReader::new(File::open(file)?), with, &mut |_, set| {
        black_box(set);
        sets += 1;
        Ok(Taken::New)
    })?;
    Ok(sets)
}
