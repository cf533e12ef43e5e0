package store

import (
	"errors"
	"fmt"
	"strings"

	"rowbell/engine"
	"rowbell/store/growercsv"
)

// importChannel is the channel of consents and corrections that come from a file.
const importChannel = "import"

const (
	sqlImportGrower = `INSERT INTO grower (phone, language, place_id, consent_at, consent_text, consent_channel,
		created_at, seen_at, stopped_at, name, name_key, note)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $4, $8, $9, $10, $11) ON CONFLICT (phone) DO NOTHING`
	sqlImportConsent = `INSERT INTO consent (at, what, channel, text_version, language, grower_id)
	VALUES ($1, $2, $3, $4, $5, $6)`
	sqlImportRenew = `UPDATE grower SET consent_at = $1, consent_text = $2, consent_channel = $3 WHERE id = $4`

	// pgLockOptOuts makes a STOP that comes now wait until the import is written, so that it finds the grower.
	pgLockOptOuts = `LOCK TABLE opt_out IN EXCLUSIVE MODE`
)

// importWriter writes the plans of one import.
type importWriter struct {
	tx   *Tx
	im   Import
	now  int64
	kept map[string]bool // versions of the consents that are stored

	growers, plots, changed int
}

// takeImport writes what was planned before the transaction. It returns ErrImportMoved if that does not hold any more.
func (tx *Tx) takeImport(im Import, plans []importPlan, now int64) error {
	changed, err := tx.planChanged(im, plans, now)
	if err != nil {
		return err
	}
	w := importWriter{tx: tx, im: im, now: now, kept: map[string]bool{}}
	for i := range plans {
		p := &plans[i]
		if again := changed[p.file.Phone]; again != nil {
			p = again
		}
		if err := w.grower(p); err != nil {
			return err
		}
	}
	return errors.Join(w.trailOfAll(), tx.checkStops(plans))
}

// planChanged plans the growers who change again, when nobody else can write about them.
func (tx *Tx) planChanged(im Import, plans []importPlan, now int64) (map[string]*importPlan, error) {
	var was []importPlan
	var growers []growercsv.Grower
	var phones []Phone
	for _, p := range plans {
		if p.changes() {
			was, growers, phones = append(was, p), append(growers, *p.file), append(phones, Phone(p.file.Phone))
		}
	}
	if len(growers) > MaxImportChanges {
		return nil, ErrImportLarge
	}
	if err := tx.Lock(phones...); err != nil {
		return nil, err
	}
	again := map[string]*importPlan{}
	for at := 0; at < len(growers); at += importPage {
		to := min(at+importPage, len(growers))
		page, err := tx.planImport(im, growers[at:to], now)
		switch {
		case err != nil:
			return nil, err
		case fatesOf(page).Digest() != fatesOf(was[at:to]).Digest():
			return nil, ErrImportMoved
		}
		for i := range page {
			again[page[i].file.Phone] = &page[i]
		}
	}
	return again, nil
}

// checkStops returns an error if a number of a new grower has sent STOP since it was looked at. The numbers cannot be
// locked, because a server has no room for so many locks.
func (tx *Tx) checkStops(plans []importPlan) error {
	if tx.pg != nil {
		if err := tx.do(pgLockOptOuts); err != nil {
			return err
		}
	}
	for len(plans) > 0 {
		page := plans[:min(importPage, len(plans))]
		plans = plans[len(page):]
		states := map[string]*importState{}
		for _, p := range page {
			if p.state.id == 0 {
				states[p.file.Phone] = &importState{}
			}
		}
		if err := tx.importOptOuts(states); err != nil {
			return err
		}
		for _, p := range page {
			if st := states[p.file.Phone]; st != nil && st.stoppedAt != p.state.stoppedAt {
				return ErrImportMoved
			}
		}
	}
	return nil
}

// grower writes what changes of one grower.
func (w *importWriter) grower(p *importPlan) error {
	if p.state.id != 0 && !p.changes() {
		return nil
	}
	l, err := w.ledger(p)
	if err != nil {
		return fail("grower", err)
	}
	for i := range p.rows {
		if err := w.plot(l, p, &p.rows[i]); err != nil {
			return fail("plot", err)
		}
	}
	return nil
}

// ledger writes what changes of the grower alone, and returns the grower's ledger.
func (w *importWriter) ledger(p *importPlan) (l *Ledger, err error) {
	if p.state.id == 0 {
		return w.newGrower(p)
	}
	if l, err = w.tx.Ledger(Phone(p.file.Phone), w.now); err != nil {
		return nil, err
	}
	l.Via(importChannel)
	if p.name {
		err = errors.Join(err, l.SetName(p.now.Name), w.trailOf(l, TrailName, p.state.name, p.now.Name))
	}
	if p.note {
		err = errors.Join(err, l.SetNote(p.now.Note), w.trailOf(l, TrailNote, p.state.note, p.now.Note))
	}
	if p.language {
		err = errors.Join(err, l.SetLanguage(p.now.Language))
	}
	if p.moves {
		err = errors.Join(err, l.SetPlace(p.now.Place))
	}
	if p.household {
		err = errors.Join(err, w.home(l, p))
	}
	if p.renews {
		err = errors.Join(err, w.renew(l, p))
	}
	if p.language || p.moves || p.household || p.renews {
		err = errors.Join(err, w.trail(l, 0, p.own))
	}
	return l, err
}

// newGrower enters a grower. A number that wants no texts keeps wanting none.
func (w *importWriter) newGrower(p *importPlan) (*Ledger, error) {
	l := &Ledger{tx: w.tx, phone: Phone(p.file.Phone), now: w.now, place: p.place, language: p.now.Language,
		stopped: p.state.stoppedAt != 0, channel: importChannel, plotsRead: true}
	version, at, err := w.words(p)
	if err != nil {
		return nil, err
	}
	id, fresh, err := w.tx.insert(sqlImportGrower, l.phone.E164(), l.language, l.place.ID, at, version, importChannel,
		w.now, orNull(p.state.stoppedAt), p.now.Name, nameKey(p.now.Name), p.now.Note)
	switch {
	case err != nil:
		return nil, err
	case !fresh:
		return nil, ErrImportMoved
	}
	l.id, l.seenAt = id, at
	w.growers++
	err = l.do(sqlImportConsent, at, "given", importChannel, version, l.language, id)
	if !sameHome(p.now.Home, engine.Household{}) {
		err = errors.Join(err, w.home(l, p))
	}
	return l, err
}

// words stores the words of the consent, and returns their version and the instant of the consent: noon of its day, or
// now if that is earlier.
func (w *importWriter) words(p *importPlan) (version string, at int64, err error) {
	body := witnessed(p.now.ConsentWords, p.now.ConsentBy)
	version = ConsentVersion(p.now.Language, body)
	if !w.kept[version] {
		w.kept[version] = true
		err = w.tx.do(sqlKeepWords, version, p.now.Language, body)
	}
	return version, min(p.now.ConsentOn.At(12, p.place.loc).Unix(), w.now), err
}

func (w *importWriter) renew(l *Ledger, p *importPlan) error {
	version, at, err := w.words(p)
	return errors.Join(err, l.do(sqlImportRenew, at, version, importChannel, l.id),
		l.do(sqlImportConsent, at, "renewed", importChannel, version, p.now.Language, l.id))
}

// home stores what the file says of the household; its prices stay.
func (w *importWriter) home(l *Ledger, p *importPlan) error {
	h, err := readHousehold(l.household)
	if err != nil {
		return err
	}
	now := p.now.Home
	h.People, h.Tools, h.HoursADay, h.Neighbours = now.People, now.Tools, now.HoursADay, now.Neighbours
	return l.SetHousehold(h)
}

// plot writes what changes of a plot.
func (w *importWriter) plot(l *Ledger, p *importPlan, r *rowPlan) error {
	f := &r.fate
	switch {
	case f.Plot == 0 || f.Kind == FateSame:
		return nil
	case f.NewPlot:
		w.plots++
		if f.Again {
			id, err := l.PlotID(f.Plot)
			if err := errors.Join(err, l.ClosePlot(f.Plot), w.trail(l, id, p.plotChanges(r))); err != nil {
				return err
			}
		}
		err := l.insertPlotAs(f.Plot, plotRow{plot: r.now.Plot, tool: r.now.Tool, since: l.Today()})
		if err != nil || p.state.id == 0 {
			return err
		}
		id, err := l.PlotID(f.Plot)
		return errors.Join(err, w.trailOfPlot(l, id, r.now.Plot))
	case r.was == nil || r.now.Plot == r.was.plot && r.now.Tool == r.was.tool:
		return nil // only the grower changes
	}
	open, err := l.find(f.Plot)
	if err != nil {
		return err
	}
	return errors.Join(l.correctedPlot(open, correctedPlot, r.now.Plot, r.now.Tool),
		w.trail(l, open.id, p.plotChanges(r)), l.changePlot(f.Plot, r.now.Plot, r.now.Tool))
}

// plotChanges returns the changes of an open plot, without those of its grower.
func (p *importPlan) plotChanges(r *rowPlan) []growercsv.Change {
	return growercsv.Changes(p.state.values(p.file.Phone, r.was), r.now)
}

// trail notes changes of a grower or, with its id, of a plot.
func (w *importWriter) trail(l *Ledger, plotID int64, changes []growercsv.Change) error {
	var was, now []string
	for _, c := range changes {
		if c.Column == "name" || c.Column == "note" { // have entries of their own, see TrailName
			continue
		}
		if c.From != "" {
			was = append(was, c.Column+" "+c.From)
		}
		if c.To != "" {
			now = append(now, c.Column+" "+c.To)
		}
	}
	w.changed++
	e := w.im.By
	e.What, e.Object, e.PlaceID, e.GrowerID, e.PlotID = "changed by import", "grower", l.place.ID, l.id, plotID
	if plotID != 0 {
		e.Object = "plot"
	}
	e.Was, e.Now = strings.Join(was, ", "), strings.Join(now, ", ")
	return w.tx.Trail(e)
}

// trailOf notes a change that has its own words in the trail.
func (w *importWriter) trailOf(l *Ledger, what, was, now string) error {
	w.changed++
	e := w.im.By
	e.What, e.Object, e.PlaceID, e.GrowerID, e.Was, e.Now = what, "grower", l.place.ID, l.id, was, now
	return w.tx.Trail(e)
}

// trailOfPlot notes a plot that is added to a grower in the records. Of new growers, trailOfAll has the number.
func (w *importWriter) trailOfPlot(l *Ledger, id int64, plot engine.Plot) error {
	e := w.im.By
	e.What, e.Object, e.PlaceID, e.GrowerID, e.PlotID = "added a plot by import", "plot", l.place.ID, l.id, id
	e.Now = plot.Method.String() + " " + plot.Planted.String()
	return w.tx.Trail(e)
}

// trailOfAll notes the import, if it changed anything.
func (w *importWriter) trailOfAll() error {
	if w.growers+w.plots+w.changed == 0 {
		return nil
	}
	e := w.im.By
	e.What, e.Object = "imported growers and plots", w.im.File
	e.Now = fmt.Sprintf("new growers: %d; new plots: %d; changes: %d", w.growers, w.plots, w.changed)
	return w.tx.Trail(e)
}
