package web_test

import (
	"bytes"
	"image"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/web"
)

// A picture that a measurement has is on the page of its coupon, and on no other; a file that only says it is a picture is
// kept by the browser, not shown; and no other file of the study is given.
func TestPicturesOfACoupon(t *testing.T) {
	d := newStudy(t, plain, exposures, pulls)
	folder := t.TempDir()
	var drawn bytes.Buffer
	require.NoError(t, png.Encode(&drawn, image.NewGray(image.Rect(0, 0, 3, 2))))
	const script = "<html><script>alert(1)</script>"
	require.NoError(t, os.WriteFile(filepath.Join(folder, "spot.png"), drawn.Bytes(), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "page.png"), []byte(script), 0o600))
	table := filepath.Join(folder, "haze.csv")
	require.NoError(t, os.WriteFile(table, []byte("coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note\n"+
		"A01,0,,haze,1.2,0.1,%,hazemeter,2031-01-03,Ines,spot.png,\nA01,1,,haze,1.3,0.1,%,hazemeter,2031-02-03,Ines,page.png,\n"), 0o600))
	in, err := d.Measure(t.Context(), []string{table})
	require.NoError(t, err)
	require.Empty(t, in.Refused)

	s := serve(t, d, web.Options{})
	at := regexp.MustCompile(`src="(/coupons/A01/pictures/[0-9a-f]{64})"`).FindAllStringSubmatch(s.get("/coupons/A01").body, -1)
	require.Len(t, at, 2)
	got := s.get(at[0][1])
	require.Equal(t, http.StatusOK, got.StatusCode)
	assert.Equal(t, "image/png", got.Header.Get("Content-Type"))
	assert.Equal(t, drawn.String(), got.body)
	got = s.get(at[1][1])
	assert.Equal(t, "application/octet-stream", got.Header.Get("Content-Type"))
	assert.Contains(t, got.Header.Get("Content-Disposition"), "attachment")

	assert.NotContains(t, s.get("/coupons/A02").body, "/pictures/")
	for _, path := range []string{"/coupons/A02/pictures/" + filepath.Base(at[0][1]), "/coupons/A01/pictures/00", "/coupons/A01/pictures/x"} {
		assert.Equal(t, http.StatusNotFound, s.get(path).StatusCode, path)
	}
}
