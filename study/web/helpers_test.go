package web_test

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
	"wane/study/web"
)

// day is the day of the clock of tests.
func day() time.Time { return time.Date(2031, 3, 23, 9, 0, 0, 0, time.UTC) }

// newStudy makes a study of these rosters.
func newStudy(t testing.TB, rosters ...string) *desk.Desk {
	d, _ := studyAt(t, rosters...)
	return d
}

// studyAt is newStudy, and returns where the study is.
func studyAt(t testing.TB, rosters ...string) (*desk.Desk, string) {
	t.Helper()
	folder := t.TempDir()
	d, err := desk.New(t.Context(), filepath.Join(folder, "made-up.wane"),
		study.Settings{Correction: study.RouteNone, Mixing: "bruggeman"}, desk.Person{Name: "Ines", Now: day})
	require.NoError(t, err)
	t.Cleanup(func() { _ = d.Close() }) // some tests take the file away
	var files []string
	for i, text := range rosters {
		file := filepath.Join(folder, string(rune('a'+i))+".csv")
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		files = append(files, file)
	}
	if len(files) > 0 {
		_, err = d.Enrol(t.Context(), files)
		require.NoError(t, err)
	}
	return d, filepath.Join(folder, "made-up.wane")
}

// coupons is a roster with names that would do harm if they were not escaped.
const coupons = "coupon,role,coating,supplier,lot,glass,glass_mm,exposure,back\n" +
	"A01,exposed,K,,,soda-lime,3.2,rack,matched\n" +
	"A02,control,K,,,soda-lime,3.2,,matched\n" +
	"<script>alert(1)</script>,exposed,K,,,soda-lime,3.2,rack,matched\n" +
	"a.csv,exposed,K,,,soda-lime,3.2,rack,matched\n" +
	"=cmd|x,exposed,K,,,soda-lime,3.2,rack,matched\n"

const exposures = "exposure,protocol,site,dose_unit,start\nrack,,,days,2031-01-02\n"

const pulls = "exposure,pull,dose,date\nrack,0,0,2031-01-01\nrack,1,30,2031-02-01\nrack,2,90,2031-04-01\n"

// served are pages that are served.
type served struct {
	t      testing.TB
	url    string
	host   string
	client *http.Client // with a jar of cookies
	visits *visits
}

// visits are the requests that were answered.
type visits struct {
	mu  sync.Mutex
	all []web.Visit
}

func (v *visits) add(one web.Visit) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.all = append(v.all, one)
}

// take returns the requests that were answered since it was called last.
func (v *visits) take() []web.Visit {
	v.mu.Lock()
	defer v.mu.Unlock()
	all := v.all
	v.all = nil
	return all
}

// in returns the same pages for a test within another.
func (s *served) in(t *testing.T) *served {
	inner := *s
	inner.t = t
	return &inner
}

// serve serves the pages of a study.
func serve(t testing.TB, d *desk.Desk, opt web.Options) *served {
	t.Helper()
	out := &served{t: t, visits: &visits{}}
	if opt.Who == "" {
		opt.Who = "Ines"
	}
	opt.Now = day
	opt.Log = out.visits.add
	s := web.New(d, opt)
	server := httptest.NewServer(s)
	t.Cleanup(func() { server.Close(); require.NoError(t, s.Close()) })
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	out.url, out.host = server.URL, strings.TrimPrefix(server.URL, "http://")
	out.client = &http.Client{Jar: jar, CheckRedirect: func(*http.Request,
		[]*http.Request) error {
		return http.ErrUseLastResponse
	}}
	return out
}

// answered is an answer with its body.
type answered struct {
	*http.Response
	body string
}

// do asks for a path, after change has changed the request.
func (s *served) do(method, path, form string, change ...func(*http.Request)) answered {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.t.Context(), method, s.url+path, strings.NewReader(form))
	require.NoError(s.t, err)
	if form != "" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for _, c := range change {
		c(r)
	}
	response, err := s.client.Do(r)
	require.NoError(s.t, err)
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	require.NoError(s.t, err)
	return answered{response, string(body)}
}

func (s *served) get(path string) answered { s.t.Helper(); return s.do("GET", path, "") }

var token = regexp.MustCompile(`name="csrf" value="([A-Z0-9]+)"`)

// form is the form of a page with its token and these values.
func (s *served) form(page string, values ...string) string {
	s.t.Helper()
	found := token.FindStringSubmatch(s.get(page).body)
	require.NotNil(s.t, found, "no form with a token")
	of := url.Values{"csrf": {found[1]}}
	for i := 0; i+1 < len(values); i += 2 {
		of.Set(values[i], values[i+1])
	}
	return of.Encode()
}

func header(name, value string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set(name, value) }
}
