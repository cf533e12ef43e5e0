package config

import (
	"strings"
	"testing"

	"rowbell/store"
)

func TestKeepConfig(t *testing.T) {
	for _, c := range []struct{ toml, says string }{
		{"", ""},
		{"[keep]\n", ""},
		{"[keep]\ncallbacks_days = 3\nloose_texts_days = 1\ntexts_days = 90\nseasons_days = 0\ngrowers_days = 0\n", ""},
		{"[keep]\ncallbacks_days = 30\n", "keep.callbacks_days: 30 is not from 1 to 7 days"},
		{"[keep]\ntexts_days = 0\n", "keep.texts_days: 0 is not from 14 to 3660 days"},
		{"[keep]\ngrowers_days = 90\n", "keep.growers_days: 90 is not from 366 to 36600 days, or 0 for ever"},
		{"[keep]\nseasons_days = \"a year\"\n", "line 2, column 16: keep.seasons_days: this must be a whole number"},
		{"[keep]\nseasons_days = 400.5\n", "this must be a whole number"},
		{"[keep]\nplots_days = 400\n", "there is no setting of this name"},
	} {
		_, err := Parse([]byte(c.toml))
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: %v, want %q", c.toml, err, c.says)
		}
	}
	conf, err := Parse([]byte("[keep]\ntexts_days = 90\ngrowers_days = 0\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := store.DefaultRetention()
	want.Texts, want.Growers = 90, 0
	if got := conf.Keep.Retention(); got != want {
		t.Errorf("kept %+v, want %+v", got, want)
	}
}
