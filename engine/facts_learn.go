package engine

// Constants of learning a place's weed rate and of comparing trials.
const (
	// Comparison of leaf counts with the weed clock.
	OneLeafTo      = 1.5
	TwoThreeTo     = 3.5
	ObservedSpread = 0.12
	RateSpread     = 0.15
	RateSteps      = 50

	// Trials that compare two ways of weeding.
	TrialHoursNoise   = 0.20
	TrialHarvestNoise = 0.15
	TrialLeftNoise    = 0.5
	TrialLeftReports  = 2
	TrialDaysApart    = 7
	TrialRowsApart    = 0.1
)

// learnFacts returns the facts of the constants in this file.
func learnFacts() []Use {
	const pair = "chosen here: one pair of plots has no replication; plots treated alike differ by this much (judged " +
		"from plot noise in field trials, from memory)"
	look := []Fact{
		{"OneLeafTo", OneLeafTo, "leaves", "most leaves that a grower who tells of one may mean",
			"chosen here: half-way to the next stage; from just up on", Judgement},
		{"TwoThreeTo", TwoThreeTo, "leaves", "most leaves that a grower who tells of two or three may mean",
			"chosen here: half-way to the next stage", Judgement},
	}
	rates := []Fact{
		{"ObservedSpread", ObservedSpread, "1",
			"standard deviation of the logarithm of a plot's weed rate as observed, around its place's",
			"chosen here: somewhat under SpeedSpread, because the plots of a place have one climate and one kind of " +
				"weeds", Judgement},
		{"RateSpread", RateSpread, "1",
			"standard deviation of the logarithm of a place's weed rate before anything is observed",
			"chosen here: two of it span about the band of grass-weed phyllochrons, 34-65 °C d around 45 (Gramig & " +
				"Stoltenberg 2007, Weed Technology)", Judgement},
		{"RateSteps", RateSteps, "1", "weed rates told apart in a whole: steps of 0.02",
			"chosen here: a step moves a first window by a third of a day", Judgement},
		{"knownRates", float64(knownRates), "rates", "rates that a place may learn",
			"computed: from MinWeedRate to MaxWeedRate in RateSteps to the whole", Computed},
	}
	trial := []Fact{
		{"TrialHoursNoise", TrialHoursNoise, "1",
			"difference in hours a hectare, as a share of the mean, that is too close to tell", pair, Judgement},
		{"TrialHarvestNoise", TrialHarvestNoise, "1",
			"difference in harvest a hectare, as a share of the mean, that is too close to tell", pair, Judgement},
		{"TrialLeftNoise", TrialLeftNoise, "1",
			"difference in weeds left, on few 1, some 2, many 3, that is too close to tell",
			"chosen here: half of the step between two answers", Judgement},
		{"TrialLeftReports", TrialLeftReports, "reports", "reports of weeds left that each half needs",
			"chosen here: of one report each, a single glance decides", Judgement},
		{"TrialDaysApart", TrialDaysApart, "d", "days between plantings beyond which two plots are no trial",
			"chosen here: a week of other weather shows in weeds and harvest", Judgement},
		{"TrialRowsApart", TrialRowsApart, "1", "share by which spacings may differ in a trial",
			"chosen here: as SquareTolerance, what a marked line errs by", Judgement},
	}
	return []Use{
		{"what a leaf count says", look},
		{"what a place learns of its weeds", rates},
		{"which half of a trial did better", trial},
	}
}
