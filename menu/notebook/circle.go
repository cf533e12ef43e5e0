package notebook

import (
	"maps"
	"slices"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// Circles has what a grower's records know of circles. The zero value knows none. The slices of the circles are shared
// by the clones of a Book, so a change copies them first.
type Circles struct {
	Own      *circle.Circle          // the circle of the grower; nil: none
	Others   map[int]circle.Circle   // other circles, by number
	Open     []circle.Ask            // open questions to the grower, oldest first
	Sent     []circle.Ask            // questions of the grower, open or not, oldest first
	People   map[int64]circle.Member // persons of other circles
	Account  map[int]circle.Account
	Busy     map[int64]bool // persons who were asked something else by text
	Wishes   []circle.Wish
	Agreed   []string // words to which the grower has agreed
	Answered []circle.Ask
}

// askDays is for how many days a question can be answered.
const askDays = 7

// madeNumber is the number of the circle that MakeCircle makes.
const madeNumber = 4711

func (n *Book) Circle() (circle.Circle, bool, error) {
	if n.Circles.Own == nil {
		return circle.Circle{}, false, nil
	}
	c := *n.Circles.Own
	for _, m := range c.Members {
		if m.ID == c.Self && !m.Joined { // who waits for the keeper's answer sees only the keeper's name
			c.Members, c.Tools, c.Turns = slices.Clone(c.Members), nil, nil
			for i := range c.Members {
				c.Members[i].Phone = ""
			}
		}
	}
	return c, true, nil
}

func (n *Book) FindCircle(number int) (circle.Circle, bool, error) {
	c, ok := n.Circles.Others[number]
	if ok && len(c.Members) > 0 {
		c.Members = []circle.Member{c.Members[0]}
		c.Members[0].Phone = ""
	}
	return c, ok, nil
}

func (n *Book) MakeCircle(name, words string) (int, error) {
	if n.Circles.Own != nil {
		return 0, circle.ErrInCircle
	}
	n.Circles.Own = &circle.Circle{Number: madeNumber, Self: 1,
		Members: []circle.Member{{ID: 1, Name: name, Language: n.Lang, Joined: true, Keeper: true}}}
	n.agree(words)
	return madeNumber, nil
}

func (n *Book) agree(words string) { n.Circles.Agreed = append(slices.Clone(n.Circles.Agreed), words) }

func (n *Book) JoinCircle(number int, name, words string) (circle.Ask, error) {
	if n.Circles.Own != nil {
		return circle.Ask{}, circle.ErrInCircle
	}
	c, ok := n.Circles.Others[number]
	if !ok {
		return circle.Ask{}, circle.ErrNoCircle
	}
	keeper := c.Members[0]
	c.Self = keeper.ID + 1
	c.Members = append(slices.Clone(c.Members), circle.Member{ID: c.Self, Name: name, Language: n.Lang})
	n.Circles.Own = &c
	n.agree(words)
	return n.Ask(circle.Ask{Kind: circle.AskJoin, Circle: number, From: c.Self, To: keeper.ID}, "", "")
}

func (n *Book) LeaveCircle() error {
	own := n.Circles.Own
	if own == nil {
		return circle.ErrNoCircle
	}
	for _, m := range own.Members {
		if m.ID == own.Self && m.Keeper && len(own.Members) > 1 {
			return circle.ErrKeeper
		}
	}
	n.Circles.Own = nil
	return nil
}

func (n *Book) RemoveMember(id int64) error {
	return n.changeCircle(func(c *circle.Circle) error {
		i := slices.IndexFunc(c.Members, func(m circle.Member) bool { return m.ID == id && m.Joined && id != c.Self })
		if i < 0 {
			return circle.ErrNoCircle
		}
		c.Members = slices.Delete(c.Members, i, i+1)
		c.Turns = slices.DeleteFunc(c.Turns, func(t circle.HeldTurn) bool { return t.Member == id && t.From > n.Day })
		c.Waits = true
		return nil
	})
}

// changeCircle calls f with a copy of the grower's circle, and stores the copy.
func (n *Book) changeCircle(f func(*circle.Circle) error) error {
	if n.Circles.Own == nil {
		return circle.ErrNoCircle
	}
	c := *n.Circles.Own
	c.Members, c.Tools, c.Turns = slices.Clone(c.Members), slices.Clone(c.Tools), slices.Clone(c.Turns)
	if err := f(&c); err != nil {
		return err
	}
	n.Circles.Own = &c
	return nil
}

func (n *Book) AddSharedTool(t circle.SharedTool) (id int64, err error) {
	err = n.changeCircle(func(c *circle.Circle) error {
		for _, other := range c.Tools {
			id = max(id, other.ID)
		}
		id++
		t.ID, c.Waits = id, true
		c.Tools = append(c.Tools, t)
		return nil
	})
	return id, err
}

// toolAt returns the index of a tool in the circle.
func toolAt(c *circle.Circle, id int64) (int, error) {
	i := slices.IndexFunc(c.Tools, func(t circle.SharedTool) bool { return t.ID == id })
	if i < 0 {
		return 0, circle.ErrNoCircle
	}
	return i, nil
}

func (n *Book) ChangeSharedTool(t circle.SharedTool) error {
	return n.changeCircle(func(c *circle.Circle) error {
		i, err := toolAt(c, t.ID)
		if err == nil {
			c.Tools[i], c.Waits = t, true
		}
		return err
	})
}

func (n *Book) RemoveSharedTool(id int64) error {
	return n.changeCircle(func(c *circle.Circle) error {
		i, err := toolAt(c, id)
		if err == nil {
			c.Tools = slices.Delete(c.Tools, i, i+1)
			c.Turns = slices.DeleteFunc(c.Turns, func(t circle.HeldTurn) bool { return t.Tool == id })
			c.Waits = true
		}
		return err
	})
}

func (n *Book) Wish(_, _ int, w circle.Wish) error {
	n.Circles.Wishes = append(slices.Clone(n.Circles.Wishes), w)
	return n.changeCircle(func(c *circle.Circle) error { c.Waits = true; return nil })
}

func (n *Book) Ask(a circle.Ask, _, words string) (circle.Ask, error) {
	if len(n.Circles.Sent) >= circle.MaxAsksADay {
		return a, circle.ErrManyAsks
	}
	if words != "" {
		n.agree(words)
	}
	other := n.Circles.Others[a.Circle]
	for _, t := range other.Tools {
		if a.Kind == circle.AskHire && t.ID == a.Tool {
			a.To = t.Owner
		}
	}
	for _, m := range other.Members { // the grower is a guest there now, and knows the others
		if a.To == 0 {
			a.To = m.ID
		}
		people := maps.Clone(n.Circles.People)
		if people == nil {
			people = map[int64]circle.Member{}
		}
		people[m.ID] = m
		n.Circles.People = people
	}
	a.Until = n.Day + askDays
	for _, day := range []engine.Day{a.Day, a.Other} {
		if day > 0 {
			a.Until = min(a.Until, day)
		}
	}
	a.ID = int64(1000 + len(n.Circles.Sent))
	n.Circles.Sent = append(slices.Clone(n.Circles.Sent), a)
	return a, nil
}

func (n *Book) AnswerAsk(id int64, yes bool, amount int64) (circle.Ask, error) {
	i := slices.IndexFunc(n.Circles.Open, func(a circle.Ask) bool { return a.ID == id })
	if i < 0 {
		return circle.Ask{}, circle.ErrAskOver
	}
	a := n.Circles.Open[i]
	n.Circles.Open = slices.Delete(slices.Clone(n.Circles.Open), i, i+1)
	a.State = circle.AskNo
	if yes {
		a.State = circle.AskYes
	}
	n.Circles.Answered = append(slices.Clone(n.Circles.Answered), a)
	if !yes || a.Kind != circle.AskWeeding {
		return a, nil
	}
	a.Amount = amount
	a.ID, a.Kind, a.State, a.From, a.To = a.ID+1000, circle.AskOffer, circle.AskOpen, a.To, a.From
	n.Circles.Sent = append(slices.Clone(n.Circles.Sent), a)
	return a, nil
}

func (n *Book) OpenAsks() ([]circle.Ask, error) { return n.Circles.Open, nil }

func (n *Book) SentAsks() (open []circle.Ask, err error) {
	for _, a := range n.Circles.Sent {
		if a.State == circle.AskOpen && a.Kind != circle.AskJoin {
			open = append(open, a)
		}
	}
	return open, nil
}

func (n *Book) TakeBackAsk(id int64) error {
	sent := slices.Clone(n.Circles.Sent)
	i := slices.IndexFunc(sent, func(a circle.Ask) bool { return a.ID == id && a.State == circle.AskOpen })
	if i < 0 {
		return circle.ErrAskOver
	}
	sent[i].State = circle.AskObsolete
	n.Circles.Sent = sent
	return nil
}

func (n *Book) Person(id int64) (circle.Member, error) {
	if n.Circles.Own != nil {
		for _, m := range n.Circles.Own.Members {
			if m.ID == id {
				return m, nil
			}
		}
	}
	m, ok := n.Circles.People[id]
	if !ok {
		return m, circle.ErrNoCircle
	}
	return m, nil
}

func (n *Book) Prompted(id int64) (bool, error) { return n.Circles.Busy[id], nil }

func (n *Book) Accounts() (map[int]circle.Account, error) { return n.Circles.Account, nil }

func (n *Book) TakeBack(entry int64) error {
	for number, a := range n.Circles.Account {
		for _, e := range a.Entries {
			if e.ID != entry {
				continue
			}
			back := circle.Entry{ID: entry + 1000, On: n.Day, Debtor: e.Creditor, Creditor: e.Debtor, Amount: e.Amount,
				Kind: e.Kind, Tool: e.Tool, Corrects: entry}
			a.Entries = slices.Insert(slices.Clone(a.Entries), 0, back)
			all := maps.Clone(n.Circles.Account)
			all[number] = a
			n.Circles.Account = all
			return nil
		}
	}
	return circle.ErrNoCircle
}
