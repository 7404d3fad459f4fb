//! Reads values out of a spanned TOML table and notes every error on the way instead of stopping at the first.
//!
//! Each key is asked for by name; what was never asked for is an unknown key. The same asking, written down, shows a
//! test which keys the reader knows.

use super::error::{SpecError, nearest};
use super::known::Known;
use super::values::{kind_of, known, quantity, text};
use super::written::WrittenMap;
use crate::units::Quantity;
use schemars::JsonSchema;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// What was found wrong, and what was asked for, over all files of a spec.
#[derive(Debug, Default)]
pub struct Log {
    /// The errors.
    pub errors: RefCell<Vec<SpecError>>,
    /// Path of each key asked for, its kind, and whether it must be there.
    pub asked: RefCell<BTreeMap<String, (String, bool)>>,
    /// The map as it is written, once it is read without an error.
    pub written: RefCell<Option<WrittenMap>>,
}

impl Log {
    /// No further error would be listed.
    fn is_full(&self) -> bool {
        self.errors.borrow().len() >= MOST_ERRORS
    }
}

/// Nobody reads more errors than this at once.
pub const MOST_ERRORS: usize = 60;

/// One file being read.
#[derive(Debug, Clone, Copy)]
pub struct Doc<'d> {
    /// Its name.
    pub file: &'d str,
    /// Its text.
    pub text: &'d str,
    /// Where errors go.
    pub log: &'d Log,
}

impl Doc<'_> {
    /// Notes an error.
    pub fn fail(&self, span: Range<usize>, message: &str) {
        self.fail_hint(span, message, None);
    }

    /// Notes an error with a hint.
    pub fn fail_hint(&self, span: Range<usize>, message: &str, hint: Option<String>) {
        let mut errors = self.log.errors.borrow_mut();
        if errors.len() < MOST_ERRORS {
            errors.push(SpecError::at(self.file, self.text, span, message, hint));
        }
    }
}

/// A value with its place.
pub type Value<'d> = Spanned<DeValue<'d>>;

/// A table being read; one that isn't there reads as empty, so that defaults stand in one place.
#[derive(Debug)]
pub struct Table<'d> {
    /// Its file.
    pub doc: Doc<'d>,
    /// Where it stands.
    pub span: Range<usize>,
    /// Its path for the trace: `vehicle.engine`.
    path: String,
    table: Option<&'d DeTable<'d>>,
    known: RefCell<Vec<&'static str>>,
}

impl<'d> Table<'d> {
    /// The top of a file, or a part of it that is a spec's whole section.
    #[must_use]
    pub fn new(doc: Doc<'d>, path: &str, table: &'d DeTable<'d>, span: Range<usize>) -> Self {
        Self { doc, span, path: path.to_owned(), table: Some(table), known: RefCell::default() }
    }

    fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    fn title(&self) -> String {
        if self.path.is_empty() { "the file".to_owned() } else { format!("[{}]", self.path.replace("[]", "")) }
    }

    /// Writes down that a key is known.
    pub fn note(&self, key: &str, kind: &str, must: bool) {
        self.doc.log.asked.borrow_mut().insert(self.path_of(key), (kind.to_owned(), must));
    }

    /// The value of a key, if it is there.
    pub fn find(&self, key: &'static str, kind: &str, must: bool) -> Option<&'d Value<'d>> {
        self.known.borrow_mut().push(key);
        self.note(key, kind, must);
        let value = self.table.and_then(|t| t.get(key));
        if value.is_none() && must {
            self.doc.fail(self.span.clone(), &format!("`{key}` is missing in {}", self.title()));
        }
        value
    }

    /// Where a key's value stands, or the table.
    #[must_use]
    pub fn span_of(&self, key: &str) -> Range<usize> {
        self.table.and_then(|t| t.get(key)).map_or_else(|| self.span.clone(), Spanned::span)
    }

    /// Whether a key is there.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.table.is_some_and(|t| t.contains_key(key))
    }

    /// Notes an error at a key.
    pub fn fail(&self, key: &str, message: &str) {
        self.doc.fail(self.span_of(key), message);
    }

    /// Ends the reading: what was not asked for is unknown.
    pub fn done(self) {
        let known = self.known.borrow();
        for (key, _) in self.table.into_iter().flatten() {
            let name: &str = key.get_ref();
            if !known.contains(&name) && !self.doc.log.is_full() {
                let hint = nearest(name, known.iter().copied()).map_or_else(
                    || format!("known here: {}", known.join(", ")),
                    |near| format!("did you mean `{near}`?"),
                );
                self.doc.fail_hint(key.span(), &format!("unknown key `{name}` in {}", self.title()), Some(hint));
            }
        }
    }

    /// A quantity that must be there.
    pub fn must<T: Quantity + JsonSchema>(&self, key: &'static str, range: RangeInclusive<f64>) -> Option<T> {
        self.find(key, &T::schema_name(), true).and_then(|v| quantity(self.doc, key, v, range))
    }

    /// A quantity that only the maker can state.
    pub fn stated<T: Quantity + JsonSchema>(&self, key: &'static str, range: RangeInclusive<f64>) -> Option<T> {
        if self.has(key) {
            return self.must(key, range);
        }
        self.known.borrow_mut().push(key);
        self.note(key, &T::schema_name(), true);
        let message = format!("`{key}` is missing in {}", self.title());
        let hint = format!("it has no default: the maker states it, for example {key} = \"{}\"", T::EXAMPLE);
        self.doc.fail_hint(self.span.clone(), &message, Some(hint));
        None
    }

    /// A quantity that may be missing.
    pub fn may<T: Quantity + JsonSchema>(&self, key: &'static str, range: RangeInclusive<f64>) -> Option<T> {
        self.find(key, &T::schema_name(), false).and_then(|v| quantity(self.doc, key, v, range))
    }

    /// A quantity with a default.
    pub fn or<T: Quantity + JsonSchema>(&self, key: &'static str, range: RangeInclusive<f64>, default: T) -> T {
        self.may(key, range).unwrap_or(default)
    }

    /// A number with its origin that must be there.
    pub fn known<T: Quantity + JsonSchema>(&self, key: &'static str, range: RangeInclusive<f64>) -> Option<Known<T>> {
        self.find(key, &Known::<T>::schema_name(), true).and_then(|v| known(self.doc, key, v, range))
    }

    /// A number with its origin that may be missing.
    pub fn known_may<T: Quantity + JsonSchema>(
        &self,
        key: &'static str,
        range: RangeInclusive<f64>,
    ) -> Option<Known<T>> {
        self.find(key, &Known::<T>::schema_name(), false).and_then(|v| known(self.doc, key, v, range))
    }

    /// A whole number; must be there unless it has a default.
    pub fn integer(&self, key: &'static str, range: RangeInclusive<i64>, default: Option<i64>) -> Option<i64> {
        let Some(value) = self.find(key, "integer", default.is_none()) else { return default };
        let (least, most) = (range.start(), range.end());
        let number = match value.get_ref() {
            DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix()).ok(),
            _ => None,
        };
        if number.is_none_or(|n| !range.contains(&n)) {
            self.fail(key, &format!("`{key}` must be a whole number from {least} to {most}"));
            return None;
        }
        number
    }

    /// A whole number that fits a byte.
    pub fn byte(&self, key: &'static str, range: RangeInclusive<i64>, default: Option<u8>) -> Option<u8> {
        self.integer(key, range, default.map(i64::from)).and_then(|n| u8::try_from(n).ok())
    }

    /// Yes or no.
    pub fn flag(&self, key: &'static str, default: bool) -> bool {
        let Some(value) = self.find(key, "boolean", false) else { return default };
        match value.get_ref() {
            DeValue::Boolean(flag) => *flag,
            _ => {
                self.fail(key, &format!("`{key}` must be true or false"));
                default
            }
        }
    }

    /// A name or other short text.
    pub fn text(&self, key: &'static str, must: bool) -> Option<&'d str> {
        let value = self.find(key, "string", must)?;
        text(self.doc, key, value)
    }

    /// A table that must be there.
    pub fn table(&self, key: &'static str) -> Option<Table<'d>> {
        let value = self.find(key, "table", true)?;
        self.inner(key, value)
    }

    /// A table whose keys speak for themselves when it is missing: they have defaults or are named as missing.
    pub fn table_or_empty(&self, key: &'static str) -> Table<'d> {
        let inner = self.find(key, "table", false).and_then(|value| self.inner(key, value));
        inner.unwrap_or_else(|| self.empty(key))
    }

    fn empty(&self, key: &str) -> Table<'d> {
        Table {
            doc: self.doc,
            span: self.span.clone(),
            path: self.path_of(key),
            table: None,
            known: RefCell::default(),
        }
    }

    /// All entries of a table whose names are free, each a table.
    pub fn entries(&self) -> Vec<(&'d str, Table<'d>)> {
        self.note("*", "table", false);
        let mut found = Vec::new();
        for (key, value) in self.table.into_iter().flatten() {
            let name: &str = key.get_ref();
            let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-';
            if name.is_empty() || name.len() > 40 || !name.bytes().all(plain) {
                self.doc.fail(
                    key.span(),
                    &format!("the name `{name}` in {} must be of small letters, digits and -", self.title()),
                );
            } else if let Some(inner) = self.inner("*", value) {
                found.push((name, inner));
            }
        }
        found
    }

    /// A value of this table taken as a table.
    pub fn inner(&self, key: &str, value: &'d Value<'d>) -> Option<Table<'d>> {
        let DeValue::Table(table) = value.get_ref() else {
            self.doc.fail(value.span(), &format!("`{key}` must be a table, not {}", kind_of(value)));
            return None;
        };
        Some(Table::new(self.doc, &self.path_of(key), table, value.span()))
    }

    /// The values of a list; an error where it is none or longer than `most`.
    pub fn list(&self, key: &'static str, kind: &str, most: usize, must: bool) -> Option<Vec<&'d Value<'d>>> {
        let value = self.find(key, "array", must)?;
        self.note(&format!("{key}[]"), kind, false);
        let DeValue::Array(items) = value.get_ref() else {
            self.fail(key, &format!("`{key}` must be a list, not {}", kind_of(value)));
            return None;
        };
        if items.len() > most {
            self.fail(key, &format!("`{key}` has {} entries: at most {most} are read", items.len()));
            return None;
        }
        Some(items.iter().collect())
    }

    /// One of some names; must be there unless it has a default.
    pub fn pick<T: Copy>(&self, key: &'static str, names: &[(&'static str, T)], default: Option<T>) -> Option<T> {
        self.pick_or(key, names, &[], default, |_| None)
    }

    /// One of some names, or a table with one of the keys of `with`, which `read` reads.
    pub fn pick_or<T: Copy>(
        &self,
        key: &'static str,
        names: &[(&'static str, T)],
        with: &[&'static str],
        default: Option<T>,
        read: impl FnOnce(&Table<'d>) -> Option<T>,
    ) -> Option<T> {
        let all: Vec<&str> = names.iter().map(|&(name, _)| name).collect();
        let Some(value) = self.find(key, &format!("one of {}", all.join("|")), default.is_none()) else {
            return default;
        };
        let wanted = || {
            let shown =
                names.iter().map(|(n, _)| format!("\"{n}\"")).chain(with.iter().map(|w| format!("{{ {w} = … }}")));
            format!("`{key}` must be one of: {}", shown.collect::<Vec<_>>().join(", "))
        };
        match value.get_ref() {
            DeValue::String(name) => {
                let found = names.iter().find(|(n, _)| n == name).map(|&(_, t)| t);
                if found.is_none() {
                    let near = nearest(name, all.iter().copied()).map(|near| format!("did you mean \"{near}\"?"));
                    self.doc.fail_hint(value.span(), &wanted(), near);
                }
                found
            }
            DeValue::Table(table) if !with.is_empty() => {
                let inner = Table::new(self.doc, &self.path_of(key), table, value.span());
                if table.len() != 1 || !with.iter().any(|w| table.contains_key(*w)) {
                    self.doc.fail(value.span(), &wanted());
                    return None;
                }
                let found = read(&inner);
                inner.done();
                found
            }
            _ => {
                self.doc.fail(value.span(), &wanted());
                None
            }
        }
    }
}
