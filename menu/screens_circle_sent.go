package menu

import (
	"slices"

	"rowbell/engine/circle"
	"rowbell/menu/text"
)

// circleSentScreens show the open questions of the grower to others, and take one back.
func circleSentScreens() []Screen {
	return []Screen{
		keyed{id: "circle.sent", ask: "circle.questions-ask", other: "circle", field: fAsk, one: true,
			keys: func(c *scene) []string { return ids(c.sentAsks(), askID) },
			line: func(c *scene, key string) Choice {
				m := c.matterOf(c.sentAsk(parseID(key)))
				return Choice{Label: "circle.question-line", To: "circle.sent-ask",
					Args: text.Args{"name": c.called(m.to), "about": c.about(m)}}
			}}.screen(),
		{ID: "circle.sent-ask", Rest: true, When: func(c *scene) bool { return c.sentAsk(c.id(fAsk)).ID != 0 },
			Else: "circle", Ask: "circle.sent-ask", Args: sentArgs, Choices: []Choice{
				{Label: "circle.entry-back", Do: takeBackAsk, To: "circle.sent-back"},
			}},
		{ID: "circle.sent-back", Rest: true, Head: func(c *scene) string { return c.toldText(fAnswered) }},
	}
}

// sentChoice leads to the questions of the grower to others, where the questions to the grower do or do not lead.
func sentChoice(where func(*scene) bool) Choice {
	return Choice{Label: "circle.sent", If: func(c *scene) bool { return where(c) && len(c.sentAsks()) > 0 },
		Set: map[Field]string{FieldPage: "0"}, To: "circle.sent"}
}

// sentAsk returns an open question of the grower to another; the zero value if it is over.
func (c *scene) sentAsk(id int64) circle.Ask {
	i := slices.IndexFunc(c.sentAsks(), func(a circle.Ask) bool { return a.ID == id })
	if i < 0 {
		return circle.Ask{}
	}
	return c.sentAsks()[i]
}

func sentArgs(c *scene) text.Args {
	m := c.matterOf(c.sentAsk(c.id(fAsk)))
	return text.Args{"to": c.called(m.to), "about": c.about(m)}
}

// takeBackAsk ends the chosen question. A digit that answers its text is then told that something was changed.
func takeBackAsk(c *scene) (*Refusal, error) {
	a := c.sentAsk(c.id(fAsk))
	said := c.t("circle.sent-back", text.Args{"to": c.called(c.person(a.To))})
	if err := c.circles.TakeBackAsk(a.ID); err != nil {
		return settled(err)
	}
	c.forgetCircle()
	c.s.putAll(map[Field]string{fAnswered: said, fSaidIn: c.lang})
	return nil, c.err
}
