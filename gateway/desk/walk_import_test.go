package desk_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// newGrowers is a file with three growers whom the valley does not know, and three mistakes: a day that may be read in
// two ways, a method that is none, and an area in words.
const newGrowers = `phone,language,consent_words,consent_by,consent_on,plot,method,planted,row_spacing_cm,area_m2
+447700900601,en,I want texts,the worker,2026-05-30,1,transplanted,03/04/2026,25,1200
+447700900602,en,I want texts,the worker,2026-05-30,1,drilled,2026-05-21,,900
+447700900603,en,I want texts,the worker,2026-05-30,1,broadcast,2026-05-21,,half a field
`

// A field worker reads a file whose mistakes are shown by line, mends it, sees what would happen to each row, and takes
// it. The same file again changes nothing.
func TestImportInABrowser(t *testing.T) {
	v := openValley(t)
	growers := func() int { return one[int](v, `SELECT count(*) FROM grower`) }
	before := growers()
	w := v.openWindow("worker")
	choose := func(text string) (status int) {
		file := filepath.Join(t.TempDir(), "season.csv")
		must(t, os.WriteFile(file, []byte(text), 0o600))
		w.Show(v.url+"/desk/import", 1280, 800, "#f-file")
		w.Do("choose a file", chromedp.SetUploadFiles(chromedp.CSS("#f-file"), []string{file}))
		return w.Press("main form button.do")
	}
	if status := choose(newGrowers); status != 422 {
		t.Errorf("a file with mistakes: status %d", status)
	}
	w.Says("main", "season.csv cannot be used yet", "line 2", "3 April 2026 or 4 March 2026", "line 3", "drilled",
		"line 4", "half a field")
	w.Audit("the mistakes of a file")

	mended := strings.NewReplacer("03/04/2026", "2026-05-20", "drilled", "broadcast", "half a field", "2000").
		Replace(newGrowers)
	if status := choose(mended); status != 200 || growers() != before {
		t.Fatalf("the check of a file: status %d; %d growers, before %d", status, growers(), before)
	}
	w.Says("main", "3 new", "+447700900602", "Nothing was written yet")
	w.Audit("what a file would do")
	w.Press("main form button.do")
	w.Says(".note", "season.csv was taken", "new growers: 3")
	if n := growers(); n != before+3 {
		t.Errorf("%d growers, want %d", n, before+3)
	}
	choose(mended)
	w.Says("main", "There is nothing to take")
	if n := one[int](v, `SELECT count(*) FROM trail WHERE what LIKE 'imported%' AND who = 'worker'`); n != 1 {
		t.Errorf("the trail has %d imports, want 1", n)
	}
}
