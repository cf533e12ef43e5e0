-- Each step of a dialogue moves the session in one of these indexes, and the first step of a day the grower in the
-- other. Only pruning read them; it now walks over both tables in the order of their keys.

-- +goose Up
DROP INDEX session_expires;
DROP INDEX grower_seen;

-- +goose Down
CREATE INDEX session_expires ON session (expires_at);
CREATE INDEX grower_seen ON grower (seen_at);
