package store

import "fmt"

// Retention is for how many days each kind of data is stored. The operator sets these numbers in the section
// [keep] of the configuration.
type Retention struct {
	Callbacks  int // replies to callbacks, which are sent again if a callback is repeated
	LooseTexts int // ended texts to phones without records
	Texts      int // ended texts to growers
	Seasons    int // closed plots with their passes and sightings; 0 means for ever
	Growers    int // growers who were not heard of, with all their records; 0 means for ever
}

const secondsADay = 24 * 60 * 60

// DefaultRetention returns the numbers that are used if the operator sets none.
func DefaultRetention() Retention {
	return Retention{
		Callbacks:  CallbackRetention / secondsADay,
		LooseTexts: LooseTextRetention / secondsADay, Texts: TextRetention / secondsADay,
		// Two days more than learnDays, the largest age of the plots from which a place learns, because the calendar
		// day at a place and in UTC may differ. The working speed of a grower does not need older seasons.
		Seasons: learnDays + 2,
		// Two years (an estimate): a grower who skips one season still has the records. A number that was silent for
		// two years most likely belongs to somebody else.
		Growers: 730,
	}
}

// bounds returns the smallest and largest number of days that may be set for each kind of data. Texts to growers are
// stored for at least 14 days, because a receipt may come days after its text. Seasons and growers are stored for at
// least 366 days, because a season with its harvest takes most of a year.
func (k Retention) bounds() []retentionBound {
	return []retentionBound{
		// At most CallbackRetention, because StoredReply ignores older replies.
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
	forEver     bool // 0 is allowed, and means for ever
}

// RetentionError is a number of days that is out of bounds.
type RetentionError struct {
	Name string // name of the number in the configuration
	What string // the mistake, with the bounds
}

func (e RetentionError) Error() string { return e.Name + ": " + e.What }

// Validate returns an error for each number that is out of bounds.
func (k Retention) Validate() (wrong []RetentionError) {
	for _, b := range k.bounds() {
		switch {
		case b.forEver && b.days == 0:
		case b.days < b.least || b.days > b.most:
			or := ""
			if b.forEver {
				or = ", or 0 for ever"
			}
			wrong = append(wrong, RetentionError{b.name,
				fmt.Sprintf("%d is not from %d to %d days%s", b.days, b.least, b.most, or)})
		}
	}
	return wrong
}

// RetentionKind says how long one kind of data is stored.
type RetentionKind struct {
	Name string // name of the setting in [keep]; "" if the number of days is fixed
	Days int    // how many days the data is stored; 0 if only Until says it
	// Until says in words when the data is deleted. If Days is set, Until says from when the days are counted.
	Until string
	What  string
}

// Kinds returns all kinds of personal data, and how long each kind is stored.
func (k Retention) Kinds() []RetentionKind {
	list := []RetentionKind{
		{"", 0, "until they are over, see [resume]", "dialogues in progress"},
		{"", PromptRetention / secondsADay, "since they are over", "questions that one digit answers"},
		{"", ExchangeRetention / secondsADay, "since its last text",
			"how many answers a number got, and until when it gets none"},
		{"callbacks_days", k.Callbacks, "since the call", "replies to calls, for those that come twice"},
		{"loose_texts_days", k.LooseTexts, "since they were written, once they are over",
			"texts to phones without records"},
		{"texts_days", k.Texts, "since they were written, once they are over", "texts to growers"},
		{"seasons_days", k.Seasons, "since the plot was closed",
			"closed plots with passes, sightings, corrections, trials, calls and visits of staff, and texts " +
				"about them"},
		{"growers_days", k.Growers, "since they were heard of",
			"growers with name, note, all of their records and their consent"},
		{"", 0, "with the grower; the latest replaces the one before", "what a grower said goes wrong with the tool"},
		{"", askRetention, "since they were over",
			"questions in circles; those about denied payments stay with the circle"},
		{"", turnRetention, "since their day", "turns with shared tools"},
		{"", circleRetention, "since the circle ended, and until nobody in it owes anything",
			"circles with their tools, persons and entries; an erased person has no name there"},
		{"", 0, "until the account is ended; its name stays in what staff changed",
			"accounts of staff: name, role, places, phone number, hash of the password"},
		{"", 0, "until they end, at most a day", "who is logged in to the desk, with the name of the browser"},
		{"", trailRetention / secondsADay, "since then, or until the grower is erased",
			"what staff changed: who, when, from what to what"},
		{"", trailRetention / secondsADay, "since they ended",
			"letters to many: words, for whom, counts; the texts themselves are texts to growers"},
		{"", 1, "since the last one", "wrong codes, by a keyed hash of the number"},
		{"", spendRetentionDays, "since that day", "counts of texts a day to a number, by its keyed hash"},
		{"", 0, "until the number joins or says START", "that a number wants no texts, by its keyed hash"},
		{"", 0, "for ever: they name nobody", "words that growers agreed to; weather and what a place learned; " +
			"sums of the season report"},
	}
	for i := range list {
		if list[i].Name != "" && list[i].Days == 0 {
			list[i].Until = "for ever"
		}
	}
	return list
}

// Default and fixed retention periods, in seconds.
const (
	// CallbackRetention is how long the reply to a callback is stored, for repeats of the callback. Networks repeat a
	// callback within minutes, or within days after an outage (from memory, without a source).
	CallbackRetention = 7 * 24 * 60 * 60
	// PromptRetention is how long an expired prompt is stored. A digit answers the SMS dialogue or the prompt,
	// whichever was sent later. If the prompt was later but has expired, the menu must not take the digit as an answer
	// in the dialogue.
	PromptRetention = 7 * 24 * 60 * 60
	// LooseTextRetention is how long an ended text to a phone without records is stored. Its owner has given no
	// consent.
	LooseTextRetention = 7 * 24 * 60 * 60
	// TextRetention is how long an ended text to a grower is stored: a year and the first weeks of the next season.
	TextRetention = 400 * 24 * 60 * 60
)
