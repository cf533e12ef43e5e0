package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// odd is a plot name with characters that spreadsheets and HTML pages may interpret as commands.
const odd = "=1+\"<&\u2028é"

// fullLife gives a phone at least one row in every table about people.
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
	c := local(1)
	c.Number.TextsADay = 9 // with a limit for each number, texts are also counted by number
	handOver(t, s, noon, c)
	pass := engine.Pass{On: day0, With: engine.ByTool, Way: engine.Both, Hours: 6.5, People: 2, Left: engine.Few,
		Share: 0.5}
	corrected := pass
	corrected.Left = engine.Some
	ledger(t, s, p, noon+60, func(l *Ledger) error {
		l.Via("sms")
		_, err := l.MoveCode()
		return errors.Join(err,
			l.SetLanguage("sw"),
			l.SetName("Ana "+odd),
			l.SetNote("calls at noon"),
			l.StartTrial(1, 2, engine.ToolBoth, engine.HandOnly),
			l.SetBags(3, 2.5),
			l.See(1, engine.Sighting{On: day0, Leaves: engine.TwoThree, Amount: engine.Few, Rows: engine.RowsOpen,
				Water: engine.StandsMud}),
			l.LogPass(1, pass),
			l.CorrectPass(1, pass, corrected),
			l.SetHousehold(engine.Household{People: 3, Tools: 2, HoursADay: 5, LabourDay: 400}),
			l.TellHerbicide(2, 75),
			l.TellTrouble(engine.Clogs),
			l.tx.SaveSession(Session{Phone: p, Channel: "ussd", State: []byte("x" + p.E164()), SavedAt: noon,
				ExpiresAt: noon + 60}),
			l.tx.SavePrompt(Prompt{Phone: p, Body: []byte("1=done"), AskedAt: noon, Until: noon + 3600}),
			l.tx.SaveExchange(p, Exchange{At: noon, Mark: l.tx.Mark("hello"), Same: 1, Fruitless: 5, HourAt: noon,
				Answers: 6, Pauses: 1, Until: noon + 600}),
			l.tx.StoreReply("local", "of "+p.String(), p, []byte("by the well"), noon),
			l.do(sqlWrongCode, l.hash(), noon+wrongFor, noon),
			l.do(sqlCountOfAll, dayOf(noon)),
		)
	})
	inCircleAlone(t, s, p)
	ledger(t, s, p, noon+61, func(l *Ledger) error {
		id, err := l.PlotID(1)
		told := engine.Told{Kind: engine.KindOpen, Window: 1, On: day0}
		return errors.Join(err, second(l.tx.Tell(id, told)), l.Contacted(2, CameBy),
			l.tx.Trail(TrailEntry{At: noon + 61, Who: "mira", What: "logged a visit", GrowerID: l.id}))
	})
}

// inCircleAlone makes a circle with the phone as the only member, which has rows in every table of circles. A question
// that a person asks itself is none that Ask takes.
func inCircleAlone(t *testing.T, s *Store, p Phone) {
	t.Helper()
	ledger(t, s, p, noon, func(l *Ledger) error {
		l.Via("ussd")
		if _, err := l.MakeCircle(odd, words); err != nil {
			return err
		}
		c, _, err := l.Circle()
		own, err2 := l.AddSharedTool(red(c.Self))
		common, err3 := l.AddSharedTool(red(0))
		plot, err4 := l.PlotID(1)
		at := turn(common, c.Self, day0-1)
		at.Plot = plot
		open := &openCircle{circleRow: circleRow{id: l.circleID, number: c.Number}}
		_, err5 := l.putAsk(open, circle.Ask{Kind: circle.AskHire, From: c.Self, To: c.Self, Tool: own, Day: day0 + 2,
			Days: 3, Amount: 15_00}, 0)
		return errors.Join(err, err2, err3, err4, err5, l.tx.putTurn(at), second(l.tx.ChargeDays(l.circleID, day0)),
			l.Wish(1, 1, circle.Wish{ExtraDays: 2, Ready: true}),
			l.tx.putToldTurn(plot, ToldTurn{On: day0 - 2, Window: 1, Turns: []TurnDay{{common, day0 - 1}}}))
	})
}

func person(t *testing.T, s *Store, p Phone) PersonalData {
	t.Helper()
	return read(t, s, p, noon, func(l *Ledger) (PersonalData, error) { return l.tx.PersonalData(p, noon+99) })
}

// The counts on the grower's screen must agree with the personal data.
func TestStoredCounts(t *testing.T) {
	s := open(t)
	fullLife(t, s, ana)
	fullLife(t, s, ben)
	ledger(t, s, ana, noon+99, func(l *Ledger) error {
		plots, passes, texts, err := l.StoredCounts()
		errorIf(t, plots != 2 || passes != 1 || texts != 1, "plots %d, passes %d, texts %d", plots, passes, texts)
		return err
	})
}

// lifeOfAna is the personal data after fullLife. Typed text is escaped as JSON (RFC 8259, section 7), and for HTML.
const lifeOfAna = `{"number":"+447700900001","written_at":"2026-06-01T12:01:39Z","records":{"id":1,
	"name":"Ana =1+\"\u003c\u0026 é","note":"calls at noon","language":"sw",
	"place":"default","created_at":"2026-06-01T12:00:00Z","last_heard_of_at":"2026-06-01T12:00:00Z",
	"consent":[{"at":"2026-06-01T12:00:00Z","what":"given","text_version":"030bc98cbec7ffe7","text":"2026-1",
	"language":"en","channel":"ussd"},{"at":"2026-06-01T12:01:00Z","what":"language",
	"text_version":"030bc98cbec7ffe7","text":"2026-1","language":"sw","channel":"sms"}],"household":{"people":3,
	"tools":2,"hours_a_day":5,"labour_price_per_day":400},
	"trouble_with_the_tool":{"day":"2026-06-01","what":"clogs"},"plots":[{"id":1,"no":1,"name":"by the well",
	"registered_day":"2026-06-01","method":"transplanted","planted_day":"2026-05-22","puddled_day":"2026-05-21",
	"seedling_age_days":15,"seedlings_per_hill":2,"row_spacing_cm":25,"hill_spacing_cm":25.5,"area_m2":1200.25,
	"flood":"moist","soil":"unknown","duration_days":115,"tool_width_cm":15,"tool_max_width_cm":18,
	"passes":[{"day":"2026-06-01","with":"tool","way":"both","hours":6.5,"people":2,"weeds_left":"some",
	"share":0.5}],
	"sightings":[{"day":"2026-06-01","weed_leaves":"2-3","weeds":"few","rows":"open","water":"mud"}],
	"told":[{"day":"2026-06-01","kind":"open","window":1,"edition":0}],
	"corrections":[{"at":"2026-06-01T12:01:00Z","what":"pass",
	"was":{"day":"2026-06-01","with":"tool","way":"both","hours":6.5,"people":2,"weeds_left":"few",
	"share":0.5},
	"now":{"day":"2026-06-01","with":"tool","way":"both","hours":6.5,"people":2,"weeds_left":"some",
	"share":0.5},
	"channel":"sms"}]},{"id":2,"no":2,
	"name":"=1+\"\u003c\u0026\u2028é","registered_day":"2026-06-01","method":"transplanted",
	"planted_day":"2026-05-22","puddled_day":"2026-05-21","seedling_age_days":15,"seedlings_per_hill":2,
	"row_spacing_cm":25,"hill_spacing_cm":25.5,"area_m2":1200.25,"flood":"moist","soil":"unknown",
	"duration_days":115,"tool_width_cm":15,"tool_max_width_cm":18,"herbicide_price":75,"passes":[],
	"sightings":[],"told":[],"corrections":[],"contacts":[{"at":"2026-06-01T12:01:01Z","what":"came by",
	"about":"opens, tool trouble"}]}],"trials":[{"plot_a_id":1,"plot_b_id":2,"way_a":"tool both ways",
	"way_b":"hand only","begun_day":"2026-06-01","bags_a":3,"bags_b":2.5}],"circles":[{"number":1000,"as":"keeper",
	"name":"=1+\"\u003c\u0026\u2028é","agreed_at":"2026-06-01T12:00:00Z","text_version":"9e7f5d9f8d68b8ef",
	"text":"Members see your name and number.","language":"sw","channel":"ussd",
	"tools":[{"name":"red","width_cm":15,"price":500,"price_per_day_for_members":2,"price_per_day_for_guests":5}],
	"turns":[{"day":"2026-05-31","tool_id":2,"plot_id":1,"window":1}],
	"wishes":[{"plot_id":1,"window":1,"days_longer":2,"ready_day":"2026-06-01"}],
	"told":[{"plot_id":1,"day":"2026-05-30","window":1,"days":["2026-05-31"]}],
	"questions":[{"kind":"hire","asked_by_this_person":true,"day":"2026-06-03","days":3,"amount":15,
	"may_be_answered_until":"2026-06-03","state":"open"}],
	"entries":[{"id":1,"day":"2026-05-31","kind":"day","amount":-2}]}],
	"changed_by_staff":[{"at":"2026-06-01T12:01:01Z","what":"logged a visit"}],
	"code_for_another_phone_until":"2026-06-01T14:01:00Z"},"texts":[{"id":1,"kind":"open","text":"hello",
	"state":"withdrawn","tries":0,"created_at":"2026-06-01T12:00:00Z","due_at":"2026-06-01T12:00:00Z",
	"useful_until":"2026-06-01T13:00:00Z","ended_at":"2026-06-01T12:01:00Z"},{"id":2,"kind":"reply",
	"text":"your number is +447700900001","state":"claimed","gateway":"local","tries":1,
	"created_at":"2026-06-01T12:00:00Z","due_at":"2026-06-01T12:00:00Z","useful_until":"2026-06-01T13:00:00Z"}],
	"dialogues":[{"channel":"ussd","last_at":"2026-06-01T12:00:00Z","kept_until":"2026-06-01T12:01:00Z"}],
	"question":{"asked_at":"2026-06-01T12:00:00Z","may_be_answered_until":"2026-06-01T13:00:00Z"},
	"exchange":{"last_text_at":"2026-06-01T12:00:00Z","texts_in_a_row_not_understood":5,"answers_within_an_hour":6,
	"no_answers_until":"2026-06-01T12:10:00Z"},"replies_kept_for_repeats":1,"wrong_codes_typed":1,
	"wrong_codes_kept_until":"2026-06-02T12:00:00Z"}`

func TestPersonalDataIsComplete(t *testing.T) {
	s := open(t)
	fullLife(t, s, ana)
	fullLife(t, s, ben) // the data of ben must not appear
	data := person(t, s, ana)
	data.Records.Circles[0].Number = 1000 // it is drawn
	got, err := json.Marshal(data)
	ok(t, err)
	var want bytes.Buffer
	ok(t, json.Compact(&want, []byte(lifeOfAna)))
	errorIf(t, !bytes.Equal(got, want.Bytes()), "personal data\n got %s\nwant %s", got, &want)
}

func TestPersonalDataWithoutRecords(t *testing.T) {
	s := open(t)
	p := person(t, s, ana)
	errorIf(t, !p.Empty() || p.Records != nil, "nothing is %+v", p)
	ledger(t, s, ana, noon, (*Ledger).Stop)
	p = person(t, s, ana)
	errorIf(t, p.Empty() || p.NoTextsSince != Instant(noon), "a stop is %+v", p)
	enqueue(t, s, text("loose", ben, noon))
	p = person(t, s, ben)
	errorIf(t, p.Empty() || len(p.Texts) != 1, "a loose text is %+v", p)
}

// A mistyped grower id must not show the records of another grower.
func TestPersonalDataUnlinked(t *testing.T) {
	s := open(t)
	fullLife(t, s, ana)
	withPlot(t, s, ben)
	execSQL(t, s, sqlUnreachable, noon+50, 1)
	ledger(t, s, ana, noon+100, (*Ledger).Unlink)
	for id, want := range map[int64]error{1: nil, 2: ErrLinked, 3: ErrUnknown} {
		err := s.View(ctx, func(tx *Tx) error {
			p, err := tx.PersonalDataUnlinked(id, noon)
			if err == nil && (p.Number != "" || p.Records.NoNumberSince != Instant(noon+100) ||
				p.Records.NoPhoneSince != Instant(noon+50) || len(p.Records.Plots) != 2 || len(p.Texts) != 1) {
				t.Errorf("grower %d: %+v", id, p)
			}
			return err
		})
		wantErr(t, err, want, "grower %d", id)
	}
}
