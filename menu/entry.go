package menu

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// The passes and sightings of a season as entries of a list, and the words for them.

// entry names a pass or a sighting of a season: number nth, from 0, of the passes or sightings of its day. The session
// holds it and not its values, because another channel may meanwhile correct another value of it. If the day meanwhile
// has more or fewer passes or sightings than "of", the entry is no longer the one that was shown.
type entry struct {
	sighting bool
	on       engine.Day
	nth, of  int
}

func (e entry) String() string {
	kind := "p"
	if e.sighting {
		kind = "s"
	}
	return fmt.Sprintf("%s.%d.%d.%d", kind, e.on, e.nth, e.of)
}

// readEntry reads what String wrote; the zero entry, which no season has, for anything else.
func readEntry(s string) (e entry) {
	var on int
	kind, rest, _ := strings.Cut(s, ".")
	if n, _ := fmt.Sscanf(rest, "%d.%d.%d", &on, &e.nth, &e.of); n < 3 {
		return entry{}
	}
	e.sighting, e.on = kind == "s", day(on)
	return e
}

// maxEntries is how many entries the list has at most, the newest ones, so that a session stays small.
const maxEntries = 100

// entriesOf returns the passes and sightings of a season, the latest day first.
func entriesOf(s engine.Season) []entry {
	var days, sightings []engine.Day
	for _, p := range s.Passes {
		days = append(days, p.On)
	}
	for _, x := range s.Sightings {
		sightings = append(sightings, x.On)
	}
	all := append(entriesOn(days, false), entriesOn(sightings, true)...)
	slices.SortStableFunc(all, func(a, b entry) int {
		return cmp.Or(cmp.Compare(b.on, a.on), cmp.Compare(b.nth, a.nth))
	})
	return all[:min(len(all), maxEntries)]
}

// entriesOn numbers the entries of each day. The days are in ascending order.
func entriesOn(days []engine.Day, sighting bool) (all []entry) {
	for len(days) > 0 {
		of := 0
		for of < len(days) && days[of] == days[0] {
			of++
		}
		for nth := range of {
			all = append(all, entry{sighting, days[0], nth, of})
		}
		days = days[of:]
	}
	return all
}

// index returns which of n passes or sightings the entry names, or -1 if it is not there any more. on gives their days,
// which are in ascending order.
func (e entry) index(n int, on func(i int) engine.Day) int {
	first, of := 0, 0
	for i := range n {
		if on(i) < e.on {
			first++
		}
		if on(i) == e.on {
			of++
		}
	}
	if of != e.of || e.nth < 0 || e.nth >= of {
		return -1
	}
	return first + e.nth
}

// passOf returns which pass of a season the entry names, or -1.
func (e entry) passOf(s engine.Season) int {
	if e.sighting {
		return -1
	}
	return e.index(len(s.Passes), func(i int) engine.Day { return s.Passes[i].On })
}

// sightingOf returns which sighting of a season the entry names, or -1.
func (e entry) sightingOf(s engine.Season) int {
	if !e.sighting {
		return -1
	}
	return e.index(len(s.Sightings), func(i int) engine.Day { return s.Sightings[i].On })
}

// lineOf writes an entry in a few words: "Thu 5 Jun, tool one way". lineOf returns false if the season does not have
// the entry.
func (c *scene) lineOf(s engine.Season, e entry) (string, bool) {
	switch {
	case e.passOf(s) >= 0:
		return c.passLine(s.Passes[e.passOf(s)]), true
	case e.sightingOf(s) >= 0:
		return c.t("fix.sighting-line", text.Args{"date": c.date(e.on)}), true
	}
	return "", false
}

func (c *scene) passLine(p engine.Pass) string {
	how := c.t(meansKey(p), nil)
	if p.Share > 0 {
		how += ", " + c.part(p.Share)
	}
	return c.t("fix.pass-line", text.Args{"date": c.date(p.On), "how": how})
}

// meansKey is the text for tool or hand and the direction of a pass.
func meansKey(p engine.Pass) text.Key {
	switch {
	case p.With == engine.ByHand:
		return "fix.by-hand"
	case p.Way == engine.Both:
		return "fix.both"
	case p.Way == engine.WayUnknown:
		return "fix.tool"
	}
	return "fix.one-way"
}

// entryHead writes all that is stored of the pass or sighting.
func entryHead(c *scene) string {
	s, e := c.plot(), c.entry()
	line, ok := c.lineOf(s, e)
	if !ok {
		return c.t("refuse.changed", nil)
	}
	said := []string{c.t("fix.head", text.Args{"plot": c.label(c.s.int(fPlot), s.Plot), "it": line})}
	if i := e.passOf(s); i >= 0 {
		said = append(said, c.leftSaid(s.Passes[i]), c.hoursSaid(s.Passes[i]))
	}
	if i := e.sightingOf(s); i >= 0 {
		said = append(said, c.seenSaid(s.Sightings[i]))
	}
	return strings.Join(slices.DeleteFunc(said, func(s string) bool { return s == "" }), " ")
}

// leftSaid writes how many weeds a pass left, or "" if that is not known.
func (c *scene) leftSaid(p engine.Pass) string {
	if k, ok := amountKeys[p.Left]; ok {
		return c.t("fix.left-said", text.Args{"amount": c.t(k, nil)})
	}
	return ""
}

// hoursSaid writes the hours and people of a pass, or "" if they are not known.
func (c *scene) hoursSaid(p engine.Pass) string {
	if p.Hours <= 0 {
		return ""
	}
	return c.t("fix.hours-said", text.Args{"hours": number(p.Hours), "n": max(1, p.People)})
}

// standsKeys are the texts of how the water stood.
var standsKeys = map[engine.Stands]text.Key{
	engine.StandsDry: "fix.dry", engine.StandsMud: "fix.mud", engine.StandsFingers: "fix.fingers",
	engine.StandsHand: "fix.hand",
}

// seenSaid writes what a grower saw.
func (c *scene) seenSaid(x engine.Sighting) string {
	var said []string
	if k, ok := leafKeys[x.Leaves]; ok {
		said = append(said, c.t(k, nil))
	}
	if k, ok := amountKeys[x.Amount]; ok {
		said = append(said, c.t("fix.weeds-said", text.Args{"amount": c.t(k, nil)}))
	}
	switch x.Rows {
	case engine.RowsOpen:
		said = append(said, c.t("fix.rows-open", nil))
	case engine.RowsClosed:
		said = append(said, c.t("fix.rows-closed", nil))
	}
	if k, ok := standsKeys[x.Water]; ok {
		said = append(said, c.t(k, nil))
	}
	if len(said) == 0 {
		return ""
	}
	return c.t("fix.seen-said", text.Args{"seen": strings.Join(said, ", ")})
}
