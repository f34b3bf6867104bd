//! A record inside of another document, such as the input of a run: its values in the order of its fields, then those of the
//! entries of its lists.

use domain::Id;
use domain::field::Value;
use serde::{Deserialize, Serialize};

use crate::error::StoreError;
use crate::kinds::Resource;
use crate::rows::{Values, fill, values};

/// A value as JSON has it.
#[derive(Debug, Serialize, Deserialize)]
#[serde(untagged)]
enum Scalar {
    Null,
    Whole(i64),
    Real(f64),
    Text(String),
}

impl From<Value> for Scalar {
    fn from(value: Value) -> Self {
        match value {
            Value::Null => Self::Null,
            Value::Real(value) => Self::Real(value),
            Value::Whole(value) => Self::Whole(value),
            Value::Text(text) => Self::Text(text),
        }
    }
}

impl From<Scalar> for Value {
    fn from(scalar: Scalar) -> Self {
        match scalar {
            Scalar::Null => Self::Null,
            Scalar::Whole(value) => Self::Whole(value),
            Scalar::Real(value) => Self::Real(value),
            Scalar::Text(text) => Self::Text(text),
        }
    }
}

/// A record.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct RecordView(Vec<Scalar>, Vec<Vec<Vec<Scalar>>>);

impl RecordView {
    pub(crate) fn of<R: Resource>(record: &R) -> Self {
        let scalars = |values: Values| values.into_iter().map(Scalar::from).collect::<Vec<_>>();
        let rows = |rows: Vec<Values>| rows.into_iter().map(scalars).collect();
        Self(scalars(values(R::FIELDS, record)), R::LISTS.iter().map(|list| rows(list.rows(record))).collect())
    }

    pub(crate) fn record<R: Resource>(self) -> Result<R, StoreError> {
        let Self(fields, lists) = self;
        let values = |scalars: Vec<Scalar>| scalars.into_iter().map(Value::from).collect::<Values>();
        let mut record = R::blank(Id::stand_in());
        fill(R::FIELDS, &mut record, values(fields))?;
        for (list, rows) in R::LISTS.iter().zip(lists) {
            list.fill(&mut record, rows.into_iter().map(values).collect())?;
        }
        Ok(record)
    }
}
