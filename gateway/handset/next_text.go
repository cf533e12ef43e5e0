package handset

import (
	"context"
	"fmt"

	"rowbell/engine"
)

// MaxSearchDays is the most days that NextText moves the calendar: more than a season of lowland rice, which lasts 90
// to 160 days (common practice, no source).
const MaxSearchDays = 200

// Search is the result of NextText.
type Search struct {
	Days int       // days that the calendar moved
	End  SearchEnd // why it stopped
}

// SearchEnd says why NextText stopped.
type SearchEnd uint8

const (
	TextCame   SearchEnd = iota + 1
	NoPlot               // the phone has no plot, so no text can come
	SeasonOver           // the season of each of the phone's plots is over
	NoText               // no text came in MaxSearchDays days
)

// String says what NextText did, in a sentence.
func (s Search) String() string {
	switch {
	case s.End == NoPlot:
		return "This phone has no plot, so no text comes. Dial and register one."
	case s.End == SeasonOver && s.Days == 0:
		return "The season is over, so no text comes. Register a plot, or begin again."
	case s.End == SeasonOver:
		return fmt.Sprintf("%d days later: the season is over, and no text came. Register a plot, or begin again.",
			s.Days)
	case s.End == NoText:
		return fmt.Sprintf("No text to this phone in %d days.", s.Days)
	case s.Days == 1:
		return "A text came the next morning."
	}
	return fmt.Sprintf("%d days later: a text came.", s.Days)
}

// NextText moves the calendar until the phone receives a text, until the season of each of its plots is over, or for
// MaxSearchDays days.
func (r *Room) NextText(ctx context.Context, number string) (s Search, err error) {
	r.calendar.Lock()
	defer r.calendar.Unlock()
	before, err := r.valley.Texts(ctx, number)
	if err != nil {
		return s, err
	}
	for s.Days < MaxSearchDays {
		if s.End, err = r.noMoreTexts(ctx, number); err != nil || s.End != 0 {
			return s, err
		}
		if err := r.nextDay(ctx); err != nil {
			return s, err
		}
		s.Days++
		now, err := r.valley.Texts(ctx, number)
		if err != nil {
			return s, err
		}
		if len(now) > len(before) {
			s.End = TextCame
			return s, nil
		}
	}
	s.End = NoText
	return s, nil
}

// noMoreTexts returns NoPlot or SeasonOver if there is no plot about which the phone can receive a text, otherwise 0.
func (r *Room) noMoreTexts(ctx context.Context, number string) (SearchEnd, error) {
	plots, err := r.valley.Plots(ctx, number)
	if err != nil {
		return 0, err
	}
	if len(plots) == 0 {
		return NoPlot, nil
	}
	for _, p := range plots {
		plan, err := p.Season.Windows(r.today())
		if err != nil || plan.State != engine.Closed {
			return 0, err
		}
	}
	return SeasonOver, nil
}
