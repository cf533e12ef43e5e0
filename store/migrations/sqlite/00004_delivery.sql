-- Texts go out through several networks, each at its price and within limits.

-- +goose Up
ALTER TABLE message ADD COLUMN urgency INTEGER NOT NULL DEFAULT 0 CHECK (urgency BETWEEN 0 AND 1); -- 0: somebody waits for it; 1: a reminder
ALTER TABLE message ADD COLUMN lane TEXT NOT NULL DEFAULT '' CHECK (lane = '' OR lane LIKE '+%'); -- what its number begins with, of the prefixes that have a route
ALTER TABLE message ADD COLUMN gateway TEXT NOT NULL DEFAULT ''; -- the network it was handed to last; '': none
ALTER TABLE message ADD COLUMN doubt INTEGER NOT NULL DEFAULT 0 CHECK (doubt IN (0, 1)); -- that network may have taken it: nobody else may send it
ALTER TABLE message ADD COLUMN once INTEGER NOT NULL DEFAULT 0 CHECK (once IN (0, 1)); -- that network sends again what it gets again
ALTER TABLE message ADD COLUMN held INTEGER NOT NULL DEFAULT 0 CHECK (held IN (0, 1)); -- by a limit, until claim_at
-- What was charged for it, while that stands; NULL: nothing.
ALTER TABLE message ADD COLUMN charge_day INTEGER;
ALTER TABLE message ADD COLUMN charge_segments INTEGER NOT NULL DEFAULT 0 CHECK (charge_segments >= 0);
ALTER TABLE message ADD COLUMN charge_micros INTEGER NOT NULL DEFAULT 0 CHECK (charge_micros >= 0);
UPDATE message SET urgency = 1 WHERE kind IN ('prepare', 'open', 'nudge', 'last-days', 'missed', 'closed', 'moved');
UPDATE message SET gateway = 'local' WHERE tries > 0; -- until now there was no other

-- In the order in which they are claimed, a lane after the other.
DROP INDEX message_claim;
CREATE INDEX message_claim ON message (urgency, lane, useful_until, id, claim_at) WHERE claim_at IS NOT NULL;
CREATE INDEX message_doubt ON message (gateway) WHERE doubt = 1 AND claim_at IS NOT NULL;
CREATE INDEX message_held ON message (claim_at) WHERE held = 1;
-- What else waits for a phone is asked of each text that is claimed.
CREATE INDEX message_waits ON message (phone) WHERE claim_at IS NOT NULL;

-- Texts handed over, a row a day (UTC) and scope: '' is all of them,
-- 'gateway/' and its name, 'number/' and the keyed hash of the number.
CREATE TABLE spend (
	scope    TEXT    NOT NULL CHECK (scope = '' OR scope LIKE 'gateway/_%' OR scope LIKE 'number/_%'),
	day      INTEGER NOT NULL,
	texts    INTEGER NOT NULL CHECK (texts >= 0),
	segments INTEGER NOT NULL CHECK (segments >= 0),
	micros   INTEGER NOT NULL CHECK (micros >= 0), -- millionths of the currency's unit
	PRIMARY KEY (scope, day)
) STRICT, WITHOUT ROWID;
CREATE INDEX spend_day ON spend (day);

-- A network knows no phone of this number: since when. NULL: it can be reached.
ALTER TABLE grower ADD COLUMN unreachable_at INTEGER;

-- +goose Down
-- What was before looks at all plots of those who want texts.
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
