package store

import (
	"strings"
	"testing"
)

func TestRetentionValidate(t *testing.T) {
	wrong := DefaultRetention().Validate()
	errorIf(t, len(wrong) > 0, "the default retention: %v", wrong)
	for _, c := range []struct {
		set  func(*Retention)
		says string
	}{
		{func(k *Retention) { k.Callbacks = 0 }, "callbacks_days: 0 is not from 1 to 7 days"},
		{func(k *Retention) { k.Callbacks = 8 }, "callbacks_days: 8"},
		{func(k *Retention) { k.LooseTexts = 31 }, "loose_texts_days: 31"},
		{func(k *Retention) { k.Texts = 13 }, "texts_days: 13"},
		{func(k *Retention) { k.Texts = 0 }, "texts_days: 0"},
		{func(k *Retention) { k.Seasons = -1 }, "seasons_days: -1 is not from 366 to 36600 days, or 0 for ever"},
		{func(k *Retention) { k.Growers = 365 }, "growers_days: 365"},
		{func(k *Retention) { k.Seasons, k.Growers = 0, 0 }, ""},
	} {
		k := DefaultRetention()
		c.set(&k)
		wrong := k.Validate()
		errorIf(t, (len(wrong) == 0) != (c.says == "") || len(wrong) > 1 ||
			len(wrong) == 1 && !strings.HasPrefix(wrong[0].Error(), c.says), "%+v: %v, want %q", k, wrong, c.says)
	}
}

// Kinds must contain every setting with its number of days.
func TestRetentionKinds(t *testing.T) {
	k := Retention{Callbacks: 1, LooseTexts: 2, Texts: 30, Seasons: 0, Growers: 500}
	got := map[string]RetentionKind{}
	for _, kept := range k.Kinds() {
		errorIf(t, kept.What == "" || kept.Days == 0 && kept.Until == "", "%+v says too little", kept)
		if kept.Name != "" {
			got[kept.Name] = kept
		}
	}
	for _, b := range k.bounds() {
		kept, ok := got[b.name]
		errorIf(t, !ok || kept.Days != b.days || (b.days == 0) != (kept.Until == "for ever"), "%s: %+v", b.name, kept)
	}
}

func TestKeptForEver(t *testing.T) {
	k := DefaultRetention()
	k.Seasons, k.Growers = 0, 0
	s := openNew(t, Options{Retention: &k})
	withPlot(t, s, ana)
	ledger(t, s, ana, noon, closePlot(1))
	equal(t, prune(t, s, noon+100_000*day), (Pruned{}), "pruned")
}
