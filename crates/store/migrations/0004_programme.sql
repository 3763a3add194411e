-- A lifter's programme: the text of its file, and the day from which its weeks are counted. The kind of
-- fact has been known since migration 3.

CREATE TABLE programme (
    seq    INTEGER PRIMARY KEY REFERENCES fact (seq),
    lifter INTEGER NOT NULL REFERENCES lifter (id),
    begins TEXT NOT NULL,               -- 2031-05-04: a day of its first week
    text   TEXT NOT NULL
) STRICT;

CREATE INDEX programme_by_lifter ON programme (lifter);

CREATE TRIGGER programme_stays BEFORE UPDATE ON programme BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER programme_remains BEFORE DELETE ON programme BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
