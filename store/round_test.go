package store

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
)

// writeOneByOne writes rounds with statements for each row: what WriteRounds must do too.
func writeOneByOne(tx *Tx, now int64, rounds []Round) (texts int, err error) {
	setLooks := func(list []NextLook) {
		for _, l := range list {
			err = errors.Join(err, tx.do(`UPDATE plot SET look_at = $1 WHERE id = $2 AND look_at IS NOT NULL`,
				orNull(l.At), l.PlotID))
		}
	}
	for _, r := range rounds {
		setLooks(r.Looks)
		for _, t := range r.Texts {
			for _, plot := range t.Message.PlotIDs {
				err = errors.Join(err, tx.withdrawOfPlot(plot, now, r.Zone, r.Morning))
			}
			for _, n := range t.News {
				err = errors.Join(err, tx.do(`INSERT INTO told (plot_id, window_no, edition, kind, day)
					VALUES ($1, $2, $3, $4, $5) ON CONFLICT (plot_id, window_no, edition, kind)
					DO UPDATE SET day = excluded.day WHERE told.day < excluded.day`,
					n.PlotID, n.Told.Window, n.Told.Edition, n.Told.Kind, n.Told.On))
				if w := n.Window; w != nil {
					err = errors.Join(err, tx.do(`UPDATE plot SET announced_no = $1, announced_edition = $2,
						announced_opens = $3, announced_best = $4, announced_closes = $5, before_no = announced_no,
						before_edition = announced_edition, before_opens = announced_opens,
						before_best = announced_best, before_closes = announced_closes WHERE id = $6`,
						w.Number, w.Edition, w.Opens, w.Best, w.Closes, n.PlotID))
				}
			}
			fresh, err2 := tx.Enqueue(t.Message)
			err = errors.Join(err, err2)
			if fresh {
				texts++
			}
			if fresh && t.Prompt != nil {
				err = errors.Join(err, tx.SavePrompt(*t.Prompt))
			}
		}
		setLooks(r.Late)
	}
	return texts, err
}

const (
	roundGrowers = 6 // in TestRounds; the id of the i-th grower is i+1
	roundPlots   = 3 // of each of them; the ids of the plots of the i-th grower are 3i+1 to 3i+3
)

// drawRounds draws rounds of some of the growers.
func drawRounds(rnd *rand.Rand, now int64) (rounds []Round) {
	kinds := []engine.Kind{engine.KindPrepare, engine.KindOpen, engine.KindNudge, engine.KindMoved}
	for _, g := range rnd.Perm(roundGrowers)[:1+rnd.IntN(roundGrowers)] {
		r := Round{Zone: time.UTC, Morning: now - 60}
		plots := make([]int64, roundPlots)
		for i, at := range rnd.Perm(roundPlots) {
			plots[i] = int64(g*roundPlots + at + 1)
			r.Looks = append(r.Looks, NextLook{plots[i], []int64{0, now + 60, now + 2*day}[rnd.IntN(3)]})
		}
		asked := false
		for len(plots) > 0 && rnd.IntN(4) > 0 {
			of := plots[:1+rnd.IntN(min(2, len(plots)))]
			plots = plots[len(of):]
			kind := kinds[rnd.IntN(len(kinds))]
			// Two keys of each plot, so that some texts were written before.
			key := fmt.Sprint("ring ", of, now/day/3, " ", rnd.IntN(2))
			t := RoundText{Message: reminder(text(key, phoneNo(g), now), kind, int64(g+1), of...)}
			t.Message.UsefulUntil = now + 3*day
			t.Message.Text = fmt.Sprintf(`of "%d" <ё> %c 10%%`, of[0], rune(9+rnd.IntN(2)))
			for _, plot := range of {
				w := windowFrom(day0 + engine.Day(rnd.IntN(9)))
				n := News{PlotID: plot, Told: engine.Told{Kind: kind, Window: 1 + rnd.IntN(2), Edition: rnd.IntN(2),
					On: engine.Day(now/day) - engine.Day(rnd.IntN(2))}}
				if kind.Announces() {
					n.Window = &w
				}
				t.News = append(t.News, n)
			}
			if asks := rnd.IntN(2) == 0; asks && !asked {
				asked = true
				t.Prompt = &Prompt{phoneNo(g), []byte{0, 255, byte(rnd.IntN(256))}, now, now + rnd.Int64N(day)}
			}
			r.Texts = append(r.Texts, t)
		}
		if len(plots) > 0 {
			r.Late = []NextLook{{plots[0], now + day}}
		}
		rounds = append(rounds, r)
	}
	return rounds
}

// roundTables lists the rows that WriteRounds writes.
func roundTables(t *testing.T, s *Store) string {
	t.Helper()
	var b strings.Builder
	for _, query := range []string{
		`SELECT 'plot ' || id || ' ' || coalesce(look_at, -1) || ' ' || announced_no || ' ' || announced_edition ||
			' ' || announced_opens || ' ' || announced_best || ' ' || announced_closes || ' ' || before_no || ' ' ||
			before_edition || ' ' || before_opens || ' ' || before_best || ' ' || before_closes FROM plot ORDER BY id`,
		`SELECT 'told ' || plot_id || ' ' || window_no || ' ' || edition || ' ' || kind || ' ' || day FROM told
			ORDER BY plot_id, window_no, edition, kind`,
		`SELECT 'message ' || key || ' ' || coalesce(grower_id, 0) || ' ' || phone || ' ' || kind || ' ' || body ||
			' ' || created_at || ' ' || due_at || ' ' || useful_until || ' ' || state || ' ' ||
			coalesce(claim_at, 0) || ' ' || urgency || ' ' || lane || ' ' || back || ' ' || undecided
			FROM message ORDER BY id`,
		`SELECT 'link ' || m.key || ' ' || mp.plot_id FROM message_plot mp JOIN message m ON m.id = mp.message_id
			ORDER BY m.id, mp.plot_id`,
	} {
		view(t, s, func(tx *Tx) error {
			list, err := column[string](tx, query, nil)
			b.WriteString(strings.Join(list, "\n") + "\n")
			return err
		})
	}
	for g := range roundGrowers {
		p, there := lookUp(t, s, func(tx *Tx) (Prompt, bool, error) { return tx.Prompt(phoneNo(g)) })
		fmt.Fprintln(&b, "prompt", there, p)
	}
	return b.String()
}

// Rounds of many growers leave the same rows as statements for each row, whatever was written before: texts that wait,
// that are being sent and that staff must decide on, keys that were used, plots that are never looked at again.
func TestRounds(t *testing.T) {
	var stores [2]*Store
	for i := range stores {
		stores[i] = open(t)
		for g := range roundGrowers {
			withPlot(t, stores[i], phoneNo(g))
			ledger(t, stores[i], phoneNo(g), noon, func(l *Ledger) error {
				return errors.Join(addPlot(l), addPlot(l))
			})
		}
	}
	rnd := rand.New(rand.NewPCG(15, 1))
	var written, old, withdrawn, looked int
	for n := range 150 {
		now := noon + int64(n)*day/4
		rounds := drawRounds(rnd, now)
		sent, asked, again := rnd.IntN(3), rnd.IntN(5) == 0, rnd.IntN(3) == 0
		var texts [2]int
		var after [2]string
		for i, s := range stores {
			how := (*Tx).WriteRounds
			if i == 1 {
				how = writeOneByOne
			}
			texts[i] = get(t, s, func(tx *Tx) (int, error) { return how(tx, now, rounds) })
			after[i] = roundTables(t, s)
			handOver(t, s, now, local(sent))
			if asked {
				execSQL(t, s, `UPDATE message SET state = 'unknown', claim_at = NULL, ended_at = $1, undecided = 1
					WHERE id = (SELECT max(m.id) FROM message m WHERE m.state = 'queued')`, now)
			}
			if again {
				execSQL(t, s, "UPDATE plot SET look_at = $1 WHERE look_at IS NULL", now)
			}
		}
		fatalIf(t, texts[0] != texts[1] || after[0] != after[1], "round %d: %d texts\n%s\none by one %d:\n%s", n,
			texts[0], after[0], texts[1], after[1])
		written += texts[0]
		for _, r := range rounds {
			old += len(r.Texts)
		}
		withdrawn = strings.Count(after[0], " withdrawn ")
		looked += strings.Count(after[0], fmt.Sprint(" ", now-60, " "))
	}
	old -= written
	t.Logf("%d texts, %d that were there, %d withdrawn, %d plots are looked at again", written, old, withdrawn, looked)
	fatalIf(t, min(written, old, withdrawn, looked) < 20, "the draws are too few: %d %d %d %d", written, old, withdrawn,
		looked)
}

// BenchmarkRounds writes the rounds of growers with one plot and one text, in steps of RoundsAtOnce, and with
// statements for each row, in turns. What it says is the median of the ratios, and the growers a second:
//
//	go test ./store -run xxx -bench Rounds -benchtime 1x
//	.ci/postgres go test ./store -run xxx -bench Rounds -benchtime 1x
func BenchmarkRounds(b *testing.B) {
	const growers, turns = 500, 15
	s := open(b)
	for g := range growers {
		withPlot(b, s, phoneNo(g))
	}
	now := noon
	next := func() (rounds []Round) {
		now += day
		for g := range growers {
			plot, w := int64(g+1), windowFrom(day0)
			m := reminder(text(fmt.Sprint("ring ", g, " ", now), phoneNo(g), now), engine.KindOpen, plot, plot)
			m.Text = strings.Repeat("some words ", 14)
			rounds = append(rounds, Round{Zone: time.UTC, Morning: now, Looks: []NextLook{{plot, now + day}},
				Texts: []RoundText{{m, &Prompt{phoneNo(g), make([]byte, 60), now, now + day}, []News{{plot,
					engine.Told{Kind: engine.KindOpen, Window: 2, On: engine.Day(now / day)}, &w, nil}}}}})
		}
		return rounds
	}
	write := func(how func(*Tx, int64, []Round) (int, error)) (seconds float64) {
		rounds := next()
		// As if the texts before had been sent.
		execSQL(b, s, `UPDATE message SET state = 'accepted', claim_at = NULL, accepted_at = $1
			WHERE claim_at IS NOT NULL`, now)
		begun := time.Now()
		ok(b, s.Background(ctx, func(tx *Tx) (bool, error) {
			n := min(s.RoundsAtOnce(), len(rounds))
			texts, err := how(tx, now, rounds[:n])
			tx.Kept(func() { rounds = rounds[n:] })
			errorIf(b, texts != n, "%d texts", texts)
			return n == len(rounds), err
		}))
		return time.Since(begun).Seconds()
	}
	var took, ratios []float64
	for b.Loop() {
		for turn := range turns + 1 {
			one, all := write(writeOneByOne), write((*Tx).WriteRounds)
			if turn > 0 { // the first one prepares the statements
				ratios, took = append(ratios, one/all), append(took, growers/all)
			}
		}
	}
	slices.Sort(ratios)
	slices.Sort(took)
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(ratios[len(ratios)/2], "times-one-by-one")
	b.ReportMetric(took[len(took)/2], "growers/s")
}

// Waiting texts about a plot of which nothing new is told yet are withdrawn, if they are not true any more. Their
// reminders count as not sent, and the bell (the reminder job) looks at the plot again. A plot without such texts is
// left alone.
func TestStaleTextsAreWithdrawn(t *testing.T) {
	s := openWithTwoPlots(t)
	reminder := ring(t, s, ana, []int{1}, engine.KindOpen, noon)
	turn := text("your turn", ana, noon)
	turn.Note, turn.PlotIDs = "turn", []int64{1}
	waits := enqueue(t, s, turn)
	write(t, s, func(tx *Tx) error {
		return errors.Join(tx.SetLook(1, noon+5*day), tx.SetLook(2, noon+6*day))
	})
	stale := Round{Zone: time.UTC, Morning: noon + day, Stale: []Stale{{1, ana}, {2, ana}}}
	write(t, s, func(tx *Tx) error { return second(tx.WriteRounds(noon+60, []Round{stale})) })
	wantStates(t, s, map[int64]State{reminder: Withdrawn, waits: Withdrawn})
	wantNumber(t, s, 0, "SELECT count(*) FROM told")
	wantNumber(t, s, noon+60, "SELECT look_at FROM plot WHERE id = 1")
	wantNumber(t, s, noon+6*day, "SELECT look_at FROM plot WHERE id = 2")
}
