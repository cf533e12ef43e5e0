package practice

import (
	"bytes"
	"cmp"
	"flag"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// With the flag update, this test writes the screenshot for the README again:
//
//	go test ./cmd/rowbell/practice -run TestPracticeOnEveryScreen -update
var update = flag.Bool("update", false, "write gateway/handset/practice.png anew")

const maxScreenshotBytes = 150_000 // a larger image would make the README slow to load

// With the flag update, saveScreenshot reads the image that b.shot(name) wrote and saves it as
// gateway/handset/practice.png, with its 256 most frequent colours only. This makes the file three times smaller.
func (b *browser) saveScreenshot(name string) {
	b.t.Helper()
	if !*update {
		return
	}
	file, err := os.ReadFile(filepath.Join(b.shots, name+".png"))
	ok(b.t, err)
	full, err := png.Decode(bytes.NewReader(file))
	ok(b.t, err)
	var small bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestCompression}
	if err := encoder.Encode(&small, reduce(full, 256)); err != nil || small.Len() > maxScreenshotBytes {
		b.t.Fatalf("%d bytes, %v", small.Len(), err)
	}
	ok(b.t, os.WriteFile("../../../gateway/handset/practice.png", small.Bytes(), 0o644))
}

// reduce redraws an image with its n most frequent colours.
func reduce(m image.Image, n int) image.Image {
	pixels := m.Bounds()
	counts := map[color.RGBA]int{}
	at := func(x, y int) color.RGBA { return color.RGBAModel.Convert(m.At(x, y)).(color.RGBA) }
	for y := pixels.Min.Y; y < pixels.Max.Y; y++ {
		for x := pixels.Min.X; x < pixels.Max.X; x++ {
			counts[at(x, y)]++
		}
	}
	var all []color.RGBA
	for c := range counts {
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b color.RGBA) int {
		return cmp.Or(counts[b]-counts[a], cmp.Compare(a.R, b.R), cmp.Compare(a.G, b.G), cmp.Compare(a.B, b.B))
	})
	var palette color.Palette
	for _, c := range all[:min(n, len(all))] {
		palette = append(palette, c)
	}
	out := image.NewPaletted(pixels, palette)
	draw.Draw(out, pixels, m, pixels.Min, draw.Src)
	return out
}

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
