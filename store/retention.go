package store

import "fmt"

// Retention is how many days data is stored after it served its purpose: the section [keep] of the
// configuration.
type Retention struct {
	Callbacks  int // replies to callbacks, for repeats
	LooseTexts int // texts that ended, to phones without records
	Texts      int // texts that ended, to growers
	Seasons    int // closed plots with passes and sightings; 0 = for ever
	Growers    int // growers who were not heard of, with all records; 0 = for ever
}

const secondsADay = 24 * 60 * 60

// DefaultRetention is used where the operator sets nothing.
func DefaultRetention() Retention {
	return Retention{
		Callbacks:  CallbackRetention / secondsADay,
		LooseTexts: LooseTextRetention / secondsADay, Texts: TextRetention / secondsADay,
		// Two days longer than a place learns from a season, because the day at the place and the day in
		// UTC differ by up to one. Older seasons serve only the grower's own pace, which newer passes tell
		// better.
		Seasons: learnDays + 2,
		// Two years (judgement): a grower who skips a season is still known, and a number that was
		// silent for so long is most likely somebody else's.
		Growers: 730,
	}
}

// bounds are the days that may be set. The minimums protect what is still needed: a receipt comes days
// after its text, and a season with its harvest takes most of a year.
func (k Retention) bounds() []retentionBound {
	return []retentionBound{
		// the repeat of an older callback would not be recognised
		{"callbacks_days", k.Callbacks, 1, CallbackRetention / secondsADay, false},
		{"loose_texts_days", k.LooseTexts, 1, 30, false},
		{"texts_days", k.Texts, 14, 3660, false},
		{"seasons_days", k.Seasons, 366, 36600, true},
		{"growers_days", k.Growers, 366, 36600, true},
	}
}

type retentionBound struct {
	name        string
	days        int
	least, most int
	forEver     bool // 0 is allowed
}

// Validate returns an error for the first value out of bounds, under its name in the configuration.
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

// RetentionKind is the retention of one kind of data.
type RetentionKind struct {
	Name string // its setting in [keep]; "" = fixed
	Days int    // 0 = see Until
	// Until says until when the data is stored, or with Days from when the days count.
	Until string
	What  string
}

// Kinds lists all personal data with its retention.
func (k Retention) Kinds() []RetentionKind {
	list := []RetentionKind{
		{"", 0, "until they are over, see [resume]", "dialogues in progress"},
		{"", PromptRetention / secondsADay, "since they are over", "questions that one digit answers"},
		{"callbacks_days", k.Callbacks, "since the call", "replies to calls, for those that come twice"},
		{"loose_texts_days", k.LooseTexts, "since they were written, once they are over",
			"texts to phones without records"},
		{"texts_days", k.Texts, "since they were written, once they are over", "texts to growers"},
		{"seasons_days", k.Seasons, "since the plot was closed",
			"closed plots with passes, sightings, trials and texts about them"},
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

// Retention periods, in seconds.
const (
	// CallbackRetention is how long a repeat of a callback gets the stored reply. Networks repeat
	// within minutes, a queue after an outage within days (from memory).
	CallbackRetention = 7 * 24 * 60 * 60
	// PromptRetention is how long an expired prompt is remembered: as long as an older dialogue by text
	// may live, so that a late digit is not taken as an answer to that dialogue.
	PromptRetention = 7 * 24 * 60 * 60
	// LooseTextRetention is how long an ended text to a phone without records is stored: nobody
	// consented to more.
	LooseTextRetention = 7 * 24 * 60 * 60
	// TextRetention is how long an ended text to a grower is stored: a year and the start of a season.
	TextRetention = 400 * 24 * 60 * 60
)
