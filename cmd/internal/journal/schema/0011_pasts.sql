-- What each read was kept clear of, so that it can be made again whatever came into the
-- journal beside it. Reads that were made before this came have no row here, and were kept
-- clear of all reads with smaller IDs.
CREATE TABLE pasts (
  read_id INTEGER PRIMARY KEY REFERENCES reads (id),
  past    TEXT NOT NULL -- JSON: spans of IDs, [[first, last], ...], the oldest read first
);
