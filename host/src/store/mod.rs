//! Facts in SQLite, append-only. An import happens wholly or not at all, and twice is once.

mod as_of;
mod dumps;
mod facts;
mod given;
mod health;
mod kinds;

pub use as_of::{Facts, Watch};
pub use dumps::{Imported, Records, read_dump};
pub use facts::Kept;
pub use given::Meter;
pub use kinds::Kind;

use crate::{Error, Result};
use rusqlite::Connection;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// The steps from an empty database to the present format, oldest first. A step that was released is never
/// changed: a new format is a new step.
const MIGRATIONS: [&str; 4] = [
    include_str!("migrations/001_facts.sql"),
    include_str!("migrations/002_more_kinds.sql"),
    include_str!("migrations/003_given_out.sql"),
    include_str!("migrations/004_logger_health.sql"),
];

/// The facts of one ship.
#[derive(Debug)]
pub struct Store {
    db: Connection,
    path: PathBuf,
}

impl Store {
    /// Opens a database, making or bringing it up to the present format as needed. Tests and production
    /// come through here alike.
    ///
    /// # Errors
    /// It cannot be opened, is no Halfglass database, or was written by a newer program. It is then unchanged.
    pub fn open(path: &Path) -> Result<Store> {
        let failed = |error: &rusqlite::Error| sql_error(path, "open", error);
        let mut db = Connection::open(path).map_err(|error| failed(&error))?;
        db.busy_timeout(Duration::from_secs(5)).map_err(|error| failed(&error))?;
        db.pragma_update(None, "foreign_keys", true).map_err(|error| failed(&error))?;
        // Without this a REPLACE would delete a fact behind the back of the triggers that forbid it.
        db.pragma_update(None, "recursive_triggers", true).map_err(|error| failed(&error))?;
        let change = db.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate);
        let change = change.map_err(|error| failed(&error))?;
        let found: i64 = change
            .pragma_query_value(None, "user_version", |row| row.get(0))
            .map_err(|error| failed(&error))?;
        let known = MIGRATIONS.len();
        let Some(done) = usize::try_from(found).ok().filter(|done| *done <= known) else {
            return Err(Error::input(
                format!(
                    "{} was written by a newer Halfglass: its format is {found}, this program knows up to {known}; \
                     it was not changed",
                    path.display()
                ),
                "Install the newer Halfglass on this computer (`halfglass --version` shows this one).",
            ));
        };
        let tables: i64 = change
            .query_row("SELECT count(*) FROM sqlite_schema WHERE type = 'table'", [], |row| row.get(0))
            .map_err(|error| failed(&error))?;
        if done == 0 && tables > 0 {
            return Err(Error::input(
                format!("{} is a database of some other program; it was not changed", path.display()),
                "Move it away, or use another ship folder.",
            ));
        }
        for step in &MIGRATIONS[done..] {
            change.execute_batch(step).map_err(|error| failed(&error))?;
        }
        if done < known {
            let known = i64::try_from(known).unwrap_or(i64::MAX);
            change.pragma_update(None, "user_version", known).map_err(|error| failed(&error))?;
        }
        change.commit().map_err(|error| failed(&error))?;
        Ok(Store { db, path: path.to_path_buf() })
    }

    fn sql(&self, doing: &str) -> impl Fn(rusqlite::Error) -> Error + use<> {
        let path = self.path.clone();
        let doing = doing.to_owned();
        move |error| sql_error(&path, &doing, &error)
    }
}

fn sql_error(path: &Path, doing: &str, error: &rusqlite::Error) -> Error {
    use rusqlite::ErrorCode;
    let advice = match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => {
            "It is not a SQLite database: move it away, or use another ship folder."
        }
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            "Another program has it open: let it finish, then try again. Nothing was changed."
        }
        Some(ErrorCode::DatabaseCorrupt) => {
            "The file is damaged: put back a copy, or move it away and import the files in `dumps` again."
        }
        Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => {
            "Your user may not write there: have the rights of file and folder changed."
        }
        Some(ErrorCode::DiskFull) => "Make room on the disk and try again. Nothing was changed.",
        _ => "Nothing was changed.",
    };
    Error::input(format!("cannot {doing} {} ({error})", path.display()), advice)
}

#[cfg(test)]
mod facts_tests;
#[cfg(test)]
mod tests;
