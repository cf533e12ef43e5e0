package engine

import (
	"math"
	"slices"
)

// ShoulderHeightCM returns the shoulder height of a standing person: 0.818 of the stature, which is the body height.
// Drillis & Contini 1966 (as quoted in Winter, Biomechanics of Human Movement) measured few people of one country.
func ShoulderHeightCM(statureCM float64) float64 { return ShoulderToStature * statureCM }

// ElbowHeightCM returns the elbow height of a standing person: 0.630 of the stature (Drillis & Contini 1966, as quoted
// by Winter).
func ElbowHeightCM(statureCM float64) float64 { return ElbowToStature * statureCM }

// HandleHeightCM returns the lowest and the highest handle, above the ground, that suit a person: 0.7 and 0.8 of the
// shoulder height. Gite & Yadav 1990 measured this with a push-pull weeder for dry land; no source was found for wet
// land.
func HandleHeightCM(statureCM float64) (from, to float64) {
	shoulder := ShoulderHeightCM(statureCM)
	return HandleLowToShoulder * shoulder, HandleHighToShoulder * shoulder
}

// Handle is the height above the ground of a tool's handle. A fixed handle may have any one height from FromCM to ToCM;
// an adjustable handle can be set to every height in this range.
type Handle struct {
	FromCM, ToCM float64
	Adjustable   bool
}

// HandleFor returns the handle for people of these statures who share a tool: fixed, if one height suits all. Otherwise
// it is adjustable from the middle of the shortest person's range to the middle of the tallest person's range (see
// HandleHeightCM). If no statures are given, it uses UsualWomanCM and UsualManCM.
func HandleFor(staturesCM []float64) Handle {
	if len(staturesCM) == 0 {
		return handleBetween(UsualWomanCM, UsualManCM)
	}
	return handleBetween(slices.Min(staturesCM), slices.Max(staturesCM))
}

// handleBetween returns the handle for people of statures from shortest to tallest, in cm.
func handleBetween(shortest, tallest float64) Handle {
	low, top := HandleHeightCM(shortest)
	bottom, high := HandleHeightCM(tallest)
	if bottom <= top {
		return Handle{FromCM: bottom, ToCM: top}
	}
	return Handle{FromCM: (low + top) / 2, ToCM: (bottom + high) / 2, Adjustable: true}
}

// Labour is a kind of weeding whose effort was measured.
type Labour uint8

const (
	PushingRotary Labour = iota + 1
	PushingCone
	PullingByHand
)

func (l Labour) String() string { return name(l, "", "rotary weeder", "cone weeder", "by hand") }

// labourKJMin has the mean metabolic rates of men and women, in kJ a minute.
var labourKJMin = map[Labour]struct{ men, women float64 }{
	PushingRotary: {RotaryMenKJMin, RotaryWomenKJMin},
	PushingCone:   {ConeMenKJMin, ConeWomenKJMin},
	PullingByHand: {HandMenKJMin, HandWomenKJMin},
}

// MenW returns the mean metabolic rate of men at this work in watts, as Remesan et al. measured it in Kerala; 0 for an
// unknown Labour. Metabolic rates may be wrong by up to 30 % (NIOSH 2016-106).
func (l Labour) MenW() float64 { return labourKJMin[l].men * KJMinW }

// WomenW returns the mean metabolic rate of women at this work in watts, from the source that MenW names.
func (l Labour) WomenW() float64 { return labourKJMin[l].women * KJMinW }

// HeatLimitC returns the highest wet bulb globe temperature in °C, as the mean of an hour, at which a healthy person
// in light clothes may work at a metabolic rate of m watts, m > 0. used says whether the person is used to the heat
// (NIOSH 2016-106, section 8.1):
//
//	acclimatized (used to the heat): REL = 56.7 - 11.5 log10 m
//	not acclimatized:                RAL = 59.9 - 14.1 log10 m
//
// Growers have no instrument for this temperature, so no text to growers uses HeatLimitC.
func HeatLimitC(m float64, used bool) float64 {
	if used {
		return RELTopC - RELSlope*math.Log10(m)
	}
	return RALTopC - RALSlope*math.Log10(m)
}

// HeatShare returns the share of an hour, 0 to 1, for which an acclimatized person may work at m watts at this wet bulb
// globe temperature, and rests for the remaining time. M is the mean metabolic rate in watts that HeatLimitC allows at
// that temperature, and RestW is the rate at rest:
//
//	share = (M - RestW) / (m - RestW)
func HeatShare(wbgtC, m float64) float64 {
	allowed := math.Pow(10, (RELTopC-wbgtC)/RELSlope)
	switch {
	case allowed >= m:
		return 1
	case allowed <= RestW:
		return 0
	}
	return (allowed - RestW) / (m - RestW)
}
