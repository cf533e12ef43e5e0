package menu

import (
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// Turn is the turn of a plot with a shared tool, as a text names it.
type Turn struct {
	Tool      string // the name of the tool; "" = ToolNo tells it
	ToolNo    int    // place of the tool in the list of the circle, from 1; 0: the circle has one tool
	From, To  engine.Day
	FetchFrom Neighbour // who has the tool before; the zero Neighbour: the tool is where it is kept
	HandTo    Neighbour // who has the tool next; the zero Neighbour: nobody yet
	Then      []Turn    // later days of the turn, maybe with another tool; only their tools and days are named
	Was       *Turn     // the other turn that the grower was told before; nil: none
}

// Neighbour is a member of the circle whom a text names.
type Neighbour struct{ Name, Phone string }

// TurnEvent is what a text about a turn says.
type TurnEvent uint8

const (
	TurnGiven  TurnEvent = iota + 1 // the plot has a turn
	TurnMoved                       // the turn that was told moves to other days or to another tool
	TurnGone                        // the turn that was told is no more, and there is no other
	TurnLate                        // all turns in the window are taken, so that the turn is after it
	TurnNone                        // all turns in the window are taken, and there is none after it
	TurnStays                       // the days stay, but with another tool, or another person has it before
	TurnPassed                      // another person than the one who was told has the tool next
	TurnFreed                       // the plot does not need the turn that was told any more, and others may have it
)

// TurnWhy is why a told turn changed.
type TurnWhy uint8

const (
	WhyUnknown TurnWhy = iota
	WhyBroken          // the tool broke
	WhyOwnDays         // the window of the plot moved
	WhyOther           // another member gets the tool on that day; TurnNews.Other names the member
)

// TurnNews is what has changed about the turn of a plot.
type TurnNews struct {
	No     int
	Plot   engine.Plot
	Silent bool // another person may have the number now, so the text names neither the plot nor other people
	Event  TurnEvent
	Why    TurnWhy
	Other  Neighbour
	Was    Turn // the turn that was told; no days: none was told
	Now    Turn // no days: there is none
	Span   engine.Window
	// HandHours is how long it takes to weed the plot by hand; 0: not known. It is told of a late turn and of none.
	HandHours float64
}

// TurnText writes a text about one turn. It has at most the segments of a text that does not ring. What is needed least
// is left out first: the reason, whom to hand the tool to, telephone numbers.
func (m *Menu) TurnText(lang string, n TurnNews) (string, error) {
	p := speech{cat: m.texts, lang: m.language(lang), said: m.said}
	plot := n.Plot
	if n.Silent {
		plot.Label, n.Other, n.Now = "", Neighbour{}, n.Now.unnamed()
	}
	args := text.Args{
		"plot": p.label(n.No, plot), "was": p.turnDays(n.Was), "days": p.turnDays(n.Now),
		"tool": p.toolName(n.Now), "span": p.span(n.Span), "code": m.opt.DialCode,
		"hours": duration(n.HandHours),
	}
	if n.Event == TurnPassed {
		args["name"], n.Now.FetchFrom, n.Now.HandTo = p.named(n.Now.HandTo)[0], Neighbour{}, Neighbour{}
	}
	event := map[TurnEvent]text.Key{
		TurnGiven: "turn.given", TurnMoved: "turn.moved", TurnGone: "turn.gone", TurnLate: "turn.late",
		TurnNone: "turn.none", TurnStays: "turn.stays",
		TurnPassed: "turn.passed", TurnFreed: "turn.freed",
	}[n.Event]
	body := p.t(event, args)
	lists := [][]string{p.fetch(n.Now)}
	switch n.Event {
	case TurnGone, TurnLate, TurnNone, TurnFreed:
		if n.HandHours > 0 {
			lists = append(lists, []string{p.t("turn.by-hand", args)})
		}
		lists = append(lists, []string{p.t("turn.ask", args)})
	}
	lists = append(lists, p.handOn(n.Now), p.turnWhy(n))
	for _, alternatives := range lists {
		body = m.fuller(&p, body, alternatives, false)
	}
	return body, p.err
}

// fuller adds to a text the first of some alternatives with which the text is still short enough; rings is as for
// MaxSegments.
func (m *Menu) fuller(p *speech, body string, alternatives []string, rings bool) string {
	for _, more := range alternatives {
		with := body + " " + more
		if e := m.Encode(p.lang, with); e.Segments <= MaxSegments(e.Encoding.Alphabet, rings) {
			return with
		}
	}
	return body
}

// turnDays writes all days of a turn; "" if there are none. A tool is named beside days on which it is another one.
func (p *speech) turnDays(t Turn) string {
	all := ""
	for i, run := range append([]Turn{t}, t.Then...) {
		days := ""
		switch {
		case run.From == run.To && run.From != 0:
			days = p.date(run.From)
		case run.From != 0:
			days = p.t("day.span", text.Args{"opens": p.date(run.From), "closes": p.date(run.To)})
		}
		if i > 0 {
			all += ", "
		}
		all += days
		if i > 0 && (run.Tool != t.Tool || run.ToolNo != t.ToolNo) {
			all += " (" + p.toolName(run) + ")"
		}
	}
	return all
}

// toolName names the tool of a turn: "the tool", its own name, or "tool 2".
func (p *speech) toolName(t Turn) string {
	if name := p.shownName(t.Tool); name != "" {
		return name
	}
	if t.ToolNo == 0 {
		return p.t("turn.the-tool", nil)
	}
	return p.t("circle.tool-no", text.Args{"no": t.ToolNo})
}

// named names a member by name and number, and then by the name alone. A member whose name the language cannot show is
// named by the number.
func (p *speech) named(n Neighbour) []string {
	name := p.shownName(n.Name)
	switch {
	case name == "":
		return []string{n.Phone}
	case n.Phone == "":
		return []string{name}
	}
	return []string{name + " " + n.Phone, name}
}

// neighbour writes a sentence that names a member; none if the member has neither name nor number.
func (p *speech) neighbour(k text.Key, n Neighbour) (alternatives []string) {
	for _, name := range p.named(n) {
		if name != "" {
			alternatives = append(alternatives, p.t(k, text.Args{"name": name}))
		}
	}
	return alternatives
}

func (p *speech) fetch(t Turn) []string  { return p.neighbour("circle.fetch", t.FetchFrom) }
func (p *speech) handOn(t Turn) []string { return p.neighbour("circle.hand-to", t.HandTo) }

// turnWhy says why a told turn changed.
func (p *speech) turnWhy(n TurnNews) []string {
	switch n.Why {
	case WhyBroken:
		return []string{p.t("turn.why-broken", text.Args{"tool": p.toolName(n.Was)})}
	case WhyOwnDays:
		return []string{p.t("turn.why-days", nil)}
	case WhyOther:
		return p.neighbour("turn.why-other", Neighbour{Name: n.Other.Name})
	}
	return nil
}

// unnamed returns the turn without the names and numbers of other people.
func (t Turn) unnamed() Turn {
	t.FetchFrom, t.HandTo = Neighbour{}, Neighbour{}
	return t
}

// turnKeys are the texts of an open window that name a turn, by the texts that do not.
var turnKeys = map[text.Key]text.Key{
	"ring.open": "ring.open-turn", "ring.open-again": "ring.open-turn", "ring.open-borrow": "ring.open-turn",
	"ring.open-guess": "ring.open-turn-guess", "ring.open-sown": "ring.open-turn-guess",
}

// lateTurn reports whether the turn of the plot is after the window. The texts of the window then say what can be done
// in time.
func (b Bell) lateTurn() bool { return b.Turn != nil && b.Turn.From > b.Reminder.Window.Closes }

// withTurn returns the text of a reminder for one plot that names the plot's turn, and false if the reminder cannot
// name it: a text for two plots, about deep water or about weeding by hand has other things to say.
func (m *Menu) withTurn(p *speech, b Bell, args text.Args) (string, bool) {
	if b.Turn == nil || b.lateTurn() {
		return "", false
	}
	turn := *b.Turn
	if b.Silent {
		turn = turn.unnamed()
	}
	key, slot := turnKeys[b.key(false)], "turn"
	if b.key(false) == "ring.prepare" && b.Plan.State != engine.Missed {
		key, slot = "ring.prepare", "also"
	}
	if key == "" {
		return "", false
	}
	if b.guess() {
		key = "ring.open-turn-guess"
	}
	on := text.Args{"tool": p.toolName(turn)}
	keys := []text.Key{"turn.on"}
	if turn.Was != nil {
		keys, on["was"] = []text.Key{"turn.on-moved", "turn.on"}, p.turnDays(*turn.Was)
	}
	for _, k := range keys {
		// If not all days fit, the first is named.
		for _, on["days"] = range []any{p.turnDays(turn), p.date(turn.From)} {
			for _, more := range append(p.fetch(turn), "") {
				args[slot] = strings.TrimSpace(p.t(k, on) + " " + more)
				if body := p.t(key, args); m.rings(p.lang, body) {
					return body, true
				}
			}
		}
	}
	return "", false
}
