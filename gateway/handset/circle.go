package handset

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/engine/picture"
)

// Days of the picture of a circle's turns.
const (
	circleDays    = 7  // the picture has at least these days
	circleDaysMax = 28 // and at most these
)

// turnText is the kind of a text that is about a turn only, such as that it has moved.
const turnText = "turn"

// circleSummary describes the circle of a phone's owner: who has which tool on which day, and what each was told.
type circleSummary struct {
	circle.Circle
	Title   string
	News    string // who got the newest text about turns, and who got none
	Members []memberSummary
}

// memberSummary is a line of a circleSummary.
type memberSummary struct {
	Phone
	Current bool      // the owner of the phone that is shown
	Turn    string    // days and tool
	Told    Entry     // the newest text to the phone; without a body if there is none
	Changed bool      // Told came today, and is the newest text about turns
	turnAt  time.Time // when the newest text about turns came; zero if there is none
}

// circleOf describes the circle in which the owner of a phone is a member; false if there is none.
func (r *Room) circleOf(ctx context.Context, number string) (s circleSummary, in bool, err error) {
	if s.Circle, in, err = r.valley.Circle(ctx, number); err != nil || !in || !s.isMember(s.Self) {
		return s, false, err
	}
	s.Title = s.title()
	var newest time.Time // the newest text about turns
	for _, m := range s.joined() {
		line := memberSummary{Phone: Phone{Number: m.Phone, Name: nameOf(m)}, Current: m.ID == s.Self}
		line.Turn = s.turn(m.ID)
		if m.Phone != "" { // otherwise the grower erased the records
			if err := r.fillMember(ctx, &line); err != nil {
				return s, false, err
			}
		}
		if line.turnAt.After(newest) {
			newest = line.turnAt
		}
		s.Members = append(s.Members, line)
	}
	for i := range s.Members {
		m := &s.Members[i]
		m.Changed = m.Told.Kind == turnText && m.Told.At.Equal(newest) && r.dayOf(newest) == r.today()
	}
	if !newest.IsZero() {
		s.News = s.news(newest, r.dayOf(newest))
	}
	return s, true, nil
}

// fillMember adds what a member has to do today, and was told.
func (r *Room) fillMember(ctx context.Context, m *memberSummary) error {
	plots, err := r.valley.Plots(ctx, m.Number)
	if err != nil {
		return err
	}
	if m.About, err = aboutToday(plots, r.today()); err != nil {
		return err
	}
	book, err := r.Notebook(ctx, m.Number)
	for _, e := range book {
		if e.Mine {
			continue
		}
		m.Told = e
		if e.Kind == turnText {
			m.turnAt = e.At
		}
	}
	return err
}

// counted returns a number with its noun, such as "1 tool".
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprint(n, " ", many)
}

// title says how many growers share how many tools.
func (s circleSummary) title() string {
	return fmt.Sprintf("Circle %d: %s share %s", s.Number, counted(len(s.joined()), "grower", "growers"),
		counted(len(s.Tools), "tool", "tools"))
}

// isMember reports whether the keeper has accepted a person.
func (s circleSummary) isMember(id int64) bool {
	return slices.ContainsFunc(s.joined(), func(m circle.Member) bool { return m.ID == id })
}

// joined returns the members that the keeper has accepted.
func (s circleSummary) joined() []circle.Member {
	return slices.DeleteFunc(slices.Clone(s.Circle.Members), func(m circle.Member) bool { return !m.Joined })
}

// news says which members got a text about turns at the instant newest, on the day on.
func (s circleSummary) news(newest time.Time, on engine.Day) string {
	var got, not []string
	for _, m := range s.Members {
		switch {
		case m.turnAt.Equal(newest):
			got = append(got, m.Name)
		case m.Number != "":
			not = append(not, m.Name)
		}
	}
	news := fmt.Sprintf("Text about turns on %s: to %s", shortDate(on), strings.Join(got, ", "))
	if len(not) > 0 {
		news += "; not to " + strings.Join(not, ", ")
	}
	return news + "."
}

// turn describes the turns of a member.
func (s circleSummary) turn(member int64) string {
	var all []string
	for _, t := range s.Turns {
		if t.Member != member {
			continue
		}
		turn := s.toolName(t.Tool) + ", " + shortDate(t.From)
		if t.To > t.From {
			turn += " to " + shortDate(t.To)
		}
		if t.Late {
			turn += " (late)"
		}
		all = append(all, turn)
	}
	return cmp.Or(strings.Join(all, "; "), "no turn")
}

// toolName returns what a tool is called: its name, or its number in the list.
func (s circleSummary) toolName(id int64) string {
	i := slices.IndexFunc(s.Tools, func(t circle.SharedTool) bool { return t.ID == id })
	if i < 0 {
		return "a tool"
	}
	return cmp.Or(s.Tools[i].Name, fmt.Sprintf("tool %d", i+1))
}

// name returns the name of a person of the circle.
func (s circleSummary) name(id int64) string {
	for _, m := range s.Circle.Members {
		if m.ID == id {
			return nameOf(m)
		}
	}
	return formerMember
}

// formerMember is what a person is called who left the circle or erased the records.
const formerMember = "a former member"

func nameOf(m circle.Member) string { return cmp.Or(m.Name, formerMember) }

// roster returns what the picture of the turns shows on the day today.
func (s circleSummary) roster(today engine.Day) picture.Roster {
	r := picture.Roster{From: today, To: today + circleDays - 1}
	for _, t := range s.Turns {
		r.To = min(max(r.To, t.To), today+circleDaysMax-1)
	}
	for _, tool := range s.Tools {
		row := picture.RosterTool{Name: s.toolName(tool.ID)}
		if tool.Broken {
			row.Out = []picture.RosterDays{{From: today, To: r.To}}
		}
		for _, t := range s.Turns {
			for day := max(t.From, today); t.Tool == tool.ID && day <= min(t.To, r.To); day++ {
				row.Turns = append(row.Turns, picture.RosterTurn{On: day, Plot: s.name(t.Member), Late: t.Late})
			}
		}
		r.Tools = append(r.Tools, row)
	}
	return r
}

// drawnCircle is a circle with the picture of its turns.
type drawnCircle struct {
	circleSummary
	Picture template.HTML
}

// drawCircle returns the circle of a phone's owner for the page; nil if there is none.
func (r *Room) drawCircle(ctx context.Context, number string) (*drawnCircle, error) {
	s, in, err := r.circleOf(ctx, number)
	if err != nil || !in || len(s.Tools) == 0 {
		return nil, err
	}
	var svg bytes.Buffer
	if err := picture.Turns(&svg, s.roster(r.today()), picture.Options{Title: s.Title, WidthPX: 640}); err != nil {
		return nil, err
	}
	// This HTML is safe, because the picture's own template has escaped all texts.
	return &drawnCircle{s, template.HTML(svg.String())}, nil
}
