package engine

import "slices"

// Trust says where a number comes from.
type Trust uint8

const (
	Read           Trust = iota + 1 // read in the publication itself, in its abstract or in an excerpt
	AsQuoted                        // a published number, read in another text that quotes it
	FromMemory                      // from memory, not checked
	Computed                        // arithmetic from a stated formula
	CommonPractice                  // common practice in the field, no published source
	Judgement                       // chosen by the authors of rowbell, for the reason given
)

func (t Trust) String() string {
	return name(t, "", "read", "as quoted", "from memory", "computed", "common practice", "judgement")
}

// MarshalText returns String, for JSON.
func (t Trust) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// Fact describes one constant of the engine. The source is a publication (author, year, title, page or address) or the
// reason for the chosen value.
type Fact struct {
	Name    string // the constant's name in Go
	Value   float64
	Unit    string // "1" for a plain number
	Meaning string
	Source  string
	Trust   Trust
}

// Publications that are the source of several constants.
const (
	irriMechanical = "IRRI Rice Knowledge Bank, Mechanical weed control, " +
		"http://knowledgebank.irri.org/step-by-step-production/growth/weed-management/mechanical-weed-control"
	irriManual = "IRRI Rice Knowledge Bank, fact sheet Manual weed control, " +
		"http://knowledgebank.irri.org/training/fact-sheets/pest-management/weeds/manual-weed-control"
	emergence2021 = "Šoštarčić, Masin, Loddo et al. 2021, Predicting the Emergence of Echinochloa crus-galli in " +
		"Maize Crop in Croatia with Hydrothermal Model, Agronomy 11:2072, https://www.mdpi.com/2073-4395/11/10/2072"
	tnrri = "TNRRI, Weed management in modified SRI, " +
		"http://rkmp.co.in/content/weed-management-in-rajarajan-1000-rice-cultivation"
	bbch = "Lancashire et al. 1991, A uniform decimal code for growth stages of crops and weeds, Ann. " +
		"Appl. Biol. 119:561-601 (read in a copy of the rice scale of Meier 2001)"
	oryzaFiles  = "ORYZA2000 (Bouman et al. 2001), parameter files in cropmodels/Roryza, inst/oryza/crop: "
	closingDays = "with the other canopy constants it closes 20x20 cm rows about day 43 and 25x25 about 46 at " +
		"27.5 °C, as is usually told (40-45 and 45-55 days, from memory)"
	slip = "chosen here: a wide limit that catches typing errors, not unusual fields"
)

// Use is advice, or another output, and the constants on which it rests.
type Use struct {
	Advice string
	Facts  []Fact
}

// Uses returns the facts of all constants of the engine by the advice that they are used for.
func Uses() []Use {
	return slices.Concat(seasonFacts, clockFacts(), waterFacts(), workFacts(), moneyFacts(), smithFacts(),
		plantingFacts(), riskFacts(), learnFacts(), aroundFacts(), attentionFacts, reportFacts,
		limitFacts)
}

// Facts returns the facts of all constants of the engine, by subject.
func Facts() []Fact {
	var all []Fact
	for _, u := range Uses() {
		all = append(all, u.Facts...)
	}
	return all
}
