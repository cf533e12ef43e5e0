package main

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// The machine is lost with everything on it. Only the copy of last night is left, on another disk. It is restored in a
// new folder, and the growers go on.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestOnlyLastNightsCopyIsLeft(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.env, p.settings = []string{"KILL_TOKEN=" + testToken}, killedNetworks(p.push.URL)
	p.makeRecords()
	p.start(aDay)

	// Five growers register. Two are reminded on the next morning, two on the morning after that, by each network.
	once, local, other := reminded(p, 500), reminded(p, 1), registering(2)
	other.run(p, len(other.steps))
	p.settle()
	// On the first morning the service is broken off while the network once has taken a reminder and not said so.
	morning, taken := aDay.Add(22*time.Hour), make(chan struct{})
	p.inbox.setHook(func(to string) bool {
		if to == once.phone.E164() {
			close(taken)
			return false
		}
		return true
	})
	go func() { _, _, _ = p.try("clock", map[string]any{"set": morning.Format(time.RFC3339)}) }()
	<-taken
	p.kill()
	p.inbox.setHook(nil)
	p.start(morning)
	p.settle()
	local.run(p, 2)
	nextOnce, nextLocal := remindedOn(p, morning, 501), remindedOn(p, morning, 4)

	// The answer to a last text of the night waits while the copy is made, and goes out afterwards.
	night := morning.Add(20 * time.Hour)
	p.set(night)
	late := map[string]any{"id": "late", "phone": other.phone.E164(), "text": "menu"}
	p.post("sms", late, http.StatusAccepted)
	copied := filepath.Join(t.TempDir(), "night.db")
	if out, err := p.also("backup", "--to", copied, "--test-clock", night.Format(time.RFC3339)); err != nil ||
		!strings.Contains(out, "5 growers") {
		t.Fatalf("%v\n%s", err, out)
	}
	p.settle()

	// On the second morning two growers are reminded, one of them has weeded, and somebody registers. Then the machine
	// is lost.
	morning = morning.AddDate(0, 0, 1)
	p.set(morning)
	nextLocal.run(p, 1)
	fresh := registeringOn(morning, 3)
	fresh.run(p, len(fresh.steps))
	p.settle()
	p.kill()
	must(t, os.RemoveAll(p.dir))
	had := p.inbox.keys()

	q := bareProcess(t)
	q.languages, q.token, q.inbox, q.push, q.env, q.settings = p.languages, p.token, p.inbox, p.push, p.env, p.settings
	now := morning.Add(3 * time.Hour)
	at := now.Format(time.RFC3339)
	out, err := q.also("restore", "--from", copied, "--test-clock", at)
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, said := range []string{"It contains 5 growers", "Withdrawn: 0 reminders that waited to be sent, and 1 other",
		"In doubt: 1 text of the backup", "they may have gone out since", "texts again what is true today",
		"There was nothing to replace",
		"Who texted STOP or was erased after the backup is not known here"} {
		if !strings.Contains(out, said) {
			t.Errorf("the restore does not say %q:\n%s", said, out)
		}
	}
	q.start(now)
	q.ready(http.StatusOK, "note: texts in doubt: 1")
	if out, _ := q.also("doctor", "--offline", "--test-clock", at); !strings.Contains(out,
		"texts that a network may have taken and did not say: 1") {
		t.Errorf("doctor does not tell the text in doubt:\n%s", out)
	}

	// The bell rings what is true today: the reminders of this morning again, under the keys that their networks know,
	// and no other text that went out.
	q.inbox.phones() // takes the texts until here
	q.settle()
	rung := 0
	for key, requests := range q.inbox.keys() {
		switch again := requests - had[key]; {
		case had[key] == 0:
			t.Errorf("the text %s is new", key)
		case again == 1 && strings.HasPrefix(key, "ring/"):
			rung++
		case again != 0:
			t.Errorf("a network got the text %s again", key)
		}
	}
	if rung != 2 {
		t.Errorf("%d reminders were rung again, want those of the morning", rung)
	}
	// The network repeats a text from before the copy, which is known. It repeats those of today, which are new here,
	// and the grower who registered today does so again. Each is answered once.
	q.post("sms", late, http.StatusAccepted)
	q.settle()
	if texts := q.inbox.take(other.phone.E164()); len(texts) != 0 {
		t.Errorf("a repeated text was answered again: %q", texts)
	}
	had = q.inbox.keys()
	nextLocal.replies = nil
	again := registeringOn(morning, 3)
	for _, g := range []*scripted{nextLocal, nextOnce, again} {
		if n := len(g.steps); !g.run(q, n) || g.answered() != n {
			t.Fatalf("%v: only %d of %d calls were answered", g.phone, g.answered(), n)
		}
		q.settle()
	}
	for key, requests := range q.inbox.keys() {
		if had[key] > 0 && requests != had[key] || had[key] == 0 && requests != 1 {
			t.Errorf("a network got the text %s %d times, and %d times before", key, requests, had[key])
		}
	}
	runSteps(t, "sending unknown --test-clock="+at+" --db "+filepath.Join(q.dir, config.DefaultDB), []shellStep{
		{"--leave --all", 0, "1 text"},
		{"", 0, "No text is in doubt."}})
	q.ready(http.StatusOK)
	q.stop()
	s := openRecords(t, filepath.Join(q.dir, config.DefaultDB))
	read(t, s, func(tx *store.Tx) error {
		for _, g := range []*scripted{once, local, other, nextOnce, nextLocal, again} {
			got, err := found(tx, g.phone, now.Unix())
			if want := g.want(); err != nil || got.plots != want.plots || got.passes != want.passes {
				t.Errorf("%v: %+v, want %+v (%v)", g.phone, got, want, err)
			}
		}
		return nil
	})
}
