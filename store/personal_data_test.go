package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"testing"
	"unicode/utf8"

	"rowbell/engine"
)

// odd is a name that spreadsheets and pages may mishandle.
const odd = "=1+\"<&\u2028é"

// fullLife gives a phone a row in every table about people.
func fullLife(t *testing.T, s *Store, p Phone) {
	t.Helper()
	withPlot(t, s, p)
	plot := aPlot()
	plot.Label = odd
	ledger(t, s, p, noon, func(l *Ledger) error { return second(l.AddPlot(plot, aTool())) })
	ring(t, s, p, []int{1}, engine.KindOpen, noon)
	loose := text("before consent "+p.String(), p, noon)
	loose.Text = "your number is " + p.E164()
	enqueue(t, s, loose)
	write(t, s, func(tx *Tx) error {
		c := local(1)
		c.Number.TextsADay = 9 // so that the number's own count is stored too
		_, err := tx.Claim(noon, c)
		return err
	})
	ledger(t, s, p, noon+60, func(l *Ledger) error {
		l.Via("sms")
		_, err := l.MoveCode()
		return errors.Join(err,
			l.SetLanguage("sw"),
			l.StartTrial(1, 2, engine.ToolBoth, engine.HandOnly),
			l.SetBags(3, 2.5),
			l.See(1, engine.Sighting{On: day0, Leaves: engine.TwoThree, Amount: engine.Few, Rows: engine.RowsOpen,
				Water: engine.StandsMud}),
			l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool, Way: engine.Both, Hours: 6.5, People: 2,
				Left: engine.Some}),
			l.SetHousehold(engine.Household{People: 3, HoursADay: 5, LabourDay: 400}),
			l.TellHerbicide(2, 75),
			l.tx.SaveSession(Session{Phone: p, Channel: "ussd", State: []byte("x" + p.E164()), SavedAt: noon,
				ExpiresAt: noon + 60}),
			l.tx.SavePrompt(Prompt{Phone: p, Body: []byte("1=done"), AskedAt: noon, Until: noon + 3600}),
			l.tx.StoreReply("local", "of "+p.String(), p, []byte("by the well"), noon),
			l.do(sqlWrongCode, l.hash(), noon+wrongFor, noon),
		)
	})
	ledger(t, s, p, noon+61, func(l *Ledger) error {
		id, err := l.PlotID(1)
		if err != nil {
			return err
		}
		_, err = l.tx.Tell(id, engine.Told{Kind: engine.KindOpen, Window: 1, On: day0})
		return err
	})
}

func person(t *testing.T, s *Store, p Phone) PersonalData {
	t.Helper()
	return read(t, s, p, noon, func(l *Ledger) (PersonalData, error) { return l.tx.PersonalData(p, noon+99) })
}

// The counts on the grower's screen agree with the personal data.
func TestStoredCounts(t *testing.T) {
	s := open(t)
	fullLife(t, s, ana)
	fullLife(t, s, ben)
	ledger(t, s, ana, noon+99, func(l *Ledger) error {
		plots, passes, texts, err := l.StoredCounts()
		if plots != 2 || passes != 1 || texts != 1 {
			t.Errorf("plots %d, passes %d, texts %d", plots, passes, texts)
		}
		return err
	})
}

//revive:disable-next-line:function-length one document
func TestPersonalDataIsComplete(t *testing.T) {
	s := open(t)
	fullLife(t, s, ana)
	fullLife(t, s, ben)
	b, err := json.Marshal(person(t, s, ana))
	ok(t, err)
	if !utf8.Valid(b) || bytes.Contains(b, []byte("<")) || bytes.Contains(b, []byte("\u2028")) {
		t.Errorf("what was typed is not escaped (RFC 8259, clause 7; and for pages):\n%s", b)
	}
	if bytes.Contains(b, []byte(ben.E164())) {
		t.Error("somebody else's number is among it")
	}
	var got struct {
		Number string `json:"number"`
		Kept   string `json:"written_at"`
		Rec    struct {
			Language  string           `json:"language"`
			Consent   []map[string]any `json:"consent"`
			Household map[string]any   `json:"household"`
			Plots     []map[string]any `json:"plots"`
			Trials    []map[string]any `json:"trials"`
			Code      string           `json:"code_for_another_phone_until"`
		} `json:"records"`
		Texts     []map[string]any `json:"texts"`
		Dialogues []map[string]any `json:"dialogues"`
		Question  map[string]any   `json:"question"`
		Replies   int              `json:"replies_kept_for_repeats"`
		Wrong     int              `json:"wrong_codes_typed"`
	}
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	if got.Number != ana.E164() || got.Kept != "2026-06-01T12:01:39Z" || got.Rec.Language != "sw" ||
		len(got.Rec.Consent) != 2 || len(got.Rec.Plots) != 2 ||
		len(got.Rec.Trials) != 1 || got.Rec.Code == "" || len(got.Texts) != 2 || len(got.Dialogues) != 1 ||
		got.Replies != 1 || got.Wrong != 1 {
		t.Fatalf("written as\n%s", b)
	}
	for what, c := range map[string]struct {
		in   map[string]any
		want string
	}{
		"consent": {got.Rec.Consent[0],
			`{"at":"2026-06-01T12:00:00Z","channel":"ussd","language":"en","text":"2026-1","text_version":"` +
				ConsentVersion("en", "2026-1") + `","what":"given"}`},
		"household": {got.Rec.Household, `{"hours_a_day":5,"labour_price_per_day":400,"people":3}`},
		"trial": {got.Rec.Trials[0],
			`{"bags_a":3,"bags_b":2.5,"begun_day":"2026-06-01","plot_a_id":1,"plot_b_id":2,` +
				`"way_a":"tool both ways","way_b":"hand only"}`},
		"question": {got.Question,
			`{"asked_at":"2026-06-01T12:00:00Z","may_be_answered_until":"2026-06-01T13:00:00Z"}`},
		"dialogue": {got.Dialogues[0],
			`{"channel":"ussd","kept_until":"2026-06-01T12:01:00Z","last_at":"2026-06-01T12:00:00Z"}`},
		"text": {got.Texts[0], `{"created_at":"2026-06-01T12:00:00Z","due_at":"2026-06-01T12:00:00Z",` +
			`"ended_at":"2026-06-01T12:01:00Z","id":1,"kind":"open",` +
			`"state":"withdrawn","text":"hello","tries":0,"useful_until":"2026-06-01T13:00:00Z"}`},
	} {
		if b, _ := json.Marshal(c.in); string(b) != c.want {
			t.Errorf("%s\n got %s\nwant %s", what, b, c.want)
		}
	}
	plot := got.Rec.Plots[0]
	for key, want := range map[string]any{"no": 1.0, "name": "by the well", "method": "transplanted",
		"planted_day":    (day0 - 10).String(),
		"row_spacing_cm": 25.0, "area_m2": 1200.25, "tool_width_cm": 15.0, "registered_day": day0.String(),
		"closed_day": nil} {
		if plot[key] != want {
			t.Errorf("%s is %v, want %v", key, plot[key], want)
		}
	}
	if b, _ := json.Marshal([]any{plot["passes"],
		plot["sightings"]}); string(b) != `[[{"day":"2026-06-01","hours":6.5,"people":2,"way":"both",`+
		`"weeds_left":"some","with":"tool"}],`+
		`[{"day":"2026-06-01","rows":"open","water":"mud","weed_leaves":"2-3","weeds":"few"}]]` {
		t.Errorf("passes and sightings: %s", b)
	}
	if b, _ := json.Marshal(plot["told"]); string(b) != `[{"day":"2026-06-01","edition":0,"kind":"open","window":1}]` {
		t.Errorf("told: %s", b)
	}
	if got.Rec.Plots[1]["name"] != odd || got.Rec.Plots[1]["herbicide_price"] != 75.0 {
		t.Errorf("the other plot: %v", got.Rec.Plots[1])
	}
}

func TestPersonalDataWithoutRecords(t *testing.T) {
	s := open(t)
	if p := person(t, s, ana); !p.Empty() || p.Records != nil {
		t.Errorf("nothing is %+v", p)
	}
	ledger(t, s, ana, noon, (*Ledger).Stop)
	if p := person(t, s, ana); p.Empty() || p.NoTextsSince != Instant(noon) {
		t.Errorf("a stop is %+v", p)
	}
	enqueue(t, s, text("loose", ben, noon))
	if p := person(t, s, ben); p.Empty() || len(p.Texts) != 1 {
		t.Errorf("a loose text is %+v", p)
	}
}

// A mistyped id shows nobody else's records.
func TestPersonalDataUnlinked(t *testing.T) {
	s := open(t)
	fullLife(t, s, ana)
	withPlot(t, s, ben)
	execSQL(t, s, sqlUnreachable, noon+50, 1)
	ledger(t, s, ana, noon+100, (*Ledger).Unlink)
	for id, want := range map[int64]error{1: nil, 2: ErrLinked, 3: ErrUnknown} {
		err := s.View(context.Background(), func(tx *Tx) error {
			p, err := tx.PersonalDataUnlinked(id, noon)
			if err == nil && (p.Number != "" || p.Records.NoNumberSince != Instant(noon+100) ||
				p.Records.NoPhoneSince != Instant(noon+50) || len(p.Records.Plots) != 2 || len(p.Texts) != 1) {
				t.Errorf("grower %d: %+v", id, p)
			}
			return err
		})
		if !errors.Is(err, want) {
			t.Errorf("grower %d: %v, want %v", id, err, want)
		}
	}
}
