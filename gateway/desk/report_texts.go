package desk

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/engine/picture"
	"rowbell/engine/report"
	"rowbell/store"
)

// textStates are the states of texts, in the groups that the charts show.
var textStates = []struct {
	name   string
	states []store.State
}{
	{"reached the phone", []store.State{store.Delivered}},
	{"taken, no receipt", []store.State{store.Accepted}},
	{"not sent", []store.State{store.Refused, store.Expired, store.Withdrawn, store.Unknown}},
	{"waits", []store.State{store.Queued, store.Claimed}},
}

func textSeries() (names []string) {
	for _, g := range textStates {
		names = append(names, g.name)
	}
	return names
}

// textValues returns the texts of each group of textStates.
func textValues(sum store.TextSum) (list []float64) {
	for _, g := range textStates {
		list = append(list, float64(sum.In(g.states...)))
	}
	return list
}

// textCells returns the texts, those of each group, their parts and what they cost.
func textCells(sum store.TextSum) []cell {
	list := []cell{amount(sum.Texts())}
	for _, g := range textStates {
		list = append(list, amount(sum.In(g.states...)))
	}
	return append(list, amount(sum.Segments), money(sum.Micros))
}

// textHead returns the head of the columns of textCells.
func (x *reported) textHead(first string) []string {
	cost := "Cost"
	if x.currency != "" {
		cost += ", " + x.currency
	}
	return []string{first, "Texts", "Reached the phone", "Taken, no receipt", "Not sent", "Waits", "Parts", cost}
}

// textNote says which texts are counted.
func (x *reported) textNote() string {
	note := fmt.Sprintf("Texts written from %s to %s (UTC), about whatever plot.", longDay(x.from.Monday()),
		longDay(x.to.Monday()+6))
	if x.loose {
		note += " Answers to phones without records are counted."
	}
	return note
}

func (x *reported) textsByStateAndWeek() (s reportSection, err error) {
	all := x.allTexts
	s = reportSection{Name: "texts-by-week", First: true, Message: "No text was written", Note: x.textNote() +
		" Networks that send no receipts leave a text at taken. Not sent: refused, too late, withdrawn, or nobody " +
		"knows."}
	if n := all.Texts(); n > 0 {
		s.Message = report.OfAll(all.In(store.Delivered, store.Accepted), n, "texts") + " were taken by a network"
	}
	s.Table.Head = x.textHead("Week from")
	k := picture.Columns{Series: textSeries(), Chart: picture.Chart{Title: "Texts of each week, by what became of them",
		Desc: s.Message + ".", Unit: "texts a week"}}
	weeks := x.texts.ByWeek
	for _, w := range slices.Sorted(maps.Keys(weeks)) {
		s.Table.add(append([]cell{week(w)}, textCells(weeks[w])...)...)
		k.Weeks = append(k.Weeks, picture.Column{From: w.Monday(), Values: textValues(weeks[w])})
	}
	if len(k.Weeks) > 0 {
		s.Chart, err = draw(func(w io.Writer) error { return picture.WriteColumns(w, k) })
	}
	return s, err
}

func (x *reported) textsByKind() (s reportSection, err error) {
	s = reportSection{Name: "texts-by-kind", Message: "No text was written", Note: "A reply answers a text of a " +
		"grower; the others are sent without being asked for."}
	s.Table.Head = x.textHead("Kind")
	k := picture.Bars{Series: textSeries(), Chart: picture.Chart{Title: "Texts by kind and what became of them",
		Unit: "texts"}}
	kinds := x.texts.ByKind
	names := slices.SortedFunc(maps.Keys(kinds), func(a, b string) int {
		return cmp.Or(cmp.Compare(kinds[b].Texts(), kinds[a].Texts()), cmp.Compare(a, b))
	})
	for _, name := range names {
		s.Table.add(append([]cell{word(kindName(name))}, textCells(kinds[name])...)...)
		if len(k.Rows) < mostBars {
			k.Rows = append(k.Rows, picture.Bar{Name: kindName(name), Values: textValues(kinds[name])})
		}
	}
	if len(names) == 0 {
		return s, nil
	}
	s.Message = fmt.Sprintf("The most frequent text is “%s”: %s of all", kindName(names[0]),
		shareOf(kinds[names[0]].Texts(), x.allTexts.Texts()))
	k.Desc = s.Message + "."
	s.Chart, err = draw(func(w io.Writer) error { return picture.WriteBars(w, k) })
	return s, err
}

// kindName says in words what texts are whose column kind in the records is name.
func kindName(name string) string {
	if kind, ok := engine.ParseKind(name); ok {
		return strings.TrimPrefix(kindWords[kind], "that ")
	}
	return name
}

func (x *reported) textsOfPlaces() (s reportSection, err error) {
	s = reportSection{Name: "texts-by-place", Message: "No text was written", Note: "The same texts by the place of " +
		"their growers. A plot is one that was planted in the months of this page."}
	s.Table.Head = append(x.textHead("Place"), "Cost a plot")
	k := picture.Bars{Series: textSeries(), Chart: picture.Chart{Title: "Texts by place and what became of them",
		Unit: "texts"}}
	sums := x.texts.ByPlace
	lines := slices.DeleteFunc(append(slices.Clone(x.places), store.Place{Name: "phones without records"}),
		func(p store.Place) bool { return sums[p.ID].Texts() == 0 })
	slices.SortStableFunc(lines, func(a, b store.Place) int {
		return cmp.Compare(sums[b.ID].Texts(), sums[a.ID].Texts())
	})
	for _, p := range lines {
		sum, each := sums[p.ID], cell(word(""))
		if planted := x.fields.ByPlace[p.ID]; planted != nil && planted.Planted() > 0 {
			each = money(sum.Micros / planted.Planted())
		}
		s.Table.add(append(append([]cell{word(p.Name)}, textCells(sum)...), each)...)
		if len(k.Rows) < mostBars {
			k.Rows = append(k.Rows, picture.Bar{Name: p.Name, Values: textValues(sum)})
		}
	}
	if len(lines) == 0 {
		return s, nil
	}
	s.Message = "Most texts went to " + lines[0].Name
	k.Desc = s.Message + "."
	s.Chart, err = draw(func(w io.Writer) error { return picture.WriteBars(w, k) })
	return s, err
}

func (x *reported) moneyByWeek() (s reportSection, err error) {
	all := x.allTexts
	s = reportSection{Name: "money-by-week", Message: "No price of a text is known, so no cost was counted",
		Note: "A text is charged when it is handed to a network; what the network surely did not take is given back."}
	s.Table.Head = []string{"Week from", "Parts", x.textHead("")[7], "Cost a text"}
	k := picture.Line{Chart: picture.Chart{Title: "What the texts of each week cost",
		Unit: cmp.Or(x.currency, "money") + " a week"}}
	weeks, dearest := x.texts.ByWeek, x.from
	for w := x.from; w <= x.to && all.Micros > 0; w++ { // nothing was spent in a week without texts
		sum, each := weeks[w], cell(word(""))
		if n := sum.Texts(); n > 0 {
			each = money(sum.Micros / n)
		}
		s.Table.add(week(w), amount(sum.Segments), money(sum.Micros), each)
		k.Points = append(k.Points, picture.Point{From: w.Monday(), Value: float64(sum.Micros) / 1e6})
		if sum.Micros > weeks[dearest].Micros {
			dearest = w
		}
	}
	if all.Micros == 0 {
		return s, nil
	}
	s.Message = fmt.Sprintf("Texts cost %s%s, the most in the week from %s", money(all.Micros), x.unit(),
		longDay(dearest.Monday()))
	k.Desc = s.Message + "."
	s.Chart, err = draw(func(w io.Writer) error { return picture.WriteLine(w, k) })
	return s, err
}
