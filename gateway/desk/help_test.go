package desk

import (
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// manualPages are the pages of the real manual.
func manualPages(t *testing.T) (list []HelpPage) {
	t.Helper()
	files := must(filepath.Glob("../../cmd/rowbell/manual/*.md"))
	if len(files) < 20 {
		t.Fatalf("only %d pages of the manual", len(files))
	}
	for _, f := range files {
		text := string(must(os.ReadFile(f)))
		title, _, _ := strings.Cut(text, "\n")
		name := strings.TrimSuffix(filepath.Base(f), ".md")
		list = append(list, HelpPage{name, strings.TrimPrefix(title, "# "), text})
	}
	return list
}

// withManual gives the desk a manual.
func (o *office) withManual(list []HelpPage) {
	options := o.options()
	options.Manual = list
	o.d = must(New(options))
}

var (
	hrefs  = regexp.MustCompile(`href="([^"]*)"`)
	anchor = regexp.MustCompile(`id="([^"]+)"`)
)

// Each page of the manual can be read in the desk. Each link on it leads to a page or a heading that is there.
func TestHelp(t *testing.T) {
	o := newOffice(t)
	list := manualPages(t)
	o.withManual(list)
	b := o.as("viewer")
	contents := b.get("/desk/help")
	contents.has(t, 200, list[0].Title, list[len(list)-1].Title)
	for _, h := range list {
		p := b.get("/desk/help/" + h.Name)
		p.has(t, 200, "All pages")
		if n := strings.Count(p.Body, "<h1"); n != 1 || !strings.Contains(p.Body, "<h2") {
			t.Errorf("%s has %d titles, or no heading below it", h.Name, n)
		}
		for _, mistake := range []string{"raw HTML omitted", `style="`, ".md\"", "<script>", "```", "<th></th>"} {
			if strings.Contains(p.Body, mistake) {
				t.Errorf("%s has %s", h.Name, mistake)
			}
		}
		if len(p.Body) > 100_000 {
			t.Errorf("%s has %d octets", h.Name, len(p.Body))
		}
		for _, m := range hrefs.FindAllStringSubmatch(p.Body, -1) {
			b.follow(t, h.Name, p, m[1])
		}
	}
	b.get("/desk/help/nothing").has(t, http.StatusNotFound, "Nothing here")
	o.browser().get("/desk/help").has(t, 200, "Password")
}

// follow checks that a link of a page of the manual leads somewhere.
func (b *browser) follow(t *testing.T, name string, from page, link string) {
	t.Helper()
	path, part, _ := strings.Cut(link, "#")
	to := from
	switch {
	case strings.HasPrefix(path, "/desk/help"):
		to = b.get(path)
	case path != "":
		return // a page of the desk, or another site
	}
	if to.Status != http.StatusOK {
		t.Errorf("%s links to %s: %d", name, link, to.Status)
	}
	for _, id := range anchor.FindAllStringSubmatch(to.Body, -1) {
		if id[1] == part {
			part = ""
		}
	}
	if part != "" {
		t.Errorf("%s links to %s, where nothing has the name %s", name, link, part)
	}
}

// Markdown becomes HTML of the desk, and nothing else.
func TestMarkdown(t *testing.T) {
	m := newManual([]HelpPage{{Name: "other"}})
	for _, c := range []struct{ what, markdown, want string }{
		{"the title", "# Title\n\ntext", "<p>text</p>\n"},
		{"a heading", "# T\n\n## Next steps", "<h2 id=\"next-steps\">Next steps</h2>\n"},
		{"a link to a page", "[it](other.md)", "<p><a href=\"/desk/help/other\">it</a></p>\n"},
		{"a link into a page", "[it](other.md#part)", "<p><a href=\"/desk/help/other#part\">it</a></p>\n"},
		{"a link to a file", "[*it*](../other.yaml)", "<p><em>it</em></p>\n"},
		{"a link to a page that is not there", "[it](gone.md)", "<p>it</p>\n"},
		{"a script as a link", "[it](javascript:alert(1))", "<p>it</p>\n"},
		{"another site", "[it](https://example.org/)", "<p><a href=\"https://example.org/\">it</a></p>\n"},
		{"a picture in a link", "[![it](x.png)](y.png)", "<p>it</p>\n"},
		{"raw HTML", "a<b>c</b>", "<p>a<!-- raw HTML omitted -->c<!-- raw HTML omitted --></p>\n"},
		{"code", "```sh\nls <a> & \"b\"\n```",
			"<pre tabindex=\"0\"><code>ls &lt;a&gt; &amp; &quot;b&quot;\n</code></pre>\n"},
		{"indented code", "    a\n    <b>\n", "<pre tabindex=\"0\"><code>a\n&lt;b&gt;\n</code></pre>\n"},
		{"a table", "| a | b |\n| --- | ---: |\n| 1 | 2 |", "<div class=\"scroll\" tabindex=\"0\" role=\"group\" " +
			"aria-label=\"Table\"><table class=\"sheet\"><thead>\n<tr>\n<th>a</th>\n<th class=\"figure\">b</th>\n" +
			"</tr>\n</thead>\n<tbody>\n<tr>\n<td>1</td>\n<td class=\"figure\">2</td>\n</tr>\n</tbody>\n" +
			"</table></div>\n"},
	} {
		got, err := m.html(c.markdown)
		if err != nil || string(got) != c.want {
			t.Errorf("%s:\n%s\nwant\n%s%v", c.what, got, c.want, err)
		}
	}
}
