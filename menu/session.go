package menu

import (
	"encoding/json"
	"errors"
	"maps"
	"math"
	"strconv"
)

// session is the state of a dialogue. It is saved as one version byte and JSON. Only this file knows that form.
type session struct {
	Lang    string           `json:"l,omitempty"`
	Screen  ScreenID         `json:"s"`
	Page    int              `json:"g,omitempty"` // page of the screen, from 0
	Trail   []ScreenID       `json:"t,omitempty"` // screens before this one, for back
	Answers map[Field]string `json:"a,omitempty"`
	Refused bool             `json:"r,omitempty"` // a refusal left no room for all of the screen
	Paused  bool             `json:"p,omitempty"` // the grower is asked whether to go on or start again
	Doubt   *doubt           `json:"d,omitempty"` // an entry that is being asked back
}

// sessionVersion goes up when a saved session of the version before can no longer be read or could mislead. A
// dialogue of another version starts again, and the grower is told.
const sessionVersion = 2

// Bounds of a saved session, whatever is typed.
const (
	maxTrail   = 24
	maxSession = 4096
)

var (
	errSession = errors.New("menu: not a session")
	errVersion = errors.New("menu: a session of another version of the menu")
)

func (s *session) encode() ([]byte, error) {
	b, err := json.Marshal(s)
	if err != nil {
		return nil, err
	}
	return append([]byte{sessionVersion}, b...), nil
}

func decodeSession(b []byte) (*session, error) {
	if len(b) < 2 || len(b) > maxSession {
		return nil, errSession
	}
	if b[0] != sessionVersion {
		return nil, errVersion
	}
	s := &session{}
	if json.Unmarshal(b[1:], s) != nil || len(s.Trail) > maxTrail {
		return nil, errSession
	}
	return s, nil
}

// session decodes a saved session, and fails unless this menu has its screens and its kind of doubt.
func (m *Menu) session(state []byte) (*session, error) {
	s, err := decodeSession(state)
	if err != nil {
		return nil, err
	}
	known := m.screens[s.Screen] != nil && (s.Doubt == nil || doubtTexts[s.Doubt.About].Say != nil)
	for _, id := range s.Trail {
		known = known && m.screens[id] != nil
	}
	if !known {
		return nil, errSession
	}
	return s, nil
}

func (s *session) put(f Field, v string) {
	if s.Answers == nil {
		s.Answers = map[Field]string{}
	}
	s.Answers[f] = v
}

func (s *session) putAll(m map[Field]string) {
	if s.Answers == nil {
		s.Answers = map[Field]string{}
	}
	maps.Copy(s.Answers, m)
}

func (s *session) int(f Field) int {
	n, _ := strconv.Atoi(s.Answers[f])
	return n
}

func (s *session) float(f Field) float64 {
	x, err := strconv.ParseFloat(s.Answers[f], 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

// push adds a screen to the trail for back. A full trail drops its oldest screen but the first.
func (s *session) push(id ScreenID) {
	if len(s.Trail) == maxTrail {
		s.Trail = append(s.Trail[:1], s.Trail[2:]...)
	}
	s.Trail = append(s.Trail, id)
}

// clone returns a copy of the session, to restore after a refusal.
func (s *session) clone() *session {
	t := *s
	t.Trail = append([]ScreenID(nil), s.Trail...)
	t.Answers = nil
	t.putAll(s.Answers)
	return &t
}
