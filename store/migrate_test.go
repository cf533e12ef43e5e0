package store

import (
	"context"
	"testing"
)

func schema(t *testing.T, s *Store) string {
	t.Helper()
	var all string
	err := s.View(context.Background(), func(tx *Tx) error {
		return tx.each("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name <> 'schema_version' ORDER BY type, name", nil,
			func(scan func(...any) error) error {
				var one string
				err := scan(&one)
				all += one + "\n"
				return err
			})
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestMigrationsGoDownAndUpAgain(t *testing.T) {
	ctx := context.Background()
	s := open(t)
	withPlot(t, s, ana)
	before := schema(t, s)
	p, err := migrations(openPool(s.path, writerDSN, hardening, 1))
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	if _, err := p.DownTo(ctx, 0); err != nil {
		t.Fatal(err)
	}
	if n := number(t, s, "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"); n != 1 {
		t.Errorf("%d tables left, want the record of migrations only", n)
	}
	if _, err := p.Up(ctx); err != nil {
		t.Fatal(err)
	}
	if after := schema(t, s); after != before {
		t.Errorf("the schema came back different:\n%s", after)
	}
}

func TestEveryTableIsStrict(t *testing.T) {
	s := open(t)
	if n := number(t, s, `SELECT count(*) FROM pragma_table_list
		WHERE schema = 'main' AND type = 'table' AND strict = 0 AND name NOT LIKE 'sqlite_%' AND name <> 'schema_version'`); n != 0 {
		t.Errorf("%d tables are not strict", n)
	}
}

// States that cannot be are refused by the database itself.
func TestImpossibleRows(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	enqueue(t, s, text("k", ana, noon))
	for _, statement := range []string{
		"UPDATE plot SET closed_day = 1",                        // closed, but watched
		"UPDATE plot SET no = 10",                               // not a digit
		"UPDATE plot SET no = 0",                                //
		"UPDATE plot SET method = 'x'",                          // not a number
		"UPDATE plot SET grower_id = 99",                        // nobody's
		"UPDATE grower SET consent_at = NULL",                   // records without consent
		"UPDATE grower SET phone = '447700900001'",              // not E.164
		"DELETE FROM place",                                     // growers live there
		"UPDATE place SET normals = '[1]'",                      // a year of one month
		"UPDATE place SET morning_hour = 24",                    //
		"UPDATE message SET state = 'sent'",                     // no such state
		"UPDATE message SET state = 'accepted'",                 // still to be sent
		"UPDATE message SET claim_at = NULL",                    // queued for never
		"UPDATE message SET state = 'claimed'",                  // claimed, never tried
		"UPDATE message SET ended_at = 1",                       // over, and queued
		"UPDATE message SET state = 'expired', claim_at = NULL", // over, no one knows when
		"UPDATE message SET useful_until = due_at - 1",          //
		"UPDATE message SET body = ''",                          //
		"INSERT INTO opt_out (hash, at) VALUES ('+447700900001', 1)",
		"INSERT INTO opt_out (hash, at) VALUES (x'00', 1)",
		"INSERT INTO message_plot (plot_id, message_id) VALUES (1, 99)",
		`INSERT INTO plot SELECT 2, grower_id, no, label, method, planted, puddled, seedling_age_days, seedlings_per_hill, row_spacing_cm,
			hill_spacing_cm, area_m2, flood, duration_days, tool_width_cm, tool_max_width_cm, since_day, closed_day, look_at FROM plot`, // a number twice
	} {
		err := s.InTx(context.Background(), func(tx *Tx) error {
			_, err := tx.exec(statement)
			return err
		})
		if err == nil {
			t.Errorf("was taken: %s", statement)
		}
	}
}
