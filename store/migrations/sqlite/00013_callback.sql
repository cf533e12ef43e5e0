-- One index finds the replies to a phone's callbacks by their keys and for erasure, where two were written before.
-- Rows stay in order of arrival.

-- +goose Up
CREATE TABLE callback_of (
	id      INTEGER PRIMARY KEY,
	phone   TEXT    NOT NULL, -- whose records the reply may mention; '': nobody's
	gateway TEXT    NOT NULL,
	key     TEXT    NOT NULL,
	reply   BLOB    NOT NULL,
	at      INTEGER NOT NULL,
	UNIQUE (phone, gateway, key)
) STRICT;
INSERT INTO callback_of (id, phone, gateway, key, reply, at)
	SELECT id, coalesce(phone, ''), gateway, key, reply, at FROM callback ORDER BY id;
DROP TABLE callback;
ALTER TABLE callback_of RENAME TO callback;
CREATE INDEX callback_at ON callback (at);

-- +goose Down
CREATE TABLE callback_by_key (
	id      INTEGER PRIMARY KEY,
	gateway TEXT    NOT NULL,
	key     TEXT    NOT NULL,
	phone   TEXT,
	reply   BLOB    NOT NULL,
	at      INTEGER NOT NULL,
	UNIQUE (gateway, key)
) STRICT;
-- A key may have a reply of nobody's from before the grower had records; the later one counts.
INSERT OR REPLACE INTO callback_by_key (id, gateway, key, phone, reply, at)
	SELECT id, gateway, key, nullif(phone, ''), reply, at FROM callback ORDER BY phone <> '', id;
DROP TABLE callback;
ALTER TABLE callback_by_key RENAME TO callback;
CREATE INDEX callback_at ON callback (at);
CREATE INDEX callback_phone ON callback (phone) WHERE phone IS NOT NULL;
