package growercsv

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"rowbell/engine"
)

// column is one column of a file: how its value is written and read.
type column struct {
	name    string
	about   string // for people: what stands in the column
	plot    bool   // about a plot, otherwise about the grower
	key     bool   // names a grower or a plot
	needed  bool   // a new grower or plot must have it
	alias   bool   // another unit of a column that stands before it; not written
	consent bool
	text    bool // may hold any text, so it is written by Defuse

	get   func(*Values) string                               // "" if not given
	read  func(cell string, r *rules) (func(*Values), error) // cell is not empty
	clear func(*Values)                                      // nil: the value cannot be taken out
}

// rules are the Rules and the form of one file.
type rules struct {
	Rules
	decimalCommas bool
}

// Column describes a column for people.
type Column struct {
	Name, About string
	Plot        bool // about a plot, otherwise about the grower
	Needed      bool // a new grower or a new plot must have it
}

// Columns lists the columns that a file may have, in the order in which they are written.
func Columns() (list []Column) {
	for _, c := range columns {
		list = append(list, Column{c.name, c.about, c.plot, c.needed})
	}
	return list
}

var columns = slices.Concat(growerColumns, plotColumns)

var growerColumns = []column{
	{name: "phone", about: "number with country code", key: true, needed: true, text: true,
		get: func(v *Values) string { return v.Phone }},
	words("name", "of the grower, for staff; at most 40 letters", func(v *Values) *string { return &v.Name },
		line(maxName)),
	words("note", "for staff; at most 200 letters", func(v *Values) *string { return &v.Note }, line(maxNote)),
	{name: "texts", about: "only written: stopped, if the number wants no texts; an import leaves it as it is",
		get: func(v *Values) string { return v.Texts }, read: ignored},
	need(words("language", "of screens and texts, such as en", func(v *Values) *string { return &v.Language },
		func(cell string, r *rules) (string, error) {
			if !slices.Contains(r.Languages, cell) {
				return "", fmt.Errorf("there is no language %s; there are %s", quote(cell),
					strings.Join(r.Languages, ", "))
			}
			return cell, nil
		})),
	need(words("place", "name of the place", func(v *Values) *string { return &v.Place }, anyText)),
	consented(words("consent_words", "the words that the grower agreed to",
		func(v *Values) *string { return &v.ConsentWords }, atMost(1000))),
	consented(words("consent_by", "who asked the grower", func(v *Values) *string { return &v.ConsentBy }, atMost(60))),
	consented(day("consent_on", "day on which the grower agreed", func(v *Values) *engine.Day { return &v.ConsentOn })),
	whole("people", "who can weed on a day", 1, engine.MaxPeople, func(v *Values) *int { return &v.Home.People }),
	whole("tools", "that the household can use on a day", 1, engine.MaxPeople,
		func(v *Values) *int { return &v.Home.Tools }),
	number("hours_a_day", "that each of them weeds", 0, engine.MaxHoursADay,
		func(v *Values) *float64 { return &v.Home.HoursADay }),
	whole("neighbours", "households that would share a tool, with this one", 1, engine.MaxPeople,
		func(v *Values) *int { return &v.Home.Neighbours }),
}

var plotColumns = ofPlot(
	column{name: "plot", about: "number of the plot, 1 to 9; empty: the plot with this label, or 1", key: true,
		get: func(v *Values) string { return strconv.Itoa(v.No) }},
	words("label", "name of the plot", func(v *Values) *string { return &v.Plot.Label },
		func(cell string, r *rules) (string, error) { return r.Label(cell) }),
	need(choice("method", func(v *Values) *engine.Method { return &v.Plot.Method },
		engine.Transplanted, engine.RowSown, engine.Broadcast)),
	need(day("planted", "day of transplanting or sowing", func(v *Values) *engine.Day { return &v.Plot.Planted })),
	day("puddled", "day of the last puddling, if not the day of planting",
		func(v *Values) *engine.Day { return &v.Plot.Puddled }),
	whole("seedling_age_days", "age at transplanting", engine.MinSeedlingAgeDays, engine.MaxSeedlingAgeDays,
		func(v *Values) *int { return &v.Plot.SeedlingAgeDays }),
	whole("seedlings_per_hill", "in one hill", 1, engine.MaxSeedlingsPerHill,
		func(v *Values) *int { return &v.Plot.SeedlingsPerHill }),
	yes("deep", "planted deeper than the white of the stem: yes", func(v *Values) *bool { return &v.Plot.Deep }),
	number("row_spacing_cm", "between rows; needed unless the method is broadcast", engine.MinSpacingCM,
		engine.MaxSpacingCM, func(v *Values) *float64 { return &v.Plot.RowSpacingCM }),
	number("hill_spacing_cm", "between hills in a row", engine.MinSpacingCM, engine.MaxSpacingCM,
		func(v *Values) *float64 { return &v.Plot.HillSpacingCM }),
	number("area_m2", "size of the plot", 0, engine.MaxAreaM2, func(v *Values) *float64 { return &v.Plot.AreaM2 }),
	hectares,
	choice("water", func(v *Values) *engine.Flood { return &v.Plot.Flood }, engine.FloodKept, engine.FloodMoist,
		engine.FloodOnOff),
	choice("soil", func(v *Values) *engine.Soil { return &v.Plot.Soil }, engine.SoilHeavy, engine.SoilMedium,
		engine.SoilLight),
	number("inflow_ls", "water through the inlet, litres a second", 0, engine.MaxInflowLS,
		func(v *Values) *float64 { return &v.Plot.InflowLS }),
	whole("variety_days", "from sowing to harvest", engine.MinDurationDays, engine.MaxDurationDays,
		func(v *Values) *int { return &v.Plot.DurationDays }),
	toolWidth,
	number("tool_max_width_cm", "widest setting of an adjustable tool", engine.MinToolCM, engine.MaxToolCM,
		func(v *Values) *float64 { return &v.Tool.MaxWidthCM }),
)

// ofPlot marks columns as about a plot.
func ofPlot(list ...column) []column {
	for i := range list {
		list[i].plot = true
	}
	return list
}

func need(c column) column {
	c.needed, c.clear = true, nil
	return c
}

func consented(c column) column {
	c = need(c)
	c.consent = true
	return c
}

// ignored is for a column that is written for people and says nothing when it is read.
func ignored(string, *rules) (func(*Values), error) { return func(*Values) {}, nil }

func anyText(cell string, _ *rules) (string, error) { return cell, nil }

// atMost accepts a text of at most n characters.
func atMost(n int) func(string, *rules) (string, error) {
	return func(cell string, _ *rules) (string, error) {
		if got := len([]rune(cell)); got > n {
			return "", fmt.Errorf("has %d characters; at most %d", got, n)
		}
		return cell, nil
	}
}

// The longest name and note of a grower, in characters. TestImportOfNames checks that the records take them.
const (
	maxName = 40
	maxNote = 200
)

// line accepts a text of at most n characters in one line.
func line(n int) func(string, *rules) (string, error) {
	return func(cell string, _ *rules) (string, error) {
		text := strings.Join(strings.Fields(cell), " ")
		// U+200C and U+200D join and part letters.
		odd := func(r rune) bool { return unicode.Is(unicode.C, r) && r != '\u200c' && r != '\u200d' }
		if strings.ContainsFunc(text, odd) {
			return "", errors.New("has characters that are not printed")
		}
		return atMost(n)(text, nil)
	}
}

// words is a column of text.
func words(name, about string, at func(*Values) *string, check func(string, *rules) (string, error)) column {
	return column{name: name, about: about, text: true,
		get: func(v *Values) string { return tidy(*at(v)) },
		read: func(cell string, r *rules) (func(*Values), error) {
			text, err := check(tidy(cell), r)
			return func(v *Values) { *at(v) = text }, err
		},
		clear: func(v *Values) { *at(v) = "" }}
}

// tidy returns a text as it is stored and written: valid UTF-8, lines end with a line feed, there are no other control
// characters but the tab, and nothing is blank at its ends.
func tidy(text string) string {
	text = strings.ReplaceAll(strings.ReplaceAll(strings.ToValidUTF8(text, "\uFFFD"), "\r\n", "\n"), "\r", "\n")
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return -1
		}
		return r
	}, text))
}

// number is a column of a number above low or equal to it, up to high; of low 0 only above it. 0 means not given.
func number(name, about string, low, high float64, at func(*Values) *float64) column {
	return column{name: name, about: about,
		get: func(v *Values) string { return figure(*at(v)) },
		read: func(cell string, r *rules) (func(*Values), error) {
			x, err := readNumber(cell, r)
			if err == nil && !(x >= low && x > 0 && x <= high) {
				err = fmt.Errorf("%s is not between %s and %s", cell, figure0(low), figure(high))
			}
			return func(v *Values) { *at(v) = x }, err
		},
		clear: func(v *Values) { *at(v) = 0 }}
}

// figure writes a number so that reading it returns the same number; "" for 0.
func figure(x float64) string {
	if x == 0 {
		return ""
	}
	return figure0(x)
}

func figure0(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func whole(name, about string, low, high int, at func(*Values) *int) column {
	return column{name: name, about: about,
		get: func(v *Values) string { return figure(float64(*at(v))) },
		read: func(cell string, _ *rules) (func(*Values), error) {
			n, err := strconv.Atoi(cell)
			if err != nil || n < low || n > high {
				err = fmt.Errorf("%s is not a whole number from %d to %d", quote(cell), low, high)
			}
			return func(v *Values) { *at(v) = n }, err
		},
		clear: func(v *Values) { *at(v) = 0 }}
}

func day(name, about string, at func(*Values) *engine.Day) column {
	return column{name: name, about: about + ", YYYY-MM-DD",
		get: func(v *Values) string {
			if *at(v) == 0 {
				return ""
			}
			return at(v).String()
		},
		read: func(cell string, _ *rules) (func(*Values), error) {
			d, err := readDay(cell)
			return func(v *Values) { *at(v) = d }, err
		},
		clear: func(v *Values) { *at(v) = 0 }}
}

// choice is a column of one of the given values, by their names in the engine.
func choice[T interface {
	~uint8
	fmt.Stringer
}](name string, at func(*Values) *T, values ...T) column {
	var names []string
	for _, v := range values {
		names = append(names, v.String())
	}
	all := strings.Join(names, ", ")
	return column{name: name, about: all,
		get: func(v *Values) string {
			if *at(v) == 0 {
				return ""
			}
			return (*at(v)).String()
		},
		read: func(cell string, _ *rules) (func(*Values), error) {
			i := slices.IndexFunc(names, func(n string) bool { return strings.EqualFold(n, cell) })
			if i < 0 {
				return nil, fmt.Errorf("%s is not one of: %s", quote(cell), all)
			}
			return func(v *Values) { *at(v) = values[i] }, nil
		},
		clear: func(v *Values) { *at(v) = 0 }}
}

// yes is a column of yes or no. No and not given are the same, so no is written as an empty cell.
func yes(name, about string, at func(*Values) *bool) column {
	return column{name: name, about: about,
		get: func(v *Values) string {
			if *at(v) {
				return "yes"
			}
			return ""
		},
		read: func(cell string, _ *rules) (func(*Values), error) {
			is := strings.EqualFold(cell, "yes")
			if !is && !strings.EqualFold(cell, "no") {
				return nil, errors.New("write yes or no")
			}
			return func(v *Values) { *at(v) = is }, nil
		},
		clear: func(v *Values) { *at(v) = false }}
}

// toolWidth takes the whole tool out if it is cleared.
var toolWidth = func() column {
	c := number("tool_width_cm", "width of the tool, or its narrowest setting; none: no tool", engine.MinToolCM,
		engine.MaxToolCM, func(v *Values) *float64 { return &v.Tool.WidthCM })
	c.clear = func(v *Values) { v.Tool = engine.Tool{} }
	return c
}()

// hectares is the size of the plot in another unit; 1 ha is 10,000 m² by definition.
var hectares = func() column {
	c := number("area_ha", "or this instead of area_m2", 0, engine.MaxAreaM2/m2PerHa, func(v *Values) *float64 {
		return &v.Plot.AreaM2
	})
	read := c.read
	c.alias, c.get = true, func(*Values) string { return "" }
	c.read = func(cell string, r *rules) (func(*Values), error) {
		set, err := read(cell, r)
		return func(v *Values) {
			set(v)
			v.Plot.AreaM2 = round(v.Plot.AreaM2 * m2PerHa)
		}, err
	}
	return c
}()

const m2PerHa = 10_000
