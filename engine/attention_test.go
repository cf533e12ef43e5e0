package engine

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The season of waiting has its first window on days 12 to 15 after planting; its last days are 14 and 15.
//
//revive:disable-next-line:function-length a table of cases
func TestAttention(t *testing.T) {
	type change func(*Season, *Heard)
	planted := waiting().Plot.Planted
	pass := func(d Day, share float64) change {
		return func(s *Season, _ *Heard) {
			s.Passes = append(s.Passes, Pass{On: planted + d, With: ByTool, Left: Few, Share: share})
		}
	}
	saw := func(x Sighting) change {
		x.On += planted
		return func(s *Season, _ *Heard) { s.Sightings = append(s.Sightings, x) }
	}
	told := func(k Kind, d Day) change {
		return func(_ *Season, h *Heard) { h.Told = append(h.Told, Told{Kind: k, Window: 1, On: planted + d}) }
	}
	heard := func(d Day) change { return func(_ *Season, h *Heard) { h.On = planted + d } }
	trouble := func(d Day) change {
		return func(_ *Season, h *Heard) { h.Trouble, h.TroubleOn = Clogs, planted+d }
	}
	reached := func(d Day, window int, reasons ...Reason) change {
		return func(_ *Season, h *Heard) { h.Reached = append(h.Reached, Reached{planted + d, window, setOf(reasons)}) }
	}
	noTool := func(s *Season, _ *Heard) { s.Tool = Tool{} }
	scattered := func(s *Season, _ *Heard) { s.Plot.Method, s.Tool = Broadcast, Tool{} }
	closed := func(d Day) change { return func(s *Season, _ *Heard) { s.ClosedOn = planted + d } }
	for _, c := range []struct {
		name string
		day  Day
		with []change
		want []Reason
	}{
		{"long before", 3, nil, nil},
		{"two days before", 10, nil, nil},
		{"it opens tomorrow", 11, nil, []Reason{NeedsStart}},
		{"it opens", 12, nil, []Reason{NeedsStart}},
		{"it is open", 13, nil, nil},
		{"last days", 14, nil, []Reason{NeedsLastDays}},
		{"the very last day", 15, nil, []Reason{NeedsLastDays}},
		{"missed", 16, nil, []Reason{NeedsPulling}},
		{"weeded", 14, []change{pass(13, 0)}, nil},
		{"half of it weeded", 14, []change{pass(13, 0.5)}, []Reason{NeedsLastDays}},
		{"closed by the grower", 14, []change{closed(14)}, nil},
		{"the canopy has closed", 50, nil, nil},

		{"no tool, a week before", 5, []change{noTool}, []Reason{NeedsTool}},
		{"no tool, eight days before", 4, []change{noTool}, nil},
		{"no tool, and too late for one", 16, []change{noTool}, []Reason{NeedsPulling}},
		{"no rows for a tool: hand-weeding from day 10 on", 9, []change{scattered}, []Reason{NeedsStart}},

		{"no water", 13, []change{saw(Sighting{On: 12, Water: StandsDry})}, []Reason{NeedsWater}},
		{"only mud", 10, []change{saw(Sighting{On: 9, Water: StandsMud})}, []Reason{NeedsWater}},
		{"no water, and no pass is near", 6, []change{saw(Sighting{On: 5, Water: StandsDry})}, nil},
		{"water came", 13, []change{saw(Sighting{On: 11, Water: StandsDry}), saw(Sighting{On: 13,
			Water: StandsFingers})}, nil},

		{"the tool clogs", 13, []change{trouble(13)}, []Reason{NeedsRepair}},
		{"it clogged a week ago", 13, []change{trouble(6)}, nil},
		{"it clogged, and went on", 13, []change{trouble(10), pass(11, 0)}, nil},
		{"it clogged on the day of the pass", 13, []change{pass(12, 0), trouble(12)}, []Reason{NeedsRepair}},

		{"asked yesterday", 13, []change{told(KindOpen, 12)}, nil},
		{"asked two days ago", 13, []change{told(KindOpen, 11)}, []Reason{NeedsAnswer}},
		{"asked for a look", 10, []change{told(KindPrepare, 8)}, []Reason{NeedsAnswer}},
		{"answered with a look", 10, []change{told(KindPrepare, 8), saw(Sighting{On: 9, Leaves: OneLeaf})}, nil},
		{"used the phone", 13, []change{told(KindOpen, 11), heard(11)}, nil},
		{"used the phone before", 13, []change{told(KindOpen, 11), heard(10)}, []Reason{NeedsAnswer}},
		{"the end asks nothing", 16, []change{told(KindClosed, 11)}, []Reason{NeedsPulling}},

		{"as expected", 13, []change{saw(Sighting{On: 12, Leaves: TwoThree})}, nil},
		{"four leaves before any are up", 4, []change{saw(Sighting{On: 3, Leaves: FourPlus})},
			[]Reason{NeedsPulling, NeedsLook}},
		{"none up when they should be big", 20, []change{saw(Sighting{On: 19, Leaves: NoneUp})}, []Reason{NeedsLook}},

		{"silent for three weeks", 13, []change{heard(-8)}, []Reason{NeedsSignOfLife}},
		{"silent for less", 13, []change{heard(-7)}, nil},
		{"silent, and nothing is near", 3, []change{heard(-30)}, nil},

		{"reached about it", 14, []change{reached(14, 1, NeedsLastDays)}, nil},
		{"reached about something else", 14, []change{reached(12, 1, NeedsStart)}, []Reason{NeedsLastDays}},
		{"reached twice", 14, []change{noTool, reached(13, 1, NeedsTool), reached(14, 1, NeedsLastDays)}, nil},
		{"reached a week ago", 14, []change{reached(7, 1, NeedsLastDays)}, []Reason{NeedsLastDays}},
		{"reached about the window before", 14, []change{reached(13, 0, NeedsLastDays)}, []Reason{NeedsLastDays}},
	} {
		s, h := waiting(), Heard{}
		for _, do := range c.with {
			do(&s, &h)
		}
		a := must(s.Attention(planted+c.day, h))
		if !slices.Equal(a.Reasons.List(), slices.Concat([]Reason{}, c.want)) {
			t.Errorf("%s, day %d: %q, want %q", c.name, c.day, a.Reasons, setOf(c.want))
		}
	}
}

func setOf(list []Reason) (s Reasons) {
	for _, r := range list {
		s |= r.bit()
	}
	return s
}

// What a visit saves grows until the window closes, is half of that afterwards, and 0 after the critical period.
func TestAttentionScore(t *testing.T) {
	s := waiting()
	score := func(d Day) float64 { return must(s.Attention(s.Plot.Planted+d, Heard{})).Score }
	wantEqual(t, "before weeds are up", score(3), 0)
	if !(score(11) < score(12) && score(12) < score(14) && score(14) <= score(15)) {
		t.Errorf("in the window: %g, %g, %g, %g", score(11), score(12), score(14), score(15))
	}
	if score(17) >= score(15) || score(17) < score(15)*MissedSaves {
		t.Errorf("missed: %g after %g", score(17), score(15))
	}
	for d := Day(58); d < 100; d++ {
		wantEqual(t, fmt.Sprint("on day ", d), score(d), 0)
	}
	half := s
	half.Passes = []Pass{{On: s.Plot.Planted + 14, With: ByTool, Left: Few, Share: 0.5}}
	whole, rest := must(s.Attention(s.Plot.Planted+15, Heard{})), must(half.Attention(s.Plot.Planted+15, Heard{}))
	wantNear(t, "half is weeded", rest.Score, whole.Score/2, 1e-9)
	s.Tool.WidthCM = -1
	if _, err := s.Attention(s.Plot.Planted, Heard{}); err == nil {
		t.Error("a tool that cannot be is planned")
	}
}

func TestAttentionFollowsATry(t *testing.T) {
	s := waiting()
	today := s.Plot.Planted + 14
	for d, later := range map[Day]bool{today - 1: false, today: true, 0: false} {
		wantEqual(t, "later", must(s.Attention(today, Heard{TriedOn: d})).Later, later)
	}
}

func TestReasonNames(t *testing.T) {
	for _, r := range AllReasons.List() {
		got, ok := ParseReason(r.String())
		if !ok || got != r {
			t.Errorf("%s is read as %s", r, got)
		}
	}
	if _, ok := ParseReason("rain"); ok {
		t.Error("rain is a reason")
	}
	wantEqual(t, "two", setOf([]Reason{NeedsTool, NeedsLastDays}).String(), "last days, no tool")
	wantEqual(t, "unknown", Reason(99).String(), "99?")
}

// Whatever was told and said: a closed plot needs nobody, the score is a share of a harvest, a plan is the same as
// without what was heard, and what staff talked about is no reason on the same day.
func TestAttentionOfAnySeason(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := s.Plot.Planted + Day(rapid.IntRange(-5, 150).Draw(t, "day"))
		near := func(name string) Day { return today - Day(rapid.IntRange(0, 40).Draw(t, name)) }
		h := Heard{On: near("heard"), Trouble: Trouble(rapid.IntRange(0, 4).Draw(t, "trouble")),
			TroubleOn: near("trouble on"), TriedOn: near("tried")}
		for range rapid.IntRange(0, 4).Draw(t, "texts") {
			h.Told = append(h.Told, Told{Kind: rapid.SampledFrom(Kinds()).Draw(t, "kind"),
				Window: rapid.IntRange(1, 3).Draw(t, "window"), On: near("told")})
		}
		slices.SortFunc(h.Told, func(a, b Told) int { return int(a.On - b.On) })
		a, err := s.Attention(today, h)
		if err != nil {
			t.Fatal(err)
		}
		full, err := s.Full(today)
		if err != nil {
			t.Fatal(err)
		}
		if a.State != full.State || a.Next != full.Next || a.Risk != full.Risk {
			t.Errorf("planned %+v, want %+v", a.Plan, full.Plan)
		}
		if (a.State == Closed || !a.Next.Exists()) && (a.Reasons != 0 || a.Score != 0) {
			t.Errorf("a plot that is %s needs %q, score %g", a.State, a.Reasons, a.Score)
		}
		if !(a.Score >= 0 && a.Score <= 200) || a.Reasons&^AllReasons != 0 {
			t.Errorf("score %g, reasons %b", a.Score, a.Reasons)
		}
		h.Reached = []Reached{{On: today, Window: a.Next.Number, Reasons: a.Reasons}}
		if after, err := s.Attention(today, h); err != nil || after.Reasons != 0 || after.Score != a.Score {
			t.Errorf("after a talk about %q it needs %q", a.Reasons, after.Reasons)
		}
	})
}
