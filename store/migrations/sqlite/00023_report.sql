-- The sums of the season report. They name nobody, so they stay when the records from which they come are erased.

-- +goose Up
CREATE TABLE report_field (
	place_id INTEGER NOT NULL REFERENCES place (id) ON DELETE CASCADE,
	what     INTEGER NOT NULL CHECK (what BETWEEN 1 AND 5), -- report.What of the engine
	month    INTEGER NOT NULL, -- of planting: months since January 1970
	week     INTEGER NOT NULL, -- weeks since that of 1 January 1970, each from Monday on
	n        INTEGER NOT NULL CHECK (n > 0), -- of all bins
	bins     TEXT    NOT NULL CHECK (json_valid(bins)), -- bins and how many are in each, in turn
	PRIMARY KEY (place_id, what, month, week)
) STRICT, WITHOUT ROWID;

-- Texts by their state, their parts, and what they cost in millionths of the currency.
CREATE TABLE report_text (
	place_id  INTEGER NOT NULL, -- 0: texts to phones without records
	week      INTEGER NOT NULL, -- in which they were written
	kind      TEXT    NOT NULL,
	queued    INTEGER NOT NULL CHECK (queued >= 0),
	claimed   INTEGER NOT NULL CHECK (claimed >= 0),
	accepted  INTEGER NOT NULL CHECK (accepted >= 0),
	delivered INTEGER NOT NULL CHECK (delivered >= 0),
	refused   INTEGER NOT NULL CHECK (refused >= 0),
	expired   INTEGER NOT NULL CHECK (expired >= 0),
	withdrawn INTEGER NOT NULL CHECK (withdrawn >= 0),
	unknown   INTEGER NOT NULL CHECK (unknown >= 0),
	segments  INTEGER NOT NULL CHECK (segments >= 0),
	micros    INTEGER NOT NULL CHECK (micros >= 0),
	PRIMARY KEY (place_id, week, kind)
) STRICT, WITHOUT ROWID;

-- +goose Down
DROP TABLE report_text;
DROP TABLE report_field;
