package store

import (
	"encoding/json"
	"time"

	"rowbell/engine"
)

// PersonalData is everything stored about one person, in the form that the person receives. JSON names contain the
// unit of the value. Days are written as YYYY-MM-DD, instants in RFC 3339 in UTC. What the person did not answer is
// left out. Prices are in the currency of the place.
type PersonalData struct {
	Number    string  `json:"number,omitempty"` // not masked; "" for records without a number
	WrittenAt Instant `json:"written_at"`
	// NoTextsSince is when the grower sent STOP or erased the records; 0 if the number gets texts. The table opt_out
	// stores this with a keyed hash of the number, not with the number.
	NoTextsSince    Instant          `json:"no_texts_since,omitzero"`
	Records         *PersonRecords   `json:"records,omitempty"` // nil if there are no records
	Texts           []PersonText     `json:"texts"`
	Dialogues       []PersonDialogue `json:"dialogues"`
	Question        *PersonQuestion  `json:"question,omitempty"` // to be answered with one digit
	Exchange        *PersonExchange  `json:"exchange,omitempty"`
	RepliesKept     int64            `json:"replies_kept_for_repeats"`
	WrongCodes      int64            `json:"wrong_codes_typed,omitempty"`
	WrongCodesUntil Instant          `json:"wrong_codes_kept_until,omitzero"`
}

// PersonExchange is how the texts of the number and the answers to them went lately.
type PersonExchange struct {
	LastTextAt     Instant `json:"last_text_at"`
	NotUnderstood  int     `json:"texts_in_a_row_not_understood"`
	Answers        int     `json:"answers_within_an_hour"`
	LeftAloneUntil Instant `json:"no_answers_until,omitzero"`
}

// PersonRecords are the records of a grower.
type PersonRecords struct {
	ID            int64   `json:"id"`
	Name          string  `json:"name,omitempty"` // as staff call the grower, or a circle
	Note          string  `json:"note,omitempty"` // of staff
	Language      string  `json:"language"`
	Place         string  `json:"place"`
	CreatedAt     Instant `json:"created_at"`
	HeardOfAt     Instant `json:"last_heard_of_at"` // a use of the phone is recorded at most once in 24 hours
	StoppedAt     Instant `json:"texts_stopped_at,omitzero"`
	NoNumberSince Instant `json:"without_number_since,omitzero"`
	// NoPhoneSince is when a network reported that the number does not exist; 0 if none did.
	NoPhoneSince  Instant          `json:"number_not_reached_since,omitzero"`
	Consent       []PersonConsent  `json:"consent"`
	Household     *PersonHousehold `json:"household,omitempty"`
	Trouble       *PersonTrouble   `json:"trouble_with_the_tool,omitempty"`
	Plots         []PersonPlot     `json:"plots"` // open and closed plots
	Trials        []PersonTrial    `json:"trials"`
	Circles       []PersonCircle   `json:"circles,omitempty"`
	ByStaff       []PersonTrail    `json:"changed_by_staff,omitempty"`
	MoveCodeUntil Instant          `json:"code_for_another_phone_until,omitzero"`
}

// PersonTrail is a change that staff made to the records.
type PersonTrail struct {
	At     Instant `json:"at"`
	What   string  `json:"what"`
	Object string  `json:"object,omitempty"`
	Was    string  `json:"was,omitempty"`
	Now    string  `json:"now,omitempty"`
}

// PersonConsent is one decision of the grower about consent, language or texts.
type PersonConsent struct {
	At          Instant `json:"at"`
	What        string  `json:"what"`
	TextVersion string  `json:"text_version"`
	Text        string  `json:"text,omitempty"` // "" if an early release did not store it
	Language    string  `json:"language"`
	Channel     string  `json:"channel,omitempty"`
}

// PersonHousehold is what the grower answered about workers, hours and money.
type PersonHousehold struct {
	People       int     `json:"people,omitempty"`
	Tools        int     `json:"tools,omitempty"`
	HoursADay    float64 `json:"hours_a_day,omitempty"`
	Neighbours   int     `json:"neighbours,omitempty"`
	ToolPrice    float64 `json:"tool_price,omitempty"`
	HirePerDay   float64 `json:"hire_price_per_day,omitempty"`
	LabourPerDay float64 `json:"labour_price_per_day,omitempty"`
}

// PersonPlot is one season of a plot.
type PersonPlot struct {
	ID              int64   `json:"id"`
	No              int     `json:"no"`
	Name            string  `json:"name,omitempty"`
	RegisteredDay   string  `json:"registered_day"`
	ClosedDay       string  `json:"closed_day,omitempty"`
	Method          string  `json:"method"`
	PlantedDay      string  `json:"planted_day"`
	PuddledDay      string  `json:"puddled_day,omitempty"`
	SeedlingAgeDays int     `json:"seedling_age_days,omitempty"`
	PerHill         int     `json:"seedlings_per_hill,omitempty"`
	Deep            bool    `json:"planted_deep,omitempty"`
	RowSpacingCM    float64 `json:"row_spacing_cm,omitempty"`
	HillSpacingCM   float64 `json:"hill_spacing_cm,omitempty"`
	AreaM2          float64 `json:"area_m2,omitempty"`
	Flood           string  `json:"flood"`
	Soil            string  `json:"soil"`
	InflowLS        float64 `json:"inflow_l_per_s,omitempty"`
	DurationDays    int     `json:"duration_days,omitempty"`
	ToolWidthCM     float64 `json:"tool_width_cm,omitempty"`
	ToolMaxWidthCM  float64 `json:"tool_max_width_cm,omitempty"`
	HerbicidePrice  float64 `json:"herbicide_price,omitempty"`

	Announced *PersonWindow    `json:"window_announced,omitempty"`
	Passes    []PersonPass     `json:"passes"`
	Sightings []PersonSighting `json:"sightings"`
	Told      []PersonNotice   `json:"told"`

	Corrections []PersonCorrection `json:"corrections"`        // oldest first
	Contacts    []PersonContact    `json:"contacts,omitempty"` // oldest first
}

// PersonWindow is a weeding window that was announced to the grower.
type PersonWindow struct {
	Number    int    `json:"number"`
	Edition   int    `json:"edition"`
	OpensDay  string `json:"opens_day"`
	BestDay   string `json:"best_day"`
	ClosesDay string `json:"closes_day"`
}

// PersonPass is one weeding of a plot.
type PersonPass struct {
	Day    string  `json:"day"`
	With   string  `json:"with"`
	Way    string  `json:"way"`
	Hours  float64 `json:"hours,omitempty"`
	People int     `json:"people,omitempty"`
	Left   string  `json:"weeds_left"`
	Share  float64 `json:"share,omitempty"` // share of the plot; 0 = all of it
}

// PersonSighting is what the grower saw on a plot on one day, such as weeds or water.
type PersonSighting struct {
	Day    string `json:"day"`
	Leaves string `json:"weed_leaves"`
	Amount string `json:"weeds"`
	Rows   string `json:"rows"`
	Water  string `json:"water"`
}

// PersonNotice is a reminder of a weeding window that was sent to the grower.
type PersonNotice struct {
	Day     string `json:"day"`
	Kind    string `json:"kind"`
	Window  int    `json:"window"`
	Edition int    `json:"edition"`
}

// PersonCorrection is a change of something that was stored earlier. Was and Now are a PersonPass or a PersonSighting,
// or, of a plot, the values that changed. They are null where there was or is no record.
type PersonCorrection struct {
	At      Instant         `json:"at"`
	What    string          `json:"what"` // "pass", "sighting", "plot" or "replanted"
	Was     json.RawMessage `json:"was"`
	Now     json.RawMessage `json:"now"`
	Channel string          `json:"channel,omitempty"`
}

// PersonContact is a call or a visit of staff about a plot.
type PersonContact struct {
	At    Instant `json:"at"`
	What  string  `json:"what"` // "not reached", "reached" or "came by"
	About string  `json:"about,omitempty"`
}

// PersonTrouble is what the grower last said of the tool.
type PersonTrouble struct {
	Day  string `json:"day"`
	What string `json:"what"`
}

// PersonTrial is a comparison of two ways of weeding on two plots.
type PersonTrial struct {
	PlotA    int64   `json:"plot_a_id"`
	PlotB    int64   `json:"plot_b_id"`
	WayA     string  `json:"way_a"`
	WayB     string  `json:"way_b"`
	BegunDay string  `json:"begun_day"`
	EndedDay string  `json:"ended_day,omitempty"`
	BagsA    float64 `json:"bags_a,omitempty"`
	BagsB    float64 `json:"bags_b,omitempty"`
}

// PersonText is a text to the person, whether it was sent or not.
type PersonText struct {
	ID          int64   `json:"id"`
	Kind        string  `json:"kind"`
	Text        string  `json:"text"`
	State       State   `json:"state"`
	Reason      string  `json:"reason,omitempty"`
	Gateway     string  `json:"gateway,omitempty"` // the network to which the text was last handed
	Tries       int     `json:"tries"`
	CreatedAt   Instant `json:"created_at"`
	DueAt       Instant `json:"due_at"`
	UsefulUntil Instant `json:"useful_until"`
	AcceptedAt  Instant `json:"accepted_at,omitzero"`
	EndedAt     Instant `json:"ended_at,omitzero"`
}

// PersonDialogue is a dialogue in progress.
type PersonDialogue struct {
	Channel string  `json:"channel"`
	SavedAt Instant `json:"last_at"`
	Until   Instant `json:"kept_until"`
}

// PersonQuestion is a question that the person may answer with a text of one digit.
type PersonQuestion struct {
	AskedAt Instant `json:"asked_at"`
	Until   Instant `json:"may_be_answered_until"`
}

// Instant is a time in Unix seconds. It is written as RFC 3339 in UTC.
type Instant int64

func (i Instant) String() string { return time.Unix(int64(i), 0).UTC().Format(time.RFC3339) }

// MarshalText returns the result of String.
func (i Instant) MarshalText() ([]byte, error) { return []byte(i.String()), nil }

// UnmarshalText reads the form that MarshalText writes.
func (i *Instant) UnmarshalText(b []byte) error {
	t, err := time.Parse(time.RFC3339, string(b))
	*i = Instant(t.Unix())
	return err
}

// dayText formats a day. It returns "" if d is zero.
func dayText(d engine.Day) string {
	if d == 0 {
		return ""
	}
	return d.String()
}
