-- Facts. Nothing in here is ever changed or taken away: a correction is a new row that supersedes an old one.

-- A dump, byte for byte as it came.
CREATE TABLE dumps (
    id INTEGER PRIMARY KEY,
    device TEXT NOT NULL,             -- 16 hexadecimal digits
    from_index INTEGER NOT NULL,
    to_index INTEGER NOT NULL,
    firmware TEXT NOT NULL,           -- major.minor.patch
    lines INTEGER NOT NULL,
    name TEXT NOT NULL,               -- the file's name when it came
    bytes BLOB NOT NULL
) STRICT;
CREATE INDEX dumps_by_range ON dumps (device, from_index, to_index);

-- The records of all dumps, each once. A record that the logger says it lost has no row.
CREATE TABLE records (
    device TEXT NOT NULL,
    record_index INTEGER NOT NULL,
    dump INTEGER NOT NULL REFERENCES dumps (id),
    bytes BLOB NOT NULL,
    PRIMARY KEY (device, record_index)
) STRICT, WITHOUT ROWID;

-- `content` is the fact as canonical JSON: the same fact twice is one row.
CREATE TABLE readings (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES readings (id)
) STRICT;

CREATE TABLE fittings (
    id INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL UNIQUE,
    supersedes INTEGER UNIQUE REFERENCES fittings (id)
) STRICT;

CREATE TRIGGER dumps_kept BEFORE DELETE ON dumps BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER dumps_fixed BEFORE UPDATE ON dumps BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER records_kept BEFORE DELETE ON records BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER records_fixed BEFORE UPDATE ON records BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER readings_kept BEFORE DELETE ON readings BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER readings_fixed BEFORE UPDATE ON readings BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER fittings_kept BEFORE DELETE ON fittings BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER fittings_fixed BEFORE UPDATE ON fittings BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
