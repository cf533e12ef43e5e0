package say

import (
	"strings"
	"testing"

	"rowbell/engine"
)

// attention is a plot with all reasons.
func attention() engine.Attention {
	today := engine.Date(2026, 6, 10)
	a := engine.Attention{Reasons: engine.AllReasons, Trouble: engine.Clogs, AskedOn: today - 3, Saw: engine.FourPlus,
		SawOn: today - 1, HeardOn: today - 40, WithoutMM: 40}
	a.On = today
	a.Next = engine.Window{Number: 1, Opens: today + 1, Best: today + 2, Closes: today + 4, With: engine.ByTool}
	a.Water.NeedMM, a.Water.MostMM = 50, 60
	a.Work.HandHours = 12
	return a
}

func only(a engine.Attention, r engine.Reason) engine.Attention {
	a.Reasons = 1 << r
	return a
}

func TestWhyAndWhat(t *testing.T) {
	for _, c := range []struct {
		reason    engine.Reason
		why, what string
	}{
		{engine.NeedsLastDays, "last days, until 14 Jun", "push the tool by 14 Jun"},
		{engine.NeedsPulling, "missed", "by hand"},
		{engine.NeedsStart, "window opens tomorrow", "about 5 cm"},
		{engine.NeedsTool, "no tool, window from 11 Jun", "from 11 Jun"},
		{engine.NeedsWater, "no water", "about 4 cm of water before the pass, at most to 6 cm"},
		{engine.NeedsRepair, "tool clogs", "clean the teeth, deepen the water, widen the teeth"},
		{engine.NeedsAnswer, "asked on 7 Jun, no answer", "how many leaves"},
		{engine.NeedsLook, "saw 4 leaves or more on 9 Jun", "in the field counts"},
		{engine.NeedsSignOfLife, "silent since 1 May", "the number is right"},
	} {
		a := only(attention(), c.reason)
		if got := Why(a); len(got) != 1 || !strings.Contains(got[0], c.why) {
			t.Errorf("%s: why %q, want %q", c.reason, got, c.why)
		}
		if got := What(a); !strings.Contains(got, c.what) {
			t.Errorf("%s: what %q, want %q", c.reason, got, c.what)
		}
		if label := Label(c.reason); label == "" || strings.Contains(label, "?") {
			t.Errorf("%s is called %q", c.reason, label)
		}
	}
	if all := Why(attention()); len(all) != len(engine.AllReasons.List()) {
		t.Errorf("%d reasons: %q", len(all), all)
	}
}

// Whoever is told to use the tool, to pull weeds or to let in water is told how not to get hurt.
func TestWorkComesWithItsCaution(t *testing.T) {
	for reason, cautions := range map[engine.Reason][]string{
		engine.NeedsLastDays: {"teeth cut", "midday"}, engine.NeedsPulling: {"midday"},
		engine.NeedsStart: {"teeth cut"},
		engine.NeedsTool:  {"teeth cut"}, engine.NeedsWater: {"deep water"}, engine.NeedsRepair: {"teeth cut"},
	} {
		for _, c := range cautions {
			if said := What(only(attention(), reason)); !strings.Contains(said, c) {
				t.Errorf("%s: %q does not say %q", reason, said, c)
			}
		}
	}
	two := attention()
	if said := What(two); strings.Count(said, "midday") != 1 {
		t.Errorf("a caution is not said once: %q", said)
	}
}

func TestByHandNoToolIsNamed(t *testing.T) {
	for _, r := range []engine.Reason{engine.NeedsLastDays, engine.NeedsStart} {
		a := only(attention(), r)
		a.Next.With = engine.ByHand
		if said := What(a); strings.Contains(said, "tool") {
			t.Errorf("%s: %q", r, said)
		}
	}
}
