-- How long after its time what is sent to a sink is heard, as the player
-- measured or said. sink names a sound device or a MIDI port.
CREATE TABLE latencies (
  sink   TEXT NOT NULL PRIMARY KEY,
  millis INTEGER NOT NULL CHECK (millis BETWEEN 0 AND 1000),
  kept   TEXT NOT NULL
) WITHOUT ROWID;
