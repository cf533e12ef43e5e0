package gateway_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/gateway/bench"
	"rowbell/gateway/clock"
	"rowbell/store"
	"rowbell/store/manygrowers"
	"rowbell/store/testrun"
)

// costs counts what callbacks cost: the statements of their transactions, and the pages that they write to the
// write-ahead log. Both counts are the same on every machine.
type costs struct {
	*fixture
	statements []string
}

// openCosts returns a fixture with the real menu and many growers, so that growers have pages of their own.
func openCosts(t *testing.T) *costs {
	t.Helper()
	h := &costs{}
	db := filepath.Join(t.TempDir(), "rowbell.db")
	testrun.File(t, db, makeRecords)
	s := must(store.Open(t.Context(), db, store.Options{OnStatement: func(query string) {
		h.statements = append(h.statements, query)
	}}))
	t.Cleanup(func() { s.Close() })
	ok(t, s.InTx(t.Context(), func(tx *store.Tx) error {
		for i := range 300 {
			if err := seedOne(tx, i, morning.Unix()-24*60*60); err != nil {
				return err
			}
		}
		return nil
	}))
	at := clock.New(morning)
	h.fixture = &fixture{t: t, db: db, store: s, clock: at, g: realGateway(t, s, at, "en")}
	return h
}

// call makes a callback, and returns its statements and the number of its pages in the log. A page is 4096 octets and a
// header of 24.
func (h *costs) call(path string, body m) (statements []string, pages int) {
	h.t.Helper()
	before := h.logSize()
	h.statements = nil
	if w := h.post(path, body); w.Code/100 != 2 {
		h.t.Fatalf("%s %v: %d %s", path, body, w.Code, w.Body)
	}
	return h.statements, int(h.logSize()-before) / (4096 + 24)
}

func (h *costs) logSize() int64 {
	h.t.Helper()
	info, err := os.Stat(h.db + "-wal")
	ok(h.t, err)
	return info.Size()
}

// Each callback is a transaction of its own here, with BEGIN and COMMIT, so that its pages are not shared with others.
// The numbers are the largest that are allowed. They were measured and have no source: whoever makes a callback cheaper
// lowers them.
func TestCostOfCallbacks(t *testing.T) {
	h := openCosts(t)
	known, other, stranger := manygrowers.Phone(30).E164(), manygrowers.Phone(31).E164(), "+447700900321"
	talk := func(phone, session string, entries ...string) (bodies []m) {
		bodies = append(bodies, m{"phone": phone, "session": session, "event": "begin", "step": 0})
		for i, e := range entries {
			bodies = append(bodies, m{"phone": phone, "session": session, "event": "entry", "entry": e, "step": i + 1})
		}
		return bodies
	}
	pass := talk(known, "s1", bench.TalkPass.Entries...)
	plot := talk(other, "s2", bench.TalkPlot.Entries...)
	end := m{"phone": other, "session": "s2", "event": "end", "step": len(plot)}
	for _, tt := range []struct {
		what              string
		before            []m // calls that are not counted
		call              m
		path              string
		statements, pages int
	}{
		{"begin, the first of the day", nil, pass[0], "ussd", 11, 5},
		{"menu entry", nil, pass[1], "ussd", 9, 4},
		{"its repeat", nil, pass[1], "ussd", 5, 0},
		{"log a pass", pass[2:4], pass[4], "ussd", 12, 5},
		{"begin, the second of the day", nil, talk(known, "s3")[0], "ussd", 10, 4},
		{"register a plot", plot[:7], plot[7], "ussd", 10, 9},
		{"end of the session", nil, end, "ussd", 5, 1},
		{"begin of a stranger", nil, talk(stranger, "s4")[0], "ussd", 9, 4},
		{"text", nil, m{"id": "t1", "phone": known, "text": "2"}, "sms", 12, 13},
	} {
		for _, body := range tt.before {
			h.call("/in/local/ussd", body)
		}
		statements, pages := h.call("/in/local/"+tt.path, tt.call)
		t.Logf("%-30s %2d statements, %2d pages", tt.what, len(statements), pages)
		if len(statements) > tt.statements || pages > tt.pages {
			t.Errorf("%s: more than %d statements or %d pages:\n%s", tt.what, tt.statements, tt.pages,
				strings.Join(statements, "\n"))
		}
	}
	h.ledger(manygrowers.Phone(30), func(l *store.Ledger) error {
		s, err := l.Season(1)
		if err != nil {
			return err
		}
		if last := s.Passes[len(s.Passes)-1]; last.On != l.Today() || last.With != engine.ByTool {
			t.Errorf("the pass was not logged: %v", s.Passes)
		}
		return nil
	})
}
