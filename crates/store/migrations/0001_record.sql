-- The record: facts are added and never changed. A correction or a withdrawal is a new fact that
-- supersedes an older one; what nothing supersedes is current.

CREATE TABLE recording (
    id     INTEGER PRIMARY KEY,
    at_us  INTEGER NOT NULL,            -- instant, microseconds since 1970-01-01T00:00Z
    source TEXT NOT NULL                -- a log's name, or what was done at the desk
) STRICT;

CREATE TABLE fact (
    seq        INTEGER PRIMARY KEY,     -- order of recording
    recording  INTEGER NOT NULL REFERENCES recording (id),
    kind       TEXT NOT NULL CHECK (kind IN ('lifter', 'lift-file', 'set', 'check-in')),
    id         BLOB NOT NULL,           -- what the thing was called when it was first entered
    place      BLOB,                    -- its natural id now, where a correction has changed that
    entry      INTEGER NOT NULL,        -- seq of the thing's first version
    supersedes INTEGER REFERENCES fact (seq),
    withdrawn  INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
    reason     TEXT NOT NULL
) STRICT;

CREATE INDEX fact_by_id ON fact (id);
-- One successor at most: a history never forks.
CREATE UNIQUE INDEX fact_by_superseded ON fact (supersedes) WHERE supersedes IS NOT NULL;
CREATE INDEX fact_by_place ON fact (place) WHERE place IS NOT NULL;
CREATE INDEX fact_by_withdrawal ON fact (seq) WHERE withdrawn = 1;

CREATE TABLE lifter (
    id  INTEGER PRIMARY KEY,
    key TEXT NOT NULL UNIQUE            -- the name in lower case
) STRICT;

CREATE TABLE lifter_settings (
    seq             INTEGER PRIMARY KEY REFERENCES fact (seq),
    lifter          INTEGER NOT NULL REFERENCES lifter (id),
    name            TEXT NOT NULL,
    unit            TEXT NOT NULL,
    bar_g           INTEGER NOT NULL,
    collars_g       INTEGER NOT NULL,
    pain            INTEGER NOT NULL,
    shortfall_pct   REAL NOT NULL,
    cut_for_nothing REAL NOT NULL,
    trained_through REAL NOT NULL
) STRICT;

CREATE INDEX lifter_settings_by_lifter ON lifter_settings (lifter);

CREATE TABLE lifter_plate (
    seq    INTEGER NOT NULL REFERENCES lifter_settings (seq),
    mass_g INTEGER NOT NULL,
    pairs  INTEGER NOT NULL,
    PRIMARY KEY (seq, mass_g)
) STRICT, WITHOUT ROWID;

CREATE TABLE lift_file (
    seq  INTEGER PRIMARY KEY REFERENCES fact (seq),
    text TEXT NOT NULL
) STRICT;

CREATE TABLE lift_name (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE           -- as it was written
) STRICT;

CREATE TABLE logged_set (
    seq        INTEGER PRIMARY KEY REFERENCES fact (seq),
    lifter     INTEGER NOT NULL REFERENCES lifter (id),
    lift       INTEGER NOT NULL REFERENCES lift_name (id),
    day        TEXT NOT NULL,           -- 2031-05-04
    time       TEXT,                    -- 18:20:05, local to the gym
    number     INTEGER NOT NULL,
    kind       TEXT NOT NULL,
    load_g     INTEGER NOT NULL,
    unit       TEXT NOT NULL,
    reps       INTEGER NOT NULL,
    rir_halves INTEGER,                 -- half repetitions in reserve
    note       TEXT NOT NULL
) STRICT;

CREATE INDEX logged_set_by_lifter ON logged_set (lifter, day);

CREATE TABLE check_in (
    seq         INTEGER PRIMARY KEY REFERENCES fact (seq),
    lifter      INTEGER NOT NULL REFERENCES lifter (id),
    day         TEXT NOT NULL,
    time        TEXT,
    sleep_h     REAL,
    stress      REAL,
    soreness    REAL,
    body_mass_g INTEGER,
    pain_joint  TEXT,
    pain_rating INTEGER
) STRICT;

CREATE INDEX check_in_by_lifter ON check_in (lifter, day);

CREATE TRIGGER recording_stays BEFORE UPDATE ON recording BEGIN SELECT RAISE(ABORT, 'a recording is never changed'); END;
CREATE TRIGGER recording_remains BEFORE DELETE ON recording BEGIN SELECT RAISE(ABORT, 'a recording is never removed'); END;
CREATE TRIGGER fact_stays BEFORE UPDATE ON fact BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER fact_remains BEFORE DELETE ON fact BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
CREATE TRIGGER lifter_settings_stays BEFORE UPDATE ON lifter_settings BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER lifter_settings_remains BEFORE DELETE ON lifter_settings BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
CREATE TRIGGER lifter_plate_stays BEFORE UPDATE ON lifter_plate BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER lifter_plate_remains BEFORE DELETE ON lifter_plate BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
CREATE TRIGGER lift_file_stays BEFORE UPDATE ON lift_file BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER lift_file_remains BEFORE DELETE ON lift_file BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
CREATE TRIGGER logged_set_stays BEFORE UPDATE ON logged_set BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER logged_set_remains BEFORE DELETE ON logged_set BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
CREATE TRIGGER check_in_stays BEFORE UPDATE ON check_in BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER check_in_remains BEFORE DELETE ON check_in BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
