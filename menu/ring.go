package menu

import (
	"errors"

	"rowbell/engine"
	"rowbell/menu/text"
)

// Bell is a plot that has something to be told today.
type Bell struct {
	No       int
	Season   engine.Season
	Plan     engine.Plan
	Reminder engine.Reminder
}

// Ringing is a text that rings a grower, and what a digit will mean after it.
type Ringing struct {
	Text      string
	Kind      string
	Prompt    []byte     // nil: no answer is asked for
	PromptEnd engine.Day // last day of the prompt
}

// ErrApart says that two plots cannot share one text.
var ErrApart = errors.New("menu: these plots need a text each")

// Ring writes the text for one plot, or for two of the same kind where that
// fits one segment; otherwise ErrApart.
func (m *Menu) Ring(lang string, bells ...Bell) (Ringing, error) {
	lang = m.language(lang)
	first := bells[0]
	kind := first.Reminder.Kind
	hand := first.Plan.Fit.Hand()
	w := first.Reminder.Window
	key := ringKey(kind, hand, len(bells) > 1, first.Plan)
	var names []string
	var plots []subject
	for _, b := range bells {
		if key != ringKey(b.Reminder.Kind, b.Plan.Fit.Hand(), len(bells) > 1, b.Plan) || kind == engine.KindClosed && len(bells) > 1 {
			return Ringing{}, ErrApart
		}
		name, err := m.label(lang, b.No, b.Season.Plot)
		if err != nil {
			return Ringing{}, err
		}
		names, plots = append(names, name), append(plots, subjectOf(b.No, b.Season))
		// Of two windows, what holds for both is told.
		w.Opens, w.Best, w.Closes = min(w.Opens, b.Reminder.Window.Opens), min(w.Best, b.Reminder.Window.Best), min(w.Closes, b.Reminder.Window.Closes)
	}
	var failed error
	args := text.Args{
		"plot":  m.both(lang, names, func(err error) { failed = err }),
		"opens": m.date(lang, w.Opens), "best": m.date(lang, max(w.Best, first.Plan.On)), "closes": m.date(lang, w.Closes),
		"code": m.opt.DialCode, "n": first.Plan.Passes,
		"tool": number(first.Season.Plot.RowSpacingCM - 2*engine.SideClearanceCM),
	}
	if failed != nil {
		return Ringing{}, failed
	}
	if len(bells) > 1 {
		args["a"], args["b"] = names[0], names[1]
	}
	body, err := m.cat.Text(lang, key, args)
	if err != nil {
		return Ringing{}, err
	}
	if n, _ := text.Segments(body); len(bells) > 1 && n > 1 {
		return Ringing{}, ErrApart
	}
	r := Ringing{Text: body, Kind: kind.String()}
	p := prompt{Asked: askedPass, Plots: plots}
	switch kind {
	case engine.KindOpen, engine.KindNudge, engine.KindLastDays:
		r.PromptEnd = w.Closes
	case engine.KindMissed:
		p.Asked = askedHand
		r.PromptEnd = first.Plan.On + handDays
	default:
		return r, nil
	}
	if r.Prompt, err = p.encode(); err != nil {
		return Ringing{}, err
	}
	return r, nil
}

// ringKey names the text of a kind. The tool and the hand have their own
// words; a window that is cut short by the crop says so.
func ringKey(kind engine.Kind, hand, two bool, p engine.Plan) text.Key {
	k := "ring." + kind.String()
	switch {
	case hand && kind == engine.KindClosed && p.Passes == 0:
		k += "-hand-none"
	case hand:
		k += "-hand"
	case p.Fit.Verdict == engine.FitUnknown && !two && (kind == engine.KindOpen || kind == engine.KindPrepare):
		k += "-borrow"
	case kind == engine.KindClosed && p.Passes == 0:
		k += "-none"
	case (kind == engine.KindOpen || kind == engine.KindPrepare) && p.Next.Number > 1:
		k += "-again"
	}
	if two {
		k += "-two"
	}
	return text.Key(k)
}
