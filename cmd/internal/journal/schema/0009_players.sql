-- Several players may share a journal. What each played, learned and saved is theirs; reads
-- are kept clear of for all. player is the name, '' the one who gave none, who is not listed.

CREATE TABLE players (
  name  TEXT PRIMARY KEY COLLATE NOCASE CHECK (name != ''),
  added TEXT NOT NULL -- RFC 3339, UTC
) WITHOUT ROWID;

ALTER TABLE reads     ADD COLUMN player TEXT NOT NULL DEFAULT ''; -- for whom it was made
ALTER TABLE takes     ADD COLUMN player TEXT NOT NULL DEFAULT '';
ALTER TABLE lessons   ADD COLUMN player TEXT NOT NULL DEFAULT '';
ALTER TABLE warmups   ADD COLUMN player TEXT NOT NULL DEFAULT '';
ALTER TABLE proposals ADD COLUMN player TEXT NOT NULL DEFAULT '';

CREATE INDEX reads_player ON reads (player);

-- Saved vocabularies are named anew for each player.
DROP INDEX drills_vocabulary;
ALTER TABLE drill_runs RENAME TO old_drill_runs;
ALTER TABLE drills RENAME TO old_drills;
ALTER TABLE vocabularies RENAME TO old_vocabularies;

CREATE TABLE vocabularies (
  id     INTEGER PRIMARY KEY,
  player TEXT NOT NULL,
  name   TEXT NOT NULL,
  saved  TEXT NOT NULL, -- RFC 3339, UTC
  sheet  BLOB NOT NULL,
  UNIQUE (player, name)
);

CREATE TABLE drills (
  id         INTEGER PRIMARY KEY,
  vocabulary INTEGER NOT NULL REFERENCES vocabularies (id) ON DELETE CASCADE,
  title      TEXT    NOT NULL,
  learned    TEXT    NOT NULL, -- RFC 3339, UTC
  melody     BLOB    NOT NULL
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

INSERT INTO vocabularies (player, name, saved, sheet) SELECT '', name, saved, sheet FROM old_vocabularies ORDER BY name;
INSERT INTO drills SELECT old_drills.id, vocabularies.id, title, learned, melody
  FROM old_drills JOIN vocabularies ON vocabularies.name = old_drills.vocabulary;
INSERT INTO drill_runs SELECT * FROM old_drill_runs;

DROP TABLE old_drill_runs;
DROP TABLE old_drills;
DROP TABLE old_vocabularies;
