package placing_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A map whose rows have no end, or that names one file without end, is refused before it
// is held.
func TestMapIsBounded(t *testing.T) {
	const head = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\na.csv,#2,A,0,1,8,u,R,percent\n"
	write := func(text string) string {
		path := filepath.Join(t.TempDir(), "map.csv")
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	for name, text := range map[string]string{
		"one long line": head + strings.Repeat("b", 2<<20),
		"an open quote": head + `"` + strings.Repeat("c.csv,#2,A,0,1,8,u,R,percent\n", 1<<16),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := openRules(write(text))
			require.ErrorContains(t, err, "map.csv:3: a row is longer than 1 MiB from here")
		})
	}
	t.Run("one file", func(t *testing.T) {
		var text strings.Builder
		text.WriteString(head)
		for i := range 10_000 {
			fmt.Fprintf(&text, "a.csv,#%d,A,0,%d,8,u,R,percent\n", i+3, i+3)
		}
		path := write(text.String())
		rules, err := openRules(path)
		require.NoError(t, err)
		defer func() { require.NoError(t, rules.Close()) }()
		_, err = rules.For(filepath.Join(filepath.Dir(path), "a.csv"))
		require.ErrorContains(t, err, "map.csv:10002: column file: a.csv has more than 10,000 rows")
	})
}
