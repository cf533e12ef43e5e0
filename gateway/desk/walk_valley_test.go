package desk_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/practice"
	"rowbell/cmd/rowbell/service"
	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/gateway/browser"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/store"
	"rowbell/store/manygrowers"
)

func TestMain(m *testing.M) { os.Exit(browser.Main(m)) }

// valley is a real service on the records of the practice valley: growers at every point of the season, a circle,
// texts. Its clock stands still until the test moves it. A second place, the uplands, has one grower.
type valley struct {
	t       testing.TB
	service *service.Service
	clock   *clock.Manual
	url     string
	db      *sql.DB // of the same records, to look things up
}

// today is the day of the records, at eight in the morning.
var today = engine.Date(2026, time.June, 1)

const morning = 8

// uplander is the number of the grower at the second place.
const uplander store.Phone = "+447700900500"

// circleKeeper is the number of the keeper of the circle.
const circleKeeper store.Phone = "+447700900011"

// uplands is the name of the second place.
const uplands = "uplands"

// password is the password of all accounts.
const password = "the third week after planting"

// accounts are the names of the accounts by what they may do. The worker and the viewer look after the valley, the
// stranger after the uplands.
var accounts = []struct {
	name  string
	role  store.Role
	place string // "" = all
}{
	{"operator", store.RoleOperator, ""},
	{"worker", store.RoleFieldWorker, store.DefaultPlace},
	{"viewer", store.RoleViewer, store.DefaultPlace},
	{"stranger", store.RoleFieldWorker, uplands},
}

// records makes the records of the valley once for all tests of the package.
var records = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "rowbell-desk-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "rowbell.db")
	c := clock.New(today.At(morning, time.UTC))
	s, err := startService(context.Background(), path, c)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(fill(context.Background(), s, c), s.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

// startService starts a service that writes its texts to the log.
func startService(ctx context.Context, path string, c *clock.Manual) (*service.Service, error) {
	settings := config.Default()
	settings.DB, settings.Limits = path, config.Limits{Loop: settings.Limits.Loop}
	local := settings.Local("")
	local.Token, local.Push.Rate = profile.HashToken("token"), 0
	return service.Start(ctx, settings, service.Options{Networks: []profile.Profile{local}, Clock: c,
		Log: zerolog.Nop(), Version: "test", New: true})
}

// fill plays what the growers did up to today, and makes the accounts.
func fill(ctx context.Context, s *service.Service, c *clock.Manual) error {
	zone, err := time.LoadLocation(practice.Place().Zone)
	if err != nil {
		return err
	}
	deeds, err := practice.History(today)
	if err != nil {
		return err
	}
	if err := s.Store().InTx(ctx, makePlaces); err != nil {
		return err
	}
	for day := deeds[0].On; day <= today; day++ {
		at := day.At(morning, zone)
		c.Set(at)
		for ; len(deeds) > 0 && deeds[0].On == day; deeds = deeds[1:] {
			if err := deeds[0].Record(ctx, s.Store(), at.Unix()); err != nil {
				return err
			}
		}
		if err := s.Settle(ctx); err != nil {
			return err
		}
	}
	now := c.Now().Unix()
	if err := s.Store().InTx(ctx, func(tx *store.Tx) error {
		return errors.Join(addPayments(tx, now), addUplander(tx, now), addNames(tx, now), addLook(tx, now),
			addAccounts(tx, now), addLetter(tx, now))
	}); err != nil {
		return err
	}
	return keepLists(ctx, s.Store(), now)
}

// keepLists does what upkeep does for the pages: it plans who needs somebody, and counts the sums of the season.
func keepLists(ctx context.Context, s *store.Store, now int64) error {
	_, _, err := s.KeepAttention(ctx, now)
	if err == nil {
		_, err = s.CountReport(ctx, now, nil)
	}
	return err
}

// addPayments lets members of the circle say that they paid: the keeper agrees to one payment and denies another. A
// third waits for an answer.
func addPayments(tx *store.Tx, now int64) error {
	keeper, err := tx.Ledger(circleKeeper, now)
	if err != nil {
		return err
	}
	c, _, err := keeper.Circle()
	for i, member := range []store.Phone{"+447700900012", "+447700900013", "+447700900014"} {
		if err != nil {
			return err
		}
		var l *store.Ledger
		var asked circle.Ask
		if l, err = tx.Ledger(member, now); err == nil {
			paid := circle.Ask{Kind: circle.AskPaid, Circle: c.Number, Amount: 10_00, ForCircle: true}
			asked, err = l.Ask(paid, "", "")
		}
		if err == nil && i < 2 {
			_, err = keeper.AnswerAsk(asked.ID, i == 0, 0)
		}
	}
	return err
}

func makePlaces(tx *store.Tx) error {
	_, err := tx.PutPlace(practice.Place())
	up := practice.Place()
	up.Name = uplands
	_, also := tx.PutPlace(up)
	return errors.Join(err, also)
}

func addUplander(tx *store.Tx, now int64) error {
	l, err := tx.Ledger(uplander, now)
	if err != nil {
		return err
	}
	if err := l.Consent("en", "practice", "ussd"); err != nil {
		return err
	}
	if err := l.SetPlace(uplands); err != nil {
		return err
	}
	_, err = l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: l.Today() - 9, AreaM2: 900, RowSpacingCM: 25,
		HillSpacingCM: 25}, engine.Tool{WidthCM: 15})
	return err
}

// addNames stores what staff call some growers of the valley. Members of the circle have names already.
func addNames(tx *store.Tx, now int64) error {
	for i, name := range []string{"Asha", "Bento", "Chanda", "Dinh", "Efua", "Farah", "Goro", "Hawa"} {
		l, err := tx.Ledger(store.Phone(fmt.Sprintf("+44%d", 7700900001+int64(i))), now)
		if err == nil {
			err = l.SetName(name)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// addLetter adds a letter to the growers of the valley, which goes out on the next day.
func addLetter(tx *store.Tx, now int64) error {
	p, _, err := tx.PlaceByName(store.DefaultPlace)
	if err != nil {
		return err
	}
	_, err = tx.AddLetter(store.Letter{Who: "worker", Filter: store.LetterFilter{Places: store.Scope{p.ID}},
		Words: map[string]string{"en": "A training on Friday."}, Begins: today + 1, BeginsHour: 8, Until: today + 2,
		QuietHour: 20, Confirmed: 9}, now)
	return err
}

// looker is the number of the grower in the valley who logged weedings, and to whom addLook adds a look at the weeds.
const looker store.Phone = "+447700900007"

func addLook(tx *store.Tx, now int64) error {
	l, err := tx.Ledger(looker, now)
	if err != nil {
		return err
	}
	return l.See(1, engine.Sighting{On: l.Today(), Leaves: engine.TwoThree, Water: engine.StandsMud})
}

// addAccounts adds an account of each kind. A cheap hash saves a second in each test.
func addAccounts(tx *store.Tx, now int64) error {
	for _, a := range accounts {
		s := store.Staff{Name: a.name, Role: a.role}
		if a.place != "" {
			p, _, err := tx.PlaceByName(a.place)
			if err != nil {
				return err
			}
			s.Places = store.Scope{p.ID}
		}
		if _, err := addAccount(tx, s, now); err != nil {
			return err
		}
	}
	return nil
}

// addAccount adds an account. A cheap hash saves a second in each test.
func addAccount(tx *store.Tx, s store.Staff, now int64) (id int64, err error) {
	hash, err := argon2id.CreateHash(password, &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1,
		SaltLength: 16, KeyLength: 32})
	if err != nil {
		return 0, err
	}
	if id, err = tx.AddStaff(s, now); err != nil {
		return 0, err
	}
	return id, tx.SetPassword(id, hash)
}

// openValley starts a service on its own copy of the records until the test ends.
func openValley(t testing.TB) *valley {
	t.Helper()
	octets, err := records()
	must(t, err)
	path := filepath.Join(t.TempDir(), "rowbell.db")
	must(t, os.WriteFile(path, octets, 0o600))
	zone, err := time.LoadLocation(practice.Place().Zone)
	must(t, err)
	return serve(t, path, today.At(morning, zone).Add(time.Hour))
}

// openCrowd starts a service on the records of so many growers, of whom nobody lives in the valley.
func openCrowd(t testing.TB, growers int) *valley {
	t.Helper()
	path := filepath.Join(t.TempDir(), "rowbell.db")
	must(t, manygrowers.Fill(t.Context(), path, growers, today))
	v := serve(t, path, time.Unix(manygrowers.At(today), 0))
	must(t, v.service.Store().InTx(t.Context(), func(tx *store.Tx) error {
		_, err := addAccount(tx, store.Staff{Name: "operator", Role: store.RoleOperator}, v.clock.Now().Unix())
		return err
	}))
	must(t, keepLists(t.Context(), v.service.Store(), v.clock.Now().Unix()))
	return v
}

// serve starts a service on these records until the test ends.
func serve(t testing.TB, path string, now time.Time) *valley {
	t.Helper()
	v := &valley{t: t, clock: clock.New(now)}
	var err error
	v.service, err = startService(t.Context(), path, v.clock)
	must(t, err)
	server := httptest.NewServer(v.service.Handler())
	v.url = server.URL
	v.db, err = sql.Open("sqlite3", "file:"+path+"?mode=ro")
	must(t, err)
	t.Cleanup(func() {
		server.Close()
		if err := errors.Join(v.db.Close(), v.service.Close()); err != nil {
			t.Error(err)
		}
	})
	return v
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// one returns the value that a query finds.
func one[T any](v *valley, query string, args ...any) (found T) {
	v.t.Helper()
	if err := v.db.QueryRowContext(v.t.Context(), query, args...).Scan(&found); err != nil {
		v.t.Fatalf("%s: %v", query, err)
	}
	return found
}

// paths returns what stands for the names in paths of the desk: things of the valley, or of the uplands.
func (v *valley) paths(place string) *strings.Replacer {
	v.t.Helper()
	account := one[int64](v, `SELECT id FROM staff ORDER BY id DESC LIMIT 1`) // the stranger
	// The plot with most kinds of records, so that no page is shown without them.
	plot := one[string](v, `SELECT l.id FROM plot l JOIN grower g ON g.id = l.grower_id
		JOIN place p ON p.id = g.place_id WHERE p.name = ? AND l.closed_day IS NULL
		ORDER BY EXISTS (SELECT 1 FROM pass x WHERE x.plot_id = l.id) + EXISTS
			(SELECT 1 FROM sighting x WHERE x.plot_id = l.id) DESC, l.id LIMIT 1`, place)
	grower := one[string](v, `SELECT grower_id FROM plot WHERE id = ?`, plot)
	var link string
	must(v.t, v.service.Store().InTx(v.t.Context(), func(tx *store.Tx) (err error) {
		link, err = tx.AddLink(account, v.clock.Now().Unix())
		return err
	}))
	return strings.NewReplacer(
		"{$}", "",
		"{grower}", grower,
		"{plot}", plot,
		"{pass}", one[string](v, `SELECT coalesce(min(day), 0) || '.0' FROM pass WHERE plot_id = ?`, plot),
		"{sighting}", one[string](v, `SELECT coalesce(min(day), 0) || '.0' FROM sighting WHERE plot_id = ?`, plot),
		"{place}", one[string](v, `SELECT id FROM place WHERE name = ?`, place),
		"{language}", "en", "{key}", "home.ask",
		"{letter}", one[string](v, `SELECT coalesce(min(letter_id), 0) FROM letter_place l
			JOIN place p ON p.id = l.place_id WHERE p.name = ?`, place),
		"{staff}", strconv.FormatInt(account, 10),
		"{circle}", v.first("circle"),
		"{entry}", v.first("circle_entry"),
		"{hash}", "none",
		"{page}", "desk",
		"{file}", "none",
		"{token}", link,
		"{table}", "passes-by-week.csv",
	)
}

// first returns the lowest id of a table, or "0" if it is empty.
func (v *valley) first(table string) string {
	v.t.Helper()
	return one[string](v, `SELECT coalesce(min(id), 0) FROM `+table)
}
