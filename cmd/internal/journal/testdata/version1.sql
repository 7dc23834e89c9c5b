-- A journal as the first schema left it: two reads, one run of which both have.
PRAGMA application_id = 1332639588;
PRAGMA user_version = 1;
CREATE TABLE reads (
  id         INTEGER PRIMARY KEY,
  identity   TEXT    NOT NULL,
  title      TEXT    NOT NULL,
  style      TEXT    NOT NULL,
  rung       INTEGER NOT NULL,
  instrument TEXT    NOT NULL,
  made       TEXT    NOT NULL,
  melody     BLOB    NOT NULL
);
CREATE INDEX reads_identity ON reads (identity);
CREATE TABLE runs (
  length    INTEGER NOT NULL,
  hash      INTEGER NOT NULL,
  read_id   INTEGER NOT NULL REFERENCES reads (id),
  rhythm    INTEGER NOT NULL,
  intervals BLOB    NOT NULL,
  PRIMARY KEY (length, hash, read_id)
) WITHOUT ROWID;
CREATE INDEX runs_rhythm ON runs (length, rhythm, read_id, intervals);
INSERT INTO reads VALUES (1, 'seed 7 march rung 3 generator 1', 'Morning Parade', 'march', 3, 'euphonium-treble',
  '2026-01-02T03:04:05Z', x'0201');
INSERT INTO reads VALUES (2, 'seed 8 lyrical rung 4 generator 1', 'Evening Air', 'lyrical', 4, 'trombone',
  '2026-01-03T03:04:05.6Z', x'0202');
INSERT INTO runs VALUES (9, -1, 1, 70, x'02FE');
INSERT INTO runs VALUES (9, -1, 2, 70, x'02FE');
INSERT INTO runs VALUES (9, 5, 2, -9223372036854775808, x'0405');
