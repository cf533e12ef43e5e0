package gateway_test

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
)

// callers returns n or more connections, which hold dialogues with the server. They use a minimal HTTP client,
// because they share the machine with the server.
func (s *bench) callers(n int) []*caller {
	s.b.Helper()
	for len(s.list) < n {
		conn := must(net.Dial("tcp", s.addr))
		s.b.Cleanup(func() { conn.Close() })
		s.list = append(s.list, &caller{all: s, conn: conn, in: bufio.NewReader(conn)})
	}
	return s.list
}

// talk is what a grower types in one session, and what the last screen says.
type talk struct {
	entries []string
	end     string
}

// Six in ten log a pass, three read the dates, one registers a plot.
var (
	talkPass = talk{[]string{"3", "1", "1", "1"}, "Logged"}
	talkDate = talk{[]string{"2", "3"}, "Planted"}
	talkPlot = talk{[]string{"1", "1", "14/5", "1", "1", "1", "20x30"}, "Saved"}
	talks    = [10]*talk{
		&talkPass, &talkDate, &talkPass, &talkDate, &talkPass, &talkDate, &talkPass, &talkPass, &talkPlot, &talkPass,
	}
)

// caller is one connection, which holds one dialogue after another, from the dialled code
// to the end of the session.
type caller struct {
	all  *bench
	conn net.Conn
	in   *bufio.Reader

	talk    *talk // nil: between two
	phone   string
	session int64
	step    int

	out, body, reply []byte // buffers, used again
}

// next makes one callback and reads its answer.
func (c *caller) next() {
	if c.talk == nil {
		c.session = c.all.begun.Add(1)
		grower := int(c.session * 7919 % benchGrowers) // not in the order on disk
		c.talk, c.phone, c.step = talks[grower%len(talks)], "%2B"+benchPhone(grower).E164()[1:], 0
	}
	event, entry := "entry", ""
	switch n := c.step - 1; {
	case n < 0:
		event = "begin"
	case n < len(c.talk.entries):
		entry = c.talk.entries[n]
	default:
		event = "end"
	}
	c.body = fmt.Appendf(c.body[:0], "phone=%s&session=s%d&step=%d&event=%s&entry=%s",
		c.phone, c.session, c.step, event, entry)
	c.out = fmt.Appendf(c.out[:0], "POST /in/local/ussd HTTP/1.1\r\nHost: rowbell\r\nAuthorization: Bearer "+token+
		"\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: %d\r\n\r\n%s", len(c.body), c.body)
	if err := c.call(); err != nil {
		c.all.b.Errorf("step %d of %v: %v", c.step, c.talk.entries, err)
	}
	if c.all.check && c.step == len(c.talk.entries) && !bytes.Contains(c.reply, []byte(c.talk.end)) {
		c.all.b.Errorf("after %v: %s", c.talk.entries, c.reply)
	}
	if c.step++; event == "end" {
		c.talk = nil
	}
}

// call sends a request and reads the answer, which must be 200.
func (c *caller) call() error {
	if _, err := c.conn.Write(c.out); err != nil {
		return err
	}
	resp, err := http.ReadResponse(c.in, nil)
	if err != nil {
		return err
	}
	c.reply, err = io.ReadAll(resp.Body)
	if err == nil && resp.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s %s", resp.Status, c.reply)
	}
	return err
}
