-- More kinds of fact, kept as readings and fittings are: `content` is the fact as canonical JSON, `at_ms` the middle of the
-- time at which it happened or began, and a correction is a new row that supersedes an old one of its own table.

-- What offset the ship's clock had from when on.
CREATE TABLE zones (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES zones (id)
) STRICT;
CREATE TRIGGER zones_kept BEFORE DELETE ON zones BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER zones_fixed BEFORE UPDATE ON zones BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;

-- Measurements of a part's state.
CREATE TABLE conditions (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES conditions (id)
) STRICT;
CREATE TRIGGER conditions_kept BEFORE DELETE ON conditions BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER conditions_fixed BEFORE UPDATE ON conditions BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;

-- Stretches of the voyage.
CREATE TABLE legs (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES legs (id)
) STRICT;
CREATE TRIGGER legs_kept BEFORE DELETE ON legs BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER legs_fixed BEFORE UPDATE ON legs BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;

-- Stays in which work can be done.
CREATE TABLE windows (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES windows (id)
) STRICT;
CREATE TRIGGER windows_kept BEFORE DELETE ON windows BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER windows_fixed BEFORE UPDATE ON windows BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;

-- Work without a renewal.
CREATE TABLE works (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES works (id)
) STRICT;
CREATE TRIGGER works_kept BEFORE DELETE ON works BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER works_fixed BEFORE UPDATE ON works BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;

-- What was found out about a finding.
CREATE TABLE answers (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES answers (id)
) STRICT;
CREATE TRIGGER answers_kept BEFORE DELETE ON answers BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER answers_fixed BEFORE UPDATE ON answers BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;

-- Renewals put off with leave.
CREATE TABLE deferrals (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES deferrals (id)
) STRICT;
CREATE TRIGGER deferrals_kept BEFORE DELETE ON deferrals BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER deferrals_fixed BEFORE UPDATE ON deferrals BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;

-- From then on another logger watches the radar.
CREATE TABLE logger_exchanges (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES logger_exchanges (id)
) STRICT;
CREATE TRIGGER logger_exchanges_kept BEFORE DELETE ON logger_exchanges BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER logger_exchanges_fixed BEFORE UPDATE ON logger_exchanges BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
