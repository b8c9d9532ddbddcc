package web

import (
	"context"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
)

// Who sends a head, a form or a file too slowly is cut off, a form after a page that says so; the server goes on.
func TestSlowConnectionsAreCutOff(t *testing.T) {
	d, err := desk.New(t.Context(), filepath.Join(t.TempDir(), "made-up.wane"),
		study.Settings{Correction: study.RouteNone, Mixing: "bruggeman"}, desk.Person{Name: "Ines"})
	require.NoError(t, err)
	s := New(d, Options{Who: "Ines"})
	s.limits.head, s.limits.read, s.limits.upload = time.Second, time.Second, time.Second
	l, err := Listen(t.Context(), "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- Serve(ctx, l, s) }()
	t.Cleanup(func() {
		stop()
		assert.NoError(t, <-ended)
		assert.NoError(t, s.Close())
		assert.NoError(t, d.Close())
	})
	host := "Host: " + l.Addr().String() + "\r\n"
	for _, of := range []struct{ name, sent, says string }{
		{"a head", "GET /today HTTP/1.1\r\n" + host + "X: ", ""},
		{"a form", "POST /name HTTP/1.1\r\n" + host +
			"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 1000\r\n\r\nname=", "Try:"},
		{"a file", "POST /enrol HTTP/1.1\r\n" + host + "Content-Type: multipart/form-data; boundary=x\r\n" +
			"Content-Length: 1000\r\n\r\n--x\r\nContent-Disposition: form-data; name=\"files\"; filename=\"a.csv\"\r\n\r\ncoupon", "Try:"},
	} {
		c, err := net.Dial("tcp", l.Addr().String())
		require.NoError(t, err, of.name)
		_, err = io.WriteString(c, of.sent)
		require.NoError(t, err, of.name)
		answer, err := io.ReadAll(c) // the end: the server has closed the connection
		require.NoError(t, err, of.name)
		assert.Contains(t, string(answer), of.says, of.name)
		require.NoError(t, c.Close(), of.name)
	}
	answer, err := http.Get("http://" + l.Addr().String() + "/guide")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	assert.Equal(t, http.StatusOK, answer.StatusCode)
}
