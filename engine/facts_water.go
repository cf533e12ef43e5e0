package engine

// Water: what the air takes, what the ground lets through, what a pass needs.
const (
	KcInitial    = 1.05
	KcMiddle     = 1.20
	KcEnd        = 0.90
	LossHeavyMM  = 3.0
	LossMediumMM = 6.0
	LossLightMM  = 8.0
)

func waterFacts() []Fact {
	const fao56 = "Allen et al. 1998, FAO Irrigation and Drainage Paper 56, Table 12: rice 1.05 / 1.20 / 0.90-0.60"
	return []Fact{
		{"KcInitial", KcInitial, "1", "crop coefficient of rice from planting", fao56, AsQuoted},
		{"KcMiddle", KcMiddle, "1", "crop coefficient of rice once it covers the ground", fao56, AsQuoted},
		{"KcEnd", KcEnd, "1", "crop coefficient of ripe rice, still ponded", fao56, AsQuoted},
		{"LossHeavyMM", LossHeavyMM, "mm/d", "seepage and percolation of puddled heavy soil", "Department of Agriculture, Sri Lanka: poorly drained 3, https://doa.gov.lk/rrdi_watermanagement_seepageloss/", Read},
		{"LossMediumMM", LossMediumMM, "mm/d", "seepage and percolation of puddled medium soil", "Department of Agriculture, Sri Lanka: well drained 6, https://doa.gov.lk/rrdi_watermanagement_seepageloss/", Read},
		{"LossLightMM", LossLightMM, "mm/d", "seepage and percolation of puddled light soil", "recalled from Brouwer & Heibloem 1986, FAO Irrigation Water Management Training Manual 3: 8 for sand", FromMemory},
	}
}
