package practice

import (
	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/store"
)

// circleGrowers are five growers with a plot each, who share the tools of circleTools. The first is the keeper. Their
// windows follow each other by few days, so that the turns of a tool that breaks can be given to the other tool, but
// not all without moving others.
func circleGrowers() []villager {
	plot := func(label string, areaM2 float64, opens engine.Day) []example {
		return []example{{is: opensIn(opens), tool: circleTools()[0].Tool, plot: engine.Plot{
			Label: label, Method: engine.Transplanted, RowSpacingCM: 25, HillSpacingCM: 25, AreaM2: areaM2,
			Flood: engine.FloodKept}}}
	}
	return []villager{
		{"+447700900011", "Imani", plot("bridge", 1200, 0)},
		{"+447700900012", "Jaya", plot("shrine", 1000, 1)},
		{"+447700900013", "Kofi", plot("palm", 1500, 1)},
		{"+447700900014", "Lina", plot("canal", 1200, 2)},
		{"+447700900015", "Musa", plot("hill", 1000, 3)},
	}
}

// circleTools are the two tools of the circle.
func circleTools() []circle.SharedTool {
	return []circle.SharedTool{
		{Name: "Blue", Tool: engine.Tool{WidthCM: 15}, Price: 900_00, MemberDay: 10_00, GuestDay: 45_00},
		{Name: "Red", Tool: engine.Tool{WidthCM: 15}, Price: 900_00, MemberDay: 10_00},
	}
}

// opensIn is the condition of a plot whose window opens in a number of days.
func opensIn(days engine.Day) condition {
	return func(_ engine.Season, p engine.Plan) bool { return p.Next.Opens == p.On+days }
}

// circleDeeds are how the circle came to be, all on one day: the keeper makes it and adds the tools, the others ask to
// join, and the keeper agrees.
func circleDeeds(on engine.Day) []Deed {
	const agreed = "practice"
	growers, number := circleGrowers(), 0
	keeper := growers[0]
	deeds := []Deed{{on, keeper.phone, func(l *store.Ledger) (err error) {
		number, err = l.MakeCircle(keeper.name, agreed)
		for _, t := range circleTools() {
			if err == nil {
				_, err = l.AddSharedTool(t)
			}
		}
		return err
	}}}
	for _, v := range growers[1:] {
		deeds = append(deeds, Deed{on, v.phone, func(l *store.Ledger) error {
			_, err := l.JoinCircle(number, v.name, agreed)
			return err
		}})
	}
	return append(deeds, Deed{on, keeper.phone, func(l *store.Ledger) error {
		asks, err := l.OpenAsks()
		for _, a := range asks {
			if err == nil {
				_, err = l.AnswerAsk(a.ID, true, 0)
			}
		}
		return err
	}})
}
