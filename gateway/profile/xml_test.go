package profile

import (
	"fmt"
	"sync"
	"testing"
)

// Calls that evaluate the same XPath at the same time must each get the value of their own document.
func TestPathsAreShared(t *testing.T) {
	for _, path := range []string{
		"/a/@of", "//b[@k='x']", "string(/a/b[last()])", "concat('+', /a/c/d)", "substring-after(/a/@of, ':')",
		"normalize-space(concat(/a/@of, ' ', string(/a/b[1])))", "/a/b[position()=2]", "string(/a/b[count(/a/b)])",
		"number(/a/@n)", "sum(/a/n)", "/a/b[contains(., '-')][1]", "(/a/b)[2]", "string(//*[@k='x' and not(@z)])",
		"/a/@of | /a/@never", "string(/a/c/d/ancestor::a/@of)", "translate(/a/@of, ':', '')", "/a/b[@k=/a/want]",
		"string(/a/@n + 1)",
	} {
		t.Run(path, func(t *testing.T) {
			f := must(newField(XML, path))
			read := func(i int) any {
				body := fmt.Sprintf("<a of='p:%d' n='%d'><want>x</want><n>%d</n><b k='x'>b-%d</b><b "+
					"k='y'>last-%d</b><c><d>d%d</d></c></a>", i, i, i, i, i, i)
				return must(must(Parse(XML, Charset{}, []byte(body))).Value(f))
			}
			var want []any
			for i := range 16 {
				want = append(want, read(i))
			}
			var all sync.WaitGroup
			for i := range want {
				all.Go(func() {
					for range 30 {
						if got := read(i); got != want[i] {
							t.Errorf("call %d: %v, want %v", i, got, want[i])
							return
						}
					}
				})
			}
			all.Wait()
		})
	}
}
