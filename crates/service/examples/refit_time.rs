//! How long fitting takes: virtual lifters in a store, refitted, and refitted again.
//!
//! `cargo run --release -p service --example refit_time [LIFTERS] [WEEKS] [THREADS]`. Says nothing of how
//! good the fits are; the example `virtual_lifters` does.

use std::time::Instant;

use domain::{Lifter, Unit};
use engine::virtual_lifters::{World, draw};
use jiff::Timestamp;
use jiff::civil::date;
use service::population::pool;
use service::population::refit::{FitVerdict, Refit, RefitReport};
use service::{Desk, Store};
use store::OnDifference;

const END: jiff::civil::Date = date(2031, 5, 4);

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<usize> =
        std::env::args().skip(1).map(|text| text.parse()).collect::<Result<_, _>>()?;
    let argument = |idx: usize, otherwise: usize| arguments.get(idx).copied().unwrap_or(otherwise);
    let (n, weeks, threads) = (argument(0, 20), argument(1, 104), argument(2, 2));
    let path = std::env::temp_dir().join(format!("refit-time-{}.bellwether", std::process::id()));
    let store = Store::open(&path)?;
    fill(&store, n, u16::try_from(weeks)?)?;
    let refit =
        |all| Refit { store: &store, lifter: None, all, threads, now: Timestamp::UNIX_EPOCH };
    let timed = |all| -> Result<RefitReport, service::ServiceError> {
        let begun = Instant::now();
        let report = refit(all).run(&mut |_, _, _| ())?;
        let seconds = begun.elapsed().as_secs_f64();
        let made: u64 = report.lifters.iter().map(|line| line.made).sum();
        println!("{made} fits in {seconds:.1} s: {:.2} s a lifter", seconds / n as f64);
        Ok(report)
    };
    let report = timed(false)?;
    let converged = report.count(FitVerdict::Converged);
    let lead_sets: u64 = report.lifters.iter().map(|line| line.lead_sets).sum();
    println!("{lead_sets} lead sets; {converged} of {n} lifters converged");
    timed(false)?;
    let begun = Instant::now();
    let proposal = pool::propose(&store, false, &mut |_, _| ())?;
    println!("pooling {} lifters: {:.2} s", proposal.n_lifters, begun.elapsed().as_secs_f64());
    let name = store.lifters()?.swap_remove(0).lifter.name;
    let begun = Instant::now();
    Desk::new(Store::open(&path)?).lifter(&name, END)?;
    println!("a page after a restart: {:.3} s", begun.elapsed().as_secs_f64());
    drop(store);
    std::fs::remove_file(&path)?;
    Ok(())
}

fn fill(store: &Store, n: usize, weeks: u16) -> Result<(), Box<dyn std::error::Error>> {
    let world = World::named("brisk").ok_or("there is no world `brisk`")?;
    let mut import = store.begin_import("virtual lifters", Timestamp::UNIX_EPOCH)?;
    for one in draw(&world, 2031, n, weeks, END)?.lifters {
        let Some(first) = one.sets.first() else { continue };
        import.add_lifter_if_missing(&Lifter::usual(first.lifter.clone(), Unit::Kg))?;
        for set in &one.sets {
            import.add_set(set, OnDifference::Keep)?;
        }
        for check_in in &one.check_ins {
            import.add_check_in(check_in, OnDifference::Keep)?;
        }
    }
    import.commit()?;
    Ok(())
}
