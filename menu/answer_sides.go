package menu

import "rowbell/engine"

var sideLimits = limits{1, engine.MaxSideM}

// parseSides reads the two sides of a field and returns them in m, in the
// order typed: 20*30, 20 by 30, 20 m x 30 m. Bare numbers are in u.SideM, m
// always means metres.
//
//	refuse.sides       read from to  not two sides, or one, in m, outside the limits
//	refuse.area-range  area from to  in m2, outside the limits
func parseSides(s string, u areaUnits) (a, b float64, r *Refusal) {
	read, ok := readArea(inUnits(s), u)
	if !ok || !sideLimits.hold(read.A) || !sideLimits.hold(read.B) {
		return 0, 0, refuse("refuse.sides", s, sideLimits.args())
	}
	if !areaLimits.hold(read.M2) {
		args := areaLimits.args()
		args["area"] = number(read.M2)
		return 0, 0, refuse("refuse.area-range", s, args)
	}
	return read.A, read.B, nil
}
