-- Accounts of the staff who use the desk, their sessions, and the trail of what they changed.

-- +goose Up
CREATE TABLE staff (
	id           INTEGER PRIMARY KEY AUTOINCREMENT,
	name         TEXT    NOT NULL UNIQUE CHECK (name <> ''), -- to log in with; of an account that ended, its id
	role         INTEGER NOT NULL CHECK (role BETWEEN 1 AND 3), -- 1 viewer, 2 field worker, 3 operator
	phone        TEXT    NOT NULL DEFAULT '' CHECK (phone = '' OR phone LIKE '+%'), -- for texts to oneself
	password     TEXT    NOT NULL DEFAULT '', -- its hash (argon2id, PHC string format); '' until the link was used
	wrong        INTEGER NOT NULL DEFAULT 0 CHECK (wrong >= 0), -- wrong passwords in a row
	locked_until INTEGER NOT NULL DEFAULT 0,
	created_at   INTEGER NOT NULL,
	ended_at     INTEGER
) STRICT;

-- Places whose records a field worker or a viewer sees. An operator sees all places.
CREATE TABLE staff_place (
	staff_id INTEGER NOT NULL REFERENCES staff (id) ON DELETE CASCADE,
	place_id INTEGER NOT NULL REFERENCES place (id) ON DELETE CASCADE,
	PRIMARY KEY (staff_id, place_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX staff_place_place ON staff_place (place_id);

-- Links with which somebody sets a password, once.
CREATE TABLE staff_link (
	hash     BLOB    NOT NULL PRIMARY KEY CHECK (length(hash) = 32),
	staff_id INTEGER REFERENCES staff (id) ON DELETE CASCADE, -- NULL: whoever uses it becomes the first operator
	until    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX staff_link_staff ON staff_link (staff_id);

CREATE TABLE staff_session (
	hash     TEXT    NOT NULL PRIMARY KEY CHECK (hash <> ''), -- of the cookie's value
	staff_id INTEGER REFERENCES staff (id) ON DELETE CASCADE, -- NULL: before log-in
	data     BLOB    NOT NULL,
	agent    TEXT    NOT NULL DEFAULT '', -- what the browser calls itself
	began_at INTEGER NOT NULL,
	seen_at  INTEGER NOT NULL,
	until    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX staff_session_staff ON staff_session (staff_id);
CREATE INDEX staff_session_until ON staff_session (until);

-- What staff changed. Rows about a grower go with the grower.
CREATE TABLE trail (
	id        INTEGER PRIMARY KEY AUTOINCREMENT,
	at        INTEGER NOT NULL,
	staff_id  INTEGER REFERENCES staff (id) ON DELETE SET NULL, -- NULL: a command on the server
	who       TEXT    NOT NULL, -- the name at that time
	what      TEXT    NOT NULL CHECK (what <> ''),
	object    TEXT    NOT NULL DEFAULT '', -- what it was done to, in words
	place_id  INTEGER REFERENCES place (id) ON DELETE CASCADE,
	grower_id INTEGER REFERENCES grower (id) ON DELETE CASCADE,
	plot_id   INTEGER,
	was       TEXT    NOT NULL DEFAULT '',
	now       TEXT    NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX trail_grower ON trail (grower_id, id) WHERE grower_id IS NOT NULL;
CREATE INDEX trail_place ON trail (place_id, id);
CREATE INDEX trail_at ON trail (at);
CREATE INDEX trail_staff ON trail (staff_id);

-- +goose Down
DROP TABLE trail;
DROP TABLE staff_session;
DROP TABLE staff_link;
DROP TABLE staff_place;
DROP TABLE staff;
