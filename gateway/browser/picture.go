package browser

import (
	"bytes"
	"cmp"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"slices"

	"github.com/chromedp/chromedp"
)

const maxPictureBytes = 150_000 // a larger image would make the README slow to load

// SavePicture writes a screenshot of the whole page for the README, with its 256 most frequent colours only. This makes
// the file three times smaller.
func (w *Window) SavePicture(file string) {
	w.t.Helper()
	w.save(file, chromedp.FullScreenshot(100))
}

// SaveWindow is SavePicture of a window of this size at the top of the page.
func (w *Window) SaveWindow(file string, width, height int64) {
	w.t.Helper()
	w.Resize(width, height)
	w.save(file, chromedp.CaptureScreenshot())
}

func (w *Window) save(file string, take chromedp.Action[[]byte]) {
	w.t.Helper()
	shot, err := chromedp.Run(w.ctx, take)
	if err != nil {
		w.t.Fatal(err)
	}
	full, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		w.t.Fatal(err)
	}
	var small bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestCompression}
	if err := encoder.Encode(&small, reduce(full, 256)); err != nil || small.Len() > maxPictureBytes {
		w.t.Fatalf("%s: %d bytes, %v", file, small.Len(), err)
	}
	if err := os.WriteFile(file, small.Bytes(), 0o644); err != nil {
		w.t.Fatal(err)
	}
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
