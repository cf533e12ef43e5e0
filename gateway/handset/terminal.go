package handset

import (
	"bufio"
	"cmp"
	"context"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"
)

const terminalHelp = `*123#         dial this code, or another such as *123*1#
dial          dial the service's own code
DIGITS        answer the screen
hang          hang up
sms TEXT      send a text to the service
inbox         read the texts
day [N]       go on one day, or N
next          go on until this phone gets a text
season        this phone's seasons, a letter a day
circle        the turns of this phone's circle, and what its members were told
phone [N]     list the phones, or pick one up by number; phone new
again         begin again: all phones go back to the first day
help          this list
quit          leave
`

// Terminal is practice on a terminal. Each line of input is a command. The output depends only on the commands.
type Terminal struct {
	room  *Room
	out   io.Writer
	phone Phone // the phone to which the commands apply
	err   error // error of the first write to out that failed
}

// NewTerminal returns a terminal that writes to out.
func NewTerminal(room *Room, out io.Writer) *Terminal { return &Terminal{room: room, out: out} }

// Run selects the first phone and runs the commands in in, until the command quit, the end of in, or the end of ctx. It
// prints the error of a command and continues. It returns only errors of reading and writing.
func (t *Terminal) Run(ctx context.Context, in io.Reader) error {
	phones, err := t.room.Phones(ctx)
	if err != nil {
		return err
	}
	if len(phones) > 0 {
		t.phone = phones[0]
	} else if t.phone, err = t.room.NewPhone(ctx); err != nil {
		return err
	}
	t.printf("Practice: nothing is sent, and the people are invented. Type help.\n")
	t.today()
	t.picked()
	lines := readLines(ctx, in)
	for t.err == nil {
		t.printf("> ")
		line := inputLine{end: true}
		select {
		case line = <-lines:
		case <-ctx.Done():
		}
		word, rest, _ := strings.Cut(strings.TrimSpace(line.text), " ")
		switch {
		case line.end:
			t.printf("\n")
			return cmp.Or(t.err, line.err)
		case word == "quit" || word == "q":
			return t.err
		}
		if err := t.do(ctx, word, strings.TrimSpace(rest)); err != nil {
			t.printf("%v\n", err)
		}
	}
	return t.err
}

// inputLine is one line of the input, or the end of the input.
type inputLine struct {
	text string
	end  bool
	err  error
}

// readLines sends the lines of in to the channel that it returns. It reads in a goroutine of its own, so that Run can
// stop when ctx ends although nobody types. The goroutine stops at the end of in, or when a Scan returns after the end
// of ctx.
func readLines(ctx context.Context, in io.Reader) <-chan inputLine {
	lines := make(chan inputLine)
	go func() {
		scan := bufio.NewScanner(in)
		for more := true; more; {
			more = scan.Scan()
			select {
			case lines <- inputLine{text: scan.Text(), end: !more, err: scan.Err()}:
			case <-ctx.Done():
				return
			}
		}
	}()
	return lines
}

func (t *Terminal) do(ctx context.Context, word, rest string) error {
	switch word {
	case "":
		return nil
	case "help", "?":
		t.printf("%s", terminalHelp)
		return nil
	case "dial":
		screen, err := t.room.Dial(ctx, t.phone.Number, rest)
		return t.screen(ctx, screen, err)
	case "hang":
		return t.unread(ctx, t.room.Hang(ctx, t.phone.Number))
	case "sms":
		return t.sms(ctx, rest)
	case "inbox":
		return t.inbox(ctx)
	case "day":
		return t.days(ctx, rest)
	case "next":
		return t.next(ctx)
	case "season":
		return t.seasons(ctx)
	case "circle":
		return t.circle(ctx)
	case "phone":
		return t.pick(ctx, rest)
	case "again":
		return t.again(ctx)
	}
	if !isCode(word) && !t.room.Screen(t.phone.Number).Open {
		t.printf("%q is not a command, and no call is open. Type help.\n", word)
		return nil
	}
	screen, err := t.room.Call(ctx, t.phone.Number, strings.TrimSpace(word+" "+rest))
	return t.screen(ctx, screen, err)
}

func (t *Terminal) sms(ctx context.Context, text string) error {
	if text == "" {
		t.printf("Type the text after sms.\n")
		return nil
	}
	return t.unread(ctx, t.room.Send(ctx, t.phone.Number, text))
}

// unread prints the unread texts and marks them as read. If err is not nil, unread only returns err.
func (t *Terminal) unread(ctx context.Context, err error) error {
	if err != nil {
		return err
	}
	_, err = t.entries(ctx, func(e Entry) bool { return e.New })
	return err
}

func (t *Terminal) inbox(ctx context.Context) error {
	n, err := t.entries(ctx, func(Entry) bool { return true })
	if err == nil && n == 0 {
		t.printf("No texts.\n")
	}
	return err
}

// entries prints the texts for which show returns true. It marks all texts as read and returns how many it printed.
func (t *Terminal) entries(ctx context.Context, show func(Entry) bool) (n int, err error) {
	book, err := t.room.Notebook(ctx, t.phone.Number)
	if err != nil {
		return 0, err
	}
	for _, e := range book {
		if show(e) {
			t.entry(e)
			n++
		}
	}
	return n, t.room.Read(ctx, t.phone.Number)
}

func (t *Terminal) entry(e Entry) {
	mark := map[bool]string{true: "*", false: " "}[e.New]
	from := map[bool]string{true: "you", false: "rowbell"}[e.Mine]
	t.printf("%s %s, from %s\n", mark, e.At.Format("Mon 2 Jan"), from)
	t.block("    ", e.Body)
}

func (t *Terminal) days(ctx context.Context, count string) error {
	n := 1
	if count != "" {
		var err error
		if n, err = strconv.Atoi(count); err != nil || n < 1 || n > MaxSearchDays {
			t.printf("How many days: a number from 1 to %d.\n", MaxSearchDays)
			return nil
		}
	}
	for range n {
		if err := t.room.NextDay(ctx); err != nil {
			return err
		}
	}
	t.today()
	return t.unread(ctx, nil)
}

func (t *Terminal) next(ctx context.Context) error {
	search, err := t.room.NextText(ctx, t.phone.Number)
	if err != nil {
		return err
	}
	t.today()
	if search.End != TextCame {
		t.block("", search.String())
	}
	return t.unread(ctx, nil)
}

func (t *Terminal) again(ctx context.Context) error {
	if err := t.room.BeginAgain(ctx); err != nil {
		return err
	}
	t.today()
	return t.pick(ctx, t.phone.Number)
}

func (t *Terminal) seasons(ctx context.Context) error {
	plots, err := t.room.Plots(ctx, t.phone.Number)
	if err != nil {
		return err
	}
	if len(plots) == 0 {
		t.printf("This phone has no plot. Dial to register one.\n")
	}
	for _, p := range plots {
		s, err := summarize(p, t.room.today())
		if err != nil {
			return err
		}
		t.block("", s.Title+". "+s.Line)
		t.printf("%s\n", strings.Join(inLines(s.Letters), "\n"))
	}
	if len(plots) > 0 {
		t.printf("%s\n", letterKey)
	}
	return nil
}

func (t *Terminal) circle(ctx context.Context) error {
	c, in, err := t.room.circleOf(ctx, t.phone.Number)
	if err != nil {
		return err
	}
	if !in {
		t.printf("This phone's owner is in no circle.\n")
		return nil
	}
	t.printf("%s.\n", c.Title)
	if c.News != "" {
		t.block("", c.News)
	}
	for _, tool := range c.Tools {
		if tool.Broken {
			t.printf("%s is broken.\n", c.toolName(tool.ID))
		}
	}
	for _, m := range c.Members {
		t.printf("%s  %s\n", m.Name, m.Turn)
		if m.Told.Body != "" {
			t.block("    ", m.Told.At.Format("2 Jan: ")+m.Told.Body)
		}
	}
	return nil
}

func (t *Terminal) pick(ctx context.Context, which string) error {
	switch which {
	case "":
		phones, err := t.room.Phones(ctx)
		if err != nil {
			return err
		}
		for i, p := range phones {
			t.printf("%2d  %s  %s\n", i+1, p.Number, p.Name)
			t.block("    ", p.About)
		}
		return nil
	case "new":
		p, err := t.room.NewPhone(ctx)
		if err != nil {
			return err
		}
		t.phone = p
	default:
		p, ok, err := t.room.Phone(ctx, which)
		if err != nil {
			return err
		}
		if !ok {
			t.printf("No phone %q. Type phone for the list.\n", which)
			return nil
		}
		t.phone = p
	}
	t.picked()
	return nil
}

func (t *Terminal) picked() {
	t.printf("Phone %s  %s\n", t.phone.Number, t.phone.Name)
	t.block("    ", t.phone.About)
}

func (t *Terminal) today() { t.printf("%s\n", t.room.Now().Format("Monday 2 January 2006")) }

// screen prints a screen, says if the dialogue has ended, and prints the texts that came meanwhile.
func (t *Terminal) screen(ctx context.Context, s Screen, err error) error {
	if err != nil {
		return err
	}
	t.block("  | ", s.Text)
	if !s.Open {
		t.printf("  (the call is over)\n")
	}
	return t.unread(ctx, nil)
}

// columns is the width of the output: the usual width of a terminal.
const columns = 80

// block prints a text with the margin before each of its lines. A line that is too long is broken between words.
func (t *Terminal) block(margin, text string) {
	for line := range strings.SplitSeq(text, "\n") {
		for _, part := range wrap(line, columns-len(margin)) {
			t.printf("%s\n", strings.TrimRight(margin+part, " "))
		}
	}
}

// wrap breaks a line at spaces into parts of at most width letters. A longer word stays whole.
func wrap(line string, width int) (parts []string) {
	if utf8.RuneCountInString(line) <= width {
		return []string{line}
	}
	for _, word := range strings.Fields(line) {
		last := len(parts) - 1
		if last >= 0 && utf8.RuneCountInString(parts[last]+" "+word) <= width {
			parts[last] += " " + word
		} else {
			parts = append(parts, word)
		}
	}
	return parts
}

func (t *Terminal) printf(format string, args ...any) {
	if _, err := fmt.Fprintf(t.out, format, args...); err != nil && t.err == nil {
		t.err = err
	}
}
