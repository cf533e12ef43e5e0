package roster

import (
	"rowbell/cmd/rowbell/plan"
	"rowbell/engine/circle"
	"rowbell/gateway/desk/say"
)

// words has the words for the roster, which the page of a circle has too.
func (r *Report) words() say.Roster {
	return say.Roster{Problem: r.Problem, Made: r.Roster, Day: plan.ShortDate, NoTurn: "-",
		Plot:      func(i int) string { return r.Plots[i].Name },
		Tool:      func(i int) string { return r.Tools[i].Name },
		Household: func(i int) string { return r.Households[i].Name }}
}

// help has Problem.Help compute what would serve more plots.
func (r *Report) help(limit circle.Limit) {
	var ways circle.Ways
	for _, p := range r.Plots {
		ways.OneWay = append(ways.OneWay, p.Work.OneWay)
		ways.HandHours = append(ways.HandHours, p.Work.HandHours)
	}
	r.Helps, r.HelpWhole = r.Problem.Help(r.Roster, ways, limit)
}

const helpTitle = "What would help"

// helps lists what would help.
func (r *Report) helps() (s plan.Section) {
	list := []plan.Object{}
	words := r.words()
	for _, h := range r.Helps {
		s.Title = helpTitle
		s.Line(words.Change(h) + "\t" + words.Effect(h))
		list = append(list, r.helpObject(h))
	}
	if !r.HelpWhole {
		s.Title = helpTitle
		s.Line("not everything was tried in the time: --seconds gives more")
	}
	s.Put("help", list, "help_whole", r.HelpWhole)
	return s
}

// names returns the names of plots of the problem.
func (r *Report) names(plots []int) []string {
	names := []string{}
	for _, i := range plots {
		names = append(names, r.Plots[i].Name)
	}
	return names
}

// helpKinds are the names of the kinds of help in the JSON.
var helpKinds = []string{"tool", "mended", "hands", "rest_day", "one_way", "by_hand", "give_up"}

func (r *Report) helpObject(h circle.Help) (o plan.Object) {
	o.Put("kind", helpKinds[h.Kind])
	if h.Tool >= 0 {
		o.Put("tool", r.Tools[h.Tool].Name)
	}
	if h.Household >= 0 {
		o.Put("household", r.Households[h.Household].Name)
	}
	if h.Plot >= 0 {
		o.Put("plot", r.Plots[h.Plot].Name)
	}
	o.PutSet("from", h.From, "to", h.To, "hands", h.Hands, "by_hand_tool_days", h.ToolDays, "by_hand_hours", h.Hours)
	if len(h.GivenUp) > 0 {
		turns := []plan.Object{}
		for _, t := range h.GivenUp {
			var turn plan.Object
			turn.Put("tool", r.Tools[t.Tool].Name, "day", t.Day)
			turns = append(turns, turn)
		}
		o.Put("given_up", turns)
	}
	o.Put("served", r.names(h.Served), "not_served", r.names(h.Instead), "all", h.All)
	return o
}

// explain lists, for each plot, why it has these days.
func (r *Report) explain() (s plan.Section) {
	if r.Reasons == nil {
		return s
	}
	s.Title = "Why these days"
	list := []plan.Object{}
	words := r.words()
	for i, reason := range r.Reasons {
		for j, line := range words.Reason(i, reason) {
			name := ""
			if j == 0 {
				name = r.Plots[i].Name
			}
			s.Line(name + "\t" + line)
		}
		list = append(list, r.reasonObject(i, reason))
	}
	if !r.ReasonsWhole {
		s.Line("not everything was tried in the time: --seconds gives more")
	}
	s.Put("reasons", list, "reasons_whole", r.ReasonsWhole)
	return s
}

// lossNames are the names of the objectives in the JSON.
var lossNames = []string{"none", "served", "moved", "lateness", "missed", "chance", "handovers"}

func (r *Report) reasonObject(plot int, x circle.Reason) (o plan.Object) {
	turns := func(list []circle.Turn) []plan.Object {
		objects := []plan.Object{}
		for _, t := range list {
			var turn plan.Object
			turn.Put("tool", r.Tools[t.Tool].Name, "day", t.Day)
			objects = append(objects, turn)
		}
		return objects
	}
	holders := []plan.Object{}
	for _, h := range x.Holders {
		var holder plan.Object
		holder.Put("plot", r.Plots[h.Plot].Name, "turns", turns(h.Turns), "told", h.Told, "closes_sooner", h.Sooner,
			"missed_more", h.Missed, "same_household", h.SameHousehold, "frees", h.Frees)
		holders = append(holders, holder)
	}
	o.Put("plot", r.Plots[plot].Name, "alone", turns(x.Alone), "held_by", holders)
	if x.HasBest {
		o.Put("best_day", x.Best, "on_best_day", x.OnBest, "loss_objective", lossNames[x.Loss.Objective],
			"loss", x.Loss.By)
	}
	return o
}
