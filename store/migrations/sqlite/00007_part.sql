-- A pass may be over a part of the plot.

-- +goose Up
-- share of the plot that was weeded; 0: all of it
ALTER TABLE pass ADD COLUMN share REAL NOT NULL DEFAULT 0 CHECK (share >= 0 AND share < 1);

-- +goose Down
ALTER TABLE pass DROP COLUMN share;
