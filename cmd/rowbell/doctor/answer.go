package doctor

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httputil"
	"net/textproto"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
)

// Answers prints what recorded answers to a push mean by the description of the network, and what would be done with
// the text.
func Answers(out io.Writer, c config.Config, env func(string) string, rec Recording) error {
	networks, err := c.Networks(env)
	if err != nil {
		return err
	}
	n, err := named(networks, rec.Network)
	if err != nil {
		return err
	}
	if n.Push.URL == "" {
		return fmt.Errorf("the network %s sends no texts: it has no push.url", rec.Network)
	}
	for _, file := range rec.Files {
		raw, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		a, err := readAnswer(raw)
		if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		printAnswer(out, filepath.Base(file), n.Push, a, rec.Now)
	}
	return nil
}

func printAnswer(out io.Writer, name string, p profile.Push, a profile.Answer, now time.Time) {
	v := p.Understand(a)
	rule := "push." + v.Rule
	if v.Rule == profile.StatusRule {
		rule = fmt.Sprintf("the status %d alone", a.Status)
	}
	id := "none"
	if v.ID != "" {
		id = strconv.Quote(v.ID)
	}
	fmt.Fprintf(out, "%s\n  means     %s\n  by        %s\n", name, v.Outcome, rule)
	if v.Why != "" {
		fmt.Fprintf(out, "  because   %s\n", v.Why)
	}
	found, missing, there := p.Compared(a)
	if len(found) > 0 && v.Outcome == profile.MaybeSent && v.Rule == "outcomes" {
		fmt.Fprintf(out, "  found     %s\n", strings.Join(found, ", "))
	}
	if len(missing) > 0 && len(there) > 0 && (v.Outcome == profile.MaybeSent || v.Outcome == profile.Taken) {
		fmt.Fprintf(out, "  missing   %s\n  there     %s\n", strings.Join(missing, ", "), strings.Join(there, ", "))
	}
	fmt.Fprintf(out, "  id        %s\n  the text  %s\n", id, fate(p, v))
	if v.Outcome == profile.Again || v.Outcome == profile.MaybeSent && p.Idempotent {
		switch wait, wrong := push.RetryAfter(a.Header.Get("Retry-After"), now); {
		case wrong:
			fmt.Fprintln(out, "  wait      as usual: Retry-After is neither seconds nor a date within 30 days")
		case wait > 0:
			fmt.Fprintf(out, "  wait      %s at least, by Retry-After\n", wait.Truncate(time.Second))
		}
	}
	fmt.Fprintln(out)
}

// fate says what the service does with a text whose push got this verdict.
func fate(p profile.Push, v profile.Verdict) string {
	switch {
	case v.Outcome == profile.Taken && !p.Proves():
		return "is accepted; the page of a proxy would be too: describe push.success"
	case v.Outcome == profile.Taken:
		return "is accepted"
	case v.Outcome == profile.Again:
		return "is sent again later, by any network of its route"
	case v.Outcome == profile.Never:
		return "is refused"
	case v.Outcome == profile.NoSuchNumber:
		return "is refused, and its number gets no texts until it is heard from"
	case p.Idempotent:
		return "is sent again later with the same id, by this network only"
	}
	return "ends as unknown, because the network is not idempotent; a receipt still settles it"
}

var statusLine = regexp.MustCompile(`^HTTP/[0-9](?:\.[0-9])? ([1-5][0-9]{2})(?: .*)?$`)

var errNoAnswer = errors.New("this is not a recorded HTTP answer: " +
	"a line such as HTTP/1.1 200 OK, headers, an empty line, the body")

// readAnswer parses a recorded answer: the head with lines ended by CRLF or LF, an empty line, and the body. Interim
// answers before it, such as 100, are skipped.
func readAnswer(raw []byte) (a profile.Answer, err error) {
	const maxRecorded = 4 * profile.MaxAnswer
	if len(raw) > maxRecorded {
		return a, fmt.Errorf("the answer is larger than %d KiB", maxRecorded>>10)
	}
	for a.Status < 200 {
		head := textproto.NewReader(bufio.NewReader(bytes.NewReader(raw)))
		line, err := head.ReadLine()
		m := statusLine.FindStringSubmatch(strings.TrimRight(line, " "))
		if err != nil || m == nil {
			return a, errNoAnswer
		}
		a.Status, _ = strconv.Atoi(m[1]) // three digits
		header, err := head.ReadMIMEHeader()
		if err != nil && !errors.Is(err, io.EOF) {
			return a, errNoAnswer
		}
		a.Header = http.Header(header)
		// The body begins after the first empty line. What the reader has buffered does not say where that is.
		end := emptyLine.FindIndex(raw)
		if end == nil {
			end = []int{len(raw), len(raw)}
		}
		raw = raw[end[1]:]
	}
	setBody(&a, raw)
	return a, nil
}

var emptyLine = regexp.MustCompile(`\r?\n\r?\n`)

// setBody sets the body of a as the service would get it: without chunks and not compressed. A program that recorded
// the answer may have removed the chunks and the compression and left their headers.
func setBody(a *profile.Answer, body []byte) {
	length, err := strconv.Atoi(a.Header.Get("Content-Length"))
	known := err == nil && length >= 0
	if strings.EqualFold(a.Header.Get("Transfer-Encoding"), "chunked") {
		if whole, err := io.ReadAll(httputil.NewChunkedReader(bytes.NewReader(body))); err == nil {
			body, known = whole, false
		}
	}
	if strings.EqualFold(a.Header.Get("Content-Encoding"), "gzip") {
		known = false
		a.Header.Del("Content-Encoding")
		if bytes.HasPrefix(body, []byte{0x1f, 0x8b}) { // RFC 1952 section 2.3.1
			z, err := gzip.NewReader(bytes.NewReader(body))
			if err == nil {
				body, err = io.ReadAll(io.LimitReader(z, profile.MaxAnswer+1))
			}
			if err != nil {
				a.Broken = profile.BreaksOff
			}
		}
	}
	switch {
	case known && len(body) < length:
		a.Broken = profile.BreaksOff
	case known:
		body = body[:length]
	}
	a.Body = body
	if len(body) > profile.MaxAnswer {
		a.Broken = profile.TooLong
	}
}
