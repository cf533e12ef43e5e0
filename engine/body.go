package engine

import "math"

// ShoulderHeightCM and ElbowHeightCM are a standing person's, from stature:
// 0.818 and 0.630 of it (Drillis & Contini 1966 as quoted by Winter; the
// people measured were few and of one country).
func ShoulderHeightCM(statureCM float64) float64 { return ShoulderToStature * statureCM }

// ElbowHeightCM is described at ShoulderHeightCM.
func ElbowHeightCM(statureCM float64) float64 { return ElbowToStature * statureCM }

// HandleHeightCM is the height of a weeder's handle above the ground that
// suits a person of the given stature: 0.7 to 0.8 of shoulder height (Gite &
// Yadav 1990, of a dryland push-pull weeder; nothing was found for a wet one).
func HandleHeightCM(statureCM float64) (from, to float64) {
	shoulder := ShoulderHeightCM(statureCM)
	return HandleLowToShoulder * shoulder, HandleHighToShoulder * shoulder
}

// Handle is the height of a handle above the ground. A fixed one may be
// anywhere from FromCM to ToCM; an adjustable one must move from FromCM to
// ToCM.
type Handle struct {
	FromCM, ToCM float64
	Adjustable   bool
}

// HandleFor is the handle for the people who will push one tool: any height
// that suits all of them, or, if none does, one that moves from the middle of
// the shortest one's range to the middle of the tallest one's. Where no
// stature is told it suits the usual woman and the usual man.
func HandleFor(staturesCM []float64) Handle {
	if len(staturesCM) == 0 {
		return handleBetween(UsualWomanCM, UsualManCM)
	}
	shortest, tallest := staturesCM[0], staturesCM[0]
	for _, s := range staturesCM {
		shortest, tallest = min(shortest, s), max(tallest, s)
	}
	return handleBetween(shortest, tallest)
}

func handleBetween(shortest, tallest float64) Handle {
	low, top := HandleHeightCM(shortest)
	bottom, high := HandleHeightCM(tallest)
	if bottom <= top {
		return Handle{FromCM: bottom, ToCM: top}
	}
	return Handle{FromCM: (low + top) / 2, ToCM: (bottom + high) / 2, Adjustable: true}
}

// Labour is weeding as the body feels it.
type Labour uint8

const (
	PushingRotary Labour = iota + 1
	PushingCone
	PullingByHand
)

func (l Labour) String() string { return name(l, "", "rotary weeder", "cone weeder", "by hand") }

// MenW and WomenW are the mean metabolic rates of the men and women measured
// at it in Kerala (Remesan et al.), in watts; 0 for work not measured. Such
// figures err by up to 30 %.
func (l Labour) MenW() float64 {
	switch l {
	case PushingRotary:
		return RotaryMenKJMin * KJMinW
	case PushingCone:
		return ConeMenKJMin * KJMinW
	case PullingByHand:
		return HandMenKJMin * KJMinW
	}
	return 0
}

// WomenW is described at MenW.
func (l Labour) WomenW() float64 {
	switch l {
	case PushingRotary:
		return RotaryWomenKJMin * KJMinW
	case PushingCone:
		return ConeWomenKJMin * KJMinW
	case PullingByHand:
		return HandWomenKJMin * KJMinW
	}
	return 0
}

// HeatLimitC is the wet bulb globe temperature, averaged over an hour, up to
// which a healthy person in light clothes may work at a metabolic rate of m
// watts (NIOSH 2016-106, section 8.1, M in W):
//
//	used to the heat: REL = 56.7 - 11.5 log10 M
//	not used to it:   RAL = 59.9 - 14.1 log10 M
//
// It takes an instrument to know that temperature: for staff, not for a text
// to a grower. m must be above 0.
func HeatLimitC(m float64, used bool) float64 {
	if used {
		return RELTopC - RELSlope*math.Log10(m)
	}
	return RALTopC - RALSlope*math.Log10(m)
}

// HeatShare is the part of an hour, 0..1, that a person used to the heat may
// work at m watts at the given wet bulb globe temperature, resting in
// between, so that the hour's mean stays at the limit: the rate M allowed at
// that temperature is HeatLimitC turned round, and
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
