-- All that made a read, in the maker's own encoding, so that it can be made again byte for
-- byte. What was drilled is large and the same for many reads, and is kept once. Reads that
-- were made before this came have no row here.
CREATE TABLE drilled (
  id     INTEGER PRIMARY KEY,
  digest BLOB NOT NULL UNIQUE, -- SHA-256 of the body
  body   BLOB NOT NULL
);

CREATE TABLE requests (
  read_id INTEGER PRIMARY KEY REFERENCES reads (id),
  request BLOB    NOT NULL,
  drilled INTEGER REFERENCES drilled (id) -- NULL for nothing
);
