//! How well a measurement repeats, from a table: one row per person, one column per trial.

use std::io::Read;

use engine::repeatability::{
    self as formulas, Agreement, Confidence, CoverageFactor, Interval, RepeatabilityError, Trials,
};
use serde::Serialize;

/// Headers over a first column that names people.
const NAME_HEADERS: [&str; 7] = ["", "person", "lifter", "name", "athlete", "subject", "id"];
/// The most people in a table.
const MAX_PEOPLE: usize = 100_000;

/// Why a table of trials can't be used.
#[derive(Debug, thiserror::Error)]
pub enum RepeatError {
    /// The table can't be split into cells.
    #[error("can't read the table: {0}")]
    Csv(#[from] csv::Error),
    /// A cell is no number.
    #[error(
        "line {line}, column `{column}`: `{got}` is not a number: write digits with `.` for \
         decimals, or leave that person out"
    )]
    Cell {
        /// The line of the file, from 1.
        line: u64,
        /// The header of the column.
        column: String,
        /// The cell, shortened.
        got: String,
    },
    /// Nothing but a header, or not even that.
    #[error(
        "the table has no people: write a header line such as `person,trial 1,trial 2` and then \
         one line for each person"
    )]
    Empty,
    /// More people than can be meant.
    #[error("the table has more than {MAX_PEOPLE} people: is it a table of trials?")]
    TooLong,
    /// The table is of a shape from which nothing follows.
    #[error(transparent)]
    Engine(#[from] RepeatabilityError),
}

/// A table as it was read.
#[derive(Clone, Debug, PartialEq)]
pub struct TrialTable {
    /// The headers of the trials.
    pub trials: Vec<String>,
    /// One row per person.
    pub rows: Vec<Vec<f64>>,
    /// Whether the first column held names.
    pub has_names: bool,
}

/// Lower and upper bound.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Span {
    /// Lower bound.
    pub lower: f64,
    /// Upper bound.
    pub upper: f64,
}

/// One intraclass correlation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reliability {
    /// Its name: `ICC(2,1)`.
    pub name: &'static str,
    /// What it asks, in words.
    pub meaning: &'static str,
    /// Its value.
    pub value: f64,
    /// Its 95 % interval.
    pub interval: Option<Span>,
}

/// How well a measurement repeats, in the unit of the table unless a name says otherwise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Repeatability {
    /// People in the table.
    pub people: usize,
    /// The trials by their headers.
    pub trials: Vec<String>,
    /// Mean of each trial.
    pub trial_means: Vec<f64>,
    /// Typical error (standard error of measurement): shifts between trials left out.
    pub typical_error: f64,
    /// Its 90 % interval.
    pub typical_error_interval: Span,
    /// The typical error as a coefficient of variation in %; none with values of 0 or less.
    pub cv_pct: Option<f64>,
    /// Why there is no coefficient of variation.
    pub cv_refused: Option<String>,
    /// Minimal detectable change at 95 %: 1.96·√2 typical errors.
    pub minimal_detectable_change: f64,
    /// Smallest worthwhile change: 0.2 standard deviations between people.
    pub smallest_worthwhile_change: f64,
    /// Standard deviation between people of their means.
    pub between_person_sd: f64,
    /// Intraclass correlations; empty where people are all alike.
    pub reliability: Vec<Reliability>,
    /// Limits of agreement, for two trials: bias (first less second) and the limits.
    pub agreement: Option<AgreementLine>,
}

/// Bland and Altman's limits of agreement.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AgreementLine {
    /// Mean difference, first trial less second.
    pub bias: f64,
    /// Its 95 % interval.
    pub bias_interval: Span,
    /// Bias ∓ 1.96 standard deviations of the differences.
    pub limits: Span,
}

impl TrialTable {
    /// Reads a table with a header line; cells parted by `,`, `;` or tab. A first column of names is
    /// left out: one whose header says so, or that holds no numbers.
    ///
    /// # Errors
    /// [`RepeatError`] names the line and column of a cell that is no number.
    pub fn read(mut reader: impl Read) -> Result<TrialTable, RepeatError> {
        let mut bytes = Vec::new();
        reader.read_to_end(&mut bytes).map_err(csv::Error::from)?;
        let text = String::from_utf8_lossy(&bytes);
        let text = text.trim_start_matches('\u{feff}');
        let mut table = csv::ReaderBuilder::new()
            .delimiter(separator_of(text))
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let headers: Vec<String> = table.headers()?.iter().map(str::to_owned).collect();
        let records = table.records().collect::<Result<Vec<_>, _>>()?;
        let people: Vec<_> = records.iter().filter(|r| r.iter().any(|c| !c.is_empty())).collect();
        if people.is_empty() {
            return Err(RepeatError::Empty);
        }
        if people.len() > MAX_PEOPLE {
            return Err(RepeatError::TooLong);
        }
        let first = headers.first().map(|header| header.to_lowercase()).unwrap_or_default();
        let is_number = |cell: &str| cell.parse::<f64>().is_ok_and(f64::is_finite);
        let has_names = NAME_HEADERS.contains(&first.as_str())
            || people.iter().all(|record| !is_number(record.get(0).unwrap_or_default()));
        let skipped = usize::from(has_names);
        let rows = people
            .into_iter()
            .map(|record| row(record, &headers, skipped))
            .collect::<Result<_, _>>()?;
        Ok(TrialTable { trials: headers.into_iter().skip(skipped).collect(), rows, has_names })
    }
}

/// How well the trials of a table repeat.
///
/// # Errors
/// [`RepeatError::Engine`] for fewer than two people or two trials, or values beyond 10⁹.
pub fn repeatability(table: &TrialTable) -> Result<Repeatability, RepeatError> {
    let trials = Trials::from_rows(&table.rows)?;
    let typical_error = formulas::typical_error(&trials);
    let between_person_sd = formulas::between_person_sd(&trials);
    let cv = formulas::coefficient_of_variation(&trials);
    let wide = CoverageFactor::ROUNDED_95;
    Ok(Repeatability {
        people: trials.n_people(),
        trials: table.trials.clone(),
        trial_means: trials.trial_means(),
        typical_error,
        typical_error_interval: span(formulas::typical_error_interval(&trials, Confidence::NINETY)),
        cv_pct: cv.as_ref().ok().copied(),
        cv_refused: cv.err().map(|error| error.to_string()),
        minimal_detectable_change: formulas::minimal_detectable_change(typical_error, wide)?,
        smallest_worthwhile_change: formulas::smallest_worthwhile_change(between_person_sd)?,
        between_person_sd,
        reliability: reliability_of(&trials),
        agreement: formulas::limits_of_agreement(&trials, wide, Confidence::NINETY_FIVE)
            .ok()
            .map(agreement_line),
    })
}

fn reliability_of(trials: &Trials) -> Vec<Reliability> {
    // People who are all alike can't be told apart; the commands say so when the list is empty.
    let Ok(icc) = formulas::intraclass_correlation(trials, Confidence::NINETY_FIVE) else {
        return Vec::new();
    };
    let forms = [
        ("ICC(1,1)", "one trial, people's trials unrelated", Some(icc.one_single)),
        ("ICC(2,1)", "one trial, shifts between trials count", Some(icc.two_single)),
        ("ICC(3,1)", "one trial, shifts between trials left out", Some(icc.three_single)),
        ("ICC(1,k)", "mean of all trials, as ICC(1,1)", Some(icc.one_average)),
        ("ICC(2,k)", "mean of all trials, as ICC(2,1)", icc.two_average),
        ("ICC(3,k)", "mean of all trials, as ICC(3,1)", Some(icc.three_average)),
    ];
    forms
        .into_iter()
        .filter_map(|(name, meaning, form)| {
            let form = form?;
            Some(Reliability {
                name,
                meaning,
                value: form.value,
                interval: form.interval.map(span),
            })
        })
        .collect()
}

fn agreement_line(agreement: Agreement) -> AgreementLine {
    AgreementLine {
        bias: agreement.bias,
        bias_interval: span(agreement.bias_interval),
        limits: span(agreement.limits),
    }
}

fn row(
    record: &csv::StringRecord,
    headers: &[String],
    skipped: usize,
) -> Result<Vec<f64>, RepeatError> {
    let line = record.position().map_or(0, csv::Position::line);
    let cell = |(idx, text): (usize, &str)| {
        text.parse::<f64>().ok().filter(|value| value.is_finite()).ok_or_else(|| {
            RepeatError::Cell {
                line,
                column: headers.get(idx).cloned().unwrap_or_else(|| (idx + 1).to_string()),
                got: domain::bounds::shortened(text),
            }
        })
    };
    record.iter().enumerate().skip(skipped).map(cell).collect()
}

fn separator_of(text: &str) -> u8 {
    let header = text.lines().next().unwrap_or_default();
    let count = |separator: &u8| header.bytes().filter(|byte| byte == separator).count();
    [b'\t', b';', b','].into_iter().max_by_key(count).unwrap_or(b',')
}

fn span(interval: Interval) -> Span {
    Span { lower: interval.lower, upper: interval.upper }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<TrialTable, RepeatError> {
        TrialTable::read(text.as_bytes())
    }

    #[test]
    fn names_are_no_trials() {
        let named = read("lifter;first;second\nAda;100;102\nBo;90;91.5\n").unwrap();
        assert!(named.has_names);
        assert_eq!(named.trials, ["first", "second"]);
        assert_eq!(named.rows, [[100.0, 102.0], [90.0, 91.5]]);
        let numbered = read("id,t1,t2\n1,5,6\n2,7,8\n").unwrap();
        assert_eq!(numbered.rows, [[5.0, 6.0], [7.0, 8.0]], "a column called id holds no trial");
        let bare = read("t1,t2\n5,6\n7,8\n").unwrap();
        assert_eq!(bare.rows, [[5.0, 6.0], [7.0, 8.0]]);
    }

    #[test]
    fn a_bad_cell_is_named() {
        let error = read("t1,t2\n5,6\n7,x\n").unwrap_err().to_string();
        assert!(error.starts_with("line 3, column `t2`: `x` is not a number"), "{error}");
        assert!(matches!(read("t1,t2\n"), Err(RepeatError::Empty)));
        assert!(matches!(read(""), Err(RepeatError::Empty)));
    }

    /// Typical error of pairs is SD(differences)/√2 (Hopkins 2000): differences −2 and −4 have a
    /// standard deviation of √2, so the typical error is 1.
    #[test]
    fn a_pair_of_trials_has_its_typical_error_and_limits() {
        let told = repeatability(&read("a,b\n10,12\n20,24\n").unwrap()).unwrap();
        assert!((told.typical_error - 1.0).abs() < 1e-12);
        let mdc = 1.96 * std::f64::consts::SQRT_2;
        assert!((told.minimal_detectable_change - mdc).abs() < 1e-12);
        let agreement = told.agreement.unwrap();
        assert!((agreement.bias + 3.0).abs() < 1e-12);
        assert_eq!(told.reliability.len(), 6);
        let three = repeatability(&read("a,b,c\n10,12,11\n20,24,25\n").unwrap()).unwrap();
        assert_eq!(three.agreement, None);
    }
}
