package configtest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// Step is a file of a sample network's dialogue. The dialogue is the files .http, .push and .texts of the network in
// the order of their names.
type Step struct {
	File string
	Kind string    // .http: a recorded request; .push: texts go out; .texts: what became of all texts
	At   time.Time // of .push: the clock is set to this time before; zero: it stays
}

// Dialogue returns the steps of a sample network. whole is true if texts go out in it.
func Dialogue(t testing.TB, name string) (steps []Step, whole bool) {
	t.Helper()
	for _, kind := range []string{".http", ".push", ".texts"} {
		files, err := filepath.Glob(filepath.Join(Samples(), name, "*"+kind))
		OK(t, err)
		for _, file := range files {
			s := Step{File: file, Kind: kind}
			if day := dayInName.FindString(filepath.Base(file)); day != "" {
				at, err := time.Parse(time.DateOnly, day)
				OK(t, err)
				s.At = at.Add(SampleTime.Sub(SampleTime.Truncate(24 * time.Hour)))
			}
			steps = append(steps, s)
			whole = whole || kind == ".push"
		}
	}
	slices.SortFunc(steps, func(a, b Step) int { return strings.Compare(a.File, b.File) })
	return steps, whole
}

var dayInName = regexp.MustCompile(`\d{4}-\d\d-\d\d`)

// Network takes the texts that a service sends to a sample network, and answers each with the same recorded answer.
type Network struct {
	server *httptest.Server
	mu     sync.Mutex
	got    []string
	answer []byte
}

// NewNetwork starts a network that ends with the test.
func NewNetwork(t testing.TB) *Network {
	t.Helper()
	n := &Network{}
	n.server = httptest.NewServer(n)
	t.Cleanup(n.server.Close)
	return n
}

// Description returns the sample's rowbell.toml, in which texts go to n.
func (n *Network) Description(t testing.TB, name string) string {
	t.Helper()
	return strings.ReplaceAll(Sample(t, name+".toml"), "https://"+name+".example", n.server.URL)
}

// Expect prepares for the step NAME-ANSWER.push, whose texts are answered with push-ANSWER.response.
func (n *Network) Expect(t testing.TB, s Step) {
	t.Helper()
	answer := strings.TrimSuffix(s.File[strings.LastIndexByte(s.File, '-')+1:], s.Kind)
	b, err := os.ReadFile(filepath.Join(filepath.Dir(s.File), "push-"+answer+".response"))
	OK(t, err)
	n.mu.Lock()
	defer n.mu.Unlock()
	n.answer = bytes.Replace(b, []byte("\n"), []byte("\nConnection: close\n"), 1)
	n.got = nil
}

// Got returns the requests since Expect, as the file .push has them: sorted, because texts go out side by side, and
// without the keyed hashes in ids, whose key is new with the records.
func (n *Network) Got() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	slices.Sort(n.got)
	return strings.Join(n.got, "\n")
}

var hashInID = regexp.MustCompile(`\b((?:note|reply)(?::|%3A)[a-z]+(?::|%3A))[0-9a-f]{24}`)

func (n *Network) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	n.mu.Lock()
	defer n.mu.Unlock()
	body, err := io.ReadAll(r.Body)
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s\n", r.Method, r.URL.RequestURI())
	for _, name := range slices.Sorted(maps.Keys(r.Header)) {
		if !slices.Contains([]string{"Accept-Encoding", "Content-Length", "User-Agent"}, name) {
			fmt.Fprintf(&b, "%s: %s\n", name, strings.Join(r.Header[name], ", "))
		}
	}
	fmt.Fprintf(&b, "\n%s\n", body)
	conn, _, hijackErr := http.NewResponseController(w).Hijack()
	if err = errors.Join(err, hijackErr); err == nil {
		_, err = conn.Write(n.answer)
		_ = conn.Close() // the answer says how long it is
	}
	if err != nil {
		fmt.Fprintln(&b, "broken:", err)
	}
	n.got = append(n.got, hashInID.ReplaceAllString(b.String(), "$1(hash)"))
}
