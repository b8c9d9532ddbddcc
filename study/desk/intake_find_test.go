package desk

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// zip packs texts and returns the path of the zip file.
func (f folder) zip(name string, texts map[string]string, order ...string) string {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, member := range order {
		m, err := w.Create(member)
		require.NoError(f.tb, err)
		_, err = m.Write([]byte(texts[member]))
		require.NoError(f.tb, err)
	}
	require.NoError(f.tb, w.Close())
	return f.write(name, b.String())
}

func (f folder) text(path string) string {
	data, err := os.ReadFile(path)
	require.NoError(f.tb, err)
	return string(data)
}

// The same bytes are one export, in a folder and in a zip file, and are known under either name.
func TestIntakeOfZipIsThatOfTheFile(t *testing.T) {
	ctx, opt := context.Background(), IntakeOptions{Workers: 2}
	f := newFolder(t)
	d := f.start()
	text := f.text(f.export("a.csv", 120, 0, 1))
	packed := f.zip("pull0.zip", map[string]string{"in/a.csv": text, "in/readme.txt": "made up"}, "in/readme.txt",
		"in/a.csv")
	zipMap := f.write("zip.csv", mapHeader+rows("pull0.zip/in/a.csv", "E1", 0))
	in, err := d.Intake(ctx, zipMap, []string{packed}, opt)
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	assert.Equal(t, []int{1, 2, 0, 1}, []int{in.Files, in.Curves, in.Known, in.Skipped})
	assert.Equal(t, []string{"skipped, since the map " + zipMap + " has no row for them: " + packed + "/in/readme.txt"},
		in.Notes)
	assert.Contains(t, dump(t, d), `"a.csv"`, "its own name")

	before := dump(t, d)
	in, err = d.Intake(ctx, zipMap, nil, opt)
	require.NoError(t, err)
	assert.Equal(t, TakenIn{Known: 1}, *in)
	in, err = d.Intake(ctx, f.write("map.csv", mapHeader+rows("a.csv", "E1", 0)), nil, opt)
	require.NoError(t, err)
	assert.Equal(t, TakenIn{Known: 1}, *in, "the file itself is known")
	assert.Equal(t, before, dump(t, d))
}

// A file that cannot be taken in is refused if the map or the person names it, and otherwise skipped. The
// map itself and the study are no exports.
func TestIntakeOfAFolder(t *testing.T) {
	ctx, opt := context.Background(), IntakeOptions{Workers: 2}
	f := newFolder(t)
	d := f.start()
	f.export("lab/b.csv", 120, 0, 1)
	f.export("lab/a/a.csv", 119, 0, 2)
	f.write("lab/broken.zip", "no zip file")
	f.write("lab/old.wane", "a study")
	f.write("lab/old.wane-wal", "what stands beside it")
	m := f.write("lab/map.csv", mapHeader+rows("b.csv", "E1", 0)+rows("a/a.csv", "C1", 0))
	lab := filepath.Join(f.path, "lab")
	in, err := d.Intake(ctx, m, []string{lab, lab}, opt)
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	assert.Equal(t, []int{2, 4, 0, 1}, []int{in.Files, in.Curves, in.Known, in.Skipped})
	assert.Contains(t, in.Notes[0], "broken.zip")

	in, err = d.Intake(ctx, m, []string{lab, lab + "/broken.zip"}, opt)
	require.NoError(t, err)
	require.Len(t, in.Refused, 1, "named, in whatever order")
	refused(t, in.Refused[0], "broken.zip: this is no zip file")
	assert.Equal(t, []int{0, 0, 2, 0}, []int{in.Files, in.Curves, in.Known, in.Skipped})

	m = f.write("lab/map.csv", mapHeader+rows("b.csv", "E1", 0)+rows("broken.zip/in/a.csv", "C1", 0))
	in, err = d.Intake(ctx, m, []string{lab}, opt)
	require.NoError(t, err)
	require.Len(t, in.Refused, 1, "the map names a member of it")
	refused(t, in.Refused[0], "broken.zip: this is no zip file")

	_, err = d.Intake(ctx, f.write("map.csv", mapHeader+rows("b.csv", "E1", 0)), []string{lab}, opt)
	refused(t, err, "the map has no row for any of the 4 files found")
}

// The memory of an intake does not grow with the number of files, of members of a zip file or with their
// contents. It is measured after each commit, while the writer is held up: the readers go on until the
// pending memory is full. When two measurements after a garbage collection agree, they are of the live
// heap, however busy the machine is.
func TestIntakeHoldsFewFiles(t *testing.T) {
	const members, pad = 1000, 100_000
	f := newFolder(t)
	d := f.start()
	base := f.text(f.export("a.csv", 120, 0, 1))
	head, curves, ok := strings.Cut(base, "\n")
	require.True(t, ok)
	texts, order, placing := map[string]string{}, []string{}, strings.Builder{}
	line := strings.Repeat("little", 160) + "\n" // few lines of few words: each is searched for a meaning
	note := strings.Repeat(line, pad/len(line))
	for i := range members {
		name := fmt.Sprintf("%04d.csv", i)
		texts[name] = fmt.Sprintf("%s, spot %d\n%s%s", head, i, note, curves)
		order = append(order, name)
		fmt.Fprintf(&placing, "many.zip/%s,#2,E1,0,%d,8,u,R,percent\n", name, i)
		if i == 0 {
			f.write("first.csv", mapHeader+placing.String())
		}
	}
	packed := f.zip("many.zip", texts, order...)
	texts = nil
	m := f.write("map.csv", mapHeader+placing.String())
	live := func() int64 {
		const still = 1 << 16 // bytes
		for last := int64(-still); ; {
			var s runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&s)
			now := int64(s.HeapAlloc)
			if max(now-last, last-now) < still {
				return now
			}
			last = now
		}
	}
	_, err := d.Intake(context.Background(), filepath.Join(f.path, "first.csv"), nil, IntakeOptions{Workers: 2})
	require.NoError(t, err) // what is allocated once, such as for packing, is there now
	before, most, read := live(), int64(0), 0
	in, err := d.Intake(context.Background(), m, []string{packed},
		IntakeOptions{Workers: 2, Progress: func(done, total int) {
			most = max(most, live())
			read++
		}})
	require.NoError(t, err)
	assert.GreaterOrEqual(t, read, members/max(fewestExports, members/4))
	require.Empty(t, in.Refused)
	require.Equal(t, members-1, in.Files)
	// All files are 100 MB. Pending are 16 MB of files, and their curves.
	t.Logf("%.1f MB held", float64(most-before)/1e6)
	assert.Less(t, most-before, int64(members*pad/2))
}

// The pending memory never exceeds its limit, except for the item that is released next, and all items
// acquire theirs in the end, whatever their sizes.
func TestRoomHoldsWhatItSays(t *testing.T) {
	const size = 1000
	rng := rand.New(rand.NewPCG(1, 2))
	type item struct {
		number int
		bytes  int64
	}
	var items []*item
	largest := int64(0)
	for i := range 2000 {
		it := &item{i, rng.Int64N(600)}
		if i%50 == 0 {
			it.bytes = 3 * size
		}
		largest = max(largest, it.bytes)
		items = append(items, it)
	}
	r := newPendingMemory(size)
	var held, most atomic.Int64
	var mu sync.Mutex
	enter := func(ctx context.Context, _ int, it *item) (*item, error) {
		if err := r.acquire(ctx, it.number, it.bytes); err != nil {
			return nil, err
		}
		mu.Lock()
		defer mu.Unlock()
		most.Store(max(most.Load(), held.Add(it.bytes)))
		return it, nil
	}
	next := 0
	leave := func(it *item) error {
		require.Equal(t, next, it.number)
		next++
		held.Add(-it.bytes)
		r.release(it.number)
		return nil
	}
	require.NoError(t, inOrder(context.Background(), 8, slices.Values(items), enter, leave))
	assert.Equal(t, len(items), next)
	assert.LessOrEqual(t, most.Load(), size+largest)
	assert.Greater(t, most.Load(), int64(size)/2, "it is used")
}

// Items that wait for memory stop waiting when the work is stopped.
func TestRoomIsLeftWhenStopped(t *testing.T) {
	r := newPendingMemory(10)
	ctx, cancel := context.WithCancel(context.Background())
	require.NoError(t, r.acquire(ctx, 0, 10))
	done := make(chan error)
	go func() { done <- r.acquire(ctx, 1, 10) }()
	cancel()
	assert.ErrorIs(t, <-done, context.Canceled)
}
