-- How a take was played, what the player marked afterwards, and what was proposed then.

ALTER TABLE reads ADD COLUMN measures INTEGER NOT NULL DEFAULT 0; -- as printed; 0 of reads made before this came

-- The load of each measure of a read, in the maker's own encoding.
CREATE TABLE read_loads (
  read_id INTEGER PRIMARY KEY REFERENCES reads (id),
  loads   BLOB    NOT NULL
);

ALTER TABLE takes ADD COLUMN percent INTEGER NOT NULL DEFAULT 100 CHECK (percent BETWEEN 25 AND 100); -- of the page's tempo
ALTER TABLE takes ADD COLUMN rubato INTEGER NOT NULL DEFAULT 0 CHECK (rubato IN (0, 1));
ALTER TABLE takes ADD COLUMN pressure TEXT NOT NULL DEFAULT ''; -- names with commas between

-- A take without a row here has not been marked.
CREATE TABLE marks (
  take_id    INTEGER PRIMARY KEY REFERENCES takes (id),
  stopped_at INTEGER NOT NULL CHECK (stopped_at >= -1), -- a measure from 0; -1: kept going
  marked     TEXT    NOT NULL -- RFC 3339, UTC
);

CREATE TABLE slips (
  take_id INTEGER NOT NULL REFERENCES marks (take_id) ON DELETE CASCADE,
  measure INTEGER NOT NULL CHECK (measure >= 0),
  pitch   INTEGER NOT NULL CHECK (pitch IN (0, 1)),
  rhythm  INTEGER NOT NULL CHECK (rhythm IN (0, 1) AND pitch + rhythm > 0),
  PRIMARY KEY (take_id, measure)
) WITHOUT ROWID;

-- What was proposed after a take. wanted is in the proposer's own encoding, why in words.
CREATE TABLE proposals (
  take_id  INTEGER PRIMARY KEY REFERENCES takes (id),
  made     TEXT    NOT NULL, -- RFC 3339, UTC
  style    TEXT    NOT NULL,
  rung     INTEGER NOT NULL CHECK (rung >= 1),
  coverage REAL    NOT NULL CHECK (coverage BETWEEN 0 AND 1),
  new      INTEGER NOT NULL CHECK (new >= 0),
  percent  INTEGER NOT NULL CHECK (percent BETWEEN 25 AND 100),
  pressure TEXT    NOT NULL,
  wanted   BLOB    NOT NULL,
  why      TEXT    NOT NULL
);
