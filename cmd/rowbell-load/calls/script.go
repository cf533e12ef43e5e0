package calls

import (
	"embed"
	"fmt"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

//go:embed dialogues/*.txt
var files embed.FS

// script is a dialogue that growers play.
type script struct {
	name string
	acts []act
}

// act is one call of the grower and what comes of it.
type act struct {
	call  string // ussd or sms
	event string // of a USSD call: begin, entry or end
	says  string // what was dialled, entered or written
	shows string // the screen that answers; "" after the end of a session and for texts
	ends  bool   // the service ends the session with this screen
	texts []string
}

// written is the day on which the dialogues are written.
var written = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)

// scripts returns the dialogues with the dates that they have on a day.
func scripts(today time.Time) ([]script, error) {
	entries, err := files.ReadDir("dialogues")
	if err != nil {
		return nil, err
	}
	days := int(time.Date(today.Year(), today.Month(), today.Day(), 0, 0, 0, 0, time.UTC).Sub(written).Hours()) / 24
	var list []script
	for _, e := range entries {
		raw, err := files.ReadFile(path.Join("dialogues", e.Name()))
		if err != nil {
			return nil, err
		}
		s := script{name: strings.TrimSuffix(e.Name(), ".txt")}
		if s.acts, err = parse(moveDates(string(raw), days)); err != nil {
			return nil, fmt.Errorf("%s: %w", e.Name(), err)
		}
		list = append(list, s)
	}
	return list, nil
}

// parse reads a dialogue of one phone on one day.
func parse(dialogue string) (acts []act, err error) {
	for line := range strings.Lines(dialogue) {
		line = strings.TrimSuffix(line, "\n")
		word, rest, _ := strings.Cut(line, " ")
		last := len(acts) - 1
		if last < 0 && (word == "<" || isText.MatchString(line) || strings.HasPrefix(line, "sms | ")) {
			return nil, fmt.Errorf("an answer before the first call: %q", line)
		}
		switch {
		case line == "", word == "#", word == "start", word == "phone":
		case word == ">":
			acts = append(acts, entered(rest))
		case line == "< (end)":
			acts[last].ends = true
		case word == "<":
			acts[last].shows = strings.TrimPrefix(acts[last].shows+"\n"+rest, "\n")
		case strings.HasPrefix(line, "sms > "):
			acts = append(acts, act{call: "sms", says: strings.TrimPrefix(line, "sms > ")})
		case strings.HasPrefix(line, "sms | ") && len(acts[last].texts) > 0:
			acts[last].texts[len(acts[last].texts)-1] += "\n" + strings.TrimPrefix(line, "sms | ")
		case isText.MatchString(line):
			acts[last].texts = append(acts[last].texts, isText.ReplaceAllString(line, ""))
		default:
			return nil, fmt.Errorf("a dialogue under load has no line like %q", line)
		}
	}
	return acts, nil
}

// isText matches what is before a text that arrives.
var isText = regexp.MustCompile(`^sms \d{4}-\d\d-\d\d \d\d:\d\d < `)

func entered(says string) act {
	switch {
	case says == "hang up":
		return act{call: "ussd", event: "end"}
	case strings.HasPrefix(says, "dial "):
		return act{call: "ussd", event: "begin", says: strings.TrimPrefix(says, "dial ")}
	}
	return act{call: "ussd", event: "entry", says: says}
}

// A date is shown with its day of the week, and typed as day and month.
var (
	shownDate = regexp.MustCompile(`\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) (\d{1,2}) ` +
		`(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b`)
	typedDate = regexp.MustCompile(`\b(\d{1,2})/(\d{1,2})\b`)
	months    = []string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}
)

// moveDates moves all dates of a dialogue by some days.
func moveDates(dialogue string, days int) string {
	dialogue = shownDate.ReplaceAllStringFunc(dialogue, func(s string) string {
		m := shownDate.FindStringSubmatch(s)
		return moved(m[1], slices.Index(months, m[2])+1, days).Format("Mon 2 Jan")
	})
	return typedDate.ReplaceAllStringFunc(dialogue, func(s string) string {
		m := typedDate.FindStringSubmatch(s)
		month, _ := strconv.Atoi(m[2])
		return moved(m[1], month, days).Format("2/1")
	})
}

// moved returns a date of the dialogues some days later. Its year is the one in which it is near the written day.
func moved(day string, month, days int) time.Time {
	d, _ := strconv.Atoi(day)
	year := written.Year()
	if month < 6 {
		year++
	}
	return time.Date(year, time.Month(month), d+days, 0, 0, 0, 0, time.UTC)
}
