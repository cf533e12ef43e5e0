package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"rowbell/engine"
	"rowbell/engine/picture"
)

// planCmd is rowbell plan: one plot from flags, planned on a day. It needs no
// records and no service.
type planCmd struct {
	Method      string   `enum:"transplanted,row-sown,broadcast" default:"transplanted" help:"How the rice was planted: ${enum}."`
	Planted     string   `required:"" help:"Day of transplanting or sowing, YYYY-MM-DD." placeholder:"DATE"`
	Row         float64  `help:"Distance between rows, cm." placeholder:"CM"`
	Hill        float64  `help:"Distance between plants in the row, cm." placeholder:"CM"`
	Tool        string   `help:"Working width of the tool, cm: 15, or 10-15 if it can be changed." placeholder:"CM"`
	Area        string   `help:"Size of the plot: square metres, or length by width in metres as in 20x30." placeholder:"M2"`
	Flood       string   `enum:"kept,moist," default:"" help:"Water since planting: kept (about 5 cm stayed on) or moist (it did not)." placeholder:"WATER"`
	Soil        string   `enum:"heavy,medium,light," default:"" help:"How the ground holds water: heavy (clay, well), medium, light (sand, badly); without it medium." placeholder:"SOIL"`
	Inflow      float64  `help:"What the inlet brings, litres a second." placeholder:"L/S"`
	SeedlingAge int      `help:"Age of the seedlings when they were set, days." placeholder:"DAYS"`
	Seedlings   int      `help:"Seedlings a hill." placeholder:"N"`
	Duration    int      `help:"Days from seed to harvest." placeholder:"DAYS"`
	Puddled     string   `help:"Day of the last puddling or levelling, YYYY-MM-DD; without it the planting day." placeholder:"DATE"`
	Pass        []string `sep:"none" help:"A weeding that was done: DATE, then with colons what is known of tool or hand, along, across or both, few, some or many weeds left, hours of each (2.5h) and people (2p); hours count only with people." placeholder:"DATE[:tool|hand][:few|some|many][:2.5h][:2p]"`
	Saw         []string `sep:"none" help:"What was seen: DATE, then with colons the leaves on most weeds (1, 2-3, 4+), how many weeds (few, some, many), rows open or closed, and the water: dry, mud, fingers (two fingers deep) or hand (a hand's width)." placeholder:"DATE[:2-3][:many][:open|closed][:fingers]"`
	Today       string   `help:"Day of the plan, YYYY-MM-DD; without it the system's day." placeholder:"DATE"`

	Temps    string   `xor:"weather" help:"Daily minimum and maximum temperature, °C, the same all year (without either, ${plan_temps})." placeholder:"MIN-MAX"`
	Months   string   `xor:"weather" help:"CSV file with a line a month: month,min,max,rain in °C and mm." placeholder:"FILE"`
	Daily    string   `help:"CSV file with a line a day that was measured: date,min_c,max_c,rain_mm; days and fields left out come from the year." placeholder:"FILE"`
	Latitude *float64 `help:"Latitude, degrees, south negative as in --latitude=-8 (without it, ${plan_latitude})." placeholder:"DEG"`

	People     int      `help:"People who can weed on a day." placeholder:"N"`
	HoursADay  float64  `name:"hours-a-day" help:"Hours that each of them weeds on a day." placeholder:"H"`
	Neighbours int      `help:"Households that would share a tool, this one included." placeholder:"N"`
	Price      []string `sep:"none" help:"A price, as in tool=900: ${plan_prices}. Interest is by the year, as in 12%." placeholder:"NAME=AMOUNT"`
	Currency   string   `help:"What the prices are in, at most 4 characters." placeholder:"NAME"`
	Herbicide  float64  `help:"Price of a herbicide treatment of this plot, as told by the seller; follow the label, ask a licensed adviser." placeholder:"AMOUNT"`
	Figure     []string `sep:"none" help:"A figure of the place instead of the table's, as in HandHoursPerHa=260; rowbell sources lists those that can be set." placeholder:"NAME=VALUE"`
	WBGT       *float64 `name:"wbgt" help:"Wet bulb globe temperature, °C, from an instrument: tells the minutes of work an hour. Ask your health worker." placeholder:"C"`

	JSON    bool   `name:"json" help:"Print JSON instead of the table."`
	Picture string `help:"Draw the season into this SVG file." placeholder:"FILE"`
	Output  string `short:"o" help:"Write the table or JSON to this file." placeholder:"FILE"`
}

// planTemps is the weather of a plan that is told none: a warm lowland.
const planTemps = "23-32"

// planLatitude is where a plan is taken to be that is told no place.
const planLatitude = 15

// planVars are what the help of rowbell plan names.
func planVars() kong.Vars {
	return kong.Vars{"plan_temps": planTemps, "plan_latitude": strconv.Itoa(planLatitude), "plan_prices": strings.Join(planPriceNames(), ", ")}
}

// planned is all that is known of the plot on a day, for table, JSON and
// picture.
type planned struct {
	season engine.Season
	engine.Full
	summary engine.Summary
	weather string   // in words
	wbgt    *float64 // °C; nil = not measured
}

// Run prints the plan.
func (c *planCmd) Run(w *world) error { return c.run(w.now(), w.out) }

// run plans the plot and writes what was asked for.
func (c *planCmd) run(now time.Time, out io.Writer) error {
	today := engine.DayOf(now, now.Location())
	if c.Today != "" {
		var err error
		if today, err = planDay("--today", c.Today); err != nil {
			return &usageError{err, "rowbell plan --help"}
		}
	}
	p, err := c.plan(today)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if c.JSON {
		err = planJSON(&b, p)
	} else {
		err = planTable(&b, p)
	}
	if err != nil {
		return err
	}
	if c.Picture != "" {
		if err := planPicture(c.Picture, p); err != nil {
			return err
		}
	}
	if c.Output != "" && c.Output != "-" {
		return os.WriteFile(c.Output, b.Bytes(), 0o644)
	}
	_, err = out.Write(b.Bytes())
	return err
}

// plan works out what the flags say.
func (c *planCmd) plan(today engine.Day) (p planned, err error) {
	if p.season, p.weather, err = c.season(today); err != nil {
		return p, &usageError{err, "rowbell plan --help"}
	}
	if p.wbgt = c.WBGT; p.wbgt != nil && !(*p.wbgt >= planColdWBGT && *p.wbgt <= planHotWBGT) {
		err := fmt.Errorf("--wbgt %g is not between %d and %d °C", *p.wbgt, planColdWBGT, planHotWBGT)
		return p, &usageError{err, "rowbell plan --help"}
	}
	if p.Full, err = p.season.Full(today); err != nil {
		return p, planRefusal(err)
	}
	p.summary = p.season.Summary(today)
	return p, nil
}

// What an instrument for the heat of work may show, °C.
const planColdWBGT, planHotWBGT = 10, 45

// planRefusal says what the engine refuses without saying who refuses it.
func planRefusal(err error) error {
	if err == nil {
		return nil
	}
	return errors.New(strings.TrimPrefix(err.Error(), "engine: "))
}

// planPicture draws the season into a file.
func planPicture(file string, p planned) error {
	var b bytes.Buffer
	err := picture.Season(&b, p.season, p.On, picture.Options{
		Title: planPlotWords(p.season.Plot),
		Note:  fmt.Sprintf("On %s, day %d: %s.", planDate(p.On), p.On-p.season.Plot.Planted, planStanding(p.Full.Plan)),
	})
	if err != nil {
		return planRefusal(err)
	}
	return os.WriteFile(file, b.Bytes(), 0o644)
}
