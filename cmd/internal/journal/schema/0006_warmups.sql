-- The warm-ups that were made, so that a day's comes again as it was and no line comes two
-- days running. day is the player's date, as 2026-11-25; request is all that made it, in
-- the maker's own encoding; lines are the hashes of its lines, 8 bytes each.
CREATE TABLE warmups (
  id      INTEGER PRIMARY KEY,
  day     TEXT NOT NULL,
  made    TEXT NOT NULL,
  request BLOB NOT NULL,
  lines   BLOB NOT NULL
);
