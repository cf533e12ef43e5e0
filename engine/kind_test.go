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
