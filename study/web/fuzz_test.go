package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study/web"
)

// Whatever a form says, the server answers, changes nothing for who may not, and shows no markup of others.
func FuzzForms(f *testing.F) {
	f.Add("name=Ravi&to=/guide", "application/x-www-form-urlencoded")
	f.Add("name=%00&to=%0d%0a", "application/x-www-form-urlencoded")
	f.Add("name=<script>&to=//evil.example", "text/plain")
	f.Add("--x\r\nContent-Disposition: form-data; name=\"name\"\r\n\r\nRavi\r\n--x--", "multipart/form-data; boundary=x")
	f.Add("%zz", "")
	shared := serve(f, newStudy(f), web.Options{})
	f.Fuzz(func(t *testing.T, body, kind string) {
		s := shared.in(t)
		if strings.ContainsAny(kind, "\r\n\x00") || strings.ContainsFunc(kind, func(c rune) bool {
			return c < ' ' ||
				c > '~'
		}) {
			t.Skip("no header can have it")
		}
		for _, path := range []string{"/name", "/enter", "/tint"} {
			got := s.do("POST", path, body, header("Content-Type", kind))
			assert.Contains(t, []int{http.StatusBadRequest, http.StatusForbidden, http.StatusUnprocessableEntity,
				http.StatusNotFound, http.StatusMethodNotAllowed}, got.StatusCode, "a form without the token of the session")
			assert.NotContains(t, got.body, "<script>alert")
		}
		got := s.do("POST", "/name", s.form("/name", "name", body, "to", kind))
		assert.Contains(t, []int{http.StatusSeeOther, http.StatusUnprocessableEntity}, got.StatusCode)
		if to := got.Header.Get("Location"); to != "" {
			u, err := url.Parse(to)
			assert.NoError(t, err)
			assert.Empty(t, u.Host)
		}
	})
}

// Whatever an address says, the server answers and goes on.
func FuzzAddresses(f *testing.F) {
	for _, path := range []string{"/coupons/A01", "/coupons/%2e%2e/x", "/coupons?part=-1&find=%00",
		"/coupons/a%2Ecsv.json",
		"/guide/..%2f", "//evil.example/", "/log?verb=<b>&part=99", "/coupons/A01/spectra.csv?thin=1",
		"/sessions.png?chart=9", "/tint.svg?angles=8,,;1e9&lab=NaN,1,2", "/tint?angles=8&camera=1,2,3&spread=-0"} {
		f.Add(path)
	}
	shared := serve(f, newStudy(f, coupons, exposures, pulls), web.Options{})
	f.Fuzz(func(t *testing.T, path string) {
		s := shared.in(t)
		if u, err := url.ParseRequestURI(path); err != nil || u.Host != "" || !strings.HasPrefix(path, "/") {
			t.Skip("no client can ask for it")
		}
		if strings.ContainsFunc(path, func(c rune) bool { return c <= ' ' || c > '~' }) {
			t.Skip("no client can ask for it")
		}
		got := s.get(path)
		assert.Less(t, got.StatusCode, 500, path)
		assert.Equal(t, http.StatusOK, s.get("/guide").StatusCode)
		for _, v := range s.visits.take() {
			assert.NoError(t, v.Fault, path)
		}
	})
}
