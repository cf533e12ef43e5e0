-- How the texts of a phone and the answers to them went lately, so that two machines that answer each other stop.

-- +goose Up
CREATE TABLE exchange (
	phone     TEXT    NOT NULL PRIMARY KEY CHECK (phone LIKE '+%'),
	at        INTEGER NOT NULL, -- when its last text came
	mark      BLOB    NOT NULL CHECK (length(mark) = 16), -- keyed hash of that text
	same      INTEGER NOT NULL CHECK (same >= 0), -- how many texts in a row had this mark
	fruitless INTEGER NOT NULL CHECK (fruitless >= 0), -- answers in a row to texts that were not understood
	hour_at   INTEGER NOT NULL,
	answers   INTEGER NOT NULL CHECK (answers >= 0), -- answers since hour_at
	pauses    INTEGER NOT NULL CHECK (pauses >= 0),
	until     INTEGER NOT NULL, -- end of the pause; 0: none
	flooded   INTEGER NOT NULL CHECK (flooded IN (0, 1)) -- the pause does not end early by a text that is understood
) STRICT, WITHOUT ROWID;
CREATE INDEX exchange_at ON exchange (at);
CREATE INDEX exchange_until ON exchange (until);

-- +goose Down
DROP TABLE exchange;
