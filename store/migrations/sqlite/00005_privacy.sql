-- What growers agreed to, and for how long things are kept.

-- +goose Up
-- The words that were agreed to, once: version is their hash. They name nobody.
CREATE TABLE consent_text (
	version  TEXT NOT NULL PRIMARY KEY CHECK (version <> ''),
	language TEXT NOT NULL,
	body     TEXT NOT NULL CHECK (body <> '')
) STRICT, WITHOUT ROWID;

-- What a grower decided, in order; beside it grower has how things stand.
CREATE TABLE consent (
	id           INTEGER PRIMARY KEY,
	grower_id    INTEGER NOT NULL REFERENCES grower (id) ON DELETE CASCADE,
	at           INTEGER NOT NULL,
	what         TEXT    NOT NULL CHECK (what IN ('given', 'renewed', 'stopped', 'started', 'language')),
	text_version TEXT    NOT NULL, -- of the words agreed to last; those of older releases are not in consent_text
	language     TEXT    NOT NULL, -- that the grower reads from then on
	channel      TEXT    NOT NULL  -- '': not told by the grower on a channel
) STRICT;
CREATE INDEX consent_grower ON consent (grower_id, id);
INSERT INTO consent (grower_id, at, what, text_version, language, channel)
	SELECT id, consent_at, CASE WHEN consent_at > created_at THEN 'renewed' ELSE 'given' END, consent_text, language, consent_channel
	FROM grower ORDER BY id;
INSERT INTO consent (grower_id, at, what, text_version, language, channel)
	SELECT id, stopped_at, 'stopped', consent_text, language, '' FROM grower WHERE stopped_at IS NOT NULL ORDER BY id;

-- What has been kept long enough is looked for by these.
CREATE INDEX plot_closed ON plot (closed_day) WHERE closed_day IS NOT NULL;
CREATE INDEX grower_seen ON grower (seen_at);

-- +goose Down
DROP INDEX grower_seen;
DROP INDEX plot_closed;
DROP TABLE consent;
DROP TABLE consent_text;
