-- What staff call a grower, and a note for the next call. What a column means is said in the migration of SQLite.
-- oldest: 17

-- +goose Up
ALTER TABLE grower ADD COLUMN name TEXT COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE grower ADD COLUMN name_key TEXT COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE grower ADD COLUMN note TEXT COLLATE "C" NOT NULL DEFAULT '';
CREATE INDEX grower_name ON grower (place_id, name_key, phone) INCLUDE (id); -- so that a search reads no rows
-- SQLite's index of the place has the id too. Without it the walk over a place would sort.
DROP INDEX grower_place;
CREATE INDEX grower_place ON grower (place_id, id);
CREATE INDEX grower_apart ON grower (place_id, name_key, phone)
	WHERE stopped_at IS NOT NULL OR unreachable_at IS NOT NULL OR unlinked_at IS NOT NULL;

-- +goose Down
DROP INDEX grower_apart;
DROP INDEX grower_place;
CREATE INDEX grower_place ON grower (place_id);
DROP INDEX grower_name;
ALTER TABLE grower DROP COLUMN note;
ALTER TABLE grower DROP COLUMN name_key;
ALTER TABLE grower DROP COLUMN name;
