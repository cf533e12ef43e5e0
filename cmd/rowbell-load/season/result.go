package season

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Result is what was played and seen.
type Result struct {
	Growers  int     `json:"growers"`
	Days     int     `json:"days"`
	Seed     uint64  `json:"seed"`
	Seconds  float64 `json:"seconds"`
	Told     float64 `json:"told_again_seconds"`
	Calls    int64   `json:"calls"`
	SMS      int64   `json:"sms"`
	Receipts int64   `json:"receipts"`
	Texts    int64   `json:"texts"`

	Plots     int64 `json:"plots"`
	Reminders int64 `json:"reminders"`
	Passes    int64 `json:"passes"`
	Sightings int64 `json:"sightings"`

	SecondThird float64  `json:"memory_second_third"` // mean, in octets
	LastThird   float64  `json:"memory_last_third"`
	Flat        bool     `json:"memory_flat"`
	Size        Size     `json:"size"`
	Samples     []Sample `json:"samples"`
	Findings    []string `json:"findings"`
	Found       int      `json:"found"` // all of them; Findings has the first
}

// Play plays a season, and then looks at what is left of it.
func Play(ctx context.Context, o Options) (Result, error) {
	if err := o.check(); err != nil {
		return Result{}, err
	}
	w, err := newWorld(o)
	if err != nil {
		return Result{}, err
	}
	switch _, err := os.Lstat(w.records()); {
	case err == nil:
		return Result{}, fmt.Errorf("%s has records already: give an empty folder", o.Folder)
	case !errors.Is(err, fs.ErrNotExist):
		return Result{}, err
	}
	begun := o.Now()
	if err := w.play(ctx); err != nil {
		return Result{}, err
	}
	played := o.Now()
	return w.result(ctx, played.Sub(begun))
}

// records returns the path of the records.
func (w *world) records() string { return filepath.Join(w.o.Folder, "rowbell.db") }

// result looks at the records, after the process has ended.
func (w *world) result(ctx context.Context, played time.Duration) (Result, error) {
	r := Result{Growers: w.o.Growers, Days: w.o.Days, Seed: w.o.Seed, Seconds: played.Seconds(), Calls: w.calls.Load(),
		SMS: w.sms.Load(), Receipts: w.receipts.Load(), Texts: w.texts.Load(), Samples: w.samples}
	var err error
	if r.Size, err = sizeOf(ctx, w.records(), &w.found); err != nil {
		return r, err
	}
	if err := w.readLogs(); err != nil {
		return r, err
	}
	begun := w.o.Now()
	all, err := w.verify(ctx, w.records())
	if err != nil {
		return r, err
	}
	r.Told = w.o.Now().Sub(begun).Seconds()
	r.Plots, r.Reminders = all.plots.Load(), all.reminders.Load()
	r.Passes, r.Sightings = all.passes.Load(), all.sightings.Load()
	r.SecondThird, r.LastThird, r.Flat = memoryOf(w.samples)
	if !r.Flat {
		w.found.add("memory is not flat: %.1f MB in the second third of the days, %.1f MB in the last",
			mb(r.SecondThird), mb(r.LastThird))
	}
	if !r.Size.Fits() {
		w.found.add("the file is not as computed: %.2f MB are used, %.2f MB computed", mb(r.Size.File-r.Size.Free),
			mb(r.Size.Computed))
	}
	r.Findings, r.Found = w.found.all()
	return r, nil
}

func mb[N int64 | float64](octets N) float64 { return float64(octets) / 1e6 }

// Print writes the result as a table.
func (r Result) Print(out io.Writer) {
	var longest Sample
	most := int64(0)
	for _, s := range r.Samples {
		if most = max(most, s.Memory); s.Morning > longest.Morning {
			longest = s
		}
	}
	for _, line := range []struct {
		what, format string
		a            []any
	}{
		{"played", "%d growers, %d plots, %d days in %.0f s; told again in %.0f s",
			[]any{r.Growers, r.Plots, r.Days, r.Seconds, r.Told}},
		{"calls and texts", "%d steps, %d texts of growers, %d receipts, %d texts to growers",
			[]any{r.Calls, r.SMS, r.Receipts, r.Texts}},
		{"told again", "%d reminders, %d passes, %d sightings", []any{r.Reminders, r.Passes, r.Sightings}},
		{"longest morning", "day %d: %d reminders in %.2f s", []any{longest.Day, longest.Rung, longest.Morning}},
		{"memory", "second third %.1f MB, last third %.1f MB, most %.1f MB",
			[]any{mb(r.SecondThird), mb(r.LastThird), mb(most)}},
		{"file", "%.2f MB used of %.2f MB, computed %.2f MB",
			[]any{mb(r.Size.File - r.Size.Free), mb(r.Size.File), mb(r.Size.Computed)}},
		{"findings", "%d", []any{r.Found}},
	} {
		fmt.Fprintf(out, "%-16s ", line.what)
		fmt.Fprintf(out, line.format+"\n", line.a...)
	}
	for _, f := range r.Findings[:min(20, len(r.Findings))] {
		fmt.Fprintf(out, "  %s\n", f)
	}
}
