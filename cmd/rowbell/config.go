package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/pelletier/go-toml/v2"
	"github.com/rs/zerolog"

	"rowbell/gateway"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/menu/text"
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

	Place    *placeConfig   `toml:"place"`  // of growers who chose no other
	Places   []placeConfig  `toml:"places"` // others, each with a name
	Units    []unitConfig   `toml:"units"`
	Texts    textsConfig    `toml:"texts"`
	Resume   *resumeConfig  `toml:"resume"`
	Push     *pushConfig    `toml:"push"`
	Keep     keepConfig     `toml:"keep"`
	Backup   *backupConfig  `toml:"backup"`
	Watch    watchConfig    `toml:"watch"`
	Limits   limitsConfig   `toml:"limits"`
	Proxy    proxyConfig    `toml:"proxy"`
	TLS      tlsConfig      `toml:"tls"`
	Gateways gatewaysConfig `toml:"gateways"`
	Routes   []routeConfig  `toml:"routes"`
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

var errSpan = errors.New("this is not a time span such as 90m or 24h")

func (d *duration) UnmarshalText(b []byte) error {
	v, err := time.ParseDuration(string(b))
	if err != nil || v <= 0 {
		return errSpan
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
	c := config{Listen: defaultListen, DB: defaultDB, LogLevel: "info", DialCode: defaultDialCode, QuietHour: defaultQuietHour, Limits: defaultLimits()}
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
		return mistake(b, &unknown.Errors[0], "there is no setting of this name")
	case errors.As(err, &wrong):
		return mistake(b, wrong, inWords(wrong.Error()))
	case err != nil:
		return err
	}
	return c.validate()
}

// wrongType is how the decoder tells of a value of the wrong type: by its name
// in this program.
var wrongType = regexp.MustCompile(`^toml: cannot decode TOML .* (?:of type|into) (\S+)$`)

// inWords tells of a mistake in the words of whoever wrote the file.
func inWords(said string) string {
	found := wrongType.FindStringSubmatch(said)
	if found == nil {
		return slipInWords(strings.TrimPrefix(said, "toml: "))
	}
	want := "a table, with a name for each value"
	switch goType := found[1]; {
	case goType == "string":
		want = "words in quotes"
	case goType == "int":
		want = "a whole number"
	case goType == "float64":
		want = "a number"
	case goType == "bool":
		want = "true or false"
	case goType == "main.duration", goType == "profile.Span":
		want = `a time span such as "90m" or "24h"`
	case goType == "[]string":
		want = `a list of words in quotes, such as ["en"]`
	case goType == "[]int":
		want = "a list such as [3]"
	case strings.HasPrefix(goType, "[]"):
		want = "a list of tables"
	}
	return "this must be " + want
}

// slipInWords tells of a slip in the writing, with what is usual to mend it.
// What it does not know it leaves as the decoder says it.
func slipInWords(said string) string {
	for _, w := range []struct{ said, words string }{
		{"at start of value", "a value is words in quotes (\"), a number, true or false, a list in [ ] or a table in { }"},
		{"expected newline but got", "something stands behind the value: words have a quote (\") on both sides, a number has a point and no comma"},
		{"basic strings cannot have new lines", "the quote (\") at the end is missing"},
		{"literal strings cannot have new lines", "the quote (') at the end is missing"},
		{"is already defined", "this is set twice: keep one"},
		{"already exists", "this table is there twice: put all of it into one"},
	} {
		if strings.Contains(said, w.said) {
			return w.words
		}
	}
	return said
}

// mistake tells of a setting where it is, with its line and no other; but
// nothing of what may hold the password of an address, or a secret that was
// written where the name of its variable belongs.
func mistake(b []byte, at *toml.DecodeError, what string) error {
	row, column := at.Position()
	key := strings.Join(at.Key(), ".")
	said := fmt.Sprintf("line %d, column %d: ", row, column)
	if key != "" {
		said += key + ": "
	}
	said += what
	lines := strings.Split(string(b), "\n")
	if row < 1 || row > len(lines) {
		return errors.New(said)
	}
	private := func(s string) bool { return strings.Contains(s, "push") || strings.Contains(s, "gateways") }
	secret := private(key)
	for i := row - 1; i >= 0; i-- {
		line := strings.TrimSpace(lines[i])
		header := strings.HasPrefix(line, "[")
		if (header || i == row-1) && private(line) || strings.Contains(line, "://") && i == row-1 {
			secret = true
		}
		if header {
			break
		}
	}
	if secret {
		return errors.New(said)
	}
	return fmt.Errorf("%s\n%s", said, strings.TrimRight(lines[row-1], "\r"))
}

var dialCodeForm = regexp.MustCompile(`^\*[0-9]+(\*[0-9]+)*#$`)

// maxDialCode is what fits the texts that name the code, in characters.
const maxDialCode = 12

// validate names the first setting that cannot be used.
func (c *config) validate() error {
	if _, err := zerolog.ParseLevel(c.LogLevel); err != nil || c.LogLevel == "" {
		return fmt.Errorf("log_level: %q is not one of debug, info, warn, error", c.LogLevel)
	}
	if len(c.DialCode) > maxDialCode || !dialCodeForm.MatchString(c.DialCode) {
		return fmt.Errorf("dial_code: %q is not a code such as *123# or *123*4#, of at most %d characters", c.DialCode, maxDialCode)
	}
	if c.QuietHour < 12 || c.QuietHour > 23 {
		return fmt.Errorf("quiet_hour: %d is not an hour of the evening, 12 to 23", c.QuietHour)
	}
	if c.StepM != 0 && !(c.StepM >= 0.3 && c.StepM <= 1.5) { // not a number neither
		return fmt.Errorf("step_m: %g m is no step", c.StepM)
	}
	for i, u := range c.Units {
		if !unitName(u.Name) {
			return fmt.Errorf("units: the name of number %d is not 1 to 10 letters that every phone shows", i+1)
		}
		if !(u.M2 > 0 && u.M2 <= maxUnitM2) {
			return fmt.Errorf("units: m2 of number %d is %g, not above 0 and at most %d", i+1, u.M2, maxUnitM2)
		}
	}
	if err := c.validateSpans(); err != nil {
		return err
	}
	if err := c.validatePlaces(); err != nil {
		return err
	}
	if err := c.Texts.validate(); err != nil {
		return err
	}
	if err := c.Keep.validate(); err != nil {
		return err
	}
	if err := c.Backup.validate(); err != nil {
		return err
	}
	if err := c.Watch.validate(); err != nil {
		return err
	}
	if err := c.validateEdge(); err != nil {
		return err
	}
	if err := c.validateGateways(); err != nil {
		return err
	}
	if err := c.validateRoutes(c.senders()); err != nil {
		return err
	}
	return c.network("").Validate()
}

// validateSpans refuses bare numbers: they are read as nanoseconds, and nobody
// means those.
func (c *config) validateSpans() error {
	spans := map[string]duration{}
	if c.Resume != nil {
		spans["resume.ussd"], spans["resume.sms"] = c.Resume.USSD, c.Resume.SMS
	}
	if c.Push != nil {
		spans["push.timeout"] = c.Push.Timeout
	}
	for _, key := range slices.Sorted(maps.Keys(spans)) {
		if d := time.Duration(spans[key]); d < 0 || d > 0 && d < time.Millisecond {
			return fmt.Errorf("%s: %w", key, errSpan)
		}
	}
	return nil
}

// maxUnitM2 is a square kilometre: no unit of plots is larger.
const maxUnitM2 = 1_000_000

// unitName says whether a name can stand in a text of the 7-bit alphabet.
func unitName(s string) bool {
	n := 0
	for _, r := range s {
		if n++; !unicode.IsPrint(r) {
			return false
		}
	}
	return n >= 1 && n <= 10 && s == strings.TrimSpace(s) && text.IsGSM7(s)
}

// or is what was set, or the other.
func or[T any](set *T, other T) T {
	if set == nil {
		return other
	}
	return *set
}

func (c *config) menuOptions() menu.Options {
	o := menu.Options{DialCode: c.DialCode, StepM: c.StepM, ShiftTables: c.Texts.tables()}
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
