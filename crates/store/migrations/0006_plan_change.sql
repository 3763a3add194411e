-- Changes of plan for some days, beside a lifter's programme: a session moved or dropped, light days, days away.

-- One more kind of fact, by the same words as in migration 3.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema
   SET sql = replace(sql, '''programme'', ''phone''', '''programme'', ''plan-change'', ''phone''')
 WHERE type = 'table' AND name = 'fact';
PRAGMA writable_schema = RESET;

CREATE TABLE plan_change (
    seq      INTEGER PRIMARY KEY REFERENCES fact (seq),
    lifter   INTEGER NOT NULL REFERENCES lifter (id),
    from_day TEXT NOT NULL,             -- 2031-05-04: its first day
    to_day   TEXT NOT NULL,             -- its last day
    text     TEXT NOT NULL              -- what changes, in TOML
) STRICT;

CREATE INDEX plan_change_by_lifter ON plan_change (lifter);

CREATE TRIGGER plan_change_stays BEFORE UPDATE ON plan_change BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER plan_change_remains BEFORE DELETE ON plan_change BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
