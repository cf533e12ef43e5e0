package stack

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"

	"rowbell/store"
)

// Options say what runs.
type Options struct {
	Program   string // path of rowbell
	Folder    string // holds the records, unless they are on a server, and the logs
	DB        string // address of an empty database on a server of this machine; "" = a file in the folder
	Processes int    // more than one only with DB

	// TestClock is where the clock begins, which then only SetClock moves; zero: the clock of the machine.
	TestClock time.Time
	// Zone is the time zone of the growers' place, by its IANA name.
	Zone string
}

// Stack is the processes that run.
type Stack struct {
	o         Options
	processes []*process
	net       *Network
	client    *http.Client
	next      atomic.Uint64
	now       atomic.Int64 // of the test clock, in Unix seconds
}

// token is what the network identifies itself with.
const token = "river-stone-of-the-load"

// settings are the configuration: a place at 25 °C all year round and one that is five degrees cooler, as in the
// readable dialogues; a network that recognises a text that it gets twice and one that does not; no limits on calls.
const settings = `
db = %q
process = %q
dial_code = "*123#"
sender = "12345"
contact = "Asha, +447700900123"
[place]
zone = %q
latitude = 15.0
elevation_m = 40.0
morning_hour = 7
soil = "medium"
learning = false
prices = { currency = "tal", tool = 3000, tool_salvage = 300, tool_years = 8, interest_year = 0.2, hire_day = 150,` +
	` service_ha = 9000, labour_day = 400, family_day = 250, seasons_year = 2 }
months = [
%s]
[[places]]
name = "hills"
elevation_m = 900.0
months = [
%s]
[[units]]
name = "katha"
m2 = 66.9
[texts]
languages = ["en"]
[limits]
calls_a_minute = 0
open_sessions = 0
number = { calls_a_minute = 0, open_sessions = 0 }
%s
[[routes]]
prefix = ""
through = [%q]
[[routes]]
prefix = %q
through = [%q]
`

// Names of the two networks.
const (
	Recognises = "plover" // takes a text that it gets twice under one id only once
	TakesTwice = "dunlin" // takes it twice, so that rowbell must not send it again
)

const gatewaySettings = `
[gateways.%s]
trust = { by = "bearer", secrets = ["ROWBELL_LOAD_TOKEN"] }
[gateways.%[1]s.push]
url = "%s/%[1]s"
type = "application/json"
body = '{"ID":"{{.ID}}","To":"{{.To}}","Text":"{{.Text}}"}'
rate = 0
concurrency = 8
idempotent = %[3]t
`

// Phone returns the number of the i-th grower, from 0 to 999,999. Every second one is of the network TakesTwice. The
// numbers begin as those that are reserved for fiction, and have more digits than numbers have.
func Phone(i int) store.Phone {
	return store.Phone(fmt.Sprintf("%s%d%05d", phones, i%2, i/2))
}

var phones = fmt.Sprintf("+44%d", 7700900)

// NetworkOf returns the name of the network of a phone.
func NetworkOf(p store.Phone) string {
	if strings.HasPrefix(string(p), phones+"1") {
		return TakesTwice
	}
	return Recognises
}

// Start writes the configuration and starts the network and all processes.
func Start(ctx context.Context, o Options, n *Network) (*Stack, error) {
	if err := o.check(ctx); err != nil {
		return nil, err
	}
	if o.DB == "" {
		o.DB = filepath.Join(o.Folder, "rowbell.db")
	}
	transport := &http.Transport{MaxIdleConnsPerHost: 512, DialContext: dialLoopback}
	s := &Stack{o: o, net: n, client: &http.Client{Transport: transport, Timeout: callTimeout}}
	s.now.Store(o.TestClock.Unix())
	if err := n.listen(); err != nil {
		return nil, err
	}
	for i := range max(o.Processes, 1) {
		p := newProcess(o.Folder, i+1)
		s.processes = append(s.processes, p)
		err := os.WriteFile(p.config, []byte(o.settings(p.name, n.url)), 0o600)
		if err == nil {
			err = s.Start(ctx, i)
		}
		if err != nil {
			return nil, errors.Join(err, s.Close())
		}
	}
	return s, nil
}

// callTimeout is how long the network waits for an answer before it repeats a call.
const callTimeout = 10 * time.Second

func (o Options) check(ctx context.Context) error {
	if o.DB == "" {
		if o.Processes > 1 {
			return errors.New("several processes need records on a server: give --db postgres://")
		}
		return nil
	}
	if !store.OnServer(o.DB) {
		return fmt.Errorf("--db %s: give the address of an empty database, postgres://; a file is made by itself", o.DB)
	}
	c, err := pgx.ParseConfig(o.DB)
	if err != nil {
		return fmt.Errorf("--db: %w", err)
	}
	hosts := []string{c.Host}
	for _, other := range c.Fallbacks {
		hosts = append(hosts, other.Host)
	}
	for _, host := range hosts {
		if ip := net.ParseIP(host); !strings.HasPrefix(host, "/") && host != "localhost" &&
			(ip == nil || !ip.IsLoopback()) {
			return fmt.Errorf("--db: %s is another machine: only records on this machine are loaded", host)
		}
	}
	return checkEmpty(ctx, c)
}

// sqlAnyTable finds a table that is not the server's own.
const sqlAnyTable = `SELECT EXISTS (SELECT 1 FROM pg_tables
	WHERE schemaname NOT IN ('pg_catalog', 'information_schema'))`

// checkEmpty refuses a database that holds something: it may have the records of real growers.
func checkEmpty(ctx context.Context, c *pgx.ConnConfig) error {
	conn, err := pgx.ConnectConfig(ctx, c)
	if err != nil {
		return fmt.Errorf("--db: %w", err)
	}
	defer conn.Close(ctx)
	var holds bool
	if err := conn.QueryRow(ctx, sqlAnyTable).Scan(&holds); err != nil {
		return fmt.Errorf("--db: %w", err)
	}
	if holds {
		return fmt.Errorf("--db: the database %s is not empty: give a new one, because growers are invented in it",
			c.Database)
	}
	return nil
}

func (o Options) settings(name, networks string) string {
	month := func(least, most int) string {
		return strings.Repeat(fmt.Sprintf("  { min_c = %d, max_c = %d, rain_mm = 100 },\n", least, most), 12)
	}
	gateways := fmt.Sprintf(gatewaySettings, Recognises, networks, true) +
		fmt.Sprintf(gatewaySettings, TakesTwice, networks, false)
	return fmt.Sprintf(settings, o.DB, name, o.Zone, month(20, 30), month(15, 25), gateways, Recognises, phones+"1",
		TakesTwice)
}

// DB returns the address of the records.
func (s *Stack) DB() string { return s.o.DB }

// Size returns the number of processes.
func (s *Stack) Size() int { return len(s.processes) }

// dialLoopback connects to this machine only.
func dialLoopback(ctx context.Context, network, address string) (net.Conn, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, err
	}
	if ip := net.ParseIP(host); ip == nil || !ip.IsLoopback() {
		return nil, fmt.Errorf("%s is not on this machine", address)
	}
	var d net.Dialer
	return d.DialContext(ctx, network, address)
}

// Answer is what a process answered.
type Answer struct {
	Status int
	Body   []byte
}

// Post posts a call of a network, such as ussd or sms, to one of the processes that run. The error is that of a process
// that does not answer.
func (s *Stack) Post(ctx context.Context, network, call string, body any) (Answer, error) {
	return s.post(ctx, s.some(), "/in/"+url.PathEscape(network)+"/"+call, body)
}

// some returns a process that runs, in turns; if none does, any.
func (s *Stack) some() *process {
	n := int(s.next.Add(1))
	for i := range s.processes {
		if p := s.processes[(n+i)%len(s.processes)]; p.running() {
			return p
		}
	}
	return s.processes[rand.IntN(len(s.processes))]
}

func (s *Stack) post(ctx context.Context, p *process, path string, body any) (Answer, error) {
	octets, err := json.Marshal(body)
	if err != nil {
		return Answer{}, err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, p.base()+path, bytes.NewReader(octets))
	if err != nil {
		return Answer{}, err
	}
	r.Header.Set("Authorization", "Bearer "+token)
	r.Header.Set("Content-Type", "application/json")
	resp, err := s.client.Do(r)
	if err != nil {
		return Answer{}, err
	}
	defer resp.Body.Close()
	octets, err = io.ReadAll(resp.Body)
	return Answer{resp.StatusCode, octets}, err
}

// SetClock moves the clock of all processes and returns when they have done all work that is due. It needs a stack with
// a test clock. The answer takes as long as the work.
func (s *Stack) SetClock(ctx context.Context, to time.Time) error {
	s.now.Store(to.Unix())
	return s.move(ctx, map[string]any{"set": to.UTC().Format(time.RFC3339)})
}

// Upkeep lets all processes do what they do each hour, such as removing what is over its retention. With a test clock
// they do it only then.
func (s *Stack) Upkeep(ctx context.Context) error { return s.move(ctx, map[string]any{"upkeep": true}) }

func (s *Stack) move(ctx context.Context, body map[string]any) error {
	slow := *s.client
	slow.Timeout = 0
	moved := Stack{client: &slow}
	for _, p := range s.processes {
		a, err := moved.post(ctx, p, "/test/clock", body)
		if err != nil {
			return err
		}
		if a.Status/100 != 2 {
			return fmt.Errorf("the clock does not move: %d %s", a.Status, bytes.TrimSpace(a.Body))
		}
	}
	return nil
}

// clock returns where the test clock stands, for processes that start now.
func (s *Stack) clock() time.Time { return time.Unix(s.now.Load(), 0) }

// Close stops all processes that run and the network.
func (s *Stack) Close() error {
	var errs []error
	for _, p := range slices.Backward(s.processes) {
		errs = append(errs, p.stop())
	}
	return errors.Join(append(errs, s.net.close())...)
}
