package desk_test

import (
	"fmt"
	"strings"
	"testing"

	"rowbell/gateway/browser"
)

// A grower has a new number. A field worker finds the grower by the last digits of the old one, types the new number,
// reads it back, and moves the records. The old number has none then. The walk needs no scripts.
func TestGrowerMovedInABrowser(t *testing.T) {
	v := openValley(t)
	w := v.openWindow("worker")
	w.WithoutScripts()
	w.Show(v.url+"/desk/growers", 360, 740, "main")
	w.Type(`input[name="q"]`, "00 007")
	w.Press(`form.find button`)
	if n := browser.Value[int](w.Window, `document.querySelectorAll("main tbody tr").length`); n != 1 {
		t.Errorf("%d growers are found, want 1", n)
	}
	w.Press(`main tbody th a`)
	w.Says("h1", "Goro")
	w.Press(`main a[href$="/move"]`)
	w.Type("#f-number", "12")
	if status := w.Press("main form button.do"); status != 422 {
		t.Errorf("a number that is too short: status %d", status)
	}
	w.Set("#f-number", "+44 7700 900 702")
	w.Press("main form button.do")
	if said := strings.Join(strings.Fields(w.Text("main .big")), ""); said != "+447700900702" {
		t.Errorf("the number is read back as %s", said)
	}
	id := one[int64](v, `SELECT id FROM grower WHERE phone = ?`, looker.E164()) // nothing is moved yet
	w.Press("main form button.do")
	w.Says(".note", "Moved to the new number")
	w.Says("main", "+447700900702", "moved to a new number")
	if now := one[string](v, `SELECT phone FROM grower WHERE id = ?`, id); now != "+447700900702" {
		t.Errorf("the records are at the number %s", now)
	}
	if n := one[int](v, `SELECT count(*) FROM trail WHERE grower_id = ? AND who = 'worker'
		AND was || now LIKE '%7700900%'`, id); n != 0 {
		t.Errorf("%d entries of the trail have a whole number", n)
	}
}

// A grower logged a weeding of the whole plot, and half of it was weeded. A field worker corrects it. The page of the
// plot then says what was so before, and who changed it.
func TestHalfWeedingCorrectedInABrowser(t *testing.T) {
	v := openValley(t)
	w := v.openWindow("worker")
	plot := v.paths("default").Replace("{plot}")
	w.Show(v.url+"/desk/plot/"+plot, 1280, 800, "main")
	if *update {
		w.SaveWindow("plot.png", 1280, 1130)
	}
	last := one[int](v, `SELECT max(day) FROM pass WHERE plot_id = ?`, plot)
	w.Press(fmt.Sprintf(`main ol.events a[href$="/pass/%d.0"]`, last))
	w.Choose("#f-part", "a half")
	w.Press("main form button.do")
	w.Says("main ol.events", "worker", "50 %")
	share := one[float64](v, `SELECT share FROM pass WHERE plot_id = ? ORDER BY day DESC LIMIT 1`, plot)
	if share != 0.5 {
		t.Errorf("the share is %g, want 0.5", share)
	}
	if n := one[int](v, `SELECT count(*) FROM correction WHERE plot_id = ?`, plot); n != 1 {
		t.Errorf("%d corrections are kept, want 1", n)
	}
	if n := one[int](v, `SELECT count(*) FROM trail WHERE plot_id = ? AND who = 'worker'`, plot); n != 1 {
		t.Errorf("the trail has %d entries, want 1", n)
	}
	w.Shot("half-weeding")
}
