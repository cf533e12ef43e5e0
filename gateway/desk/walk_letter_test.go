package desk_test

import (
	"context"
	"fmt"
	"testing"

	"rowbell/store"
)

const (
	englishWords = "Training with the weeder on Friday at the school. Wear boots: the teeth are sharp."
	hindiWords   = "शुक्रवार को स्कूल में प्रशिक्षण है।"
)

// addGrowers adds growers to the valley who read Hindi.
func (v *valley) addGrowers(first, n int) {
	v.t.Helper()
	must(v.t, v.service.Store().InTx(v.t.Context(), func(tx *store.Tx) error {
		for i := range n {
			l, err := tx.Ledger(store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(first+i))), v.clock.Now().Unix())
			if err == nil {
				err = l.Consent("hi", "practice", "ussd")
			}
			if err == nil {
				err = l.SetPlace(store.DefaultPlace)
			}
			if err != nil {
				return err
			}
		}
		return nil
	}))
}

// A field worker writes to the 40 growers of the valley, who read two languages: the parts are counted as one types,
// the count is typed to confirm, and each grower gets the letter once, in the own language. The uplands get nothing.
func TestLetterToFortyGrowersInABrowser(t *testing.T) {
	const growers, hadEnough = 40, 2
	v := openValley(t)
	v.addGrowers(801, growers+hadEnough-one[int](v, `SELECT count(*) FROM grower g JOIN place p ON p.id = g.place_id
		WHERE p.name = ?`, store.DefaultPlace))
	w := v.openWindow("worker")
	w.Show(v.url+"/desk/letters", 1280, 800, "main")
	w.Press("main a.do-link")
	w.Press("main form.find button")
	w.Says("main", "40 growers get it", "2: got as many texts this week", "Write no doses")
	counted := w.Text("#p-text-en")
	w.Type("#f-text-en", englishWords)
	w.WaitForOther("the parts", "#p-text-en", counted)
	w.Says("#p-text-en", "1 part")
	w.Type("#f-text-hi", hindiWords)
	w.Press(`main button[value="go"]`)
	w.Says("main", "40 growers", englishWords, hindiWords)
	w.Shot("letter-confirm")
	w.Type("#f-confirm", "39")
	if status := w.Press("main form button.do"); status != 422 {
		t.Errorf("a wrong count: status %d", status)
	}
	w.Says("#m-confirm", "40")
	w.Set("#f-confirm", "40")
	w.Press("main form button.do")
	w.Says(".note", "It goes out")

	must(t, v.service.Settle(context.WithoutCancel(t.Context())))
	w.Press(`main p a[href^="/desk/letters/"]`)
	w.Says("main", "Texts written: 40")
	w.Audit("a letter")
	got := func(words string) int {
		return one[int](v, `SELECT count(DISTINCT phone) FROM message WHERE body = ?`, words)
	}
	all := one[int](v, `SELECT count(*) FROM message WHERE body IN (?, ?)`, englishWords, hindiWords)
	if en, hi := got(englishWords), got(hindiWords); en+hi != growers || hi == 0 || all != growers {
		t.Errorf("%d growers got it in English and %d in Hindi, want %d in all; %d texts", en, hi, growers, all)
	}
	if n := one[int](v, `SELECT count(*) FROM message WHERE body IN (?, ?) AND phone = ?`, englishWords, hindiWords,
		uplander.E164()); n != 0 {
		t.Error("the grower of the uplands got it")
	}
}
