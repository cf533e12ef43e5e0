package engine

import (
	"math"
	"slices"
)

// ShoulderHeightCM returns the shoulder height of a standing person: 0.818 of the stature (Drillis & Contini 1966, as
// quoted by Winter; measured on few people of one country).
func ShoulderHeightCM(statureCM float64) float64 { return ShoulderToStature * statureCM }

// ElbowHeightCM returns the elbow height of a standing person: 0.630 of the
// stature, from the same source as ShoulderHeightCM.
func ElbowHeightCM(statureCM float64) float64 { return ElbowToStature * statureCM }

// HandleHeightCM returns the range of heights above the ground at which the handle of a weeder suits a person of the
// given stature: 0.7 to 0.8 of shoulder height (Gite & Yadav 1990, for a dryland push-pull weeder; no source was
// found for a wetland weeder).
func HandleHeightCM(statureCM float64) (from, to float64) {
	shoulder := ShoulderHeightCM(statureCM)
	return HandleLowToShoulder * shoulder, HandleHighToShoulder * shoulder
}

// Handle is the height of a handle above the ground. A fixed handle may have any
// height from FromCM to ToCM; an adjustable one must cover the whole range.
type Handle struct {
	FromCM, ToCM float64
	Adjustable   bool
}

// HandleFor returns the handle for people who share one tool. If some height suits all of them, it is fixed;
// otherwise it is adjustable from the middle of the range of the shortest person to the middle of the range of the
// tallest. Without statures it uses UsualWomanCM and UsualManCM.
func HandleFor(staturesCM []float64) Handle {
	if len(staturesCM) == 0 {
		return handleBetween(UsualWomanCM, UsualManCM)
	}
	return handleBetween(slices.Min(staturesCM), slices.Max(staturesCM))
}

// handleBetween returns the handle for people of the given statures in cm.
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

// labourKJMin holds the mean metabolic rates of men and women at each kind of weeding, in kJ a minute.
var labourKJMin = map[Labour]struct{ men, women float64 }{
	PushingRotary: {RotaryMenKJMin, RotaryWomenKJMin},
	PushingCone:   {ConeMenKJMin, ConeWomenKJMin},
	PullingByHand: {HandMenKJMin, HandWomenKJMin},
}

// MenW returns the mean metabolic rate of men at this work in watts, as measured in Kerala (Remesan et al.); 0 for
// work that was not measured. Such figures have an error of up to 30 %.
func (l Labour) MenW() float64 { return labourKJMin[l].men * KJMinW }

// WomenW returns the mean metabolic rate of women at this work in watts; see MenW.
func (l Labour) WomenW() float64 { return labourKJMin[l].women * KJMinW }

// HeatLimitC returns the highest wet bulb globe temperature in °C, as the mean of an hour, at which a healthy person
// in light clothes may work at a metabolic rate of m watts, m > 0 (NIOSH 2016-106, section 8.1):
//
//	acclimatized (used to the heat): REL = 56.7 - 11.5 log10 m
//	not acclimatized:                RAL = 59.9 - 14.1 log10 m
//
// The temperature must be measured with an instrument, so this is for staff and not for texts to growers.
func HeatLimitC(m float64, used bool) float64 {
	if used {
		return RELTopC - RELSlope*math.Log10(m)
	}
	return RALTopC - RALSlope*math.Log10(m)
}

// HeatShare returns the share of an hour, 0 to 1, for which an acclimatized person may work at m watts at the given
// wet bulb globe temperature and rest for the remaining time. M, the mean rate allowed at that temperature, is the
// inverse of HeatLimitC:
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
