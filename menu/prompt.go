package menu

import (
	"encoding/json"
	"errors"
	"slices"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// A prompt is a question that a text has asked about one plot or two, or for another person of a circle. The prompt
// decides what a one-digit answer from the grower means. prompt_answers.go applies the answers.

// asked names the question of a prompt.
type asked string

const (
	askedPass  asked = "pass"  // asked while a window is open: done, not yet done, or weeds too big?
	askedHand  asked = "hand"  // asked after a window was missed: are the weeds pulled by hand?
	askedPart  asked = "part"  // asked after a part was weeded: how much in all? About the first plot only
	askedLeft  asked = "left"  // asked after a pass was logged: how many weeds are left in the rows?
	askedLook  asked = "look"  // asked before a window: how many leaves have most weeds? About the first plot only
	askedWater asked = "water" // asked after a look, if the grower never spoke of the water: how deep is it?
	askedHours asked = "hours" // asked after hours that are likely a slip: which are meant? See Told
	askedUndo  asked = "undo"  // the pass and all answers are stored: 0 removes the pass, and hours are added to it

	askedCircle asked = "circle" // a question from another person of a circle: see Ask. About no plot
)

// prompt is saved as a version byte and then JSON, as a session is. Only this file reads and writes that form.
type prompt struct {
	Asked  asked      `json:"k"`
	Plots  []subject  `json:"p"`
	Of     []subject  `json:"q,omitempty"` // all plots of the reminder, for the question after an undo; nil means Plots
	On     engine.Day `json:"d,omitempty"` // day of the pass that the question is about
	Opens  engine.Day `json:"o,omitempty"` // first day of the window that the question named; 0: none
	Close  engine.Day `json:"e,omitempty"`
	Small  bool       `json:"s,omitempty"` // the days were a guess: 4 means that the weeds are still too small
	Yes    bool       `json:"y,omitempty"` // the text asked "have you weeded?", so that yes means done
	Told   *told      `json:"h,omitempty"` // the hours that askedHours asks about
	Before bool       `json:"-"`           // while an answer is applied: it says that it was yesterday
	Rest   bool       `json:"r,omitempty"` // the pass was over a part of the plot: 1 means that the rest is done
	// Looked is the day of a leaf count that the text answered, if the days of the pass are still to come. On this day
	// a digit is a corrected count.
	Looked engine.Day `json:"l,omitempty"`

	Ask  int64          `json:"a,omitempty"` // the circle.Ask of askedCircle
	Kind circle.AskKind `json:"i,omitempty"` // its kind
}

// subject is a plot as it was when the question was asked. Since then the plot's number may have been given to another
// plot, or a pass may have been logged on the plot.
type subject struct {
	No      int        `json:"n"`
	Planted engine.Day `json:"p"`
	Passes  int        `json:"c"`
}

func subjectOf(no int, s engine.Season) subject {
	return subject{No: no, Planted: s.Plot.Planted, Passes: len(s.Passes)}
}

// is reports whether the plot that has this number now is the plot that the question was about. Two plots are the same
// if their planting days are equal.
func (u subject) is(s engine.Season) bool { return u.Planted == s.Plot.Planted }

// unchanged reports whether the plot is still the one that the question was about, and no pass was logged or removed
// since.
func (u subject) unchanged(s engine.Season) bool { return u.is(s) && u.Passes == len(s.Passes) }

// promptVersion must change if a new version of the menu cannot read saved prompts.
const promptVersion = 1

var errPrompt = errors.New("menu: not a prompt of this version")

func (p prompt) encode() ([]byte, error) { return encode(promptVersion, p) }

func decodePrompt(b []byte) (prompt, error) {
	var p prompt
	if len(b) < 2 || len(b) > maxSession || b[0] != promptVersion || json.Unmarshal(b[1:], &p) != nil {
		return prompt{}, errPrompt
	}
	kinds := []asked{askedPass, askedHand, askedPart, askedLeft, askedUndo, askedLook, askedWater, askedHours}
	if p.Asked == askedCircle {
		if p.Ask == 0 || len(p.Plots) > 0 {
			return prompt{}, errPrompt
		}
		return p, nil
	}
	if len(p.Plots) == 0 || p.Ask != 0 || len(p.Plots) > MaxPlots || !slices.Contains(kinds, p.Asked) ||
		(p.Asked == askedHours) != (p.Told != nil) {
		return prompt{}, errPrompt
	}
	return p, nil
}

// A prompt can be answered for this many days (judgement). A prompt about an open window is different: it can be
// answered until the last day of the window.
const (
	leftDays = 3
	undoDays = 1
	handDays = 7
	lookDays = engine.AnswerDays
)
