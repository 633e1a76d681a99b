-- What each logger said of itself at a pull: pages begun in its life, pages there are, pages given up, for the totals and the history;
-- words lost and writes that failed in its session, and how often its firmware ended itself. A dump does not hold these.
CREATE TABLE logger_health (
    id INTEGER PRIMARY KEY,
    device TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    uptime_tenths INTEGER NOT NULL,
    session INTEGER NOT NULL,
    journal_turns INTEGER NOT NULL,
    journal_pages INTEGER NOT NULL,
    journal_retired INTEGER NOT NULL,
    history_turns INTEGER NOT NULL,
    history_pages INTEGER NOT NULL,
    history_retired INTEGER NOT NULL,
    words_lost INTEGER NOT NULL,
    write_faults INTEGER NOT NULL,
    faults INTEGER NOT NULL,
    UNIQUE (device, session, uptime_tenths)
) STRICT;
CREATE TRIGGER logger_health_kept BEFORE DELETE ON logger_health BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER logger_health_fixed BEFORE UPDATE ON logger_health BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
