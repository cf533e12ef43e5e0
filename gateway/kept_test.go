package gateway

import (
	"testing"

	"rowbell/store"
)

func TestKeptScreen(t *testing.T) {
	for _, c := range []struct {
		key, body   string
		words       string
		more, shown bool
	}{
		{"ussd:1", `{"text":"What now?","more":true}`, "What now?", true, true},
		{"ussd:1", `{"text":"Done.","more":false}`, "Done.", false, true},
		{"ussd:1", `{"text":""}`, "", false, false},
		{"ussd:1", `no JSON`, "", false, false},
		{"thread:1", `{"text":"What now?","more":true}`, "", false, false},
		{"sms:1", ``, "", false, false},
	} {
		words, more, shown := KeptScreen(store.KeptReply{Key: c.key, Body: []byte(c.body)})
		if words != c.words || more != c.more || shown != c.shown {
			t.Errorf("%s %s: %q, %v, %v", c.key, c.body, words, more, shown)
		}
	}
}
