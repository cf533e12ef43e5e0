package engine

import "testing"

// Every kind of reminder has a unique name, by which the store saves it, and a unique rank, by which the bell chooses
// one of several reminders.
func TestKindsAreWhole(t *testing.T) {
	if len(Kinds()) != int(endOfKinds)-1 || Kinds()[0] != KindPrepare {
		t.Fatalf("kinds are %v", Kinds())
	}
	names, ranks := map[string]Kind{}, map[int]Kind{}
	for _, k := range Kinds() {
		if other, taken := names[k.String()]; taken || k.row().name == "" {
			t.Errorf("kind %d is called %q, as kind %d is", k, k, other)
		}
		if other, taken := ranks[k.Rank()]; taken || k.Rank() < 1 || k.Rank() > len(Kinds()) {
			t.Errorf("%s has rank %d, as %s has", k, k.Rank(), other)
		}
		names[k.String()], ranks[k.Rank()] = k, k
		if got, ok := ParseKind(k.String()); got != k || !ok {
			t.Errorf("%s is read as %s, %v", k, got, ok)
		}
	}
	for _, none := range []Kind{0, endOfKinds} {
		if got, ok := ParseKind(none.String()); ok || none.Announces() || none.Rank() != 0 {
			t.Errorf("no kind: %s is read as %s", none, got)
		}
	}
}

// The text before a window for the tool asks for a look, and its days may still change, so it announces none. The text
// before a hand-weeding asks nothing. It announces none either: the days of hand-weeding do not follow from the
// weather.
func TestTextBeforeAWindow(t *testing.T) {
	for with, question := range map[Means]Question{ByTool: AskLook, ByHand: AskNothing} {
		r := Reminder{Kind: KindPrepare, Window: Window{Number: 1, Opens: 14, Closes: 18, With: with}, On: 10}
		if r.Question() != question || r.Asks() != (question != AskNothing) || r.Tells() {
			t.Errorf("%s: asks %d, announces %t", with, r.Question(), r.Tells())
		}
	}
}
