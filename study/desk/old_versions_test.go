package desk

import (
	"compress/gzip"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// oldStudies are studies of every version of the study file that programs were released with, in
// ../store/testdata: every 8th row of made-up exports of testdata/exports, of a coupon at two pulls and of a blank,
// taken in and fitted by the last program of that version, from version 4 on with a measurement, and from version 6
// on with a reading that was set aside and released. That of version 9 has an amendment, a withdrawal, a move, an
// export that was replaced, events, kept tables, a protocol, a blind sheet and a merged study, too; that of version 10 is
// the same with a rule and its verdicts, one of them issued again after an amendment. Version 3 came into the program
// together with version 4, so that no file has it. The hash and the solar transmittances are what that program printed
// by wane verify and wane results.
var oldStudies = []struct {
	version int
	head    string
	solarT  []float64 // of A1 at pulls 0 and 1, of B1, and of the merged C1
}{
	{2, "03f0de39dc4a17b6cdf05b2fcd4679429b40f813e48b56dbcdba1568f7d62c56",
		[]float64{0.9862296155117966, 0.9833538984988339, 0.9573997903605687}},
	{4, "e1d1d731f086dd52981a1974f0667b0d16e2bf50e27dd205358be336fc96cb16",
		[]float64{0.9862382615336106, 0.9833694514079766, 0.9573707694978174}},
	{6, "c27ac7399badea5b2ead83bf1ea83dd445100752ff667ccfd2f1ab39cf1d09e5",
		[]float64{0.9862382615336106, 0.9833694514079766, 0.9573707694978174}},
	{7, "5c0583816a2001549960f93e4924ec196bb99cbcbba3aac7c0560f601caacc70",
		[]float64{0.9861178479013359, 0.9833454078063675, 0.9574112960052826}},
	{8, "ceaa137b39c2617a80fb15a92947308f07a61891444e9ee8b8afa26e40eb2f0b",
		[]float64{0.9861177665478112, 0.9833453382106376, 0.9574113000485193}},
	{9, "92925023872c1700643805feb81e764a16dd8fbe01b927a7fb7afed9b7fca650",
		[]float64{0.9862470882442439, 0.9832164151226086, 0.9574297883553682, 0.9831700293213094}},
	{10, "6af57e01fdaeac7a5a7e6f7c1aa5891a49139b826e0d0f461c8990c948d40a1d",
		[]float64{0.9862470882442439, 0.9832164151226086, 0.9574297883553682, 0.9831700293213094}},
}

// A study of every version opens, is brought up to date, and has its history and its results. An export of it makes an
// equal study.
func TestStudiesOfEveryVersion(t *testing.T) {
	for _, old := range oldStudies {
		t.Run(fmt.Sprintf("version %d", old.version), func(t *testing.T) {
			ctx, path := t.Context(), filepath.Join(t.TempDir(), "old.wane")
			require.NoError(t, os.WriteFile(path, unpacked(t, fmt.Sprintf("../store/testdata/study-v%d.wane.gz", old.version)),
				0o600))
			d, err := Open(ctx, path, tester())
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, d.Close()) })
			v, err := d.Verify(ctx, VerifyOptions{})
			require.NoError(t, err)
			assert.True(t, v.Sound(), "%+v", v.Store.Findings)
			assert.Equal(t, old.head, hex.EncodeToString(v.Store.Head[:]))
			var solarT []float64
			require.NoError(t, d.Results(ctx, ResultsOptions{}, func(r *study.Result) error {
				solarT = append(solarT, float64(r.SolarT.Value))
				return nil
			}))
			assert.Equal(t, old.solarT, solarT)
			if old.version >= 10 {
				rules, err := d.Rules(ctx, RuleOptions{})
				require.NoError(t, err)
				require.Len(t, rules, 1)
				assert.Len(t, rules[0].Issued, 3)
			}
			rebuilt(t, d)
		})
	}
}

func unpacked(t *testing.T, name string) []byte {
	t.Helper()
	packed, err := os.Open(name)
	require.NoError(t, err)
	defer packed.Close()
	reader, err := gzip.NewReader(packed)
	require.NoError(t, err)
	data, err := io.ReadAll(reader)
	require.NoError(t, err)
	return data
}
