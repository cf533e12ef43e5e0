-- Phone numbers get new owners, and growers get new numbers.

-- +goose Up
-- When a grower's number turned out to be somebody else's: the records wait for
-- staff. phone is then '+0' and the id, which is no number: country codes begin with
-- 1 to 9 (ITU-T E.164). Whatever sends to growers or lists them must skip these.
ALTER TABLE grower ADD COLUMN unlinked_at INTEGER CHECK ((unlinked_at IS NULL) = (phone NOT LIKE '+0%'));
CREATE INDEX grower_unlinked ON grower (unlinked_at) WHERE unlinked_at IS NOT NULL;

-- Codes with which a grower moves the records to another phone, one a grower.
CREATE TABLE move_code (
	hash      BLOB    NOT NULL PRIMARY KEY CHECK (length(hash) = 32), -- keyed hash
	grower_id INTEGER NOT NULL UNIQUE REFERENCES grower (id) ON DELETE CASCADE,
	until     INTEGER NOT NULL -- expiry
) STRICT, WITHOUT ROWID;
CREATE INDEX move_code_until ON move_code (until);

-- Wrong codes typed on a phone without records: only its keyed hash is stored.
CREATE TABLE move_try (
	hash  BLOB    NOT NULL PRIMARY KEY CHECK (length(hash) = 32),
	wrong INTEGER NOT NULL CHECK (wrong BETWEEN 1 AND 5),
	until INTEGER NOT NULL -- expiry
) STRICT, WITHOUT ROWID;
CREATE INDEX move_try_until ON move_try (until);

-- Wrong codes of all phones on a day.
CREATE TABLE move_wrong (
	day   INTEGER NOT NULL PRIMARY KEY, -- UTC
	wrong INTEGER NOT NULL CHECK (wrong BETWEEN 1 AND 100)
) STRICT;

-- +goose Down
-- Growers without a number are deleted: the earlier schema would send texts to them.
DELETE FROM grower WHERE unlinked_at IS NOT NULL;
DROP TABLE move_wrong;
DROP TABLE move_try;
DROP TABLE move_code;
DROP INDEX grower_unlinked;
ALTER TABLE grower DROP COLUMN unlinked_at;
