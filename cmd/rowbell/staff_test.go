package main

import (
	"strings"
	"testing"

	"rowbell/store"
)

func TestStaffCommand(t *testing.T) {
	db, s, _, _ := personRecords(t)
	steps := []shellStep{
		{"", 0, "There are no accounts"},
		{"add mira --role king", 2, `"king" is no role`},
		{"add ravi", 2, "needs at least one place"},
		{"add mira --role operator --place default", 2, "an operator sees all places"},
		{"add ravi --place nowhere", 1, `no account was added: there is no place called "nowhere"`},
		{"add mira --role operator", 0, "/desk/join/"},
		{"add mira --role operator", 1, "no account was added: this name is taken"},
		{"add ravi --place default --phone 12", 2, "--phone"},
		{"add ravi --place default --phone " + freeNumber, 0, "Link for ravi"},
		{"", 0, "ravi field worker default"},
		{"", 0, "has not used the link"},
		{"link nobody", 1, `there is no account called "nobody"`},
		{"link ravi", 0, "Link for ravi"},
		{"end mira", 1, "this is the last operator"},
		{"end ravi", 0, "Ended: the account ravi"},
		{"end ravi", 1, "there is no account"},
	}
	for i := range steps {
		steps[i].args += " --db " + db
	}
	runSteps(t, "staff", steps)
	var what []string
	must(t, s.View(t.Context(), func(tx *store.Tx) error {
		list, err := tx.TrailEntries(nil, store.TrailFilter{NoPlace: true}, 10)
		for _, e := range list {
			what = append(what, e.Who+" "+e.What+": "+e.Object)
		}
		return err
	}))
	want := []string{"ended an account", "made a link for a new password", "added an account", "added an account"}
	for i, w := range want {
		if i >= len(what) || !strings.HasPrefix(what[i], "rowbell staff "+w+": account ") {
			t.Errorf("the trail is %q", what)
			break
		}
	}
}
