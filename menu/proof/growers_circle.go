package proof

import (
	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/notebook"
)

// These numbers of circles are typed on the screens that ask for one.
const (
	otherCircle  = 4711
	stingyCircle = 999999 // hires out no tool
	ownCircle    = 987654
)

// dearest is an amount with as many digits as any.
const dearest = 98_765_432_199

// circleGrowers returns growers who have to do with circles: the keeper of a full one, with questions of each kind; a
// member of a small one; one who is alone in hers; one who waits to join; a guest; and one who is in none. empty is a
// grower without a circle.
func circleGrowers(empty *grower) []*grower {
	with := func(c notebook.Circles, plots int) *grower {
		g := empty.clone()
		g.branch = "5"
		for no := 1; no <= plots; no++ {
			g.Seasons[no] = lineSeason(16)
		}
		c.Others = otherCircles()
		c.People = map[int64]circle.Member{70: named(70), 71: {ID: 71, Name: "Eve"}}
		g.Circles = c
		return g
	}
	full := fullCircle()
	keeper := with(notebook.Circles{Own: &full, Open: questions(), Busy: map[int64]bool{2: true},
		Account: map[int]circle.Account{ownCircle: longAccount(), otherCircle: longAccount()}}, 2)
	keeper.Circles.Sent = []circle.Ask{{ID: 900, Kind: circle.AskHire, Circle: ownCircle, From: 1, To: 2, Tool: 1,
		Day: today, Days: 7, Until: today}, {ID: 901, Kind: circle.AskOffer, Circle: ownCircle, From: 1, To: 2,
		Day: today, Amount: dearest, AreaM2: engine.MaxAreaM2, Until: today}}
	member := with(smallCircle(), 1)
	member.Circles.Open = []circle.Ask{{ID: 5, Kind: circle.AskWeeding, Circle: 1, From: 2, To: 1, Day: today + 1,
		AreaM2: 1, Until: today + 1}}
	alone := with(notebook.Circles{Own: &circle.Circle{Number: 1, Self: 1,
		Members: []circle.Member{{ID: 1, Name: "A", Joined: true, Keeper: true}}}}, 0)
	idle := with(smallCircle(), 0)
	idle.Circles.Own.Turns, idle.Circles.Own.Waits = nil, false
	planned := with(smallCircle(), 0)
	planned.Circles.Own.Turns, planned.Circles.Own.Waits = nil, true
	waiting := with(notebook.Circles{Own: &circle.Circle{Number: ownCircle, Self: 1,
		Members: []circle.Member{keeperNamed(2), {ID: 1, Name: longLabel}}}}, 0)
	guest := with(notebook.Circles{Open: questions()[5:7], Account: map[int]circle.Account{otherCircle: {Self: 70,
		Balances: []circle.Balance{{Member: 70, Amount: -1}, {Member: 0, Amount: 1}}}}}, 0)
	stranger := with(notebook.Circles{}, 0)
	return []*grower{keeper, member, alone, idle, planned, waiting, guest, stranger}
}

// named returns a member whose name is as long as any.
func named(id int64) circle.Member {
	return circle.Member{ID: id, Name: longLabel, Phone: "+447700900999", Joined: true}
}

func keeperNamed(id int64) circle.Member {
	m := named(id)
	m.Keeper = true
	return m
}

// fullCircle returns a circle with the longest values. Its members and tools need several pages.
func fullCircle() circle.Circle {
	c := circle.Circle{Number: ownCircle, Self: 1, Members: []circle.Member{keeperNamed(1)}}
	for id := int64(2); id <= 9; id++ {
		c.Members = append(c.Members, named(id))
	}
	c.Members[1].Stopped = true
	c.Members[3].Joined, c.Members[3].Guest = false, true
	c.Members[4].Name, c.Members[4].Phone = "", ""
	wide := engine.Tool{WidthCM: 12.5, MaxWidthCM: 17.5}
	c.Tools = []circle.SharedTool{
		{ID: 1, Name: longLabel, Owner: 1, Tool: wide, Price: dearest, MemberDay: dearest, GuestDay: dearest},
		{ID: 2, Name: longLabel, Tool: wide, Price: dearest, Earned: dearest - 1, MemberDay: dearest, Broken: true},
		{ID: 3, Owner: 2, Tool: wide, Earned: dearest}, {ID: 4, Tool: wide, Price: 1, Earned: dearest},
		{ID: 5, Tool: wide},
	}
	c.Turns = []circle.HeldTurn{
		{Tool: 1, Member: 1, PlotNo: 1, From: today, To: today + 1, Told: true, FetchFrom: 2, HandTo: 3},
		{Tool: 2, Member: 2, PlotNo: 1, From: today + 1, To: today + 2},
		{Tool: 1, Member: 1, PlotNo: 2, From: today + 5, To: today + 6, FetchFrom: 5},
		{Tool: 2, Member: 1, PlotNo: 2, From: today + 7, To: today + 8, Late: true, Told: true, HandTo: 3},
	}
	for i := range c.Turns {
		c.Turns[i].Window.Number = 1
	}
	c.Asks = []circle.Ask{{ID: 50, Kind: circle.AskOffer, State: circle.AskYes, From: 1, To: 2, Amount: dearest}}
	return c
}

// smallCircle returns a circle of two with the shortest values.
func smallCircle() notebook.Circles {
	return notebook.Circles{Own: &circle.Circle{Number: 1, Self: 1,
		Members: []circle.Member{{ID: 2, Name: "B", Phone: "+447700900001", Joined: true, Keeper: true},
			{ID: 1, Name: "A", Joined: true}},
		Tools: []circle.SharedTool{{ID: 1, Owner: 1, Tool: engine.Tool{WidthCM: 15}}},
		Turns: []circle.HeldTurn{{Tool: 1, Member: 1, PlotNo: 1, From: today, To: today, Told: true}}},
		Account: map[int]circle.Account{1: {Self: 1}}}
}

// otherCircles are the circles whose numbers the proof types.
func otherCircles() map[int]circle.Circle {
	return map[int]circle.Circle{
		otherCircle: {Number: otherCircle, Members: []circle.Member{keeperNamed(70)}, Tools: []circle.SharedTool{
			{ID: 7, Name: longLabel, Owner: 71, Tool: engine.Tool{WidthCM: 12.5, MaxWidthCM: 17.5}, GuestDay: dearest},
			{ID: 8, Tool: engine.Tool{WidthCM: 15}, GuestDay: 1}}},
		stingyCircle: {Number: stingyCircle, Members: []circle.Member{keeperNamed(70)}},
	}
}

// questions returns an open question of each kind to person 1.
func questions() (asks []circle.Ask) {
	for k := circle.AskJoin; k <= circle.AskReceived; k++ {
		asks = append(asks, circle.Ask{ID: int64(k), Kind: k, Circle: ownCircle, From: 2, To: 1, Tool: 1, Day: today,
			Other: today + 7, Days: 7, Amount: dearest, AreaM2: engine.MaxAreaM2, Until: today + 7})
	}
	paid, received := asks[7], asks[8]
	paid.ID, paid.ForCircle, received.ID, received.ForCircle = 20, true, 21, true
	return append(asks, paid, received)
}

// longAccount returns the account of person 1 with entries of each kind, and with payments that are disputed.
func longAccount() circle.Account {
	a := circle.Account{Self: 1, Balances: []circle.Balance{{Member: 1, Amount: dearest},
		{Member: 2, Amount: -2 * dearest}, {Member: 0, Amount: dearest}}}
	for k := circle.EntryDay; k <= circle.EntryPayment; k++ {
		a.Entries = append(a.Entries,
			circle.Entry{ID: int64(k) + 20, On: today - 7, Debtor: 2, Creditor: 1, Amount: dearest, Kind: k},
			circle.Entry{ID: int64(k), On: today - 7, Debtor: 1, Creditor: 2, Amount: dearest, Kind: k},
			circle.Entry{ID: int64(k) + 10, On: today - 7, Debtor: 2, Creditor: 0, Amount: dearest, Kind: k})
	}
	a.Entries = append(a.Entries, circle.Entry{ID: 40, On: today, Debtor: 2, Creditor: 1, Amount: dearest,
		Kind: circle.EntryDay, Corrects: 4})
	for _, ask := range questions()[6:9] {
		ask.State = circle.AskNo
		a.Disputed = append(a.Disputed, ask)
	}
	a.Disputed[0].From, a.Disputed[0].To = 1, 2
	return a
}
