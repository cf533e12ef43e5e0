-- Seedlings may stand deep, which delays the crop.

-- +goose Up
-- 1: the seedlings were planted deeper than the white of the stem
ALTER TABLE plot ADD COLUMN deep INTEGER NOT NULL DEFAULT 0 CHECK (deep IN (0, 1));

-- +goose Down
ALTER TABLE plot DROP COLUMN deep;
