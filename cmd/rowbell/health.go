package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"
)

// healthCmd is rowbell health: for a container that has nothing else to ask
// with, and for an operator.
type healthCmd struct {
	URL string `name:"url" default:"http://127.0.0.1:8080/readyz" help:"What to ask."`
}

// maxSaid bounds what is read of the answer.
const maxSaid = 16 << 10

// Run prints what the service says of itself, and fails where that is not that
// it is ready.
func (c *healthCmd) Run(w *world) error {
	ctx, cancel := context.WithTimeout(w.ctx, 5*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, c.URL, nil)
	if err != nil {
		return err
	}
	req.Header.Set("Accept", "text/plain")
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return errors.New("the service does not answer: it does not run, or listens at another address (--url)")
	}
	defer resp.Body.Close()
	said, _ := io.ReadAll(io.LimitReader(resp.Body, maxSaid)) // what broke off is said as far as it goes
	ours := strings.HasPrefix(resp.Header.Get("Content-Type"), "text/plain")
	if resp.StatusCode == http.StatusOK {
		if ours {
			fmt.Fprint(w.out, printed(said))
		}
		return nil
	}
	if !ours {
		return fmt.Errorf("the service answers %s", resp.Status)
	}
	reasons := failing(printed(said))
	return fmt.Errorf("the service is not well: %s", cmp.Or(strings.Join(reasons, "; "), resp.Status))
}

// failing are the lines of checks that are not well, and the notes.
func failing(said string) []string {
	var list []string
	for i, line := range strings.Split(strings.TrimSpace(said), "\n") {
		if i > 0 && !strings.HasSuffix(line, ": ok") {
			list = append(list, line)
		}
	}
	return list
}

// printed keeps what would move the cursor of a terminal out of it.
func printed(b []byte) string {
	return strings.Map(func(r rune) rune {
		if r == '\n' || r >= ' ' && r != 0x7f {
			return r
		}
		return -1
	}, string(b))
}
