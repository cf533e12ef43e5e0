// Package config reads rowbell.toml and turns the settings into the values that the other packages take: networks,
// routes, limits, texts, places, retention periods and the backup.
//
// The defaults, the names of the keys and the rules for valid values are in this package. Package config also looks
// secrets up in an environment that the caller passes in. It opens no connection, starts no goroutine and reads no
// clock. It does not open the records (the database) either; PutPlaces writes places into a transaction that the caller
// has begun.
package config

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"strings"
	"time"
	"unicode"

	"github.com/rs/zerolog"

	"rowbell/gateway"
	"rowbell/gateway/fault"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
)

// Config has the settings of rowbell.toml. Every key has a default, so the file may be missing. Secrets are in
// environment variables, not in the file; flags of a command replace values of the file.
type Config struct {
	Listen      string  `toml:"listen"`
	Process     string  `toml:"process"`
	DB          string  `toml:"db"`
	LogLevel    string  `toml:"log_level"`
	DialCode    string  `toml:"dial_code"`
	Contact     string  `toml:"contact"`
	Sender      string  `toml:"sender"`
	CountryCode string  `toml:"country_code"`
	QuietHour   int     `toml:"quiet_hour"`
	StepM       float64 `toml:"step_m"`

	Place    *Place       `toml:"place"`  // the first place: for growers who chose no place
	Places   []NamedPlace `toml:"places"` // the other places
	Units    []Unit       `toml:"units"`
	Texts    Texts        `toml:"texts"`
	Resume   Resume       `toml:"resume"`
	Push     *Push        `toml:"push"`
	Keep     Keep         `toml:"keep"`
	Backup   *Backup      `toml:"backup"` // nil: no nightly backup
	Watch    Watch        `toml:"watch"`
	Limits   Limits       `toml:"limits"`
	Proxy    Proxy        `toml:"proxy"`
	Desk     Desk         `toml:"desk"`
	TLS      TLS          `toml:"tls"`
	Gateways Gateways     `toml:"gateways"`
	Routes   []Route      `toml:"routes"`
}

// Unit is a local unit of area that growers may type and choose.
type Unit struct {
	Name string  `toml:"name"`
	M2   float64 `toml:"m2"`
}

// Resume says for how long a grower can resume a dialogue that was interrupted.
type Resume struct {
	USSD Duration `toml:"ussd"`
	SMS  Duration `toml:"sms"`
}

// Duration is a time span above 0, written as "90m" or "24h" in the file.
type Duration time.Duration

var errDuration = errors.New("this is not a time span such as 90m or 24h")

// UnmarshalText implements encoding.TextUnmarshaler.
func (d *Duration) UnmarshalText(b []byte) error {
	v, err := time.ParseDuration(string(b))
	if err != nil || v <= 0 {
		return errDuration
	}
	*d = Duration(v)
	return nil
}

// Defaults of settings that are missing in the file.
const (
	DefaultFile      = "rowbell.toml"
	DefaultListen    = "127.0.0.1:8080"
	DefaultDB        = "rowbell.db"
	DefaultQuietHour = 20
)

// Default returns the configuration without a file.
func Default() Config {
	return Config{
		Listen: DefaultListen, DB: DefaultDB, LogLevel: "info", DialCode: menu.DefaultDialCode,
		QuietHour: DefaultQuietHour, StepM: menu.DefaultStepM,
		Resume: Resume{USSD: Duration(gateway.DefaultUSSDResume), SMS: Duration(gateway.DefaultSMSResume)},
		Keep:   Keep(store.DefaultRetention()),
		Limits: DefaultLimits(),
	}
}

// Load reads the file or, if file is "", rowbell.toml in the working directory, which may be missing. An error names
// the file and has all Mistakes in it.
func Load(file string) (Config, error) { return load(file, nil) }

// LoadToServe is Load for the service, which needs more: the secrets of the networks in the environment, and language
// files without mistakes.
func LoadToServe(file string, env func(string) string) (Config, error) { return load(file, env) }

func load(file string, env func(string) string) (Config, error) {
	b, err := fault.ReadFile(cmp.Or(file, DefaultFile))
	if err != nil {
		if file == "" && errors.Is(err, fs.ErrNotExist) {
			return parseWith(nil, env)
		}
		return Default(), fmt.Errorf("configuration: %w", err)
	}
	c, err := parseWith(b, env)
	if err != nil {
		return c, fmt.Errorf("%s: %w", cmp.Or(file, DefaultFile), err)
	}
	return c, nil
}

var dialCodeForm = regexp.MustCompile(`^\*[0-9]+(\*[0-9]+)*#$`)

// processForm is what the name of a process may be: it stands in logs and metrics.
var processForm = regexp.MustCompile(`^[A-Za-z0-9._:-]{0,60}$`)

// maxDialCode is in characters; the texts to growers have no room for a longer code.
const maxDialCode = 12

// Validate returns the mistakes that check finds, as a fault.List. It looks up no secrets.
func (c *Config) Validate() error {
	return c.check(withoutSecrets)
}

// check returns the settings with an invalid value, and those that contradict each other. The function secret looks up
// the secrets of the networks.
func (c *Config) check(secret profile.Lookup) error {
	var l fault.List
	_, err := zerolog.ParseLevel(c.LogLevel)
	l.Refuse(err != nil || c.LogLevel == "", "log_level", "%q is not one of debug, info, warn, error", c.LogLevel)
	l.Refuse(!processForm.MatchString(c.Process), "process",
		"%q is not a name such as mill-1, of at most 60 letters, digits and . _ : -", c.Process)
	l.Refuse(len(c.DialCode) > maxDialCode || !dialCodeForm.MatchString(c.DialCode), "dial_code",
		"%q is not a code such as *123# or *123*4#, of at most %d characters", c.DialCode, maxDialCode)
	l.Refuse(c.Contact != "" && !shortText(c.Contact, menu.MaxContact), "contact",
		"%q is not 1 to %d characters that every phone shows", c.Contact, menu.MaxContact)
	l.Refuse(c.QuietHour < 12 || c.QuietHour > 23, "quiet_hour",
		"%d is not an hour of the evening, 12 to 23", c.QuietHour)
	l.Refuse(c.StepM != 0 && !(c.StepM >= 0.3 && c.StepM <= 1.5), // also rejects NaN
		"step_m", "%g m is not a step of 0.3 to 1.5 m", c.StepM)
	l.Add("", c.checkUnits())
	l.Add("", c.checkPlaces())
	l.Add("texts", c.Texts.check())
	l.Add("keep", c.Keep.check())
	l.Add("backup", c.Backup.check())
	_, err = c.Watch.Networks()
	l.Add("watch", err)
	l.Add("limits", c.Limits.check())
	_, err = c.Proxy.Gateway()
	l.Add("proxy", err)
	l.Add("tls", c.TLS.check())
	l.Add("desk", c.Desk.check())
	l.Add("", c.checkGateways(secret))
	l.Add("", push.CheckRoutes(c.PushRoutes(), c.senders()))
	l.Add("", c.checkLocal())
	return l.Err()
}

// maxUnitM2 is the largest unit of area: one square kilometre.
const maxUnitM2 = 1_000_000

func (c *Config) checkUnits() error {
	var l fault.List
	for i, u := range c.Units {
		name := fmt.Sprintf("units[%d]", i+1)
		l.Add(name, checkName(u.Name))
		if !(u.M2 > 0 && u.M2 <= maxUnitM2) { // also rejects NaN
			l.Add(name, fault.Under("m2", fmt.Errorf("%g is not above 0 and at most %d", u.M2, maxUnitM2)))
		}
	}
	return l.Err()
}

// checkName returns an error for the name of a unit or place that not every phone shows.
func checkName(name string) error {
	if shortName(name) {
		return nil
	}
	return fault.Under("name", fmt.Errorf("%q is not 1 to 10 letters that every phone shows", name))
}

// shortName reports whether s has 1 to 10 printable characters of the GSM 7-bit alphabet, which every phone shows.
func shortName(s string) bool { return shortText(s, 10) }

// shortText reports whether s has 1 to most printable characters of the GSM 7-bit alphabet. Those of its extension
// table, such as €, count twice, because they need twice the room in a text.
func shortText(s string, most int) bool {
	n, ok := text.Septets(s)
	isPrint := !strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) })
	return ok && isPrint && n >= 1 && n <= most && s == strings.TrimSpace(s)
}

// Menu returns the options of the dialogue with growers for package menu.
func (c *Config) Menu() menu.Options {
	o := menu.Options{DialCode: c.DialCode, Contact: c.Contact, StepM: c.StepM, ShiftTables: c.Texts.Tables(),
		PlaceLanguages: map[string][]string{}}
	for _, u := range c.Units {
		o.Units = append(o.Units, menu.AreaUnit(u))
	}
	if c.Place != nil {
		o.PlaceLanguages[store.DefaultPlace] = c.Place.Languages
	}
	for _, p := range c.Places {
		o.PlaceLanguages[p.Name] = p.Languages
		if p.Languages == nil {
			o.PlaceLanguages[p.Name] = o.PlaceLanguages[store.DefaultPlace]
		}
	}
	return o
}

// valueOr returns *set, or other if set is nil.
func valueOr[T any](set *T, other T) T {
	if set == nil {
		return other
	}
	return *set
}
