-- What staff call a grower, and a note for the next call.

-- +goose Up
ALTER TABLE grower ADD COLUMN name TEXT NOT NULL DEFAULT ''; -- given by staff, or in a circle
ALTER TABLE grower ADD COLUMN name_key TEXT NOT NULL DEFAULT ''; -- the name as it is searched and sorted
ALTER TABLE grower ADD COLUMN note TEXT NOT NULL DEFAULT '';
-- Staff page through the growers of a place by name and number, and search both without reading the rows.
CREATE INDEX grower_name ON grower (place_id, name_key, phone);
-- The few growers whom no text reaches.
CREATE INDEX grower_apart ON grower (place_id, name_key, phone)
	WHERE stopped_at IS NOT NULL OR unreachable_at IS NOT NULL OR unlinked_at IS NOT NULL;

-- +goose Down
DROP INDEX grower_apart;
DROP INDEX grower_name;
ALTER TABLE grower DROP COLUMN note;
ALTER TABLE grower DROP COLUMN name_key;
ALTER TABLE grower DROP COLUMN name;
