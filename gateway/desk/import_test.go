package desk

import (
	"bytes"
	"errors"
	"fmt"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"
	"time"

	"rowbell/store"
	"rowbell/store/growercsv"
)

// upload sends a form with a file, as a browser does.
func (b *browser) upload(path, name, file string, pairs ...string) page {
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	f := must(w.CreateFormFile("file", name))
	_ = must(f.Write([]byte(file)))
	for i := 0; i+1 < len(pairs); i += 2 {
		if err := w.WriteField(pairs[i], pairs[i+1]); err != nil {
			b.t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.t.Fatal(err)
	}
	h := b.h
	defer func() { b.h = h }()
	b.h = http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			r.Header.Set("Content-Type", w.FormDataContentType())
		}
		h.ServeHTTP(rw, r)
	})
	return b.send(http.MethodPost, path, &body)
}

const growersHead = "phone,language,place,consent_words,consent_by,consent_on,plot,method,planted,row_spacing_cm," +
	"area_m2\n"

const twoGrowers = growersHead +
	"+447700900001,en,,I want texts,Field 3,2026-06-01,1,transplanted,2026-05-20,25,1200\n" +
	"+447700900002,en,,I want texts,Field 3,2026-06-01,1,broadcast,2026-05-21,,\n"

// digestIn returns the digest that a page of fates has in its form.
func digestIn(t *testing.T, p page) string {
	t.Helper()
	_, rest, ok := strings.Cut(p.Body, `name="digest" value="`)
	digest, _, _ := strings.Cut(rest, `"`)
	if !ok || digest == "" {
		t.Fatalf("no digest in: %s", p.text())
	}
	return digest
}

func (o *office) growers() (n int64) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) (err error) {
		n, err = tx.Growers()
		return err
	})
	return n
}

func TestImport(t *testing.T) {
	o := newOffice(t)
	b := o.as("field")
	b.get("/desk/import").has(t, 200, "Growers from a file", "At most 4 MB and 10000 rows", "north",
		"row_spacing_cm between rows")
	p := b.upload("/desk/import", "season.csv", twoGrowers, "place", "north")
	p.has(t, 200, "season.csv : new growers: 2; new plots: 2; rows changed: 0; same: 0; refused: 0. Nothing was",
		"0 refused 0 changed 2 new 0 same", "7700900001 new grower; new plot 1")
	if o.growers() != 0 {
		t.Fatal("the check wrote something")
	}
	fates := b.path
	b.post(fates, "digest", digestIn(t, p)).has(t, 200, "The file season.csv was taken: new growers: 2; new plots: 2")
	if o.growers() != 2 {
		t.Errorf("%d growers", o.growers())
	}
	b.get(fates).has(t, 200, "This file is not kept any more")
	o.as("op").get("/desk/trail").has(t, 200, "field imported growers and plots: season.csv",
		"new growers: 2; new plots: 2; changes: 0")
	b.upload("/desk/import", "season.csv", twoGrowers, "place", "north").
		has(t, 200, "The records have all of it. There is nothing to take.")
}

// What is wrong in a file is told by its lines; mended, the file is taken.
func TestImportWithMistakes(t *testing.T) {
	o := newOffice(t)
	b := o.as("field")
	bad := strings.Replace(strings.Replace(twoGrowers, "2026-05-20", "03/04/2026", 1), "broadcast", "drilled", 1)
	b.upload("/desk/import", `C:\lists\season.csv`, bad, "place", "north").has(t, 422,
		"One thing is not right below. Nothing was changed yet.", "season.csv cannot be used yet",
		"line 2 planted \"03/04/2026\" may be 3 April 2026 or 4 March 2026; write 2026-04-03 or 2026-03-04",
		"line 3 method \"drilled\" is not one of: transplanted, row-sown, broadcast",
		"Mend the file and choose it again")
	b.upload("/desk/import", "season.csv", "colour\nred\n", "place", "north").
		has(t, 422, "there is no column \"colour\"")
	b.upload("/desk/import", "season.csv", "phone\n"+strings.Repeat("12\n", 250), "place", "north").
		has(t, 422, "line 201 phone", "And 50 mistakes more.")
	b.post("/desk/import", "place", "north").has(t, 422, "Choose a file.")
	b.upload("/desk/import", "season.csv", twoGrowers, "place", "moon").has(t, 422, "Choose a place.")
	b.upload("/desk/import", "big.csv", strings.Repeat("#", maxUpload+2*maxForm), "place", "north").
		has(t, 413, "What you sent is too long. Nothing was changed.")
	late := strings.Replace(twoGrowers, "2026-05-21", "2027-05-21", 1)
	p := b.upload("/desk/import", "season.csv", late, "place", "north")
	p.has(t, 200, "1 row is refused, so the file cannot be taken",
		"7700900002 refused: planted 2027-05-21 is more than 14 days ahead: today is 2026-06-02")
	p.hasNot(t, "Take the file", "7700900001")
	b.get(b.path+"?show=new").has(t, 200, "7700900001 new grower; new plot 1")
	if o.growers() != 0 {
		t.Error("something was written")
	}
	b.upload("/desk/import", "season.csv", twoGrowers, "place", "north").has(t, 200, "2 new")
}

// The very file that was checked is taken, and only if it would still do what was shown.
func TestImportTakesWhatWasShown(t *testing.T) {
	o := newOffice(t)
	b := o.as("field")
	p := b.upload("/desk/import", "season.csv", twoGrowers, "place", "north")
	fates := b.path
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger("+447700900002", nine.Unix())
		if err != nil {
			return err
		}
		return l.Stop()
	})
	p2 := b.post(fates, "digest", digestIn(t, p))
	p2.has(t, 200, "The records have changed since the file was checked. Nothing was written. Look again.",
		"this number has wanted no texts since 2026-06-02, after the consent of 2026-06-01: ask the grower again")
	if o.growers() != 0 {
		t.Error("something was written")
	}
}

// A file waits for half an hour, for the one who has checked it.
func TestImportKeepsFilesShortly(t *testing.T) {
	o := newOffice(t)
	b := o.as("field")
	p := b.upload("/desk/import", "season.csv", twoGrowers, "place", "north")
	fates, digest := b.path, digestIn(t, p)
	o.as("op").get(fates).has(t, 200, "This file is not kept any more, and nothing was written.")
	o.as("op").post(fates, "digest", digest).has(t, 200, "This file is not kept any more")
	o.clock.Advance(uploadTime - time.Second)
	b.get(fates).has(t, 200, "Take the file")
	o.clock.Advance(time.Second)
	b.post(fates, "digest", digest).has(t, 200, "This file is not kept any more")
	if o.growers() != 0 {
		t.Error("something was written")
	}
}

func TestUploads(t *testing.T) {
	var u uploads
	var ids []string
	for i := range keepUploads + 2 {
		ids = append(ids, u.put(upload{staffID: int64(i), at: nine}))
	}
	for i, id := range ids {
		if _, there := u.get(id, int64(i), nine); there != (i >= 2) {
			t.Errorf("file %d is kept: %v", i, there)
		}
	}
	again := u.put(upload{staffID: 5, at: nine})
	if _, there := u.get(ids[5], 5, nine); there {
		t.Error("the former file of an account is kept")
	}
	u.drop(again)
	if _, there := u.get(again, 5, nine); there || len(u.list) != keepUploads-1 {
		t.Errorf("%d files after one was dropped", len(u.list))
	}
}

// A field worker cannot touch growers of other places by a file.
func TestImportKeepsToOwnPlaces(t *testing.T) {
	o := newOffice(t)
	o.as("op")
	b := o.as("op")
	p := b.upload("/desk/import", "season.csv", twoGrowers, "place", "south")
	b.post(b.path, "digest", digestIn(t, p)).has(t, 200, "was taken")
	f := o.as("field")
	f.upload("/desk/import", "season.csv", "phone,plot,area_m2\n+447700900001,1,5\n", "place", "north").
		has(t, 200, "the records have this number at a place that is not yours; ask an operator")
	f.upload("/desk/import", "season.csv", strings.Replace(twoGrowers, "en,,", "en,south,", 1), "place", "north").
		has(t, 200, "refused")
	f.upload("/desk/import", "season.csv", twoGrowers, "place", "south").has(t, 422, "Choose a place.")
	o.as("viewer").upload("/desk/import", "season.csv", twoGrowers, "place", "north").has(t, 403, "Not with your role")
}

func TestExport(t *testing.T) {
	o := newOffice(t)
	b := o.as("op")
	p := b.upload("/desk/import", "season.csv", strings.Replace(twoGrowers, "en,,", "en,south,", 1), "place", "north")
	b.post(b.path, "digest", digestIn(t, p)).has(t, 200, "was taken")
	b.get("/desk/export").has(t, 200, "Growers to a file", "all places of mine default north south")

	got := b.post("/desk/export", "what", "plots", "numbers", "whole")
	want := "'+447700900002,,,,en,north,I want texts,Field 3,2026-06-01"
	if !strings.HasPrefix(got.Body, "\ufeffphone,name,") || strings.Count(got.Body, "\n") != 3 ||
		!strings.Contains(got.Body, want) {
		t.Errorf("all plots:\n%s", got.Body)
	}
	if h := got.Header.Get("Content-Disposition"); h != `attachment; filename="rowbell-plots-2026-06-02.csv"` {
		t.Errorf("header %s", h)
	}
	b.upload("/desk/import", "again.csv", got.Body, "place", "north").has(t, 200, "The records have all of it.")
	b.get("/desk/trail").has(t, 200, "op exported with whole numbers: plots of all places")

	f := o.as("field")
	for _, what := range store.ExportKinds() {
		got := f.post("/desk/export", "what", what)
		if strings.Contains(got.Body, "7700900") || strings.Contains(got.Body, "…001") {
			t.Errorf("%s of the field worker:\n%s", what, got.Body)
		}
	}
	f.post("/desk/export", "what", "plots", "place", "south").has(t, 422, "Choose a place.")
	f.post("/desk/export", "what", "money").has(t, 422, "Choose what the file is to have.")
	o.as("viewer").post("/desk/export", "what", "plots").has(t, 403, "Not with your role")
}

// A page of fates is small, however long the file is, and the next page goes on.
func TestImportPagesFates(t *testing.T) {
	o := newOffice(t)
	b := o.as("op")
	file := growersHead
	for i := range 120 {
		file += fmt.Sprintf("+44%d%03d,en,,I want texts,Field 3,2026-06-01,1,broadcast,2026-05-21,,\n", 7700900, i)
	}
	p := b.upload("/desk/import", "season.csv", file, "place", "north")
	seen := 0
	for {
		seen += strings.Count(p.Body, "new grower; new plot 1")
		_, rest, more := strings.Cut(p.Body, `<p><a href="/desk/import/`)
		if !more {
			break
		}
		next, _, _ := strings.Cut(rest, `"`)
		p = b.get("/desk/import/" + strings.ReplaceAll(next, "&amp;", "&"))
	}
	if seen != 120 || len(p.Body) > 100_000 {
		t.Errorf("%d rows seen; %d octets", seen, len(p.Body))
	}
}

// fileRules are how the desks of tests read files of growers.
var fileRules = growercsv.Rules{Languages: []string{"en"},
	Phone: func(s string) (string, error) {
		if !strings.HasPrefix(s, "+") {
			return "", errors.New("no number")
		}
		return s, nil
	},
	Label: func(s string) (string, error) { return s, nil }}
