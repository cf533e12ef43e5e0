package service

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/gateway/bench"
	"rowbell/store/manygrowers"
)

// How the pages of the desk are measured.
const (
	deskTimes  = 40              // how often each page is asked for
	deskEvery  = time.Second     // between pages that are asked for beside steps: sixty people, a page a minute each
	deskRounds = 7               // of steps without pages and beside them, in turn
	deskRound  = 2 * time.Second // how long a round lasts
)

// deskPages are pages of the desk: how they are called, and the path of the i-th time.
var deskPages = []struct {
	name string
	path func(i int) string
}{
	{"this morning", func(int) string { return "/desk/" }},
	{"growers", func(int) string { return "/desk/growers" }},
	{"growers by number", func(i int) string { return fmt.Sprintf("/desk/growers?q=%03d", i*7%1000) }},
	{"growers by name", func(int) string { return "/desk/growers?q=nobody" }},
	{"a grower", func(i int) string { return fmt.Sprintf("/desk/grower/%d", 1+i*13) }},
	{"a plot", func(i int) string { return fmt.Sprintf("/desk/plot/%d", 1+i*13) }},
	{"a conversation", func(i int) string { return fmt.Sprintf("/desk/conversation/%d", 1+i*13) }},
	{"circles", func(int) string { return "/desk/circles" }},
	{"letters", func(int) string { return "/desk/letters" }},
	{"a letter to all", func(int) string { return "/desk/letters/new?chosen=yes" }}, // counts all growers
	{"report", func(int) string { return "/desk/report" }},
	{"places", func(int) string { return "/desk/places" }},
	{"networks", func(int) string { return "/desk/networks" }},
	{"trail", func(int) string { return "/desk/trail" }},
}

// desk measures how long pages take, and how much slower steps are while pages are asked for.
func (g *growing) desk(n int, from string) {
	p := serveOwn(g.B, "service", g.folder, from, n, g.day)
	for _, prepare := range []string{"/ring", "/attention", "/report", "/minute", "/upkeep"} {
		_, err := p.do(prepare, url.Values{"hurry": {"yes"}})
		ok(g.B, err)
	}
	staff, err := p.logIn()
	ok(g.B, err)
	most := 150.0
	if n > 10_000 {
		most = 400
	}
	g.line("")
	g.line("pages of the desk over %d growers, %d times each, ms; p95 at most %.0f, at most 100 kB", n, deskTimes, most)
	g.line("%-18s  %6s %6s %7s  %8s", "page", "p50", "p95", "longest", "kB")
	for _, page := range deskPages {
		took, octets, err := staff.ask(page.path)
		ok(g.B, err)
		p95 := took.Percentile(0.95)
		g.line("%-18s  %6.1f %6.1f %7.1f  %8.1f  %s", page.name, took.Percentile(0.5), p95, took.Percentile(1),
			octets/1000, met(p95 <= most && octets <= 100e3))
	}
	g.besideDesk(p, staff)
	p.end()
}

// besideDesk measures steps without pages and beside them, in turn.
func (g *growing) besideDesk(p *growingProcess, staff *deskReader) {
	var ratio, alone, beside []float64
	asked := 0
	p.ClosedLoop(deskRound)
	for range deskRounds {
		without := p.ClosedLoop(deskRound).Rate
		aloneP99 := p.OpenLoop(growingRate, deskRound).Percentile(0.99)
		stop := staff.browse(&asked)
		with := p.ClosedLoop(deskRound).Rate
		besideP99 := p.OpenLoop(growingRate, deskRound).Percentile(0.99)
		ok(g.B, stop())
		ratio = append(ratio, with/without)
		alone, beside = append(alone, aloneP99), append(beside, besideP99)
	}
	g.line("steps beside a page a second (%d pages): rate %s of that without pages (0.90) %s; at %d a second p99 %s "+
		"ms, without pages %s", asked, span(ratio), met(median(ratio) >= 0.9), growingRate, span(beside), span(alone))
}

// deskReader is somebody who has logged in.
type deskReader struct {
	base   string
	cookie string
	client *http.Client
}

// logIn makes the first account, and returns a reader who uses it.
func (p *growingProcess) logIn() (*deskReader, error) {
	link, err := p.say("/link", nil)
	if err != nil {
		return nil, err
	}
	r := &deskReader{base: p.service, client: &http.Client{
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
	resp, err := r.client.PostForm(p.service+"/desk/join/"+link, url.Values{"name": {"operator"},
		"password": {"three green rows of rice"}, "again": {"three green rows of rice"}})
	if err != nil {
		return nil, err
	}
	resp.Body.Close()
	for _, c := range resp.Cookies() {
		r.cookie = c.Name + "=" + c.Value
	}
	if r.cookie == "" {
		return nil, fmt.Errorf("nobody was logged in: %s", resp.Status)
	}
	return r, nil
}

// get asks for a page and returns how long it took and its length.
func (r *deskReader) get(path string) (time.Duration, int64, error) {
	req, err := http.NewRequest(http.MethodGet, r.base+path, nil)
	if err != nil {
		return 0, 0, err
	}
	req.Header.Set("Cookie", r.cookie)
	began := time.Now()
	resp, err := r.client.Do(req)
	if err != nil {
		return 0, 0, err
	}
	defer resp.Body.Close()
	octets, err := io.Copy(io.Discard, resp.Body)
	took := time.Since(began)
	if err == nil && resp.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s: %s", path, resp.Status)
	}
	return took, octets, err
}

// ask asks for a page some times. octets is the length of the longest answer.
func (r *deskReader) ask(path func(i int) string) (all bench.Took, octets float64, err error) {
	var list []time.Duration
	for i := range deskTimes {
		took, n, err := r.get(path(i))
		if err != nil {
			return all, 0, err
		}
		list, octets = append(list, took), max(octets, float64(n))
	}
	return bench.TookOf(list), octets, nil
}

// browse asks for one page after the other until stop is called.
func (r *deskReader) browse(asked *int) (stop func() error) {
	var over atomic.Bool
	ended := make(chan error, 1)
	go func() {
		var failed error
		next := time.Now()
		for i := 0; !over.Load(); i++ {
			time.Sleep(time.Until(next))
			next = next.Add(deskEvery)
			page := deskPages[i%len(deskPages)]
			_, _, err := r.get(page.path(i))
			failed = errors.Join(failed, err)
			*asked++
		}
		ended <- failed
	}()
	return func() error { over.Store(true); return <-ended }
}

// Every page that BenchmarkGrowing asks for is there. This measures no time.
func TestDeskPagesAreThere(t *testing.T) {
	const growers, today = 100, engine.Day(20605) // 1 June 2026
	folder := t.TempDir()
	from, err := manygrowers.File(t.Context(), folder, growers, today)
	ok(t, err)
	p := serveOwn(t, "service", folder, from, growers, today)
	staff, err := p.logIn()
	ok(t, err)
	for _, page := range deskPages {
		if _, octets, err := staff.get(page.path(1)); err != nil || octets < 500 {
			t.Errorf("%s: %d octets, %v", page.name, octets, err)
		}
	}
}
