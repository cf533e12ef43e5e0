package browser

import (
	"image"
	"image/color"
	"testing"
)

func TestReduce(t *testing.T) {
	m := image.NewRGBA(image.Rect(0, 0, 5, 1))
	for x, c := range []color.RGBA{{R: 9, A: 255}, {R: 9, A: 255}, {G: 9, A: 255}, {G: 9, A: 255}, {R: 8, A: 255}} {
		m.SetRGBA(x, 0, c)
	}
	got := reduce(m, 2)
	for x, want := range []color.RGBA{{R: 9, A: 255}, {R: 9, A: 255}, {G: 9, A: 255}, {G: 9, A: 255}, {R: 9, A: 255}} {
		if got.At(x, 0) != color.Color(want) {
			t.Errorf("pixel %d is %v, want %v", x, got.At(x, 0), want)
		}
	}
}
