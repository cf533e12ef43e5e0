-- Whom staff call or visit in the morning, and what came of it.

-- +goose Up
-- What a grower last said of the tool.
CREATE TABLE trouble (
	grower_id INTEGER PRIMARY KEY REFERENCES grower (id) ON DELETE CASCADE,
	kind      INTEGER NOT NULL CHECK (kind > 0), -- engine.Trouble
	day       INTEGER NOT NULL
) STRICT;

-- What staff did about a plot.
CREATE TABLE contact (
	id        INTEGER PRIMARY KEY AUTOINCREMENT,
	plot_id   INTEGER NOT NULL REFERENCES plot (id) ON DELETE CASCADE,
	at        INTEGER NOT NULL,
	day       INTEGER NOT NULL, -- at the place of the grower
	what      INTEGER NOT NULL CHECK (what BETWEEN 1 AND 3), -- 1 not reached, 2 reached, 3 came by
	window_no INTEGER NOT NULL, -- the window that was next, 0: none
	reasons   INTEGER NOT NULL -- engine.Reasons, about which staff talked with the grower
) STRICT;
CREATE INDEX contact_plot ON contact (plot_id, day);

-- The plots that need somebody, computed from the other records. It may be deleted at any time.
CREATE TABLE attention (
	plot_id   INTEGER PRIMARY KEY REFERENCES plot (id) ON DELETE CASCADE,
	grower_id INTEGER NOT NULL,
	place_id  INTEGER NOT NULL,
	later     INTEGER NOT NULL CHECK (later IN (0, 1)), -- 1: not reached today, so others come first
	rank      INTEGER NOT NULL, -- the smallest is first: minus what a visit saves, in millionths of a per cent
	reasons   INTEGER NOT NULL CHECK (reasons > 0) -- engine.Reasons
) STRICT;
CREATE INDEX attention_rank ON attention (place_id, later, rank, plot_id);
CREATE INDEX attention_reasons ON attention (place_id, reasons, later, rank, plot_id);

-- Growers whose plots must be computed anew, because something about them has changed.
CREATE TABLE attention_due (
	grower_id INTEGER PRIMARY KEY REFERENCES grower (id) ON DELETE CASCADE,
	mark      INTEGER NOT NULL -- one more for each change
) STRICT;

-- How far the list of a place is for its day.
CREATE TABLE attention_place (
	place_id     INTEGER PRIMARY KEY REFERENCES place (id) ON DELETE CASCADE,
	day          INTEGER NOT NULL,
	after_grower INTEGER -- growers up to this id are done; NULL: all are
) STRICT;

-- +goose Down
DROP TABLE attention_place;
DROP TABLE attention_due;
DROP TABLE attention;
DROP TABLE contact;
DROP TABLE trouble;
