-- What stood before growers put their records right.

-- +goose Up
CREATE TABLE correction (
	id      INTEGER PRIMARY KEY,
	plot_id INTEGER NOT NULL REFERENCES plot (id) ON DELETE CASCADE,
	at      INTEGER NOT NULL,
	what    TEXT    NOT NULL CHECK (what IN ('pass', 'sighting', 'plot', 'replanted')),
	-- Objects in the form of the person's export; of a plot only the values that changed. was is null for a record
	-- that was added, now is null for a record that was taken out.
	was     TEXT    NOT NULL CHECK (json_valid(was)),
	now     TEXT    NOT NULL CHECK (json_valid(now)),
	channel TEXT    NOT NULL -- '': not by the grower
) STRICT;
CREATE INDEX correction_plot ON correction (plot_id, id);

-- +goose Down
DROP INDEX correction_plot;
DROP TABLE correction;
