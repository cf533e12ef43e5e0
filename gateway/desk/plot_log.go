package desk

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/store"
)

// parts are the shares of a plot that may be weeded on a day, with their words; 0 is all of it, or the rest.
var parts = []struct {
	share float64
	words string
}{{0, "all of it, or all that was left"}, {0.5, "a half"}, {0.25, "a quarter"}, {1. / 3, "a third"},
	{2. / 3, "two thirds"}, {0.75, "three quarters"}}

func partPairs() (pairs []string) {
	for i, p := range parts {
		pairs = append(pairs, fmt.Sprint(i), p.words)
	}
	return pairs
}

// partOf returns the number of the share that is nearest.
func partOf(share float64) int {
	best := 0
	for i, p := range parts {
		if math.Abs(p.share-share) < math.Abs(parts[best].share-share) {
			best = i
		}
	}
	return best
}

// passWords returns a pass in words, with its day.
func passWords(p engine.Pass) string { return shortDay(p.On) + ", " + passDetail(p) }

// passDetail returns a pass in words, without its day.
func passDetail(p engine.Pass) string {
	words := []string{"by hand"}
	if p.With == engine.ByTool {
		words[0] = "with the tool" + map[engine.Way]string{engine.Along: " along the rows",
			engine.Across: " across the rows", engine.Both: " along and across"}[p.Way]
	}
	if p.Share != 0 && p.Share != 1 {
		words = append(words, fmt.Sprintf("%.0f %% of the plot", 100*p.Share))
	}
	if p.Hours != 0 {
		words = append(words, showHours(p.Hours)+" with "+plural(max(1, p.People), "person", "people"))
	}
	if p.Left != engine.AmountUnknown {
		words = append(words, p.Left.String()+" weeds left")
	}
	return strings.Join(words, ", ")
}

// sightingWords returns a sighting in words, with its day.
func sightingWords(s engine.Sighting) string { return shortDay(s.On) + ", " + sightingDetail(s) }

// sightingDetail returns a sighting in words, without its day.
func sightingDetail(s engine.Sighting) string {
	var words []string
	if s.Leaves == engine.NoneUp {
		words = append(words, "no weeds yet")
	} else if s.Leaves != engine.LeavesUnknown {
		words = append(words, "most weeds with "+s.Leaves.String()+" leaves")
	}
	if s.Amount != engine.AmountUnknown {
		words = append(words, s.Amount.String()+" weeds")
	}
	if s.Rows != engine.RowsUnknown {
		words = append(words, "rows "+s.Rows.String())
	}
	if s.Water != engine.StandsUnknown {
		words = append(words, "water: "+s.Water.String())
	}
	return strings.Join(words, ", ")
}

// entryKey names a pass or sighting in a path: its day, and the how manieth of that day it is, from 0.
func entryKey(on engine.Day, nth int) string { return fmt.Sprintf("%d.%d", on, nth) }

// entryInPath returns the index of the entry that the path names, among entries on these days.
func (r *request) entryInPath(name string, days []engine.Day) (int, error) {
	day, nth, _ := strings.Cut(r.PathValue(name), ".")
	on, err := strconv.Atoi(day)
	n, err2 := strconv.Atoi(nth)
	if err != nil || err2 != nil {
		return 0, errNotFound
	}
	for i, d := range days {
		if int(d) == on {
			if n == 0 {
				return i, nil
			}
			n--
		}
	}
	return 0, errNotFound
}

func (r *request) passInPath() (engine.Pass, error) {
	var days []engine.Day
	for _, p := range r.plot.Season.Passes {
		days = append(days, p.On)
	}
	i, err := r.entryInPath("pass", days)
	if err != nil {
		return engine.Pass{}, err
	}
	return r.plot.Season.Passes[i], nil
}

func (r *request) sightingInPath() (engine.Sighting, error) {
	var days []engine.Day
	for _, s := range r.plot.Season.Sightings {
		days = append(days, s.On)
	}
	i, err := r.entryInPath("sighting", days)
	if err != nil {
		return engine.Sighting{}, err
	}
	return r.plot.Season.Sightings[i], nil
}

// readPass reads the form of a pass. was is the pass that is corrected; the zero value for a new one.
func (r *request) readPass(was engine.Pass) engine.Pass {
	p := engine.Pass{On: was.On, With: engine.ByTool}
	if was.On == 0 || r.form.text("on") != was.On.String() {
		p.On = r.typedPastDay("on", r.grower.Today, answer.WeededReach)
	}
	if r.form.text("with") == "hand" {
		p.With = engine.ByHand
	} else {
		p.Way = engine.Way(r.chosen("with", 4))
	}
	p.Share = parts[r.chosen("part", len(parts))].share
	if i := partOf(was.Share); was.On != 0 && r.form.text("part") == fmt.Sprint(i) {
		p.Share = was.Share // the list has no other name for it
	}
	p.Left = engine.Amount(r.chosen("left", 4))
	p.Hours = r.typedHours("hours", r.plot.Season.Plot.AreaM2)
	if p.People = r.typedWhole("people", 1, 99); p.Hours != 0 && p.People == 0 {
		p.People = 1
	}
	if r.form.ok() {
		r.passFits(r.plot.Season, &p, was)
	}
	return p
}

// passFits marks a day on which the plot of a season cannot have been weeded. All of the plot means the rest of it, if
// a part was weeded before in the same window. was is the pass that is corrected; the zero value for a new one.
func (r *request) passFits(s engine.Season, p *engine.Pass, was engine.Pass) {
	all := s.Passes
	s.Passes = nil
	skipped := was.On == 0
	for _, x := range all {
		if !skipped && x == was {
			skipped = true
			continue
		}
		s.Passes = append(s.Passes, x)
	}
	if p.On < s.Plot.Planted {
		r.form.wrong("on", "That is before planting, "+longDay(s.Plot.Planted)+".")
		return
	}
	weeded := 0.0
	if plan, err := s.Windows(p.On); err == nil {
		weeded = plan.Weeded
	}
	for _, x := range s.Passes {
		if x.On == p.On && weeded == 0 {
			r.form.wrong("on", "A weeding on that day is logged already. Correct that one.")
			return
		}
	}
	switch left := 1 - weeded; {
	case weeded == 0:
	case p.Share == 0:
		p.Share = left
	case p.Share > left+0.005: // shares in the list are rounded
		r.form.wrong("part", fmt.Sprintf("%.0f %% of the plot is weeded already in this window.", 100*weeded))
	}
}

const passTitle = "Log a weeding: "

func (d *Desk) passPage(r *request) error {
	r.form = filled("on", "today", "with", "1", "part", "0", "left", "0")
	return r.page("pass", passTitle+r.plotTitle(), r.plotForm())
}

func (d *Desk) logPass(r *request) error {
	p := r.readPass(engine.Pass{})
	if !r.form.ok() {
		return r.again("pass", passTitle+r.plotTitle(), r.plotForm())
	}
	return r.changed(r.write(func(tx *store.Tx) error {
		l, err := r.openPlot(tx)
		if err != nil {
			return err
		}
		return errors.Join(l.LogPass(r.plot.No, p),
			tx.Trail(r.about(r.entry("logged a weeding", r.plotTitle(), "", passWords(p)))))
	}), "The weeding is logged.")
}

// entryForm is the form of a pass or sighting that is corrected.
func (r *request) entryForm() plotForm {
	v := r.plotForm()
	v.Entry = cmp.Or(r.PathValue("pass"), r.PathValue("sighting"))
	return v
}

func (d *Desk) passEntryPage(r *request) error {
	p, err := r.passInPath()
	if err != nil {
		return err
	}
	with := fmt.Sprint(uint8(p.Way))
	if p.With == engine.ByHand {
		with = "hand"
	}
	r.form = filled("on", p.On.String(), "with", with, "part", fmt.Sprint(partOf(p.Share)),
		"left", fmt.Sprint(uint8(p.Left)))
	if p.Hours != 0 {
		r.form.Set("hours", number(p.Hours))
		r.form.Set("people", fmt.Sprint(p.People))
	}
	return r.page("pass", "Correct a weeding: "+r.plotTitle(), r.entryForm())
}

func (d *Desk) correctPass(r *request) error {
	was, err := r.passInPath()
	if err != nil {
		return r.changed(store.ErrNoPass, "")
	}
	p := r.readPass(was)
	if !r.form.ok() {
		return r.again("pass", "Correct a weeding: "+r.plotTitle(), r.entryForm())
	}
	return r.changed(r.write(func(tx *store.Tx) error {
		l, err := r.openPlot(tx)
		if err != nil || p == was {
			return err
		}
		return errors.Join(l.CorrectPass(r.plot.No, was, p),
			tx.Trail(r.about(r.entry("corrected a weeding", r.plotTitle(), passWords(was), passWords(p)))))
	}), "Corrected. What stood before stays below.")
}

func (d *Desk) removePass(r *request) error {
	was, err := r.passInPath()
	if err != nil {
		return r.changed(store.ErrNoPass, "")
	}
	return r.changed(r.write(func(tx *store.Tx) error {
		l, err := r.openPlot(tx)
		if err != nil {
			return err
		}
		return errors.Join(l.RemovePass(r.plot.No, was),
			tx.Trail(r.about(r.entry("took out a weeding", r.plotTitle(), passWords(was), ""))))
	}), "Taken out. What stood before stays below.")
}

// readSighting reads the form of a sighting. was is the one that is corrected; the zero value for a new one.
func (r *request) readSighting(was engine.Sighting) engine.Sighting {
	s := engine.Sighting{On: was.On}
	if was.On == 0 || r.form.text("on") != was.On.String() {
		s.On = r.typedPastDay("on", r.grower.Today, answer.WeededReach)
	}
	s.Leaves, s.Amount = engine.Leaves(r.chosen("leaves", 5)), engine.Amount(r.chosen("amount", 4))
	s.Rows, s.Water = engine.Rows(r.chosen("rows", 3)), engine.Stands(r.chosen("water", 5))
	switch {
	case !r.form.ok():
	case s.BeforePlanting(r.plot.Season.Plot.Planted):
		r.form.wrong("on", "That is before planting, "+longDay(r.plot.Season.Plot.Planted)+".")
	case s == engine.Sighting{On: s.On}:
		r.form.wrong("leaves", "Nothing was seen: choose at least one answer.")
	}
	return s
}

const sightingTitle = "Log what was seen: "

func (d *Desk) sightingPage(r *request) error {
	r.form = filled("on", "today", "leaves", "0", "amount", "0", "rows", "0", "water", "0")
	return r.page("sighting", sightingTitle+r.plotTitle(), r.plotForm())
}

func (d *Desk) logSighting(r *request) error {
	s := r.readSighting(engine.Sighting{})
	if !r.form.ok() {
		return r.again("sighting", sightingTitle+r.plotTitle(), r.plotForm())
	}
	return r.changed(r.write(func(tx *store.Tx) error {
		l, err := r.openPlot(tx)
		if err != nil {
			return err
		}
		return errors.Join(l.See(r.plot.No, s),
			tx.Trail(r.about(r.entry("logged what was seen", r.plotTitle(), "", sightingWords(s)))))
	}), "What was seen is logged.")
}

func (d *Desk) sightingEntryPage(r *request) error {
	s, err := r.sightingInPath()
	if err != nil {
		return err
	}
	r.form = filled("on", s.On.String(), "leaves", fmt.Sprint(uint8(s.Leaves)), "amount", fmt.Sprint(uint8(s.Amount)),
		"rows", fmt.Sprint(uint8(s.Rows)), "water", fmt.Sprint(uint8(s.Water)))
	return r.page("sighting", "Correct what was seen: "+r.plotTitle(), r.entryForm())
}

func (d *Desk) correctSighting(r *request) error {
	was, err := r.sightingInPath()
	if err != nil {
		return r.changed(store.ErrNoSighting, "")
	}
	s := r.readSighting(was)
	if !r.form.ok() {
		return r.again("sighting", "Correct what was seen: "+r.plotTitle(), r.entryForm())
	}
	return r.changed(r.write(func(tx *store.Tx) error {
		l, err := r.openPlot(tx)
		if err != nil || s == was {
			return err
		}
		return errors.Join(l.CorrectSighting(r.plot.No, was, s),
			tx.Trail(r.about(r.entry("corrected what was seen", r.plotTitle(), sightingWords(was), sightingWords(s)))))
	}), "Corrected. What stood before stays below.")
}

func (d *Desk) removeSighting(r *request) error {
	was, err := r.sightingInPath()
	if err != nil {
		return r.changed(store.ErrNoSighting, "")
	}
	return r.changed(r.write(func(tx *store.Tx) error {
		l, err := r.openPlot(tx)
		if err != nil {
			return err
		}
		return errors.Join(l.RemoveSighting(r.plot.No, was),
			tx.Trail(r.about(r.entry("took out what was seen", r.plotTitle(), sightingWords(was), ""))))
	}), "Taken out. What stood before stays below.")
}
