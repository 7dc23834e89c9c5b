-- Reads, and the runs of notes that no later read may return.

CREATE TABLE reads (
  id         INTEGER PRIMARY KEY,
  identity   TEXT    NOT NULL,
  title      TEXT    NOT NULL,
  style      TEXT    NOT NULL,
  rung       INTEGER NOT NULL,
  instrument TEXT    NOT NULL,
  made       TEXT    NOT NULL, -- RFC 3339, UTC
  melody     BLOB    NOT NULL
);

CREATE INDEX reads_identity ON reads (identity);

-- length is in notes. hash covers intervals and rhythm, rhythm covers rhythm alone;
-- both are 64 bits, kept as SQLite's signed integers.
CREATE TABLE runs (
  length    INTEGER NOT NULL,
  hash      INTEGER NOT NULL,
  read_id   INTEGER NOT NULL REFERENCES reads (id),
  rhythm    INTEGER NOT NULL,
  intervals BLOB    NOT NULL,
  PRIMARY KEY (length, hash, read_id)
) WITHOUT ROWID;

-- Holds intervals too, so that a search by rhythm reads this index alone, newest first.
CREATE INDEX runs_rhythm ON runs (length, rhythm, read_id, intervals);
