package menu

import (
	"strconv"

	"rowbell/menu/text"
)

// Numbers as English screens show them.

func numberEN(x float64) string    { return figures(number(x)) }
func wholeEN(x float64) string     { return figures(whole(x)) }
func writtenEN(x float64) string   { return figures(written(x)) }
func estimatedEN(x float64) string { return figures(estimated(x)) }

func figures(d text.Decimal) string { return strconv.FormatFloat(d.Value, 'f', -1, 64) }
