package desk

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"rowbell/menu/text"
	"rowbell/store"
)

// ErrNoTextFolder is the error of a Texts without a folder of the operator.
var ErrNoTextFolder = errors.New("desk: no folder for texts is configured")

// TextTrial is what is found out about a changed text.
type TextTrial struct {
	Problems []string // why it cannot be used, each with its file and key; empty: it can
	Length   string   // how long it is, in words
}

// Texts changes the texts that growers read. The files of the operator's folder are laid over the built-in ones.
type Texts interface {
	// Folder returns the folder, "" if none is configured. Then Try and Change return ErrNoTextFolder.
	Folder() string
	// Try finds out whether a text could be used. Only with whole it walks the menu, which takes a moment.
	Try(lang string, k text.Key, forms []text.Form, whole bool) (TextTrial, error)
	// Change is Try with whole and, if there are no problems, writes the text and puts it to use.
	Change(ctx context.Context, lang string, k text.Key, forms []text.Form) (TextTrial, error)
}

func (d *Desk) textRoutes() []route {
	return []route{
		{"GET /desk/texts", run, nil, d.textsPage},
		{"GET /desk/texts/{language}/{key}", run, textInPath, d.textPage},
		{"POST /desk/texts/{language}/{key}", run, textInPath, d.changeText},
	}
}

// textInPath loads the text whose language is {language} and whose key is {key}.
func textInPath(r *request) error {
	r.text.lang, r.text.key = r.PathValue("language"), text.Key(r.PathValue("key"))
	if r.text.forms = r.d.o.Menu.SMSCatalogue().Forms(r.text.lang, r.text.key); r.text.forms == nil {
		return errNotFound
	}
	return nil
}

// textOf is a text of the catalogue.
type textOf struct {
	lang  string
	key   text.Key
	forms []text.Form
}

type textsView struct {
	Language, Group, Find field
	Folder                string
	Lang                  string
	Rows                  []textRow
	After                 string // the link to the next page; "" = there is none
	Searched              bool
}

type textRow struct {
	Key           text.Key
	Source, Words string
	Own           bool // from the operator's folder
}

// textsPage lists texts of a group, or those that have some words, a page at a time.
func (d *Desk) textsPage(r *request) error {
	if err := r.ParseForm(); err != nil {
		return errNotFound
	}
	r.form = newForm(r.Form)
	cat := d.o.Menu.SMSCatalogue()
	v := textsView{Folder: d.textFolder(), Lang: r.form.text("language")}
	if !slices.Contains(cat.Languages(), v.Lang) {
		v.Lang = cat.Languages()[0]
		r.form.Set("language", v.Lang)
	}
	keys := cat.Keys(v.Lang)
	var languages, groups []string
	for _, tag := range cat.Languages() {
		languages = append(languages, tag, d.languageName(tag))
	}
	groups = append(groups, "", "all")
	for _, k := range keys {
		if g := groupOf(k); g != groups[len(groups)-1] {
			groups = append(groups, g, g)
		}
	}
	v.Language = r.form.Choice("language", "Language", "", languages...)
	v.Group = r.form.Choice("group", "Group", "", groups...)
	v.Find = r.form.Field("find", "Words or key", "")
	v.Searched = r.form.text("find") != "" || r.form.text("group") != ""
	for _, k := range keys {
		if string(k) <= r.form.text("after") || !d.isFound(r, v.Lang, k) {
			continue
		}
		if len(v.Rows) == pageSize {
			next := url.Values{"language": {v.Lang}, "group": {r.form.text("group")}, "find": {r.form.text("find")},
				"after": {string(v.Rows[pageSize-1].Key)}}
			v.After = "/desk/texts?" + next.Encode()
			break
		}
		row := textRow{Key: k, Words: cat.Template(v.Lang, k), Own: cat.Position(v.Lang, k).Own}
		if v.Lang != text.Source {
			row.Source = cat.Template(text.Source, k)
		}
		v.Rows = append(v.Rows, row)
	}
	return r.page("texts", "Texts", v)
}

func groupOf(k text.Key) string {
	group, _, _ := strings.Cut(string(k), ".")
	return group
}

// isFound reports whether a text is what the form asks for. Without words and group all texts are.
func (d *Desk) isFound(r *request, lang string, k text.Key) bool {
	if g := r.form.text("group"); g != "" && g != groupOf(k) {
		return false
	}
	find := strings.ToLower(r.form.text("find"))
	cat := d.o.Menu.SMSCatalogue()
	for _, in := range []string{string(k), cat.Template(lang, k), cat.Template(text.Source, k)} {
		if strings.Contains(strings.ToLower(in), find) {
			return true
		}
	}
	return false
}

func (d *Desk) textFolder() string {
	if d.o.Texts == nil {
		return ""
	}
	return d.o.Texts.Folder()
}

type textView struct {
	Key      text.Key
	Lang     string
	Language string
	Folder   string
	Names    []string // the values that are filled in
	Others   []textRow
	Fields   []textField
	Length   string
	Problems []string
	Where    string
	Action   string
}

// textField is the field of a form of a text.
type textField struct{ Name, Label, Value string }

func (d *Desk) textPage(r *request) error {
	r.form = newForm(nil)
	for _, f := range r.text.forms {
		r.form.Set(fieldOfForm(f.Name), f.Text)
	}
	return r.page("text", "The text "+string(r.text.key), d.textView(r, TextTrial{}))
}

func fieldOfForm(name string) string { return strings.TrimSuffix("text-"+name, "-") }

func (d *Desk) textView(r *request, trial TextTrial) textView {
	cat := d.o.Menu.SMSCatalogue()
	v := textView{Key: r.text.key, Lang: r.text.lang, Language: d.languageName(r.text.lang), Folder: d.textFolder(),
		Names: cat.Args(r.text.lang, r.text.key), Length: trial.Length, Problems: trial.Problems,
		Action: "/desk/texts/" + r.text.lang + "/" + string(r.text.key), Where: "built in"}
	if cat.Position(r.text.lang, r.text.key).Own {
		v.Where = "from your folder"
	}
	for _, f := range r.text.forms {
		label := "Text"
		if f.Name != "" {
			label = "Text for the number of the kind “" + f.Name + "”"
		}
		v.Fields = append(v.Fields, textField{fieldOfForm(f.Name), label, r.form.Get(fieldOfForm(f.Name))})
	}
	for _, tag := range cat.Languages() {
		if words := cat.Template(tag, r.text.key); tag != r.text.lang && words != "" {
			v.Others = append(v.Others, textRow{Key: text.Key(tag), Source: d.languageName(tag), Words: words})
		}
	}
	return v
}

// typedForms returns the forms of the text as they were typed.
func (r *request) typedForms() (forms []text.Form) {
	for _, f := range r.text.forms {
		typed := strings.ReplaceAll(r.form.Get(fieldOfForm(f.Name)), "\r\n", "\n")
		forms = append(forms, text.Form{Name: f.Name, Text: typed})
	}
	return forms
}

// changeText checks a text, or changes it. For the script it says how long the text is while it is typed.
func (d *Desk) changeText(r *request) error {
	if d.textFolder() == "" {
		none := TextTrial{Problems: []string{"No folder for texts is configured, so nothing was changed."}}
		return r.again("text", "The text "+string(r.text.key), d.textView(r, none))
	}
	forms := r.typedForms()
	if r.form.Get("do") == "parts" {
		if field := r.form.Get("key"); field != "" { // the script sends one field; the others are as they were
			forms = slices.Clone(r.text.forms)
			for i, f := range forms {
				if fieldOfForm(f.Name) == field {
					forms[i].Text = strings.ReplaceAll(r.form.Get("text"), "\r\n", "\n")
				}
			}
		}
		trial, err := d.o.Texts.Try(r.text.lang, r.text.key, forms, false)
		if err != nil {
			return err
		}
		return r.fragment(strings.Join(append(trial.Problems, trial.Length), ". "))
	}
	for _, f := range forms {
		if strings.TrimSpace(f.Text) == "" {
			r.form.wrong(fieldOfForm(f.Name), "A text must not be empty.")
		}
	}
	if !r.form.ok() {
		return r.again("text", "The text "+string(r.text.key), d.textView(r, TextTrial{}))
	}
	if r.form.Get("do") == "check" {
		trial, err := d.o.Texts.Try(r.text.lang, r.text.key, forms, true)
		if err != nil {
			return err
		}
		if len(trial.Problems) == 0 {
			trial.Length = "The proof finds nothing wrong. " + trial.Length
		}
		return r.page("text", "The text "+string(r.text.key), d.textView(r, trial))
	}
	return d.keepText(r, forms)
}

// keepText changes the text, and keeps the old one in the trail.
func (d *Desk) keepText(r *request, forms []text.Form) error {
	trial, err := d.o.Texts.Change(r.Context(), r.text.lang, r.text.key, forms)
	if err != nil {
		return err
	}
	if len(trial.Problems) > 0 {
		r.form.wrong(fieldOfForm(forms[0].Name), "The proof refused this text, so the old one stays.")
		return r.again("text", "The text "+string(r.text.key), d.textView(r, trial))
	}
	if err := r.write(func(tx *store.Tx) error {
		return tx.Trail(r.entry("changed a text", fmt.Sprintf("%s in %s", r.text.key, r.text.lang),
			formWords(r.text.forms), formWords(forms)))
	}); err != nil {
		return err
	}
	return r.to("/desk/texts/"+r.text.lang+"/"+string(r.text.key), "The text was changed. Growers read it from now on.")
}

// formWords writes the forms of a text on one line for each.
func formWords(forms []text.Form) string {
	var lines []string
	for _, f := range forms {
		if f.Name == "" {
			lines = append(lines, f.Text)
		} else {
			lines = append(lines, f.Name+": "+f.Text)
		}
	}
	return strings.Join(lines, "\n")
}
