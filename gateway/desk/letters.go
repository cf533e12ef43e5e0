package desk

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"rowbell/store"
)

// Letters are texts to many growers: written here, put in the outbox by package letter.
func (d *Desk) letterRoutes() []route {
	return []route{
		{"GET /desk/letters", write, nil, d.lettersPage},
		{"GET /desk/letters/new", write, nil, d.newLetter},
		{"POST /desk/letters/new", write, nil, d.tryLetter},
		{"POST /desk/letters", write, nil, d.addLetter},
		{"GET /desk/letters/{letter}", write, letterInPath, d.letterPage},
		{"POST /desk/letters/{letter}/stop", write, letterInPath, d.stopLetter},
	}
}

type lettersView struct {
	List  []letterLine
	Older int64 // the id before which the next page begins; 0: there is none
}

type letterLine struct {
	store.Letter
	For    string // whom it is for
	Excerp string // the beginning of its text
	State  string
}

func (d *Desk) lettersPage(r *request) error {
	before, _ := strconv.ParseInt(r.FormValue("before"), 10, 64) // 0, from the newest on, if it is no number
	var v lettersView
	var list []store.Letter
	if err := r.view(func(tx *store.Tx) (err error) {
		list, err = tx.Letters(r.scope, before, pageSize+1)
		return err
	}); err != nil {
		return err
	}
	if len(list) > pageSize {
		list = list[:pageSize]
		v.Older = list[pageSize-1].ID
	}
	for _, l := range list {
		v.List = append(v.List, letterLine{l, r.letterFor(l.Filter), excerpt(d.firstWords(l)), r.letterState(l)})
	}
	return r.page("letters", "Letters", v)
}

// firstWords returns the text of a letter in the first language of the menu that it has.
func (d *Desk) firstWords(l store.Letter) string {
	for _, tag := range d.letterLanguages(l.Words) {
		return l.Words[tag]
	}
	return ""
}

// letterLanguages returns the languages of a letter in the order of the menu, and then those that the menu has no more.
func (d *Desk) letterLanguages(words map[string]string) (tags []string) {
	for _, tag := range d.o.Menu.SMSCatalogue().Languages() {
		if _, has := words[tag]; has {
			tags = append(tags, tag)
		}
	}
	var others []string
	for tag := range words {
		if !slices.Contains(tags, tag) {
			others = append(others, tag)
		}
	}
	slices.Sort(others)
	return append(tags, others...)
}

// excerptLength is how many letters of a text a list shows.
const excerptLength = 60

func excerpt(s string) string {
	letters := []rune(s)
	if len(letters) <= excerptLength {
		return s
	}
	return string(letters[:excerptLength]) + "…"
}

// letterState says in words how far a letter has come.
func (r *request) letterState(l store.Letter) string {
	switch begins := r.letterBegins(l); {
	case l.StoppedBy != "":
		return "stopped by " + l.StoppedBy
	case l.EndedAt > 0:
		return "written"
	case begins > r.now.Unix():
		return "waits for its day"
	}
	return "goes out"
}

// letterBegins returns when a letter begins at the first of its places, in Unix seconds.
func (r *request) letterBegins(l store.Letter) (at int64) {
	for i, id := range l.Filter.Places {
		begins := l.Begins.At(l.BeginsHour, r.zone(id)).Unix()
		if i == 0 || begins < at {
			at = begins
		}
	}
	return at
}

// letterFor says in words whom a letter is for.
func (r *request) letterFor(f store.LetterFilter) string {
	words := "all growers"
	if f.State != store.AnyState {
		words = "growers: " + growerStateWords[f.State]
	}
	if f.Language != "" {
		words += ", who read " + r.d.languageName(f.Language)
	}
	if f.Circle != 0 {
		words += fmt.Sprintf(", in the circle %d", f.Circle)
	} else if f.InCircle {
		words += ", in a circle"
	}
	if f.NotHeardOf != 0 {
		words += fmt.Sprintf(", silent for %s or more", plural(f.NotHeardOf, "day", "days"))
	}
	for i, id := range f.Places {
		if i == 0 {
			words += ", at "
		} else {
			words += " and "
		}
		words += r.placeName(id)
	}
	return words
}

// growerStateWords names the states by which growers are chosen.
var growerStateWords = map[store.GrowerState]string{
	store.StateWindow: "a window is open", store.StateMissed: "a window was missed",
	store.StateNoPlot: "no plot is open", store.StateStopped: "want no texts",
	store.StateUnreachable: "the number does not exist", store.StateNoNumber: "no number",
	store.StateSilent: "silent for 90 days",
}

// leftOutWords names the reasons by which growers get no text of a letter.
var leftOutWords = map[store.LeftOut]string{
	store.LeftNoNumber: "no number: the old one belongs to somebody else", store.LeftStopped: "said STOP",
	store.LeftUnreachable: "the number does not exist",
	store.LeftSilent:      "silent for 90 days: the number may have a new owner",
	store.LeftLetterToday: "got a letter today", store.LeftWeek: "got as many texts this week as may be sent",
	store.LeftNoWords: "no text in their language", store.LeftBeyond: "more than were confirmed",
}

// countLine is a count with its words.
type countLine struct {
	Words string
	Count int64
}

func leftOutLines(counts map[store.LeftOut]int64) (lines []countLine) {
	for _, reason := range store.LeftOutReasons() {
		if n := counts[reason]; n > 0 {
			lines = append(lines, countLine{leftOutWords[reason], n})
		}
	}
	return lines
}

// statesOfTexts are the states of texts in the order of their way, with words for staff.
var statesOfTexts = []struct {
	state store.State
	words string
}{
	{store.Queued, "wait in the outbox"}, {store.Claimed, "are being sent"},
	{store.Accepted, "a network took them"}, {store.Delivered, "reached the phone"},
	{store.Refused, "the network refused them"}, {store.Expired, "not sent in time"},
	{store.Withdrawn, "withdrawn"}, {store.Unknown, "nobody knows whether they were sent"},
}

type letterView struct {
	Letter  store.Letter
	For     string
	State   string
	Texts   []letterWords
	States  []countLine // of the texts that were written
	LeftOut []countLine
	Left    int64 // how many growers were left out
	MayStop bool
}

// letterWords is the text of a letter in one language.
type letterWords struct {
	Tag, Language, Text string
	Parts               partsView
}

func (d *Desk) letterPage(r *request) error {
	l := r.letter
	v := letterView{Letter: l, For: r.letterFor(l.Filter), State: r.letterState(l), LeftOut: leftOutLines(l.LeftOut)}
	for _, tag := range d.letterLanguages(l.Words) {
		v.Texts = append(v.Texts, letterWords{tag, d.languageName(tag), l.Words[tag], d.partsOf(l.Words[tag])})
	}
	for _, line := range v.LeftOut {
		v.Left += line.Count
	}
	err := r.view(func(tx *store.Tx) error {
		states, err := tx.LetterStates(l.ID)
		for _, s := range statesOfTexts {
			if n := states[s.state]; n > 0 {
				v.States = append(v.States, countLine{s.words, n})
			}
		}
		v.MayStop = l.StoppedBy == "" && (l.EndedAt == 0 || states[store.Queued] > 0)
		return err
	})
	if err != nil {
		return err
	}
	made := time.Unix(l.MadeAt, 0).In(r.zone(l.Filter.Places[0]))
	return r.page("letter", "A letter of "+made.Format("2 Jan 2006"), v)
}

func (d *Desk) stopLetter(r *request) error {
	var withdrawn int64
	var stopped bool
	if err := r.write(func(tx *store.Tx) (err error) {
		withdrawn, stopped, err = tx.StopLetter(r.letter.ID, r.staff.Name, r.now.Unix())
		if err != nil || !stopped {
			return err
		}
		return tx.Trail(r.letterEntry(r.letter, "stopped a letter", "", fmt.Sprintf("withdrawn: %d", withdrawn)))
	}); err != nil {
		return err
	}
	note := "It was stopped before."
	if stopped {
		note = fmt.Sprintf("Stopped. Texts that were withdrawn: %d. What a network has already, it sends.", withdrawn)
	}
	return r.to(fmt.Sprintf("/desk/letters/%d", r.letter.ID), note)
}

// letterEntry returns an entry of the trail about a letter.
func (r *request) letterEntry(l store.Letter, what, was, now string) store.TrailEntry {
	object := ""
	if l.ID != 0 {
		object = fmt.Sprintf("letter %d", l.ID)
	}
	e := r.entry(what, object, was, now)
	if len(l.Filter.Places) == 1 {
		e.PlaceID = l.Filter.Places[0]
	}
	return e
}

// languageName returns the name of a language of the menu, or its tag.
func (d *Desk) languageName(tag string) string {
	if name := d.o.Menu.SMSCatalogue().Name(tag); name != "" {
		return name
	}
	return tag
}
