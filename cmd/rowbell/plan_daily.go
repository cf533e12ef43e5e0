package main

import (
	"fmt"
	"os"

	"rowbell/engine"
	"rowbell/store/weathercsv"
)

// planDaily reads what was measured by the day of the plan, and says of which
// days.
func planDaily(file string, today engine.Day) (engine.Daily, string, error) {
	f, err := os.Open(file)
	if err != nil {
		return engine.Daily{}, "", err
	}
	defer f.Close()
	days, err := weathercsv.Parse(f, today)
	if err != nil {
		return engine.Daily{}, "", fmt.Errorf("%s: %w", file, err)
	}
	daily := weathercsv.Daily(days)
	return daily, "measured " + placeMeasured(daily), nil
}
