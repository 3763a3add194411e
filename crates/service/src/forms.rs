//! What was typed into a form, and what is wrong with it.
//!
//! Every field stays as it was typed, so that a form with a mistake can be shown again with all that
//! was written in it and the reason beside the field. What a field means is known to the function that
//! takes the form, not here.

use std::collections::BTreeMap;
use std::fmt::Display;

use jiff::civil::Date;

use domain::When;

use crate::ServiceError;

/// The fields of a form as they were typed, by name.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Fields(BTreeMap<String, String>);

impl Fields {
    /// What was typed into a field, without white space around it; empty if there is no such field.
    #[must_use]
    pub fn get(&self, name: &str) -> &str {
        self.0.get(name).map_or("", |text| text.trim())
    }

    /// Every field with what was typed.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().map(|(field, text)| (field.as_str(), text.as_str()))
    }

    /// Whether the form had this field at all.
    #[must_use]
    pub fn has(&self, name: &str) -> bool {
        self.0.contains_key(name)
    }

    /// The same fields with one of them filled in.
    #[must_use]
    pub fn with(mut self, name: &str, text: impl Display) -> Fields {
        self.0.insert(name.to_owned(), text.to_string());
        self
    }
}

impl FromIterator<(String, String)> for Fields {
    /// Of a field that comes twice the last one counts.
    fn from_iter<I: IntoIterator<Item = (String, String)>>(pairs: I) -> Fields {
        Fields(pairs.into_iter().collect())
    }
}

/// What is wrong with a form, field by field.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problems(BTreeMap<String, String>);

impl Problems {
    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What is wrong with a field.
    #[must_use]
    pub fn of(&self, field: &str) -> Option<&str> {
        self.0.get(field).map(String::as_str)
    }

    /// The fields with something wrong, and what it is.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().map(|(field, reason)| (field.as_str(), reason.as_str()))
    }

    /// Notes what is wrong with a field; the first reason stays.
    pub(crate) fn note(&mut self, field: &str, reason: impl Display) {
        self.0.entry(field.to_owned()).or_insert_with(|| reason.to_string().trim_end().to_owned());
    }

    /// The value of a field, or a note of what is wrong with it.
    pub(crate) fn take<T, E: Display>(&mut self, field: &str, read: Result<T, E>) -> Option<T> {
        read.map_err(|reason| self.note(field, reason)).ok()
    }

    /// Nothing if nothing is wrong.
    pub(crate) fn none_left(self) -> Result<(), FormError> {
        if self.is_empty() { Ok(()) } else { Err(FormError::Problems(self)) }
    }
}

/// Why a form changed nothing.
#[derive(Debug, thiserror::Error)]
pub enum FormError {
    /// Something typed in it can't be taken.
    #[error("{} of the form can't be taken", .0.iter().map(|(field, _)| field).collect::<Vec<_>>().join(", "))]
    Problems(Problems),
    /// It could not be done.
    #[error(transparent)]
    Service(#[from] ServiceError),
}

impl From<store::StoreError> for FormError {
    fn from(error: store::StoreError) -> FormError {
        FormError::Service(error.into())
    }
}

/// Reads the day in `date` and the time of day in `time`, which may be empty; a day after the one that
/// follows `today` is a slip, since nobody has trained then.
pub(crate) fn when(fields: &Fields, today: Date, problems: &mut Problems) -> Option<When> {
    let date = problems.take("date", When::parse(fields.get("date")))?;
    if date.time().is_some() {
        problems
            .note("date", "write the day alone, as 2031-05-04; the time has a field of its own");
        return None;
    }
    if date.date() > today.saturating_add(jiff::Span::new().days(1)) {
        problems.note("date", format!("`{date}` lies ahead: today is {today}"));
        return None;
    }
    match fields.get("time") {
        "" => Some(date),
        time => problems.take(
            "time",
            When::parse(&format!("{date}T{time}"))
                .map_err(|_| format!("time `{time}` can't be read: write it as 18:20")),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::{Fields, Problems};

    #[test]
    fn the_first_reason_of_a_field_stays() {
        let mut problems = Problems::default();
        problems.note("load", "it is not a number: write digits\n");
        problems.note("load", "and something that follows from it");
        assert_eq!(problems.of("load"), Some("it is not a number: write digits"));
        assert_eq!(problems.iter().count(), 1);
    }

    #[test]
    fn white_space_around_what_was_typed_means_nothing_and_stays() {
        let fields = Fields::default().with("lift", "  back squat ");
        assert_eq!(fields.get("lift"), "back squat");
        assert_eq!(fields.iter().next(), Some(("lift", "  back squat ")));
        assert!(fields.has("lift") && !fields.has("load"));
    }
}
