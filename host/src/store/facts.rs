//! Facts that people write: kept, corrected, found again.

use super::{Kind, Store};
use crate::ship::facts::Fact;
use crate::{Error, Result};
use rusqlite::{Connection, OptionalExtension, params};

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
    /// One contradicts a fact that stands, or the database cannot be written.
    pub fn add_all<F: Kind>(&mut self, facts: &[F]) -> Result<u32> {
        let failed = self.sql("write");
        let change = self.db.transaction().map_err(&failed)?;
        let mut new = 0;
        for fact in facts {
            let content = content(fact)?;
            if number_of::<F>(&change, &content).map_err(&failed)?.is_none() {
                refuse_contradiction(&change, fact, None, &failed)?;
                insert::<F>(&change, fact, &content, None).map_err(&failed)?;
                new += 1;
            }
        }
        change.commit().map_err(&failed)?;
        Ok(new)
    }

    /// Adds one fact, in place of an older one if `supersedes` names it. Returns its number, and whether it is new.
    ///
    /// # Errors
    /// There is no such older fact, it has been corrected already, the new one contradicts another that stands, or
    /// the database cannot be written.
    pub fn add<F: Kind>(&mut self, fact: &F, supersedes: Option<i64>) -> Result<(i64, bool)> {
        let failed = self.sql("write");
        let change = self.db.transaction().map_err(&failed)?;
        let mut content = content(fact)?;
        if let Some(known) = number_of::<F>(&change, &content).map_err(&failed)? {
            // A correction that was itself wrong may lead back to a fact that was set aside: it is said again.
            match supersedes {
                Some(old) if corrected::<F>(&change, known).map_err(&failed)? => {
                    content = said_again(&content, old);
                }
                _ => return Ok((known, false)),
            }
            if let Some(known) = number_of::<F>(&change, &content).map_err(&failed)? {
                return Ok((known, false));
            }
        }
        if let Some(old) = supersedes {
            let advice =
                format!("`halfglass show` lists the {}s with their numbers. Nothing was changed.", F::NAME);
            let find = format!("SELECT count(*) FROM {} WHERE id = ?1", F::TABLE);
            let found: i64 = change.query_row(&find, [old], |row| row.get(0)).map_err(&failed)?;
            if found == 0 {
                return Err(Error::input(format!("there is no {} {old} to correct", F::NAME), advice));
            }
            if corrected::<F>(&change, old).map_err(&failed)? {
                return Err(Error::input(format!("{} {old} has been corrected already", F::NAME), advice));
            }
        }
        refuse_contradiction(&change, fact, supersedes, &failed)?;
        let id = insert::<F>(&change, fact, &content, supersedes).map_err(&failed)?;
        change.commit().map_err(&failed)?;
        Ok((id, true))
    }

    /// The facts that stand (not superseded), by time.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn standing<F: Kind>(&self) -> Result<Vec<Kept<F>>> {
        standing(&self.db, "", [], &self.sql("read"))
    }
}

/// The number of the fact with this content.
fn number_of<F: Kind>(db: &Connection, content: &str) -> rusqlite::Result<Option<i64>> {
    let find = format!("SELECT id FROM {} WHERE content = ?1", F::TABLE);
    db.prepare_cached(&find)?.query_row([content], |row| row.get(0)).optional()
}

/// Whether some fact stands in place of this one.
fn corrected<F: Kind>(db: &Connection, id: i64) -> rusqlite::Result<bool> {
    let find = format!("SELECT count(*) FROM {} WHERE supersedes = ?1", F::TABLE);
    db.query_row(&find, [id], |row| row.get::<_, i64>(0)).map(|count| count > 0)
}

fn insert<F: Kind>(
    db: &Connection,
    fact: &F,
    content: &str,
    supersedes: Option<i64>,
) -> rusqlite::Result<i64> {
    let add = format!("INSERT INTO {} (at_ms, content, supersedes) VALUES (?1, ?2, ?3)", F::TABLE);
    db.prepare_cached(&add)?.execute(params![fact.at().best_ms(), content, supersedes])?;
    Ok(db.last_insert_rowid())
}

/// Of a kind of which one holds at a time, a fact may not differ from one that stands from the same instant.
fn refuse_contradiction<F: Kind>(
    db: &Connection,
    fact: &F,
    supersedes: Option<i64>,
    failed: &impl Fn(rusqlite::Error) -> Error,
) -> Result<()> {
    if !F::ONE_AT_A_TIME {
        return Ok(());
    }
    let same_time: Vec<Kept<F>> = standing(db, "AND at_ms = ?1", [fact.at().best_ms()], failed)?;
    match same_time.iter().find(|kept| Some(kept.id) != supersedes && kept.fact != *fact) {
        None => Ok(()),
        Some(Kept { id, fact: other }) => Err(Error::input(
            format!(
                "{} {id} says `{}`, but now it is said that `{}`: nothing was changed",
                F::NAME,
                other.row().join(","),
                fact.row().join(",")
            ),
            format!(
                "If {} {id} is wrong, correct it: `halfglass {}`, with the right values and --corrects {id}.",
                F::NAME,
                F::EXAMPLE
            ),
        )),
    }
}

fn standing<F: Kind, P: rusqlite::Params>(
    db: &Connection,
    and: &str,
    values: P,
    failed: &impl Fn(rusqlite::Error) -> Error,
) -> Result<Vec<Kept<F>>> {
    let sql = format!(
        "SELECT id, content FROM {0} WHERE id NOT IN (SELECT supersedes FROM {0} WHERE supersedes IS NOT NULL) {and}
         ORDER BY at_ms, id",
        F::TABLE
    );
    let mut find = db.prepare_cached(&sql).map_err(failed)?;
    let rows = find
        .query_map(values, |row| Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?)))
        .map_err(failed)?;
    let mut facts = Vec::new();
    for row in rows {
        let (id, content) = row.map_err(failed)?;
        let fact = serde_json::from_str(&content).map_err(|error| {
            let what = format!("{} {id} in the ship's database cannot be read ({error})", F::NAME);
            Error::input(
                what,
                "It was written by a newer Halfglass, or the file is damaged: update, or put back a copy.",
            )
        })?;
        facts.push(Kept { id, fact });
    }
    Ok(facts)
}

/// A fact as canonical JSON: the same fact, the same text, in every version.
fn content<F: Fact>(fact: &F) -> Result<String> {
    serde_json::to_string(fact).map_err(|error| {
        Error::input(format!("cannot keep this {} ({error})", F::NAME), "Nothing was changed.")
    })
}

/// A fact that was set aside, said again in place of `old`: the same fact, told apart as text.
fn said_again(content: &str, old: i64) -> String {
    let open = content.strip_suffix('}').unwrap_or(content);
    format!("{open},\"again_for\":{old}}}")
}
