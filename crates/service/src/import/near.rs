//! Near matches of names: what may be meant by a lift or header that isn't known.
//!
//! Names are compared letter by letter (Damerau–Levenshtein distance, with neighbours swapped as
//! one step) after folding, and once more with their words sorted, so that `bench press, dumbbell`
//! finds `dumbbell bench press`.

use domain::bounds::folded;

/// How alike two names must be, from 0 to 1, to be offered.
const ALIKE: f64 = 0.62;
/// How many names are offered.
const OFFERED: usize = 3;

/// The names most like `wanted`, likeliest first; at most three, none if nothing is alike.
pub fn nearest<'a>(wanted: &str, known: impl Iterator<Item = &'a str>) -> Vec<String> {
    let wanted = Name::new(wanted);
    let mut scored: Vec<(f64, &str)> = known
        .map(|name| (wanted.likeness(&Name::new(name)), name))
        .filter(|(likeness, _)| *likeness >= ALIKE)
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
    scored.dedup_by(|a, b| a.1 == b.1);
    scored.into_iter().take(OFFERED).map(|(_, name)| name.to_owned()).collect()
}

/// A name in the forms in which it is compared.
struct Name {
    folded: String,
    sorted: String,
}

impl Name {
    fn new(text: &str) -> Name {
        let mut words: Vec<String> = text
            .split(|c: char| !c.is_alphanumeric())
            .map(folded)
            .filter(|word| !word.is_empty())
            .collect();
        words.sort_unstable();
        Name { folded: folded(text), sorted: words.concat() }
    }

    fn likeness(&self, other: &Name) -> f64 {
        let as_written = strsim::normalized_damerau_levenshtein(&self.folded, &other.folded);
        let any_order = strsim::normalized_damerau_levenshtein(&self.sorted, &other.sorted);
        as_written.max(any_order)
    }
}
