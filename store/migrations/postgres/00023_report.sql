-- The sums of the season report; what a column means is said in the migration of SQLite.
-- oldest: 17

-- +goose Up
CREATE TABLE report_field (
	place_id BIGINT NOT NULL REFERENCES place (id) ON DELETE CASCADE,
	what     BIGINT NOT NULL CHECK (what BETWEEN 1 AND 5),
	month    BIGINT NOT NULL,
	week     BIGINT NOT NULL,
	n        BIGINT NOT NULL CHECK (n > 0),
	bins     TEXT COLLATE "C" NOT NULL CHECK (json_typeof(bins::json) = 'array'),
	PRIMARY KEY (place_id, what, month, week)
);

CREATE TABLE report_text (
	place_id  BIGINT NOT NULL,
	week      BIGINT NOT NULL,
	kind      TEXT COLLATE "C" NOT NULL,
	queued    BIGINT NOT NULL CHECK (queued >= 0),
	claimed   BIGINT NOT NULL CHECK (claimed >= 0),
	accepted  BIGINT NOT NULL CHECK (accepted >= 0),
	delivered BIGINT NOT NULL CHECK (delivered >= 0),
	refused   BIGINT NOT NULL CHECK (refused >= 0),
	expired   BIGINT NOT NULL CHECK (expired >= 0),
	withdrawn BIGINT NOT NULL CHECK (withdrawn >= 0),
	unknown   BIGINT NOT NULL CHECK (unknown >= 0),
	segments  BIGINT NOT NULL CHECK (segments >= 0),
	micros    BIGINT NOT NULL CHECK (micros >= 0),
	PRIMARY KEY (place_id, week, kind)
);

-- +goose Down
DROP TABLE report_text, report_field;
