//! Which of some ids are stored.

/// Rows in one statement. SQLite takes 32,766 bound values; longer statements are no faster.
pub(super) const ROWS_A_STATEMENT: usize = 250;

/// A statement that finds which of so many ids are stored, with their times of creation.
pub(super) fn statement_of_ids(collection: &str, ids: usize) -> String {
    let marks = vec!["?"; ids].join(", ");
    format!("SELECT id, create_time FROM {collection} WHERE id IN ({marks})")
}
