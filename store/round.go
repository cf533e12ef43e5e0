package store

import (
	"slices"
	"time"

	"rowbell/engine"
)

// Round is what the bell (the reminder job) writes after a look at the due plots of one grower. A plot is in at most
// one text of a round, and at most one text of a round has a prompt.
type Round struct {
	Zone *time.Location
	// Morning is when the bell looks again at other plots of the texts that this round withdraws, in Unix seconds.
	Morning int64
	Looks   []NextLook // set before the texts
	Texts   []RoundText
	Stale   []Stale    // plots whose waiting texts are withdrawn, because they are not true any more
	Late    []NextLook // set after the texts, which may make other plots due again
}

// Stale is a plot without a new text. The bell (the reminder job) looks at it again, if a text waited.
type Stale struct {
	PlotID int64
	To     Phone // the grower's
}

// NextLook is when the bell (the reminder job) next looks at a plot.
type NextLook struct {
	PlotID int64
	At     int64 // in Unix seconds; 0: never
}

// RoundText is one text of a round.
type RoundText struct {
	Message Message
	Prompt  *Prompt // nil: the text asks nothing
	News    []News  // what the text tells, for each of its plots
}

// News is what a text tells about a plot.
type News struct {
	PlotID int64
	Told   engine.Told    // no kind: the text is no reminder
	Window *engine.Window // becomes the announced window; nil: the text tells no days
	Turn   *ToldTurn      // what the text tells of the turn with a shared tool; nil: nothing
}

// WriteRounds writes the rounds of different growers, and returns how many texts are new. A text whose key the outbox
// already has is not stored, nor its prompt. The waiting texts about the plots of a text are withdrawn, because there
// is newer information; they count as not sent.
//
// The number of statements does not depend on the number of growers, except for the texts that are withdrawn.
func (tx *Tx) WriteRounds(now int64, rounds []Round) (texts int, err error) {
	w := roundWriter{tx: tx, now: now}
	for i := range rounds {
		w.addRound(&rounds[i])
	}
	err = w.write()
	return w.texts, fail("rounds", err)
}

// roundWriter writes the rows of several rounds, table by table.
type roundWriter struct {
	tx    *Tx
	now   int64
	texts int // number of texts that are new

	superseded                                              []superseded
	messages                                                []RoundText
	looks, late, told, windows, turns, rows, links, prompts packed
}

// superseded is a plot whose waiting texts are withdrawn, and the round with the news.
type superseded struct {
	plot  int64
	phone Phone
	round *Round
	stale bool // there is no new text
}

func (w *roundWriter) addRound(r *Round) {
	w.looks.addLooks(r.Looks)
	w.late.addLooks(r.Late)
	for _, s := range r.Stale {
		w.superseded = append(w.superseded, superseded{s.PlotID, s.To, r, true})
	}
	for _, t := range r.Texts {
		for _, plot := range t.Message.PlotIDs {
			w.superseded = append(w.superseded, superseded{plot, t.Message.To, r, false})
		}
		for _, n := range t.News {
			if n.Told.Kind != 0 {
				w.told.add(n.PlotID, int64(n.Told.Window), int64(n.Told.Edition), int64(n.Told.Kind), int64(n.Told.On))
			}
			if n.Turn != nil {
				w.turns.add(n.PlotID, n.Turn.body())
			}
			if n.Window != nil {
				w.windows.addWindow(n.PlotID, *n.Window)
			}
		}
		w.messages = append(w.messages, t)
	}
}

func (p *packed) addLooks(list []NextLook) {
	for _, l := range list {
		p.add(l.PlotID, orNull(l.At))
	}
}

// write writes all tables. A text is withdrawn before the news of a new one is recorded, because what it told counts
// as not told then.
func (w *roundWriter) write() error {
	if err := w.looks.write(w.tx, sqlSetLooks); err != nil {
		return err
	}
	if err := w.supersede(); err != nil {
		return err
	}
	if err := w.told.write(w.tx, sqlTell); err != nil {
		return err
	}
	if err := w.windows.write(w.tx, sqlAnnounce); err != nil {
		return err
	}
	if err := w.turns.write(w.tx, sqlPutToldTurns); err != nil {
		return err
	}
	if err := w.enqueue(); err != nil {
		return err
	}
	return w.late.write(w.tx, sqlSetLooks)
}

const (
	// sqlSetLooks changes no plot whose look_at is NULL: the plot was closed, or its grower sent STOP, so the bell (the
	// reminder job) must not look at it again.
	sqlSetLooks = `UPDATE plot SET look_at = CAST(value->>1 AS BIGINT) FROM jsonb_each($1)
	WHERE plot.id = CAST(value->>0 AS BIGINT) AND look_at IS NOT NULL`
	sqlTell = `INSERT INTO told (plot_id, window_no, edition, kind, day)
	SELECT CAST(value->>0 AS BIGINT), CAST(value->>1 AS BIGINT), CAST(value->>2 AS BIGINT),
		CAST(value->>3 AS BIGINT), CAST(value->>4 AS BIGINT) FROM jsonb_each($1) WHERE true
	ON CONFLICT (plot_id, window_no, edition, kind) DO UPDATE SET day = excluded.day WHERE told.day < excluded.day`
	sqlPutToldTurns = `INSERT INTO circle_told (plot_id, body)
	SELECT CAST(value->>0 AS BIGINT), value->>1 FROM jsonb_each($1) WHERE true ` + replaceToldTurn
	// sqlWaitsOfPhones has the row 0 if any text is undecided. The texts about a plot go to its grower's phone. Few
	// texts wait, so their index is small; by the plot it would read each text that there ever was about it.
	sqlWaitsOfPhones = `SELECT mp.plot_id FROM jsonb_each($1)
		JOIN message m ON m.phone = value->>0 AND m.claim_at IS NOT NULL
		JOIN message_plot mp ON mp.message_id = m.id
	UNION ALL SELECT 0 WHERE EXISTS (SELECT 1 FROM message x WHERE x.undecided = 1)`
	sqlUndecidedOfPlots = `SELECT mp.plot_id FROM message_plot mp JOIN message m ON m.id = mp.message_id
	WHERE mp.plot_id IN ` + idList + ` AND m.undecided = 1`
	sqlEnqueueAll = `INSERT INTO message (` + enqueuedColumns + `)
	SELECT value->>0, CAST(value->>1 AS BIGINT), value->>2, value->>3, value->>4, CAST(value->>5 AS BIGINT),
		CAST(value->>6 AS BIGINT), CAST(value->>7 AS BIGINT), CAST(value->>6 AS BIGINT), CAST(value->>8 AS BIGINT),
		value->>9, value->>10 FROM jsonb_each($1) WHERE true
	ON CONFLICT (key) DO NOTHING RETURNING key, id`
	sqlLinkPlots = `INSERT INTO message_plot (message_id, plot_id)
	SELECT CAST(value->>0 AS BIGINT), CAST(value->>1 AS BIGINT) FROM jsonb_each($1) WHERE true ON CONFLICT DO NOTHING`
	sqlSavePrompts = `INSERT INTO prompt (phone, body, asked_at, until)
	SELECT value->>0, unhex(value->>1), CAST(value->>2 AS BIGINT), CAST(value->>3 AS BIGINT)
	FROM jsonb_each($1) WHERE true ` + replacePrompt
)

// supersede withdraws the waiting texts about the plots of the new texts. If such a text was also about other plots,
// the bell (the reminder job) looks at those again.
func (w *roundWriter) supersede() error {
	if len(w.superseded) == 0 {
		return nil
	}
	var phones packed
	plots := make([]int64, len(w.superseded))
	for i, s := range w.superseded {
		plots[i] = s.plot
		phones.add(s.phone.E164())
	}
	waits, err := column[int64](w.tx, sqlWaitsOfPhones, args(phones.parameter())) // usually none
	if err == nil && slices.Contains(waits, 0) {
		var undecided []int64
		undecided, err = column[int64](w.tx, sqlUndecidedOfPlots, args(ids(plots)))
		waits = append(waits, undecided...)
	}
	if err != nil {
		return err
	}
	for _, s := range w.superseded {
		if !slices.Contains(waits, s.plot) {
			continue
		}
		err := w.tx.withdrawOfPlot(s.plot, w.now, s.round.Zone, s.round.Morning)
		if err == nil && s.stale {
			err = w.tx.do(sqlLookSoon, w.now, s.plot)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// enqueue puts the texts in the outbox, with their plots, and stores the prompts of the new ones.
func (w *roundWriter) enqueue() error {
	if len(w.messages) == 0 {
		return nil
	}
	for _, t := range w.messages {
		m := t.Message
		if err := m.check(); err != nil {
			return err
		}
		w.rows.add(m.Key, orNull(m.GrowerID), m.To.E164(), m.Kind(), m.Text, m.CreatedAt, m.DueAt, m.UsefulUntil,
			int64(m.urgency()), w.tx.s.routePrefixOf(m.To.E164()), m.ReplyBy)
	}
	fresh := map[string]int64{}
	if err := w.tx.each(sqlEnqueueAll, args(w.rows.parameter()), func(scan func(...any) error) error {
		var key string
		var id int64
		err := scan(&key, &id)
		fresh[key] = id
		return err
	}); err != nil {
		return err
	}
	w.texts = len(fresh)
	for _, t := range w.messages {
		id, ok := fresh[t.Message.Key]
		if !ok {
			continue
		}
		for _, plot := range t.Message.PlotIDs {
			w.links.add(id, plot)
		}
		if p := t.Prompt; p != nil {
			w.prompts.add(p.Phone.E164(), p.Body, p.AskedAt, p.Until)
		}
	}
	if err := w.links.write(w.tx, sqlLinkPlots); err != nil {
		return err
	}
	return w.prompts.write(w.tx, sqlSavePrompts)
}
