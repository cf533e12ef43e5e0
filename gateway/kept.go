package gateway

import (
	"encoding/json"
	"strings"

	"rowbell/store"
)

// KeptScreen returns the screen of a reply that is kept for repeats of its call. shown is false if the reply is none: a
// text gets no screen, and the trace of a session has the screen that another reply has too.
func KeptScreen(r store.KeptReply) (words string, more, shown bool) {
	var s screen
	if !strings.HasPrefix(r.Key, kindUSSD+":") || json.Unmarshal(r.Body, &s) != nil || s.Text == "" {
		return "", false, false
	}
	return s.Text, s.More, true
}
