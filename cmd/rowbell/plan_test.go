package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

func planArgs(more string) []string {
	return append([]string{"plan"}, strings.Fields("--planted 2026-11-03 --row 25 --today 2026-11-25 "+more)...)
}

// readmePlan returns the arguments of the command in the README that draws a season, without its flag --picture.
func readmePlan(t *testing.T) []string {
	t.Helper()
	for _, b := range (page{text: string(houseRead(t, "README.md"))}).blocks() {
		for _, line := range commandLines(b.text) {
			args, ok := strings.CutPrefix(line, "go run ./cmd/rowbell ")
			if args, draws := strings.CutSuffix(args, " --picture season.svg"); ok && draws {
				return strings.Fields(args)
			}
		}
	}
	t.Fatal("the README has no command that plans a plot")
	return nil
}

func TestPlanPicture(t *testing.T) {
	const golden = "../../engine/picture/season.svg" // the picture in the README
	file := filepath.Join(t.TempDir(), "season.svg")
	prints(t, append(readmePlan(t), "--picture", file)...)
	got, err := os.ReadFile(file)
	must(t, err)
	if err := xml.Unmarshal(got, new(struct {
		XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
	})); err != nil {
		t.Errorf("not an SVG document: %v", err)
	}
	if *update {
		must(t, os.WriteFile(golden, got, 0o644))
	}
	if want, err := os.ReadFile(golden); err != nil || string(want) != string(got) {
		t.Errorf("%v: %s differs:\n%s", err, golden, firstDifference(string(want), string(got)))
	}
}

// Practice, the texts, plan, its picture and the README name the same days for the same plot: after the look of
// 11 November, and after the weeding of 15 November.
func TestOneDateForOnePlot(t *testing.T) {
	var practised, errs bytes.Buffer
	typed := strings.NewReader("next\nsms 3\nseason\nnext\nsms 1\nsms 1\nday 5\nseason\n")
	args := strings.Fields("practice --terminal --start 2026-11-09")
	if code := run(args, noEnv, typed, &practised, &errs); code != 0 {
		t.Fatalf("practice ended with %d: %s", code, errs.String())
	}
	readme := string(houseRead(t, "README.md"))
	weeded := nextWindow(t, readmePlan(t))
	atTheLook := strings.NewReplacer(" --pass 2026-11-15:tool:few", "", "--today 2026-11-20", "--today 2026-11-11")
	looked := nextWindow(t, strings.Fields(atTheLook.Replace(strings.Join(readmePlan(t), " "))))

	_, reply, _ := strings.Cut(readme, "\n    > 3\n")
	reply, _, _ = strings.Cut(reply, "\n\n")
	texts := strings.Split(practised.String(), "from rowbell\n")
	answer, _, _ := strings.Cut(texts[2], "\n> ")
	for where, text := range map[string]string{"the README": reply, "the text of practice": answer} {
		if got, want := daysIn(text), daysIn(looked.words("Mon 2 Jan", "%s %s %s")); !slices.Equal(got, want) {
			t.Errorf("%s names the days %q, plan has %q: %s", where, got, want, text)
		}
	}
	said := strings.Join(strings.Fields(practised.String()), " ")
	for _, w := range []window{looked, weeded} {
		if want := w.words("2 Jan", "from %s to %s, best %s"); !strings.Contains(said, want) {
			t.Errorf("the season of practice is not %s:\n%s", want, practised.String())
		}
	}
	picture := string(houseRead(t, "engine/picture/season.svg"))
	for _, want := range []string{
		fmt.Sprintf(">window %d to %s, weeded<", looked.Opens.Day(), looked.Closes.Format("2 Jan")),
		fmt.Sprintf(">window 2: %d to %s<", weeded.Opens.Day(), weeded.Closes.Format("2 Jan")),
		">best " + weeded.Best.Format("2 Jan"),
	} {
		if !strings.Contains(picture, want) {
			t.Errorf("the picture in the README has no %s", want)
		}
	}
}

// daysIn returns the days that a text names, such as Fri 13 Nov, in the order of the month and without repeats.
func daysIn(text string) []string {
	days := regexp.MustCompile(`(Mon|Tue|Wed|Thu|Fri|Sat|Sun)\s+\d+\s+Nov`).FindAllString(text, -1)
	for i, d := range days {
		days[i] = strings.Join(strings.Fields(d), " ")
	}
	slices.SortFunc(days, func(a, b string) int { return cmp.Compare(a[4:], b[4:]) })
	return slices.Compact(days)
}

// window has the days of a window.
type window struct{ Opens, Best, Closes time.Time }

// words writes opening, closing and best day, each in this layout, into the format.
func (w window) words(layout, format string) string {
	return fmt.Sprintf(format, w.Opens.Format(layout), w.Closes.Format(layout), w.Best.Format(layout))
}

// nextWindow returns the next window by rowbell plan with these arguments.
func nextWindow(t *testing.T, args []string) window {
	t.Helper()
	var plan struct{ Next map[string]any }
	must(t, json.Unmarshal([]byte(prints(t, append(args, "--json")...)), &plan))
	day := func(key string) time.Time {
		d, err := time.Parse(time.DateOnly, fmt.Sprint(plan.Next[key]))
		must(t, err)
		return d
	}
	return window{day("opens"), day("best"), day("closes")}
}

func TestPlanOutput(t *testing.T) {
	file := filepath.Join(t.TempDir(), "plan.json")
	if out := prints(t, planArgs("--json -o "+file)...); out != "" {
		t.Errorf("printed %q", out)
	}
	b, err := os.ReadFile(file)
	must(t, err)
	var got map[string]any
	if err := json.Unmarshal(b, &got); err != nil || got["on"] != "2026-11-25" {
		t.Errorf("%v in %s", err, b)
	}
	nowhere := filepath.Join(t.TempDir(), "no", "such", "folder")
	runSteps(t, strings.Join(planArgs(""), " "), []shellStep{
		{"-o -", 0, "Transplanted Tue 3 Nov 2026"},
		{"-o " + nowhere, 1, "no such file"},
		{"--picture " + nowhere, 1, "no such file"},
		{"--tool wide", 2, "Try: rowbell plan --help"},
	})
}
