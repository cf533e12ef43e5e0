package main

import (
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
)

// envCluster is the folder of two database servers that .ci/cluster has started.
const envCluster = "ROWBELL_TEST_CLUSTER"

// Three services use two database servers, one of which takes over from the other, while growers dial and send texts.
// A caller without an answer does what a network does: it sends the same callback again, here to the next service. In
// the end, everything that growers were told is in the records, and is there once; each text reached its network once.
//
// The services have the clock of the machine, because the test measures how long growers get no answer.
func TestFailover(t *testing.T) {
	dir := os.Getenv(envCluster)
	if dir == "" {
		t.Skip("needs two database servers: run .ci/cluster test")
	}
	for _, tt := range []struct {
		name  string
		long  bool // left out by -short
		moves bool // the other server becomes the primary
		both  bool // without HAProxy: the services have the addresses of both servers
		harm  func(*cluster)
	}{
		{"a service is killed", false, false, false, (*cluster).killService},
		{"the primary is killed", false, true, false, func(c *cluster) { c.script("kill-primary") }},
		{"the primary freezes and wakes", true, true, false, (*cluster).freezePrimary},
		{"the standby freezes", true, false, false, func(c *cluster) { c.script("freeze-standby") }},
		{"commits wait for the standby", true, false, false, (*cluster).cancelCommits},
		{"planned work", true, true, false, func(c *cluster) { c.script("switch") }},
		{"the primary is killed, two addresses", true, true, true, func(c *cluster) { c.script("kill-primary") }},
		{"the primary freezes and wakes, two addresses", true, true, true, (*cluster).freezePrimary},
	} {
		if tt.long && testing.Short() {
			continue
		}
		t.Run(tt.name, func(t *testing.T) {
			c := startCluster(t, dir, tt.both)
			before := c.script("primary")
			c.work(func() { tt.harm(c) })
			if after := c.script("primary"); (after != before) != tt.moves {
				t.Errorf("%s was the primary before, and %s is it now", before, after)
			}
			c.check()
			c.report()
		})
	}
}

const (
	clusterServices = 3
	clusterGrowers  = 12                    // who register plots
	clusterReminded = 8                     // who answer a reminder
	clusterRate     = 10 * time.Millisecond // between two callbacks
	clusterCallers  = 12
)

// clusterTables configures two networks. The network once is not idempotent; it carries the texts to the growers who
// get a reminder (numbers from 500 on).
const clusterTables = `
[texts]
languages = ["en"]
[gateways.local]
trust = { by = "bearer", secrets = ["CLUSTER_TOKEN"] }
push = { url = "%s", timeout = "3s", rate = 500 }
[gateways.once.push]
url = "%[1]s"
type = "application/json"
body = '{"ID":"{{.ID}}","To":"{{.To}}","Text":"{{.Text}}"}'
idempotent = false
timeout = "3s"
rate = 500
concurrency = %d
[[routes]]
prefix = ""
through = ["local"]
[[routes]]
prefix = "%s"
through = ["once"]
`

// cluster is a set of services on two database servers, and the growers who use them.
type cluster struct {
	t       *testing.T
	dir     string // of .ci/cluster
	dsn     string
	zone    int // hours east of UTC of a zone in which it is about ten in the morning, so that reminders go out
	growers []*scripted
	rate    *time.Ticker // a callback may begin at each tick
	turn    atomic.Int64 // counts the callbacks, which go to one service after the other

	mu       sync.Mutex
	services []*process
	answers  int             // callbacks that were answered
	last     time.Time       // of the last answer
	longest  time.Duration   // longest time without an answer
	refused  []time.Duration // for each callback that got status 503: how long that took
	lost     int             // callbacks whose connection was lost
	details  map[string]bool // what those callbacks were told
	unready  map[string]int  // checks of /readyz that failed, by their reasons
}

// startCluster makes the database anew and starts the services. The growers with a reminder registered a day ago.
func startCluster(t *testing.T, dir string, both bool) *cluster {
	t.Helper()
	now := time.Now().UTC()
	c := &cluster{t: t, dir: dir, unready: map[string]int{}, details: map[string]bool{}}
	c.zone = (10-now.Hour()+36)%24 - 12
	c.script("heal") // after the case before
	if c.dsn = c.script("empty"); both {
		c.dsn = c.script("dsn", "both")
	}
	today := now.Add(time.Duration(c.zone) * time.Hour) // its date is the one in the zone
	yesterday := today.AddDate(0, 0, -1)

	first := c.service()
	c.serve(first, "--test-clock", now.AddDate(0, 0, -1).Format(time.RFC3339))
	for i := range clusterReminded {
		c.growers = append(c.growers, remindedOn(first, yesterday, 500+i))
	}
	first.settle()
	first.stop()
	for i := range clusterGrowers {
		c.growers = append(c.growers, registeringOn(today, i))
	}
	reminders := make(chan string, clusterReminded)
	first.inbox.setHook(func(to string) bool { reminders <- to; return true })
	c.services = append(c.services, first)
	for range clusterServices - 1 {
		c.services = append(c.services, c.service())
	}
	for _, p := range c.services {
		c.serve(p)
	}
	for range clusterReminded {
		<-reminders
	}
	first.inbox.setHook(nil)
	return c
}

// service prepares a service. All services push texts to the same networks.
func (c *cluster) service() *process {
	c.t.Helper()
	p := newProcess(c.t)
	if len(c.services) > 0 {
		p.push, p.inbox = c.services[0].push, c.services[0].inbox
	}
	p.env = []string{"CLUSTER_TOKEN=" + testToken}
	p.http = &http.Client{Timeout: 10 * time.Second}
	common, err := os.ReadFile("../../testdata/dialogues/rowbell.toml")
	must(c.t, err)
	// The sign in these names is the opposite of the usual one (IANA time zone database, file etcetera).
	settings := strings.Replace(string(common), `"UTC"`, fmt.Sprintf(`"Etc/GMT%+d"`, -c.zone), 1) +
		fmt.Sprintf(clusterTables, p.push.URL, onceInFlight, strings.TrimSuffix(fictional(500).E164(), "00"))
	must(c.t, os.WriteFile(filepath.Join(p.dir, config.DefaultFile), []byte(settings), 0o600))
	return p
}

func (c *cluster) serve(p *process, more ...string) {
	c.t.Helper()
	p.run(append([]string{"serve", "--listen", "127.0.0.1:0", "--config", config.DefaultFile, "--db", c.dsn},
		more...)...)
}

// killService kills a service and starts another one in its place.
func (c *cluster) killService() {
	c.t.Helper()
	c.services[1].kill()
	p := c.service()
	c.serve(p)
	c.mu.Lock()
	defer c.mu.Unlock()
	c.services[1] = p
}

// freezePrimary freezes the primary, and wakes it when the other server has taken over.
func (c *cluster) freezePrimary() {
	c.t.Helper()
	c.script("freeze-primary")
	before, _ := c.counts()
	// The answers to callbacks that are on their way may still come; so many cannot.
	c.await(func() bool { n, _ := c.counts(); return n >= before+2*clusterCallers })
	c.script("heal")
}

// cancelCommits freezes the standby and cancels the commits that wait for it. The server then says that they succeeded,
// although the standby lacks them. No service may pass that on, neither now nor when the callback comes again.
func (c *cluster) cancelCommits() {
	c.t.Helper()
	c.script("freeze-standby")
	before, refused := c.counts()
	c.script("cancel")
	c.await(func() bool { _, n := c.counts(); return n >= refused+clusterCallers })
	// The callbacks come again at once. The records have the answers to them, but only here.
	again := time.Now()
	c.await(func() bool { n, _ := c.counts(); return n != before || time.Since(again) > time.Second })
	after, _ := c.counts()
	c.script("heal")
	if after != before {
		c.t.Errorf("%d callbacks were answered without a standby", after-before)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.details["It is not known whether this was written. Send the same call again: nothing is done twice."] {
		c.t.Error("no callback was refused because its commit was canceled")
	}
}

// script runs a command of .ci/cluster.
func (c *cluster) script(command string, more ...string) string {
	c.t.Helper()
	out, err := exec.Command("../../.ci/cluster", append([]string{command, c.dir}, more...)...).CombinedOutput()
	if err != nil {
		c.t.Fatalf(".ci/cluster %s: %v\n%s", command, err, out)
	}
	return strings.TrimSpace(string(out))
}
