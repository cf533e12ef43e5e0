package season

import (
	"os"
	"path/filepath"
)

// Sample is what a day was like.
type Sample struct {
	Day     int     `json:"day"`
	Rung    int64   `json:"rung"` // reminders of the morning
	Morning float64 `json:"morning_seconds"`
	Texts   int64   `json:"texts"` // all that came to phones
	Calls   int64   `json:"calls"` // steps of dialogues
	SMS     int64   `json:"sms"`   // texts of growers
	Seconds float64 `json:"seconds"`
	Memory  int64   `json:"memory"` // resident memory of the process in the evening, in octets
	File    int64   `json:"file"`
	Log     int64   `json:"log"` // of the database: what is not in the file yet
}

// measure ends a day's sample with the sizes of the evening.
func (w *world) measure(s Sample) (err error) {
	if s.Memory, _, err = w.stack.Memory(0); err != nil {
		return err
	}
	if s.File, err = fileSize(w.stack.DB()); err != nil {
		return err
	}
	if s.Log, err = fileSize(w.stack.DB() + "-wal"); err != nil {
		return err
	}
	w.samples = append(w.samples, s)
	return nil
}

// fileSize returns the size of a file, 0 if there is none.
func fileSize(path string) (int64, error) {
	info, err := os.Stat(filepath.Clean(path))
	if os.IsNotExist(err) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

// memoryGrows is how much greater the mean memory of the last third of the days may be than that of the third before
// it. Growers register in the first third. A leak of as little as a hundred octets a step shows: it adds up over the
// days, and the work of a day does not.
const memoryGrows = 1.15

// memoryOf returns the mean memory of the second and of the last third of the days, and whether it is flat.
func memoryOf(samples []Sample) (second, last float64, flat bool) {
	third := len(samples) / 3
	if third == 0 {
		return 0, 0, true
	}
	n := len(samples)
	second, last = meanMemory(samples[n-2*third:n-third]), meanMemory(samples[n-third:])
	return second, last, last <= memoryGrows*second
}

func meanMemory(samples []Sample) float64 {
	sum := 0.0
	for _, s := range samples {
		sum += float64(s.Memory)
	}
	return sum / float64(len(samples))
}
