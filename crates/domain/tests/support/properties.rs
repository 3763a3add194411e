//! How all properties of the workspace are tried: a failing one prints its seed, and nothing is written.
//!
//! proptest by itself writes the seed of a failure into the source tree and tries it again from there. Here it is
//! printed, with the variable that tries it again; whoever mends the failure keeps its input as a test with a name.
//! Every crate includes this file, and `cargo run -p xtask -- tidy` refuses a property without it.

use std::any::Any;
use std::fmt::Debug;

use proptest::test_runner::{Config, FailurePersistence, PersistedSeed};

/// Seeds to try first, one a line as they were printed.
const SEEDS: &str = "PROPERTY_SEEDS";

/// Random cases of each property of a block: `cases`, or as many as the variable `PROPTEST_CASES` says.
pub(crate) fn config(cases: u32) -> Config {
    beginning_with(Seeds::read(&std::env::var(SEEDS).unwrap_or_default()), cases)
}

/// The same, with these seeds first.
pub(crate) fn beginning_with(seeds: Seeds, cases: u32) -> Config {
    let usual = Config::default();
    let cases = if std::env::var_os("PROPTEST_CASES").is_some() { usual.cases } else { cases };
    Config { cases, failure_persistence: Some(Box::new(seeds)), ..usual }
}

/// Seeds that were given, and a voice for new ones.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Seeds(Vec<PersistedSeed>);

impl Seeds {
    /// Of the lines of a text; what isn't a seed would be tried by nobody, and is refused.
    pub(crate) fn read(text: &str) -> Seeds {
        let lines = text.lines().map(str::trim).filter(|line| !line.is_empty());
        let seed = |line: &str| line.parse().unwrap_or_else(|()| panic!("{SEEDS}: `{line}`"));
        Seeds(lines.map(seed).collect())
    }
}

impl FailurePersistence for Seeds {
    fn load_persisted_failures2(&self, _source_file: Option<&'static str>) -> Vec<PersistedSeed> {
        self.0.clone()
    }

    fn save_persisted_failure2(
        &mut self,
        source_file: Option<&'static str>,
        seed: PersistedSeed,
        shrunken_value: &dyn Debug,
    ) {
        let place = source_file.unwrap_or("a property");
        eprintln!(
            "{place} fails for {shrunken_value:?}\nto try it again: {SEEDS}='{seed}' cargo test …"
        );
    }

    fn box_clone(&self) -> Box<dyn FailurePersistence> {
        Box::new(self.clone())
    }

    fn eq(&self, other: &dyn FailurePersistence) -> bool {
        other.as_any().downcast_ref::<Self>() == Some(self)
    }

    fn as_any(&self) -> &dyn Any {
        self
    }
}
