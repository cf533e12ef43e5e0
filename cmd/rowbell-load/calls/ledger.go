package calls

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/store"
)

// ledgerFile is the name of the file in the folder of the run with what was acknowledged, a JSON object a line.
const ledgerFile = "acknowledged.jsonl"

// MarshalJSON writes a line of the ledger.
func (c *called) MarshalJSON() ([]byte, error) {
	return json.Marshal(map[string]any{"at": c.at.UTC().Format(time.RFC3339Nano), "network": c.network, "call": c.call,
		"body": c.body, "answer": string(c.answer)})
}

// writeLedger writes what was acknowledged.
func (l *load) writeLedger() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	var b bytes.Buffer
	lines := json.NewEncoder(&b)
	for i := range l.ledger {
		if err := lines.Encode(&l.ledger[i]); err != nil {
			return err
		}
	}
	return os.WriteFile(filepath.Join(l.o.Stack.Folder, ledgerFile), b.Bytes(), 0o600)
}

// askedAgain is how many acknowledged calls are repeated at the end.
const askedAgain = 2000

// askAgain has the network repeat calls of the whole run: each gets the same answer.
func (l *load) askAgain(ctx context.Context) {
	l.mu.Lock()
	list := slices.Clone(l.ledger)
	l.rnd.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
	l.mu.Unlock()
	list = list[:min(len(list), askedAgain)]
	var all sync.WaitGroup
	const callers = 8
	for part := range callers {
		all.Go(func() {
			for i := part; i < len(list); i += callers {
				l.ask(ctx, &list[i])
			}
		})
	}
	all.Wait()
}

// ask repeats a call that was acknowledged, and looks whether the answer is the same.
func (l *load) ask(ctx context.Context, c *called) {
	for pause := firstPause; ; pause = min(2*pause, mostPause) {
		a, err := l.stack.Post(ctx, c.network, c.call, c.body)
		if ctx.Err() != nil {
			return
		}
		if err == nil && a.Status/100 != 5 {
			if (a.Status != http.StatusOK && a.Status != http.StatusAccepted) || !bytes.Equal(a.Body, c.answer) {
				l.fault("%s %v, repeated: %d %q, at first %q", c.call, c.body, a.Status, a.Body, c.answer)
			}
			l.mu.Lock()
			l.repeats++
			l.mu.Unlock()
			return
		}
		if !wait(ctx, time.Now().Add(pause)) {
			return
		}
	}
}

// mostLate is longer than a lease, after which a text goes out whose claim got no result because the server died (five
// minutes at most, package push).
const mostLate = 6 * time.Minute

// waitForLate waits until no text that a grower misses is still on its way in the records, at most mostLate.
func (l *load) waitForLate(ctx context.Context) error {
	var missed []store.Phone
	for phone, g := range l.growers {
		if len(g.missing) > 0 {
			missed = append(missed, phone)
		}
	}
	if len(missed) == 0 {
		return nil
	}
	s, err := store.Open(ctx, l.stack.DB(), store.Options{Existing: true})
	if err != nil {
		return err
	}
	defer s.Close()
	for until := time.Now().Add(mostLate); len(missed) > 0 && time.Now().Before(until); {
		err := s.View(ctx, func(tx *store.Tx) error {
			for len(missed) > 0 {
				texts, err := tx.Inbox(missed[0], 0)
				if err != nil || slices.ContainsFunc(texts, onItsWay) {
					return err
				}
				missed = missed[1:]
			}
			return nil
		})
		if err != nil {
			return err
		}
		if len(missed) > 0 && !wait(ctx, time.Now().Add(time.Second)) {
			break
		}
	}
	return nil
}

func onItsWay(m store.Message) bool { return m.State == store.Queued || m.State == store.Claimed }

// look compares the records of each grower with those of the grower who played the same script before the load, and
// says what became of each text.
func (l *load) look(ctx context.Context) error {
	for _, f := range l.net.Faults() {
		l.fault("%s", f)
	}
	s, err := store.Open(ctx, l.stack.DB(), store.Options{Existing: true})
	if err != nil {
		return err
	}
	defer s.Close()
	want := map[string]string{}
	for i := range len(l.growers) {
		g := l.growers[stack.Phone(i)]
		var has string
		var texts []store.Message
		err := s.View(ctx, func(tx *store.Tx) (err error) {
			if has, err = recorded(tx, g.phone); err == nil {
				texts, err = tx.Inbox(g.phone, 0)
			}
			return err
		})
		if err != nil {
			return fmt.Errorf("%v: %w", g.phone, err)
		}
		if i < 2*len(l.scripts) { // of the growers before the load
			want[g.script.name] = has
		}
		l.lookAt(g, has, want[g.script.name], texts)
	}
	return nil
}

// lookAt looks at the records and texts of a grower.
func (l *load) lookAt(g *grower, has, want string, texts []store.Message) {
	if g.wrong { // it was said why
		return
	}
	if has != want {
		l.fault("%s: the records of %v have\n%s\ninstead of\n%s", g.script.name, g.phone, has, want)
	}
	for {
		select {
		case late := <-g.arrived:
			if i := slices.Index(g.missing, late); i >= 0 {
				g.missing = slices.Delete(g.missing, i, i+1)
				continue
			}
			l.fault("%v got a text more: %q", g.phone, late)
			continue
		default:
		}
		break
	}
	missing := slices.Clone(g.missing)
	// A text may be in doubt where it must not be sent again: at a network that takes it twice, and after a STOP. One
	// that waited until then, behind a slow service, is not sent at all.
	stopped := slices.ContainsFunc(texts, func(m store.Message) bool { return m.Kind() == "stop" })
	mayBeInDoubt := stopped || stack.NetworkOf(g.phone) == stack.TakesTwice
	for _, m := range texts {
		took := l.net.Took(m.Key)
		l.states[m.State]++
		switch i := slices.Index(missing, m.Text); {
		case m.State == store.Accepted && took:
		case m.State == store.Unknown && mayBeInDoubt, m.State == store.Withdrawn && stopped && !took:
			if !took && i >= 0 {
				missing = slices.Delete(missing, i, i+1)
			}
		default:
			l.fault("%v: the text %q is %s (%s), the network got it: %v", g.phone, m.Text, m.State, m.Reason,
				took)
		}
	}
	for _, text := range missing {
		l.fault("%v never got the text %q, and the records do not say why", g.phone, text)
	}
}

// recorded tells all that is recorded of a grower and does not say when or under which number.
func recorded(tx *store.Tx, phone store.Phone) (string, error) {
	ledger, err := tx.Ledger(phone, 0)
	if err != nil {
		return "", err
	}
	plots, err := ledger.Plots()
	if err != nil {
		return "", err
	}
	var b strings.Builder
	for _, no := range plots {
		s, err := ledger.Season(no)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(&b, "plot %d: %+v %+v %+v %+v %+v\n", no, s.Plot, s.Tool, s.Passes, s.Sightings, s.Home)
	}
	texts, err := tx.Inbox(phone, 0)
	for _, m := range texts {
		fmt.Fprintf(&b, "%s: %s\n", m.Kind(), m.Text)
	}
	return b.String(), err
}
