package store

import "fmt"

// Retention is for how many days what has served its purpose is kept.
type Retention struct {
	Callbacks  int // replies kept for callbacks that come twice
	LooseTexts int // texts that are over, to phones without records
	Texts      int // the same, to growers
	Seasons    int // closed plots with their passes and sightings; 0 = for ever
	Growers    int // growers nobody heard of, with all of their records; 0 = for ever
}

const secondsADay = 24 * 60 * 60

// DefaultRetention is what holds where the operator sets nothing.
func DefaultRetention() Retention {
	return Retention{
		Callbacks: CallbackRetention / secondsADay, LooseTexts: LooseTextRetention / secondsADay, Texts: TextRetention / secondsADay,
		// As far back as a place learns: what is older plans nothing any more but
		// the grower's own pace, which newer passes tell better.
		Seasons: learnDays + 2,
		// Two years: who leaves out a year's season is still known, and a number
		// that is silent for so long is most likely another person's by then.
		Growers: 730,
	}
}

// bounds are the days that may be set. Fewer would take what is still
// worked with: a receipt comes days after its text, a season and its harvest
// last most of a year.
func (k Retention) bounds() []keepBound {
	return []keepBound{
		{"callbacks_days", k.Callbacks, 1, CallbackRetention / secondsADay, false}, // an older one is not taken for a repeat
		{"loose_texts_days", k.LooseTexts, 1, 30, false},
		{"texts_days", k.Texts, 14, 3660, false},
		{"seasons_days", k.Seasons, 366, 36600, true},
		{"growers_days", k.Growers, 366, 36600, true},
	}
}

type keepBound struct {
	name        string
	days        int
	least, most int
	forEver     bool // 0 may be said
}

// Validate names the first that cannot be, as the configuration calls it.
func (k Retention) Validate() error {
	for _, b := range k.bounds() {
		switch {
		case b.forEver && b.days == 0:
		case b.days < b.least || b.days > b.most:
			or := ""
			if b.forEver {
				or = ", or 0 for ever"
			}
			return fmt.Errorf("%s: %d is not from %d to %d days%s", b.name, b.days, b.least, b.most, or)
		}
	}
	return nil
}

// RetentionKind is how long one kind of record is kept.
type RetentionKind struct {
	Name string // its setting under [keep]; "" = it cannot be set
	Days int    // 0 = what Until says
	// Until is in words; with Days it says since when they count.
	Until string
	What  string
}

// Kinds lists all that is kept of people, and for how long.
func (k Retention) Kinds() []RetentionKind {
	list := []RetentionKind{
		{"", 0, "until they are over, see [resume]", "dialogues in progress"},
		{"", PromptRetention / secondsADay, "since they are over", "questions that one digit answers"},
		{"callbacks_days", k.Callbacks, "since the call", "replies to calls, for those that come twice"},
		{"loose_texts_days", k.LooseTexts, "since they were written, once they are over", "texts to phones without records"},
		{"texts_days", k.Texts, "since they were written, once they are over", "texts to growers"},
		{"seasons_days", k.Seasons, "since the plot was closed", "closed plots with passes, sightings, trials and texts about them"},
		{"growers_days", k.Growers, "since they were heard of", "growers with all of their records and their consent"},
		{"", 1, "since the last one", "wrong codes, by a keyed hash of the number"},
		{"", spendRetentionDays, "since that day", "counts of texts a day to a number, by its keyed hash"},
		{"", 0, "until the number joins or says START", "that a number wants no texts, by its keyed hash"},
		{"", 0, "for ever: they name nobody", "words that growers agreed to; weather and what a place learned"},
	}
	for i := range list {
		if list[i].Name != "" && list[i].Days == 0 {
			list[i].Until = "for ever"
		}
	}
	return list
}

// How long what has served its purpose is kept.
const (
	// CallbackRetention is how long a repeat of a callback gets the reply it got.
	// Networks repeat within minutes, a queue after an outage within days.
	CallbackRetention = 7 * 24 * 60 * 60
	// PromptRetention is how long it is known that a prompt is over: as long as an
	// older dialogue by text may live, so that a late digit is not given to it.
	PromptRetention = 7 * 24 * 60 * 60
	// LooseTextRetention is how long a text that is over is kept for a phone without
	// records: nobody's consent covers more.
	LooseTextRetention = 7 * 24 * 60 * 60
	// TextRetention is the same for a grower's: a year and a season's start.
	TextRetention = 400 * 24 * 60 * 60
	pruneBatch    = 1000 // rows a transaction, so that a callback is not kept waiting
)
