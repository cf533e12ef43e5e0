package store

import (
	"slices"
	"testing"
)

// placeIDs makes places and returns their ids, after the id of the place that is always there.
func placeIDs(t *testing.T, s *Store, names ...string) (list Scope) {
	t.Helper()
	write(t, s, func(tx *Tx) error {
		for _, name := range names {
			p := defaultPlace()
			p.Name = name
			if _, err := tx.PutPlace(p); err != nil {
				return err
			}
		}
		var err error
		list, err = tx.Scope(Staff{Role: RoleOperator})
		return err
	})
	return list
}

func addStaff(t *testing.T, s *Store, a Staff) int64 {
	t.Helper()
	var id int64
	write(t, s, func(tx *Tx) (err error) { id, err = tx.AddStaff(a, noon); return err })
	return id
}

func TestStaff(t *testing.T) {
	s := open(t)
	places := placeIDs(t, s, "north", "south")
	mira := addStaff(t, s, Staff{Name: "mira", Role: RoleOperator})
	ravi := addStaff(t, s, Staff{Name: "ravi", Role: RoleFieldWorker, Places: places[1:2]})
	try := func(fn func(*Tx) error) error { return s.InTx(ctx, fn) }
	for name, c := range map[string]struct {
		want error
		do   func(*Tx) error
	}{
		"a name that is taken": {ErrStaffName, func(tx *Tx) error {
			return second(tx.AddStaff(Staff{Name: "mira", Role: RoleOperator}, noon))
		}},
		"the last operator becomes a viewer": {ErrLastOperator, func(tx *Tx) error {
			return tx.SetStaff(Staff{ID: mira, Name: "mira", Role: RoleViewer, Places: places})
		}},
		"the last operator leaves": {ErrLastOperator, func(tx *Tx) error { return tx.EndStaff(mira, noon) }},
		"nobody leaves":            {ErrNoStaff, func(tx *Tx) error { return tx.EndStaff(99, noon) }},
	} {
		wantErr(t, try(c.do), c.want, "%s", name)
	}
	for _, wrong := range []Staff{{Role: RoleOperator}, {Name: " x", Role: RoleOperator}, {Name: "x"},
		{Name: "x", Role: RoleViewer}} {
		errorIf(t, try(func(tx *Tx) error { return second(tx.AddStaff(wrong, noon)) }) == nil, "%+v was taken", wrong)
	}
	scope := func(id int64) Scope {
		return get(t, s, func(tx *Tx) (Scope, error) {
			a, _, err := tx.StaffByID(id)
			if err != nil {
				return nil, err
			}
			return tx.Scope(a)
		})
	}
	errorIf(t, !slices.Equal(scope(mira), places), "the operator sees %v of %v", scope(mira), places)
	errorIf(t, !slices.Equal(scope(ravi), places[1:2]), "the field worker sees %v", scope(ravi))
	write(t, s, func(tx *Tx) error {
		return tx.SetStaff(Staff{ID: ravi, Name: "ravi", Role: RoleViewer, Places: places[:2]})
	})
	list := get(t, s, (*Tx).StaffList)
	errorIf(t, len(list) != 2 || list[1].Role != RoleViewer || !slices.Equal(list[1].Places, places[:2]), "%+v", list)
	write(t, s, func(tx *Tx) error { return tx.EndStaff(ravi, noon) })
	addStaff(t, s, Staff{Name: "ravi", Role: RoleOperator}) // the name is free again
	write(t, s, func(tx *Tx) error { return tx.EndStaff(mira, noon) })
}

func TestStaffSessionsEnd(t *testing.T) {
	s := open(t)
	id := addStaff(t, s, Staff{Name: "mira", Role: RoleOperator})
	put := func(hash string) {
		write(t, s, func(tx *Tx) error {
			return tx.PutStaffSession(StaffSession{Hash: hash, StaffID: id, Data: []byte{1}, BeganAt: noon,
				SeenAt: noon, Until: noon + 100})
		})
	}
	live := func(at int64) (list []string) {
		for _, x := range get(t, s, func(tx *Tx) ([]StaffSession, error) { return tx.StaffSessions(id, at) }) {
			list = append(list, x.Hash)
		}
		return list
	}
	for _, hash := range []string{"a", "b", "c"} {
		put(hash)
	}
	write(t, s, func(tx *Tx) error { return tx.SeenStaffSession("b", noon+9) })
	errorIf(t, !slices.Equal(live(noon), []string{"b", "a", "c"}), "%v", live(noon))
	errorIf(t, live(noon+100) != nil, "%v after their end", live(noon+100))
	write(t, s, func(tx *Tx) error { return tx.EndSessions(id, "a") })
	errorIf(t, !slices.Equal(live(noon), []string{"a"}), "%v", live(noon))
	write(t, s, func(tx *Tx) error { return tx.SetPassword(id, "hash") })
	errorIf(t, live(noon) != nil, "%v after a new password", live(noon))
	put("d")
	_, err := s.Prune(ctx, noon+101)
	ok(t, err)
	wantRows(t, s, map[string]int64{"staff_session": 0, "staff": 1})
}

func TestStaffLinks(t *testing.T) {
	s := open(t)
	first := get(t, s, func(tx *Tx) (string, error) { return tx.FirstLink(noon) })
	again := get(t, s, func(tx *Tx) (string, error) { return tx.FirstLink(noon) })
	usable := func(token string, at int64) (id int64, can bool) {
		write(t, s, func(tx *Tx) (err error) { id, can, err = tx.Link(token, at); return err })
		return id, can
	}
	_, can := usable(first, noon)
	errorIf(t, can, "the first link works after a second was made")
	_, can = usable(again, noon)
	errorIf(t, !can, "the second link does not work")
	_, can = usable(again, noon+LinkLifetime)
	errorIf(t, can, "the link works for ever")
	used := func(token string) bool {
		return get(t, s, func(tx *Tx) (bool, error) { return tx.UseLink(token) })
	}
	errorIf(t, !used(again) || used(again), "a link can be used twice")
	id := addStaff(t, s, Staff{Name: "mira", Role: RoleOperator})
	none := get(t, s, func(tx *Tx) (string, error) { return tx.FirstLink(noon) })
	equal(t, none, "", "a first link beside an account")
	link := get(t, s, func(tx *Tx) (string, error) { return tx.AddLink(id, noon) })
	whose, can := usable(link, noon)
	errorIf(t, !can || whose != id, "the link is of %d", whose)
	write(t, s, func(tx *Tx) error { return tx.SetPassword(id, "hash") })
	_, can = usable(link, noon)
	errorIf(t, can, "the link works after a password was set")
}

// The trail shows what belongs to a place only to those who see the place, and goes with its grower.
func TestTrail(t *testing.T) {
	s := openWithPlot(t, ana)
	places := placeIDs(t, s, "north")
	id := addStaff(t, s, Staff{Name: "mira", Role: RoleOperator})
	grower := number(t, s, "SELECT id FROM grower")
	write(t, s, func(tx *Tx) error {
		for _, e := range []TrailEntry{
			{What: "added staff", Object: "ravi"},
			{What: "logged", PlaceID: places[0], GrowerID: grower, PlotID: 1, Now: "weeded 2 Jun"},
			{What: "noted", PlaceID: places[1]},
		} {
			e.At, e.StaffID, e.Who = noon, id, "mira"
			if err := tx.Trail(e); err != nil {
				return err
			}
		}
		return nil
	})
	read := func(scope Scope, f TrailFilter) (list []string) {
		entries := get(t, s, func(tx *Tx) ([]TrailEntry, error) { return tx.TrailEntries(scope, f, 10) })
		for _, e := range entries {
			list = append(list, e.What)
		}
		return list
	}
	for _, c := range []struct {
		scope Scope
		f     TrailFilter
		want  []string
	}{
		{places, TrailFilter{NoPlace: true}, []string{"noted", "logged", "added staff"}},
		{places, TrailFilter{}, []string{"noted", "logged"}},
		{places, TrailFilter{Before: 3}, []string{"logged"}},
		{places[:1], TrailFilter{}, []string{"logged"}},
		{places, TrailFilter{GrowerID: grower}, []string{"logged"}},
		{places, TrailFilter{GrowerID: grower, PlotID: 2}, nil},
		{places[1:], TrailFilter{GrowerID: grower}, nil},
		{nil, TrailFilter{}, nil},
	} {
		errorIf(t, !slices.Equal(read(c.scope, c.f), c.want), "%v %+v: %v", c.scope, c.f, read(c.scope, c.f))
	}
	// What is of other places does not shorten a page.
	page := get(t, s, func(tx *Tx) ([]TrailEntry, error) {
		err := tx.Trail(TrailEntry{At: noon, Who: "mira", What: "moved", PlaceID: places[1], GrowerID: grower})
		if err != nil {
			return nil, err
		}
		return tx.TrailEntries(places[:1], TrailFilter{GrowerID: grower}, 1)
	})
	errorIf(t, len(page) != 1 || page[0].What != "logged", "%+v", page)
	execSQL(t, s, "DELETE FROM trail WHERE what = 'moved'")
	p := get(t, s, func(tx *Tx) (PersonalData, error) { return tx.PersonalData(ana, noon) })
	errorIf(t, len(p.Records.ByStaff) != 1 || p.Records.ByStaff[0].Now != "weeded 2 Jun", "%+v", p.Records.ByStaff)
	ok(t, try(s, ana, noon, (*Ledger).Erase))
	errorIf(t, !slices.Equal(read(places, TrailFilter{NoPlace: true}), []string{"noted", "added staff"}), "%v",
		read(places, TrailFilter{NoPlace: true}))
}
