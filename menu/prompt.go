package menu

import (
	"encoding/json"
	"errors"
	"slices"

	"rowbell/engine"
)

// A prompt says what a one-digit answer from a grower means now. It is a question that a text has asked about one
// plot or two; prompt_answers.go works the answers in.

// asked is the question of a prompt.
type asked string

const (
	askedPass asked = "pass" // asked when a window is open: done, not yet, or weeds too big?
	askedHand asked = "hand" // asked when a window was missed: are the weeds pulled by hand?
	askedLeft asked = "left" // asked after a pass: how many weeds are left in the rows?
	askedUndo asked = "undo" // a pass is logged with all answers: 0 undoes the pass, and its hours may be told
)

// prompt is saved as one version byte and JSON, as a session is. Only this file knows that form.
type prompt struct {
	Asked asked      `json:"k"`
	Plots []subject  `json:"p"`
	Of    []subject  `json:"q,omitempty"` // plots to ask about again after an undo, if more than Plots
	On    engine.Day `json:"d,omitempty"` // day of the pass in question
	Opens engine.Day `json:"o,omitempty"` // the window that was told with the question; 0: none
	Close engine.Day `json:"e,omitempty"`
}

// subject is a plot as it was when the question was asked. Since then its number may have been given to another plot,
// or a pass may have been logged.
type subject struct {
	No      int        `json:"n"`
	Planted engine.Day `json:"p"`
	Passes  int        `json:"c"`
}

func subjectOf(no int, s engine.Season) subject {
	return subject{No: no, Planted: s.Plot.Planted, Passes: len(s.Passes)}
}

// is reports whether the plot is still the one that was asked about.
func (u subject) is(s engine.Season) bool { return u.Planted == s.Plot.Planted }

// unchanged reports whether the plot is still the one that was asked about and no pass was logged or undone since.
func (u subject) unchanged(s engine.Season) bool { return u.is(s) && u.Passes == len(s.Passes) }

// promptVersion changes when saved prompts can no longer be read.
const promptVersion = 1

var errPrompt = errors.New("menu: not a prompt of this version")

func (p prompt) encode() ([]byte, error) {
	b, err := json.Marshal(p)
	if err != nil {
		return nil, err
	}
	return append([]byte{promptVersion}, b...), nil
}

func decodePrompt(b []byte) (prompt, error) {
	var p prompt
	if len(b) < 2 || len(b) > maxSession || b[0] != promptVersion || json.Unmarshal(b[1:], &p) != nil {
		return prompt{}, errPrompt
	}
	kinds := []asked{askedPass, askedHand, askedLeft, askedUndo}
	if len(p.Plots) == 0 || len(p.Plots) > MaxPlots || !slices.Contains(kinds, p.Asked) {
		return prompt{}, errPrompt
	}
	return p, nil
}

// How long a prompt is valid where no window bounds it, in days (judgement).
const (
	leftDays = 3
	undoDays = 1
	handDays = 7
)
