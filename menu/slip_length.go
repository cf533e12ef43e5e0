package menu

import (
	"maps"

	"rowbell/engine"
	"rowbell/menu/text"
)

// What growers plant and push, in cm (common practice, no source): the rest is
// asked back.
var (
	usualRows  = limits{15, 40}
	usualHills = limits{10, 40}
	usualTools = limits{8, 30}
)

// usualSpacing is what is usual for a spacing.
func usualSpacing(f Field) limits {
	if f == fHill {
		return usualHills
	}
	return usualRows
}

// leastRoomCM is what a tool that is meant for the rows leaves free on each
// side, if not enough (judgement): with less, one of the numbers is wrong.
const leastRoomCM = 1

// doubtRow asks back rows that hardly anybody plants: 52 may be 25 with its
// digits swapped, and 250 was taken for 25.
func doubtRow(c *scene, entry string) (slip, map[Field]string) {
	_, guessed, _ := likelyCM(entry, spacingLimits, usualRows)
	return doubtCM(c, fRow, slipRow, guessed)
}

// doubtTenGaps does the same with a length over ten gaps.
func doubtTenGaps(c *scene, entry string) (slip, map[Field]string) {
	_, guessed, _ := likelyGaps(entry, 10, spacingLimits, usualRows)
	return doubtCM(c, fRow, slipRow, guessed)
}

// doubtHill does the same from plant to plant.
func doubtHill(c *scene, entry string) (slip, map[Field]string) {
	_, guessed, _ := likelyCM(entry, spacingLimits, usualHills)
	return doubtCM(c, fHill, slipHill, guessed)
}

func doubtCM(c *scene, f Field, about slip, guessed bool) (slip, map[Field]string) {
	cm := c.s.float(f)
	switch {
	case guessed:
		return readAs(about), nil
	case usualSpacing(f).hold(cm):
		return "", nil
	}
	return about, swappedIn(f, cm, usualSpacing(f))
}

// swappedIn is the answer with its digits the other way round, if that is
// usual.
func swappedIn(f Field, cm float64, usual limits) map[Field]string {
	if s := swapped(cm); usual.hold(s) {
		return f.with(s)
	}
	return nil
}

// swapped is a number of two digits with its digits the other way round, else 0.
func swapped(x float64) float64 {
	n := int(x)
	if float64(n) != x || n < 10 || n > 99 || n%10 == 0 {
		return 0
	}
	return float64(n%10*10 + n/10)
}

// doubtRows looks at the narrowest and the widest of several rows.
func doubtRows(c *scene, _ string) (slip, map[Field]string) {
	from, to := c.s.float(fRow), c.s.float(fRowMax)
	if usualRows.hold(from) && usualRows.hold(to) {
		return "", nil
	}
	a, b := unswapped(from, usualRows), unswapped(to, usualRows)
	if !usualRows.hold(a) || !usualRows.hold(b) {
		return slipRows, nil
	}
	mend := fRow.with(min(a, b))
	maps.Copy(mend, fRowMax.with(max(a, b)))
	return slipRows, mend
}

// unswapped turns the digits of what is not usual.
func unswapped(x float64, usual limits) float64 {
	if usual.hold(x) {
		return x
	}
	return swapped(x)
}

// doubtTool asks back a tool that cannot go between the rows, with both
// numbers, and one that hardly anybody has.
func doubtTool(c *scene, entry string) (slip, map[Field]string) {
	tool, row := c.s.float(fTool), c.row()
	if guessedTool(entry) || row == 0 || row-tool >= 2*leastRoomCM {
		return doubtWidth(c, entry)
	}
	if s := swapped(tool); !adjustable(c) && usualTools.hold(s) && row-s >= 2*engine.SideClearanceCM {
		return slipFit, fTool.with(s)
	}
	return slipFit, nil
}

// doubtWidth looks at the tool alone.
func doubtWidth(c *scene, entry string) (slip, map[Field]string) {
	from, to := widths(c.draftTool())
	switch {
	case guessedTool(entry):
		return slipTool, nil
	case usualTools.hold(from) && usualTools.hold(to):
		return "", nil
	case adjustable(c):
		return slipTool, nil
	}
	return slipTool, swappedIn(fTool, from, usualTools)
}

// doubtRowForTool does so where the rows were taken to suit the tool.
func doubtRowForTool(c *scene, entry string) (slip, map[Field]string) {
	about, mend := doubtWidth(c, entry)
	if mend == nil {
		return about, nil
	}
	_, row, _, ok := engine.SpacingFor(engine.Tool{WidthCM: fTool.in(mend)})
	if !ok {
		return about, nil
	}
	maps.Copy(mend, fRow.with(row))
	return about, mend
}

func adjustable(c *scene) bool { return c.s.float(fToolMax) > 0 }

// guessedTool reports that a width was taken for a tenth or ten times of what
// was typed.
func guessedTool(entry string) bool {
	if _, _, guessed, refused := likelyWidths(entry, toolLimits, usualTools); refused == nil {
		return guessed
	}
	_, guessed, _ := likelyCM(entry, toolLimits, usualTools)
	return guessed
}

// sayFit says a tool and the rows it is for.
func sayFit(c *scene, a map[Field]string) string {
	row := fRow.in(a)
	if row == 0 {
		row = c.row()
	}
	return c.t("doubt.pair", text.Args{"tool": c.fromTo(fTool.in(a), max(fTool.in(a), fToolMax.in(a))), "row": number(row)})
}
