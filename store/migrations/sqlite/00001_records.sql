-- Times are Unix seconds, days are days since 1 January 1970; callers pass both.
-- Phones are E.164 with the plus sign.

-- +goose Up
CREATE TABLE place (
	id           INTEGER PRIMARY KEY,
	name         TEXT    NOT NULL UNIQUE CHECK (name <> ''),
	zone         TEXT    NOT NULL CHECK (zone <> ''), -- IANA name
	latitude     REAL    NOT NULL CHECK (latitude BETWEEN -90 AND 90),
	elevation_m  REAL    NOT NULL CHECK (elevation_m BETWEEN -500 AND 9000),
	-- one a month, January first
	normals      TEXT    NOT NULL CHECK (json_valid(normals) AND json_array_length(normals) = 12),
	morning_hour INTEGER NOT NULL DEFAULT 7 CHECK (morning_hour BETWEEN 0 AND 23)
) STRICT;

-- Ids of growers, plots and messages are never reused (AUTOINCREMENT): idempotency
-- keys contain them, and a network that remembers the key of an erased record must
-- not take a new text for a repeat.
CREATE TABLE grower (
	id              INTEGER PRIMARY KEY AUTOINCREMENT,
	phone           TEXT    NOT NULL UNIQUE CHECK (phone LIKE '+%'),
	language        TEXT    NOT NULL,
	place_id        INTEGER NOT NULL REFERENCES place (id),
	consent_at      INTEGER NOT NULL, -- no records without consent: when, which text, on which channel
	consent_text    TEXT    NOT NULL,
	consent_channel TEXT    NOT NULL,
	stopped_at      INTEGER,          -- NULL: wants texts
	created_at      INTEGER NOT NULL,
	seen_at         INTEGER NOT NULL
) STRICT;
CREATE INDEX grower_place ON grower (place_id);

CREATE TABLE plot (
	id                 INTEGER PRIMARY KEY AUTOINCREMENT,
	grower_id          INTEGER NOT NULL REFERENCES grower (id) ON DELETE CASCADE,
	no                 INTEGER NOT NULL CHECK (no BETWEEN 1 AND 9), -- one digit that the grower types
	label              TEXT    NOT NULL,
	method             INTEGER NOT NULL CHECK (method BETWEEN 1 AND 3),
	planted            INTEGER NOT NULL,
	puddled            INTEGER NOT NULL, -- 0 here and below: not told
	seedling_age_days  INTEGER NOT NULL CHECK (seedling_age_days >= 0),
	seedlings_per_hill INTEGER NOT NULL CHECK (seedlings_per_hill >= 0),
	row_spacing_cm     REAL    NOT NULL CHECK (row_spacing_cm >= 0),
	hill_spacing_cm    REAL    NOT NULL CHECK (hill_spacing_cm >= 0),
	area_m2            REAL    NOT NULL CHECK (area_m2 >= 0),
	flood              INTEGER NOT NULL CHECK (flood BETWEEN 0 AND 2),
	duration_days      INTEGER NOT NULL CHECK (duration_days >= 0),
	tool_width_cm      REAL    NOT NULL CHECK (tool_width_cm >= 0),
	tool_max_width_cm  REAL    NOT NULL CHECK (tool_max_width_cm >= 0),
	since_day          INTEGER NOT NULL, -- day of registration
	closed_day         INTEGER,          -- NULL: open
	look_at            INTEGER,          -- next look of the bell; NULL: never
	CHECK (closed_day IS NULL OR look_at IS NULL) -- the bell never looks at a closed plot
) STRICT;
CREATE INDEX plot_grower ON plot (grower_id);
-- Among a grower's open plots numbers are unique; closing a plot frees its number.
CREATE UNIQUE INDEX plot_no ON plot (grower_id, no) WHERE closed_day IS NULL;
-- The bell reads due plots through this index, not all plots.
CREATE INDEX plot_look ON plot (look_at) WHERE look_at IS NOT NULL;

CREATE TABLE pass (
	plot_id    INTEGER NOT NULL REFERENCES plot (id) ON DELETE CASCADE,
	day        INTEGER NOT NULL,
	seq        INTEGER NOT NULL, -- order in which the plot's passes were logged
	means      INTEGER NOT NULL CHECK (means BETWEEN 1 AND 2),
	way        INTEGER NOT NULL CHECK (way BETWEEN 0 AND 3),
	hours      REAL    NOT NULL CHECK (hours >= 0),
	people     INTEGER NOT NULL CHECK (people >= 0),
	weeds_left INTEGER NOT NULL CHECK (weeds_left BETWEEN 0 AND 3),
	PRIMARY KEY (plot_id, day, seq) -- a plot's passes are stored together, by day
) STRICT, WITHOUT ROWID;

CREATE TABLE sighting (
	plot_id INTEGER NOT NULL REFERENCES plot (id) ON DELETE CASCADE,
	day     INTEGER NOT NULL,
	seq     INTEGER NOT NULL,
	leaves  INTEGER NOT NULL CHECK (leaves BETWEEN 0 AND 3),
	amount  INTEGER NOT NULL CHECK (amount BETWEEN 0 AND 3),
	rows_seen INTEGER NOT NULL CHECK (rows_seen BETWEEN 0 AND 2), -- 0 not told, 1 open, 2 closed
	PRIMARY KEY (plot_id, day, seq)
) STRICT, WITHOUT ROWID;

-- What a plot's grower was told; nothing is told twice for one key.
CREATE TABLE told (
	plot_id INTEGER NOT NULL REFERENCES plot (id) ON DELETE CASCADE,
	window_no INTEGER NOT NULL,
	edition INTEGER NOT NULL,
	kind    INTEGER NOT NULL CHECK (kind > 0),
	day     INTEGER NOT NULL,
	PRIMARY KEY (plot_id, window_no, edition, kind)
) STRICT, WITHOUT ROWID;

-- Dialogues in progress. A phone may use the menu before it consents: no grower here.
CREATE TABLE session (
	phone      TEXT    NOT NULL CHECK (phone LIKE '+%'),
	channel    TEXT    NOT NULL,
	network    TEXT    NOT NULL, -- the network's own session id, '' if it has none
	state      BLOB    NOT NULL, -- opaque: owned by the menu
	saved_at   INTEGER NOT NULL,
	expires_at INTEGER NOT NULL,
	PRIMARY KEY (phone, channel)
) STRICT, WITHOUT ROWID;
CREATE INDEX session_expires ON session (expires_at);

-- What a one-digit text from this phone means now.
CREATE TABLE prompt (
	phone    TEXT    NOT NULL PRIMARY KEY CHECK (phone LIKE '+%'),
	body     BLOB    NOT NULL, -- opaque: owned by the menu
	asked_at INTEGER NOT NULL,
	until    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX prompt_until ON prompt (until);

-- Callbacks with their replies: a repeat gets the same reply. Keys are random; rows
-- are in order of arrival, so that a commit writes few pages.
CREATE TABLE callback (
	id      INTEGER PRIMARY KEY,
	gateway TEXT    NOT NULL,
	key     TEXT    NOT NULL,
	phone   TEXT,             -- whose records the reply may mention; NULL: nobody's
	reply   BLOB    NOT NULL,
	at      INTEGER NOT NULL,
	UNIQUE (gateway, key)
) STRICT;
CREATE INDEX callback_at ON callback (at);
CREATE INDEX callback_phone ON callback (phone) WHERE phone IS NOT NULL;

-- The outbox.
CREATE TABLE message (
	id           INTEGER PRIMARY KEY AUTOINCREMENT,
	key          TEXT    NOT NULL UNIQUE CHECK (key <> ''), -- idempotency key: one text for each decision
	grower_id    INTEGER REFERENCES grower (id) ON DELETE CASCADE, -- NULL: an answer to a phone without records
	phone        TEXT    NOT NULL CHECK (phone LIKE '+%'),
	kind         TEXT    NOT NULL CHECK (kind <> ''),
	body         TEXT    NOT NULL CHECK (body <> ''),
	created_at   INTEGER NOT NULL,
	due_at       INTEGER NOT NULL,
	useful_until INTEGER NOT NULL,
	state        TEXT    NOT NULL DEFAULT 'queued' CHECK (state IN
		('queued', 'claimed', 'accepted', 'delivered', 'refused', 'expired', 'withdrawn', 'unknown')),
	tries        INTEGER NOT NULL DEFAULT 0 CHECK (tries >= 0),
	claim_at     INTEGER, -- when it may be claimed: due or next try; while claimed, the end of the lease
	network_id   TEXT,
	reason       TEXT    NOT NULL DEFAULT '',
	accepted_at  INTEGER, -- the network took it
	ended_at     INTEGER, -- final
	CHECK (useful_until >= due_at),
	-- claim_at is set exactly while the text may still be sent.
	CHECK ((claim_at IS NOT NULL) = (state IN ('queued', 'claimed'))),
	CHECK (state <> 'claimed' OR tries > 0),
	CHECK (state NOT IN ('accepted', 'delivered') OR accepted_at IS NOT NULL),
	CHECK ((ended_at IS NOT NULL) = (state IN ('delivered', 'refused', 'expired', 'withdrawn', 'unknown')))
) STRICT;
CREATE INDEX message_claim ON message (claim_at, id, useful_until) WHERE claim_at IS NOT NULL;
CREATE INDEX message_phone ON message (phone, id);
CREATE INDEX message_grower ON message (grower_id);
CREATE INDEX message_network ON message (network_id) WHERE network_id IS NOT NULL;

-- Plots that a text is about: it is withdrawn when one of them changes.
CREATE TABLE message_plot (
	plot_id    INTEGER NOT NULL REFERENCES plot (id) ON DELETE CASCADE,
	message_id INTEGER NOT NULL REFERENCES message (id) ON DELETE CASCADE,
	PRIMARY KEY (plot_id, message_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX message_plot_message ON message_plot (message_id);

-- Phones that want no texts, also after their records are erased: only the keyed
-- hash of the number is stored.
CREATE TABLE opt_out (
	hash BLOB    NOT NULL PRIMARY KEY CHECK (length(hash) = 32),
	at   INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE meta (
	key   TEXT NOT NULL PRIMARY KEY,
	value BLOB NOT NULL
) STRICT, WITHOUT ROWID;

-- +goose Down
DROP TABLE meta;
DROP TABLE opt_out;
DROP TABLE message_plot;
DROP TABLE message;
DROP TABLE callback;
DROP TABLE prompt;
DROP TABLE session;
DROP TABLE told;
DROP TABLE sighting;
DROP TABLE pass;
DROP TABLE plot;
DROP TABLE grower;
DROP TABLE place;
