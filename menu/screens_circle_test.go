package menu

import (
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// The tests of this file are about invented growers: Ana keeps circle 5268, Ben and Cho are members, Dan keeps another.

func person(id int64, name, phone string) circle.Member {
	return circle.Member{ID: id, Name: name, Phone: phone, Language: "en", Joined: true}
}

// ring returns the circle of Ana, Ben and Cho as the person with this ID sees it: two tools, and a turn of each.
func ring(self int64) *circle.Circle {
	c := &circle.Circle{Number: 5268, Self: self,
		Members: []circle.Member{person(1, "Ana", "+447700900101"), person(2, "Ben", "+447700900102"),
			person(3, "Cho", "+447700900103")},
		Tools: []circle.SharedTool{
			{ID: 1, Owner: 1, Tool: engine.Tool{WidthCM: 15}, Price: 240000, GuestDay: 12000, Earned: 60000},
			{ID: 2, Name: "Red", Tool: engine.Tool{WidthCM: 12, MaxWidthCM: 17}}},
		Turns: []circle.HeldTurn{
			{Tool: 1, Member: 1, PlotNo: 1, From: wednesday, To: wednesday + 1, Told: true, HandTo: 2,
				Window: engine.Window{Number: 1}},
			{Tool: 1, Member: 2, PlotNo: 1, From: wednesday + 2, To: wednesday + 2, Told: true, FetchFrom: 1,
				Window: engine.Window{Number: 1}},
			{Tool: 2, Member: 3, PlotNo: 1, From: wednesday + 3, To: wednesday + 3,
				Window: engine.Window{Number: 1}}}}
	c.Members[0].Keeper = true
	return c
}

// inRing returns the records of a member of the circle who has one plot.
func inRing(self int64) *notebook.Book {
	b := bookOf(due())
	b.Circles.Own = ring(self)
	return b
}

// outside returns the records of a grower without a circle, who can find the circle of Ana.
func outside() *notebook.Book {
	b := knownBook()
	found := *ring(0)
	found.Members = []circle.Member{found.Members[0]}
	found.Turns = nil
	b.Circles.Others = map[int]circle.Circle{5268: found}
	return b
}

// sent returns the only text that the last entry sent to another person.
func (p *phone) sent() Note {
	p.t.Helper()
	if len(p.last.Send) != 1 {
		p.t.Fatalf("%d texts were sent after\n%s", len(p.last.Send), p.last.Text)
	}
	return p.last.Send[0]
}

// wasAsked returns a grower who uses SMS and got a text with a question from the circle.
func wasAsked(t *testing.T, b *notebook.Book, a circle.Ask, n Note) *texter {
	t.Helper()
	b.Circles.Open = append(slices.Clone(b.Circles.Open), a)
	x := texts(t, b)
	x.reply = n.Text
	if n.Prompt != nil {
		x.ask(n.Prompt, n.PromptEnd)
		x.now++
	}
	return x
}

func TestMakeACircle(t *testing.T) {
	p := caller(t, outside()).enter("5", "6").wants("You are in none yet.", "1 make a circle")
	p.plays("1 => Your name, as the others will see it?", "A,na => Use only letters and digits.",
		"Ana => Ana: the members will see your name and phone number. Make the circle? | 1 yes | 2 no")
	words, _, _ := strings.Cut(p.last.Text, "\n1 yes")
	if p.b.Circles.Own != nil {
		t.Fatal("the circle was made before the grower agreed")
	}
	p.plays("1 => Circle 4711 is made.", "1 => How wide is the tool?")
	if got := p.b.Circles.Agreed; !slices.Equal(got, []string{words}) {
		t.Errorf("agreed to %q, shown %q", got, words)
	}
}

func TestNoMakesNoCircle(t *testing.T) {
	p := caller(t, outside()).enter("5", "6", "1", "Ana", "2").wants("You are in none yet.")
	if p.b.Circles.Own != nil || p.b.Circles.Agreed != nil {
		t.Errorf("%+v", p.b.Circles)
	}
}

// TestJoin plays a grower who asks to join, and the keeper who answers with a digit.
func TestJoin(t *testing.T) {
	p := caller(t, outside())
	p.enter("5", "6", "2").wants("Type the number of the circle.")
	p.plays("5286 => There is no circle 5286. Ask its keeper", "5268 => Circle 5268, keeper Ana. Your name",
		"Eve => Eve: the members of circle 5268 will see your name and phone number. Ask Ana to join?",
		"1 => We ask Ana. The answer comes as a text.")
	n := p.sent()
	if n.Person != 1 || n.Kind != "circle" || n.Prompt == nil || n.PromptEnd != wednesday+7 {
		t.Errorf("%+v", n)
	}
	wants(t, n.Text, "May Eve", "join circle 5268? Answer 1 yes, 2 no.")
	p.plays("00 => No plot yet", "5 => 1 circle", "1 => You asked Ana to join circle 5268. There is no answer yet.")

	ana := inRing(1)
	ana.Circles.Own.Members = append(ana.Circles.Own.Members, circle.Member{ID: 4, Name: "Eve", Phone: "+447700900104"})
	x := wasAsked(t, ana, p.b.Circles.Sent[0], n)
	x.b.Circles.Open[0].From = 4
	x.plays("perhaps => May Eve +447700900104 join circle 5268? Answer 1 yes, 2 no.",
		"yes => You said yes: joining circle 5268. We tell Eve.")
	if got := x.b.Circles.Answered; len(got) != 1 || got[0].State != circle.AskYes || x.prompt != nil {
		t.Errorf("%+v, prompt %q", got, x.prompt)
	}
}

// TestAnswerGoesToWhoAsked checks the text that tells an answer, of each kind of question.
func TestAnswerGoesToWhoAsked(t *testing.T) {
	for kind, want := range map[circle.AskKind][2]string{
		circle.AskJoin:   {"says yes: joining circle 5268.", "says no: joining circle 5268."},
		circle.AskKeeper: {"says yes: new keeper.", "says no: new keeper."},
		circle.AskSwap: {"exchange of Thu 26 Nov and Fri 27 Nov. Two people carry the tool. Do not touch the teeth.",
			"says no: exchange"},
		circle.AskHire:  {"says yes: tool 1, Thu 26 Nov to Fri 27 Nov. Two people carry", "says no: tool 1"},
		circle.AskOffer: {"says yes: weeding Thu 26 Nov for 120.", "says no: weeding"},
		circle.AskWeeded: {"says yes: weeding done, 120.",
			"does not agree: weeding done, 120. It is noted as not agreed"},
		circle.AskPaid:     {"says yes: 120 paid.", "does not agree: 120 paid."},
		circle.AskReceived: {"says yes: 120 paid.", "does not agree: 120 paid."},
	} {
		for i, digit := range []string{"1", "2"} {
			b := inRing(1)
			b.Circles.Open = []circle.Ask{{ID: 9, Kind: kind, Circle: 5268, From: 2, To: 1, Tool: 1, Day: wednesday + 1,
				Other: wednesday + 2, Days: 2, Amount: 12000, Until: wednesday + 1}}
			p := caller(t, b).wants("Ben asks you something: 5, 1, 1.")
			p.enter("5", "1", "1").wants("Ben +447700900102", "1 yes", "2 no")
			n := p.enter(digit).sent()
			if wants(t, n.Text, "Ana +447700900101", want[i]); n.Person != 2 || n.Ask != 9 || n.Prompt != nil {
				t.Errorf("%s: %+v", kind, n)
			}
			p.wants("You said ")
		}
	}
}

// TestWeedingForAPrice plays a question for work: the price is the answer, and it becomes an offer to who asked.
func TestWeedingForAPrice(t *testing.T) {
	ben := caller(t, inRing(2)).enter("5", "1", "5", "1").wants("1 Ana, keeper", "2 Cho")
	ben.plays("1 => How big is the plot?", "20*30 => On which day?", "2 => Ask Ana to weed 600 m2, Thu 26 Nov?",
		"1 => We ask Ana.")
	n := ben.sent()
	wants(t, n.Text, "can you weed 600 m2, Thu 26 Nov? Answer with your price for all of it, like 300, or 2 for no.")
	ask := ben.b.Circles.Sent[0]
	x := wasAsked(t, inRing(1), ask, n)
	x.plays("1 => Answer with your price", "yes => Answer with your price", "5 => Answer with your price")
	if len(x.b.Circles.Answered) > 0 {
		t.Fatal("answered without a price")
	}
	x.plays("yes 450 => You said yes: weeding 600 m2, Thu 26 Nov. We tell Ben.")
	offer := x.b.Circles.Sent[0]
	if offer.Kind != circle.AskOffer || offer.Amount != 45000 || offer.To != 2 {
		t.Errorf("%+v", offer)
	}

	no := wasAsked(t, inRing(1), ask, n)
	no.plays("2 => You said no")
	dial := inRing(1)
	dial.Circles.Open = []circle.Ask{ask}
	p := caller(t, dial).enter("5", "1", "1").wants("1 yes, for a price", "2 no")
	p.plays("1 => How much do you ask", "0 => can you weed", "1 => How much", "450 => You ask 450?",
		"1 => You said yes")
	wants(t, p.sent().Text, "Ana +447700900101 will weed 600 m2, Thu 26 Nov, for 450. Agreed? Answer 1 yes, 2 no.")
}

// TestBusyPhoneIsToldToDial checks that a person who was asked something else gets no question that a digit answers.
func TestBusyPhoneIsToldToDial(t *testing.T) {
	b := inRing(1)
	b.Circles.Busy = map[int64]bool{2: true}
	n := caller(t, b).enter("5", "1", "1", "4", "1", "1").sent()
	wants(t, n.Text, "you give Fri 27 Nov, you get Wed 25 Nov?", "To answer dial *123#, then 5, 1, 1.")
	if lacks(t, n.Text, "1 yes"); n.Prompt != nil {
		t.Error("the text asks for a digit")
	}
}

// TestNoTextsToWhoWantsNone checks that who sent STOP gets no text, and that a number that another person may have is
// told no names. The question itself stays, and the others see that texts are not wanted.
func TestNoTextsToWhoWantsNone(t *testing.T) {
	for name, change := range map[string]func(*circle.Member){
		"stopped": func(m *circle.Member) { m.Stopped = true },
		"silent":  func(m *circle.Member) { m.Silent = true },
		"erased":  func(m *circle.Member) { m.Name, m.Phone = "", "" },
	} {
		b := inRing(1)
		change(&b.Circles.Own.Members[1])
		p := caller(t, b).enter("5", "1", "1", "4", "1", "1")
		if len(p.last.Send) != 0 || len(p.b.Circles.Sent) != 1 {
			t.Errorf("%s: sent %+v, asked %+v", name, p.last.Send, p.b.Circles.Sent)
		}
	}
	b := inRing(1)
	b.Circles.Own.Members[1].Stopped = true
	caller(t, b).enter("5", "1", "2", "1").wants("Ben +447700900102. Wants no texts: call.")
}

// TestWhoWantsNoTextsMustBeTold checks what the asker is told if the other gets no text.
func TestWhoWantsNoTextsMustBeTold(t *testing.T) {
	b := inRing(1)
	b.Circles.Own.Members[1].Stopped = true
	caller(t, b).enter("5", "1", "1", "4", "1", "1").wants(
		"Ben +447700900102 wants no texts, so tell Ben to dial *123#, then 5, 1, 1.")
}

// TestNumberOfAMember checks that the number of a member goes to members, and to a guest only with the yes to a hire.
func TestNumberOfAMember(t *testing.T) {
	guest := person(4, "Eve", "+447700900104")
	guest.Joined, guest.Guest = false, true
	for kind, shown := range map[circle.AskKind]bool{circle.AskHire: true, circle.AskPaid: false} {
		for _, digit := range []string{"1", "2"} {
			b := inRing(1)
			b.Circles.Own.Members = append(b.Circles.Own.Members, guest)
			b.Circles.Open = []circle.Ask{{ID: 9, Kind: kind, Circle: 5268, From: 4, To: 1, Tool: 1, Day: wednesday + 1,
				Days: 1, Amount: 12000, Until: wednesday + 1}}
			p := caller(t, b).enter("5", "1", "1").wants("Eve +447700900104")
			if got := strings.Contains(p.enter(digit).sent().Text, "+447700900101"); got != (shown && digit == "1") {
				t.Errorf("%s, answer %s: %s", kind, digit, p.sent().Text)
			}
		}
	}
}

// TestTextInTheLanguageOfTheOther checks that a question is written for the one who reads it.
func TestTextInTheLanguageOfTheOther(t *testing.T) {
	b := inRing(1)
	b.Circles.Own.Members[1].Language = "fr"
	p := dials(t, everyMenu(), b, "*123#").enter("5", "1", "1", "4", "1", "1").wants("We ask Ben.")
	wants(t, p.sent().Text, "vous donnez ven 27 nov, vous recevez mer 25 nov? R", "1 oui, 2 non")
}

func TestMyTurn(t *testing.T) {
	p := caller(t, inRing(1)).enter("5", "1").wants("Circle 5268. Your turn: Wed 25 Nov to Thu 26 Nov.")
	p.enter("1").wants("Plot 1: tool 1, Wed 25 Nov to Thu 26 Nov.", "Then it goes to Ben +447700900102.",
		"Two people carry it. Do not touch the teeth.", "1 done: tool is free")
	p.plays("1 => Plot 1 is done, and tool 1 is free from tomorrow?", "1 => The turns are planned again")
	p.plays("00 => ", "5 => 1 circle", "1 => ", "1 => Plot 1", "2 => How many days more?", "4 => type a number, 1 to 3",
		"2 => more days: 2?", "1 => planned again")
	p.plays("00 => ", "5 => ", "1 => ", "1 => ", "4 => ", "1 => Your Wed 25 Nov")
	want := []circle.Wish{{Ready: true}, {ExtraDays: 2}}
	if !slices.Equal(p.b.Circles.Wishes, want) {
		t.Errorf("%+v", p.b.Circles.Wishes)
	}
	ben := caller(t, inRing(2)).enter("5", "1", "1").wants("Get it from Ana +447700900101.")
	ben.lacks("done: tool is free") // the turn has not begun
	caller(t, inRing(3)).enter("5", "1", "1").wants("likely Red, Sat 28 Nov", "A text tells you when it is sure.")
}

// TestSkip checks that a turn is skipped only after it was read back.
func TestSkip(t *testing.T) {
	p := caller(t, inRing(2)).enter("5", "1", "1",
		"2").wants("Give the turn of Plot 1, Fri 27 Nov, to others?")
	if len(p.b.Circles.Wishes) != 0 {
		t.Fatal("skipped before it was read back")
	}
	p.enter("1")
	if !slices.Equal(p.b.Circles.Wishes, []circle.Wish{{Skip: true}}) {
		t.Errorf("%+v", p.b.Circles.Wishes)
	}
}

func TestLeave(t *testing.T) {
	keeper := caller(t, inRing(1)).enter("5", "1", "5", "5").wants("Leave circle 5268?")
	keeper.plays("1 => First hand the circle over", "0 => ")
	keeper.plays("00 => ", "5 => ", "1 => ", "5 => 4 new keeper", "4 => 1 Ben", "1 => Hand the circle over to Ben?",
		"1 => We ask Ben.")
	wants(t, keeper.sent().Text, "will you be the keeper of circle 5268?")
	ben := caller(t, inRing(2)).enter("5", "1", "5", "4", "1").wants("You are not in the circle any more.")
	if ben.b.Circles.Own != nil {
		t.Error("Ben is still in it")
	}
}

// TestFiveQuestionsADay checks the reason that is shown after too many questions.
func TestFiveQuestionsADay(t *testing.T) {
	b := inRing(1)
	b.Circles.Sent = make([]circle.Ask, circle.MaxAsksADay)
	p := caller(t, b).enter("5", "1", "1", "4", "1", "1").wants("You have asked five questions today.")
	if len(p.last.Send) != 0 {
		t.Error("a text was sent")
	}
}

// TestListMeansWhatWasShown checks that a digit means the turn beside which it was shown, although the turns changed.
func TestListMeansWhatWasShown(t *testing.T) {
	p := caller(t, inRing(1)).enter("5", "1", "1", "4").wants("1 Ben, Fri 27 Nov", "2 Cho, Sat 28 Nov")
	changed := *p.b.Circles.Own
	changed.Turns = slices.Delete(slices.Clone(changed.Turns), 1, 2)
	p.b.Circles.Own = &changed
	p.plays("1 => Something was changed before this, so nothing was done.")
	p.plays("1 => Your Wed 25 Nov to Thu 26 Nov for Sat 28 Nov of Cho?")
}

// TestCircleTextsFit checks the segments of the texts to others, in every language, with the longest values: the proof
// has their texts one by one, and here they stand in each other.
func TestCircleTextsFit(t *testing.T) {
	m := everyMenu()
	name := strings.Repeat("W", 10)
	for _, lang := range m.cat.Languages() {
		p := speech{cat: m.texts, lang: lang}
		from := circle.Member{ID: 2, Name: name, Phone: "+447700900999"}
		for kind := circle.AskJoin; kind <= circle.AskReceived; kind++ {
			a := matter{Ask: circle.Ask{Kind: kind, Circle: 999999, Tool: 1, Day: wednesday, Other: wednesday + 7,
				Days:   8,
				Amount: 98_765_432_199, AreaM2: 99999.9}, from: from, to: from, tool: circle.SharedTool{Name: name}}
			for _, k := range []text.Key{askedKey(kind), "sms.circle-dial"} {
				body := p.t(k, text.Args{"question": p.asks(a), "code": DefaultDialCode})
				if e := m.Encode(lang, body); e.Segments > MaxSegments(e.Encoding.Alphabet, false) {
					t.Errorf("%s: %d segments: %s", lang, e.Segments, body)
				}
			}
		}
		if p.err != nil {
			t.Fatal(p.err)
		}
	}
}

// TestKeeperTakesAMemberOut checks that only the keeper can, that it is read back, and that the member is told.
func TestKeeperTakesAMemberOut(t *testing.T) {
	p := caller(t, inRing(1)).enter("5", "1", "2", "1").wants("3 take out of the circle")
	p.enter("3").wants("Take Ben out of the circle? The turns go to others. What is owed stays.")
	if len(p.b.Circles.Own.Members) != 3 {
		t.Fatal("taken out before it was read back")
	}
	p.enter("1").wants("Ben is not in the circle any more. We tell Ben.")
	n := p.sent()
	wants(t, n.Text, "Ana +447700900101 took you out of circle 5268. You get no turns any more. What is owed stays.")
	if own := p.b.Circles.Own; n.Person != 2 || n.Prompt != nil || len(own.Members) != 2 || len(own.Turns) != 2 {
		t.Errorf("%+v, %+v", n, own)
	}
	no := caller(t, inRing(1)).enter("5", "1", "2", "1", "3", "2").wants("Circle 5268.")
	if len(no.b.Circles.Own.Members) != 3 {
		t.Error("taken out after a no")
	}
	caller(t, inRing(2)).enter("5", "1", "2", "2").wants("Cho").lacks("take out")
}

// TestWhoWantsNoTextsIsTakenOutUntold checks that the keeper hears that the member gets no text.
func TestWhoWantsNoTextsIsTakenOutUntold(t *testing.T) {
	b := inRing(1)
	b.Circles.Own.Members[1].Stopped = true
	p := caller(t, b).enter("5", "1", "2", "1", "3", "1")
	p.wants("Ben is not in the circle any more", "Tell Ben yourself.")
	if len(p.last.Send) != 0 {
		t.Errorf("sent %+v", p.last.Send)
	}
}
