-- +goose Up
ALTER TABLE place ADD COLUMN soil INTEGER NOT NULL DEFAULT 0 CHECK (soil BETWEEN 0 AND 3); -- 0: not told
-- Figures and prices that the place sets, by name; others are from the engine's table.
ALTER TABLE place ADD COLUMN figures TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(figures) AND json_type(figures) = 'object');
ALTER TABLE place ADD COLUMN prices TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(prices) AND json_type(prices) = 'object');
ALTER TABLE place ADD COLUMN learning INTEGER NOT NULL DEFAULT 1 CHECK (learning IN (0, 1));
-- learned speed of weed growth, relative to the table
ALTER TABLE place ADD COLUMN weed_rate REAL NOT NULL DEFAULT 1 CHECK (weed_rate > 0);
-- sightings it was learned from
ALTER TABLE place ADD COLUMN learned_n INTEGER NOT NULL DEFAULT 0 CHECK (learned_n >= 0);
-- A new random number after each change of the weather; 0: no weather. Not a counter:
-- the number of a change that was rolled back must not return with other weather.
ALTER TABLE place ADD COLUMN weather_version INTEGER NOT NULL DEFAULT 0;

-- Measured weather; NULL: not measured.
CREATE TABLE weather (
	place_id INTEGER NOT NULL REFERENCES place (id) ON DELETE CASCADE,
	day      INTEGER NOT NULL,
	min_c    REAL,
	max_c    REAL,
	rain_mm  REAL CHECK (rain_mm >= 0),
	PRIMARY KEY (place_id, day),
	CHECK ((min_c IS NULL) = (max_c IS NULL)),
	CHECK (min_c <= max_c),
	CHECK (min_c IS NOT NULL OR rain_mm IS NOT NULL)
) STRICT, WITHOUT ROWID;

ALTER TABLE plot ADD COLUMN soil INTEGER NOT NULL DEFAULT 0 CHECK (soil BETWEEN 0 AND 3); -- 0: the place's
ALTER TABLE plot ADD COLUMN inflow_ls REAL NOT NULL DEFAULT 0 CHECK (inflow_ls >= 0);
-- price of one treatment of this plot, as told
ALTER TABLE plot ADD COLUMN herbicide REAL NOT NULL DEFAULT 0 CHECK (herbicide >= 0);
-- The announced window; 0: none.
ALTER TABLE plot ADD COLUMN announced_no INTEGER NOT NULL DEFAULT 0 CHECK (announced_no >= 0);
ALTER TABLE plot ADD COLUMN announced_edition INTEGER NOT NULL DEFAULT 0;
ALTER TABLE plot ADD COLUMN announced_opens INTEGER NOT NULL DEFAULT 0;
ALTER TABLE plot ADD COLUMN announced_best INTEGER NOT NULL DEFAULT 0;
ALTER TABLE plot ADD COLUMN announced_closes INTEGER NOT NULL DEFAULT 0;
-- The window announced before, for a text that is withdrawn before it was sent.
ALTER TABLE plot ADD COLUMN before_no INTEGER NOT NULL DEFAULT 0 CHECK (before_no >= 0);
ALTER TABLE plot ADD COLUMN before_edition INTEGER NOT NULL DEFAULT 0;
ALTER TABLE plot ADD COLUMN before_opens INTEGER NOT NULL DEFAULT 0;
ALTER TABLE plot ADD COLUMN before_best INTEGER NOT NULL DEFAULT 0;
ALTER TABLE plot ADD COLUMN before_closes INTEGER NOT NULL DEFAULT 0;

ALTER TABLE sighting ADD COLUMN water INTEGER NOT NULL DEFAULT 0 CHECK (water BETWEEN 0 AND 4);

-- '': none told
ALTER TABLE grower ADD COLUMN household TEXT NOT NULL DEFAULT '' CHECK (household = '' OR json_valid(household));
-- 1 once a pass with hours was logged: only then are hours searched for.
ALTER TABLE grower ADD COLUMN has_hours INTEGER NOT NULL DEFAULT 0 CHECK (has_hours IN (0, 1));
UPDATE grower SET has_hours = 1 WHERE id IN
	(SELECT p.grower_id FROM plot p JOIN pass x ON x.plot_id = p.id WHERE x.hours > 0);

-- Two ways of weeding side by side, on two plots of one grower.
CREATE TABLE trial (
	id        INTEGER PRIMARY KEY,
	grower_id INTEGER NOT NULL REFERENCES grower (id) ON DELETE CASCADE,
	plot_a    INTEGER NOT NULL REFERENCES plot (id) ON DELETE CASCADE,
	plot_b    INTEGER NOT NULL REFERENCES plot (id) ON DELETE CASCADE,
	way_a     INTEGER NOT NULL CHECK (way_a BETWEEN 0 AND 255), -- opaque: owned by the menu
	way_b     INTEGER NOT NULL CHECK (way_b BETWEEN 0 AND 255),
	begun_day INTEGER NOT NULL,
	ended_day INTEGER, -- NULL: running
	bags_a    REAL NOT NULL DEFAULT 0 CHECK (bags_a >= 0), -- 0: not told
	bags_b    REAL NOT NULL DEFAULT 0 CHECK (bags_b >= 0),
	CHECK (plot_a <> plot_b),
	CHECK (ended_day >= begun_day)
) STRICT;
CREATE INDEX trial_grower ON trial (grower_id);
CREATE UNIQUE INDEX trial_running ON trial (grower_id) WHERE ended_day IS NULL;
CREATE INDEX trial_plot_a ON trial (plot_a);
CREATE INDEX trial_plot_b ON trial (plot_b);

-- +goose Down
DROP TABLE trial;
ALTER TABLE grower DROP COLUMN has_hours;
ALTER TABLE grower DROP COLUMN household;
ALTER TABLE sighting DROP COLUMN water;
ALTER TABLE plot DROP COLUMN before_closes;
ALTER TABLE plot DROP COLUMN before_best;
ALTER TABLE plot DROP COLUMN before_opens;
ALTER TABLE plot DROP COLUMN before_edition;
ALTER TABLE plot DROP COLUMN before_no;
ALTER TABLE plot DROP COLUMN announced_closes;
ALTER TABLE plot DROP COLUMN announced_best;
ALTER TABLE plot DROP COLUMN announced_opens;
ALTER TABLE plot DROP COLUMN announced_edition;
ALTER TABLE plot DROP COLUMN announced_no;
ALTER TABLE plot DROP COLUMN herbicide;
ALTER TABLE plot DROP COLUMN inflow_ls;
ALTER TABLE plot DROP COLUMN soil;
DROP TABLE weather;
ALTER TABLE place DROP COLUMN weather_version;
ALTER TABLE place DROP COLUMN learned_n;
ALTER TABLE place DROP COLUMN weed_rate;
ALTER TABLE place DROP COLUMN learning;
ALTER TABLE place DROP COLUMN prices;
ALTER TABLE place DROP COLUMN figures;
ALTER TABLE place DROP COLUMN soil;
