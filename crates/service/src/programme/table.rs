//! Reading a table of a TOML file so that every complaint names the line, the place and the cure.
//!
//! Knows nothing of what the keys mean; the reader of programmes asks for them.

use std::ops::Range;

use domain::{Mass, Refused};
use toml_edit::{Item, TableLike, Value};

use super::FileError;

/// A table with what is needed to speak of it.
pub(super) struct Node<'a> {
    text: &'a str,
    table: &'a dyn TableLike,
    span: Option<Range<usize>>,
    place: String,
}

impl<'a> Node<'a> {
    /// The table of a whole file; `place` is what it is called in messages.
    pub(super) fn new(text: &'a str, table: &'a dyn TableLike, place: &str) -> Node<'a> {
        Node { text, table, span: None, place: place.to_owned() }
    }

    /// Calls the place by another name.
    pub(super) fn called(mut self, place: String) -> Node<'a> {
        self.place = place;
        self
    }

    /// A complaint about a key, or about the whole table if it lacks the key.
    pub(super) fn fail(&self, key: &str, reason: impl std::fmt::Display) -> FileError {
        let span = self.table.get(key).and_then(Item::span).or_else(|| self.span.clone());
        FileError::Entry {
            line: span.map_or(1, |span| line_at(self.text, span.start)),
            place: self.place.clone(),
            reason: reason.to_string(),
        }
    }

    /// Refuses keys that aren't among `known`.
    pub(super) fn only(&self, known: &[&str]) -> Result<(), FileError> {
        match self.table.iter().find(|(key, _)| !known.contains(key)) {
            None => Ok(()),
            Some((key, _)) => {
                Err(self.fail(key, format!("`{key}` is not known here: use {}", known.join(", "))))
            }
        }
    }

    /// Whether a key is given.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.get(key).is_some()
    }

    /// The text under a key, if it is given.
    pub(super) fn text(&self, key: &str) -> Result<Option<&'a str>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        item.as_str()
            .map(Some)
            .ok_or_else(|| self.fail(key, format!("`{key}` must be text in quotes")))
    }

    /// The text under a key, read; the key must be given.
    pub(super) fn read<T>(
        &self,
        key: &str,
        parse: impl Fn(&str) -> Result<T, Refused>,
    ) -> Result<T, FileError> {
        let text = self.text(key)?.ok_or_else(|| self.missing(key))?;
        parse(text).map_err(|refused| self.fail(key, refused))
    }

    /// The texts of a list, read; empty if the key isn't given.
    pub(super) fn list<T>(
        &self,
        key: &str,
        parse: impl Fn(&str) -> Result<T, Refused>,
    ) -> Result<Vec<T>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(Vec::new()) };
        let wrong = || self.fail(key, format!("`{key}` must be a list of texts in quotes"));
        let values = item.as_array().ok_or_else(wrong)?;
        values
            .iter()
            .map(|value| {
                let text = value.as_str().ok_or_else(wrong)?;
                parse(text).map_err(|refused| self.fail(key, refused))
            })
            .collect()
    }

    /// The whole number under a key, if it is given.
    pub(super) fn whole<T: TryFrom<i64>>(&self, key: &str) -> Result<Option<T>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        let number = item.as_integer().and_then(|number| T::try_from(number).ok());
        number
            .map(Some)
            .ok_or_else(|| self.fail(key, format!("`{key}` must be a whole number in range")))
    }

    /// Whether something is so, if it is told.
    pub(super) fn flag(&self, key: &str) -> Result<Option<bool>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        let wrong = || self.fail(key, format!("`{key}` must be `true` or `false`"));
        item.as_bool().map(Some).ok_or_else(wrong)
    }

    /// The number under a key, if it is given.
    pub(super) fn number(&self, key: &str) -> Result<Option<f64>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        item.as_value()
            .and_then(decimal)
            .map(Some)
            .ok_or_else(|| self.fail(key, format!("`{key}` must be a number")))
    }

    /// The mass in kilograms under a key, if it is given; it must be above 0.
    pub(super) fn mass(&self, key: &str) -> Result<Option<Mass>, FileError> {
        let Some(kg) = self.number(key)? else { return Ok(None) };
        let mass = Mass::try_from_kg(kg).map_err(|refused| self.fail(key, refused))?;
        if mass == Mass::ZERO {
            return Err(self.fail(key, format!("`{key}` must be above 0 kg")));
        }
        Ok(Some(mass))
    }

    /// The numbers of a list, or the single number, under a key.
    pub(super) fn numbers(&self, key: &str) -> Result<Vec<f64>, FileError> {
        let item = self.table.get(key).ok_or_else(|| self.missing(key))?;
        let wrong = || self.fail(key, format!("`{key}` must be a number or a list of numbers"));
        match item.as_array() {
            Some(list) => list.iter().map(|value| decimal(value).ok_or_else(wrong)).collect(),
            None => Ok(vec![item.as_value().and_then(decimal).ok_or_else(wrong)?]),
        }
    }

    /// The table under a key, if it is given.
    pub(super) fn table(&self, key: &str) -> Result<Option<Node<'a>>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        let table = item
            .as_table_like()
            .ok_or_else(|| self.fail(key, format!("`{key}` must be a table")))?;
        Ok(Some(self.inner(table, item.span(), key)))
    }

    /// The tables of a list under a key; empty if it isn't given.
    pub(super) fn tables(&self, key: &str) -> Result<Vec<Node<'a>>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(Vec::new()) };
        if let Some(tables) = item.as_array_of_tables() {
            return Ok(tables.iter().map(|table| self.inner(table, table.span(), key)).collect());
        }
        let wrong =
            || self.fail(key, format!("`{key}` must be a list of tables, each `[[{key}]]`"));
        let list = item.as_array().ok_or_else(wrong)?;
        list.iter()
            .map(|value| {
                let table = value.as_inline_table().ok_or_else(wrong)?;
                Ok(self.inner(table, value.span(), key))
            })
            .collect()
    }

    /// The keys of the table.
    pub(super) fn keys(&self) -> Vec<&'a str> {
        self.table.iter().map(|(key, _)| key).collect()
    }

    /// That a key is missing.
    pub(super) fn missing(&self, key: &str) -> FileError {
        self.fail(key, format!("`{key}` is missing: give it"))
    }

    fn inner(&self, table: &'a dyn TableLike, span: Option<Range<usize>>, key: &str) -> Node<'a> {
        Node { text: self.text, table, span, place: format!("{} › {key}", self.place) }
    }
}

/// The number of a line, from 1, at a place in the text.
pub(super) fn line_at(text: &str, offset: usize) -> usize {
    text.as_bytes().iter().take(offset).filter(|byte| **byte == b'\n').count() + 1
}

fn decimal(value: &Value) -> Option<f64> {
    let whole = || value.as_integer().map(|whole| whole as f64);
    value.as_float().or_else(whole).filter(|number| number.is_finite())
}
