package engine

// Constants of whom staff call or visit.
const (
	AttentionDays  = 7
	UnansweredDays = 2
	SilentDays     = 21
	MissedSaves    = 0.5
)

// attentionFacts holds the facts of the constants in this file.
var attentionFacts = []Use{{"whom staff call or visit first", []Fact{
	{"AttentionDays", AttentionDays, "d", "days before a window on which a missing tool is worth a call, and days " +
		"for which a trouble, a look and a conversation count",
		"chosen here: a week is enough to borrow a tool or to have one mended, and about as long as a window",
		Judgement},
	{"UnansweredDays", UnansweredDays, "d", "days after a question on which a grower who did not answer is called",
		"chosen here: as NudgeAfterDays; a window has about a week", Judgement},
	{"SilentDays", SilentDays, "d", "days after which a grower who did not use the phone is called before a window",
		"chosen here: about the time from one pass to the second next", Judgement},
	{"MissedSaves", MissedSaves, "1", "share of the loss that a visit still prevents when the tool's window is missed",
		"chosen here: pulling takes several times the tool's hours (see HandHoursPerHa), so half of it is done",
		Judgement},
}}}
