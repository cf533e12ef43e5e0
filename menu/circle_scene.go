package menu

import (
	"errors"
	"maps"
	"slices"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Answers of the screens about circles.
const (
	fCircle Field = "circle" // number of a circle
	fCalled Field = "called" // name of the grower, as the others see it
	fShared Field = "shared" // ID of a circle.SharedTool
	fPerson Field = "person" // ID of a circle.Member
	fTurn   Field = "turn"   // key of a turn of the grower; see turnKey
	fTheirs Field = "other"  // key of a turn of another member
	fAsk    Field = "ask"    // ID of a circle.Ask
	fDay    Field = "day"    // an engine.Day
	fDays   Field = "days"
	fMoney  Field = "money" // an amount in hundredths
	fLine   Field = "line"  // ID of a circle.Entry
)

// circleNow is the circle of the grower, as it was read in this step.
type circleNow struct {
	circle.Circle
	exists bool
}

// ring returns the circle of the grower; the zero value if there is none. It is read once in a step.
func (c *scene) ring() *circleNow {
	if c.inCircle == nil {
		own, exists, err := c.circles.Circle()
		c.fail(err)
		c.inCircle = &circleNow{Circle: own, exists: exists}
	}
	return c.inCircle
}

// openAsks returns the open questions to the grower, oldest first.
func (c *scene) openAsks() []circle.Ask {
	if c.asksNow == nil {
		asks, err := c.circles.OpenAsks()
		c.fail(err)
		c.asksNow = &asks
	}
	return *c.asksNow
}

// sentAsks returns the open questions of the grower to others, oldest first.
func (c *scene) sentAsks() []circle.Ask {
	if c.sentNow == nil {
		asks, err := c.circles.SentAsks()
		c.fail(err)
		c.sentNow = &asks
	}
	return *c.sentNow
}

// forgetCircle makes the next question about the circle read the records again, because they have changed.
func (c *scene) forgetCircle() { c.inCircle, c.asksNow, c.sentNow = nil, nil, nil }

// self returns the grower as a member of the circle; the zero value if the grower is in none.
func (c *scene) self() circle.Member { return c.member(c.ring().Self) }

// member returns a person of the grower's circle by ID; the zero value if there is none.
func (c *scene) member(id int64) circle.Member {
	for _, m := range c.ring().Members {
		if m.ID == id {
			return m
		}
	}
	return circle.Member{}
}

func isMember(c *scene) bool { return c.ring().exists && c.self().Joined }
func isKeeper(c *scene) bool { return c.self().Keeper }

// person returns a person of the grower's circle, or of another circle that the grower has to do with.
func (c *scene) person(id int64) circle.Member {
	// Who has only asked to join sees no numbers, but the text to the keeper needs one.
	if m := c.member(id); id == 0 || m.ID != 0 && c.self().Joined {
		return m
	}
	m, err := c.circles.Person(id)
	if !errors.Is(err, circle.ErrNoCircle) {
		c.fail(err)
		return m
	}
	// The grower is nobody yet in the circle whose number was typed, and may know only its keeper.
	if keeper := c.keeper(); keeper.ID == id {
		return keeper
	}
	return circle.Member{}
}

// numbered returns a circle by its number: the grower's own, or another; false if there is none.
func (c *scene) numbered(number int) (circle.Circle, bool) {
	if now := c.ring(); now.exists && now.Number == number {
		return now.Circle, true
	}
	other, ok, err := c.circles.FindCircle(number)
	c.fail(err)
	return other, ok
}

// keeperOf returns the keeper of a circle.
func keeperOf(of circle.Circle) circle.Member {
	for _, m := range of.Members {
		if m.Keeper {
			return m
		}
	}
	return circle.Member{}
}

// sharedIn returns a tool of a circle and its number in the list of tools, from 1; 0 if the circle has no such tool.
func sharedIn(of circle.Circle, id int64) (circle.SharedTool, int) {
	for i, t := range of.Tools {
		if t.ID == id {
			return t, i + 1
		}
	}
	return circle.SharedTool{}, 0
}

// shared returns the chosen tool of the grower's circle.
func (c *scene) shared() (circle.SharedTool, int) { return sharedIn(c.ring().Circle, c.id(fShared)) }

// mayChange reports whether the grower may change the chosen tool: its owner may, and the keeper the circle's own.
func mayChange(c *scene) bool {
	t, no := c.shared()
	return no > 0 && (t.Owner == c.ring().Self || t.Owner == 0 && isKeeper(c))
}

func (c *scene) id(f Field) int64 {
	n, _ := strconv.ParseInt(c.s.Answers[f], 10, 64)
	return n
}

func storedID(id int64) string { return strconv.FormatInt(id, 10) }

// called returns the name of a person as the language shows it.
func (p *speech) called(m circle.Member) string {
	if name := p.shownName(m.Name); name != "" {
		return name
	}
	if m.Phone != "" {
		return m.Phone
	}
	return p.t("circle.former", nil)
}

// reached returns the name of a person with the phone number.
func (p *speech) reached(m circle.Member) string {
	name := p.called(m)
	if m.Phone == "" || m.Phone == name {
		return name
	}
	return name + " " + m.Phone
}

// shownTo names a person to another. The number is shown between members, who have agreed to it, and so is the number
// of a guest or of who asks to join. The number of a member is not shown to others.
func (p *speech) shownTo(m, other circle.Member) string {
	if m.Joined && !other.Joined {
		return p.called(m)
	}
	return p.reached(m)
}

// tool names a tool by the name that its circle gave it, or by its number in the list.
func (p *speech) tool(t circle.SharedTool, no int) string {
	if name := p.shownName(t.Name); name != "" {
		return name
	}
	return p.t("circle.tool-no", text.Args{"no": no})
}

// amount writes money in hundredths.
func (p *speech) amount(hundredths int64) string { return p.write(written(float64(hundredths) / 100)) }

// daysOf writes one day or a range of days.
func (p *speech) daysOf(from, to engine.Day) string {
	if from >= to {
		return p.date(from)
	}
	return p.t("day.span", text.Args{"opens": p.date(from), "closes": p.date(to)})
}

// cmOf writes the width of a tool.
func (p *speech) cmOf(t engine.Tool) string {
	from, to := widths(t)
	cm := p.write(number(from))
	if to > from {
		cm = p.t("work.range", text.Args{"from": number(from), "to": number(to)})
	}
	return p.t("word.cm", text.Args{"cm": cm})
}

// circleRefusal turns an error of the records into the reason that the grower is shown; nil for other errors.
func circleRefusal(err error) *Refusal {
	for known, key := range map[error]text.Key{
		circle.ErrNoCircle: "refuse.changed", circle.ErrAskOver: "refuse.changed",
		circle.ErrNotAllowed: "refuse.not-allowed", circle.ErrKeeper: "refuse.keeper-first",
		circle.ErrInCircle: "refuse.in-circle", circle.ErrManyAsks: "refuse.many-asks",
		circle.ErrNotFree: "refuse.not-free", circle.ErrFull: "refuse.full",
	} {
		if errors.Is(err, known) {
			return &Refusal{Key: key}
		}
	}
	return nil
}

// settled returns what an act returns after the records returned err.
func settled(err error) (*Refusal, error) {
	if refused := circleRefusal(err); refused != nil {
		return refused, nil
	}
	return nil, err
}

// maxListed is how many lines of a list one page shows; with "more", a screen has six choices.
const maxListed = 5

// keyed is a screen that lists things by keys. A digit means the thing that was shown beside it, even if the list has
// changed since. more are choices below the list.
type keyed struct {
	id    ScreenID
	ask   text.Key
	args  func(*scene) text.Args
	other ScreenID              // the screen that is shown if the list is empty
	keys  func(*scene) []string // the things, in the order of the list
	field Field                 // holds the key of the chosen thing
	line  func(*scene, string) Choice
	one   bool // a single thing is chosen without a list
	most  int  // lines of a page; 0: maxListed
	more  []Choice
}

func (k keyed) screen() Screen {
	shown := "shown." + Field(k.id)
	s := Screen{ID: k.id, Rest: true, Ask: k.ask, Args: k.args, Choices: k.more}
	if k.other != "" {
		s.When, s.Else = func(c *scene) bool { return len(k.keys(c)) > 0 }, k.other
	}
	s.Shown = func(c *scene) { c.s.put(shown, strings.Join(k.keys(c), " ")) }
	if k.one {
		s.Jump = func(c *scene) (ScreenID, bool) {
			keys := k.keys(c)
			if len(keys) != 1 {
				return "", false
			}
			c.s.put(k.field, keys[0])
			return k.line(c, keys[0]).To, true
		}
	}
	s.List = func(c *scene) []Choice {
		now := k.keys(c)
		keys := now
		if was, ok := c.s.Answers[shown]; c.entering && ok {
			keys = strings.Fields(was)
		}
		perPage := maxListed
		if k.most > 0 {
			perPage = k.most
		}
		page := c.s.int(FieldPage)
		from := page * perPage
		if from < 0 || from >= len(keys) {
			page, from = 0, 0
		}
		end := min(from+perPage, len(keys))
		var out []Choice
		for _, key := range keys[from:end] {
			line := k.line(c, key)
			set := map[Field]string{k.field: key, FieldPage: "0"}
			maps.Copy(set, line.Set)
			line.Set = set
			line.Prep = func(*scene) *Refusal {
				if !slices.Contains(now, key) {
					return &Refusal{Key: "refuse.changed"}
				}
				return nil
			}
			out = append(out, line)
		}
		return c.withMore(out, end < len(keys), page, k.id)
	}
	return s
}

// ids returns the keys of things that have IDs.
func ids[T any](all []T, id func(T) int64) (keys []string) {
	for _, x := range all {
		keys = append(keys, storedID(id(x)))
	}
	return keys
}

func parseID(key string) int64 {
	id, _ := strconv.ParseInt(key, 10, 64)
	return id
}

// readCircle reads the number of another circle.
func readCircle(c *scene, entry string) (doubted, *Refusal) {
	number, refused := answer.Circle(entry)
	if refused != nil {
		return doubted{}, refused
	}
	if now := c.ring(); now.exists && now.Number == number {
		return doubted{}, &Refusal{Key: "refuse.own-circle"}
	}
	if _, ok := c.numbered(number); !ok {
		return doubted{}, answer.Refuse("refuse.circle", entry, nil)
	}
	c.s.put(fCircle, strconv.Itoa(number))
	return doubted{}, nil
}
