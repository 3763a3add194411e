//! Plates on a bar or a plate-loaded machine: which totals exist, and the fewest plates for each.
//!
//! A bounded subset-sum problem, solved exactly. Taking the biggest plate that fits is wrong with
//! odd stocks: 30 kg a side out of 25, 20, two 10 and a 2.5 is 20 + 10, and starting from 25 never
//! gets there. Knows plates in pairs only, the same on both sides.
//!
//! Let `m_1 > m_2 > … > m_D` be the masses, `k_i` the pairs of each and `g` their greatest common
//! divisor. `f_i(s)` is the least number of plates out of masses `i…D` that sum to exactly `s·g`
//! grams a side, infinite if none do. Then `f_{D+1}(0) = 0` and
//! `f_i(s) = min over 0 ≤ c ≤ k_i of c + f_{i+1}(s − c·m_i/g)`: every choice of plates has some count
//! `c` of mass `i`, and what is left of it is a choice out of the rest, so nothing is missed and
//! nothing exceeds the stock. The tables hold whole numbers, so there is no rounding. Read back from
//! `i = 1` with the largest `c` that attains the minimum, they give the fewest plates and, among
//! equals, the most of the biggest.

use domain::{Bar, Load, Mass, PlateStock};

/// How far a loaded bar may be from a wanted load and still be that load, in grams.
///
/// Masses are whole grams, so 45 lb (20 411.66 g) is kept as 20 412 g, and a 45 lb bar with four
/// such plates sums to 102 060 g where 225 lb is 102 058 g. Each piece is off by at most half a
/// gram, so ten grams cover twenty pieces; the federation tolerance of a single disc is 0.25 % or
/// 10 g, whichever is more (IPF technical rules, read second-hand), and the smallest step of a
/// lift is 50 g, so two different steps are never taken for one.
pub const TOLERANCE_G: i64 = 10;

/// The most different masses that are looked at, heaviest first; a gym has fewer than twenty.
const MAX_MASSES: usize = 32;

/// No choice of plates gives this sum.
const NEVER: u16 = u16::MAX;

/// Plates of one mass on one side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlateCount {
    /// The mass of one plate.
    pub mass: Mass,
    /// How many of them on each side; at least 1.
    pub count: u16,
}

/// How a loaded total compares with what was wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fit {
    /// The same to within [`TOLERANCE_G`].
    Exact,
    /// Lighter than wanted by this much.
    Under(Mass),
    /// Heavier than wanted by this much.
    Over(Mass),
}

/// A bar or machine as it is loaded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Loaded {
    /// Plates on each side, heaviest first, that is from the inside out; empty for the bare bar.
    pub per_side: Vec<PlateCount>,
    /// Everything together: bar, collars and both sides.
    pub total: Mass,
    /// Whether that is what was wanted.
    pub fit: Fit,
}

impl Loaded {
    /// The plates of a side one by one, heaviest first.
    pub fn each(&self) -> impl Iterator<Item = Mass> + '_ {
        self.per_side.iter().flat_map(|p| std::iter::repeat_n(p.mass, usize::from(p.count)))
    }
}

/// Everything that a bar and a stock of plates can be loaded to.
#[derive(Clone, Debug)]
pub struct PlateLoading {
    empty: i64,
    divisor: i64,
    masses: Vec<Mass>,
    pairs: Vec<u8>,
    /// `fewest[i][s]` is `f_i(s)` of the file's head, `i` from 0.
    fewest: Vec<Vec<u16>>,
}

impl PlateLoading {
    /// Works out the totals of a bar with its collars and a stock of plates.
    #[must_use]
    pub fn of_bar(bar: Bar, stock: &PlateStock) -> PlateLoading {
        PlateLoading::new(bar.empty(), stock)
    }

    /// Works out the totals of something that weighs `empty` without plates; zero for a machine
    /// whose carriage isn't counted. Totals above [`Mass::MAX`] are left out.
    #[must_use]
    pub fn new(empty: Mass, stock: &PlateStock) -> PlateLoading {
        let usable = stock.pairs().iter().filter(|(mass, pairs)| *pairs > 0 && *mass > Mass::ZERO);
        let (masses, pairs): (Vec<Mass>, Vec<u8>) = usable.take(MAX_MASSES).copied().unzip();
        let divisor = masses.iter().fold(0, |g, m| gcd(g, m.grams())).max(1);
        let stock_sum: u64 =
            masses.iter().zip(&pairs).map(|(m, k)| u64::from(m.grams()) * u64::from(*k)).sum();
        let room = u64::from((Mass::MAX.grams() - empty.grams()) / 2);
        let top = (stock_sum.min(room) / u64::from(divisor)) as usize; // at most a million
        let fewest = fewest_tables(&masses, &pairs, divisor, top);
        PlateLoading { empty: empty.grams().into(), divisor: divisor.into(), masses, pairs, fewest }
    }

    /// The mass without plates.
    #[must_use]
    pub fn empty(&self) -> Mass {
        mass(self.empty)
    }

    /// The heaviest total.
    #[must_use]
    pub fn heaviest(&self) -> Mass {
        let top = self.fewest[0].iter().rposition(|n| *n != NEVER);
        mass(self.total_of(top.unwrap_or(0)))
    }

    /// The heaviest total at or below `wanted`, within [`TOLERANCE_G`]; none below the bare bar.
    #[must_use]
    pub fn at_or_below(&self, wanted: Load) -> Option<Loaded> {
        self.total_at_or_below(wanted.grams().into()).and_then(|t| self.loaded(t, wanted))
    }

    /// The lightest total at or above `wanted`, within [`TOLERANCE_G`]; none above all plates.
    #[must_use]
    pub fn at_or_above(&self, wanted: Load) -> Option<Loaded> {
        let grams = i64::from(wanted.grams());
        let same = self.total_at_or_below(grams).filter(|t| (t - grams).abs() <= TOLERANCE_G);
        same.or_else(|| self.total_over(grams)).and_then(|t| self.loaded(t, wanted))
    }

    /// The total, in grams, that is nearest to `wanted` among those below it or the same.
    pub(super) fn total_at_or_below(&self, wanted: i64) -> Option<i64> {
        let lower = self.total_under(wanted + 1);
        let upper = self.total_over(wanted).filter(|upper| upper - wanted <= TOLERANCE_G);
        match (lower, upper) {
            (Some(lower), Some(upper)) if wanted - lower <= upper - wanted => Some(lower),
            (lower, upper) => upper.or(lower),
        }
    }

    /// The lightest total of more than `grams`.
    pub(super) fn total_over(&self, grams: i64) -> Option<i64> {
        let first = ((grams - self.empty).div_euclid(2 * self.divisor) + 1).max(0) as usize;
        let sums = self.fewest[0].get(first..)?;
        sums.iter().position(|n| *n != NEVER).map(|idx| self.total_of(first + idx))
    }

    /// The heaviest total of less than `grams`.
    pub(super) fn total_under(&self, grams: i64) -> Option<i64> {
        let last = (grams - 1 - self.empty).div_euclid(2 * self.divisor);
        let end = usize::try_from(last + 1).ok()?.min(self.fewest[0].len());
        self.fewest[0][..end].iter().rposition(|n| *n != NEVER).map(|idx| self.total_of(idx))
    }

    fn total_of(&self, side: usize) -> i64 {
        self.empty + 2 * self.divisor * side as i64 // a side has at most a million steps
    }

    fn loaded(&self, total: i64, wanted: Load) -> Option<Loaded> {
        let over = total - i64::from(wanted.grams());
        let fit = match over {
            _ if over.abs() <= TOLERANCE_G => Fit::Exact,
            1.. => Fit::Over(mass(over)),
            _ => Fit::Under(mass(-over)),
        };
        Some(Loaded { per_side: self.plates_of(total)?, total: mass(total), fit })
    }

    /// Reads the fewest plates of a reachable total back from the tables.
    fn plates_of(&self, total: i64) -> Option<Vec<PlateCount>> {
        let mut left = usize::try_from((total - self.empty) / (2 * self.divisor)).ok()?;
        let mut per_side = Vec::new();
        for (idx, (mass, pairs)) in self.masses.iter().zip(&self.pairs).enumerate() {
            let size = (i64::from(mass.grams()) / self.divisor) as usize; // at least 1
            let needed = *self.fewest[idx].get(left)?;
            let count = (0..=u16::from(*pairs)).rev().find(|count| {
                let rest = left.checked_sub(usize::from(*count) * size);
                rest.is_some_and(|r| self.fewest[idx + 1][r].checked_add(*count) == Some(needed))
            })?;
            left -= usize::from(count) * size;
            if count > 0 {
                per_side.push(PlateCount { mass: *mass, count });
            }
        }
        (left == 0).then_some(per_side)
    }
}

/// The tables of the file's head. A mass with `k` pairs is split into bundles of 1, 2, 4, … and the
/// rest, whose subsets have exactly the sizes 0 to `k`; each bundle is used once or not at all.
fn fewest_tables(masses: &[Mass], pairs: &[u8], divisor: u32, top: usize) -> Vec<Vec<u16>> {
    let mut last = vec![NEVER; top + 1];
    last[0] = 0;
    let mut tables = vec![last];
    for (mass, pairs) in masses.iter().zip(pairs).rev() {
        let mut table = tables[tables.len() - 1].clone();
        let (mut left, mut bundle) = (u16::from(*pairs), 1_u16);
        while left > 0 {
            let count = bundle.min(left);
            let size = (mass.grams() / divisor) as usize * usize::from(count);
            for sum in (size..table.len()).rev() {
                table[sum] = table[sum].min(table[sum - size].saturating_add(count));
            }
            left -= count;
            bundle *= 2;
        }
        tables.push(table);
    }
    tables.reverse();
    tables
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// A number of grams from 0 to the maximum, as all totals and differences here are.
fn mass(grams: i64) -> Mass {
    u32::try_from(grams).ok().and_then(|g| Mass::try_from_grams(g).ok()).unwrap_or(Mass::MAX)
}
