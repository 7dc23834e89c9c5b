-- One row. begun names the journal for as long as it lives; state is another number after
-- each write, so that it can be told whether a file is as it was left.
CREATE TABLE state (
  begun INTEGER NOT NULL,
  state INTEGER NOT NULL
);
INSERT INTO state VALUES (random(), random());
