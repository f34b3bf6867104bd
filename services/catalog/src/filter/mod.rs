//! Filters of listings: a subset of AIP-160, parsed, checked against the fields of a resource, and turned into SQL in which
//! everything that a caller gave is a bound value.
//!
//! `depth_m > 6 AND (lake = "Tarn Vesper" OR lake = "Tarn Ibis") AND NOT bottom_class = SILT AND canopy.height_m:*`
//!
//! - Comparisons `= != < <= > >=`; `:` for text that contains the value (capitals of ASCII do not count), for lists that
//!   have an entry that fits, and with `*` for a field that is set. In `=` and `!=` a `*` in text stands for anything.
//! - `AND`, `OR`, `NOT` (or `-`) and parentheses. As AIP-160 has it, OR binds tighter than AND; use parentheses.
//! - At most 20 comparisons: each is worked out for each record.
//! - A field that is not set fits no comparison; `NOT` of that fits.
//! - A comparison of a list, such as `options.beamwidth_deg < 10`, fits if one of its entries does.

mod field;
mod parse;
mod render;
mod token;

pub use field::Field;
pub(crate) use field::{Kind, fields};
pub(crate) use render::Value;

use crate::error::StoreError;

/// Longest filter, in characters.
const MAX_CHARS: usize = 2_000;

/// A checked filter.
#[derive(Debug, Clone, PartialEq)]
pub struct Filter {
    sql: String,
    values: Vec<Value>,
}

impl Filter {
    /// Reads a filter over some fields; nothing for empty text.
    ///
    /// # Errors
    /// The position and the nature of the first fault.
    pub fn parse(text: &str, fields: &[Field]) -> Result<Option<Self>, StoreError> {
        if text.trim().is_empty() {
            return Ok(None);
        }
        let given = text.chars().count();
        if given > MAX_CHARS {
            let problem = format!("the filter has {given} characters; accepted: up to {MAX_CHARS}; shorten it");
            return Err(StoreError::in_filter(MAX_CHARS, problem));
        }
        let expression = parse::parse(token::tokens(text)?, given + 1)?;
        let (sql, values) = render::render(&expression, fields)?;
        Ok(Some(Self { sql, values }))
    }

    /// A condition over the table, its values as question marks.
    pub(crate) fn sql(&self) -> &str {
        &self.sql
    }

    /// The values, in the order of their question marks.
    pub(crate) fn values(&self) -> &[Value] {
        &self.values
    }
}

#[cfg(test)]
mod tests;
