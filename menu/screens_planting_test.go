package menu

import (
	"testing"

	"rowbell/engine"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// TestPlanAPlanting checks that the two sides of a field give the rows, the hills, the seedlings, the seed and the
// marked string.
func TestPlanAPlanting(t *testing.T) {
	for _, c := range []struct {
		name    string
		book    *notebook.Book
		entries []string
		numbers []string
		seed    []string
		not     []string
	}{
		// 20 x 30 m at 20 cm gives 150 rows of 100 hills: 15,000 hills, with two seedlings each 30,000 seedlings. They
		// need 30,000 x 25 mg / 0.80 / 0.85 = 1.1 kg of seed: one seed weighs 25 mg (from memory), 80 % of the seeds
		// come up, and 85 % of those seedlings are planted (judgement).
		{"20 by 20 cm, two a hill", knownBook(), []string{"20*30", "1", "1", "2"},
			[]string{"600 m2: 150 rows of 100 hills.", "15000 hills, 30000 seedlings."},
			[]string{"About 1.1 kg seed", "nursery 24-60 m2",
				"String 20 m along a row, a mark each 20 cm; move it 20 cm."}, []string{"than usual"}},
		{"rows along the longer side", knownBook(), []string{"30*20", "2", "2", "15", "1"},
			[]string{"600 m2: 80 rows of 200 hills.", "16000 hills, 16000 seedlings."},
			[]string{"About 588 g seed", "String 20 m across the rows, a mark each 25 cm; move it 15 cm."},
			[]string{"than usual"}},
		{"in steps of 0.75 m", knownBook(), []string{"1", "40*20", "22.5", "22.5", "3"},
			[]string{"450 m2: 66 rows of 133 hills.", "8778 hills, 26334 seedlings."},
			[]string{"String 15 m across the rows"}, nil},
		{"by a tool's width", knownBook(), []string{"20*30", "3", "18", "1", "2"},
			[]string{"600 m2: 130 rows of 86 hills."}, nil, nil},
		{"by the tool of a plot", bookOf(inRows(25, engine.Tool{}),
			inRows(25, engine.Tool{WidthCM: 17, MaxWidthCM: 20})), []string{"20*30", "4", "1", "2"},
			[]string{"600 m2: 136 rows of 90 hills."}, nil, nil},
		{"far more seed than usual", knownBook(), []string{"20*30", "10", "1", "10", "4"},
			[]string{"240000 seedlings."}, []string{"Much more seed than usual."}, nil},
		{"far less seed than usual", knownBook(), []string{"20*30", "50", "1", "50", "1", "1"},
			[]string{"2400 seedlings."}, []string{"Much less seed than usual."}, nil},
		{"a field for many", knownBook(), []string{"200*5000", "1", "1", "1", "2"}, []string{"1000000 m2"},
			[]string{"About 1838 kg seed", "nursery 40000-100000 m2"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := caller(t, c.book).enter("5", "2", "1").enter(c.entries...).wants(c.numbers...)
			p.enter("1").wants(c.seed...)
			p.lacks(c.not...)
		})
	}
}

func TestPlantingIsReadBack(t *testing.T) {
	p := caller(t, knownBook()).enter("5", "2", "1", "600")
	p.wants("Not 600. ", "20*30")
	p.plays("0.5*30 => 1 to 5000 m each", "5000*5000 => 25000000 m2?")
	p.plays("20x30 => 20 m long, 30 m wide. | 1 20 cm | 2 25 cm")
	p.lacks("for my tool")
	p.enter("3", "12.5-17.5").wants("Rows 20 cm.", "also 20 cm apart?")
	p.enter("25", "13").wants("Not 13", "How many seedlings")
	p.plays("2 => 600 m2")
}

func TestRowsThatSuitATool(t *testing.T) {
	for _, c := range []struct{ entry, shows string }{
		// The expected row spacings follow common practice, no source: 20 to 25 cm for a tool of 15 cm.
		{"15", "Tool 15 cm wide: plant rows 20-25 cm apart. Under 20 cm it hurts the rice"},
		{"10-15", "Tool 10-15 cm wide: plant rows 20-25 cm apart. Under 15 cm"},
		{"18", "plant rows 23-25 cm apart."},
		{"22.5", "plant rows 27.5 cm apart. Under 27.5 cm"},
		{"8", "plant rows 13-18 cm apart."},
		{"70", "70 cm? It must be 5 to 60 cm."},
	} {
		p := caller(t, knownBook()).enter("5", "2", "2", c.entry)
		p.wants(c.shows)
	}
}

// TestAreSeedlingsReady checks when seedlings are ready, at a mean temperature of 27 °C on every day (the book has 22
// to 32 °C). The engine lets seedlings emerge after 100 degree-days (judgement) and grow a leaf in each further 100
// (Yoshida 1981, p. 21). They are ready with 3 to 5 leaves or 15 to 20 days old (common practice, no source).
func TestAreSeedlingsReady(t *testing.T) {
	for _, c := range []struct {
		entry string
		shows []string
		not   []string
	}{
		{"25/11", []string{"Sown today, Wed 25 Nov.", "Plant about Thu 10 Dec to Tue 15 Dec."}, []string{"we count"}},
		{"12", []string{"Sown Fri 13 Nov, 12 days ago: we count 2 leaves.", "Plant about Sat 28 Nov to Thu 3 Dec."},
			nil},
		{"13/11", []string{"Sown Fri 13 Nov, 12 days ago"}, nil},
		{"16", []string{"we count 3 leaves.", "Plant now, until about Sun 29 Nov."}, nil},
		{"30", []string{"Sown Mon 26 Oct, 30 days ago.", "It was best until Sun 15 Nov. Plant soon."},
			[]string{"we count"}},
		{"80", []string{"80 days ago.", "They are too old to do well. Sow again if you can."}, []string{"plant soon"}},
		{"5/12", []string{"To be sown Sat 5 Dec, in 10 days.", "Plant about Sun 20 Dec to Fri 25 Dec."},
			[]string{"we count"}},
		{"91", []string{"There is no day 91.", "How many days ago"}, nil},
		{"1/1/2020", []string{"more than 90 days ago"}, nil},
	} {
		p := caller(t, knownBook())
		p.b.Climate = engine.Steady(22, 32)
		p.enter("5", "2", "3", c.entry).wants(c.shows...)
		p.lacks(c.not...)
	}
	p := caller(t, knownBook()).enter("5", "2", "3", "16")
	p.wants("3 to 5 leaves or 15 to 20 days", "What you see counts.")
	p.plays("1 => When do you plant?")
}

// TestSeedlingsInTheCold checks a place whose weather is too cold for leaves to grow: the screen gives no date.
func TestSeedlingsInTheCold(t *testing.T) {
	p := caller(t, knownBook())
	p.b.Climate = engine.Steady(10, 16)
	p.enter("5", "2", "3", "16").wants("Plant about", "Dec")
	p = caller(t, knownBook())
	p.b.Climate = engine.Steady(-5, 5)
	p.enter("5", "2", "3", "16").wants("too cold for us to say when", "What you see counts.")
	p.lacks("Plant ")
}

func TestWaterAfterPlanting(t *testing.T) {
	for _, c := range []struct{ entry, shows string }{
		{"1", "from Sat 28 Nov, in 3 days"}, // 5 cm three days after transplanting: rkmp.co.in, water-management-6
		{"0512", "from Tue 8 Dec, in 13 days"}, {"22/11", "from today, Wed 25 Nov"},
		{"15/11", "from Wed 18 Nov, 7 days ago"}, {"7", "type 1"}, {"28", "28 is not a date."},
		{"31/2", "There is no day 31/2."}, {"8/8/2027", "is more than 120 days from now"},
	} {
		p := caller(t, knownBook()).enter("5", "2", "4", c.entry)
		p.wants(c.shows)
	}
	p := caller(t, knownBook()).enter("5", "2", "4", "1")
	p.wants("no deeper than the white of the stem", "About 5 cm of water", "never cover the seedlings")
}

// TestPlansFitTheScreen checks that plans with the longest numbers fit the screen in every language.
func TestPlansFitTheScreen(t *testing.T) {
	m := everyMenu()
	w := engine.Steady(22, 32)
	for _, lang := range m.cat.Languages() {
		for _, answers := range []map[Field]string{
			{fLength: "999.9", fWidth: "999.9", fRow: "5", fHill: "5", fSeedlings: "12", fTool: "12.5",
				fToolMax: "17.5"},
			{fLength: "1249.5", fWidth: "799.5", fRow: "22.5", fHill: "12.5", fSeedlings: "12", fTool: "22.5"},
			{fLength: "799.5", fWidth: "1249.5", fRow: "99.5", fHill: "99.5", fSeedlings: "1", fTool: "5.5",
				fToolMax: "59.5"},
		} {
			for _, id := range []ScreenID{"planting.rows", "planting.hills", "planting.layout", "planting.seed",
				"planting.spacing"} {
				fitsScreen(t, m, lang, bookOf(engine.Season{Tool: engine.Tool{WidthCM: 57.5}}),
					&session{Screen: id, Answers: answers})
			}
		}
		for ago := range engine.Day(90) {
			b := knownBook()
			b.Climate = w
			on := numberEN(float64(b.Day - ago))
			fitsScreen(t, m, lang, b, &session{Screen: "nursery.ready", Answers: map[Field]string{fSown: on}})
			fitsScreen(t, m, lang, b, &session{Screen: "planting.flood",
				Answers: map[Field]string{fPlanted: numberEN(float64(b.Day - 30 + ago))}})
		}
	}
}

func fitsScreen(t *testing.T, m *Menu, lang string, b *notebook.Book, s *session) {
	t.Helper()
	c := m.scene(b, USSD, s)
	c.lang = lang
	if page := c.pages(nil)[0]; !text.FitsUSSD(page) || c.err != nil {
		t.Errorf("%s: %s is %d octets long (%v):\n%s", lang, s.Screen, text.USSDOctets(page), c.err, page)
	}
}
