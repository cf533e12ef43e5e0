-- Growers tell more about water and weeds, and a place learns which weed clock fits.

-- +goose Up
-- flood: 0 not told, 1 always stands, 2 only wet, 3 comes and goes
ALTER TABLE plot ADD COLUMN told_flood INTEGER NOT NULL DEFAULT 0 CHECK (told_flood BETWEEN 0 AND 3);
UPDATE plot SET told_flood = flood;
ALTER TABLE plot DROP COLUMN flood;
ALTER TABLE plot RENAME COLUMN told_flood TO flood;
-- leaves: 0 not told, 1 one leaf, 2 two or three, 3 four or more, 4 no weeds yet
ALTER TABLE sighting ADD COLUMN told_leaves INTEGER NOT NULL DEFAULT 0 CHECK (told_leaves BETWEEN 0 AND 4);
UPDATE sighting SET told_leaves = leaves;
ALTER TABLE sighting DROP COLUMN leaves;
ALTER TABLE sighting RENAME COLUMN told_leaves TO leaves;
-- Learned share and rate of each weed clock of the engine, in its order; '[]': nothing was learned.
ALTER TABLE place ADD COLUMN weed_clocks TEXT NOT NULL DEFAULT '[]'
	CHECK (json_valid(weed_clocks) AND json_type(weed_clocks) = 'array');
-- The earlier rates belong to the single clock of an earlier release.
UPDATE place SET weed_rate = 1, learned_n = 0;

-- +goose Down
ALTER TABLE place DROP COLUMN weed_clocks;
ALTER TABLE sighting ADD COLUMN told_leaves INTEGER NOT NULL DEFAULT 0 CHECK (told_leaves BETWEEN 0 AND 3);
UPDATE sighting SET told_leaves = CASE leaves WHEN 4 THEN 1 ELSE leaves END; -- "one leaf, or just emerged"
ALTER TABLE sighting DROP COLUMN leaves;
ALTER TABLE sighting RENAME COLUMN told_leaves TO leaves;
ALTER TABLE plot ADD COLUMN told_flood INTEGER NOT NULL DEFAULT 0 CHECK (told_flood BETWEEN 0 AND 2);
UPDATE plot SET told_flood = CASE flood WHEN 3 THEN 2 ELSE flood END; -- "alternately wet and drained"
ALTER TABLE plot DROP COLUMN flood;
ALTER TABLE plot RENAME COLUMN told_flood TO flood;
