package store

import (
	"database/sql"
	"encoding/json"
	"strings"

	"rowbell/engine"
	"rowbell/store/growercsv"
)

// importState is what the records have of one number of an import.
type importState struct {
	id        int64 // 0: no records
	name      string
	note      string
	language  string
	place     *readyPlace
	stoppedAt int64 // 0: the number gets texts. Of a number without records: when it sent STOP or erased its records
	consentAt int64
	body      string // the words of the consent, see witnessed
	channel   string
	household household
	plots     []plotRow // open
	closed    []closedPlot
	worked    map[int64]engine.Day // first day with a pass or a sighting, by the id of an open plot
}

// closedPlot is a plot whose season is over.
type closedPlot struct {
	no      int
	label   string
	method  engine.Method
	planted engine.Day
}

const (
	sqlImportGrowers = `SELECT g.phone, g.id, g.name, g.note, g.language, g.place_id, coalesce(g.stopped_at, 0),
		g.consent_at, t.body, g.consent_channel, g.household
	FROM jsonb_each($1) JOIN grower g ON g.phone = value->>0 LEFT JOIN consent_text t ON t.version = g.consent_text`
	sqlImportClosed = `SELECT p.grower_id, p.no, p.label, p.method, p.planted FROM plot p
	WHERE p.grower_id IN ` + idList + ` AND p.closed_day IS NOT NULL ORDER BY p.id`
	sqlImportWorked = `SELECT x.plot_id, min(x.day) FROM pass x WHERE x.plot_id IN ` + idList + ` GROUP BY x.plot_id
	UNION ALL SELECT x.plot_id, min(x.day) FROM sighting x WHERE x.plot_id IN ` + idList + ` GROUP BY x.plot_id`
	sqlImportOptOuts = `SELECT o.hash, o.at FROM jsonb_each($1) JOIN opt_out o ON o.hash = unhex(value->>0)`
)

// importStates reads what the records have of the numbers of a page.
func (tx *Tx) importStates(page []growercsv.Grower, places []*readyPlace) (map[string]*importState, error) {
	states := map[string]*importState{}
	var phones packed
	for _, g := range page {
		states[g.Phone] = &importState{}
		phones.add(g.Phone)
	}
	if len(page) == 0 {
		return states, nil
	}
	byID, err := tx.importGrowers(phones.parameter(), states, places)
	if err == nil {
		err = tx.importPlots(byID)
	}
	if err == nil {
		err = tx.importOptOuts(states)
	}
	return states, err
}

func (tx *Tx) importGrowers(phones string, states map[string]*importState, places []*readyPlace) (
	byID map[int64]*importState, err error,
) {
	byID = map[int64]*importState{}
	err = tx.each(sqlImportGrowers, args(phones), func(scan func(...any) error) error {
		var phone, home string
		var place int64
		var body sql.NullString
		var st importState
		err := scan(&phone, &st.id, &st.name, &st.note, &st.language, &place, &st.stoppedAt, &st.consentAt, &body,
			&st.channel, &home)
		if err != nil {
			return err
		}
		st.body = body.String
		for _, p := range places {
			if p.ID == place {
				st.place = p
			}
		}
		if home != "" {
			if err := json.Unmarshal([]byte(home), &st.household); err != nil {
				return err
			}
		}
		*states[phone] = st
		byID[st.id] = states[phone]
		return nil
	})
	return byID, err
}

func (tx *Tx) importPlots(byID map[int64]*importState) error {
	var growers []int64
	for id := range byID {
		growers = append(growers, id)
	}
	if len(growers) == 0 {
		return nil
	}
	plots, err := tx.plotRows(sqlOpenPlotsOf, ids(growers))
	if err != nil {
		return err
	}
	of := map[int64]*importState{}
	for _, r := range plots {
		st := byID[r.growerID]
		st.plots, of[r.id] = append(st.plots, r), st
		st.worked = map[int64]engine.Day{}
	}
	closed, err := grouped(tx, sqlImportClosed, args(ids(growers)), func(c *closedPlot) []any {
		return args(&c.no, &c.label, &c.method, &c.planted)
	})
	if err != nil {
		return err
	}
	for id, list := range closed {
		byID[id].closed = list
	}
	return tx.each(sqlImportWorked, args(idsOf(plots)), func(scan func(...any) error) error {
		var plot int64
		var first engine.Day
		if err := scan(&plot, &first); err != nil {
			return err
		}
		if was, there := of[plot].worked[plot]; !there || first < was {
			of[plot].worked[plot] = first
		}
		return nil
	})
}

// importOptOuts looks for a STOP of the numbers without records.
func (tx *Tx) importOptOuts(states map[string]*importState) error {
	var hashes packed
	byHash := map[string]*importState{}
	for phone, st := range states {
		if st.id == 0 {
			hash := tx.hash(Phone(phone))
			hashes.add(hash)
			byHash[string(hash)] = st
		}
	}
	if len(byHash) == 0 {
		return nil
	}
	return tx.each(sqlImportOptOuts, args(hashes.parameter()), func(scan func(...any) error) error {
		var hash []byte
		var at int64
		err := scan(&hash, &at)
		if st := byHash[string(hash)]; st != nil {
			st.stoppedAt = at
		}
		return err
	})
}

// values returns what the records have of the grower, and of a plot unless r is nil.
func (st *importState) values(phone string, r *plotRow) growercsv.Values {
	v := growercsv.Values{Phone: phone}
	if st.stoppedAt != 0 {
		v.Texts = "stopped"
	}
	if st.id != 0 {
		v.Name, v.Note, v.Language, v.Place = st.name, st.note, st.language, st.place.Name
		v.ConsentWords, v.ConsentBy = unwitnessed(st.body, st.channel)
		v.ConsentOn = st.place.today(st.consentAt)
		h := st.household
		v.Home = engine.Household{People: h.People, Tools: h.Tools, HoursADay: h.HoursADay, Neighbours: h.Neighbours}
	}
	if r != nil {
		v.No, v.Plot, v.Tool = r.no, r.plot, r.tool
	}
	return v
}

const askedBy = "\n\nAsked by "

// witnessed returns the words of a consent that somebody else wrote down, as they are stored: with the name of who
// asked the grower.
func witnessed(words, by string) string {
	if by == "" {
		return words
	}
	return words + askedBy + by
}

// unwitnessed returns what witnessed has put together. A consent that the grower gave by phone has the channel instead
// of who asked.
func unwitnessed(body, channel string) (words, by string) {
	if i := strings.LastIndex(body, askedBy); i >= 0 {
		return body[:i], body[i+len(askedBy):]
	}
	return body, channel
}
