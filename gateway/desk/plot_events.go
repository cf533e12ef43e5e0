package desk

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// event is a line of what happened on a plot.
type event struct {
	at    int64
	When  string
	Who   string
	What  string
	Body  string // a text
	State string // what became of a text
	Was   string // what stood before
	Now   string
	Link  string // where the record is corrected
	About string // of the link, for who does not see the line
}

// kindWords says what a reminder was about.
var kindWords = map[engine.Kind]string{
	engine.KindPrepare: "that a window comes", engine.KindOpen: "that the window is open",
	engine.KindNudge: "that the window is half over", engine.KindLastDays: "that these are the last days",
	engine.KindMissed: "that the window was missed", engine.KindClosed: "that the tool can be used no more",
	engine.KindMoved: "that the window has moved",
}

// events lists what was told, sent, seen, weeded and corrected on the plot of the path, the newest first.
func (r *request) events(tx *store.Tx) ([]event, error) {
	var list []event
	if r.may(call) {
		f := store.TrailFilter{GrowerID: r.grower.ID, PlotID: r.plot.ID}
		entries, err := tx.TrailEntries(r.scope, f, 4*pageSize)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			list = append(list, event{at: e.At, When: r.instant(e.At), Who: e.Who, What: e.What, Was: e.Was,
				Now: e.Now})
		}
	}
	list = slices.Concat(list, r.passEvents(), r.sightingEvents(), r.textEvents(), r.correctionEvents())
	slices.SortStableFunc(list, func(a, b event) int { return cmp.Compare(b.at, a.at) })
	return list, nil
}

// instant returns an instant at the grower's place.
func (r *request) instant(at int64) string {
	return time.Unix(at, 0).In(r.grower.Zone).Format("2 Jan 2006 15:04")
}

// noon is where a day stands among instants.
func (r *request) noon(d engine.Day) int64 { return d.At(12, r.grower.Zone).Unix() }

// mayCorrect reports whether the reader may correct the plot of the path.
func (r *request) mayCorrect() bool { return r.plot.Closed == 0 && r.may(change) }

func (r *request) passEvents() (list []event) {
	nth := map[engine.Day]int{}
	for _, p := range r.plot.Season.Passes {
		e := event{at: r.noon(p.On), When: longDay(p.On), What: "Weeded " + passDetail(p)}
		if r.mayCorrect() {
			e.Link, e.About = r.plotPath()+"/pass/"+entryKey(p.On, nth[p.On]), "the weeding of "+shortDay(p.On)
		}
		nth[p.On]++
		list = append(list, e)
	}
	return list
}

func (r *request) sightingEvents() (list []event) {
	nth := map[engine.Day]int{}
	for _, s := range r.plot.Season.Sightings {
		e := event{at: r.noon(s.On), When: longDay(s.On), What: "Seen: " + sightingDetail(s)}
		if r.mayCorrect() {
			e.Link, e.About = r.plotPath()+"/sighting/"+entryKey(s.On, nth[s.On]), "what was seen on "+shortDay(s.On)
		}
		nth[s.On]++
		list = append(list, e)
	}
	return list
}

// textEvents lists the texts about the plot, and what was told whose text is not kept any more.
func (r *request) textEvents() (list []event) {
	kept := map[engine.Told]bool{}
	for _, m := range r.plot.Texts {
		on := engine.DayOf(time.Unix(m.CreatedAt, 0), r.grower.Zone)
		kept[engine.Told{Kind: m.Reminder, On: on}] = true
		e := event{at: m.CreatedAt, When: r.instant(m.CreatedAt), Who: "bell", What: "Text " + textKind(m),
			State: stateOf(m, r.instant)}
		if r.may(call) {
			e.Body = m.Text
		}
		list = append(list, e)
	}
	for _, t := range r.plot.Told {
		if !kept[engine.Told{Kind: t.Kind, On: t.On}] {
			list = append(list, event{at: r.noon(t.On), When: longDay(t.On), Who: "bell",
				What: "Told " + kindWords[t.Kind]})
		}
	}
	return list
}

// textKind says what a text is.
func textKind(m store.Message) string {
	if m.Reminder != 0 {
		return kindWords[m.Reminder]
	}
	return m.Note
}

// channels says who corrected, by the channel.
var channels = map[string]string{"ussd": "grower, by dial", "sms": "grower, by text", channel: "staff", "": "rowbell"}

func (r *request) correctionEvents() (list []event) {
	for _, c := range r.plot.Corrections {
		was, now := differences(c.Was, c.Now)
		list = append(list, event{at: int64(c.At), When: r.instant(int64(c.At)),
			Who: cmp.Or(channels[c.Channel], c.Channel), What: "Correction of the " + c.What, Was: was, Now: now})
	}
	return list
}

// differences returns in words in what two records differ, of which one may be null.
func differences(was, now json.RawMessage) (before, after string) {
	var a, b map[string]any
	if json.Unmarshal(was, &a) != nil || json.Unmarshal(now, &b) != nil {
		return string(was), string(now)
	}
	names := maps.Clone(a)
	if names == nil {
		names = map[string]any{}
	}
	maps.Copy(names, b)
	var x, y []string
	for _, name := range slices.Sorted(maps.Keys(names)) {
		old, isOld := a[name]
		fresh, isFresh := b[name]
		if isOld && isFresh && fmt.Sprint(old) == fmt.Sprint(fresh) {
			continue
		}
		words := strings.ReplaceAll(name, "_", " ") + " "
		if a != nil {
			x = append(x, words+valueWords(old, isOld))
		}
		if b != nil {
			y = append(y, words+valueWords(fresh, isFresh))
		}
	}
	if b == nil {
		y = []string{"taken out"}
	}
	return strings.Join(x, ", "), strings.Join(y, ", ")
}

func valueWords(v any, there bool) string {
	if !there || v == nil {
		return "not told"
	}
	return fmt.Sprint(v)
}
