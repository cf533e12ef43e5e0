package config

import (
	"time"

	"rowbell/gateway"
	"rowbell/gateway/fault"
)

// Loop says when the texts of a number get no answer for a while, because they look like a machine's.
type Loop struct {
	Texts         int      `toml:"texts"`           // answers in a row to texts that were not understood
	AnswersAnHour int      `toml:"answers_an_hour"` // answers to one number in an hour
	Pause         Duration `toml:"pause"`           // the first pause; each further one in a row is twice as long
	LongestPause  Duration `toml:"longest_pause"`
}

// DefaultLoop returns the limits that hold if the file sets none. A person who mistypes asks for help before the fifth
// time. Registration takes about 20 texts, so nobody needs 100 answers in an hour (judgement).
func DefaultLoop() Loop {
	return Loop{Texts: 5, AnswersAnHour: 100, Pause: Duration(10 * time.Minute), LongestPause: Duration(6 * time.Hour)}
}

// Gateway converts l to the type of package gateway.
func (l Loop) Gateway() gateway.Loops {
	return gateway.Loops{Texts: l.Texts, AnswersAnHour: l.AnswersAnHour, Pause: time.Duration(l.Pause),
		Longest: time.Duration(l.LongestPause)}
}

func (l Loop) check() error {
	pause, longest := time.Duration(l.Pause), time.Duration(l.LongestPause)
	var wrong fault.List
	wrong.Refuse(l.Texts < 0 || l.Texts > 100, "texts", "%d is not from 1 to 100; 0 is no limit", l.Texts)
	wrong.Refuse(l.AnswersAnHour < 0, "answers_an_hour", "%d is below 0; 0 is no limit", l.AnswersAnHour)
	wrong.Refuse(pause < time.Minute || pause > 24*time.Hour, "pause",
		"%s is not a time span from \"1m\" to \"24h\"", pause)
	wrong.Refuse(longest < min(pause, 24*time.Hour) || longest > 24*time.Hour, "longest_pause",
		"%s is not a time span from pause, %s, to \"24h\"", longest, pause)
	return wrong.Err()
}
