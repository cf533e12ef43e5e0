package menu

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// saidLine is a line of testdata/answers/said: language, question, what the answer must be taken for, the answer.
var saidLine = regexp.MustCompile(`^(\w\w) (\w+) ([\w.-]+): (.*)$`)

// saidQuestions are the prompts of the questions in testdata/answers/said.
func saidQuestions(x *texter) map[string]prompt {
	x.b.Circles.Own = ring(1)
	x.b.Circles.Open = []circle.Ask{{ID: 9, Kind: circle.AskPaid, Circle: 5268, From: 2, To: 1, Amount: 12000,
		Until: wednesday + 1}}
	two := []subject{subjectOf(1, x.b.Seasons[1]), subjectOf(2, x.b.Seasons[2])}
	one := two[:1]
	return map[string]prompt{
		"pass": {Asked: askedPass, Plots: one}, "nudge": {Asked: askedPass, Plots: one, Yes: true},
		"small": {Asked: askedPass, Plots: one, Small: true}, "two": {Asked: askedPass, Plots: two},
		"hand": {Asked: askedHand, Plots: one}, "left": {Asked: askedLeft, Plots: one},
		"look": {Asked: askedLook, Plots: one}, "water": {Asked: askedWater, Plots: one},
		"undo":  {Asked: askedUndo, Plots: one},
		"agree": {Asked: askedCircle, Ask: 9, Kind: circle.AskPaid},
	}
}

// saidNames are the names of what the digits of each question mean.
var saidNames = map[string]map[string]string{
	"pass": {"1": "done", "2": "not-yet", "3": "too-big"}, "nudge": {"1": "done", "2": "not-yet", "3": "too-big"},
	"small": {"1": "done", "2": "not-yet", "3": "too-big", "4": "too-small"},
	"two":   {"1": "both", "2": "a", "3": "b", "4": "not-yet"}, "hand": {"1": "done", "2": "not-yet"},
	"left": {"1": "few", "2": "some", "3": "many", "0": "undo"},
	"look": {"1": "leaf-none", "2": "leaf-one", "3": "leaf-two", "4": "leaf-four"},
	"water": {"5": "water-dry", "6": "water-mud", "7": "water-fingers", "8": "water-hand", "1": "leaf-none",
		"2": "leaf-one", "3": "leaf-two", "4": "leaf-four"},
	"undo": {"0": "undo"}, "agree": {"1": "yes", "2": "no"},
}

// taken says what an answer is taken for.
func (x *texter) taken(question, entry string) string {
	c := x.m.scene(x.b, SMS, &session{})
	if word := x.m.word(answer.Digits(entry)); word != wordNone {
		return map[keyword]string{wordStop: "stop", wordHelp: "help"}[word]
	}
	switch {
	case x.m.Stops(entry):
		return "stop"
	case question == "none":
		return "again"
	}
	m, ok := c.read(saidQuestions(x)[question], entry)
	switch {
	case !ok:
		return "again"
	case m.part != nil:
		return "part"
	}
	if m.as.Asked == askedLook {
		question = "look"
	}
	if name := saidNames[question][m.entry]; name != "" {
		return name
	}
	if hours, people, _, ok := answer.Took(m.entry); ok && question == "undo" {
		return fmt.Sprintf("%gx%d", hours, people)
	}
	return "again" // a digit that is no choice
}

// TestAnswersInWords reads the answers of testdata/answers/said. It prints how many are understood and how many are
// misfiled, which means taken for something else. None may be misfiled.
func TestAnswersInWords(t *testing.T) {
	x := withPlots(t, 2)
	x.m = everyMenu()
	var share [6]float64
	for i, file := range []string{"first", "second", "third", "fourth", "fifth", "sixth"} {
		b, err := os.ReadFile(filepath.Join("../testdata/answers/said", file+".txt"))
		if err != nil {
			t.Fatal(err)
		}
		total, understood, meant, misfiled := 0, 0, 0, 0
		for line := range strings.Lines(string(b)) {
			if strings.HasPrefix(line, "#") {
				continue
			}
			f := saidLine.FindStringSubmatch(strings.TrimSuffix(line, "\n"))
			if f == nil {
				t.Fatalf("%s: %q", file, line)
			}
			lang, question, want, entry := f[1], f[2], f[3], f[4]
			x.b.Lang = lang
			for no, label := range map[int]string{1: "River", 2: "Hill"} {
				if question != "two" {
					label = ""
				}
				edit(x.b, no, func(s *engine.Season) { s.Plot.Label = label })
			}
			got := x.taken(question, entry)
			total++
			if want != "again" {
				meant++
			}
			switch {
			case got == want && want != "again":
				understood++
			case got == want:
			case got == "again":
				t.Logf("%s: not understood: %s", file, f[0])
			default:
				misfiled++
				t.Errorf("%s: taken for %s: %s", file, got, f[0])
			}
		}
		share[i] = float64(understood) / float64(meant)
		t.Logf("%s: %d answers; of %d with a meaning %.1f%% understood; %d misfiled (%.1f%%)", file, total, meant,
			100*share[i], misfiled, 100*float64(misfiled)/float64(total))
		if least := map[string]float64{"fourth": 0.7}[file]; share[i] < cmp.Or(least, 0.9) {
			t.Errorf("%s: too few answers are understood", file)
		}
	}
}

// TestNumbersThatCount checks that a number with a word beside it, which is a digit of the question but counts
// something, is asked again.
func TestNumbersThatCount(t *testing.T) {
	x := withPlots(t, 2)
	x.m = everyMenu()
	things := strings.Fields("h hrs hours hour days day weeks acre acres ha m2 rows row weeds people left more min " +
		"pm kg cm j jours heures lignes herbes personnes semaines masaa saa siku watu mistari wiki " +
		"घंटे दिन लोग कतार din ghante log " +
		"horas dias linhas ervas pessoas semanas jam hari baris orang minggu petak times plots fields")
	for _, question := range []string{"pass", "small", "two", "left"} {
		for _, thing := range things {
			entries := []string{"1 " + thing, "2 " + thing, "3" + thing, "only 2 " + thing, thing + " 3"}
			for _, entry := range entries {
				if got := x.taken(question, entry); got != "again" {
					t.Errorf("%s: %q is taken for %s", question, entry, got)
				}
			}
		}
	}
}

// offeredChoice matches a choice in the text of a question: its digit and its words.
var offeredChoice = regexp.MustCompile(`(?:^|[^\d-])(\d) ([^\d,.:;?।]+)`)

// TestTheTextsOwnWordsAreRead answers each question in each language with the words of its choices as the text writes
// them, with the digit before and without it. A grower of one language may have a phone in another.
func TestTheTextsOwnWordsAreRead(t *testing.T) {
	x := withPlots(t, 2)
	x.m = everyMenu()
	for no, label := range map[int]string{1: "River", 2: "Hill"} {
		edit(x.b, no, func(s *engine.Season) { s.Plot.Label = label })
	}
	choices := 0
	for _, lang := range x.m.cat.Languages() {
		x.b.Lang = lang
		c := x.m.scene(x.b, SMS, &session{})
		asked := map[string]string{} // by text
		for name, p := range saidQuestions(x) {
			if name != "hand" && name != "undo" { // "1 when it is done", "0 undoes it"
				asked[c.askedText(p)] = name
			}
		}
		for _, k := range x.m.texts.Keys(lang) {
			a, b := "River", "Hill"
			body := c.t(k, text.Args{"a": a, "b": b, "n": 1, "plot": a, "opens": a, "closes": a, "best": a, "tool": a,
				"also": a, "span": a, "was": a, "why": a, "code": a, "pull": a, "hours": a, "saved": a})
			switch kind := strings.TrimPrefix(string(k), "ring."); {
			case kind == string(k), c.err != nil, strings.HasPrefix(kind, "missed"),
				strings.HasPrefix(kind, "closed"):
				c.err = nil
			case strings.HasPrefix(kind, "prepare"):
				asked[body] = "look"
			case strings.HasSuffix(kind, "-two"):
				asked[body] = "two"
			default:
				asked[body] = "small"
			}
		}
		for body, name := range asked {
			found := offeredChoice.FindAllStringSubmatch(body, -1)
			for _, f := range found {
				digit, words := f[1], strings.TrimSpace(f[2])
				if digit == "0" {
					continue
				}
				upper := strings.ToUpper(words) + "!"
				for _, entry := range []string{words, digit + " " + words, digit + words, upper} {
					if got := x.taken(name, entry); got != saidNames[name][digit] {
						t.Errorf("%s, %s: %q is taken for %s; the question is %s", lang, name, entry, got, body)
					}
				}
			}
			choices += len(found)
		}
	}
	if choices < 6*30*3 {
		t.Errorf("only %d choices were found", choices)
	}
}
