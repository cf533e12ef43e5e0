-- What one process must know of another, where several share the records. A file has one service; the tables are there
-- so that the records are the same on both databases.

-- +goose Up
CREATE TABLE process (
	name    TEXT    NOT NULL PRIMARY KEY CHECK (name <> ''),
	number  INTEGER NOT NULL, -- one more at each start: an older process of this name has lost it
	until   INTEGER NOT NULL, -- by the clock of the database; unless it is moved on, the process has died
	version TEXT    NOT NULL, -- of the program
	schema  INTEGER NOT NULL, -- that the program knows
	reload  TEXT    NOT NULL DEFAULT '{}' CHECK (json_valid(reload)) -- the answer to the last request to read the configuration
) STRICT, WITHOUT ROWID;

-- Work that one process at a time does.
CREATE TABLE lease (
	name    TEXT    NOT NULL PRIMARY KEY CHECK (name <> ''),
	holder  TEXT    NOT NULL, -- name of the process
	number  INTEGER NOT NULL, -- one more for each holder: a write under an older number is refused
	until   INTEGER NOT NULL, -- by the clock of the database
	done_at INTEGER NOT NULL  -- when the work was last done, by the clock of the service
) STRICT, WITHOUT ROWID;

-- Receipts that came before the result of the try which they are about.
CREATE TABLE early_receipt (
	gateway    TEXT    NOT NULL,
	network_id TEXT    NOT NULL,
	state      TEXT    NOT NULL CHECK (state IN ('accepted', 'delivered', 'refused', 'expired')),
	at         INTEGER NOT NULL,
	reason     TEXT    NOT NULL,
	PRIMARY KEY (gateway, network_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX early_receipt_at ON early_receipt (at);

ALTER TABLE message ADD COLUMN claimant TEXT NOT NULL DEFAULT ''; -- the process that claimed it last

-- +goose Down
ALTER TABLE message DROP COLUMN claimant;
DROP TABLE early_receipt;
DROP TABLE lease;
DROP TABLE process;
