package web

import (
	"context"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
)

// started is a server whose fit waits until it is let go.
func started(t *testing.T) (s *Server, d *desk.Desk, letGo func()) {
	d, err := desk.New(t.Context(), filepath.Join(t.TempDir(), "made-up.wane"),
		study.Settings{Correction: study.RouteNone, Mixing: "bruggeman"}, desk.Person{Name: "Ines"})
	require.NoError(t, err)
	s = New(d, Options{Who: "Ines"})
	waits := make(chan struct{})
	s.lasts.fit = s.begin("Ines", "spot", func(_ context.Context, progress desk.Progress) (any, error) {
		progress(3, 8)
		<-waits
		progress(8, 8)
		return &desk.Fitted{Fits: 8}, nil
	})
	t.Cleanup(func() { require.NoError(t, s.Close()); require.NoError(t, d.Close()) })
	return s, d, func() { close(waits) }
}

// One fit goes on at a time: who asks for another one joins it.
func TestASecondFitJoinsTheFirst(t *testing.T) {
	s, d, letGo := started(t)
	ravi, err := d.As("Ravi")
	require.NoError(t, err)
	joined, isJoined := s.beginFit(ravi)
	assert.True(t, isJoined)
	assert.Equal(t, "Ines", joined.Who)
	letGo()
	<-joined.ended
	next, isJoined := s.beginFit(ravi)
	assert.False(t, isJoined)
	assert.Equal(t, "Ravi", next.Who)
	<-next.ended
}

// The stream says how far the fit is and that it has ended. Those who read it keep nobody waiting.
func TestProgressIsStreamed(t *testing.T) {
	s, _, letGo := started(t)
	server := httptest.NewServer(s)
	defer server.Close()
	get := func(path string) *http.Response {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+path, nil)
		require.NoError(t, err)
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		return answer
	}
	require.Eventually(t, func() bool { return s.lastFit().State().Total == 8 }, 5*time.Second, time.Millisecond)
	var open []*http.Response
	for range mostAtOnce + 3 {
		open = append(open, get("/fit/progress"))
	}
	page := get("/guide")
	assert.Equal(t, http.StatusOK, page.StatusCode)
	require.NoError(t, page.Body.Close())
	letGo()
	for _, answer := range open {
		var text strings.Builder
		buffer := make([]byte, 512)
		for {
			n, err := answer.Body.Read(buffer)
			text.Write(buffer[:n])
			if err != nil {
				break
			}
		}
		require.NoError(t, answer.Body.Close())
		assert.Equal(t, "text/event-stream", answer.Header.Get("Content-Type"))
		assert.Contains(t, text.String(), `data: {"done":3,"total":8,"words":"3 of 8 spots"}`)
		assert.True(t, strings.HasSuffix(text.String(), "event: ended\ndata: {}\n\n"), text.String())
	}
}

// A panic in the background is a fault of the program that the page says; the server goes on.
func TestAPanicInTheBackgroundIsSaid(t *testing.T) {
	s, _, letGo := started(t)
	letGo()
	k := s.begin("Ines", "spot", func(context.Context, desk.Progress) (any, error) { panic("made up") })
	<-k.ended
	_, err := k.came()
	require.Error(t, err)
	assert.Equal(t, http.StatusInternalServerError, statusOf(err))
}
