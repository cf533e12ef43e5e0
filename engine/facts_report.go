package engine

// Constants of the season report: published hours of weeding, to be shown beside those that growers logged.
const (
	ConeSlowHaH, ConeFastHaH   = 0.0094, 0.0133
	SahelSlowHaH, SahelFastHaH = 0.014, 0.024
	IRRIDaysLow, IRRIDaysHigh  = 6.0, 8.0
	IRRIDayHours               = 8.0
)

const (
	shirsat = "Shirsat et al. 2016, Agriculture Update 11(2):154-157, " +
		"https://paperzz.com/doc/7728643/cono-weeder--an-economic-hand-tool-for-women"
	zongo = "Zongo et al., Asian J. Sci. Tech., http://journalajst.com/" +
		"technical-evaluation-manual-weeders-irrigated-rice-cultivation-burkina-faso-case-rotary-and-cono"
	handSriLanka = "comparison of cultivators in Sri Lanka, " +
		"https://discovery.researcher.life/topic/highest-field-capacity/6752918?page=2"
)

var reportFacts = []Use{{"published hours in the season report", []Fact{
	{"ConeSlowHaH", ConeSlowHaH, "ha/h", "field capacity of the slowest of three cone weeders", shirsat, Read},
	{"ConeFastHaH", ConeFastHaH, "ha/h", "field capacity of the fastest of three cone weeders", shirsat, Read},
	{"SahelSlowHaH", SahelSlowHaH, "ha/h", "lowest field capacity of rotary and cone weeders", zongo, Read},
	{"SahelFastHaH", SahelFastHaH, "ha/h", "highest field capacity of rotary and cone weeders", zongo, Read},
	{"IRRIDaysLow", IRRIDaysLow, "person-days/ha", "fewest days of weeding once with the tool", irriMechanical, Read},
	{"IRRIDaysHigh", IRRIDaysHigh, "person-days/ha", "most days of weeding once with the tool", irriMechanical, Read},
	{"IRRIDayHours", IRRIDayHours, "h", "hours of a person-day in IRRIDaysLow and IRRIDaysHigh",
		"chosen here: the source gives days; a usual working day", Judgement},
}}}
