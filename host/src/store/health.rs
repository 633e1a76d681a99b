//! What loggers said of themselves at pulls.

use super::Store;
use crate::Result;
use crate::wear::Sighting;
use halfglass_protocol::message::Health;
use rusqlite::params;

impl Store {
    /// Keeps what a logger said of itself. The same instant of its uptime again is nothing new.
    ///
    /// # Errors
    /// The database cannot be written.
    pub fn keep_sighting(&self, device_id: u64, sighting: &Sighting) -> Result<()> {
        let Sighting { at_ms, uptime_tenths, session, health } = *sighting;
        // The integers of SQLite are signed; 63 bits of tenths are 29 thousand million years.
        let uptime_tenths = i64::try_from(uptime_tenths).unwrap_or(i64::MAX);
        let added = self.db.execute(
            "INSERT OR IGNORE INTO logger_health (device, at_ms, uptime_tenths, session, journal_turns, journal_pages,
                 journal_retired, history_turns, history_pages, history_retired, words_lost, write_faults, faults)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
            params![
                format!("{device_id:016x}"),
                at_ms,
                uptime_tenths,
                session,
                health.journal_turns,
                health.journal_pages,
                health.journal_retired,
                health.history_turns,
                health.history_pages,
                health.history_retired,
                health.words_lost,
                health.write_faults,
                health.faults
            ],
        );
        added.map(drop).map_err(self.sql("write"))
    }

    /// What a logger said of itself up to an instant (UTC, milliseconds since 1970), by time.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn sightings(&self, device_id: u64, as_of_ms: i64) -> Result<Vec<Sighting>> {
        let failed = self.sql("read");
        let find = "SELECT at_ms, uptime_tenths, session, journal_turns, journal_pages, journal_retired, history_turns,
                        history_pages, history_retired, words_lost, write_faults, faults
                    FROM logger_health WHERE device = ?1 AND at_ms <= ?2 ORDER BY at_ms";
        let mut query = self.db.prepare_cached(find).map_err(&failed)?;
        let rows = query.query_map(params![format!("{device_id:016x}"), as_of_ms], |row| {
            Ok(Sighting {
                at_ms: row.get(0)?,
                uptime_tenths: row.get::<_, i64>(1)?.unsigned_abs(),
                session: row.get(2)?,
                health: Health {
                    journal_turns: row.get(3)?,
                    journal_pages: row.get(4)?,
                    journal_retired: row.get(5)?,
                    history_turns: row.get(6)?,
                    history_pages: row.get(7)?,
                    history_retired: row.get(8)?,
                    words_lost: row.get(9)?,
                    write_faults: row.get(10)?,
                    faults: row.get(11)?,
                },
            })
        });
        rows.map_err(&failed)?.collect::<rusqlite::Result<_>>().map_err(&failed)
    }
}
