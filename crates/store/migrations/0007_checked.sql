-- Facts that can be checked: kinds of fact in a table of their own, one first version of a thing, references where a
-- column means a fact, and a checksum for each fact and each computed row. References are off while this runs, and
-- are all looked over before it is committed.

-- Kinds of fact. Another kind is another row.
CREATE TABLE fact_kind (
    name TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

INSERT INTO fact_kind (name) VALUES
    ('lifter'), ('lift-file'), ('set'), ('check-in'), ('programme'), ('plan-change'), ('phone'), ('floor'), ('note');

-- The checksum of each fact: over its own columns, its recording, and what it says, names and not their numbers.
CREATE TEMP TABLE fact_sum (
    seq      INTEGER PRIMARY KEY,
    checksum INTEGER NOT NULL
);

INSERT INTO fact_sum
SELECT f.seq, row_checksum(f.seq, f.kind, f.id, f.place, f.entry, f.supersedes, f.withdrawn, f.reason, f.recording, r.at_us, r.source,
           l.key, t.name, t.unit, t.bar_g, t.collars_g, t.pain, t.shortfall_pct, t.cut_for_nothing, t.trained_through,
           (SELECT group_concat(p.mass_g || ':' || p.pairs, ' ' ORDER BY p.mass_g) FROM lifter_plate p WHERE p.seq = t.seq))
  FROM lifter_settings t JOIN fact f ON f.seq = t.seq JOIN recording r ON r.id = f.recording JOIN lifter l ON l.id = t.lifter;

INSERT INTO fact_sum
SELECT f.seq, row_checksum(f.seq, f.kind, f.id, f.place, f.entry, f.supersedes, f.withdrawn, f.reason, f.recording, r.at_us, r.source,
           t.text)
  FROM lift_file t JOIN fact f ON f.seq = t.seq JOIN recording r ON r.id = f.recording;

INSERT INTO fact_sum
SELECT f.seq, row_checksum(f.seq, f.kind, f.id, f.place, f.entry, f.supersedes, f.withdrawn, f.reason, f.recording, r.at_us, r.source,
           l.key, n.name, t.day, t.time, t.number, t.kind, t.load_g, t.unit, t.reps, t.rir_halves, t.note)
  FROM logged_set t CROSS JOIN fact f ON f.seq = t.seq JOIN recording r ON r.id = f.recording JOIN lifter l ON l.id = t.lifter
  JOIN lift_name n ON n.id = t.lift;

INSERT INTO fact_sum
SELECT f.seq, row_checksum(f.seq, f.kind, f.id, f.place, f.entry, f.supersedes, f.withdrawn, f.reason, f.recording, r.at_us, r.source,
           l.key, t.day, t.time, t.sleep_h, t.stress, t.soreness, t.body_mass_g, t.pain_joint, t.pain_rating)
  FROM check_in t CROSS JOIN fact f ON f.seq = t.seq JOIN recording r ON r.id = f.recording JOIN lifter l ON l.id = t.lifter;

INSERT INTO fact_sum
SELECT f.seq, row_checksum(f.seq, f.kind, f.id, f.place, f.entry, f.supersedes, f.withdrawn, f.reason, f.recording, r.at_us, r.source,
           l.key, t.token_hash, t.opens)
  FROM phone_link t JOIN fact f ON f.seq = t.seq JOIN recording r ON r.id = f.recording JOIN lifter l ON l.id = t.lifter;

INSERT INTO fact_sum
SELECT f.seq, row_checksum(f.seq, f.kind, f.id, f.place, f.entry, f.supersedes, f.withdrawn, f.reason, f.recording, r.at_us, r.source,
           l.key, t.link, t.day, t.kind, t.body, t.logged_us, t.sent_us, t.outcome, t.thing, t.refused)
  FROM floor_message t JOIN fact f ON f.seq = t.seq JOIN recording r ON r.id = f.recording JOIN lifter l ON l.id = t.lifter;

INSERT INTO fact_sum
SELECT f.seq, row_checksum(f.seq, f.kind, f.id, f.place, f.entry, f.supersedes, f.withdrawn, f.reason, f.recording, r.at_us, r.source,
           l.key, t.begins, t.text)
  FROM programme t JOIN fact f ON f.seq = t.seq JOIN recording r ON r.id = f.recording JOIN lifter l ON l.id = t.lifter;

INSERT INTO fact_sum
SELECT f.seq, row_checksum(f.seq, f.kind, f.id, f.place, f.entry, f.supersedes, f.withdrawn, f.reason, f.recording, r.at_us, r.source,
           l.key, t.from_day, t.to_day, t.text)
  FROM plan_change t JOIN fact f ON f.seq = t.seq JOIN recording r ON r.id = f.recording JOIN lifter l ON l.id = t.lifter;

-- A message refers to the first version of the link by which it came.
CREATE TABLE floor_message_checked (
    seq       INTEGER PRIMARY KEY REFERENCES fact (seq),
    lifter    INTEGER NOT NULL REFERENCES lifter (id),
    link      INTEGER NOT NULL REFERENCES phone_link (seq),
    day       TEXT NOT NULL,            -- the session that the phone had open
    kind      TEXT NOT NULL,            -- as the phone wrote it
    body      TEXT NOT NULL,            -- JSON as the phone sent it
    logged_us INTEGER NOT NULL,         -- the phone's clock when it was logged
    sent_us   INTEGER NOT NULL,         -- the phone's clock when it was sent
    outcome   TEXT NOT NULL CHECK (outcome IN ('kept', 'set', 'check-in', 'refused')),
    thing     BLOB,                     -- the id by which the phone knows the set or check-in that came of it
    refused   TEXT                      -- why nothing could come of it
) STRICT;

INSERT INTO floor_message_checked
SELECT m.seq, m.lifter, (SELECT min(f.seq) FROM fact f WHERE f.id = m.link AND f.kind = 'phone'), m.day, m.kind, m.body,
       m.logged_us, m.sent_us, m.outcome, m.thing, m.refused
  FROM floor_message m ORDER BY m.seq;

DROP TABLE floor_message;
ALTER TABLE floor_message_checked RENAME TO floor_message;
CREATE INDEX floor_message_by_lifter ON floor_message (lifter, day);
CREATE TRIGGER floor_message_stays BEFORE UPDATE ON floor_message BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER floor_message_remains BEFORE DELETE ON floor_message BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;

CREATE TABLE fact_checked (
    seq        INTEGER PRIMARY KEY,     -- order of recording
    recording  INTEGER NOT NULL REFERENCES recording (id),
    kind       TEXT NOT NULL REFERENCES fact_kind (name),
    id         BLOB NOT NULL,           -- what the thing was called when it was first entered
    place      BLOB,                    -- its natural id now, where a correction has changed that
    entry      INTEGER NOT NULL REFERENCES fact (seq), -- the thing's first version
    supersedes INTEGER REFERENCES fact (seq),
    withdrawn  INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
    reason     TEXT NOT NULL,
    checksum   INTEGER NOT NULL         -- XXH3 over all of it
) STRICT;

-- A fact that says nothing is damage; its checksum can't be right, and the doctor finds it.
INSERT INTO fact_checked
SELECT f.seq, f.recording, f.kind, f.id, f.place, f.entry, f.supersedes, f.withdrawn, f.reason, coalesce(s.checksum, 0)
  FROM fact f LEFT JOIN fact_sum s ON s.seq = f.seq ORDER BY f.seq;

DROP TABLE fact;
DROP TABLE fact_sum;
ALTER TABLE fact_checked RENAME TO fact;

-- One first version of each thing, which supersedes nothing; of the others each supersedes another.
CREATE UNIQUE INDEX fact_by_id ON fact (id, kind, coalesce(supersedes, 0));
-- One successor at most: a history never forks.
CREATE UNIQUE INDEX fact_by_superseded ON fact (supersedes) WHERE supersedes IS NOT NULL;
CREATE INDEX fact_by_place ON fact (place) WHERE place IS NOT NULL;
CREATE INDEX fact_by_withdrawal ON fact (seq) WHERE withdrawn = 1;
CREATE TRIGGER fact_stays BEFORE UPDATE ON fact BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER fact_remains BEFORE DELETE ON fact BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;

-- Computed things carry a checksum too: a wrong one changes readings.
ALTER TABLE pooled ADD COLUMN checksum INTEGER NOT NULL DEFAULT 0;
ALTER TABLE pooled_number ADD COLUMN checksum INTEGER NOT NULL DEFAULT 0;
ALTER TABLE pooled_in_force ADD COLUMN checksum INTEGER NOT NULL DEFAULT 0;
ALTER TABLE fit ADD COLUMN checksum INTEGER NOT NULL DEFAULT 0;
UPDATE pooled_number SET checksum = row_checksum(pooled, name, value);
UPDATE pooled SET checksum = row_checksum(id, made_us, n_lifters, verdict, (SELECT count(*) FROM pooled_number n WHERE n.pooled = pooled.id));
UPDATE pooled_in_force SET checksum = row_checksum(seq, since_us, pooled);
UPDATE fit SET checksum = row_checksum((SELECT key FROM lifter l WHERE l.id = fit.lifter), pooled, n_lead_sets, model, ground,
    newest_fact, made_us, at, verdict, log_posterior, distance, iterations, mean, precision);

-- How many facts there are, the digest of all of them in their order, and a mark that every commit draws anew. By
-- the mark a log beside the file is recognised as belonging to it; `src/log.rs` describes how. The row is of one
-- page, and `mark` comes last in it: a sign by which it is found, the mark before, and the mark.
CREATE TABLE record_mark (
    id      INTEGER PRIMARY KEY CHECK (id = 1),
    n_facts INTEGER NOT NULL,
    digest  INTEGER NOT NULL,
    mark    BLOB NOT NULL
) STRICT;

INSERT INTO record_mark (id, n_facts, digest, mark) VALUES (1, 0, 0, zeroblob(48));
