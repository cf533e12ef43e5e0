package menu

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// TestDigitsBelongToWhatWasAsked draws questions and answers: an answer to a question from a circle logs no weeding,
// look or hours, and an answer to a question about a plot answers no question from a circle.
func TestDigitsBelongToWhatWasAsked(t *testing.T) {
	entries := []string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "00", "1 yes", "2 no", "yes", "no", "not yet",
		"done", "half", "300", "1200", "3h", "3h2", "2.30", "ok", "hapana", "oui", "two leaves", "few", "undo", "mud"}
	aboutPlots := []asked{askedPass, askedHand, askedPart, askedLeft, askedUndo, askedLook, askedWater}
	var answeredAsks, logged int
	rapid.Check(t, func(rt *rapid.T) {
		b := inRing(1)
		s := b.Seasons[1]
		s.Passes = []engine.Pass{{On: wednesday - 1, With: engine.ByTool}}
		b.Seasons[1] = s
		kind := circle.AskKind(rapid.IntRange(int(circle.AskJoin), int(circle.AskReceived)).Draw(rt, "kind"))
		b.Circles.Open = []circle.Ask{{ID: 9, Kind: kind, Circle: 5268, From: 2, To: 1, Tool: 1, Day: wednesday + 1,
			Other: wednesday + 2, Amount: 12000, Until: wednesday + 1}}
		x := texts(t, b)
		p := prompt{Asked: askedCircle, Ask: 9, Kind: kind}
		fromCircle := rapid.Bool().Draw(rt, "from circle")
		if !fromCircle {
			p = prompt{Asked: rapid.SampledFrom(aboutPlots).Draw(rt, "asked"), Plots: []subject{subjectOf(1, s)},
				On: wednesday - 1}
		}
		x.ask(must(p.encode()), wednesday+1)
		x.now++
		before := b.Seasons[1]
		for range rapid.IntRange(1, 3).Draw(rt, "texts") {
			open := decoded(x)
			x.text(rapid.SampledFrom(entries).Draw(rt, "entry"))
			after := b.Seasons[1]
			changed := !slices.Equal(after.Passes, before.Passes) || !slices.Equal(after.Sightings, before.Sightings)
			switch {
			case open == askedCircle && changed:
				rt.Fatalf("the answer to a circle changed the plot: %+v", after)
			case open != askedCircle && len(b.Circles.Answered) > 0 && !fromCircle:
				rt.Fatalf("the answer about a plot answered the circle: %+v", b.Circles.Answered)
			}
			if changed {
				logged++
			}
			before = after
		}
		answeredAsks += len(b.Circles.Answered)
	})
	if answeredAsks == 0 || logged == 0 {
		t.Errorf("%d questions were answered and %d plots changed: the test compares nothing", answeredAsks, logged)
	}
}

// decoded returns what the open prompt of a texter asks; "" if none is open.
func decoded(x *texter) asked {
	p, err := decodePrompt(x.prompt)
	if err != nil {
		return ""
	}
	return p.Asked
}

// TestCirclePromptIsRead checks which saved prompts are read: one of a circle has a question and no plot, and one about
// a plot has no question.
func TestCirclePromptIsRead(t *testing.T) {
	plot := []subject{{No: 1, Planted: wednesday}}
	for _, c := range []struct {
		p  prompt
		ok bool
	}{
		{prompt{Asked: askedCircle, Ask: 9, Kind: circle.AskSwap}, true},
		{prompt{Asked: askedCircle}, false},
		{prompt{Asked: askedCircle, Ask: 9, Plots: plot}, false},
		{prompt{Asked: askedPass, Plots: plot}, true},
		{prompt{Asked: askedPass, Plots: plot, Ask: 9}, false},
		{prompt{Asked: askedPass, Ask: 9}, false},
	} {
		if _, err := decodePrompt(must(c.p.encode())); (err == nil) != c.ok {
			t.Errorf("%+v: %v", c.p, err)
		}
	}
}

// TestCirclePromptThatIsOver checks the reply to a digit for a question that was answered by dial or is over.
func TestCirclePromptThatIsOver(t *testing.T) {
	x := texts(t, inRing(1))
	x.ask(must(prompt{Asked: askedCircle, Ask: 9, Kind: circle.AskSwap}.encode()), wednesday+1)
	x.now++
	x.plays("1 => Something was changed after our text, so nothing is done.")
	if len(x.b.Circles.Answered) > 0 || x.prompt != nil {
		t.Errorf("%+v, prompt %q", x.b.Circles.Answered, x.prompt)
	}
}
