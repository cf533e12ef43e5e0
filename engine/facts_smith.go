package engine

// Constants for the human body (stature, handle height, effort, heat) and for tools that a smith can make.
const (
	ShoulderToStature, ElbowToStature         = 0.818, 0.630
	HandleLowToShoulder, HandleHighToShoulder = 0.7, 0.8
	UsualWomanCM, UsualManCM                  = 151.2, 164.6
	MinStatureCM, MaxStatureCM                = 120, 220

	NarrowestMadeCM = 10
	WidestPushedCM  = 30.0

	RotaryMenKJMin, RotaryWomenKJMin = 26.5, 18.0
	ConeMenKJMin, ConeWomenKJMin     = 24.0, 15.0
	HandMenKJMin, HandWomenKJMin     = 16.0, 9.5
	KJMinW                           = 1000.0 / 60

	RELTopC, RELSlope = 56.7, 11.5
	RALTopC, RALSlope = 59.9, 14.1
	RestW             = 115.0
)

// smithFacts returns the facts of the constants in this file.
func smithFacts() []Use {
	const (
		drillis = "Drillis & Contini 1966, as quoted by Winter, Biomechanics of Human Movement"
		gite    = "Gite & Yadav 1990, Ergonomics 33(12), doi 10.1080/00140139008925348: dryland push-pull weeder, " +
			"0.6 too low, 0.9 very hard"
		ciae    = "604 men and 316 women of central India, https://core.ac.uk/works/145361188"
		remesan = "Remesan et al., Wet land paddy weeding: a comprehensive comparative study from South India, " +
			"https://research-information.bris.ac.uk/en/publications/" +
			"wet-land-paddy-weeding-a-comprehensive-comparative-study-from-sou"
		niosh = "NIOSH 2016-106, Criteria for a recommended standard: occupational exposure to heat, section 8.1, " +
			"https://www.cdc.gov/niosh/docs/2016-106/"
	)
	handle := []Fact{
		{"ShoulderToStature", ShoulderToStature, "1", "shoulder height, to stature", drillis, AsQuoted},
		{"ElbowToStature", ElbowToStature, "1", "elbow height, to stature", drillis, AsQuoted},
		{"HandleLowToShoulder", HandleLowToShoulder, "1", "lowest handle that suits, to shoulder height", gite, Read},
		{"HandleHighToShoulder", HandleHighToShoulder, "1", "highest handle that suits, to shoulder height", gite,
			Read},
		{"UsualWomanCM", UsualWomanCM, "cm", "mean stature of women, if not told", ciae, Read},
		{"UsualManCM", UsualManCM, "cm", "mean stature of men, if not told", ciae, Read},
	}
	limits := []Fact{
		{"MinStatureCM", MinStatureCM, "cm", "shortest person accepted", slip, Judgement},
		{"MaxStatureCM", MaxStatureCM, "cm", "tallest person accepted", slip, Judgement},
	}
	width := []Fact{
		{"NarrowestMadeCM", NarrowestMadeCM, "cm", "narrowest tool worth making",
			"chosen here: a third less than the usual 15 cm; narrower drums clog and leave half of the row", Judgement},
		{"WidestPushedCM", WidestPushedCM, "cm", "widest tool that a person can push",
			"chosen here: twice the usual 15 cm, as the push grows with the width", Judgement},
	}
	effort := []Fact{
		{"RotaryMenKJMin", RotaryMenKJMin, "kJ/min", "energy that men spend with a rotary weeder", remesan, Read},
		{"RotaryWomenKJMin", RotaryWomenKJMin, "kJ/min", "energy that women spend with a rotary weeder", remesan, Read},
		{"ConeMenKJMin", ConeMenKJMin, "kJ/min", "energy that men spend with a cone weeder", remesan, Read},
		{"ConeWomenKJMin", ConeWomenKJMin, "kJ/min", "energy that women spend with a cone weeder", remesan, Read},
		{"HandMenKJMin", HandMenKJMin, "kJ/min", "energy that men spend weeding by hand", remesan, Read},
		{"HandWomenKJMin", HandWomenKJMin, "kJ/min", "energy that women spend weeding by hand", remesan, Read},
		{"KJMinW", KJMinW, "W min/kJ", "watts in a kilojoule a minute", "1000 J in 60 s", Computed},
		{"RELTopC", RELTopC, "°C", "heat limit for people used to it, at 1 W", niosh, AsQuoted},
		{"RELSlope", RELSlope, "°C", "fall of that limit for ten times the effort", niosh, AsQuoted},
		{"RALTopC", RALTopC, "°C", "heat limit for people not used to it, at 1 W", niosh, AsQuoted},
		{"RALSlope", RALSlope, "°C", "fall of that limit for ten times the effort", niosh, AsQuoted},
		{"RestW", RestW, "W", "metabolic rate of a person sitting at rest", "recalled from textbooks: 115 W",
			FromMemory},
	}
	return []Use{
		{"height of the handle", handle},
		{"which entries are accepted", limits},
		{"width of a tool to make", width},
		{"rest in heat", effort},
	}
}
