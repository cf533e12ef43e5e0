-- An answer may go by the network that brought the text.

-- +goose Up
-- the network by which it is tried at first; '': by the routes
ALTER TABLE message ADD COLUMN back TEXT NOT NULL DEFAULT '';
DROP INDEX message_claim;
CREATE INDEX message_claim ON message (urgency, lane, useful_until, id, claim_at, back) WHERE claim_at IS NOT NULL;
CREATE INDEX message_back ON message (back, urgency, useful_until, id) WHERE claim_at IS NOT NULL AND back <> '';

-- +goose Down
DROP INDEX message_back;
DROP INDEX message_claim;
CREATE INDEX message_claim ON message (urgency, lane, useful_until, id, claim_at) WHERE claim_at IS NOT NULL;
ALTER TABLE message DROP COLUMN back;
