package store

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// callGrower gives the grower with a phone a name.
func callGrower(t tester, s *Store, p Phone, name string) {
	t.Helper()
	ledger(t, s, p, noon, func(l *Ledger) error { return l.SetName(name) })
}

// find returns the ids of the growers that a filter selects, over all pages.
func find(t tester, s *Store, scope Scope, f GrowerFilter, at int64) (list []int64) {
	t.Helper()
	f.Limit = cmp.Or(f.Limit, 50)
	for {
		var page GrowerPage
		view(t, s, func(tx *Tx) (err error) { page, err = tx.FindGrowers(scope, f, at); return err })
		errorIf(t, len(page.Growers) > f.Limit, "%d growers on a page of %d", len(page.Growers), f.Limit)
		for _, g := range page.Growers {
			list = append(list, g.ID)
		}
		if f.After = page.After; f.After == 0 {
			return list
		}
	}
}

func TestFindByNameAndNumber(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana, ben, cleo)
	callGrower(t, s, ana, "Ana Traoré")
	callGrower(t, s, ben, "Ben 100%_!")
	for _, c := range []struct {
		typed string
		want  []int64
	}{
		{"", []int64{3, 1, 2}}, // without a name first, then by name
		{"ana", []int64{1}},
		{"  TRAORE ", []int64{1}},
		{"TRAORÉ", []int64{1}},
		{"nobody", nil},
		{"100%", []int64{2}},
		{"%", []int64{2}},
		{"_", []int64{2}},
		{"!", []int64{2}},
		{"+447700900001", []int64{1}},
		{"00447700900001", []int64{1}},
		{"07700 900 001", []int64{1}},
		{"(07700) 900-001", []int64{1}},
		{"7700.900002", []int64{2}},
		{"+44 7700", []int64{3, 1, 2}},
		{"+7700", nil}, // with the plus the country comes first
		{"0003", []int64{3}},
		{"447700900009", nil},
		{"1", []int64{1, 2}}, // a digit of a number, and one of a name
		{"b2", nil},
	} {
		got := find(t, s, Scope{1}, GrowerFilter{Text: c.typed}, noon)
		equal(t, fmt.Sprint(got), fmt.Sprint(c.want), "%q", c.typed)
	}
}

// Growers of other places are never found, and an empty scope finds nobody.
func TestFindOnlyInScope(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	hill := anotherPlace(t, s, "hill", "Africa/Dar_es_Salaam", ben)
	for _, c := range []struct {
		scope Scope
		want  string
	}{{nil, "[]"}, {Scope{1}, "[1]"}, {Scope{hill}, "[2]"}, {Scope{hill, 1}, "[1 2]"}, {Scope{hill, 99}, "[2]"}} {
		equal(t, fmt.Sprint(find(t, s, c.scope, GrowerFilter{Limit: 1}, noon)), c.want, "scope %v", c.scope)
	}
}

// statesOfLife has a grower in each state.
func statesOfLife(t *testing.T, s *Store) (want map[GrowerState][]int64) {
	t.Helper()
	phone := func(i int) Phone { return Phone(fmt.Sprint("+", 447700900100+int64(i))) }
	withPlot(t, s, phone(1), phone(2), phone(3), phone(4), phone(5), phone(6), phone(7))
	do := func(i int, fn func(*Ledger) error) { t.Helper(); ledger(t, s, phone(i), noon, fn) }
	do(1, func(l *Ledger) error {
		id, err := l.PlotID(1)
		if err == nil {
			err = l.tx.announce(id, engine.Window{Number: 1, Opens: day0, Best: day0, Closes: day0 + 2})
		}
		return err
	})
	for _, i := range []int{2, 3} {
		do(i, func(l *Ledger) error {
			id, err := l.PlotID(1)
			if err == nil {
				_, err = l.tx.Tell(id, engine.Told{Kind: engine.KindMissed, Window: 1, On: day0 - 2})
			}
			return err
		})
	}
	do(3, logPass(1, engine.Pass{On: day0 - 1, With: engine.ByHand}))
	do(4, closePlot(1))
	do(5, (*Ledger).Stop)
	do(6, func(l *Ledger) error { return l.tx.unreachable(l.phone, noon) })
	do(7, (*Ledger).Unlink)
	return map[GrowerState][]int64{StateWindow: {1}, StateMissed: {2}, StateNoPlot: {4}, StateStopped: {5},
		StateUnreachable: {6}, StateNoNumber: {7}}
}

func TestFindByState(t *testing.T) {
	s := open(t)
	for state, want := range statesOfLife(t, s) {
		equal(t, fmt.Sprint(find(t, s, Scope{1}, GrowerFilter{State: state}, noon)), fmt.Sprint(want), "%v", state)
		equal(t, fmt.Sprint(find(t, s, Scope{1}, GrowerFilter{State: state, Text: "zz"}, noon)), "[]", "%v", state)
	}
	equal(t, len(find(t, s, Scope{1}, GrowerFilter{State: StateSilent}, noon)), 0, "silent today")
	equal(t, len(find(t, s, Scope{1}, GrowerFilter{State: StateSilent}, noon+SilentAfter)), 7, "silent after 90 days")
	equal(t, len(find(t, s, Scope{1}, GrowerFilter{NotHeardOf: 30}, noon+29*day)), 0, "not heard of for 29 days")
	equal(t, len(find(t, s, Scope{1}, GrowerFilter{NotHeardOf: 30}, noon+30*day)), 7, "not heard of for 30 days")
	got := find(t, s, Scope{1}, GrowerFilter{Text: "0"}, noon)
	errorIf(t, slices.Contains(got, 7), "a grower without a number is found by one: %v", got)
}

func TestFindByCircle(t *testing.T) {
	s := openWithPlot(t, ana, ben, cleo)
	ledger(t, s, ana, noon, func(l *Ledger) error { return second(l.MakeCircle("Ana", words)) })
	number := int(number(t, s, "SELECT number FROM circle"))
	ledger(t, s, ben, noon, func(l *Ledger) error { return second(l.JoinCircle(number, "Ben", words)) })
	for _, c := range []struct {
		f    GrowerFilter
		want string
	}{
		{GrowerFilter{InCircle: true}, "[1 2]"},
		{GrowerFilter{Circle: number}, "[1 2]"},
		{GrowerFilter{Circle: number, Text: "ben"}, "[2]"},
		{GrowerFilter{Circle: number, State: StateStopped}, "[]"},
		{GrowerFilter{Circle: number + 1}, "[]"},
	} {
		equal(t, fmt.Sprint(find(t, s, Scope{1}, c.f, noon)), c.want, "%+v", c.f)
	}
	page := read(t, s, ana, noon, func(l *Ledger) (GrowerPage, error) {
		return l.tx.FindGrowers(Scope{1}, GrowerFilter{Text: "ana", Limit: 1}, noon)
	})
	g := page.Growers[0]
	equal(t, [2]any{g.Name, g.CircleNumber}, [2]any{"Ana", number}, "the name from the circle, and its number")
}

// A name that staff gave stays when the grower enters a circle under another.
func TestNameFromCircleReplacesNone(t *testing.T) {
	s := openWithPlot(t, ana)
	callGrower(t, s, ana, "Mrs Traoré")
	ledger(t, s, ana, noon, func(l *Ledger) error { return second(l.MakeCircle("Ana", words)) })
	equal(t, person(t, s, ana).Records.Name, "Mrs Traoré", "name")
}

func TestNamesThatAreRefused(t *testing.T) {
	s := openWithPlot(t, ana)
	for _, c := range []struct {
		name string
		want error
	}{
		{strings.Repeat("é", MaxGrowerName), nil}, {strings.Repeat("é", MaxGrowerName+1), ErrGrowerName},
		{"", nil}, {"a\tb\n c", nil}, {"a\x00b", ErrGrowerName}, {"a\xff", ErrGrowerName}, {"\u202eabc", ErrGrowerName},
	} {
		wantErr(t, try(s, ana, noon, func(l *Ledger) error { return l.SetName(c.name) }), c.want, "name %q", c.name)
	}
	long := strings.Repeat("x", MaxGrowerNote+1)
	wantErr(t, try(s, ana, noon, func(l *Ledger) error { return l.SetNote(long) }), ErrGrowerNote, "a long note")
	wantErr(t, try(s, ben, noon, func(l *Ledger) error { return l.SetName("Ben") }), ErrUnknown, "no records")
}

// An unlinked grower has neither name nor note, and no words of the trail about them.
func TestUnlinkedGrowerLosesName(t *testing.T) {
	s := openWithPlot(t, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		err := cmp.Or(l.SetName("Ana"), l.SetNote("by the mill"))
		for _, what := range []string{TrailName, TrailNote, "changed the place"} {
			err = cmp.Or(err, l.tx.Trail(TrailEntry{At: noon, Who: "Asha", What: what, GrowerID: l.id, Was: "Ana",
				Now: "Ann"}))
		}
		return cmp.Or(err, l.Unlink())
	})
	wantRows(t, s, map[string]int64{
		"grower WHERE name = '' AND name_key = '' AND note = ''": 1,
		"trail WHERE was = '' AND now = ''":                      2,
		"trail WHERE was = 'Ana'":                                1,
	})
}

// Pages of any size together are all growers once, in the order of name and number.
func TestPagesOfGrowersProperty(t *testing.T) {
	s := open(t)
	var names []string
	for i := range 30 {
		p := Phone(fmt.Sprint("+", 447700900200+int64(i)))
		withPlot(t, s, p)
		names = append(names, []string{"", "Ana", "ÁNA", "ben", "Zoe"}[i%5])
		callGrower(t, s, p, names[i])
	}
	hill := anotherPlace(t, s, "hill", "UTC", "+447700900203", "+447700900211", "+447700900222")
	want := make([]int64, 30)
	for i := range want {
		want[i] = int64(i + 1)
	}
	slices.SortStableFunc(want, func(a, b int64) int {
		return strings.Compare(nameKey(names[a-1]), nameKey(names[b-1]))
	})
	rapid.Check(t, func(t *rapid.T) {
		f := GrowerFilter{Limit: rapid.IntRange(1, 40).Draw(t, "limit"),
			Text:     rapid.SampledFrom([]string{"", "a", "ana", "9002", "e"}).Draw(t, "text"),
			InCircle: false, NotHeardOf: rapid.SampledFrom([]int{0, 1}).Draw(t, "days")}
		got := find(t, s, Scope{1, hill}, f, noon+day)
		left := slices.DeleteFunc(slices.Clone(want), func(id int64) bool {
			return !strings.Contains(nameKey(names[id-1]), f.Text) && f.Text != "9002"
		})
		errorIf(t, !slices.Equal(got, left), "%+v\n got %v\nwant %v", f, got, left)
	})
}

// Whatever is typed, the patterns have no sign of LIKE but those in front and at the end, and the name is found by each
// of its parts.
func FuzzSearchPatterns(f *testing.F) {
	for _, typed := range []string{"", "Ana", "100%_!", "+44 7700", "07700 900 001", "É\u0301", "\xff", "٣"} {
		f.Add(typed)
	}
	plain := regexp.MustCompile(`^\+?%?[0-9]*%$|^\+[0-9]*%$|^$`)
	f.Fuzz(func(t *testing.T, typed string) {
		name, number := searchPatterns(typed)
		inner := strings.NewReplacer("!!", "", "!%", "", "!_", "").Replace(name[1 : len(name)-1])
		errorIf(t, name[0] != '%' || name[len(name)-1] != '%' || strings.ContainsAny(inner, "!%_"), "%q: %q", typed,
			name)
		errorIf(t, !plain.MatchString(number), "%q: %q", typed, number)
		key := nameKey(typed)
		errorIf(t, nameKey(key) != key, "the key of %q is %q, and its key %q", typed, key, nameKey(key))
	})
}

// A page that has looked at many growers without a match ends, and the next one goes on there.
func TestFindLooksAtSomeGrowersOnly(t *testing.T) {
	s := open(t)
	scope := Scope{1}
	for i := range 31 {
		p := defaultPlace()
		p.Name = fmt.Sprint("place ", i)
		scope = append(scope, putPlace(t, s, p))
	}
	execSQL(t, s, manyFound, 0, 3000, fmt.Sprintf("+44%d", 7700900), noon)
	execSQL(t, s, manyFoundPlots, int64(day0), 0, 3000)
	last := number(t, s, "SELECT id FROM grower WHERE place_id = 1 ORDER BY name_key DESC, phone DESC LIMIT 1")
	execSQL(t, s, "UPDATE plot SET announced_no = 1, announced_opens = $1, announced_closes = $1 WHERE grower_id = $2",
		int64(day0), last)
	f := GrowerFilter{State: StateWindow, Limit: 50}
	var page GrowerPage
	view(t, s, func(tx *Tx) (err error) { page, err = tx.FindGrowers(scope, f, noon); return err })
	errorIf(t, len(page.Growers) != 0 || !page.Part || page.After == 0, "the first page is %d growers, %v, after %d",
		len(page.Growers), page.Part, page.After)
	equal(t, fmt.Sprint(find(t, s, scope, f, noon)), fmt.Sprint([]int64{last}), "over all pages")
	equal(t, len(find(t, s, scope, GrowerFilter{State: StateStopped}, noon)), 30, "who wants no texts")
	equal(t, len(find(t, s, scope, GrowerFilter{}, noon)), 3000, "all")
}
