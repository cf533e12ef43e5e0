package booklet

import (
	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/notebook"
)

// circleSamples adds to samples the growers who have to do with a circle. book makes a grower with these plots, and
// lines is a plot.
func circleSamples(book func(...engine.Season) *notebook.Book, lines engine.Season) []*notebook.Book {
	with := func(c notebook.Circles, plots ...engine.Season) *notebook.Book {
		b := book(plots...)
		c.Others = otherCircles()
		b.Circles = c
		return b
	}
	today := book().Day
	ours := circle.Circle{Number: 5268, Self: 1, Members: members(), Tools: tools(), Turns: turns(today),
		Asks: []circle.Ask{{ID: 80, Kind: circle.AskOffer, State: circle.AskYes, From: 1, To: 2, Amount: 30000}}}
	account := circle.Account{Self: 1,
		Balances: []circle.Balance{{Member: 1, Amount: 6000}, {Member: 2, Amount: -6000}},
		Entries: []circle.Entry{
			{ID: 1, On: today - 3, Debtor: 2, Creditor: 1, Amount: 12000, Kind: circle.EntryHire, Tool: 1},
			{ID: 2, On: today - 5, Debtor: 1, Creditor: 2, Amount: 6000, Kind: circle.EntryWeeding}},
		Disputed: []circle.Ask{{ID: 90, Kind: circle.AskPaid, Circle: 5268, From: 1, To: 2, Amount: 3000}}}
	keeper := with(notebook.Circles{Own: &ours, Open: questions(today),
		Account: map[int]circle.Account{5268: account, 4711: {Self: 9}}}, lines, lines)
	small := circle.Circle{Number: 5268, Self: 1, Members: members()[:2], Tools: tools()[:1], Turns: turns(today)[:1]}
	member := with(notebook.Circles{Own: &small, Account: map[int]circle.Account{5268: {Self: 1}}}, lines)
	member.Circles.Sent = []circle.Ask{{ID: 95, Kind: circle.AskSwap, Circle: 5268, From: 1, To: 2, Tool: 1, Day: today,
		Other: today + 2, Until: today}, {ID: 96, Kind: circle.AskKeeper, Circle: 5268, From: 1, To: 2, Until: today}}
	keeper.Circles.Sent = member.Circles.Sent
	new5268 := circle.Circle{Number: 5268, Self: 1, Members: members()[:1]}
	alone := with(notebook.Circles{Own: &new5268})
	asked := circle.Circle{Number: 4711, Self: 9, Members: []circle.Member{dan(), {ID: 9, Name: "Eli"}}}
	waiting := with(notebook.Circles{Own: &asked, Open: questions(today)[4:5]})
	waitsLong := with(notebook.Circles{Own: &asked, Sent: []circle.Ask{{ID: 97, Kind: circle.AskWeeding, Circle: 4711,
		From: 9, To: dan().ID, Day: today + 1, AreaM2: 600, Until: today + 1}}})
	offer := questions(today)[5]
	guest := with(notebook.Circles{Open: []circle.Ask{offer}, Account: map[int]circle.Account{4711: {Self: 9}},
		People: map[int64]circle.Member{2: members()[1]}})
	asks := with(notebook.Circles{Sent: waitsLong.Circles.Sent, People: map[int64]circle.Member{dan().ID: dan()}})
	stranger := with(notebook.Circles{})
	return []*notebook.Book{keeper, member, alone, waiting, waitsLong, guest, asks, stranger}
}

func members() []circle.Member {
	return []circle.Member{
		{ID: 1, Name: "Ana", Phone: "+447700900101", Joined: true, Keeper: true},
		{ID: 2, Name: "Ben", Phone: "+447700900102", Joined: true},
		{ID: 3, Name: "Cho", Phone: "+447700900103", Joined: true, Stopped: true},
	}
}

// dan is the keeper of another circle.
func dan() circle.Member {
	return circle.Member{ID: 8, Name: "Dan", Phone: "+447700900108", Joined: true, Keeper: true}
}

func tools() []circle.SharedTool {
	return []circle.SharedTool{
		{ID: 1, Owner: 1, Tool: engine.Tool{WidthCM: 15}, Price: 240000, MemberDay: 5000, GuestDay: 12000,
			Earned: 60000},
		{ID: 2, Name: "Red", Tool: engine.Tool{WidthCM: 12, MaxWidthCM: 17}, Broken: true},
	}
}

func turns(today engine.Day) []circle.HeldTurn {
	first := engine.Window{Number: 1}
	return []circle.HeldTurn{
		{Window: first, Tool: 1, Member: 1, PlotNo: 1, From: today, To: today, Told: true, HandTo: 2},
		{Window: first, Tool: 1, Member: 2, PlotNo: 1, From: today + 1, To: today + 1},
		{Window: first, Tool: 1, Member: 1, PlotNo: 2, From: today + 3, To: today + 4, FetchFrom: 2},
	}
}

func otherCircles() map[int]circle.Circle {
	return map[int]circle.Circle{
		4711: {Number: 4711, Members: []circle.Member{dan()},
			Tools: []circle.SharedTool{{ID: 7, Tool: engine.Tool{WidthCM: 15}, GuestDay: 12000}}},
		999999: {Number: 999999, Members: []circle.Member{dan()}},
	}
}

// questions returns an open question of each kind to Ana.
func questions(today engine.Day) (asks []circle.Ask) {
	for k := circle.AskJoin; k <= circle.AskReceived; k++ {
		asks = append(asks, circle.Ask{ID: int64(k), Kind: k, Circle: 5268, From: 2, To: 1, Tool: 1, Day: today + 1,
			Other: today + 3, Days: 2, Amount: 24000, AreaM2: 600, Until: today + 7})
	}
	return asks
}
