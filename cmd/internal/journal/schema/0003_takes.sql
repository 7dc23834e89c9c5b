-- Takes: each pass through a read with the band.

CREATE TABLE takes (
  id          INTEGER PRIMARY KEY,
  read_id     INTEGER NOT NULL REFERENCES reads (id),
  started     TEXT    NOT NULL, -- RFC 3339, UTC
  ended       TEXT    NOT NULL,
  outcome     TEXT    NOT NULL CHECK (outcome IN ('kept going', 'left', 'failed')),
  late_median INTEGER NOT NULL, -- nanoseconds
  late_max    INTEGER NOT NULL, -- nanoseconds
  dropped     INTEGER NOT NULL
);

CREATE INDEX takes_read ON takes (read_id);
