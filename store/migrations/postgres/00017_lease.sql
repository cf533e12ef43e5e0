-- What one process must know of another. What a column means is said in the migration of SQLite.
-- oldest: 17

-- +goose Up
CREATE TABLE process (
	name    TEXT COLLATE "C" NOT NULL PRIMARY KEY CHECK (name <> ''),
	number  BIGINT NOT NULL,
	until   BIGINT NOT NULL,
	version TEXT COLLATE "C" NOT NULL,
	schema  BIGINT NOT NULL,
	reload  TEXT COLLATE "C" NOT NULL DEFAULT '{}' CHECK (json_typeof(reload::json) = 'object')
);

CREATE TABLE lease (
	name    TEXT COLLATE "C" NOT NULL PRIMARY KEY CHECK (name <> ''),
	holder  TEXT COLLATE "C" NOT NULL,
	number  BIGINT NOT NULL,
	until   BIGINT NOT NULL,
	done_at BIGINT NOT NULL
);

CREATE TABLE early_receipt (
	gateway    TEXT COLLATE "C" NOT NULL,
	network_id TEXT COLLATE "C" NOT NULL,
	state      TEXT COLLATE "C" NOT NULL CHECK (state IN ('accepted', 'delivered', 'refused', 'expired')),
	at         BIGINT NOT NULL,
	reason     TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (gateway, network_id)
);
CREATE INDEX early_receipt_at ON early_receipt (at);

ALTER TABLE message ADD COLUMN claimant TEXT COLLATE "C" NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE message DROP COLUMN claimant;
DROP TABLE early_receipt, lease, process;
