-- The measures of each read, of which no later read may share too many. Reads that were
-- made before this table came have none in it: their barlines and values were not kept.

-- hash is 64 bits, kept as SQLite's signed integer.
CREATE TABLE measures (
  hash    INTEGER NOT NULL,
  read_id INTEGER NOT NULL REFERENCES reads (id),
  PRIMARY KEY (hash, read_id)
) WITHOUT ROWID;
