package web_test

import (
	"compress/gzip"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/web"
)

// Figures and numbers are sent in gzip to those who take it, with the same content; pages, which hold tokens, never are.
func TestFilesArePacked(t *testing.T) {
	s := serve(t, evaluated(t), web.Options{})
	const coupon = "/coupons/A%3Cb%3E1"
	for _, page := range []string{coupon + "/material.svg", coupon + "/spectra.json"} {
		plain := s.do("GET", page, "", header("Accept-Encoding", "identity"))
		require.Equal(t, 200, plain.StatusCode, page)
		assert.Empty(t, plain.Header.Get("Content-Encoding"), page)
		for _, takes := range []string{"gzip", "deflate, gzip;q=0.5"} {
			packed := s.do("GET", page, "", header("Accept-Encoding", takes))
			require.Equal(t, "gzip", packed.Header.Get("Content-Encoding"), page)
			assert.Equal(t, plain.Header.Get("Content-Type"), packed.Header.Get("Content-Type"))
			assert.Contains(t, packed.Header.Get("Vary"), "Accept-Encoding")
			in, err := gzip.NewReader(strings.NewReader(packed.body))
			require.NoError(t, err)
			of, err := io.ReadAll(in)
			require.NoError(t, err)
			assert.Equal(t, plain.body, string(of), page)
			assert.Less(t, len(packed.body), len(plain.body)/2)
		}
		not := s.do("GET", page, "", header("Accept-Encoding", "gzip;q=0, br"))
		assert.Equal(t, plain.body, not.body, page)
	}
	assert.Empty(t, s.do("GET", coupon, "", header("Accept-Encoding", "gzip")).Header.Get("Content-Encoding"))
}
