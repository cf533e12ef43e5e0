package plan

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"rowbell/engine"
)

// ParseDay reads a day YYYY-MM-DD. An error names the flag.
func ParseDay(flag, text string) (engine.Day, error) {
	d, err := engine.ParseDay(text)
	if err != nil {
		return 0, fmt.Errorf("%s %q: write the day as in 2026-11-25", flag, text)
	}
	return d, nil
}

// parseRange reads "15" or "10-15". The error shows like as an example.
func parseRange(flag, text, like string) (from, to float64, err error) {
	// A first minus is a sign. A later minus separates the two numbers.
	low, high, two := text, text, false
	if at := strings.IndexByte(text[min(1, len(text)):], '-'); at >= 0 {
		low, high, two = text[:at+1], text[at+2:], true
	}
	from, err1 := strconv.ParseFloat(strings.TrimSpace(low), 64)
	to, err2 := strconv.ParseFloat(strings.TrimSpace(high), 64)
	if err1 != nil || err2 != nil || two && to < from {
		return 0, 0, fmt.Errorf("%s %q: write it as in %s", flag, text, like)
	}
	return from, to, nil
}

func parseTool(text string) (engine.Tool, error) {
	if text == "" {
		return engine.Tool{}, nil
	}
	from, to, err := parseRange("--tool", text, "15 or 10-15")
	if err != nil {
		return engine.Tool{}, err
	}
	t := engine.Tool{WidthCM: from}
	if to > from {
		t.MaxWidthCM = to
	}
	if t.None() {
		return t, errors.New("--tool 0: leave --tool out where there is none")
	}
	return t, nil
}

// parseArea reads an area: "600" in square metres, or "20x30" as length and width in metres.
func parseArea(text string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	area := 1.0
	sides := strings.Split(strings.NewReplacer("×", "x", "X", "x", "*", "x").Replace(text), "x")
	for _, side := range sides {
		n, err := strconv.ParseFloat(strings.TrimSpace(side), 64)
		if err != nil || !(n > 0) || len(sides) > 2 {
			return 0, fmt.Errorf("--area %q: write square metres, or length by width in metres as in 20x30", text)
		}
		area *= n
	}
	return area, nil
}

// ParsePass reads a pass such as "2026-11-20:tool:few:2.5h:2p": a day, then words in any order.
func ParsePass(text string) (engine.Pass, error) {
	var p engine.Pass
	on, _, err := readRecord("--pass", text, "tool, hand, along, across, both, few, some, many, hours as in 2.5h, "+
		"people as in 2p, share of the plot as in 50%", func(w string) (known, twice bool) { return passWord(w, &p) })
	if err != nil {
		return engine.Pass{}, err
	}
	p.On = on
	if p.With == 0 {
		p.With = engine.ByTool
	}
	if p.With == engine.ByHand && p.Way != engine.WayUnknown {
		return engine.Pass{}, fmt.Errorf("--pass %q: along, across and both are ways of the tool", text)
	}
	return p, nil
}

// readRecord reads a day and the words after it, which are separated by colons and in any order. The function word
// returns whether a word is known, and whether an earlier word gave a value of the same kind. An error lists the
// choices.
func readRecord(flag, text, choices string, word func(string) (known, twice bool)) (engine.Day, int, error) {
	day, rest, more := strings.Cut(text, ":")
	on, err := ParseDay(flag, day)
	if err != nil || !more {
		return on, 0, err
	}
	words := strings.Split(rest, ":")
	for _, w := range words {
		switch known, twice := word(w); {
		case !known:
			return 0, 0, fmt.Errorf("%s %q: %q is none of %s", flag, text, w, choices)
		case twice:
			return 0, 0, fmt.Errorf("%s %q: %q says again what was said", flag, text, w)
		}
	}
	return on, len(words), nil
}

// maxPassHours is the greatest number of hours for each person that --pass accepts.
const maxPassHours = 500

// passWord stores one word of a pass in p. It returns whether the word is known, and whether an earlier word gave a
// value of the same kind.
func passWord(w string, p *engine.Pass) (known, twice bool) {
	was := *p
	switch {
	case oneOf(w, &p.With, engine.ByTool, engine.ByHand):
		return true, was.With != 0
	case oneOf(w, &p.Way, engine.Along, engine.Across, engine.Both):
		return true, was.Way != 0
	case oneOf(w, &p.Left, engine.Few, engine.Some, engine.Many):
		return true, was.Left != 0
	}
	if text, ok := strings.CutSuffix(w, "h"); ok {
		h, err := parseNumber(text)
		p.Hours = h
		return err == nil && h > 0 && h <= maxPassHours, was.Hours != 0
	}
	if text, ok := strings.CutSuffix(w, "p"); ok {
		n, err := strconv.Atoi(text)
		p.People = n
		return err == nil && n >= 1 && n <= engine.MaxPeople, was.People != 0
	}
	if text, ok := strings.CutSuffix(w, "%"); ok {
		percent, err := parseNumber(text)
		p.Share = percent / 100
		return err == nil && p.Share > 0 && p.Share <= 1, was.Share != 0
	}
	return false, false
}

var floods = map[string]engine.Flood{"kept": engine.FloodKept, "on-off": engine.FloodOnOff,
	"moist": engine.FloodMoist}

var watersSeen = map[string]engine.Stands{"dry": engine.StandsDry, "mud": engine.StandsMud,
	"fingers": engine.StandsFingers, "hand": engine.StandsHand}

// ParseSighting reads a sighting such as "2026-11-20:2-3:many:fingers": a day, then words in any order.
func ParseSighting(text string) (engine.Sighting, error) {
	var s engine.Sighting
	on, words, err := readRecord("--saw", text, "none, 1, 2-3, 4+, few, some, many, open, closed, dry, mud, fingers, "+
		"hand",
		func(w string) (known, twice bool) { return sightingWord(w, &s) })
	if err == nil && words == 0 {
		err = fmt.Errorf("--saw %q: say after a colon what was seen, as in %s:2-3:many", text, text)
	}
	if err != nil {
		return engine.Sighting{}, err
	}
	s.On = on
	return s, nil
}

// sightingWord stores one word of a sighting in s. It returns whether the word is known, and whether an earlier word
// gave a value of the same kind.
func sightingWord(w string, s *engine.Sighting) (known, twice bool) {
	was := *s
	switch water, ok := watersSeen[w]; {
	case oneOf(w, &s.Leaves, engine.NoneUp, engine.OneLeaf, engine.TwoThree, engine.FourPlus):
		return true, was.Leaves != 0
	case oneOf(w, &s.Amount, engine.Few, engine.Some, engine.Many):
		return true, was.Amount != 0
	case oneOf(w, &s.Rows, engine.RowsOpen, engine.RowsClosed):
		return true, was.Rows != 0
	case ok:
		s.Water = water
		return true, was.Water != 0
	}
	return false, false
}

// oneOf stores the value whose name is the word in *v. It returns false if no value has this name.
func oneOf[T fmt.Stringer](word string, v *T, values ...T) bool {
	for _, x := range values {
		if x.String() == word {
			*v = x
			return true
		}
	}
	return false
}
