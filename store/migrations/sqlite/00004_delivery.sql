-- Several networks, each with prices and limits.

-- +goose Up
-- 0: an answer or note; 1: a reminder
ALTER TABLE message ADD COLUMN urgency INTEGER NOT NULL DEFAULT 0 CHECK (urgency BETWEEN 0 AND 1);
-- route prefix of its number
ALTER TABLE message ADD COLUMN lane TEXT NOT NULL DEFAULT '' CHECK (lane = '' OR lane LIKE '+%');
ALTER TABLE message ADD COLUMN gateway TEXT NOT NULL DEFAULT ''; -- the network that it was last handed to; '': none
-- that network may have taken it; no other may send it
ALTER TABLE message ADD COLUMN doubt INTEGER NOT NULL DEFAULT 0 CHECK (doubt IN (0, 1));
ALTER TABLE message ADD COLUMN once INTEGER NOT NULL DEFAULT 0 CHECK (once IN (0, 1)); -- that network is not idempotent
-- deferred by a limit until claim_at
ALTER TABLE message ADD COLUMN held INTEGER NOT NULL DEFAULT 0 CHECK (held IN (0, 1));
-- What was charged for it and not given back; NULL: nothing.
ALTER TABLE message ADD COLUMN charge_day INTEGER;
ALTER TABLE message ADD COLUMN charge_segments INTEGER NOT NULL DEFAULT 0 CHECK (charge_segments >= 0);
ALTER TABLE message ADD COLUMN charge_micros INTEGER NOT NULL DEFAULT 0 CHECK (charge_micros >= 0);
UPDATE message SET urgency = 1 WHERE kind IN ('prepare', 'open', 'nudge', 'last-days', 'missed', 'closed', 'moved');
UPDATE message SET gateway = 'local' WHERE tries > 0; -- the only network before this schema

-- In the order of claims, one route prefix after the other.
DROP INDEX message_claim;
CREATE INDEX message_claim ON message (urgency, lane, useful_until, id, claim_at) WHERE claim_at IS NOT NULL;
CREATE INDEX message_doubt ON message (gateway) WHERE doubt = 1 AND claim_at IS NOT NULL;
CREATE INDEX message_held ON message (claim_at) WHERE held = 1;
-- Each claim asks what else waits for the phone.
CREATE INDEX message_waits ON message (phone) WHERE claim_at IS NOT NULL;

-- Texts sent, one row for each day (UTC) and scope: '' is all, 'gateway/' and a name,
-- 'number/' and the keyed hash of a number.
CREATE TABLE spend (
	scope    TEXT    NOT NULL CHECK (scope = '' OR scope LIKE 'gateway/_%' OR scope LIKE 'number/_%'),
	day      INTEGER NOT NULL,
	texts    INTEGER NOT NULL CHECK (texts >= 0),
	segments INTEGER NOT NULL CHECK (segments >= 0),
	micros   INTEGER NOT NULL CHECK (micros >= 0), -- millionths of the currency's unit
	PRIMARY KEY (scope, day)
) STRICT, WITHOUT ROWID;
CREATE INDEX spend_day ON spend (day);

-- Since when a network reports that the number does not exist; NULL: it exists.
ALTER TABLE grower ADD COLUMN unreachable_at INTEGER;

-- +goose Down
-- The earlier schema has a next look for all plots of growers who want texts.
UPDATE plot SET look_at = (SELECT g.unreachable_at FROM grower g WHERE g.id = plot.grower_id)
WHERE closed_day IS NULL AND grower_id IN
	(SELECT g.id FROM grower g WHERE g.unreachable_at IS NOT NULL AND g.stopped_at IS NULL AND g.unlinked_at IS NULL);
ALTER TABLE grower DROP COLUMN unreachable_at;
DROP TABLE spend;
DROP INDEX message_waits;
DROP INDEX message_held;
DROP INDEX message_doubt;
DROP INDEX message_claim;
CREATE INDEX message_claim ON message (claim_at, id, useful_until) WHERE claim_at IS NOT NULL;
ALTER TABLE message DROP COLUMN charge_micros;
ALTER TABLE message DROP COLUMN charge_segments;
ALTER TABLE message DROP COLUMN charge_day;
ALTER TABLE message DROP COLUMN held;
ALTER TABLE message DROP COLUMN once;
ALTER TABLE message DROP COLUMN doubt;
ALTER TABLE message DROP COLUMN gateway;
ALTER TABLE message DROP COLUMN lane;
ALTER TABLE message DROP COLUMN urgency;
