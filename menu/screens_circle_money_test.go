package menu

import (
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/notebook"
)

func TestToolsOfTheCircle(t *testing.T) {
	p := caller(t, inRing(1)).enter("5", "1", "3").wants("1 tool 1, 15 cm", "2 Red, 12-17 cm", "3 add a tool")
	p.plays("1 => tool 1: 15 cm, of Ana. A day costs others 120.",
		"2 => tool 1 cost 2400. 600 was charged for its days; 1800 is still to come.", "0 => tool 1",
		"1 => Is tool 1 broken? Then it gets no turns", "1 => planned again")
	p.plays("00 => ", "5 => ", "1 => ", "3 => 1 tool 1, 15 cm, broken", "1 => It is broken. | 1 it is repaired",
		"3 => Change what of tool 1?", "2 => What do others pay for a day of tool 1?", "much => Type only the number",
		"1 => It is not hired out.")
	own := p.b.Circles.Own.Tools[0]
	if !own.Broken || own.GuestDay != 0 {
		t.Errorf("%+v", own)
	}
	ben := caller(t, inRing(2)).enter("5", "1", "3", "1")
	ben.lacks("prices and name", "take it out") // only the owner may
}

func TestAddATool(t *testing.T) {
	p := caller(t, inRing(2)).enter("5", "1", "3", "3").wants("How wide is the tool?")
	p.plays("14-18 => What does a member pay for a day of tool 3?",
		"none => Type only the number", "9 => Not 9: type 1",
		"50 => What do others pay", "120 => What did tool 3 cost?",
		"2400 => tool 3: 14-18 cm, of Ben. A day costs a member 50. A day costs others 120. It cost 2400. | Add it?")
	if len(p.b.Circles.Own.Tools) != 2 {
		t.Fatal("added before it was read back")
	}
	p.enter("1").wants("planned again")
	want := circle.SharedTool{ID: 3, Owner: 2, Tool: engine.Tool{WidthCM: 14, MaxWidthCM: 18}, Price: 240000,
		MemberDay: 5000, GuestDay: 12000}
	if got := p.b.Circles.Own.Tools[2]; got != want {
		t.Errorf("%+v", got)
	}
}

// TestHire plays a grower who hires a tool of a circle: the price is named before the owner is asked.
func TestHire(t *testing.T) {
	p := caller(t, outside()).enter("5", "6", "3", "5268").wants("1 tool 1, 15 cm: 120 a day")
	p.lacks("Red") // it is not hired out
	p.plays("1 => From which day?", "2 => For how many days?", "2 => Your name",
		"Eve => Eve, the members will see your name and phone number. | at 240?",
		"1 => We ask Ana.")
	got := p.b.Circles.Sent[0]
	want := circle.Ask{ID: got.ID, Kind: circle.AskHire, Circle: 5268, To: 1, Tool: 1, Day: wednesday + 1, Days: 2,
		Amount: 24000, Until: wednesday + 1}
	if got != want {
		t.Errorf("%+v", got)
	}
	wants(t, p.sent().Text, "hire tool 1, Thu 26 Nov to Fri 27 Nov, for 240?")
}

// withAccount returns Ana's records with entries of Ben.
func withAccount() *notebook.Book {
	b := inRing(1)
	b.Circles.Account = map[int]circle.Account{5268: {Self: 1,
		Balances: []circle.Balance{{Member: 1, Amount: 6000}, {Member: 2, Amount: -6000}},
		Entries: []circle.Entry{
			{ID: 1, On: wednesday - 1, Debtor: 2, Creditor: 1, Amount: 12000, Kind: circle.EntryDay},
			{ID: 2, On: wednesday - 2, Debtor: 1, Creditor: 2, Amount: 6000, Kind: circle.EntryWeeding}},
		Disputed: []circle.Ask{{ID: 8, Kind: circle.AskPaid, From: 1, To: 2, Amount: 3000}}}}
	return b
}

func TestMoney(t *testing.T) {
	p := caller(t, withAccount()).enter("5", "1", "4").wants("You are owed 60 in all.", "5 not agreed")
	p.plays("5 => Ben: 30 paid", "0 => You are owed",
		"4 => 1 Tue 24 Nov, day of the tool 120 | 2 Mon 23 Nov, weeding -60",
		"2 => Mon 23 Nov, weeding: 60, owed by you to Ben. | 1 it is wrong", "1 => We tell Ben that it is wrong.")
	n := p.sent()
	if wants(t, n.Text, "Ana +447700900101 says that this is wrong: Mon 23 Nov, weeding, 60."); n.Person != 2 {
		t.Errorf("%+v", n)
	}
	p.plays("00 => ", "5 => ", "1 => ", "4 => ", "4 => ", "1 => owed by Ben to you. | 1 take it back",
		"1 => Take it back, so that it is not owed?")
	p.plays("1 => It is not owed any more.")
	wants(t, p.sent().Text, "Ana +447700900101 took back: Tue 24 Nov, day of the tool, 120.")
	if got := p.b.Circles.Account[5268].Entries[0]; got.Corrects != 1 || got.Debtor != 1 || got.Creditor != 2 {
		t.Errorf("%+v", got)
	}
	p.plays("00 => ", "5 => ", "1 => ", "4 => ", "4 => taken back", "2 => owed by Ben to you.")
	p.lacks("1 take it back")
}

// TestPayment checks that a payment is asked of the other side, and one to the circle's own money of the keeper.
func TestPayment(t *testing.T) {
	b := inRing(2)
	b.Circles.Account = map[int]circle.Account{5268: {Self: 2}}
	p := caller(t, b).enter("5", "1", "4").wants("You owe nothing and nothing is owed to you.")
	p.plays("1 => 1 Ana | 2 Cho | 3 the circle", "3 => How much?",
		"50.5 => You paid 50.5 to the circle. | Tell Ana of 50.5?",
		"1 => We ask Ana.")
	if got := p.b.Circles.Sent[0]; got.Kind != circle.AskPaid || got.To != 1 || !got.ForCircle || got.Amount != 5050 {
		t.Errorf("%+v", got)
	}
	wants(t, p.sent().Text, "Ben +447700900102 says: 50.5 was paid to the circle. Right? Answer 1 yes, 2 no.")
	p.plays("00 => ", "5 => ", "1 => ", "4 => ", "2 => 1 Ana", "2 => ", "20 => You received 20 from Cho.",
		"1 => We ask Cho.")
	if got := p.b.Circles.Sent[1]; got.Kind != circle.AskReceived || got.To != 3 || got.ForCircle {
		t.Errorf("%+v", got)
	}
}

// TestCircleReceived checks that only the keeper can say that the circle received money.
func TestCircleReceived(t *testing.T) {
	p := caller(t, withAccount()).enter("5", "1", "4", "3").wants("1 Ben", "2 Cho")
	p.plays("1 => How much?", "60 => The circle received 60 from Ben. | Tell Ben of 60?", "1 => We ask Ben.")
	if got := p.b.Circles.Sent[0]; got.Kind != circle.AskReceived || got.To != 2 || !got.ForCircle {
		t.Errorf("%+v", got)
	}
	wants(t, p.sent().Text, "Ana +447700900101 says: you paid 60 to the circle. Right?")
	b := inRing(2)
	b.Circles.Account = map[int]circle.Account{5268: {Self: 2}}
	caller(t, b).enter("5", "1", "4").lacks("the circle received")
}

// TestKeeperAddsAToolOfTheCircle checks that only the keeper is asked whose tool it is.
func TestKeeperAddsAToolOfTheCircle(t *testing.T) {
	p := caller(t, inRing(1)).enter("5", "1", "3", "3", "15").wants("Whose tool is it?")
	p.plays("2 => What does a member pay", "1 => What do others pay", "1 => What did tool 3 cost?",
		"1 => tool 3: 15 cm, of the circle. It is not hired out. | Add it?", "1 => planned again")
	if got, want := p.b.Circles.Own.Tools[2], (circle.SharedTool{ID: 3, Tool: engine.Tool{WidthCM: 15}}); got != want {
		t.Errorf("%+v", got)
	}
}

// TestAgreedWeedingHasItsPrice checks that a weeding that was agreed for a price is not asked again for the price.
func TestAgreedWeedingHasItsPrice(t *testing.T) {
	b := inRing(1)
	b.Circles.Own.Asks = []circle.Ask{{ID: 5, Kind: circle.AskOffer, State: circle.AskYes, From: 1, To: 3,
		Amount: 45000}}
	p := caller(t, b).enter("5", "1", "5", "2").wants("1 Cho")
	p.lacks("Ben")
	p.plays("1 => You weeded for Cho; Cho owes you 450.", "2 => How much?", "400 => Cho owes you 400.",
		"1 => We ask Cho.")
	if got := p.b.Circles.Sent[0]; got.Kind != circle.AskWeeded || got.Amount != 40000 {
		t.Errorf("%+v", got)
	}
}

// TestPayeesWithEntriesComeFirst checks that those with whom the account has entries are the first in the list.
func TestPayeesWithEntriesComeFirst(t *testing.T) {
	b := inRing(2)
	b.Circles.Account = map[int]circle.Account{5268: {Self: 2, Entries: []circle.Entry{
		{ID: 2, Debtor: 2, Creditor: 0, Amount: 100, Kind: circle.EntryDay},
		{ID: 1, Debtor: 2, Creditor: 3, Amount: 100, Kind: circle.EntryDay}}}}
	caller(t, b).enter("5", "1", "4", "1").wants("1 Cho", "2 the circle", "3 Ana")
}
