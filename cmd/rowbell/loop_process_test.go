package main

import (
	"fmt"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
)

// A text whose sender is the service itself gets no answer, in whatever form a network writes that sender. It begins no
// dialogue and makes no records. A number that only looks like a sender is answered.
func TestOwnSendersGetNoAnswer(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.env = []string{"OWN_FORMAT_SECRET=" + testToken}
	url := p.push.URL
	p.startConfigured(aDay, `country_code = "44"`, "[gateways.heron]\nsender = \"+44 7700 900555\"\n"+
		"[gateways.tern]\nsender = \"Our Valley\"\n"+
		ownFormat(map[string]string{"local": url, "heron": url, "tern": url}))
	own := []string{"12345", "+12345", "0012345", "012345", "+4412345", "4412345", "tel:12345", "12 345", "123",
		"+447700900555", "447700900555", "00447700900555", "07700900555", "7700900555", "tel:+44-7700-900555",
		"Our Valley", "OUR  VALLEY", " our valley "}
	for _, sender := range own {
		if got := p.says(sender, "+447700900555", "menu"); len(got) > 0 {
			t.Errorf("%q got %q", sender, got)
		}
	}
	if got := p.metric(`rowbell_texts_not_answered_total{gateway="local",reason="own"}`); got != fmt.Sprint(len(own)) {
		t.Errorf("%q texts of our own senders were counted, want %d", got, len(own))
	}
	for series, want := range map[string]string{"rowbell_sessions_open": "0", "rowbell_growers": "0"} {
		if got := p.metric(series); got != want {
			t.Errorf("%s is %q, want %s", series, got, want)
		}
	}
	if n := strings.Count(p.log.String(), `"level":"warn"`); n == 0 ||
		!strings.Contains(p.log.String(), "came from a sender of ours") {
		t.Errorf("%d warnings:\n%s", n, p.log.String())
	}
	if got := p.says("+447700900556", "+447700900556", "menu"); len(got) != 1 {
		t.Errorf("another number got %q", got)
	}
}

// machine is a phone on which a program answers every text. replies returns what the program sends back, "" for
// nothing; n is the number of the text that it answers.
type machine struct {
	phone   string
	replies func(text string, n int) string
}

// talk lets a machine and the service answer each other until one of them is silent, or the machine has got most texts.
// Between a text and its answer the clock moves by pause. talk returns how many texts the machine got.
func (p *process) talk(m machine, first string, pause time.Duration, most int) (got int) {
	p.t.Helper()
	say := []string{first}
	for len(say) > 0 && got < most {
		sent := p.says(m.phone, m.phone, say[0])
		say = say[1:]
		p.clock(map[string]any{"advance": pause.String()})
		for _, text := range sent {
			got++
			if reply := m.replies(text, got); reply != "" {
				say = append(say, reply)
			}
		}
	}
	return got
}

// always returns a machine's replies that are always the same.
func always(reply string) func(string, int) string {
	return func(string, int) string { return reply }
}

// machines are the programs of TestMachinesThatAnswer.
var machines = []struct {
	name    string
	first   string // the machine's first text; "" = its reply to nothing
	pause   time.Duration
	most    int // more texts than this are a loop
	replies func(text string, n int) string
}{
	{"away, at once", "", time.Second, 1, always("I am away until Monday.")},
	{"away, slowly", "", 40 * time.Second, 2, always("I am away until Monday.")},
	{"away, with a counter", "", 40 * time.Second, 2, func(_ string, n int) string {
		return fmt.Sprintf("Automatic answer no. %d at %02d:%02d: we are closed.", n, n/60, n%60)
	}},
	{"echo", "hello", 40 * time.Second, 1, func(text string, _ int) string { return text }},
	{"echo, cut off", "hello", 40 * time.Second, 1, func(text string, _ int) string { return text[:60] }},
	{"report on its number", "hello", 40 * time.Second, 1, func(_ string, n int) string {
		return fmt.Sprintf("Your message no. %d to 07700 900%03d was delivered.", n, machineNumber)
	}},
	{"report on our number", "hello", 40 * time.Second, 1, func(_ string, n int) string {
		return fmt.Sprintf("%d) message from 12345: delivered", n)
	}},
	{"report that quotes", "hello", 40 * time.Second, 1, func(text string, n int) string {
		return fmt.Sprintf("%d. Could not be delivered: '%s...'", n, text[:30])
	}},
	{"report that quotes nothing", "", time.Second, 1, always("could not be delivered")},
	{"begins with a keyword", "", 40 * time.Second, 2, always("Help is closed. Menu tomorrow.")},
	{"begins with START", "", 40 * time.Second, 2, always("Start of the holidays: we are closed.")},
	{"another sentence each time", "", 40 * time.Second, 5, func(_ string, n int) string {
		return strings.Repeat("la", n+1) + " is what I say " + strings.Repeat("now", n%3)
	}},
	{"always 1", "1", 40 * time.Second, 15, always("1")},
	{"always HELP", "HELP", 40 * time.Second, 12, always("HELP")},
	{"HELP and MENU", "HELP", time.Second, 100, func(_ string, n int) string {
		return []string{"HELP", "MENU"}[n%2]
	}},
	{"counts", "1", time.Second, 100, func(_ string, n int) string { return fmt.Sprint(n) }},
}

// machineNumber is the number of the machine that is reported on.
const machineNumber = 705

// A machine that answers every text of ours gets few texts, and then none while it is silent itself. Without this rule
// each of them got as many texts as the test let it have.
func TestMachinesThatAnswer(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.startConfigured(aDay, `country_code = "44"`, "[texts]\nlanguages = [\"en\"]\n")
	for i, m := range machines {
		first := m.first
		if first == "" {
			first = m.replies("", 0)
		}
		got := p.talk(machine{fictional(machineNumber - 5 + i).E164(), m.replies}, first, m.pause, 150)
		t.Logf("%s: %d texts", m.name, got)
		if got == 0 || got > m.most {
			t.Errorf("%s: the machine got %d texts, at most %d are wanted", m.name, got, m.most)
		}
	}
	for _, reason := range []string{"echo", "report", "repeat", "paused"} {
		series := fmt.Sprintf(`rowbell_texts_not_answered_total{gateway="local",reason=%q}`, reason)
		if n := p.metric(series); n == "0" || n == "" {
			t.Errorf("%s is %q", series, n)
		}
	}
	// A machine that goes on by itself, every ten minutes for a day, is left alone for longer and longer.
	got := 0
	for i := range 144 {
		got += len(p.says(fictional(750).E164(), fictional(750).E164(), strings.Repeat("la", i+2)+" ho"))
		p.clock(map[string]any{"advance": "10m"})
	}
	if got > 14 {
		t.Errorf("in a day a machine got %d texts", got)
	}
	if n := p.metric("rowbell_numbers_left_alone"); n == "0" || n == "" {
		t.Errorf("%q numbers are left alone", n)
	}
}

// A grower is served after five mistypes, and while somebody sends junk from the grower's number. All that the menu
// understands is taken and answered at once, and so are STOP, START, HELP and a call. A pause outlasts a restart. Staff
// see the pause and may end it.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestGrowersAreServedAllTheSame(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.startConfigured(aDay, `country_code = "44"`, "[texts]\nlanguages = [\"en\"]\n")
	number := fictional(760).E164()
	says := func(text, want string) {
		t.Helper()
		got := strings.Join(p.says(number, number, text), " | ")
		if want == "" && got != "" || !strings.Contains(got, want) {
			t.Errorf("%q got %q, want %q", text, got, want)
		}
	}
	call := func() {
		t.Helper()
		p.texts++
		p.post("ussd", map[string]any{"phone": number, "session": fmt.Sprint("s", p.texts), "step": 0,
			"event": "begin", "dialled": "*123#"}, http.StatusOK)
	}
	junk := 0
	forged := func() {
		t.Helper()
		for range 12 {
			junk++
			p.says(number, number, strings.Repeat("la", junk%40+1)+" is junk "+strings.Repeat("x", junk/40))
		}
		junk++
		says(fmt.Sprint("this is junk ", strings.Repeat("y", junk)), "")
	}
	says("hello", "May we keep your number")
	says("1", "What now?")
	for _, wrong := range []string{"wat", "no idea", "come again", "what is it"} {
		says(wrong, "What now?")
	}
	says("tell me", "You can ask Asha")
	says("tell me now", "")
	says("5", "Tool and planting") // an entry of the menu that is still open ends the pause
	says("wat", "type 1-")
	for _, c := range []struct{ text, want string }{{"0", "What now?"}, {"HELP", "rowbell"},
		{"START", "Texts will come again"}, {"MENU", "What now?"}} {
		forged()
		says(c.text, c.want)
		says("another try", "type 1-6")
	}
	forged()
	call()
	says("a text after the call", "type 1-6")
	forged()
	if log := p.log.String(); !strings.Contains(log, "a number is left alone for a while") {
		t.Errorf("a pause is not logged:\n%s", log)
	}
	p.stop()
	p.run("serve", "--listen", "127.0.0.1:0", "--test-clock", aDay.Format(time.RFC3339))
	says("a text after a restart", "")
	db := filepath.Join(p.dir, config.DefaultDB)
	common := "--test-clock=" + aDay.Format(time.RFC3339) + " "
	at := aDay.Add(10 * time.Minute)
	runSteps(t, common, []shellStep{
		{"sending --db " + db, 0, "left alone, like a machine: 1 until (UTC) because of " +
			"+4477…760 " + at.Format("2 Jan 15:04") + " 5 texts in a row that were not understood"},
		{"person --db " + db + " --phone " + number, 0, "not understood in a row: 5 … Left alone until " +
			at.Format(time.RFC3339)},
		{"sending answer --phone x --db " + db, 2, "--phone: this is not a phone number"},
		{"sending answer --phone " + number + " --db " + db, 0, "+4477…760 is answered again"},
		{"sending answer --phone " + number + " --db " + db, 0, "+4477…760 was not left alone"},
	})
	says("a text after staff ended it", "type 1-6")
	forged()
	says("STOP", "No more texts")
	forged()
	says("START", "Texts will come again")
	// A report that quotes our words on a STOP is no STOP; neither is our text that came back.
	for _, said := range []string{"No more texts from rowbell. Your plots stay. Text START to begin again.",
		"Delivered 10:05: No more texts from rowbell. Your plots stay."} {
		says(said, "")
	}
	p.clock(map[string]any{"advance": "1m"})
	if n := p.metric("rowbell_growers_stopped"); n != "0" {
		t.Errorf("%s growers are stopped by our own words", n)
	}
	forged()
	p.clock(map[string]any{"advance": "11m"})
	says("a text after the pause", "You can ask Asha")
	says("another one", "")
	p.clock(map[string]any{"advance": "11m"})
	says("the second pause is longer", "")
	p.clock(map[string]any{"advance": "10m"})
	says("and over now", "You can ask Asha")
}
