package calls

import (
	"fmt"
	"io"
	"maps"
	"os"
	"slices"

	"rowbell/store"
)

// Result is what a run found.
type Result struct {
	Records   string  `json:"records"` // file or server
	Processes int     `json:"processes"`
	Seconds   float64 `json:"seconds"`
	Offered   float64 `json:"offered_calls_a_second"`
	Burst     float64 `json:"burst"`
	Growers   int     `json:"growers"`
	Turned    int     `json:"growers_turned_away"`
	Calls     int64   `json:"calls_acknowledged"`
	Rate      float64 `json:"calls_a_second"`

	CallTimes Percentiles `json:"call"` // from the instant at which a call is due to its acknowledgement
	TextTimes Percentiles `json:"text"` // from that acknowledgement to the text

	Tries    map[string]int      `json:"tries_without_acknowledgement"`
	Repeats  int                 `json:"acknowledged_calls_repeated"`
	Texts    map[store.State]int `json:"texts_by_state"`
	Again    int                 `json:"texts_again_under_one_id"`
	Troubles []Trouble           `json:"troubles"`
	MemoryMB float64             `json:"memory_mb"` // of the largest process, at most
	FileMB   float64             `json:"file_mb"`

	Faults  []string `json:"faults"` // the first ones
	NFaults int      `json:"faults_in_all"`
}

// result returns what is known so far.
func (l *load) result() Result {
	l.mu.Lock()
	defer l.mu.Unlock()
	seconds := l.o.For.Seconds()
	r := Result{Records: "file", Processes: l.stack.Size(), Seconds: seconds, Offered: l.o.Rate, Burst: l.o.Burst,
		Growers: len(l.growers) - 2*len(l.scripts), Turned: l.turned, Calls: l.calls.Load(),
		CallTimes: l.times.percentiles(), TextTimes: l.texts.percentiles(), Tries: l.tries, Repeats: l.repeats,
		Texts: l.states, Again: l.net.Again(), Troubles: l.troubles, Faults: l.faults, NFaults: l.nFaults}
	r.Rate = float64(r.Calls) / seconds
	if store.OnServer(l.stack.DB()) {
		r.Records = "server"
	} else {
		for _, end := range []string{"", "-wal"} {
			if file, err := os.Stat(l.stack.DB() + end); err == nil {
				r.FileMB += float64(file.Size()) / 1e6
			}
		}
	}
	for i := range l.stack.Size() {
		if _, most, err := l.stack.Memory(i); err == nil {
			r.MemoryMB = max(r.MemoryMB, float64(most)/1e6)
		}
	}
	return r
}

// with takes from an earlier result what is only known while the service runs.
func (r Result) with(running Result) Result {
	r.MemoryMB, r.FileMB = running.MemoryMB, running.FileMB
	return r
}

// Print writes the result for people.
func (r Result) Print(w io.Writer) {
	line := func(what, format string, a ...any) { fmt.Fprintf(w, "%-26s %s\n", what, fmt.Sprintf(format, a...)) }
	line("records", "%s, %d process(es), %.0f MB; %.0f MB of memory at most", r.Records, r.Processes, r.FileMB,
		r.MemoryMB)
	line("growers", "%d in %.0f s, %d turned away", r.Growers, r.Seconds, r.Turned)
	line("calls acknowledged", "%d, %.0f a second; offered %.0f, burst %.1f times", r.Calls, r.Rate, r.Offered, r.Burst)
	r.CallTimes.print(line, "a call takes")
	r.TextTimes.print(line, "a text follows after")
	for _, why := range slices.Sorted(maps.Keys(r.Tries)) {
		line("tries, "+why, "%d; each call came again until it was acknowledged", r.Tries[why])
	}
	line("acknowledged and repeated", "%d", r.Repeats)
	for _, state := range slices.Sorted(maps.Keys(r.Texts)) {
		line("texts "+string(state), "%d", r.Texts[state])
	}
	line("texts again under one id", "%d, at the network that recognises them", r.Again)
	without := map[string][]float64{}
	for _, t := range r.Troubles {
		without[t.What] = append(without[t.What], t.Without)
	}
	for _, what := range slices.Sorted(maps.Keys(without)) {
		list := slices.Sorted(slices.Values(without[what]))
		line("trouble", "%s, %d times; no call answered for %.0f ms (median), %.0f at most", what, len(list),
			list[len(list)/2], list[len(list)-1])
	}
	for _, f := range r.Faults {
		line("WRONG", "%s", f)
	}
	if r.NFaults == 0 {
		line("wrong", "nothing: each answer as written, each acknowledged call recorded once, each text accounted for")
	} else {
		line("wrong", "%d", r.NFaults)
	}
}

func (p Percentiles) print(line func(what, format string, a ...any), what string) {
	line(what, "p50 %.1f ms, p90 %.1f, p99 %.1f, p99.9 %.1f, at most %.1f (%d)", p.P50, p.P90, p.P99, p.P999, p.Most,
		p.N)
}
