package menu

import (
	"strconv"
	"strings"
	"testing"
)

// TestPagesOfTheMainWay counts the pages on the way from the dial to a saved plot, with every page that must be turned
// to see all choices. A page costs the grower money and patience on many networks (common practice, no source), so a
// language may take only the pages listed here. A question must be on one page with its choices.
func TestPagesOfTheMainWay(t *testing.T) {
	most := map[string]int{"hi": 9} // a page in the script of Hindi has 80 characters; the saved plot takes two pages
	const otherMost = 8
	m := everyMenu()
	for _, lang := range m.Languages() {
		for _, planted := range []string{"1", "15/11"} {
			b := bookOf()
			b.Lang = lang
			p := dials(t, m, b, "*123#")
			pages := pagesOf(p)
			for _, entry := range []string{"1", "1", planted, "1", "1", "1", "20*30"} {
				if pagesOf(p) > 1 {
					t.Errorf("%s: a question is on another page than its choices:\n%s", lang, p.last.Text)
				}
				pages += pagesOf(p.enter(entry))
			}
			if len(b.Seasons) != 1 {
				t.Fatalf("%s: no plot was saved:\n%s", lang, p.last.Text)
			}
			may, ok := most[lang]
			if !ok {
				may = otherMost
			}
			if pages > may {
				t.Errorf("%s: %d pages from the dial to a saved plot, at most %d are allowed", lang, pages, may)
			}
		}
	}
}

// TestPagesOfConsent checks that the question for consent is on the first page of a first call, with yes and no.
func TestPagesOfConsent(t *testing.T) {
	m := everyMenu()
	for i, lang := range m.Languages() {
		p := dials(t, m, newBook(), "*123#").enter(strconv.Itoa(i + 1))
		c := m.scene(p.b, USSD, &session{Screen: ScreenHome})
		c.lang = lang
		p.wants(c.t("welcome.head", nil), c.t("welcome.ask", nil), "1 "+c.t("welcome.yes", nil),
			"2 "+c.t("welcome.no", nil))
		if pages := pagesOf(p); pages > 2 { // the second page has what few choose: another language, a code
			t.Errorf("%s: the question for consent takes %d pages", lang, pages)
		}
	}
}

// pagesOf counts the pages of the screen that a phone shows. The phone stays on the first page.
func pagesOf(p *phone) int {
	q := *p
	for n := 1; ; n++ {
		if !strings.Contains(q.last.Text, "\n"+MoreKey+" ") {
			return n
		}
		q.enter(MoreKey)
	}
}
