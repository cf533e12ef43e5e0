-- After a crash, only texts that a network may have are in doubt.

-- +goose Up
-- While the text is claimed: 0 = its network surely does not have it from this try; 1 = the network may have it.
ALTER TABLE message ADD COLUMN begun INTEGER NOT NULL DEFAULT 0 CHECK (begun IN (0, 1));
-- It ended as unknown, and the operator has not decided yet whether it is sent again.
ALTER TABLE message ADD COLUMN undecided INTEGER NOT NULL DEFAULT 0 CHECK (undecided IN (0, 1));
CREATE INDEX message_undecided ON message (useful_until) WHERE undecided = 1;
-- The earlier program did not note which of its claimed texts it had begun to send.
UPDATE message SET begun = 1 WHERE state = 'claimed';

-- +goose Down
DROP INDEX message_undecided;
ALTER TABLE message DROP COLUMN undecided;
ALTER TABLE message DROP COLUMN begun;
