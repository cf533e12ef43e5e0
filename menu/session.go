package menu

import (
	"encoding/json"
	"errors"
	"maps"
	"math"
	"slices"
	"strconv"
)

// session is the state of a dialogue. It is saved as a version byte and then JSON. Only this file reads and writes that
// form.
type session struct {
	Lang    string           `json:"l,omitempty"`
	Screen  ScreenID         `json:"s"`
	Page    int              `json:"g,omitempty"` // shown page of the screen, counted from 0
	Trail   []ScreenID       `json:"t,omitempty"` // earlier screens, to which the back key leads
	Answers map[Field]string `json:"a,omitempty"`
	Refused bool             `json:"r,omitempty"` // the reason of a refusal hides part of the screen
	Paused  bool             `json:"p,omitempty"` // the grower is being asked whether to resume or to start again
	Doubt   *doubt           `json:"d,omitempty"` // the doubted entry that the grower is being asked about
}

// sessionVersion increases if this version of the menu cannot read sessions of the version before, or could
// misunderstand them. A dialogue of another version begins again, and the grower is told so.
const sessionVersion = 4

// A saved session has at most maxTrail screens for the back key, and at most maxSession bytes. No entry of the grower
// can make a session longer.
const (
	maxTrail   = 24
	maxSession = 4096
)

var (
	errSession = errors.New("menu: not a session")
	errVersion = errors.New("menu: a session of another version of the menu")
)

func (s *session) encode() ([]byte, error) { return encode(sessionVersion, s) }

// encode writes a version byte and then v as JSON.
func encode(version byte, v any) ([]byte, error) {
	b, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return append([]byte{version}, b...), nil
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

// session decodes a saved session. session fails if the session has a screen or a kind of doubt that this menu does not
// have.
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

func (s *session) put(f Field, v string) { s.putAll(map[Field]string{f: v}) }

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

// push adds a screen to the trail for the back key. If the trail is full, push drops the second screen, and keeps the
// first screen and all later ones.
func (s *session) push(id ScreenID) {
	if len(s.Trail) == maxTrail {
		s.Trail = append(s.Trail[:1], s.Trail[2:]...)
	}
	s.Trail = append(s.Trail, id)
}

// clone returns a copy of the session, which the walk restores after a refusal.
func (s *session) clone() *session {
	t := *s
	t.Trail = slices.Clone(s.Trail)
	t.Answers = nil
	t.putAll(s.Answers)
	return &t
}
