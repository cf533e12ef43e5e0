-- The replies to a phone's callbacks by their keys, so that one key finds them for erasure too.

-- +goose Up
UPDATE callback SET phone = '' WHERE phone IS NULL;
DROP INDEX callback_phone;
ALTER TABLE callback DROP CONSTRAINT callback_pkey,
	ALTER COLUMN phone SET NOT NULL, -- whose records the reply may mention; '': nobody's
	ADD PRIMARY KEY (phone, gateway, key);

-- +goose Down
-- A key may have a reply of nobody's from before the grower had records; the later one counts.
DELETE FROM callback c WHERE phone = '' AND EXISTS
	(SELECT 1 FROM callback o WHERE o.gateway = c.gateway AND o.key = c.key AND o.phone <> '');
ALTER TABLE callback DROP CONSTRAINT callback_pkey,
	ALTER COLUMN phone DROP NOT NULL,
	ADD PRIMARY KEY (gateway, key);
UPDATE callback SET phone = NULL WHERE phone = '';
CREATE INDEX callback_phone ON callback (phone) WHERE phone IS NOT NULL;
