package desk_test

import (
	"crypto/sha256"
	"fmt"
	"html"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"rowbell/gateway/desk"
	"rowbell/store"
)

// access says who gets what from each route: nobody in particular, the viewer and the field worker of the valley, the
// field worker of another place, and the operator. It is written by hand from what the roles are for, and not derived
// from the table of routes.
//
//	yes     the page, or the action with its own answer
//	login   the page to log in
//	no      refused, and it is said why
//	hidden  refused as if there were no such thing
const access = `
                                                       nobody  viewer  worker  stranger  operator
GET  /desk/{$}                                         login   yes     yes     yes       yes
GET  /desk/plot/{plot}/contact                         login   no      yes     hidden    yes
POST /desk/plot/{plot}/contact                         no      no      yes     hidden    yes
POST /desk/plot/{plot}/contact/back                    no      no      yes     hidden    yes

GET  /desk/login                                       yes     yes     yes     yes       yes
POST /desk/login                                       yes     yes     yes     yes       yes
POST /desk/logout                                      no      yes     yes     yes       yes
GET  /desk/join/{token}                                yes     yes     yes     yes       yes
POST /desk/join/{token}                                yes     yes     yes     yes       yes

GET  /desk/me                                          login   yes     yes     yes       yes
POST /desk/me/password                                 no      yes     yes     yes       yes
POST /desk/me/sessions                                 no      yes     yes     yes       yes
POST /desk/me/session/{hash}                           no      hidden  hidden  hidden    hidden

GET  /desk/growers                                     login   yes     yes     yes       yes
GET  /desk/growers/new                                 login   no      yes     yes       yes
POST /desk/growers/new                                 no      no      yes     yes       yes
GET  /desk/grower/{grower}                             login   yes     yes     hidden    yes
GET  /desk/grower/{grower}/change                      login   no      yes     hidden    yes
POST /desk/grower/{grower}/change                      no      no      yes     hidden    yes
GET  /desk/grower/{grower}/move                        login   no      yes     hidden    yes
POST /desk/grower/{grower}/move                        no      no      yes     hidden    yes
GET  /desk/grower/{grower}/erase                       login   no      yes     hidden    yes
POST /desk/grower/{grower}/erase                       no      no      yes     hidden    yes
GET  /desk/grower/{grower}/plot                        login   no      yes     hidden    yes
POST /desk/grower/{grower}/plot                        no      no      yes     hidden    yes
POST /desk/grower/{grower}/texts                       no      no      yes     hidden    yes
POST /desk/grower/{grower}/number                      no      no      yes     hidden    yes

GET  /desk/plot/{plot}                                 login   yes     yes     hidden    yes
GET  /desk/plot/{plot}/change                          login   no      yes     hidden    yes
POST /desk/plot/{plot}/change                          no      no      yes     hidden    yes
GET  /desk/plot/{plot}/replant                         login   no      yes     hidden    yes
POST /desk/plot/{plot}/replant                         no      no      yes     hidden    yes
GET  /desk/plot/{plot}/close                           login   no      yes     hidden    yes
POST /desk/plot/{plot}/close                           no      no      yes     hidden    yes
GET  /desk/plot/{plot}/pass                            login   no      yes     hidden    yes
POST /desk/plot/{plot}/pass                            no      no      yes     hidden    yes
GET  /desk/plot/{plot}/pass/{pass}                     login   no      yes     hidden    yes
POST /desk/plot/{plot}/pass/{pass}                     no      no      yes     hidden    yes
GET  /desk/plot/{plot}/sighting                        login   no      yes     hidden    yes
POST /desk/plot/{plot}/sighting                        no      no      yes     hidden    yes
GET  /desk/plot/{plot}/sighting/{sighting}             login   no      yes     hidden    yes
POST /desk/plot/{plot}/sighting/{sighting}             no      no      yes     hidden    yes
POST /desk/plot/{plot}/pass/{pass}/remove              no      no      yes     hidden    yes
POST /desk/plot/{plot}/sighting/{sighting}/remove      no      no      yes     hidden    yes

GET  /desk/conversation/{grower}                       login   no      yes     hidden    yes
POST /desk/conversation/{grower}/again                 no      no      hidden  hidden    hidden
POST /desk/conversation/{grower}/withdraw              no      no      hidden  hidden    hidden

GET  /desk/import                                      login   no      yes     yes       yes
POST /desk/import                                      no      no      yes     yes       yes
GET  /desk/import/{file}                               login   no      yes     yes       yes
POST /desk/import/{file}                               no      no      yes     yes       yes
GET  /desk/export                                      login   no      yes     yes       yes
POST /desk/export                                      no      no      yes     yes       yes

GET  /desk/letters                                     login   no      yes     yes       yes
GET  /desk/letters/new                                 login   no      yes     yes       yes
POST /desk/letters/new                                 no      no      yes     yes       yes
POST /desk/letters                                     no      no      yes     yes       yes
GET  /desk/letters/{letter}                            login   no      yes     hidden    yes
POST /desk/letters/{letter}/stop                       no      no      yes     hidden    yes

GET  /desk/texts                                       login   no      no      no        yes
GET  /desk/texts/{language}/{key}                      login   no      no      no        yes
POST /desk/texts/{language}/{key}                      no      no      no      no        yes

GET  /desk/staff                                       login   no      no      no        yes
POST /desk/staff                                       no      no      no      no        yes
GET  /desk/staff/{staff}                               login   no      no      no        yes
POST /desk/staff/{staff}                               no      no      no      no        yes
POST /desk/staff/{staff}/link                          no      no      no      no        yes
POST /desk/staff/{staff}/sessions                      no      no      no      no        yes
POST /desk/staff/{staff}/end                           no      no      no      no        yes

GET  /desk/events                                      login   yes     yes     yes       yes
GET  /desk/help                                        login   yes     yes     yes       yes
GET  /desk/help/{page}                                 login   yes     yes     yes       yes

GET  /desk/trail                                       login   no      yes     yes       yes

GET  /desk/circles                                     login   yes     yes     yes       yes
GET  /desk/circle/{circle}                             login   yes     yes     hidden    yes
GET  /desk/circle/{circle}/why                         login   yes     yes     hidden    yes
GET  /desk/circle/{circle}/entry/{entry}               login   no      yes     hidden    yes
POST /desk/circle/{circle}/entry/{entry}               no      no      yes     hidden    yes
POST /desk/circle/{circle}/tool                        no      no      yes     hidden    yes
POST /desk/circle/{circle}/wish                        no      no      yes     hidden    yes

GET  /desk/places                                      login   yes     yes     yes       yes
GET  /desk/place/{place}                               login   yes     yes     hidden    yes
POST /desk/place/{place}/weather                       no      no      no      no        yes
POST /desk/place/{place}/weather/take                  no      no      no      no        yes
GET  /desk/networks                                    login   no      no      no        yes
POST /desk/networks/hold                               no      no      no      no        yes
POST /desk/networks/release                            no      no      no      no        yes
POST /desk/networks/doubt                              no      no      no      no        yes
POST /desk/networks/read                               no      no      no      no        yes
GET  /desk/report                                      login   yes     yes     yes       yes
GET  /desk/report/{table}                              login   yes     yes     yes       yes
`

// callers are the columns of access.
var callers = []string{"", "viewer", "worker", "stranger", "operator"}

// readAccess returns the table access: for each route, the word for each of callers.
func readAccess(t *testing.T) map[string][]string {
	t.Helper()
	table := map[string][]string{}
	for i, line := range strings.Split(strings.TrimSpace(access), "\n") {
		words := strings.Fields(line)
		if i == 0 || len(words) == 0 {
			continue
		}
		if len(words) != 2+len(callers) {
			t.Fatalf("a line with %d words: %s", len(words), line)
		}
		route := words[0] + " " + words[1]
		if table[route] != nil {
			t.Errorf("access has two lines for %s", route)
		}
		table[route] = words[2:]
	}
	return table
}

// got says in a word of access what an answer is.
func (a answer) got(t *testing.T) string {
	switch {
	case a.status == http.StatusSeeOther && strings.HasPrefix(a.location, "/desk/login?"):
		return "login"
	case a.status == http.StatusUnauthorized, a.status == http.StatusForbidden:
		return "no"
	case a.status == http.StatusNotFound:
		return "hidden"
	case a.status >= http.StatusInternalServerError:
		t.Errorf("status %d: %s", a.status, a.body)
		return "broken"
	}
	return "yes"
}

// Every route answers every role as the table access says, also by direct requests with forged forms. Each route has a
// line in it. A refused action leaves the trail and the records as they were.
func TestAccess(t *testing.T) {
	table := readAccess(t)
	all := desk.Routes()
	for route := range table {
		if !slices.Contains(all, route) {
			t.Errorf("access has a line for %s, which is no route", route)
		}
	}
	readers := openValley(t).clients()
	for _, route := range all {
		want := table[route]
		if want == nil {
			t.Errorf("access has no line for %s: write down who may use it", route)
			continue
		}
		callers := readers
		if !strings.HasPrefix(route, "GET ") {
			callers = openValley(t).clients() // an action may change the records, or end a session
		}
		path := callers[0].v.paths(store.DefaultPlace).Replace(route)
		for i, c := range callers {
			c.checkAccess(t, path, want[i])
		}
	}
}

// clients returns a client for each column of access.
func (v *valley) clients() (all []*client) {
	v.t.Helper()
	for _, account := range callers {
		all = append(all, v.as(account))
	}
	return all
}

// checkAccess sends a request without values in the form to a route, as "METHOD /path", and checks what the caller
// gets.
func (c *client) checkAccess(t *testing.T, route, want string) {
	t.Helper()
	method, path, _ := strings.Cut(route, " ")
	if strings.Contains(path, "{") {
		t.Fatalf("say in valley.paths what stands for the names in %s", path)
	}
	before := c.v.state()
	answer := c.send(method, path, "", nil)
	got := answer.got(t)
	if got != want {
		t.Errorf("%s: %q gets %q (status %d), want %q", route, c.account, got, answer.status, want)
	}
	if changed := before.differs(c.v.state()); got != "yes" && len(changed) > 0 {
		t.Errorf("%s: %q was refused, but these tables changed: %v", route, c.account, changed)
	}
}

// bare are the actions that need no fields: a form without values does them.
const bare = `
POST /desk/letters/{letter}/stop
POST /desk/circle/{circle}/entry/{entry}
POST /desk/logout
POST /desk/me/sessions
POST /desk/plot/{plot}/close
POST /desk/plot/{plot}/pass/{pass}/remove
POST /desk/plot/{plot}/sighting/{sighting}/remove
POST /desk/staff/{staff}/link
POST /desk/staff/{staff}/sessions
`

// A form without values changes nothing, except where an action needs no fields: a field that a program or a browser
// leaves out is never taken for a decision.
func TestEmptyFormsChangeNothing(t *testing.T) {
	v := openValley(t)
	c := v.as("operator")
	for _, route := range desk.Routes() {
		if !strings.HasPrefix(route, "POST ") || slices.Contains(strings.Split(bare, "\n"), route) {
			continue
		}
		path := v.paths(store.DefaultPlace).Replace(strings.TrimPrefix(route, "POST "))
		before := v.state()
		got := c.post(path)
		for _, table := range before.differs(v.state()) {
			t.Errorf("%s without values (status %d) changed the table %s", route, got.status, table)
		}
	}
}

// state is a hash of the rows of each table.
type state map[string]string

// unwatched are the tables that requests change which change nothing else: sessions, and wrong passwords with the
// accounts.
var unwatched = []string{"staff_session", "staff"}

// state returns the present state of the records.
func (v *valley) state() state {
	v.t.Helper()
	tables := state{}
	names, err := v.db.QueryContext(v.t.Context(), `SELECT name FROM sqlite_master WHERE type = 'table'`)
	must(v.t, err)
	defer names.Close()
	for names.Next() {
		var name string
		must(v.t, names.Scan(&name))
		if !slices.Contains(unwatched, name) {
			tables[name] = v.hash(name)
		}
	}
	must(v.t, names.Err())
	return tables
}

func (v *valley) hash(table string) string {
	v.t.Helper()
	rows, err := v.db.QueryContext(v.t.Context(), `SELECT * FROM `+table)
	must(v.t, err)
	defer rows.Close()
	columns, err := rows.Columns()
	must(v.t, err)
	sum := sha256.New()
	cells, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range cells {
		into[i] = &cells[i]
	}
	for rows.Next() {
		must(v.t, rows.Scan(into...))
		fmt.Fprintf(sum, "%v\n", cells)
	}
	must(v.t, rows.Err())
	return string(sum.Sum(nil))
}

// differs lists the tables that are not the same in both states.
func (s state) differs(other state) (tables []string) {
	for name, hash := range s {
		if other[name] != hash {
			tables = append(tables, name)
		}
	}
	return slices.Sorted(slices.Values(tables))
}

// A form that a page of another site sends is refused, whoever is logged in.
func TestFormsOfOtherSites(t *testing.T) {
	v := openValley(t)
	paths := v.paths(store.DefaultPlace)
	c := v.as("operator")
	before, checked := v.state(), 0
	for _, route := range desk.Routes() {
		method, path, _ := strings.Cut(route, " ")
		if method != "POST" {
			continue
		}
		for _, header := range []http.Header{
			{"Sec-Fetch-Site": {"cross-site"}}, {"Sec-Fetch-Site": {"same-site"}},
			{"Origin": {"https://other.example"}},
		} {
			if got := c.send(method, paths.Replace(path), "", header); got.status != http.StatusForbidden {
				t.Errorf("%s with %v: status %d, want 403", route, header, got.status)
			}
		}
		checked++
	}
	if changed := before.differs(v.state()); checked < 5 || len(changed) > 0 {
		t.Errorf("%d routes; these tables changed: %v", checked, changed)
	}
}

// number matches the digits of a phone number of the valley.
var number = regexp.MustCompile(`(?:\+?44|0)?7700900\d{3}`)

// On no page does a viewer see the number or the name of a grower, or what a grower was told, and on no page does the
// field worker of another place see the last digits of a grower of the valley.
func TestWhoIsSeen(t *testing.T) {
	v := openValley(t)
	paths := v.paths(store.DefaultPlace)
	personal := v.personal()
	viewer, stranger, operator := v.as("viewer"), v.as("stranger"), v.as("operator")
	shown := map[string]bool{} // to the operator
	for _, route := range desk.Routes() {
		method, path, _ := strings.Cut(route, " ")
		if method != "GET" {
			continue
		}
		path = paths.Replace(path)
		for _, path := range []string{path, path + "?place=" + paths.Replace("{place}")} {
			body := viewer.get(path).body
			if number.MatchString(body) {
				t.Errorf("%s shows a viewer the number %s", path, number.FindString(body))
			}
			all := operator.get(path).body
			for _, words := range personal {
				if strings.Contains(body, words) {
					t.Errorf("%s shows a viewer %q", path, words)
				}
				if strings.Contains(all, words) {
					shown[words] = true
				}
			}
			for _, tail := range tails(stranger.get(path).body) {
				if tail != string(uplander[len(uplander)-3:]) {
					t.Errorf("%s shows the field worker of another place the grower with the number …%s", path, tail)
				}
			}
		}
	}
	if len(shown) < 10 {
		t.Errorf("the operator sees only %d of the names and texts", len(shown))
	}
}

// personal returns the names of growers and the beginnings of texts to them, as they stand in HTML.
func (v *valley) personal() (all []string) {
	v.t.Helper()
	rows, err := v.db.QueryContext(v.t.Context(), `SELECT name FROM grower WHERE name <> '' UNION
		SELECT DISTINCT substr(body, 1, 40) FROM message`)
	must(v.t, err)
	defer rows.Close()
	for rows.Next() {
		var words string
		must(v.t, rows.Scan(&words))
		all = append(all, html.EscapeString(words))
	}
	must(v.t, rows.Err())
	return all
}

// masked matches a number whose middle is masked.
var masked = regexp.MustCompile(`\+4477…(\d{3})`)

// tails returns the last three digits of each number on a page, masked or not.
func tails(page string) (all []string) {
	for _, m := range masked.FindAllStringSubmatch(page, -1) {
		all = append(all, m[1])
	}
	for _, n := range number.FindAllString(page, -1) {
		all = append(all, n[len(n)-3:])
	}
	return all
}
