-- What was given out to planners and calendars, so that the next time goes on from there. Kept as facts are: a figure that
-- somebody outside was told is not told otherwise later.

-- Meters: `meter` is cumulative or since-renewal; `of` is the serial for the latter, and empty for the former.
CREATE TABLE meters_given (
    id INTEGER PRIMARY KEY,
    radar TEXT NOT NULL,
    part TEXT NOT NULL,
    meter TEXT NOT NULL,
    of TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    tenths INTEGER NOT NULL,
    UNIQUE (radar, part, meter, of, at_ms)
) STRICT;
CREATE TRIGGER meters_given_kept BEFORE DELETE ON meters_given BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER meters_given_fixed BEFORE UPDATE ON meters_given BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;

-- Calendar events: `content` as JSON; of one key the row with the highest sequence stands.
CREATE TABLE events_given (
    id INTEGER PRIMARY KEY,
    key TEXT NOT NULL,
    sequence INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    content TEXT NOT NULL,
    UNIQUE (key, sequence)
) STRICT;
CREATE TRIGGER events_given_kept BEFORE DELETE ON events_given BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
CREATE TRIGGER events_given_fixed BEFORE UPDATE ON events_given BEGIN SELECT RAISE(ABORT, 'facts are append-only'); END;
