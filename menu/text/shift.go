package text

// Shift names the table of a national language by its identifier: 3GPP TS
// 23.038, clause 6.2.1.2.4. The zero Shift is the default: no such table.
type Shift uint8

// The national languages that have tables.
const (
	Turkish Shift = iota + 1
	Spanish       // has no locking table (clause A.3.2)
	Portuguese
	Bengali
	Gujarati
	Hindi
	Kannada
	Malayalam
	Oriya
	Punjabi
	Tamil
	Telugu
	Urdu
)

var shiftNames = [...]string{
	0: "default", Turkish: "Turkish", Spanish: "Spanish", Portuguese: "Portuguese", Bengali: "Bengali", Gujarati: "Gujarati", Hindi: "Hindi",
	Kannada: "Kannada", Malayalam: "Malayalam", Oriya: "Oriya", Punjabi: "Punjabi", Tamil: "Tamil", Telugu: "Telugu", Urdu: "Urdu",
}

// String is the language's English name.
func (s Shift) String() string {
	if int(s) < len(shiftNames) {
		return shiftNames[s]
	}
	return "unknown"
}

// Known reports whether s is a national language that has tables, 1 to 13.
func (s Shift) Known() bool { return s >= Turkish && s <= Urdu }

// A page is a table with the way back from symbol to code.
type page struct {
	symbols symbols
	codes   map[rune]byte
}

func newPage(t symbols) *page {
	p := &page{symbols: t, codes: make(map[rune]byte, len(t))}
	for i, r := range t {
		if _, twice := p.codes[r]; r != 0 && !twice { // ¡ and * stand twice in some: the first is sent
			p.codes[r] = byte(i)
		}
	}
	return p
}

// with is the table with runs written over it.
func (t symbols) with(runs []run) symbols {
	for _, r := range runs {
		for i := r.from; i <= r.to; i++ {
			t[i] = r.first + rune(i-r.from)
		}
	}
	return t
}

// The pages by language; nil where there is none.
var (
	lockingPages = func() (pages [Urdu + 1]*page) {
		pages[0] = newPage(basic)
		for s, runs := range lockingRuns {
			switch {
			case runs == nil:
			case Shift(s) < Bengali:
				pages[s] = newPage(basic.with(runs))
			default:
				pages[s] = newPage(lockingShared.with(runs))
			}
		}
		return pages
	}()

	singlePages = func() (pages [Urdu + 1]*page) {
		pages[0] = newPage(extended)
		for s, runs := range singleRuns {
			switch {
			case runs == nil:
			case Shift(s) < Bengali:
				pages[s] = newPage(extended.with(runs))
			default:
				pages[s] = newPage(singleShared.with(runs))
			}
		}
		return pages
	}()
)
