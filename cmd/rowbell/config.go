package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
)

// config is rowbell.toml. Everything has a default: the service runs without
// the file. Secrets come from the environment, and flags win over both.
type config struct {
	Listen      string  `toml:"listen"`
	DB          string  `toml:"db"`
	LogLevel    string  `toml:"log_level"`
	DialCode    string  `toml:"dial_code"`    // what growers dial
	Sender      string  `toml:"sender"`       // what texts come from
	CountryCode string  `toml:"country_code"` // digits, for numbers written without one
	QuietHour   int     `toml:"quiet_hour"`   // from this local hour on nothing is sent until morning
	StepM       float64 `toml:"step_m"`       // length of a grower's step in m

	Place  *placeConfig  `toml:"place"`
	Units  []unitConfig  `toml:"units"`
	Resume *resumeConfig `toml:"resume"`
	Push   *pushConfig   `toml:"push"`
}

type placeConfig struct {
	Zone        string        `toml:"zone"`
	Latitude    float64       `toml:"latitude"`
	ElevationM  float64       `toml:"elevation_m"`
	MorningHour *int          `toml:"morning_hour"`
	Months      []monthConfig `toml:"months"` // January first
}

type monthConfig struct {
	MinC   float64 `toml:"min_c"`
	MaxC   float64 `toml:"max_c"`
	RainMM float64 `toml:"rain_mm"`
}

type unitConfig struct {
	Name string  `toml:"name"`
	M2   float64 `toml:"m2"`
}

type resumeConfig struct {
	USSD duration `toml:"ussd"`
	SMS  duration `toml:"sms"`
}

type pushConfig struct {
	URL         string   `toml:"url"`
	Rate        float64  `toml:"rate"` // texts a second
	Concurrency int      `toml:"concurrency"`
	Timeout     duration `toml:"timeout"`
}

// duration is a time span written "90m" or "24h".
type duration time.Duration

func (d *duration) UnmarshalText(b []byte) error {
	v, err := time.ParseDuration(string(b))
	if err != nil || v <= 0 {
		return fmt.Errorf("%q is not a time span such as 90m or 24h", b)
	}
	*d = duration(v)
	return nil
}

const (
	defaultConfig    = "rowbell.toml"
	defaultListen    = "127.0.0.1:8080"
	defaultDB        = "rowbell.db"
	defaultDialCode  = "*123#"
	defaultQuietHour = 20
	localGateway     = "local"
	envToken         = "ROWBELL_TOKEN_LOCAL"
	envPush          = "ROWBELL_PUSH_LOCAL"
)

// loadConfig reads the file; without a name it is rowbell.toml, which need not
// exist.
func loadConfig(name string) (config, error) {
	c := config{Listen: defaultListen, DB: defaultDB, LogLevel: "info", DialCode: defaultDialCode, QuietHour: defaultQuietHour}
	b, err := os.ReadFile(cmp.Or(name, defaultConfig))
	if err != nil {
		if name == "" && errors.Is(err, fs.ErrNotExist) {
			return c, nil
		}
		return c, fmt.Errorf("configuration: %w", err)
	}
	if err := parseConfig(b, &c); err != nil {
		return c, fmt.Errorf("%s: %w", cmp.Or(name, defaultConfig), err)
	}
	return c, nil
}

// parseConfig is strict: a key that nothing reads is a mistake, and so is a
// value that cannot be used. Each error names line and key.
func parseConfig(b []byte, c *config) error {
	d := toml.NewDecoder(bytes.NewReader(b)).DisallowUnknownFields()
	err := d.Decode(c)
	var unknown *toml.StrictMissingError
	var wrong *toml.DecodeError
	switch {
	case errors.As(err, &unknown):
		line, column := unknown.Errors[0].Position()
		return fmt.Errorf("line %d, column %d: there is no setting of this name\n%s", line, column, unknown.String())
	case errors.As(err, &wrong):
		line, column := wrong.Position()
		return fmt.Errorf("line %d, column %d: %w\n%s", line, column, wrong, wrong.String())
	case err != nil:
		return err
	}
	return c.validate()
}

// validate names the first setting that cannot be used.
func (c *config) validate() error {
	if _, err := zerolog.ParseLevel(c.LogLevel); err != nil || c.LogLevel == "" {
		return fmt.Errorf("log_level: %q is not one of debug, info, warn, error", c.LogLevel)
	}
	if n := len(c.DialCode); n < 3 || c.DialCode[0] != '*' || c.DialCode[n-1] != '#' {
		return fmt.Errorf("dial_code: %q does not start with * and end with #", c.DialCode)
	}
	if c.QuietHour < 12 || c.QuietHour > 23 {
		return fmt.Errorf("quiet_hour: %d is not an hour of the evening, 12 to 23", c.QuietHour)
	}
	if c.StepM != 0 && (c.StepM < 0.3 || c.StepM > 1.5) {
		return fmt.Errorf("step_m: %g m is no step", c.StepM)
	}
	for i, u := range c.Units {
		if u.Name == "" || len([]rune(u.Name)) > 10 || !(u.M2 > 0) {
			return fmt.Errorf("units: number %d needs a name of at most 10 letters and its m2", i+1)
		}
	}
	if p := c.Place; p != nil {
		if n := len(p.Months); n != 0 && n != 12 {
			return fmt.Errorf("place.months: %d months are given, 12 are needed, January first", n)
		}
		// A morning in the quiet hours would never come.
		if h := p.MorningHour; h != nil && (*h < 0 || *h >= c.QuietHour) {
			return fmt.Errorf("place.morning_hour: %d is not an hour before quiet_hour, %d", *h, c.QuietHour)
		}
	}
	return c.network("").Validate()
}

// place is the growing area of growers who have no other; fallback is what the
// records hold, for what the file leaves out.
func (c *config) place(fallback store.Place) store.Place {
	p := fallback
	if c.Place == nil {
		return p
	}
	p.Zone = cmp.Or(c.Place.Zone, p.Zone)
	p.Latitude, p.ElevationM = c.Place.Latitude, c.Place.ElevationM
	if c.Place.MorningHour != nil {
		p.MorningHour = *c.Place.MorningHour
	}
	for i, m := range c.Place.Months {
		p.Normals[i] = engine.Normal{MinC: m.MinC, MaxC: m.MaxC, RainMM: m.RainMM}
	}
	return p
}

func (c *config) menuOptions() menu.Options {
	o := menu.Options{DialCode: c.DialCode, StepM: c.StepM}
	for _, u := range c.Units {
		o.Units = append(o.Units, menu.AreaUnit{Name: u.Name, M2: u.M2})
	}
	return o
}

func (c *config) resume() (ussd, sms time.Duration) {
	ussd, sms = gateway.DefaultUSSDResume, gateway.DefaultSMSResume
	if c.Resume != nil {
		ussd, sms = cmp.Or(time.Duration(c.Resume.USSD), ussd), cmp.Or(time.Duration(c.Resume.SMS), sms)
	}
	return ussd, sms
}

// network is the gateway that exists with no configuration.
func (c *config) network(pushURL string) profile.Profile {
	p := profile.Default(localGateway)
	p.CountryCode, p.Sender = c.CountryCode, c.Sender
	if c.Push != nil {
		p.Push.URL = c.Push.URL
		p.Push.Rate = cmp.Or(c.Push.Rate, p.Push.Rate)
		p.Push.Concurrency = cmp.Or(c.Push.Concurrency, p.Push.Concurrency)
		p.Push.Timeout = cmp.Or(time.Duration(c.Push.Timeout), p.Push.Timeout)
	}
	p.Push.URL = cmp.Or(pushURL, p.Push.URL)
	return p
}
