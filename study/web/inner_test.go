package web

import (
	"context"
	"errors"
	"math"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
)

// A curve that is thinned keeps its ends and each spike, wherever it is.
func TestThinnedKeepsSpikes(t *testing.T) {
	const n = 4001
	nm, values := make([]float64, n), make([]float64, n)
	for i := range nm {
		nm[i], values[i] = float64(300+i), math.Sin(float64(i)/300)
	}
	for _, at := range []int{1, 777, 2000, 3999} {
		for _, spike := range []float64{9, -9} {
			was := values[at]
			values[at] = spike
			x, y := thinned(nm, values, 700)
			assert.LessOrEqual(t, len(x), 700)
			assert.Contains(t, y, spike)
			assert.Equal(t, []float64{nm[0], nm[n-1]}, []float64{x[0], x[len(x)-1]})
			assert.IsIncreasing(t, x)
			values[at] = was
		}
	}
	x, _ := thinned(nm[:50], values[:50], 700)
	assert.Len(t, x, 50)
}

func TestAPanicEndsOneAnswer(t *testing.T) {
	s := &Server{busy: make(chan struct{}, 1), opt: Options{Now: time.Now}}
	w := httptest.NewRecorder()
	fault := s.answer(&counted{ResponseWriter: w}, httptest.NewRequest(http.MethodGet, "/today", nil)) // it has no study
	var caught *study.Fault
	require.ErrorAs(t, fault, &caught)
	assert.Equal(t, http.StatusInternalServerError, w.Code)
	assert.Contains(t, w.Body.String(), "fault of the program")
}

func TestSecretsAreCompared(t *testing.T) {
	assert.True(t, equal("abc", "abc"))
	for _, other := range []string{"", "ab", "abcd", "abd"} {
		assert.False(t, equal("abc", other), other)
	}
	assert.NotEqual(t, NewToken(), NewToken())
	assert.GreaterOrEqual(t, len(NewToken()), 26, "130 bits at 5 a letter")
}

func TestTheOldestSessionIsForgotten(t *testing.T) {
	now := time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)
	var s sessions
	s.init(func() time.Time { return now })
	var first *http.Cookie
	for i := range mostSessions + 1 {
		w := httptest.NewRecorder()
		s.begin(w, &request{Request: httptest.NewRequest(http.MethodGet, "/today", nil)}, false)
		if i == 0 {
			first = w.Result().Cookies()[0]
		}
		now = now.Add(time.Second)
	}
	assert.Len(t, s.all, mostSessions)
	r := httptest.NewRequest(http.MethodGet, "/today", nil)
	r.AddCookie(first)
	assert.Nil(t, s.of(r))
}

func TestASessionEnds(t *testing.T) {
	now := time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)
	var s sessions
	s.init(func() time.Time { return now })
	w := httptest.NewRecorder()
	s.begin(w, &request{Request: httptest.NewRequest(http.MethodGet, "/today", nil)}, true)
	r := httptest.NewRequest(http.MethodGet, "/today", nil)
	r.AddCookie(w.Result().Cookies()[0])
	require.NotNil(t, s.of(r))
	now = now.Add(longestSession + time.Second)
	assert.Nil(t, s.of(r))
}

func TestWhatAFailureSays(t *testing.T) {
	locked := &study.Failure{File: "s.wane", Fault: "another process holds the study", Try: "wait",
		Cause: errors.New("busy")}
	assert.Equal(t, http.StatusServiceUnavailable, statusOf(locked))
	assert.Equal(t, []troubleLine{{"s.wane: another process holds the study: busy", "wait"}}, linesOf(locked))
	several := study.Refusals{{Fault: "one", Try: "a"}, {Fault: "two", Try: "b"}}
	assert.Equal(t, []troubleLine{{"one", "a"}, {"two", "b"}}, linesOf(several))
	assert.Equal(t, http.StatusServiceUnavailable, statusOf(context.Canceled))
}

func TestLocalPath(t *testing.T) {
	for to, want := range map[string]string{"/guide": "/guide", "//evil.example": todayAt, "https://evil.example": todayAt,
		`/\evil.example`: todayAt, "/a\r\nSet-Cookie: x": todayAt, "": todayAt} {
		assert.Equal(t, want, localPath(to), to)
	}
}

// What is kept of the whole study is shown, with its line, until it is made of the next one; a failure does not take
// it away.
func TestKeptIsShownWhileItIsMadeAgain(t *testing.T) {
	s := &Server{opt: Options{Now: time.Now}, desk: &desk.Desk{}}
	s.ctx, s.stop = context.WithCancel(t.Context())
	defer s.Close()
	goOn, failing := make(chan struct{}), false
	k := keep(s, func(context.Context) (string, error) {
		<-goOn
		if failing {
			return "", &study.Failure{Fault: "the disk fails"}
		}
		return "all of it", nil
	})
	k.head = func(context.Context) (study.Entry, error) { return study.Entry{Number: 7}, nil }
	_, _, err := k.getSoon(t.Context(), 7)
	require.ErrorIs(t, err, errBeingMade)
	goOn <- struct{}{}
	s.works.Wait()
	of, upTo, err := k.get(t.Context(), 7)
	require.NoError(t, err)
	assert.Equal(t, "all of it", of)
	assert.Zero(t, upTo)

	failing = true
	of, upTo, err = k.get(t.Context(), 8) // line 8 was written, and is being read
	require.NoError(t, err)
	assert.Equal(t, "all of it", of)
	assert.EqualValues(t, 7, upTo)
	goOn <- struct{}{}
	s.works.Wait()
	of, upTo, err = k.within(t.Context(), 7, 0)
	require.NoError(t, err)
	assert.Equal(t, "all of it", of)
	assert.Zero(t, upTo)
}

// Numbers and plain words stand in their cell as they are; what could change the direction of what is around it, or looks
// like markup, stays within marks and is escaped.
func TestCellsSay(t *testing.T) {
	for text, want := range map[string]string{
		"-0.035 to 0.090": "-0.035 to 0.090", "98.7 ± 0.04 %": "98.7 ± 0.04 %", "": "",
		"<b>":    "<bdi>&lt;b&gt;</bdi>",
		"=cmd":   "<bdi>=cmd</bdi>",
		"\u05d0": "<bdi>\u05d0</bdi>",
	} {
		assert.Equal(t, want, string((&gridCell{Text: text}).Said()))
	}
	assert.NotContains(t, string((&gridCell{Text: "a\u202eb"}).Said()), "\u202e", "a mark that turns what follows around")
}

// A long table is shown in parts, whose addresses lead through all of it; a part beyond the end is the last one.
func TestPartsOfATable(t *testing.T) {
	rows := make([]int, 250)
	for i := range rows {
		rows[i] = i + 1
	}
	for _, c := range []struct {
		asked             string
		rows, first, last int
		before, after     string
	}{
		{"", 250, 1, 100, "", "2"}, {"2", 250, 101, 200, "1", "3"}, {"3", 250, 201, 250, "2", ""}, {"99", 250, 201, 250, "2", ""},
		{"-4", 100, 1, 100, "", ""}, {"1", 101, 1, 100, "", "2"}, {"x", 0, 0, 0, "", ""},
	} {
		q := &request{Request: httptest.NewRequest(http.MethodGet, "/x?part="+c.asked, nil)}
		p := q.part(c.rows, func(part string) string { return part })
		assert.Equal(t, part{From: c.first, To: c.last, Of: c.rows, Before: c.before, After: c.after}, p, c.asked)
		shown := partOf(rows[:c.rows], p)
		if c.rows == 0 {
			assert.Empty(t, shown)
			continue
		}
		assert.Equal(t, [2]int{c.first, c.last}, [2]int{shown[0], shown[len(shown)-1]})
	}
}
