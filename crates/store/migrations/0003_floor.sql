-- The gym floor: private links of phones, and the messages that phones have sent.

-- More kinds of facts. A check can't be altered in place, and building the table anew would copy a
-- whole record; the words of a check may be changed in the schema itself, since no row depends on
-- them (SQLite's documentation of ALTER TABLE, "Making Other Kinds Of Table Schema Changes").
PRAGMA writable_schema = ON;
UPDATE sqlite_schema
   SET sql = replace(sql, '''set'', ''check-in'')', '''set'', ''check-in'', ''programme'', ''phone'', ''floor'', ''note'')')
 WHERE type = 'table' AND name = 'fact';
PRAGMA writable_schema = RESET;

CREATE TABLE phone_link (
    seq        INTEGER PRIMARY KEY REFERENCES fact (seq),
    lifter     INTEGER NOT NULL REFERENCES lifter (id),
    token_hash BLOB NOT NULL            -- SHA-256 of the token; the token itself is kept nowhere
) STRICT;

CREATE INDEX phone_link_by_hash ON phone_link (token_hash);
CREATE INDEX phone_link_by_lifter ON phone_link (lifter);

CREATE TABLE floor_message (
    seq       INTEGER PRIMARY KEY REFERENCES fact (seq),
    lifter    INTEGER NOT NULL REFERENCES lifter (id),
    link      BLOB NOT NULL,            -- id of the link by which it came
    day       TEXT NOT NULL,            -- the session that the phone had open
    kind      TEXT NOT NULL,            -- as the phone wrote it
    body      TEXT NOT NULL,            -- JSON as the phone sent it
    logged_us INTEGER NOT NULL,         -- the phone's clock when it was logged
    sent_us   INTEGER NOT NULL,         -- the phone's clock when it was sent
    outcome   TEXT NOT NULL CHECK (outcome IN ('kept', 'set', 'check-in', 'refused')),
    thing     BLOB,                     -- the set or check-in that came of it
    refused   TEXT                      -- why nothing could come of it
) STRICT;

CREATE INDEX floor_message_by_lifter ON floor_message (lifter, day);

CREATE TRIGGER phone_link_stays BEFORE UPDATE ON phone_link BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER phone_link_remains BEFORE DELETE ON phone_link BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
CREATE TRIGGER floor_message_stays BEFORE UPDATE ON floor_message BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER floor_message_remains BEFORE DELETE ON floor_message BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
