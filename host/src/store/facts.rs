//! Readings and fittings.

use super::Store;
use crate::ship::facts::{Fitting, Reading};
use crate::{Error, Result};
use rusqlite::{OptionalExtension, params};
use serde::Serialize;
use serde::de::DeserializeOwned;

/// A kind of fact that people write.
pub trait Kind: Serialize + DeserializeOwned {
    /// Its table.
    const TABLE: &'static str;
    /// What one is called.
    const NAME: &'static str;
    /// When it happened.
    fn at_ms(&self) -> i64;
}

impl Kind for Reading {
    const TABLE: &'static str = "readings";
    const NAME: &'static str = "reading";

    fn at_ms(&self) -> i64 {
        self.at_ms
    }
}

impl Kind for Fitting {
    const TABLE: &'static str = "fittings";
    const NAME: &'static str = "fitting";

    fn at_ms(&self) -> i64 {
        self.at_ms
    }
}

/// A fact as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept<F> {
    /// Its number, by which a correction names it.
    pub id: i64,
    /// The fact.
    pub fact: F,
}

impl Store {
    /// Adds facts: all or none. Returns how many were not known before.
    ///
    /// # Errors
    /// The database cannot be written.
    pub fn add_all<F: Kind>(&mut self, facts: &[F]) -> Result<u32> {
        let failed = self.sql("write");
        let change = self.db.transaction().map_err(&failed)?;
        let mut new = 0;
        for fact in facts {
            let added = change
                .execute(
                    &format!(
                        "INSERT INTO {} (at_ms, content) VALUES (?1, ?2) ON CONFLICT (content) DO NOTHING",
                        F::TABLE
                    ),
                    params![fact.at_ms(), content(fact)?],
                )
                .map_err(&failed)?;
            new += u32::try_from(added).unwrap_or(u32::MAX);
        }
        change.commit().map_err(&failed)?;
        Ok(new)
    }

    /// Adds one fact, in place of an older one if `supersedes` names it. Returns its number, and whether it is new.
    ///
    /// # Errors
    /// There is no such older fact, it has been corrected already, or the database cannot be written.
    pub fn add<F: Kind>(&mut self, fact: &F, supersedes: Option<i64>) -> Result<(i64, bool)> {
        let failed = self.sql("write");
        let change = self.db.transaction().map_err(&failed)?;
        let content = content(fact)?;
        let find = format!("SELECT id FROM {} WHERE content = ?1", F::TABLE);
        let known: Option<i64> =
            change.query_row(&find, [&content], |row| row.get(0)).optional().map_err(&failed)?;
        if let Some(id) = known {
            return Ok((id, false));
        }
        if let Some(old) = supersedes {
            let count =
                |sql: String| change.query_row(&sql, [old], |row| row.get::<_, i64>(0)).map_err(&failed);
            let advice =
                format!("`halfglass show` lists the {}s with their numbers. Nothing was changed.", F::NAME);
            if count(format!("SELECT count(*) FROM {} WHERE id = ?1", F::TABLE))? == 0 {
                return Err(Error::input(format!("there is no {} {old} to correct", F::NAME), advice));
            }
            if count(format!("SELECT count(*) FROM {} WHERE supersedes = ?1", F::TABLE))? > 0 {
                return Err(Error::input(format!("{} {old} has been corrected already", F::NAME), advice));
            }
        }
        let add = format!("INSERT INTO {} (at_ms, content, supersedes) VALUES (?1, ?2, ?3)", F::TABLE);
        change.execute(&add, params![fact.at_ms(), content, supersedes]).map_err(&failed)?;
        let id = change.last_insert_rowid();
        change.commit().map_err(&failed)?;
        Ok((id, true))
    }

    /// The facts that stand (not superseded), by time.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn standing<F: Kind>(&self) -> Result<Vec<Kept<F>>> {
        let failed = self.sql("read");
        let sql = format!(
            "SELECT id, content FROM {0} WHERE id NOT IN (SELECT supersedes FROM {0} WHERE supersedes IS NOT NULL)
             ORDER BY at_ms, id",
            F::TABLE
        );
        let mut find = self.db.prepare(&sql).map_err(&failed)?;
        let rows = find
            .query_map([], |row| Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?)))
            .map_err(&failed)?;
        let mut facts = Vec::new();
        for row in rows {
            let (id, content) = row.map_err(&failed)?;
            let fact = serde_json::from_str(&content).map_err(|error| {
                let what = format!("{} {id} in {} cannot be read ({error})", F::NAME, self.path.display());
                Error::input(what, "The database is damaged: put back a copy.")
            })?;
            facts.push(Kept { id, fact });
        }
        Ok(facts)
    }
}

fn content<F: Kind>(fact: &F) -> Result<String> {
    serde_json::to_string(fact).map_err(|error| {
        Error::input(format!("cannot keep this {} ({error})", F::NAME), "Nothing was changed.")
    })
}
