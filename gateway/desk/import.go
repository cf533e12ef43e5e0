package desk

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"

	"rowbell/store"
	"rowbell/store/growercsv"
)

const checkPattern = "POST /desk/import"

func init() { maxBody[checkPattern] = maxUpload + maxForm }

func (d *Desk) importRoutes() []route {
	return []route{
		{"GET /desk/import", change, nil, d.importPage},
		{checkPattern, change, nil, d.checkFile},
		{"GET /desk/import/{file}", change, uploadInPath, d.fatesPage},
		{"POST /desk/import/{file}", change, uploadInPath, d.takeFile},
	}
}

// uploadInPath loads the file that the caller has checked and whose id is {file}. If it is not kept any more, or is of
// somebody else, the request has none.
func uploadInPath(r *request) error {
	r.upload, _ = r.d.uploads.get(r.PathValue("file"), r.staff.ID, r.now)
	return nil
}

// maxMistakes is how many mistakes a page lists.
const maxMistakes = 200

type importView struct {
	Place    field
	MaxMB    int
	MaxRows  int
	File     string // name of a file that cannot be used
	Mistakes []growercsv.Mistake
	More     int // mistakes that are not listed
	Columns  []growercsv.Column
}

func (r *request) importView() importView {
	pairs := []string{}
	for _, p := range r.places {
		pairs = append(pairs, p.Name, p.Name)
	}
	hint := "For new growers for whom the file names no place."
	return importView{Place: r.form.Choice("place", "Place of new growers", hint, pairs...), MaxMB: maxUpload >> 20,
		MaxRows: growercsv.MaxRows, Columns: growercsv.Columns()}
}

func (d *Desk) importPage(r *request) error {
	return r.page("import", "Growers from a file", r.importView())
}

// checkFile reads a file, says what is wrong in it, or shows what would happen to each row.
func (d *Desk) checkFile(r *request) error {
	x := upload{staffID: r.staff.ID, at: r.now, place: r.form.Get("place")}
	if !slices.ContainsFunc(r.places, func(p store.Place) bool { return p.Name == x.place }) {
		r.form.wrong("place", "Choose a place.")
	}
	var err error
	if x.name, x.text, err = r.file("file"); err != nil {
		r.form.wrong("file", "Choose a file.")
	}
	v := r.importView()
	if !r.form.ok() {
		return r.again("import", "Growers from a file", v)
	}
	file, err := growercsv.Parse(bytes.NewReader(x.text), d.o.Files)
	if err != nil {
		var list growercsv.Mistakes
		if !errors.As(err, &list) {
			list = growercsv.Mistakes{{Reason: err.Error()}}
		}
		r.form.wrong("file", "Mend the file and choose it again.")
		v = r.importView()
		v.File, v.Mistakes = x.name, list[:min(len(list), maxMistakes)]
		v.More = len(list) - len(v.Mistakes)
		return r.again("import", "Growers from a file", v)
	}
	if x.fates, err = d.o.Store.CheckImport(r.Context(), r.anImport(x, file), r.now.Unix()); err != nil {
		return err
	}
	return r.redirect("/desk/import/" + d.uploads.put(x))
}

// file returns the file of a posted form.
func (r *request) file(name string) (string, []byte, error) {
	f, head, err := r.FormFile(name)
	if err != nil {
		return "", nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(f)
	return path.Base(strings.ReplaceAll(head.Filename, `\`, "/")), text, err
}

func (r *request) anImport(x upload, file growercsv.File) store.Import {
	return store.Import{Growers: file.Growers, Place: x.place, Scope: r.scope, File: x.name,
		By: r.entry("", "", "", "")}
}

// fateKinds are the kinds of fates in the order in which they are shown.
var fateKinds = []struct {
	Kind  store.FateKind
	Label string
}{
	{store.FateRefused, "refused"}, {store.FateChanged, "changed"}, {store.FateNew, "new"},
	{store.FateSame, "same as in the records"},
}

type fatesView struct {
	File, Digest, Summary string
	Kinds                 []fateCount
	Rows                  []store.Fate
	Next                  string // the page after this one; "" = none
	Kind                  store.FateKind
	Refused               int
	Nothing               bool // the records have all of the file
}

type fateCount struct {
	Label, Path string
	N           int
	Current     bool
}

func (d *Desk) fatesPage(r *request) error {
	if r.upload.id == "" {
		return r.gone()
	}
	return r.page("fates", "What the file would do", r.fatesView())
}

// gone sends the reader back to choose the file again.
func (r *request) gone() error {
	return r.to("/desk/import", "This file is not kept any more, and nothing was written. Choose it again.")
}

// fatesView returns one page of the fates of one kind. Without a kind in the query, it is the first that there is.
func (r *request) fatesView() fatesView {
	all := r.upload.fates
	v := fatesView{File: r.upload.name, Digest: all.Digest(), Summary: all.String(),
		Refused: all.Count(store.FateRefused), Kind: store.FateKind(r.URL.Query().Get("show"))}
	v.Nothing = all.Count(store.FateSame) == len(all)
	here := "/desk/import/" + r.upload.id
	for _, k := range fateKinds {
		n := all.Count(k.Kind)
		if v.Kind == "" && n > 0 {
			v.Kind = k.Kind
		}
		v.Kinds = append(v.Kinds, fateCount{k.Label, here + "?show=" + string(k.Kind), n, k.Kind == v.Kind})
	}
	after, _ := strconv.Atoi(r.URL.Query().Get("after")) // 0, from the first line on, if it is no number
	for _, f := range all {
		if f.Kind != v.Kind || f.Line <= after {
			continue
		}
		if len(v.Rows) == pageSize {
			v.Next = fmt.Sprintf("%s?show=%s&after=%d", here, v.Kind, v.Rows[pageSize-1].Line)
			break
		}
		v.Rows = append(v.Rows, f)
	}
	return v
}

// takeFile takes the very file that was checked, if it would still do what was shown.
func (d *Desk) takeFile(r *request) error {
	if r.upload.id == "" {
		return r.gone()
	}
	x := r.upload
	file, err := growercsv.Parse(bytes.NewReader(x.text), d.o.Files)
	if err != nil { // it could be read when it came
		return err
	}
	fates, err := d.o.Store.TakeImport(context.WithoutCancel(r.Context()), r.anImport(x, file), r.form.Get("digest"),
		r.now.Unix())
	switch {
	case errors.Is(err, store.ErrImportRefused), errors.Is(err, store.ErrImportDiffers):
		d.uploads.note(x.id, fates)
		return r.to("/desk/import/"+x.id, "The records have changed since the file was checked. Nothing was written. "+
			"Look again.")
	case errors.Is(err, store.ErrImportMoved):
		return r.to("/desk/import/"+x.id, "The records of the file's growers were changing. "+
			"Nothing was written. Try again.")
	case errors.Is(err, store.ErrImportLarge):
		return r.failed(http.StatusUnprocessableEntity, "Too much at once", fmt.Sprintf("More than %d growers of the "+
			"records would change. Nothing was written. Divide the file.", store.MaxImportChanges))
	case err != nil:
		return err
	}
	d.uploads.drop(x.id)
	return r.to("/desk/import", "The file "+x.name+" was taken: "+fates.String()+".")
}
