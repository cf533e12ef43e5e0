-- Many plots are due at one instant, and a count of them goes through them in the order of their ids.
-- oldest: 17

-- +goose Up
CREATE INDEX plot_look_at ON plot (look_at, id) WHERE look_at IS NOT NULL;
DROP INDEX plot_look;

-- +goose Down
CREATE INDEX plot_look ON plot (look_at) WHERE look_at IS NOT NULL;
DROP INDEX plot_look_at;
