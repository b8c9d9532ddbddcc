package placing

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func mapAt(t *testing.T, rows ...string) *os.File {
	path := filepath.Join(t.TempDir(), "map.csv")
	text := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n" + strings.Join(rows, "\n") + "\n"
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	file, err := os.Open(path)
	require.NoError(t, err)
	return file
}

func mapRow(file string, spot int) string { return fmt.Sprintf("%s,#2,A1,0,%d,8,u,R,", file, spot) }

// Whatever two files have in common, even the hash of their paths, neither is taken for
// the other.
func TestHashesOfFilesMayBeEqual(t *testing.T) {
	rows := []string{mapRow("a", 1), mapRow("b", 2), mapRow("b", 3), mapRow("a", 4), mapRow("c", 5)}
	for name, hash := range map[string]func(string) uint64{
		"all alike": func(string) uint64 { return 7 },
		"two of them": func(key string) uint64 {
			return uint64(len(filepath.Base(key)) + strings.Count(filepath.Base(key), "c"))
		},
		"none": seededHash(),
	} {
		t.Run(name, func(t *testing.T) {
			file := mapAt(t, rows...)
			path := file.Name()
			m, err := openMap(file.Name(), file, hash)
			require.NoError(t, err)
			rules := &Rules{rows: m}
			defer func() { require.NoError(t, rules.Close()) }()
			for file, want := range map[string][]string{"a": {"1", "4"}, "b": {"2", "3"}, "c": {"5"}, "d": nil} {
				at := filepath.Join(filepath.Dir(path), file)
				lines, err := rules.For(at)
				require.NoError(t, err)
				var spots []string
				for _, l := range lines {
					spots = append(spots, l.Row.Spot)
				}
				assert.Equal(t, want, spots, file)
				assert.Equal(t, want != nil, rules.Names(at), file)
			}
			var files []string
			for f, err := range rules.Files() {
				require.NoError(t, err)
				files = append(files, filepath.Base(f))
			}
			assert.Equal(t, []string{"a", "b", "c"}, files)
		})
	}
}

// What is kept of a map are 16 bytes a file, if its rows stand together.
func TestMapKeepsLittle(t *testing.T) {
	file := mapAt(t, mapRow("a", 1), mapRow("a", 2), "# a comment", "", mapRow("a", 3), mapRow("b", 1))
	m, err := openMap(file.Name(), file, seededHash())
	require.NoError(t, err)
	assert.Len(t, m.runs, 2)
	assert.EqualValues(t, 16, unsafe.Sizeof(run{}))
	require.NoError(t, m.file.Close())
}

// A pattern against all ways to fit it, which are tried one by one here.
func TestSpansAreAllWays(t *testing.T) {
	texts := []string{""}
	for i := 0; len(texts[i]) < 7; i++ { // all of up to 7 letters
		for _, c := range "a-b" {
			texts = append(texts, texts[i]+string(c))
		}
	}
	for _, pattern := range []string{"a", "*", "{x}", "a{x}", "{x}a", "{x}-{y}", "*-{x}", "{x}-*", "*-{x}-*",
		"{x}a{y}-{z}", "a*b{x}-*a", "{x}--{y}", "*a*b*", "-{x}ab{y}-"} {
		p, err := parsePattern(pattern)
		require.NoError(t, err)
		for _, text := range texts {
			ways := map[string]bool{}
			addWays(&p, 0, text, nil, ways)
			caught := map[string]string{}
			ok, err := p.match(text, caught)
			require.Equal(t, len(ways) > 0, ok, "%q %q", pattern, text)
			require.Equal(t, len(ways) > 1, err != nil, "%q %q: %v", pattern, text, ways)
			if len(ways) == 1 {
				var values []string
				for _, name := range p.names() {
					values = append(values, caught[name])
				}
				require.True(t, ways[strings.Join(values, "|")], "%q %q: %v %v", pattern, text, ways, caught)
			}
		}
	}
}

// addWays adds what the named gaps can be, from a gap on for the rest of a text.
func addWays(p *pattern, gap int, text string, before []string, to map[string]bool) {
	rest, ok := strings.CutPrefix(text, p.literals[gap])
	switch {
	case !ok || gap == len(p.gaps) && rest != "":
		return
	case gap == len(p.gaps):
		to[strings.Join(before, "|")] = true
		return
	}
	name := p.gaps[gap]
	for n := min(len(name), 1); n <= len(rest); n++ {
		held := before[:len(before):len(before)]
		if name != "" {
			held = append(held, rest[:n])
		}
		addWays(p, gap+1, rest[n:], held, to)
	}
}
