package web_test

import (
	"context"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/web"
)

func TestServeEndsWithItsContext(t *testing.T) {
	l, err := web.Listen(t.Context(), "127.0.0.1:0")
	require.NoError(t, err)
	s := web.New(newStudy(t), web.Options{Who: "Ines", Now: day})
	defer s.Close()
	s.Warm()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- web.Serve(ctx, l, s) }()
	response, err := http.Get("http://" + l.Addr().String() + "/guide")
	require.NoError(t, err)
	require.NoError(t, response.Body.Close())
	assert.Equal(t, http.StatusOK, response.StatusCode)
	cancel()
	require.NoError(t, <-ended)
	_, err = http.Get("http://" + l.Addr().String() + "/guide")
	assert.Error(t, err, "nobody listens any more")
}
