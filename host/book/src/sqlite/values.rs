//! Values of the book as SQLite holds them.

use rusqlite::types::{FromSql, FromSqlResult, ToSql, ToSqlOutput, ValueRef};

use super::super::Digest;

impl ToSql for Digest {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(ValueRef::Blob(&self.0)))
    }
}

impl FromSql for Digest {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        FromSql::column_result(value).map(Self)
    }
}
