-- Letters: one text, in several languages, from staff to many growers.

-- +goose Up
CREATE TABLE letter (
	id          INTEGER PRIMARY KEY AUTOINCREMENT,
	who         TEXT    NOT NULL, -- the name of the account that wrote it, at that time
	made_at     INTEGER NOT NULL,
	filter      TEXT    NOT NULL CHECK (json_valid(filter)), -- whom it is for, besides the places
	words       TEXT    NOT NULL CHECK (json_valid(words)),  -- the text of each language
	begins_day  INTEGER NOT NULL, -- local day and hour of each place from which it goes out
	begins_hour INTEGER NOT NULL CHECK (begins_hour BETWEEN 0 AND 23),
	until_day   INTEGER NOT NULL, -- the last local day on which it goes out
	quiet_hour  INTEGER NOT NULL CHECK (quiet_hour BETWEEN 0 AND 23), -- when the quiet hours begin on that day
	confirmed   INTEGER NOT NULL CHECK (confirmed >= 0), -- how many growers staff confirmed
	last_grower INTEGER NOT NULL, -- growers with higher ids joined after that
	written     INTEGER NOT NULL DEFAULT 0 CHECK (written >= 0), -- texts that were put in the outbox
	left_out    TEXT    NOT NULL DEFAULT '{}' CHECK (json_valid(left_out)), -- how many growers got none, by the reason
	stopped_by  TEXT    NOT NULL DEFAULT '', -- who stopped it; '' if nobody did
	ended_at    INTEGER, -- when all places were done, or it was stopped
	CHECK (until_day >= begins_day)
) STRICT;
CREATE INDEX letter_ended ON letter (ended_at) WHERE ended_at IS NOT NULL;

-- How far a letter has come at each of its places. Growers go by their ids.
CREATE TABLE letter_place (
	letter_id INTEGER NOT NULL REFERENCES letter (id) ON DELETE CASCADE,
	place_id  INTEGER NOT NULL REFERENCES place (id) ON DELETE CASCADE,
	grower    INTEGER NOT NULL DEFAULT 0, -- id of the last grower who was looked at
	next_at   INTEGER, -- when it goes on; NULL: all growers of the place were looked at, or the letter was stopped
	PRIMARY KEY (letter_id, place_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX letter_place_next ON letter_place (next_at) WHERE next_at IS NOT NULL;
CREATE INDEX letter_place_place ON letter_place (place_id);

ALTER TABLE message ADD COLUMN letter_id INTEGER; -- of which letter the text is; NULL: of none
CREATE INDEX message_letter ON message (letter_id, state) WHERE letter_id IS NOT NULL;
CREATE INDEX message_letter_grower ON message (grower_id, created_at) WHERE letter_id IS NOT NULL;

-- +goose Down
DROP INDEX message_letter_grower;
DROP INDEX message_letter;
ALTER TABLE message DROP COLUMN letter_id;
DROP TABLE letter_place;
DROP TABLE letter;
