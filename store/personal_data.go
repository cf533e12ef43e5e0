package store

import (
	"errors"

	"rowbell/engine"
)

const (
	sqlPersonRecords = `SELECT g.id, g.name, g.note, g.language, pl.name, g.created_at, g.seen_at,
		coalesce(g.stopped_at, 0), coalesce(g.unlinked_at, 0), coalesce(g.unreachable_at, 0), g.household,
		coalesce((SELECT m.until FROM move_code m WHERE m.grower_id = g.id), 0)
	FROM grower g JOIN place pl ON pl.id = g.place_id WHERE g.phone = ` + asText
	sqlPersonConsent = `SELECT c.at, c.what, c.text_version, coalesce(t.body, ''), c.language, c.channel
	FROM consent c LEFT JOIN consent_text t ON t.version = c.text_version
	WHERE c.grower_id = ` + asID + ` ORDER BY c.id`
	sqlPersonPlots  = `SELECT ` + plotColumns + ` FROM plot p WHERE p.grower_id = ` + asID + ` ORDER BY p.id`
	sqlPersonTrials = `SELECT t.plot_a, t.plot_b, t.way_a, t.way_b, t.begun_day, coalesce(t.ended_day, 0), t.bags_a,
		t.bags_b
	FROM trial t WHERE t.grower_id = ` + asID + ` ORDER BY t.id`
	sqlPersonDialogues = `SELECT channel, saved_at, expires_at FROM session
		WHERE phone = ` + asText + ` AND length(state) > 0 ORDER BY channel`
	sqlPersonTrail   = `SELECT at, what, object, was, now FROM trail WHERE grower_id = ` + asID + ` ORDER BY id`
	sqlPersonReplies = `SELECT count(*) FROM callback WHERE phone = ` + asText
	sqlPersonTries   = `SELECT wrong, until FROM move_try WHERE hash = $1`
)

// PersonalData returns everything that is stored about a phone. The phone may have no records.
func (tx *Tx) PersonalData(phone Phone, now int64) (PersonalData, error) {
	p, err := tx.person(phone, now)
	p.Number = phone.E164()
	return p, fail("person", err)
}

// PersonalDataUnlinked returns everything that is stored about a grower without a number. It returns ErrLinked for a
// grower with a number, so that a mistyped id does not show the data of another grower.
func (tx *Tx) PersonalDataUnlinked(growerID, now int64) (PersonalData, error) {
	var unlinked bool
	var phone Phone
	known, err := tx.one(sqlMoving, args(growerID), &phone, &unlinked, new(bool))
	switch {
	case err != nil:
		return PersonalData{}, fail("person", err)
	case !known:
		return PersonalData{}, ErrUnknown
	case !unlinked:
		return PersonalData{}, ErrLinked
	}
	p, err := tx.person(phone, now)
	return p, fail("person", err)
}

// Empty reports whether nothing is stored about the phone.
func (p PersonalData) Empty() bool {
	return p.Records == nil && p.NoTextsSince == 0 && len(p.Texts) == 0 && len(p.Dialogues) == 0 && p.Question == nil &&
		p.Exchange == nil && p.RepliesKept == 0 && p.WrongCodes == 0
}

func (tx *Tx) person(phone Phone, now int64) (PersonalData, error) {
	p := PersonalData{WrittenAt: Instant(now), Texts: []PersonText{}, Dialogues: []PersonDialogue{}}
	number, hash := phone.E164(), tx.hash(phone)
	var errs [8]error
	var texts []Message
	var dialogues []PersonDialogue
	p.Records, errs[0] = tx.personRecords(phone)
	_, errs[1] = tx.one(sqlOptedOut, args(hash), &p.NoTextsSince)
	_, errs[2] = tx.one(sqlPersonTries, args(hash), &p.WrongCodes, &p.WrongCodesUntil)
	_, errs[3] = tx.one(sqlPersonReplies, args(number), &p.RepliesKept)
	texts, errs[4] = tx.Inbox(phone, 0)
	dialogues, errs[5] = rows(tx, sqlPersonDialogues, args(number), func(t *PersonDialogue) []any {
		return args(&t.Channel, &t.SavedAt, &t.Until)
	})
	asked, waits, err := tx.Prompt(phone)
	errs[6] = err
	e, err := tx.Exchange(phone)
	errs[7] = err
	if e.At != 0 {
		p.Exchange = &PersonExchange{Instant(e.At), e.Fruitless, e.Answers, Instant(e.Until)}
	}
	for _, m := range texts {
		p.Texts = append(p.Texts, PersonText{m.ID, m.Kind(), m.Text, m.State, m.Reason, m.Gateway, m.Tries,
			Instant(m.CreatedAt), Instant(m.DueAt), Instant(m.UsefulUntil), Instant(m.AcceptedAt), Instant(m.EndedAt)})
	}
	p.Dialogues = append(p.Dialogues, dialogues...)
	if waits {
		p.Question = &PersonQuestion{Instant(asked.AskedAt), Instant(asked.Until)}
	}
	return p, errors.Join(errs[:]...)
}

// personRecords returns the records of a phone, or nil if the phone has no records.
func (tx *Tx) personRecords(phone Phone) (*PersonRecords, error) {
	r := &PersonRecords{Consent: []PersonConsent{}, Plots: []PersonPlot{}, Trials: []PersonTrial{}}
	var told string
	known, err := tx.one(sqlPersonRecords, args(phone.E164()), &r.ID, &r.Name, &r.Note, &r.Language, &r.Place,
		&r.CreatedAt, &r.HeardOfAt, &r.StoppedAt, &r.NoNumberSince, &r.NoPhoneSince, &told, &r.MoveCodeUntil)
	if err != nil || !known {
		return nil, err
	}
	h, err := readHousehold(told)
	if err != nil {
		return nil, err
	}
	home := PersonHousehold{h.People, h.Tools, h.HoursADay, h.Neighbours, h.ToolPrice, h.HireDay, h.LabourDay}
	if home != (PersonHousehold{}) {
		r.Household = &home
	}
	if r.Trouble, err = tx.personTrouble(r.ID); err != nil {
		return nil, err
	}
	consents, err := rows(tx, sqlPersonConsent, args(r.ID), func(c *PersonConsent) []any {
		return args(&c.At, &c.What, &c.TextVersion, &c.Text, &c.Language, &c.Channel)
	})
	if err != nil {
		return nil, err
	}
	r.Consent = append(r.Consent, consents...)
	err = tx.each(sqlPersonTrials, args(r.ID), func(scan func(...any) error) error {
		var t PersonTrial
		var wayA, wayB engine.TrialWay
		var begun, ended engine.Day
		err := scan(&t.PlotA, &t.PlotB, &wayA, &wayB, &begun, &ended, &t.BagsA, &t.BagsB)
		t.WayA, t.WayB, t.BegunDay, t.EndedDay = wayA.String(), wayB.String(), dayText(begun), dayText(ended)
		r.Trials = append(r.Trials, t)
		return err
	})
	return r, errors.Join(err, tx.personPlots(r), tx.personCircles(r), tx.personTrail(r))
}

func (tx *Tx) personTrouble(grower int64) (*PersonTrouble, error) {
	var kind engine.Trouble
	var on engine.Day
	told, err := tx.one(sqlTroubleOf, args(ids([]int64{grower})), &grower, &kind, &on)
	if err != nil || !told {
		return nil, err
	}
	return &PersonTrouble{dayText(on), kind.String()}, nil
}

// personPlots adds the grower's plots to r, with their passes (weedings), sightings, reminders and corrections.
func (tx *Tx) personPlots(r *PersonRecords) error {
	plots, err := tx.plotRows(sqlPersonPlots, r.ID)
	if err != nil {
		return err
	}
	list := idsOf(plots)
	h, err := tx.history(sqlHistoryOf, list)
	if err != nil {
		return err
	}
	told, err := tx.readTold(list)
	if err != nil {
		return err
	}
	corrections, err := tx.readCorrections(list)
	if err != nil {
		return err
	}
	contacts, err := tx.Contacts(idsIn(plots))
	if err != nil {
		return err
	}
	for i := range plots {
		p := personPlot(&plots[i])
		for _, c := range contacts[p.ID] {
			p.Contacts = append(p.Contacts, PersonContact{Instant(c.At), c.What.String(), c.Reasons.String()})
		}
		p.Corrections = append(p.Corrections, corrections[p.ID]...)
		for _, x := range h.passes[p.ID] {
			p.Passes = append(p.Passes, personPass(x))
		}
		for _, x := range h.sightings[p.ID] {
			p.Sightings = append(p.Sightings, personSighting(x))
		}
		for _, x := range told[p.ID] {
			p.Told = append(p.Told, PersonNotice{dayText(x.On), x.Kind.String(), x.Window, x.Edition})
		}
		r.Plots = append(r.Plots, p)
	}
	return nil
}

func personPass(x engine.Pass) PersonPass {
	return PersonPass{dayText(x.On), x.With.String(), x.Way.String(), x.Hours, x.People, x.Left.String(), x.Share}
}

func personSighting(x engine.Sighting) PersonSighting {
	return PersonSighting{dayText(x.On), x.Leaves.String(), x.Amount.String(), x.Rows.String(), x.Water.String()}
}

func personPlot(r *plotRow) PersonPlot {
	x := r.plot
	p := PersonPlot{ID: r.id, No: r.no, Name: x.Label, RegisteredDay: dayText(r.since), ClosedDay: dayText(r.closed),
		Method: x.Method.String(), PlantedDay: dayText(x.Planted), PuddledDay: dayText(x.Puddled),
		SeedlingAgeDays: x.SeedlingAgeDays, PerHill: x.SeedlingsPerHill, Deep: x.Deep, RowSpacingCM: x.RowSpacingCM,
		HillSpacingCM: x.HillSpacingCM, AreaM2: x.AreaM2, Flood: x.Flood.String(), Soil: x.Soil.String(),
		InflowLS: x.InflowLS, DurationDays: x.DurationDays, ToolWidthCM: r.tool.WidthCM,
		ToolMaxWidthCM: r.tool.MaxWidthCM, HerbicidePrice: r.herbicide, Passes: []PersonPass{},
		Sightings: []PersonSighting{}, Told: []PersonNotice{}, Corrections: []PersonCorrection{}}
	if w := r.announced; w.Exists() {
		p.Announced = &PersonWindow{w.Number, w.Edition, dayText(w.Opens), dayText(w.Best), dayText(w.Closes)}
	}
	return p
}

// personTrail adds to r what staff changed.
func (tx *Tx) personTrail(r *PersonRecords) (err error) {
	r.ByStaff, err = rows(tx, sqlPersonTrail, args(r.ID), func(t *PersonTrail) []any {
		return args(&t.At, &t.What, &t.Object, &t.Was, &t.Now)
	})
	return err
}
