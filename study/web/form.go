package web

import (
	"net/http"
	"strings"
	"time"
)

const formInMemory = 8 << 20 // bytes of files that are kept in memory; the rest goes to the folder for temporary files

// readForm reads a form, with files if it may have more bytes than one without.
func readForm(r *http.Request, most int64) error {
	if strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") && most > largestForm {
		q := r.Context().Value(requestKey{}).(*routed)
		// Where a connection cannot be given more time it keeps what it has.
		_ = http.NewResponseController(q.w).SetReadDeadline(time.Now().Add(q.server.limits.upload))
		return r.ParseMultipartForm(formInMemory)
	}
	return r.ParseForm()
}
