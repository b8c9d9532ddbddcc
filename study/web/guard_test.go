package web_test

import (
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/web"
)

func TestHostOfAnotherNameIsRefused(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{Hosts: []string{"lab-pc"}})
	_, port, _ := strings.Cut(s.host, ":")
	for _, host := range []string{"evil.example:" + port, "evil.example", "192.0.2.1:" + port, "127.0.0.1.evil.example"} {
		got := s.do("GET", "/today", "", func(r *http.Request) { r.Host = host })
		assert.Equal(t, http.StatusMisdirectedRequest, got.StatusCode, host)
		assert.NotContains(t, got.body, "csrf", host)
		assert.Contains(t, got.body, "--host", "what to try")
		assert.NotContains(t, got.body, "made-up.wane", "not even the name of the study")
	}
	for _, host := range []string{"localhost:" + port, "127.0.0.1:" + port, "[::1]:" + port, "LAB-PC:" + port} {
		assert.Equal(t, http.StatusOK, s.do("GET", "/today", "", func(r *http.Request) { r.Host = host }).StatusCode, host)
	}
}

func TestEveryAnswerHasThePolicies(t *testing.T) {
	s := serve(t, newStudy(t, coupons, exposures, pulls), web.Options{})
	for _, path := range []string{"/today", "/nothing", "/files/wane.css", "/files/nothing", "/today.csv", "/today.svg"} {
		h := s.get(path).Header
		assert.Contains(t, h.Get("Content-Security-Policy"), "default-src 'none'", path)
		assert.Contains(t, h.Get("Content-Security-Policy"), "frame-ancestors 'none'", path)
		assert.NotContains(t, h.Get("Content-Security-Policy"), "script-src 'unsafe", path)
		assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), path)
		assert.Equal(t, "same-origin", h.Get("Referrer-Policy"), path)
	}
}

func TestPagesHaveNoScriptOrStyleOfTheirOwn(t *testing.T) {
	s := serve(t, newStudy(t, coupons, exposures, pulls), web.Options{})
	for _, path := range s.pages() {
		body := s.get(path).body
		assert.NotRegexp(t, `<script(?:>| (?:[^s]|s[^r]))`, body, path)
		assert.NotRegexp(t, `(?i)<style|\sstyle=|\son[a-z]+=|javascript:`, body, path)
	}
}

// pages are the addresses of pages of any study.
func (s *served) pages() []string {
	return []string{"/today", "/coupons", "/coupons/A01", "/coupons/A01/spectra", "/coatings", "/coatings/compare",
		"/rules", "/coupons/A01/fit",
		"/enrol", "/measure", "/events", "/intake", "/judge", "/fit", "/move", "/amend", "/report", "/sessions", "/log",
		"/guide", "/name", "/nothing", "/coupons/nobody"}
}

func TestAChangeOfAnotherSiteIsRefused(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	form := s.form("/name", "name", "Mallory")
	for name, change := range map[string]func(*http.Request){
		"cross-site":             header("Sec-Fetch-Site", "cross-site"),
		"same-site":              header("Sec-Fetch-Site", "same-site"),
		"origin of another site": header("Origin", "http://evil.example"),
		"origin of another port": header("Origin", "http://127.0.0.1:1"),
		"null origin":            header("Origin", "null"),
	} {
		assert.Equal(t, http.StatusForbidden, s.do("POST", "/name", form, change).StatusCode, name)
	}
	got := s.do("POST", "/name", "name=Mallory")
	assert.Equal(t, http.StatusForbidden, got.StatusCode, "a form without a token")
	assert.Equal(t, http.StatusForbidden, s.do("POST", "/name", "name=Mallory&csrf=WRONG").StatusCode)
	assert.NotContains(t, s.get("/today").body, "Mallory")

	// A token of another session, and a form whose cookie is gone.
	other := serve(t, newStudy(t), web.Options{})
	assert.Equal(t, http.StatusForbidden, other.do("POST", "/name", form).StatusCode)
	s.client.Jar = nil
	assert.Equal(t, http.StatusForbidden, s.do("POST", "/name", form).StatusCode)
}

func TestAChangeLeadsToAPageThatSaysIt(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	got := s.do("POST", "/name", s.form("/name", "name", "Ravi", "to", "/guide"), header("Sec-Fetch-Site", "same-origin"),
		header("Origin", s.url))
	require.Equal(t, http.StatusSeeOther, got.StatusCode)
	assert.Equal(t, "/guide", got.Header.Get("Location"))
	assert.Contains(t, s.get("/guide").body, "logged as Ravi")
	assert.NotContains(t, s.get("/guide").body, "logged as Ravi", "it is said once")

	away := s.do("POST", "/name", s.form("/name", "name", "Ravi", "to", "//evil.example/"))
	assert.Equal(t, "/today", away.Header.Get("Location"))
}

func TestNothingChangesByGet(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	s.get("/name?" + s.form("/name", "name", "Mallory"))
	assert.NotContains(t, s.get("/today").body, "Mallory")
	assert.Equal(t, http.StatusMethodNotAllowed, s.do("DELETE", "/today", "").StatusCode)
}

func TestTheCookieIsKeptFromScriptsAndOtherSites(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	cookies := s.get("/today").Cookies()
	require.Len(t, cookies, 1)
	assert.True(t, cookies[0].HttpOnly)
	assert.Equal(t, http.SameSiteStrictMode, cookies[0].SameSite)
	assert.NotContains(t, s.get("/name").body, cookies[0].Value, "the cookie is not in a page")
	assert.Empty(t, s.get("/today").Cookies(), "a browser that is known keeps its session")

	// A link of another site leads here without the cookie: the session is not thrown away for that.
	s.client.Jar = nil
	away := s.do("GET", "/guide", "", header("Sec-Fetch-Site", "cross-site"), header("Sec-Fetch-Mode", "navigate"))
	assert.Empty(t, away.Cookies())
	assert.Contains(t, away.body, `http-equiv="refresh"`)
}

func TestTheTokenLetsIn(t *testing.T) {
	const secret = "MADEUPTOKENMADEUPTOKEN"
	s := serve(t, newStudy(t), web.Options{Token: secret})
	got := s.get("/today")
	assert.Equal(t, http.StatusUnauthorized, got.StatusCode)
	assert.Contains(t, got.body, "Copy the token")
	assert.NotContains(t, got.body, "readings held")
	assert.NotContains(t, got.body, "made-up.wane", "not even the name of the study")
	assert.Equal(t, http.StatusUnauthorized, s.do("POST", "/enter", "token=WRONG&to=/guide").StatusCode)
	assert.Equal(t, http.StatusUnauthorized, s.get("/today?token="+secret).StatusCode, "never in an address")

	in := s.do("POST", "/enter", "token="+secret+"&to=/guide")
	require.Equal(t, http.StatusSeeOther, in.StatusCode)
	assert.Equal(t, "/name?to=%2Fguide", in.Header.Get("Location"), "who comes is asked for the name")
	require.Len(t, in.Cookies(), 1)
	assert.NotContains(t, in.Cookies()[0].String(), secret)
	assert.Equal(t, http.StatusOK, s.get("/today").StatusCode)
	for _, v := range s.visits.take() {
		assert.NotContains(t, v.Path, secret, "what is logged")
	}
	assert.Equal(t, http.StatusForbidden,
		s.do("POST", "/enter", "token="+secret, header("Sec-Fetch-Site", "cross-site")).StatusCode)
}

func TestAProgramReadsWithTheTokenAndChangesNothing(t *testing.T) {
	const secret = "MADEUPTOKENMADEUPTOKEN"
	s := serve(t, newStudy(t), web.Options{Token: secret})
	with := header("Authorization", "Bearer "+secret)
	assert.Equal(t, http.StatusOK, s.do("GET", "/today.json", "", with).StatusCode)
	assert.Equal(t, http.StatusUnauthorized, s.do("GET", "/today.json", "", header("Authorization",
		"Bearer no")).StatusCode)
	assert.Equal(t, http.StatusForbidden, s.do("POST", "/name", "name=Mallory", with).StatusCode)
}

func TestAFormThatIsTooLargeIsRefused(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	form := s.form("/name", "name", strings.Repeat("a", 1<<20))
	got := s.do("POST", "/name", form)
	assert.NotEqual(t, http.StatusSeeOther, got.StatusCode)
	assert.Contains(t, got.body, "larger than 1 MB")
	assert.Equal(t, http.StatusOK, s.get("/today").StatusCode, "the server goes on")
}

func TestANameThatWouldNotShowInTheLogIsRefused(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	got := s.do("POST", "/name", s.form("/name", "name", "Ra\u202evi"))
	assert.Equal(t, http.StatusUnprocessableEntity, got.StatusCode)
	assert.Contains(t, got.body, "Try:")
}

func TestReadOnly(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{ReadOnly: true})
	got := s.do("POST", "/name", s.form("/name", "name", "Ravi"))
	assert.Equal(t, http.StatusForbidden, got.StatusCode)
	assert.Contains(t, got.body, "without --read-only")
}

func TestAStudyThatWasReplacedIsNotRead(t *testing.T) {
	d, path := studyAt(t)
	s := serve(t, d, web.Options{})
	require.Equal(t, http.StatusOK, s.get("/today").StatusCode)
	require.NoError(t, os.Rename(path, path+".away"))
	got := s.get("/today")
	assert.Equal(t, http.StatusServiceUnavailable, got.StatusCode)
	assert.Contains(t, got.body, "moved, renamed or removed")
	assert.Contains(t, got.body, "start it again")
	require.NoError(t, os.WriteFile(path, []byte("another file"), 0o600))
	assert.Contains(t, s.get("/today").body, "another file has taken the place")
	require.NoError(t, os.Rename(path+".away", path))
	assert.Equal(t, http.StatusOK, s.get("/today").StatusCode, "it is back")
}

func TestAPortInUse(t *testing.T) {
	l, err := web.Listen(t.Context(), "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	assert.True(t, web.IsLoopback(l))
	_, err = web.Listen(t.Context(), l.Addr().String())
	require.ErrorContains(t, err, "is in use")
	_, err = web.Listen(t.Context(), "127.0.0.1:99999")
	require.ErrorContains(t, err, "cannot be listened at")
}

func TestNamesOfFilesAreOnlyLookedUp(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	for _, path := range []string{"/files/", "/files/../go.mod", "/files/..%2f..%2fserve.go", "/files/%2e%2e/serve.go",
		"/files/pages/layout.html", "/files//etc/passwd"} {
		got := s.get(path)
		assert.NotEqual(t, http.StatusOK, got.StatusCode, path)
	}
	assert.Equal(t, http.StatusOK, s.get("/files/uplot-1.6.32.LICENSE.txt").StatusCode)
}
