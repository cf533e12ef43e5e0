package config

import (
	"fmt"
	"time"

	"rowbell/gateway/profile"
)

// settings holds the comment and the example of every key. Keys, their order
// and most defaults are not taken from here: see Describe.
var settings = []setting{
	{"listen", "", "The address and port on which the service listens."},
	{"db", "", "The database file with all records."},
	{"log_level", "", "How much is logged: debug, info, warn or error."},
	{"dial_code", "", "The code that growers dial. It stands in texts too."},
	{"sender", `"12345"`, "The number or name that texts come from. Unset: what the network uses."},
	{"country_code", `"44"`, "The country code, as digits, of phone numbers that come without one."},
	{"quiet_hour", "", "From this hour on, in the place's time, no reminder is sent until morning: 12 to 23."},
	{"step_m", "0.75", "The length of a grower's step in m, for fields that are measured in steps: 0.3 to 1.5."},

	{"place", "", "The place of growers who chose no other. What is left out stays as it is in the records; at first " +
		"that is UTC, morning at 7, and a warm lowland."},
	{"place.zone", `"Europe/London"`, "The time zone, by its IANA name: growers get texts in their own morning."},
	{"place.latitude", "15.0", "Degrees, north above 0."},
	{"place.elevation_m", "40", "Height above the sea in m."},
	{"place.morning_hour", "7", "The hour from which texts are sent: 0 to 23, before quiet_hour."},
	{"place.months", exampleMonths, "The climate of each month, January first: mean daily minimum and maximum in °C, " +
		"and rain in mm."},
	{"place.soil", `"medium"`, "The soil of plots whose grower has not told: heavy, medium or light."},
	{"place.learning", "true", "Whether the weed growth rate of the place follows what growers see there."},
	{"place.prices", "", "Prices, in the place's currency. What is left out is not reckoned with. Prices and figures are " +
		"taken as a whole: one that is taken out of the file is removed from the records."},
	{"place.prices.currency", `"tal"`, "The currency as people write it, at most 4 characters."},
	{"place.prices.tool", "3000", "A new weeder."},
	{"place.prices.tool_salvage", "300", "What a weeder still brings at its end."},
	{"place.prices.tool_years", "8", "How many years a weeder serves."},
	{"place.prices.interest_year", "0.2", "What borrowed money costs a year, as a fraction: 0.2 is 20 %."},
	{"place.prices.hire_day", "150", "Hire of a weeder for a day."},
	{"place.prices.service_ha", "9000", "Weeding a hectare once, with tool and person."},
	{"place.prices.labour_day", "400", "A day's wage for weeding."},
	{"place.prices.family_day", "250", "What a day of the family's own work is worth to them. Unset: the wage."},
	{"place.prices.seasons_year", "2", "Crops a year."},
	{"place.figures", "{ HandHoursPerHa = 260 }", "Figures of the engine that differ here, by their names in rowbell sources."},

	{"places", "", "Further places, at most four, each in a table of its own; growers choose one under \"help and more\". " +
		"The keys are those of [place]; one that is left out is as there."},
	{"places.name", `"hills"`, "1 to 10 letters that every phone shows."},
	{"places.elevation_m", "900", ""},
	{"places.morning_hour", "6", ""},

	{"units", "", "Local units of area that growers may use, each in a table of its own."},
	{"units.name", `"katha"`, "1 to 10 letters that every phone shows."},
	{"units.m2", "66.9", "Its size in square metres, above 0 and at most 1,000,000."},

	{"texts", "", "What growers read."},
	{"texts.folder", `"texts"`, "A folder of language files: they change single texts of the program, or add a language. " +
		"rowbell texts --texts FOLDER checks them."},
	{"texts.languages", `["sw", "en"]`, "The languages that are offered, in this order; the first is used until another " +
		"is chosen. Unset: all."},
	{"texts.shift_tables", "{ pt = [3] }", "National alphabets (3GPP TS 23.038) that the phones here are known to show, " +
		"by language: with 3, Portuguese goes out by SMS with its accents. Unset: none."},

	{"resume", "", "For how long an interrupted dialogue can be resumed, by dialling and by text."},
	{"resume.ussd", "", ""},
	{"resume.sms", "", ""},

	{"push", "", "How texts go out by the gateway local, the one that exists without [gateways]. Beside [gateways] this " +
		"table must not stand. Its bearer token is in " + EnvToken + " and its address may also be in " + EnvPush + "."},
	{"push.url", `"https://gateway.example/texts"`, "The address to which texts are posted. Unset: texts go to the log."},
	{"push.rate", fmt.Sprint("default ", profile.DefaultRate), "Texts a second."},
	{"push.concurrency", fmt.Sprint("default ", profile.DefaultConcurrency), "Texts that are handed over at the same time."},
	{"push.timeout", defaultTimeout, "How long one try may take."},

	{"keep", "", "Retention: after how many days records that are over are removed. 0 means never, where that is allowed."},
	{"keep.callbacks_days", "", "Replies, for calls that a network repeats: 1 to 7."},
	{"keep.loose_texts_days", "", "Texts to phones without records: 1 to 30."},
	{"keep.texts_days", "", "Texts to growers: 14 to 3660."},
	{"keep.seasons_days", "", "Closed plots with their passes and texts: 366 and more, or 0. A place learns from them."},
	{"keep.growers_days", "", "Growers who were not heard of, with all their records: 366 and more, or 0."},

	{"backup", "", "A backup of the records every night. It holds phone numbers. Unset: none is made."},
	{"backup.folder", `"/backups"`, "Where backups are written. The folder must exist, best on another disk."},
	{"backup.keep", fmt.Sprint("default ", defaultBackupNights), "How many nights' backups are retained: 1 to 1000."},
	{"backup.hour", fmt.Sprint("default ", defaultBackupHour), "From which hour, in the first place's time: 0 to 23."},

	{"watch", "", "Who may read /metrics, besides this machine."},
	{"watch.allow", `["10.0.0.0/8"]`, "Addresses or networks. Never through a proxy."},

	{"limits", "", "Limits of all numbers and networks together. 0 means no limit."},
	{"limits.calls_a_minute", "", "Calls that come in."},
	{"limits.open_sessions", "", "USSD sessions that are open at the same time."},
	{"limits.texts_a_day", "20000", "Texts that go out, by the day in UTC; those beyond wait for the next day. Unset: no limit."},
	{"limits.money_a_day", "200", "What texts may cost by their segment_price, by the day in UTC. Unset: no limit."},
	{"limits.money_a_month", "4000", "The same by the month."},
	{"limits.pause", "", "How long a number beyond its calls_a_minute gets no answer: 1m to 24h. STOP works all the same."},
	{"limits.currency", `"TAL"`, "The currency of all these amounts, three letters."},
	{"limits.number", "", "Limits of one phone number."},
	{"limits.number.calls_a_minute", "", ""},
	{"limits.number.open_sessions", "", ""},
	{"limits.number.texts_a_day", "20", ""},
	{"limits.number.money_a_day", "1", ""},
	{"limits.number.money_a_month", "10", ""},

	{"proxy", "", "A proxy before this service."},
	{"proxy.trusted", `["10.0.0.1"]`, "Its addresses or networks."},
	{"proxy.header", `"X-Forwarded-For"`, "The header into which it writes the caller's address. Unset: X-Forwarded-For; " +
		"any other must hold the address alone."},

	{"tls", "", "TLS 1.2 and later, spoken by the service itself. Renewed files are read without a restart."},
	{"tls.cert", `"fullchain.pem"`, "PEM file: the certificate, then those that signed it."},
	{"tls.key", `"key.pem"`, "PEM file of its private key."},

	{"gateways", "", "The networks, each under a name of its own: [gateways.NAME]. Two invented ones follow; rowbell doctor " +
		"--profile NAME --sample FILE shows how recorded requests are understood. Without [gateways] there is one, local, " +
		"that speaks rowbell's own format; a network without tables for its calls does so too. Otherwise only the calls " +
		"that are described are there. A value's place in a call is the name of a form field, a JSON pointer (RFC 6901) or " +
		"an XPath; query:NAME and header:NAME work with every body."},
	{"gateways.heron", "", "A network that speaks JSON and signs its calls."},
	{"gateways.heron.country_code", `"44"`, "As above, for numbers from this network."},
	{"gateways.heron.sender", `"12345"`, "As above, for texts by this network."},
	{"gateways.heron.trust", "", "Who may call."},
	{"gateways.heron.trust.by", `"signature"`, "signature (Standard Webhooks), bearer, basic, or address: nothing but from."},
	{"gateways.heron.trust.secrets", `["HERON_SECRET", "HERON_SECRET_OLD"]`, "Names of environment variables that hold the " +
		"secrets: all are accepted, so that one can be changed. NAME_FILE may hold the path of a file instead. A secret " +
		"that signs is whsec_ and what openssl rand -base64 32 prints."},
	{"gateways.heron.trust.from", `["192.0.2.0/24"]`, "Addresses or networks that may call. Unset: any."},
	{"gateways.heron.trust.tolerance", `default "5m"`, "How far the time of a signature may be off."},
	{"gateways.heron.ussd", "", "A call of a USSD session."},
	{"gateways.heron.ussd.method", `default "POST"`, "POST, GET or PUT."},
	{"gateways.heron.ussd.body", `"json"`, "form, query, json, xml or text."},
	{"gateways.heron.ussd.phone", `"/line/caller"`, "Where the caller's number is."},
	{"gateways.heron.ussd.session", `"/line/visit"`, "Where the network's name of the session is."},
	{"gateways.heron.ussd.dialled", `"/line/code"`, "Where the dialled code is."},
	{"gateways.heron.ussd.entry", `"/turn/words"`, "Where the entry is."},
	{"gateways.heron.ussd.event", `"/turn/kind"`, "Where it is said whether a session begins, goes on or ends."},
	{"gateways.heron.ussd.step", `"/turn/no"`, "Where the number of entries so far is: a repeat is known by it."},
	{"gateways.heron.ussd.holds", `default "last"`, "What the entry holds: last, the last entry, or all, the whole session so far."},
	{"gateways.heron.ussd.events", `{ begin = ["opens"], entry = ["says"], end = ["left", "too slow"] }`,
		"The values of event."},
	{"gateways.heron.ussd.reply", "", "How a call is answered. The body is a Go template; it may use .Text, .More, .Session and .ID. " +
		"Values are escaped for the type."},
	{"gateways.heron.ussd.reply.status", "default 200", "The HTTP status."},
	{"gateways.heron.ussd.reply.type", `"application/json"`, "The content type."},
	{"gateways.heron.ussd.reply.headers", `{ X-Visit = "{{.Session}}" }`, "Further headers, each a template."},
	{"gateways.heron.ussd.reply.body", `'{"show":"{{.Text}}","more":{{.More}}}'`, ""},
	{"gateways.heron.sms", "", "A text that comes in. Method, charset, coding, strip and reply are as under ussd."},
	{"gateways.heron.sms.body", `"json"`, ""},
	{"gateways.heron.sms.id", `"/note/ref"`, "Where the text's id is: a repeat is known by it."},
	{"gateways.heron.sms.phone", `"/note/author"`, ""},
	{"gateways.heron.sms.text", `"/note/words"`, "Where the text is."},
	{"gateways.heron.sms.reply", `{ status = 202, type = "application/json", body = '{"kept":"{{.ID}}"}' }`, ""},
	{"gateways.heron.receipt", "", "A delivery receipt."},
	{"gateways.heron.receipt.body", `"json"`, ""},
	{"gateways.heron.receipt.time", `"unix-ms"`, "How at is written: rfc3339, unix, unix-ms, or a layout of Go's package time."},
	{"gateways.heron.receipt.id", `"/slip/ref"`, "Where the text's id is: the network's own, from the answer to the push, or ours."},
	{"gateways.heron.receipt.state", `"/slip/fate"`, "Where it is said what became of the text."},
	{"gateways.heron.receipt.at", `"/slip/when"`, "Where the time is."},
	{"gateways.heron.receipt.reason", `"/slip/why"`, "Where the reason of a failure is."},
	{"gateways.heron.receipt.states", `{ delivered = ["landed"], failed = ["lost"], expired = ["wilted"], accepted = ["afloat"] }`,
		"The values of state."},
	{"gateways.heron.push", "", "How texts go out. Address, headers and body are Go templates; they may use .ID, .To, .ToDigits, .From, " +
		".Text, .TextHex, .ValidUntil, .ValidMinutes, .ValidOctet, .Segments, .Alphabet and .Secret."},
	{"gateways.heron.push.url", `"https://heron.example/parcels"`, "Unset: no texts go out by this network."},
	{"gateways.heron.push.method", `default "POST"`, "POST, PUT or GET."},
	{"gateways.heron.push.type", `"application/json"`, "The content type."},
	{"gateways.heron.push.headers", `{ Authorization = "Bearer {{.Secret}}" }`, ""},
	{"gateways.heron.push.body", `'{"ref":"{{.ID}}","to":"{{.To}}","words":"{{.Text}}","until":{{.ValidUntil}}}'`, ""},
	{"gateways.heron.push.time", `"unix"`, "How .ValidUntil is written: rfc3339, unix, unix-ms, or a layout."},
	{"gateways.heron.push.secrets", `["HERON_SEND"]`, "Names of environment variables; the first is .Secret."},
	{"gateways.heron.push.answer", `"json"`, "How the network's answer is read: json, xml, form or text."},
	{"gateways.heron.push.id", `"/parcel/ticket"`, "Where in the answer the network's own id of the text is."},
	{"gateways.heron.push.rate", fmt.Sprint("default ", profile.DefaultRate), "Texts a second; 0 means no limit."},
	{"gateways.heron.push.concurrency", fmt.Sprint("default ", profile.DefaultConcurrency),
		"Texts that are handed over at the same time."},
	{"gateways.heron.push.timeout", defaultTimeout, "How long one try may take."},
	{"gateways.heron.push.validity", `"24h"`, "The longest validity period of a text. Unset: as long as its advice holds."},
	{"gateways.heron.push.segments", "3", "Texts of more SMS segments are not sent. Unset: no limit."},
	{"gateways.heron.push.segment_price", "0.012", "The price of a segment, for the limits on money."},
	{"gateways.heron.push.idempotent", "true", "Whether the network sends only once what it gets twice under one .ID: only " +
		"then is a text with an uncertain outcome sent again."},
	{"gateways.heron.push.outcomes", "", "What an answer means, each in a table of its own; the first that fits counts, and " +
		"without one the HTTP status."},
	{"gateways.heron.push.outcomes.status", `"200-299"`, "HTTP statuses, such as 200-299 or 400,404. Unset: any."},
	{"gateways.heron.push.outcomes.at", `"/parcel/fate"`, "A place in the answer."},
	{"gateways.heron.push.outcomes.is", `["no such line"]`, "The values there that fit."},
	{"gateways.heron.push.outcomes.then", `"no-such-number"`, "taken, again, never, no-such-number or unsure."},
	{"gateways.heron.limits", "", "Limits of this network, as under [limits]."},
	{"gateways.heron.limits.calls_a_minute", "6000", ""},
	{"gateways.heron.limits.open_sessions", "5000", ""},
	{"gateways.heron.limits.texts_a_day", "5000", ""},
	{"gateways.heron.limits.money_a_day", "60", ""},
	{"gateways.heron.limits.money_a_month", "1200", ""},

	{"gateways.marl", "", "A network that sends forms with the whole session so far, and a name and password."},
	{"gateways.marl.trust.by", `"basic"`, ""},
	{"gateways.marl.trust.user", `"marl"`, "The name, with by = \"basic\"."},
	{"gateways.marl.trust.secrets", `["MARL_SECRET"]`, ""},
	{"gateways.marl.ussd.body", `"form"`, ""},
	{"gateways.marl.ussd.charset", `default "utf-8"`, "Of the body or query: any that browsers know."},
	{"gateways.marl.ussd.coding", `default "plain"`, "Of the entry in it: plain, or ucs2-hex or gsm7-hex for its octets."},
	{"gateways.marl.ussd.strip", `{ phone = ["tel:"] }`, "Prefixes that do not belong to a value, by key."},
	{"gateways.marl.ussd.phone", `"field"`, ""},
	{"gateways.marl.ussd.session", `"furrow"`, ""},
	{"gateways.marl.ussd.entry", `"steps"`, ""},
	{"gateways.marl.ussd.id", `"stone"`, "Where the id of the call is: a repeat is known by it."},
	{"gateways.marl.ussd.holds", `"all"`, ""},
	{"gateways.marl.ussd.separator", `default "*"`, "What stands between the entries of a whole session."},
	{"gateways.marl.ussd.begins", `"new-session"`, "How the first call is known where there is no event: new-session, by a " +
		"session that is new, or no-entry, by an empty entry."},
	{"gateways.marl.ussd.trouble_status", "200", "The HTTP status of the screen that says sorry where the service fails. Unset: 503."},
	{"gateways.marl.ussd.reply.type", `"text/plain"`, ""},
	{"gateways.marl.ussd.reply.charset", `default "utf-8"`, "Of the body."},
	{"gateways.marl.ussd.reply.headers", `{ X-Wait = "{{if .More}}yes{{else}}no{{end}}" }`, ""},
	{"gateways.marl.ussd.reply.body", `"{{.Text}}"`, ""},
	{"gateways.marl.push.url", `"https://marl.example/carry"`, ""},
	{"gateways.marl.push.type", `"application/x-www-form-urlencoded"`, ""},
	{"gateways.marl.push.charset", `default "utf-8"`, "Of the body."},
	{"gateways.marl.push.body", `"field={{.To}}&load={{.Text}}&key={{.ID}}"`, ""},

	{"routes", "", "Through which networks texts to numbers with a prefix go, each in a table of its own. The longest prefix that " +
		"fits counts. Numbers without a route: all networks, in the order of their names."},
	{"routes.prefix", `"+4477"`, "+ and digits. \"\": every number."},
	{"routes.through", `["heron", "marl"]`, "Names of gateways, the first one preferred."},
}

var defaultTimeout = fmt.Sprintf("default %q", time.Duration(profile.DefaultTimeout))

const exampleMonths = `[
	{ min_c = 20, max_c = 29, rain_mm = 10 },
	{ min_c = 20, max_c = 30, rain_mm = 15 },
	{ min_c = 21, max_c = 32, rain_mm = 40 },
	{ min_c = 22, max_c = 33, rain_mm = 90 },
	{ min_c = 23, max_c = 32, rain_mm = 180 },
	{ min_c = 23, max_c = 31, rain_mm = 220 },
	{ min_c = 23, max_c = 30, rain_mm = 240 },
	{ min_c = 23, max_c = 30, rain_mm = 260 },
	{ min_c = 22, max_c = 30, rain_mm = 250 },
	{ min_c = 22, max_c = 30, rain_mm = 160 },
	{ min_c = 21, max_c = 29, rain_mm = 60 },
	{ min_c = 20, max_c = 29, rain_mm = 20 },
]`
