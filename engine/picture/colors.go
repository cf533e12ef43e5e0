package picture

// palette has the colours of the picture; season.svg.tmpl uses them, too. Colours that touch in the picture differ in
// lightness, so that they can be told apart on a grey print.
type palette struct {
	Ink, SoftInk, Border, Paper    string
	Window, NextWindow, BestDay    string
	Chance                         string
	Weeds, ToolSize, ToolSizeLines string
	Crop, Shade                    string
	Water, Pond, PondWaves         string
	AfterWork, AfterWorkDots       string
}

var colors = palette{
	Ink: "#1c2721", SoftInk: "#4c574e", Border: "#c9c2ae", Paper: "#ffffff",
	Window: "#1f6170", NextWindow: "#e3eff0", BestDay: "#f2ca5c", Chance: "#b4d0d4",
	Weeds: "#9c3b27", ToolSize: "#fbf0d0", ToolSizeLines: "#e3c77a",
	Crop: "#3d6f2a", Shade: "#cfe0b8",
	Water: "#2b5d94", Pond: "#dcebf7", PondWaves: "#8fb4d6",
	AfterWork: "#f1efe9", AfterWorkDots: "#b5ae9b",
}

// Hatched fills, which season.svg.tmpl defines. Their ids begin with "season-", because the picture may be part of a
// page whose other elements have ids.
const (
	fillNextWindow  = "url(#season-next)"
	fillLaterWindow = "url(#season-later)"
	fillAfterWork   = "url(#season-after)" // days after the last day for the tool
	fillToolSize    = "url(#season-size)"  // weeds that have two to four leaves
	fillWater       = "url(#season-water)"
	fillWeeds       = "url(#season-weeds)" // the band of uncertainty of the weeds
	fillOut         = "url(#season-out)"   // days on which a shared tool is out of use
)
