-- Circles: growers who share tools. Amounts of money are in hundredths of the currency of the place.

-- +goose Up
CREATE TABLE circle (
	id       INTEGER PRIMARY KEY AUTOINCREMENT,
	number   INTEGER NOT NULL UNIQUE CHECK (number > 0), -- what growers type; its last digit checks the others
	place_id INTEGER NOT NULL REFERENCES place (id),     -- of the keeper who made it: its days and mornings
	made_at  INTEGER NOT NULL,
	ended_at INTEGER, -- when the last member left
	plan_at  INTEGER, -- when its turns are planned next; NULL: nothing is ahead
	CHECK (ended_at IS NULL OR plan_at IS NULL)
) STRICT;
CREATE INDEX circle_plan ON circle (plan_at) WHERE plan_at IS NOT NULL;
CREATE INDEX circle_place ON circle (place_id);
CREATE INDEX circle_ended ON circle (ended_at) WHERE ended_at IS NOT NULL;

-- A person of a circle: who asked to join, a member, a guest, or who was one of these. The row stays after an erasure,
-- without grower and name, because entries name it.
CREATE TABLE circle_member (
	id           INTEGER PRIMARY KEY AUTOINCREMENT,
	circle_id    INTEGER NOT NULL REFERENCES circle (id) ON DELETE CASCADE,
	grower_id    INTEGER REFERENCES grower (id) ON DELETE SET NULL, -- NULL: erased
	name         TEXT    NOT NULL,
	joined       INTEGER NOT NULL CHECK (joined IN (0, 1)), -- accepted by the keeper
	keeper       INTEGER NOT NULL CHECK (keeper IN (0, 1)),
	guest        INTEGER NOT NULL CHECK (guest IN (0, 1)),
	left_day     INTEGER,
	consent_at   INTEGER NOT NULL, -- that others see name and number: when, which words, on which channel
	consent_text TEXT    NOT NULL,
	language     TEXT    NOT NULL,
	channel      TEXT    NOT NULL,
	UNIQUE (circle_id, grower_id),
	CHECK (keeper = 0 OR joined = 1),
	CHECK (joined = 0 OR left_day IS NULL)
) STRICT;
CREATE INDEX circle_member_grower ON circle_member (grower_id);

CREATE TABLE circle_tool (
	id           INTEGER PRIMARY KEY AUTOINCREMENT,
	circle_id    INTEGER NOT NULL REFERENCES circle (id) ON DELETE CASCADE,
	owner_id     INTEGER REFERENCES circle_member (id), -- NULL: the circle
	name         TEXT    NOT NULL,
	width_cm     REAL    NOT NULL CHECK (width_cm > 0),
	max_width_cm REAL    NOT NULL CHECK (max_width_cm >= 0),
	price        INTEGER NOT NULL CHECK (price >= 0), -- 0 here: not told; below: nothing, and not hired out
	member_day   INTEGER NOT NULL CHECK (member_day >= 0),
	guest_day    INTEGER NOT NULL CHECK (guest_day >= 0),
	broken       INTEGER NOT NULL CHECK (broken IN (0, 1)),
	removed_day  INTEGER
) STRICT;
CREATE INDEX circle_tool_circle ON circle_tool (circle_id);
CREATE INDEX circle_tool_owner ON circle_tool (owner_id);

-- A day of a tool: at one plot, or with one guest.
CREATE TABLE circle_turn (
	tool_id   INTEGER NOT NULL REFERENCES circle_tool (id) ON DELETE CASCADE,
	day       INTEGER NOT NULL,
	member_id INTEGER NOT NULL REFERENCES circle_member (id) ON DELETE CASCADE,
	plot_id   INTEGER REFERENCES plot (id) ON DELETE CASCADE, -- NULL: a guest hires the tool
	window_no INTEGER NOT NULL, -- the window of the plot for which the turn was made, and its days; 0 for a guest
	edition   INTEGER NOT NULL,
	opens     INTEGER NOT NULL,
	best      INTEGER NOT NULL,
	closes    INTEGER NOT NULL,
	late      INTEGER NOT NULL CHECK (late IN (0, 1)),
	charged   INTEGER NOT NULL DEFAULT 0 CHECK (charged IN (0, 1)), -- the day has passed and its entry is written
	PRIMARY KEY (tool_id, day)
) STRICT, WITHOUT ROWID;
CREATE INDEX circle_turn_plot ON circle_turn (plot_id, day);
CREATE INDEX circle_turn_member ON circle_turn (member_id);
CREATE INDEX circle_turn_day ON circle_turn (day);

-- What a member says of the turn of a plot for one window.
CREATE TABLE circle_wish (
	plot_id    INTEGER NOT NULL REFERENCES plot (id) ON DELETE CASCADE,
	window_no  INTEGER NOT NULL,
	extra_days INTEGER NOT NULL CHECK (extra_days >= 0),
	skip       INTEGER NOT NULL CHECK (skip IN (0, 1)),
	ready_day  INTEGER, -- when the member said that the tool is free from the next day on
	PRIMARY KEY (plot_id, window_no)
) STRICT, WITHOUT ROWID;

-- What the grower of a plot was told last of its turns. It outlives them, so that a new plan can be compared with it.
CREATE TABLE circle_told (
	plot_id INTEGER NOT NULL PRIMARY KEY REFERENCES plot (id) ON DELETE CASCADE,
	body    TEXT    NOT NULL CHECK (json_valid(body))
) STRICT;

-- Questions from one person of a circle to another.
CREATE TABLE circle_ask (
	id         INTEGER PRIMARY KEY AUTOINCREMENT,
	circle_id  INTEGER NOT NULL REFERENCES circle (id) ON DELETE CASCADE,
	kind       INTEGER NOT NULL CHECK (kind BETWEEN 1 AND 9),
	from_id    INTEGER NOT NULL REFERENCES circle_member (id) ON DELETE CASCADE,
	to_id      INTEGER NOT NULL REFERENCES circle_member (id) ON DELETE CASCADE,
	tool_id    INTEGER REFERENCES circle_tool (id) ON DELETE CASCADE,
	day        INTEGER NOT NULL,
	other_day  INTEGER NOT NULL,
	days       INTEGER NOT NULL,
	amount     INTEGER NOT NULL CHECK (amount >= 0),
	area_m2    REAL    NOT NULL CHECK (area_m2 >= 0),
	for_circle INTEGER NOT NULL CHECK (for_circle IN (0, 1)),
	asked_day  INTEGER NOT NULL,
	until_day  INTEGER NOT NULL,
	about_id   INTEGER, -- the question that this one follows: the weeding of an offer, the offer of a done weeding
	state      INTEGER NOT NULL DEFAULT 0 CHECK (state BETWEEN 0 AND 4) -- 0: open
) STRICT;
CREATE INDEX circle_ask_from ON circle_ask (from_id, asked_day);
CREATE INDEX circle_ask_to ON circle_ask (to_id, state);
CREATE INDEX circle_ask_circle ON circle_ask (circle_id, state);
CREATE INDEX circle_ask_tool ON circle_ask (tool_id);
CREATE INDEX circle_ask_open ON circle_ask (until_day) WHERE state = 0;
CREATE INDEX circle_ask_until ON circle_ask (until_day);

-- The ledger. Entries are never changed, and deleted only with their circle.
CREATE TABLE circle_entry (
	id          INTEGER PRIMARY KEY AUTOINCREMENT,
	circle_id   INTEGER NOT NULL REFERENCES circle (id) ON DELETE CASCADE,
	day         INTEGER NOT NULL,
	debtor_id   INTEGER REFERENCES circle_member (id), -- NULL here and below: the circle
	creditor_id INTEGER REFERENCES circle_member (id),
	amount      INTEGER NOT NULL CHECK (amount > 0),
	kind        INTEGER NOT NULL CHECK (kind BETWEEN 1 AND 4),
	tool_id     INTEGER REFERENCES circle_tool (id),
	-- What caused the entry, so that nothing is written twice: a day of a tool, a question, or an entry taken back.
	turn_day    INTEGER,
	ask_id      INTEGER UNIQUE,
	corrects    INTEGER UNIQUE REFERENCES circle_entry (id),
	UNIQUE (tool_id, turn_day),
	CHECK (coalesce(debtor_id, 0) <> coalesce(creditor_id, 0))
) STRICT;
CREATE INDEX circle_entry_circle ON circle_entry (circle_id);
CREATE INDEX circle_entry_debtor ON circle_entry (debtor_id);
CREATE INDEX circle_entry_creditor ON circle_entry (creditor_id);

ALTER TABLE grower ADD COLUMN circle_id INTEGER; -- in which the grower is a member or asked to be one
ALTER TABLE grower ADD COLUMN in_circles INTEGER NOT NULL DEFAULT 0; -- 1: circle_member has rows of the grower

-- +goose Down
ALTER TABLE grower DROP COLUMN in_circles;
ALTER TABLE grower DROP COLUMN circle_id;
DROP TABLE circle_entry;
DROP TABLE circle_ask;
DROP TABLE circle_told;
DROP TABLE circle_wish;
DROP TABLE circle_turn;
DROP TABLE circle_tool;
DROP TABLE circle_member;
DROP TABLE circle;
