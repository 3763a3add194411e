-- Computed things that are kept so that nobody waits for them twice. They are no facts: all of this
-- can be computed from the facts again, may be replaced, and no trigger protects it.

-- Values of lifters in general, as estimated from a coach's lifters. Old ones stay. Number 0 stands
-- for the values that come with the program, which are not written here.
CREATE TABLE pooled (
    id        INTEGER PRIMARY KEY,
    made_us   INTEGER NOT NULL,         -- instant, microseconds since 1970-01-01T00:00Z
    n_lifters INTEGER NOT NULL,         -- from how many lifters
    verdict   TEXT NOT NULL             -- how the estimate ended, in words
) STRICT;

INSERT INTO pooled (id, made_us, n_lifters, verdict) VALUES (0, 0, 0, 'they come with the program');

CREATE TABLE pooled_number (
    pooled INTEGER NOT NULL REFERENCES pooled (id),
    name   TEXT NOT NULL,
    value  REAL NOT NULL,
    PRIMARY KEY (pooled, name)
) STRICT, WITHOUT ROWID;

-- Which values are in force: those of the newest row; number 0 if there is none.
CREATE TABLE pooled_in_force (
    seq      INTEGER PRIMARY KEY,
    since_us INTEGER NOT NULL,
    pooled   INTEGER NOT NULL REFERENCES pooled (id)
) STRICT;

-- Fits of a lifter's own parameters, one for each number of lead sets at which one was due. A fit
-- of another model version, or made from other pooled values than those in force, counts as none.
CREATE TABLE fit (
    lifter        INTEGER NOT NULL REFERENCES lifter (id),
    pooled        INTEGER NOT NULL REFERENCES pooled (id),
    n_lead_sets   INTEGER NOT NULL,     -- how many it read
    model         INTEGER NOT NULL,     -- version of the model
    ground        BLOB NOT NULL,        -- fingerprint of all that it rests on
    newest_fact   INTEGER NOT NULL,     -- the store's newest fact when it was made
    made_us       INTEGER NOT NULL,
    at            BLOB NOT NULL,        -- parameters: 64-bit floating-point numbers, low byte first
    verdict       TEXT NOT NULL,        -- how the climb ended: 'converged' or 'not converged'
    log_posterior REAL NOT NULL,
    distance      REAL NOT NULL,
    iterations    INTEGER NOT NULL,
    mean          BLOB,                 -- what the record alone says: mean and precision, if computed
    precision     BLOB,
    PRIMARY KEY (lifter, pooled, n_lead_sets),
    CHECK ((mean IS NULL) = (precision IS NULL))
) STRICT, WITHOUT ROWID;
