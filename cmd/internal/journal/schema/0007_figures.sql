-- The figures that each read is made of and that each learning held, in the maker's own
-- encoding, so that how well they are known can be computed from when they were met. Reads
-- that were made before this table came have none in it.
CREATE TABLE read_figures (
  read_id INTEGER PRIMARY KEY REFERENCES reads (id),
  figures BLOB    NOT NULL
);

CREATE TABLE lessons (
  id      INTEGER PRIMARY KEY,
  learned TEXT    NOT NULL, -- RFC 3339, UTC
  figures BLOB    NOT NULL
);
