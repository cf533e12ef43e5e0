package desk

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"rowbell/store"
)

func (d *Desk) exportRoutes() []route {
	return []route{
		{"GET /desk/export", call, nil, d.exportPage},
		{"POST /desk/export", call, nil, d.exportFile},
	}
}

type exportView struct{ What, Place, Numbers field }

func (r *request) exportView() exportView {
	pairs := []string{"", "all places of mine"}
	for _, p := range r.places {
		pairs = append(pairs, p.Name, p.Name)
	}
	return exportView{
		What: r.form.Choice("what", "What", "", "plots", "growers with their open plots", "growers", "growers alone",
			"passes", "weedings", "texts", "texts that were sent to growers"),
		Place: r.form.Choice("place", "Place", "", pairs...),
		Numbers: r.form.Choice("numbers", "Phone numbers", "Only a file with whole numbers can be read again.", "",
			"masked", "whole", "whole numbers: the trail says that you took them"),
	}
}

func (d *Desk) exportPage(r *request) error {
	return r.page("export", "Growers to a file", r.exportView())
}

// exportFile sends a CSV file. It begins with a byte order mark, by which spreadsheets know UTF-8.
func (d *Desk) exportFile(r *request) error {
	x := store.Export{What: r.form.Get("what"), Scope: r.scope, Numbers: r.form.Get("numbers") == "whole"}
	if !slices.Contains(store.ExportKinds(), x.What) {
		r.form.wrong("what", "Choose what the file is to have.")
	}
	if name := r.form.Get("place"); name != "" {
		i := slices.IndexFunc(r.places, func(p store.Place) bool { return p.Name == name })
		if i < 0 {
			r.form.wrong("place", "Choose a place.")
		} else {
			x.Scope = store.Scope{r.places[i].ID}
		}
	}
	if !r.form.ok() {
		return r.again("export", "Growers to a file", r.exportView())
	}
	if x.Numbers {
		if err := r.write(func(tx *store.Tx) error {
			return tx.Trail(r.entry("exported with whole numbers", x.What+" of "+r.namesOf(x.Scope), "", ""))
		}); err != nil {
			return err
		}
	}
	r.done = true
	h := r.w.Header()
	h.Set("Content-Type", "text/csv; charset=utf-8")
	h.Set("Content-Disposition", fmt.Sprintf(`attachment; filename="rowbell-%s-%s.csv"`, x.What,
		r.now.UTC().Format(time.DateOnly)))
	// A large file on a slow line takes longer than a page may; an error means that there is no such limit.
	_ = http.NewResponseController(r.w).SetWriteDeadline(time.Time{})
	_, err := r.w.Write([]byte("\ufeff"))
	if err == nil {
		_, err = d.o.Store.WriteExport(r.Context(), r.w, x)
	}
	if err != nil { // a file that is cut off must not look whole
		d.o.Log.Error().Err(err).Str("page", r.Pattern).Msg("desk: an export was broken off")
		panic(http.ErrAbortHandler)
	}
	return nil
}

// namesOf returns the names of the places of a scope; "all places" only for a reader who has all of them.
func (r *request) namesOf(scope store.Scope) string {
	if r.may(run) && len(scope) == len(r.places) && len(scope) != 1 {
		return "all places"
	}
	names := ""
	for _, id := range scope {
		if names != "" {
			names += ", "
		}
		names += r.placeName(id)
	}
	return names
}
