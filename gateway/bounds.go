package gateway

import (
	"fmt"
	"net/http"
	"strings"

	"rowbell/gateway/problem"
)

// maxHeaders bounds the headers of a request: a network needs a dozen.
const maxHeaders = 100

// bound refuses what no network needs to send, before anything is read.
func bound(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		// The server drops a Content-Length that comes with chunks (RFC 9112
		// section 6.3). A proxy may have gone by it, so nothing that follows on
		// this connection is taken for a request.
		if len(r.TransferEncoding) > 0 && r.ProtoMajor == 1 {
			w.Header().Set("Connection", "close")
		}
		n := 0
		for _, values := range r.Header {
			n += len(values)
		}
		if n > maxHeaders {
			problem.New(http.StatusRequestHeaderFieldsTooLarge, fmt.Sprintf("The request has more than %d headers.", maxHeaders)).Write(w)
			return
		}
		if coded := strings.Join(r.Header.Values("Content-Encoding"), ","); coded != "" && !strings.EqualFold(coded, "identity") {
			w.Header().Set("Accept-Encoding", "identity") // RFC 9110 section 15.5.16
			problem.New(http.StatusUnsupportedMediaType, "Send the body as it is, without Content-Encoding.").Write(w)
			return
		}
		next.ServeHTTP(w, r)
	})
}
