package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/service"
	"rowbell/menu/text"
	"rowbell/store"
	"rowbell/store/testrun"
)

// A dialogue is a text file. Its lines say what a person does and, below each such line, what the service answers. The
// test does what the lines say and compares the answers:
//
//	languages en fr            languages of the menu; only English without this line
//	start 2026-11-25 09:00     the time (UTC) at which the clock starts
//	phone +447700900001        the phone that the next lines are about
//	phones +447700900301       six phones with numbers from this one on, one in each language of the menu. Each of the
//	                           next lines is done on all of them, and each answer starts with its language: "fr < ..."
//	people +447700900401 Ana Ben  the phones of several people, with numbers from this one on. Each answer starts with
//	                           the name of the person: "Ana < ...". Texts to all of them are shown as they arrive
//	as Ben                     who does what the next lines say; without it, the first of the people
//	> dial *123#               USSD: dialling, then one entry per line; LANG stands for the number of the phone's
//	                           language on the first screen
//	> 1
//	> code                     enters the code that a screen showed last, for a move to a new number; answers show
//	                           every such code as ######
//	> circle                   enters the number of the circle that was shown last; answers show each as ####
//	> hang up                  the USSD session is cut off
//	< text                     what the screen shows, one line of the screen per line
//	sms > 1                    a text that the grower sends
//	sms of 2026-12-01 23:50 > 1  the same, where the network got the text at that time (UTC) and held it until now
//	sms 2026-12-01 07:00 < ..  a text that arrived at the phone, and when
//	@ +3 days                  the clock moves on, with stops at some hours of each day (stops)
//	@ off 3 days               the clock moves on while the service is stopped
//	@ restart                  the service is killed (SIGKILL) and started again
//	weather cool-days.csv      the operator imports a weather file of the folder testdata/dialogues
//	rowbell move --unlinked    the operator runs a command while the service runs
//	| text                     what the command prints
//
// go test ./cmd/rowbell -run Dialogues -update writes the answers again. Read the new answers as a grower would
// before you commit them.
var update = flag.Bool("update", false, "write the answers of dialogues and golden files anew")

func TestDialogues(t *testing.T) {
	files, err := filepath.Glob("../../testdata/dialogues/*.txt")
	loaded, err2 := filepath.Glob("../rowbell-load/calls/dialogues/*.txt")
	if err := errors.Join(err, err2); err != nil || len(files) == 0 || len(loaded) == 0 {
		t.Fatalf("no dialogues found: %v", err)
	}
	files = append(files, loaded...)
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			t.Parallel()
			want, err := os.ReadFile(file)
			must(t, err)
			got := newDialogue(t).play(string(want))
			if *update {
				must(t, os.WriteFile(file, []byte(got), 0o644))
				return
			}
			if got != string(want) {
				t.Errorf("the answers differ from %s:\n%s", file, firstDifference(string(want), got))
			}
		})
	}
}

// A season of two windows costs at most twelve segments in English, with the texts that answer the grower. The text
// that welcomes the grower comes once, not each season.
func TestSegmentsOfASeason(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/dialogues/two-windows.txt")
	must(t, err)
	segments, texts := 0, 0
	for line := range strings.Lines(string(raw)) {
		_, body, ok := strings.Cut(strings.TrimSpace(line), " < ")
		if ok && strings.HasPrefix(line, "sms ") && !strings.HasPrefix(body, "Welcome") {
			segments += text.NewEncoder().Encode(body).Segments
			texts++
		}
	}
	if texts < 10 || segments > 12 {
		t.Errorf("%d texts take %d segments", texts, segments)
	}
}

// makeRecords makes records without growers at the address of an empty database.
func makeRecords(address string) error {
	s, err := store.Open(context.Background(), address, store.Options{})
	if err != nil {
		return err
	}
	return s.Close()
}

func firstDifference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(w), len(g)) {
		line := func(s []string) string {
			if i < len(s) {
				return s[i]
			}
			return "(end)"
		}
		if line(w) != line(g) {
			return fmt.Sprintf("line %d, after\n%s\nwant %q\ngot  %q", i+1,
				strings.Join(w[max(0, i-6):min(i, len(w))], "\n"), line(w), line(g))
		}
	}
	return ""
}

// player is the service that a dialogue is played against. A *process is one; see there what the methods do.
type player interface {
	start(at time.Time)
	stop()
	kill()
	post(call string, body map[string]any, status int) []byte
	set(at time.Time)
	settle()
	also(args ...string) (out string, err error)
}

type dialogue struct {
	t         *testing.T
	p         player
	behind    func(*process) player // makes the player; nil: the process itself
	process   *process              // that the dialogue made
	languages []string
	clock     time.Time
	phones    []string       // the phones that the next lines are about; with more than one, one in each language
	phone     string         // the phone of phones that acts
	people    []string       // names of the people whose texts are shown; nil: those of phones are shown
	numbers   []string       // phones of the people
	session   map[string]int // by phone: number of USSD sessions so far
	step      map[string]int // by phone: number of entries in the current session
	smsID     int
	code      string // the last code that a screen showed for a move to a new number
	circle    string // the number of the circle that was shown last
	shown     *bytes.Buffer
}

func newDialogue(t *testing.T) *dialogue {
	return &dialogue{t: t, shown: new(bytes.Buffer), session: map[string]int{}, step: map[string]int{}}
}

// play runs a script and returns the script with the answers of this run.
func (d *dialogue) play(script string) string {
	for line := range strings.Lines(script) {
		line = strings.TrimRight(line, "\n")
		if isAnswer(line) {
			continue // play writes the new answer instead
		}
		fmt.Fprintln(d.shown, line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		d.do(line)
		if d.p != nil {
			d.each(func() {})
		}
	}
	d.p.stop()
	return d.shown.String()
}

// answerLine matches what a screen or a command printed and the texts that arrived at a phone, "sms DATE < text" or
// "sms | text", with the language in front if there are phones in several languages.
var answerLine = regexp.MustCompile(`^([a-z]{2} |[A-Z][a-z]+ )?(<|\| |sms [0-9|])`)

func isAnswer(line string) bool { return answerLine.MatchString(line) }

// show writes a line that the current phone shows.
func (d *dialogue) show(format string, args ...any) {
	switch {
	case d.people != nil:
		fmt.Fprint(d.shown, d.people[slices.Index(d.numbers, d.phone)], " ")
	case len(d.phones) > 1:
		fmt.Fprint(d.shown, d.languages[slices.Index(d.phones, d.phone)], " ")
	}
	fmt.Fprintf(d.shown, format, args...)
}

// each does something on each phone, and then shows the texts that arrived at the phone.
func (d *dialogue) each(do func()) {
	for _, d.phone = range d.phones {
		do()
		d.texts()
	}
	actor := d.phone
	for _, d.phone = range d.numbers {
		d.texts()
	}
	d.phone = actor
}

// circleShown matches what names a circle by its number. Every run has another number.
var circleShown = regexp.MustCompile(`(?i)(\bcircle |\bnumber )(\d{4})\b`)

// hideCircle replaces the numbers of circles in an answer.
func (d *dialogue) hideCircle(answer string) string {
	if m := circleShown.FindStringSubmatch(answer); m != nil {
		d.circle = m[2]
	}
	return circleShown.ReplaceAllString(answer, "${1}####")
}

func (d *dialogue) do(line string) {
	word, rest, _ := strings.Cut(line, " ")
	switch word {
	case "start":
		d.start(rest)
	case "languages":
		d.languages = strings.Fields(rest)
	case "phone":
		d.phones = []string{rest}
	case "phones":
		first, err := strconv.Atoi(strings.TrimPrefix(rest, "+"))
		must(d.t, err)
		d.phones = nil
		for i := range d.languages {
			d.phones = append(d.phones, fmt.Sprintf("+%d", first+i))
		}
	case "people":
		names := strings.Fields(rest)
		first, err := strconv.Atoi(strings.TrimPrefix(names[0], "+"))
		must(d.t, err)
		d.people, d.numbers = names[1:], nil
		for i := range d.people {
			d.numbers = append(d.numbers, fmt.Sprintf("+%d", first+i))
		}
		d.phones = d.numbers[:1]
	case "as":
		i := slices.Index(d.people, rest)
		if i < 0 {
			d.t.Fatalf("%q: the line people has no such name", line)
		}
		d.phones = d.numbers[i : i+1]
	case ">":
		d.each(func() {
			language := strconv.Itoa(slices.Index(d.phones, d.phone) + 1)
			d.ussd(strings.Replace(rest, "LANG", language, 1))
		})
	case "sms":
		d.each(func() { d.sms(rest) })
	case "@":
		d.time(line, rest)
	case "weather":
		d.weather(rest)
	case "rowbell":
		d.command(rest)
	default:
		d.t.Fatalf("a dialogue has no line like %q", line)
	}
}

func (d *dialogue) start(when string) {
	at, err := time.ParseInLocation("2006-01-02 15:04", when, time.UTC)
	must(d.t, err)
	d.clock = at
	p := newProcess(d.t, d.languages...)
	if testrun.OnServer() {
		p.db = testrun.Database(d.t, makeRecords)
	} else { // on a server, ids are not given back, so that other ids would be shown
		p.env = []string{service.EnvTwice + "=1"}
		p.makeRecords()
	}
	d.p, d.process = p, p
	if d.behind != nil {
		d.p = d.behind(p)
	}
	d.p.start(at)
}

// sms sends what a line says after the word sms: "> TEXT" or "of TIME > TEXT".
func (d *dialogue) sms(line string) {
	d.smsID++
	sent, text, _ := strings.Cut(line, "> ")
	call := map[string]any{"id": fmt.Sprintf("%s-%d", d.phone, d.smsID), "phone": d.phone, "to": "12345", "text": text}
	if sent != "" {
		at, err := time.ParseInLocation("of 2006-01-02 15:04 ", sent, time.UTC)
		must(d.t, err)
		call["sent_at"] = at.Format(time.RFC3339)
	}
	d.p.post("sms", call, http.StatusAccepted)
	d.p.settle()
}

func (d *dialogue) ussd(entry string) {
	switch entry {
	case "code":
		entry = d.code
	case "circle":
		entry = d.circle
	}
	call := map[string]any{"phone": d.phone, "event": "entry", "entry": entry}
	switch {
	case strings.HasPrefix(entry, "dial "):
		d.session[d.phone]++
		d.step[d.phone] = 0
		call["event"], call["dialled"], call["entry"] = "begin", strings.TrimPrefix(entry, "dial "), ""
	case entry == "hang up":
		d.step[d.phone]++
		call["event"], call["entry"] = "end", ""
	default:
		d.step[d.phone]++
	}
	call["session"], call["step"] = fmt.Sprintf("s%s-%d", d.phone, d.session[d.phone]), d.step[d.phone]
	var reply struct {
		Text string
		More bool
	}
	must(d.t, json.Unmarshal(d.p.post("ussd", call, http.StatusOK), &reply))
	if entry == "hang up" {
		return
	}
	if m := codeShown.FindStringSubmatch(reply.Text); m != nil {
		d.code = m[1]
		reply.Text = strings.Replace(reply.Text, d.code, "######", 1)
	}
	for l := range strings.Lines(d.hideCircle(reply.Text)) {
		d.show("< %s\n", strings.TrimRight(l, "\n"))
	}
	if !reply.More {
		d.show("< (end)\n")
	}
	d.p.settle()
}

// codeShown matches the screen with the code for a move to a new number. Every run has another code.
var codeShown = regexp.MustCompile(`^Code (\d{6})\.`)

var days = regexp.MustCompile(`^(\+|off )(\d+) days?$`)

func (d *dialogue) time(line, rest string) {
	if rest == "restart" {
		d.p.kill()
		d.p.start(d.clock)
		return
	}
	m := days.FindStringSubmatch(rest)
	if m == nil {
		d.t.Fatalf("%q: write @ +3 days, @ off 3 days or @ restart", line)
	}
	n := 0
	fmt.Sscan(m[2], &n)
	to := d.clock.AddDate(0, 0, n)
	if m[1] == "off " {
		d.p.stop()
		d.clock = to
		d.p.start(d.clock)
		d.p.settle()
		return
	}
	for d.clock.Before(to) {
		if d.clock = nextStop(d.clock); d.clock.After(to) {
			d.clock = to
		}
		d.p.set(d.clock)
		d.each(func() {})
	}
}

// stops are the hours of a day at which the clock stops when days pass: in the night, which must stay quiet, at the
// hour of reminders, when questions may come, and in the afternoon. A text that goes out at another hour arrives at the
// stop after it, so it shows.
var stops = []int{5, 7, 9, 17}

func nextStop(now time.Time) time.Time {
	midnight := now.Truncate(24 * time.Hour)
	for _, hour := range stops {
		if stop := midnight.Add(time.Duration(hour) * time.Hour); stop.After(now) {
			return stop
		}
	}
	return midnight.Add(time.Duration(24+stops[0]) * time.Hour)
}

func (d *dialogue) weather(file string) {
	path, err := filepath.Abs(filepath.Join("../../testdata/dialogues", file))
	must(d.t, err)
	if out, err := d.p.also("import", "weather", path, "--today", d.clock.Format(time.DateOnly)); err != nil {
		d.t.Fatalf("import weather %s: %v\n%s", file, err, out)
	}
}

func (d *dialogue) command(line string) {
	out, err := d.p.also(append(strings.Fields(line), "--test-clock", d.clock.Format(time.RFC3339))...)
	d.p.settle()
	for l := range strings.Lines(out) {
		fmt.Fprintf(d.shown, "| %s\n", strings.TrimRight(l, "\n "))
	}
	var failed *exec.ExitError
	switch {
	case errors.As(err, &failed):
		fmt.Fprintf(d.shown, "| (exit code %d)\n", failed.ExitCode())
	case err != nil:
		d.t.Fatalf("%s: %v", line, err)
	}
}

// texts shows the texts that arrived at the current phone.
func (d *dialogue) texts() {
	for _, text := range d.process.inbox.take(d.phone) {
		for i, line := range strings.Split(d.hideCircle(text), "\n") {
			if i == 0 {
				d.show("sms %s < %s\n", d.clock.Format("2006-01-02 15:04"), line)
			} else {
				d.show("sms | %s\n", line)
			}
		}
	}
}
