package store

import (
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/mattn/go-sqlite3"
	"github.com/pressly/goose/v3"

	"rowbell/engine"
)

// provider returns the migration provider for the file of an open store.
func provider(t *testing.T, s *Store) *goose.Provider {
	t.Helper()
	p, err := migrations(openPool(s.path, writerDSN, hardening, 1))
	ok(t, err)
	t.Cleanup(func() { p.Close() })
	return p
}

// schema returns the SQL statements that created the tables and indexes.
func schema(t *testing.T, s *Store) []string {
	t.Helper()
	return get(t, s, func(tx *Tx) ([]string, error) {
		return column[string](tx, `SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name <> 'schema_version'
			ORDER BY type, name`, nil)
	})
}

func TestMigrationsGoDownAndUpAgain(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	before := schema(t, s)
	p := provider(t, s)
	ok(t, second(p.DownTo(ctx, 0)))
	wantNumber(t, s, 1, "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
	ok(t, second(p.Up(ctx)))
	equal(t, schema(t, s), before, "schema")
}

func TestEveryTableIsStrict(t *testing.T) {
	sqliteOnly(t)
	wantNumber(t, open(t), 0, `SELECT count(*) FROM pragma_table_list
		WHERE schema = 'main' AND type = 'table' AND strict = 0 AND name NOT LIKE 'sqlite_%'
			AND name <> 'schema_version'`)
}

const passOf = "INSERT INTO pass (plot_id, day, seq, means, way, hours, people, weeds_left, share) VALUES "

var impossibleRows = []string{
	"UPDATE plot SET closed_day = 1", // refused: a closed plot must have no look_at
	"UPDATE plot SET no = 10",        // refused: a plot number has one digit
	"UPDATE plot SET no = 0",
	"UPDATE plot SET method = 'x'",             // refused: a method is a number
	"UPDATE plot SET grower_id = 99",           // refused: the grower does not exist
	"UPDATE grower SET consent_at = NULL",      // refused: a grower must have consented
	"UPDATE grower SET phone = '447700900001'", // refused: a phone number begins with +
	"DELETE FROM place",                        // refused: growers still refer to the place
	"UPDATE place SET normals = '[1]'",         // refused: normals must have twelve months
	"UPDATE place SET morning_hour = 24",
	"UPDATE message SET state = 'sent'",                     // refused: the state is unknown
	"UPDATE message SET state = 'accepted'",                 // refused: an accepted text must have no claim_at
	"UPDATE message SET claim_at = NULL",                    // refused: a queued text must have a claim_at
	"UPDATE message SET state = 'claimed'",                  // refused: a claimed text has at least one try
	"UPDATE message SET ended_at = 1",                       // refused: a queued text has no ended_at
	"UPDATE message SET state = 'expired', claim_at = NULL", // refused: an ended text needs an ended_at
	"UPDATE message SET useful_until = due_at - 1",
	"UPDATE message SET body = ''",
	"UPDATE message SET urgency = 2",
	"UPDATE message SET lane = '44'", // refused: a route prefix is "" or begins with +
	"UPDATE message SET doubt = 2",
	// Refused: the scope of a phone number must be its hash, not the number itself.
	"INSERT INTO spend (scope, day, texts, segments, micros) VALUES ('+447700900001', 1, 1, 1, 1)",
	"INSERT INTO spend (scope, day, texts, segments, micros) VALUES ('', 1, -1, 1, 1)",
	"INSERT INTO opt_out (hash, at) VALUES ('+447700900001', 1)",
	"INSERT INTO opt_out (hash, at) VALUES (x'00', 1)",
	"INSERT INTO message_plot (plot_id, message_id) VALUES (1, 99)",
	"UPDATE consent SET what = 'maybe'",
	"UPDATE consent SET grower_id = 99",
	"UPDATE consent SET text_version = NULL",
	"UPDATE consent_text SET version = ''",
	"UPDATE consent_text SET body = ''",
	"UPDATE place SET soil = 4",
	"UPDATE place SET figures = '[]'", // refused: figures are an object with names
	"UPDATE place SET prices = 'cheap'",
	"UPDATE place SET weed_rate = 0",      // refused: with a rate of 0, weeds would never grow
	"UPDATE place SET weed_clocks = '{}'", // refused: the clocks are a list
	"UPDATE place SET learning = 2",
	"UPDATE plot SET flood = 4",
	"INSERT INTO sighting (plot_id, day, seq, leaves, amount, rows_seen, water) VALUES (1, 1, 1, 5, 0, 0, 0)",
	"UPDATE plot SET soil = 4",
	"UPDATE plot SET inflow_ls = -1",
	"UPDATE grower SET household = 'we'",
	"UPDATE grower SET has_hours = 2",
	"UPDATE grower SET unlinked_at = 1", // refused: unlinked records have no phone number
	// Refused: "+01" stands for unlinked records, but these records are not unlinked.
	"UPDATE grower SET phone = '+01'",
	"INSERT INTO move_code (hash, grower_id, until) VALUES ('123456', 1, 1)",      // refused: a code must be hashed
	"INSERT INTO move_code (hash, grower_id, until) VALUES (zeroblob(32), 99, 1)", // refused: the grower does not exist
	"INSERT INTO move_try (hash, wrong, until) VALUES ('+447700900001', 1, 1)",    // refused: a number must be hashed
	"INSERT INTO move_try (hash, wrong, until) VALUES (zeroblob(32), 6, 1)",       // refused: at most five wrong codes
	"INSERT INTO move_wrong (day, wrong) VALUES (1, 101)",                         // refused: at most 100 wrong codes
	"INSERT INTO weather (place_id, day, min_c, max_c) VALUES (1, 1, 20, NULL)",
	"INSERT INTO weather (place_id, day, min_c, max_c) VALUES (1, 1, 20, 19)",
	"INSERT INTO weather (place_id, day, rain_mm) VALUES (1, 1, -1)",
	"INSERT INTO weather (place_id, day) VALUES (1, 1)",              // refused: no value was measured
	"INSERT INTO weather (place_id, day, rain_mm) VALUES (99, 1, 0)", // refused: the place does not exist
	"INSERT INTO trial (grower_id, plot_a, plot_b, way_a, way_b, begun_day) VALUES (1, 1, 1, 1, 2, 3)",
	"INSERT INTO trial (grower_id, plot_a, plot_b, way_a, way_b, begun_day) VALUES (1, 1, 99, 1, 2, 3)",
	"INSERT INTO sighting (plot_id, day, seq, leaves, amount, rows_seen, water) VALUES (1, 1, 1, 0, 0, 0, 5)",
	passOf + "(1, 1, 1, 1, 0, 0, 0, 0, -0.5)",
	passOf + "(1, 1, 1, 1, 0, 0, 0, 0, 1)", // refused: all of the plot is 0, so that it is stored in one way
	"UPDATE plot SET no = 1 WHERE no = 2",  // refused: two open plots of one grower have the same number
}

// The database itself must refuse every statement that breaks a rule of the schema.
func TestImpossibleRows(t *testing.T) {
	sqliteOnly(t)
	s := openWithTwoPlots(t)
	enqueue(t, s, text("k", ana, noon))
	for _, statement := range impossibleRows {
		err := s.InTx(ctx, func(tx *Tx) error { return second(tx.exec(statement)) })
		var e sqlite3.Error
		errorIf(t, !errors.As(err, &e) || e.Code != sqlite3.ErrConstraint, "%s: %v", statement, err)
	}
}

// atFirst creates a file with the first version of the schema.
func atFirst(t *testing.T) (path string, db *sql.DB) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "rowbell.db")
	db = openPool(path, writerDSN, fmt.Sprintf("%s; PRAGMA application_id = %d", hardening, applicationID), 1)
	p, err := migrations(db)
	ok(t, err)
	ok(t, second(p.UpTo(ctx, 1)))
	return path, db
}

const firstRecords = `
INSERT INTO place (id, name, zone, latitude, elevation_m, normals, morning_hour)
	VALUES (1, 'default', 'UTC', 12, 30, '[%s]', 6);
INSERT INTO grower (id, phone, language, place_id, consent_at, consent_text, consent_channel, created_at, seen_at)
	VALUES (1, '+447700900001', 'en', 1, 5, 'v', 'sms', 5, 5), (2, '+447700900002', 'en', 1, 5, 'v', 'sms', 5, 5);
INSERT INTO plot (id, grower_id, no, label, method, planted, puddled, seedling_age_days, seedlings_per_hill,
	row_spacing_cm, hill_spacing_cm,
	area_m2, flood, duration_days, tool_width_cm, tool_max_width_cm, since_day, closed_day, look_at)
	VALUES (1, 1, 1, 'a', 1, 20600, 0, 0, 0, 25, 25, 500, 0, 0, 15, 0, 20600, NULL, 7),
	(2, 1, 1, 'old', 1, 20300, 0, 0, 0, 30, 20, 800, 0, 0, 15, 0, 20300, 20400, NULL),
	(3, 2, 1, 'b', 1, 20600, 0, 0, 0, 25, 25, 500, 0, 0, 15, 0, 20600, NULL, 7);
INSERT INTO pass (plot_id, day, seq, means, way, hours, people, weeds_left)
	VALUES (1, 20615, 1, 1, 1, 0, 0, 1), (2, 20320, 1, 1, 3, 6, 2, 1), (3, 20615, 1, 1, 1, 0, 2, 1);
INSERT INTO sighting (plot_id, day, seq, leaves, amount, rows_seen) VALUES (1, 20610, 1, 2, 3, 1);
INSERT INTO told (plot_id, window_no, edition, kind, day) VALUES (1, 1, 0, 2, 20612);
`

func putFirstRecords(t *testing.T, db *sql.DB) {
	t.Helper()
	months := strings.TrimSuffix(strings.Repeat(`{"min":21,"max":32,"rain":90},`, 12), ",")
	ok(t, second(db.Exec(fmt.Sprintf(firstRecords, months))))
}

// This version of the program reads records of the first schema correctly.
func TestRecordsOfTheFirstSchema(t *testing.T) {
	sqliteOnly(t)
	path, db := atFirst(t)
	putFirstRecords(t, db)
	closed(t, db)
	s := openAt(t, path)
	local := engine.NewLocal()
	normals := engine.Normals{}
	for m := range normals {
		normals[m] = engine.Normal{MinC: 21, MaxC: 32, RainMM: 90}
	}
	want := engine.Season{
		Plot: engine.Plot{Label: "a", Method: engine.Transplanted, Planted: 20600, RowSpacingCM: 25,
			HillSpacingCM: 25, AreaM2: 500},
		Tool:      engine.Tool{WidthCM: 15},
		Passes:    []engine.Pass{{On: 20615, With: engine.ByTool, Way: engine.Along, Left: engine.Few}},
		Sightings: []engine.Sighting{{On: 20610, Leaves: engine.TwoThree, Amount: engine.Many, Rows: engine.RowsOpen}},
		Weather:   engine.Weather{Normals: normals, LatitudeDeg: 12},
		Local:     &local,
		Home: engine.Household{Worked: []engine.Worked{{With: engine.ByTool, Way: engine.Both, AreaM2: 800,
			RowCM: 30, HillCM: 20, PersonHours: 12}}},
		Since: 20600,
	}
	equal(t, season(t, s, ana, 1), want, "season")
	wantNumber(t, s, 1, "SELECT sum(has_hours) FROM grower")
	view(t, s, func(tx *Tx) error {
		p, ok, err := tx.PlaceByName(DefaultPlace)
		if !ok || !p.Learning || p.WeedRate != 1 || p.LearnedN != 0 || p.Soil != engine.SoilUnknown ||
			p.Figures != (Figures{}) || p.MorningHour != 6 {
			t.Errorf("place %+v", p)
		}
		return err
	})
	intact(t, s)
}

// A migration to a schema without unlinked growers must remove them, because the old schema would send texts to them.
func TestUnlinkedGoWithTheirSchema(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	ringing(t, s, ana)
	withPlot(t, s, ben)
	ledger(t, s, ana, noon, (*Ledger).Unlink)
	p := provider(t, s)
	ok(t, second(p.DownTo(ctx, 2)))
	wantRows(t, s, map[string]int64{"grower WHERE phone = '" + ben.E164() + "'": 1, "grower": 1,
		"plot": 1, "message": 0, "message_plot": 0})
}

// After a migration down to the first schema, the records that were made with the first schema are unchanged.
func TestBackToTheFirstSchemaKeepsItsRecords(t *testing.T) {
	sqliteOnly(t)
	path, db := atFirst(t)
	defer db.Close()
	putFirstRecords(t, db)
	before := dump(t, path)
	p, err := migrations(db)
	ok(t, err)
	ok(t, second(p.Up(ctx)))
	fatalIf(t, reflect.DeepEqual(dump(t, path), before), "going up changed nothing")
	ok(t, second(p.DownTo(ctx, 1)))
	after := dump(t, path)
	for _, table := range []string{"place", "grower", "plot", "pass", "sighting", "told"} {
		equal(t, after[table], before[table], "after the migration down: %s", table)
	}
}

// Texts in every state survive a migration down to schema 3 and up again. Schema 3 does not store that a grower is
// unreachable, so the bell (the reminder job) looks at the plots of unreachable growers again.
func TestTextsGoDownAndUpAgain(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana, ben)
	ring(t, s, ana, []int{1}, engine.KindOpen, noon)
	ends := []func(Message) Settlement{
		func(m Message) Settlement { return m.Took("n") },
		func(m Message) Settlement { return m.Again(noon+60, "busy") },
		func(m Message) Settlement { return m.Unsure(noon+60, "cut off") },
		func(m Message) Settlement { return m.Refuse("no") },
		func(m Message) Settlement { return m.LostTrack("cut off") },
		nil, // the text stays claimed
	}
	for i := range ends {
		enqueue(t, s, text(fmt.Sprint("k", i), numbered(i), noon))
	}
	c := network("heron", "")
	c.Max, c.Price, c.Number = len(ends), 1000, Limits{TextsADay: 5}
	_, list := handOver(t, s, noon, c)
	for i, f := range ends {
		if f != nil {
			settle(t, s, noon, f(list[i]))
		}
	}
	c.All = Limits{TextsADay: 1}
	handOver(t, s, noon, c) // the limit of one text defers the reminder
	write(t, s, func(tx *Tx) error {
		return errors.Join(tx.unreachable(ben, noon), tx.HoldSending("a test", noon))
	})
	// counts returns the numbers of states, of waiting texts, and of plots at which the bell (the reminder job) will
	// look.
	counts := func() [3]int64 {
		t.Helper()
		intact(t, s)
		return [3]int64{number(t, s, "SELECT count(DISTINCT state) FROM message"),
			number(t, s, "SELECT count(*) FROM message WHERE claim_at IS NOT NULL"),
			number(t, s, "SELECT count(*) FROM plot WHERE look_at IS NOT NULL")}
	}
	wantNumber(t, s, 2, `SELECT (SELECT count(*) FROM message WHERE held = 1)
		+ (SELECT count(*) FROM message WHERE doubt = 1 AND claim_at IS NOT NULL)`)
	want := counts()
	looks := want[2]
	p := provider(t, s)
	for _, to := range []int64{4, 3} {
		ok(t, second(p.DownTo(ctx, to)))
		want[2] = looks + 4 - to
		equal(t, counts(), want, "counts at schema %d", to)
	}
	ok(t, second(p.Up(ctx)))
	equal(t, counts(), want, "counts up again")
	wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE urgency = 1")
	wantNumber(t, s, 2, "SELECT count(*) FROM consent WHERE what = 'given'")
}
