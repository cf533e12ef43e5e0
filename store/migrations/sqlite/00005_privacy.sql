-- What growers agreed to, and indexes for retention.

-- +goose Up
-- The words of consents, each once; version is their hash.
CREATE TABLE consent_text (
	version  TEXT NOT NULL PRIMARY KEY CHECK (version <> ''),
	language TEXT NOT NULL,
	body     TEXT NOT NULL CHECK (body <> '')
) STRICT, WITHOUT ROWID;

-- Decisions of growers in order; the current state is in grower.
CREATE TABLE consent (
	id           INTEGER PRIMARY KEY,
	grower_id    INTEGER NOT NULL REFERENCES grower (id) ON DELETE CASCADE,
	at           INTEGER NOT NULL,
	what         TEXT    NOT NULL CHECK (what IN ('given', 'renewed', 'stopped', 'started', 'language')),
	text_version TEXT    NOT NULL, -- of the last consent; versions of older releases are not in consent_text
	language     TEXT    NOT NULL, -- that the grower reads afterwards
	channel      TEXT    NOT NULL  -- '': not by the grower
) STRICT;
CREATE INDEX consent_grower ON consent (grower_id, id);
INSERT INTO consent (grower_id, at, what, text_version, language, channel)
	SELECT id, consent_at, CASE WHEN consent_at > created_at THEN 'renewed' ELSE 'given' END, consent_text, language, consent_channel
	FROM grower ORDER BY id;
INSERT INTO consent (grower_id, at, what, text_version, language, channel)
	SELECT id, stopped_at, 'stopped', consent_text, language, '' FROM grower WHERE stopped_at IS NOT NULL ORDER BY id;

-- For pruning.
CREATE INDEX plot_closed ON plot (closed_day) WHERE closed_day IS NOT NULL;
CREATE INDEX grower_seen ON grower (seen_at);

-- +goose Down
DROP INDEX grower_seen;
DROP INDEX plot_closed;
DROP TABLE consent;
DROP TABLE consent_text;
