-- Saved vocabularies and the drills that each was learned from.

CREATE TABLE vocabularies (
  name  TEXT PRIMARY KEY,
  saved TEXT NOT NULL, -- RFC 3339, UTC
  sheet BLOB NOT NULL
) WITHOUT ROWID;

CREATE TABLE drills (
  id         INTEGER PRIMARY KEY,
  vocabulary TEXT NOT NULL REFERENCES vocabularies (name) ON DELETE CASCADE,
  title      TEXT NOT NULL,
  learned    TEXT NOT NULL, -- RFC 3339, UTC
  melody     BLOB NOT NULL
);

CREATE INDEX drills_vocabulary ON drills (vocabulary);

CREATE TABLE drill_runs (
  drill_id  INTEGER NOT NULL REFERENCES drills (id) ON DELETE CASCADE,
  length    INTEGER NOT NULL,
  hash      INTEGER NOT NULL,
  rhythm    INTEGER NOT NULL,
  intervals BLOB    NOT NULL,
  PRIMARY KEY (drill_id, length, hash)
) WITHOUT ROWID;
