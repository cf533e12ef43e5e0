package desk

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// draft is a letter as it is written, with what was counted of it.
type draft struct {
	letter store.Letter
	count  store.LetterCount
	chosen bool // for whom it is was chosen, so it is counted
}

// counting reports whether the count goes on with the next request. Until it is done nothing else is.
func (x draft) counting() bool { return x.chosen && !x.count.Done }

type draftView struct {
	Place, Language, State, Circle, Silence field
	Chosen                                  bool
	Counting                                bool          // the next request goes on with the count
	Carried                                 []hiddenField // all that was typed, for that request
	Looked                                  int64         // how many growers were counted so far
	For                                     string
	All, Left                               int64
	LeftOut                                 []countLine
	Texts                                   []draftText
	Begins, Hour, Until                     field
	Parts                                   int64 // of all texts together
	Cost                                    string
	MayTest                                 bool
	Filter, Days                            []hiddenField
	Quiet                                   int
	From, To                                engine.Day
}

// draftText is the field for the text in one language.
type draftText struct {
	Name, Tag, Language string
	Growers             int64
	Value, Mistake      string
	Parts               partsView
	Cost                string
}

// hiddenField carries what was chosen from one form to the next.
type hiddenField struct{ Name, Value string }

// filterFields are the names of the fields that say whom a letter is for.
var filterFields = []string{"place", "language", "state", "circle", "silence"}

func (d *Desk) newLetter(r *request) error {
	if err := r.ParseForm(); err != nil {
		return errNotFound
	}
	r.form = newForm(r.Form)
	x, err := d.readDraft(r, r.form.Get("chosen") != "", true)
	if err != nil {
		return err
	}
	return d.draftPage(r, x)
}

func (d *Desk) draftPage(r *request, x draft) error {
	v := d.draftView(r, x)
	if !r.form.ok() {
		return r.again("letter-write", "Write a letter", v)
	}
	return r.page("letter-write", "Write a letter", v)
}

// tryLetter does what its buttons say: counts, sends to oneself, or shows what would be sent. For the script it answers
// with how long one text is.
func (d *Desk) tryLetter(r *request) error {
	if r.form.Get("do") == "parts" {
		return r.fragment(d.partsOf(letterText(r.form.Get("text"))).String())
	}
	x, err := d.readDraft(r, true, false)
	if err != nil {
		return err
	}
	if x.counting() {
		return d.draftPage(r, x)
	}
	switch r.form.Get("do") {
	case "count":
		r.form.mistakes = map[string]string{} // the text may be half written
		return d.draftPage(r, x)
	case "test":
		return d.testLetter(r, x)
	}
	d.checkDraft(r, x)
	if !r.form.ok() {
		return d.draftPage(r, x)
	}
	return r.page("letter-confirm", "Send it?", d.draftView(r, x))
}

// addLetter sends a letter, if the number of its growers was typed.
func (d *Desk) addLetter(r *request) error {
	x, err := d.readDraft(r, true, false)
	if err != nil {
		return err
	}
	if x.counting() {
		return d.draftPage(r, x)
	}
	d.checkDraft(r, x)
	if !r.form.ok() {
		return d.draftPage(r, x)
	}
	if typed, err := strconv.ParseInt(r.form.text("confirm"), 10, 64); err != nil || typed != x.count.All() {
		r.form.wrong("confirm", fmt.Sprintf("Type how many growers get it: %d.", x.count.All()))
		return r.again("letter-confirm", "Send it?", d.draftView(r, x))
	}
	l := x.letter
	l.Who, l.Confirmed = r.staff.Name, x.count.All()
	if err := r.write(func(tx *store.Tx) (err error) {
		if l.ID, err = tx.AddLetter(l, r.now.Unix()); err != nil {
			return err
		}
		var words []string
		for _, tag := range d.letterLanguages(l.Words) {
			words = append(words, tag+": "+l.Words[tag])
		}
		what := fmt.Sprintf("wrote a letter to %d, %s", l.Confirmed, r.letterFor(l.Filter))
		return tx.Trail(r.letterEntry(l, what, "", strings.Join(words, "\n")))
	}); err != nil {
		return err
	}
	r.forgetCount()
	return r.to(fmt.Sprintf("/desk/letters/%d", l.ID), "It goes out. It can be stopped here.")
}

// readDraft reads a letter from the form and, if chosen is set, counts for whom it is; fresh counts anew.
func (d *Desk) readDraft(r *request, chosen, fresh bool) (x draft, err error) {
	x = draft{letter: store.Letter{Filter: r.letterFilter(), Words: map[string]string{},
		QuietHour: d.o.QuietHour}}
	if x.chosen = chosen && r.form.ok(); !x.chosen {
		return x, nil
	}
	if x.count, err = r.countLetter(x.letter.Filter, fresh); err != nil || !x.count.Done {
		return x, err
	}
	for _, tag := range d.countedLanguages(x.count) {
		x.letter.Words[tag] = letterText(r.form.Get("text-" + tag))
	}
	d.readDays(r, &x.letter)
	return x, nil
}

// letterText returns a text as it is sent: with line feeds as ends of lines, and without spaces around it.
func letterText(typed string) string {
	return strings.TrimSpace(strings.ReplaceAll(typed, "\r\n", "\n"))
}

// countedLanguages returns the languages of the growers who get a letter, in the order of the menu.
func (d *Desk) countedLanguages(c store.LetterCount) []string {
	tags := map[string]string{}
	for tag, n := range c.ByLanguage {
		if n > 0 {
			tags[tag] = ""
		}
	}
	return d.letterLanguages(tags)
}

func (r *request) letterFilter() store.LetterFilter {
	f := store.LetterFilter{Language: r.form.text("language"), InCircle: r.form.text("circle") == "any"}
	for _, p := range r.places {
		if chosen := r.form.text("place"); chosen == "" || chosen == p.Name {
			f.Places = append(f.Places, p.ID)
		}
	}
	if len(f.Places) == 0 {
		r.form.wrong("place", "Choose one of the places.")
	}
	state, known := store.ParseGrowerState(r.form.text("state"))
	if f.State = state; !known {
		r.form.wrong("state", "Choose one of the states.")
	}
	var err error
	if circle := r.form.text("circle"); circle != "" && !f.InCircle {
		if f.Circle, err = strconv.Atoi(circle); err != nil || f.Circle <= 0 {
			r.form.wrong("circle", "Write the number of a circle, or any.")
		}
	}
	if days := r.form.text("silence"); days != "" {
		if f.NotHeardOf, err = strconv.Atoi(days); err != nil || f.NotHeardOf <= 0 || f.NotHeardOf > 3660 {
			r.form.wrong("silence", "Write a number of days.")
		}
	}
	return f
}

const (
	// letterAhead is for how many days ahead a letter may be written, and letterLasts for how many days it may go out.
	// Both are chosen here: what is true in a season may not be so in the next.
	letterAhead, letterLasts = 60, 14
	// letterUsual is for how many days a letter goes out if nothing else is chosen.
	letterUsual = 2
)

// readDays reads when a letter goes out. Empty fields get the usual values, which the form then shows.
func (d *Desk) readDays(r *request, l *store.Letter) {
	today := engine.DayOf(r.now, r.zone(l.Filter.Places[0]))
	morning, hour := r.morning(l.Filter), r.now.In(r.zone(l.Filter.Places[0])).Hour()
	if r.form.text("begins") == "" {
		begins := today
		if hour = max(hour, morning); hour >= l.QuietHour {
			begins, hour = today+1, morning
		}
		r.form.Set("begins", dayValue(begins))
		r.form.Set("hour", strconv.Itoa(hour))
	}
	var ok bool
	if l.Begins, ok = readISODay(r.form.text("begins")); !ok || l.Begins < today || l.Begins > today+letterAhead {
		r.form.wrong("begins", fmt.Sprintf("Choose a day from %s to %s.", longDay(today), longDay(today+letterAhead)))
	}
	if r.form.text("until") == "" {
		r.form.Set("until", dayValue(l.Begins+letterUsual))
	}
	if l.Until, ok = readISODay(r.form.text("until")); !ok || l.Until < l.Begins || l.Until > l.Begins+letterLasts {
		r.form.wrong("until", fmt.Sprintf("Choose a day from the first day to %s.", longDay(l.Begins+letterLasts)))
	}
	var err error
	l.BeginsHour, err = strconv.Atoi(r.form.text("hour"))
	if err != nil || l.BeginsHour < morning || l.BeginsHour >= l.QuietHour {
		r.form.wrong("hour", fmt.Sprintf("Choose an hour from %d to %d: at other hours growers are left in peace.",
			morning, l.QuietHour-1))
	}
	if l.Until == today && hour >= l.QuietHour {
		r.form.wrong("until", "The last day is over. Choose a later one.")
	}
}

// morning returns the latest hour at which the quiet hours of any of the places end.
func (r *request) morning(f store.LetterFilter) (hour int) {
	for _, p := range r.places {
		if slices.Contains(f.Places, p.ID) {
			hour = max(hour, p.MorningHour)
		}
	}
	return hour
}

func dayValue(day engine.Day) string { return day.At(12, time.UTC).Format(time.DateOnly) }

func readISODay(s string) (engine.Day, bool) {
	t, err := time.Parse(time.DateOnly, s)
	return engine.DayOf(t, time.UTC), err == nil
}

// checkDraft says what keeps a letter from being sent.
func (d *Desk) checkDraft(r *request, x draft) {
	if !x.chosen {
		return // the filter has mistakes
	}
	if x.count.All() == 0 {
		r.form.wrong("place", "Nobody would get this letter. Choose other growers.")
	}
	for tag, words := range x.letter.Words {
		switch name := "text-" + tag; {
		case words == "":
			r.form.wrong(name, fmt.Sprintf("%s: write the text, or choose growers of another language.",
				d.languageName(tag)))
		case d.partsOf(words).TooLong:
			r.form.wrong(name, fmt.Sprintf("This is too long: at most %d parts.", maxLetterParts))
		case strings.ContainsAny(words, "{}"):
			r.form.wrong(name, "Names in braces are not filled in here: growers would read the braces.")
		}
	}
}

func (d *Desk) draftView(r *request, x draft) draftView {
	v := d.filterView(r)
	v.Chosen, v.For, v.All = x.chosen, r.letterFor(x.letter.Filter), x.count.All()
	if !x.chosen {
		return v
	}
	if x.counting() {
		v.Counting, v.Carried, v.Looked = true, r.carried(), x.count.Looked()
		return v
	}
	v.LeftOut = leftOutLines(x.count.LeftOut)
	for _, line := range v.LeftOut {
		v.Left += line.Count
	}
	for _, tag := range d.letterLanguages(x.letter.Words) {
		words := x.letter.Words[tag]
		t := draftText{Name: "text-" + tag, Tag: tag, Language: d.languageName(tag), Growers: x.count.ByLanguage[tag],
			Value: words, Mistake: r.form.mistakes["text-"+tag], Parts: d.partsOf(words)}
		t.Cost = d.cost(int64(t.Parts.Parts) * t.Growers)
		v.Parts += int64(t.Parts.Parts) * t.Growers
		v.Texts = append(v.Texts, t)
	}
	v.Cost, v.MayTest, v.Quiet = d.cost(v.Parts), r.staff.Phone != "", x.letter.QuietHour
	v.From, v.To = x.letter.Begins, x.letter.Until
	v.Begins = r.form.Field("begins", "First day", "").As("date")
	v.Hour = r.form.Field("hour", "From what hour", "The hour at each place.").As("number")
	v.Until = r.form.Field("until", "Last day", "What was not sent by the evening of this day is not sent.").As("date")
	v.Filter, v.Days = r.hidden(filterFields...), r.hidden("begins", "hour", "until")
	return v
}

// hidden returns fields that carry what was typed before.
func (r *request) hidden(names ...string) (list []hiddenField) {
	for _, name := range names {
		list = append(list, hiddenField{name, r.form.Get(name)})
	}
	return list
}

// filterView returns the fields that say whom a letter is for.
func (d *Desk) filterView(r *request) (v draftView) {
	places := []string{"", "all that you look after"}
	for _, p := range r.places {
		places = append(places, p.Name, p.Name)
	}
	languages := []string{"", "any"}
	for _, tag := range d.o.Menu.SMSCatalogue().Languages() {
		languages = append(languages, tag, d.languageName(tag))
	}
	states := []string{"", "any"}
	for _, s := range []store.GrowerState{store.StateWindow, store.StateMissed, store.StateNoPlot} {
		states = append(states, s.String(), growerStateWords[s])
	}
	v.Place = r.form.Choice("place", "Place", "", places...)
	v.Language = r.form.Choice("language", "Language", "", languages...)
	v.State = r.form.Choice("state", "Plots", "", states...)
	v.Circle = r.form.Field("circle", "Circle", "Its number; any: in a circle; empty: all growers.")
	v.Silence = r.form.Field("silence", "Silent for", "At least so many days; empty: all growers.")
	return v
}

// testLetter sends the texts that were written to the phone of the caller.
func (d *Desk) testLetter(r *request, x draft) error {
	var sent []string
	for _, tag := range d.letterLanguages(x.letter.Words) {
		if words := x.letter.Words[tag]; words != "" && !d.partsOf(words).TooLong {
			sent = append(sent, tag)
		}
	}
	r.form.mistakes = map[string]string{} // the rest may be half written
	note, err := "", error(nil)
	switch {
	case r.staff.Phone == "":
		note = "Your account has no phone, so nothing was sent. An operator can write one down under Staff."
	case len(sent) == 0:
		note = "Nothing was sent: write a text first."
	default:
		if note, err = d.sendTest(r, x.letter, sent); err == nil && d.o.Queued != nil {
			d.o.Queued()
		}
	}
	if err != nil {
		return err
	}
	r.d.sessions.Put(r.Context(), keyNote, note)
	return d.draftPage(r, x)
}

// sendTest puts the texts of a letter in the outbox for the phone of the caller, and returns what to say of it.
func (d *Desk) sendTest(r *request, draft store.Letter, languages []string) (note string, err error) {
	now := r.now.Unix()
	err = r.write(func(tx *store.Tx) error {
		l, err := tx.Ledger(r.staff.Phone, now)
		if err != nil {
			return err
		}
		if l.Stopped() {
			note = "Your phone said STOP to this service, so nothing was sent. Send START from it first."
			return nil
		}
		for _, tag := range languages {
			if _, err := tx.Enqueue(store.Message{To: r.staff.Phone, Note: testNote, Text: draft.Words[tag],
				Key:       fmt.Sprintf("letter-test/%d/%d/%s", r.staff.ID, r.now.UnixNano(), tag),
				CreatedAt: now, DueAt: now, UsefulUntil: r.now.Add(testUseful).Unix()}); err != nil {
				return err
			}
		}
		note = "Sent to your phone in: " + strings.Join(languages, ", ") + "."
		return tx.Trail(r.letterEntry(draft, "sent a letter to oneself", "", strings.Join(languages, ", ")))
	})
	return note, err
}

const (
	testNote   = "letter-test"    // the note of a text that staff send to themselves
	testUseful = 10 * time.Minute // a test that comes later is not waited for
)

// fragment answers with a piece of a page for the script.
func (r *request) fragment(words string) error {
	r.done = true
	r.w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	r.w.WriteHeader(http.StatusOK)
	_, _ = r.w.Write([]byte(words)) // the browser may have hung up
	return nil
}
