package season

import (
	"cmp"
	"errors"
	"slices"

	"rowbell/engine"
	"rowbell/menu"
)

// due is a plot with a reminder that is due this morning.
type due struct {
	teller *teller
	bell   menu.Bell
}

// out reports whether the bell did not look at a plot on a day: it was registered on it, or is closed.
func (t *teller) out(d engine.Day) bool {
	return d <= t.sheet.Since || t.sheet.Closed != 0 && t.sheet.Closed < d
}

// morning returns the texts that a grower must get on the morning of a day, by the engine and the rules of a morning:
// the most urgent first; two plots with the same news share a text; at most one text asks, and other questions wait.
func morning(m *menu.Menu, r *records, tellers []*teller, d engine.Day, at int64) (texts []string, err error) {
	var list []due
	for _, t := range tellers {
		if t.out(d) {
			continue
		}
		s := t.until(d, r)
		if r.stoppedAt(at) {
			continue
		}
		plan, err := s.Windows(d)
		if err != nil {
			return nil, err
		}
		if reminder, silence := plan.Reminder(t.told); silence == engine.NotSilent {
			list = append(list, due{t, menu.Bell{No: t.sheet.No, Season: s, Plan: plan, Reminder: reminder}})
		}
	}
	slices.SortStableFunc(list, func(a, b due) int {
		return cmp.Compare(a.bell.Reminder.Kind.Rank(), b.bell.Reminder.Kind.Rank())
	})
	asked := false
	for len(list) > 0 {
		if asks := list[0].bell.Reminder.Asks(); asks && asked {
			list = list[1:]
			continue
		} else if asks {
			asked = true
		}
		n, text, err := compose(m, r.language, list)
		if err != nil {
			return nil, err
		}
		for _, x := range list[:n] {
			x.teller.note(x.bell.Reminder)
		}
		texts, list = append(texts, text), list[n:]
	}
	return texts, nil
}

// compose composes the first text, and returns of how many plots it is.
func compose(m *menu.Menu, language string, list []due) (plots int, text string, err error) {
	if len(list) > 1 {
		ringing, err := m.Ring(language, list[0].bell, list[1].bell)
		if !errors.Is(err, menu.ErrApart) {
			return 2, ringing.Text, err
		}
	}
	ringing, err := m.Ring(language, list[0].bell)
	return 1, ringing.Text, err
}
