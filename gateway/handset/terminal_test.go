package handset

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"unicode/utf8"
)

func TestTerminal(t *testing.T) {
	tests := []struct {
		name, in string
		want     []string // texts that the output must contain, in this order
	}{
		{"opens with the date and the first phone", "",
			[]string{"Practice: nothing is sent", "Monday 1 June 2026", "00900001  Asha\n    Plot 1, <well>: "}},
		{"dial, answer, leave", "dial\n1\n0\n", []string{
			"  | You dialled *123#\n  | 1 Check a plot", "  | You chose 1", "  | Goodbye <b>\n  (the call is over)",
		}},
		{"dial a longer code", "dial *123*1#\n", []string{"You dialled *123*1#"}},
		{"dial as on a phone", "*123#\n1\n*123*1#\n",
			[]string{"You dialled *123#", "You chose 1", "You dialled *123*1#"}},
		{"answers may hold spaces", "dial\n12 march\n", []string{"You chose 12 march"}},
		{"no call, no answer", "1\n", []string{`"1" is not a command, and no call is open`}},
		{"hang up", "dial\nhang\n1\n", []string{"You dialled", "no call is open"}},
		{"a text and its day", "next\nnext\ninbox\n", []string{
			"Wednesday 3 June 2026\n* Wed 3 Jun, from rowbell\n    Look at <i>the plot</i>.",
			"Saturday 6 June 2026", "  Fri 29 May, from rowbell\n    Welcome.", "  Wed 3 Jun",
		}},
		{"write one", "sms 1\nsms\ninbox\n", []string{"Type the text after sms.", "from you\n    1"}},
		{"days", "day 30\nday\nday 0\nday 201\nday x\n", []string{
			"Wednesday 1 July 2026", "Thursday 2 July 2026",
			"a number from 1 to 200", "a number from 1 to 200", "a number from 1 to 200",
		}},
		{"phones", "phone\nphone 2\nphone +447700900001\nphone new\nphone 77\n", []string{
			" 2  +447700900002  Bento\n    No plot yet.", "Phone +447700900002", "Phone +447700900001",
			"Phone +447700900101", `No phone "77"`,
		}},
		{"nothing can come", "phone 2\nnext\n",
			[]string{"Monday 1 June 2026\nThis phone has no plot, so no text comes."}},
		{"the end of the season", "day 90\nnext\n", []string{"The season is over, so no text comes."}},
		{"begin again", "day 90\nphone 1\nagain\n",
			[]string{"the season is over", "Monday 1 June 2026", "Plot 1, <well>: "}},
		{"no plot, no season", "phone 2\nseason\n", []string{"This phone has no plot."}},
		{"the season in letters", "season\n", []string{"Plot 1, <well>. ", "P---", "[", "planted P"}},
		{"a missed window stays in the letters", "day 14\nseason\n", []string{"P---", "-xxx", "=*", "missed x"}},
		{"the help names the season", "help\n", []string{"\nseason  "}},
		{"help", "help\n", []string{"*123#", "again", "quit"}},
		{"a failure does not end it", "dial\n9\nday\n", []string{"500", "Tuesday 2 June 2026"}},
		{"quit", "quit\ndial\n", []string{"> "}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			room, _, s := newTestRoom(t)
			var out strings.Builder
			ok(t, NewTerminal(room, &out).Run(t.Context(), strings.NewReader(tt.in)))
			rest := out.String()
			for _, want := range tt.want {
				_, after, ok := strings.Cut(rest, want)
				if !ok {
					t.Fatalf("no %q, in its place, in:\n%s", want, out.String())
				}
				rest = after
			}
			if tt.name == "quit" && len(s.take("path")) != 0 {
				t.Error("it went on after quit")
			}
		})
	}
}

func TestTerminalStopsWhenNobodyReads(t *testing.T) {
	room, _, _ := newTestRoom(t)
	if err := NewTerminal(room, torn{}).Run(t.Context(), strings.NewReader("help\nhelp\n")); !errors.Is(err, errTorn) {
		t.Errorf("a closed output ended it with %v", err)
	}
}

var errTorn = errors.New("torn")

type torn struct{}

func (torn) Write([]byte) (int, error) { return 0, errTorn }

func TestTerminalEndsWithItsContext(t *testing.T) {
	room, _, _ := newTestRoom(t)
	ctx, cancel := context.WithCancel(t.Context())
	silent, typist := io.Pipe() // an input on which nobody types a line
	defer typist.Close()
	ended := make(chan error)
	go func() { ended <- NewTerminal(room, io.Discard).Run(ctx, silent) }()
	cancel()
	if err := <-ended; err != nil {
		t.Errorf("it ended with %v", err)
	}
}

func TestWrap(t *testing.T) {
	for _, c := range []struct {
		line  string
		width int
		want  string // the parts, separated by "|"
	}{
		{"", 5, ""},
		{"a short one", 11, "a short one"},
		{"a line of words", 8, "a line|of words"},
		{"breaksnowhere in it", 6, "breaksnowhere|in it"},
		{"धान में दो पत्ते", 7, "धान में|दो|पत्ते"},
	} {
		if got := strings.Join(wrap(c.line, c.width), "|"); got != c.want {
			t.Errorf("%q in %d: %q, want %q", c.line, c.width, got, c.want)
		}
	}
	room, _, s := newTestRoom(t)
	typed := strings.NewReader("phone\nhelp\nseason\nday 80\nseason\nnext\n")
	ok(t, NewTerminal(room, &out{t: t}).Run(t.Context(), typed))
	if len(s.take("path")) != 0 {
		t.Error("the service was called")
	}
}

// out fails the test if a line that it gets is wider than a terminal.
type out struct{ t *testing.T }

func (o *out) Write(b []byte) (int, error) {
	for line := range strings.SplitSeq(string(b), "\n") {
		if utf8.RuneCountInString(line) > columns {
			o.t.Errorf("a line of %d letters: %q", utf8.RuneCountInString(line), line)
		}
	}
	return len(b), nil
}
