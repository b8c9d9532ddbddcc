package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whatever is in a file of up to 100 MB, the command that reads it stays below
// 200 MB, by the peak that Linux keeps of a process (getrusage(2), ru_maxrss).
func TestMemoryIsBounded(t *testing.T) {
	if os.Getenv("WANE_TEST_ALONE") == "" { // a child begins with the peak of its parent, which other tests have raised
		alone := exec.Command(os.Args[0], "-test.run", "^TestMemoryIsBounded$", "-test.v")
		alone.Env = append(os.Environ(), "WANE_TEST_ALONE=yes")
		text, err := alone.CombinedOutput()
		require.NoError(t, err, string(text))
		assert.Equal(t, 7, strings.Count(string(text), "    --- PASS: "), string(text))
		return
	}
	wane := filepath.Join(t.TempDir(), "wane")
	text, err := exec.Command("go", "build", "-o", wane, ".").CombinedOutput()
	require.NoError(t, err, string(text))
	const most = 98_000_000 // bytes of a file
	for _, c := range []struct {
		name   string
		export func(w io.Writer)
		says   string
	}{
		{"two columns", func(w io.Writer) {
			fmt.Fprintln(w, "nm,%R")
			writeMany(w, strings.Repeat("400.123,4\n", 100), most/1000)
		}, "9,800,000 rows of 2 cells are more than one export may contain"},
		{"as many numbers as are read, with gaps", func(w io.Writer) {
			fmt.Fprint(w, "nm")
			writeMany(w, ",R %", 7000)
			for i := range 401 {
				fmt.Fprintf(w, "\n%d", 400+i)
				cell := fmt.Sprintf(",%d.%029d", 3+i%5, i)
				if i == 200 {
					cell = ","
				}
				writeMany(w, cell, 7000)
			}
		}, "points in all, and no more than 80000 are fitted"},
		{"one line", func(w io.Writer) { writeMany(w, strings.Repeat("12.5,", 100), most/500) }, "1 row of 19,600,001 cells"},
		{"one number", func(w io.Writer) { writeMany(w, strings.Repeat("7", 1000), most/2000) }, "no rows of numbers"},
		{"one heading", func(w io.Writer) {
			fmt.Fprint(w, "nm,%R ")
			writeMany(w, strings.Repeat("words_ ", 100), most/700)
			writeMany(w, "\n400,4\n401,4", 1)
		}, "more than 8 MiB from here on are not rows of numbers"},
		{"JCAMP-DX, packed", func(w io.Writer) {
			fmt.Fprint(w, "##TITLE= all\n##DATA TYPE= LINK\n##BLOCKS= 15\n")
			for k := range 15 {
				fmt.Fprintf(w, "##TITLE= %d\n##XUNITS= NANOMETERS\n##YUNITS= REFLECTANCE\n##XFACTOR= 1\n##YFACTOR= 0.001\n"+
					"##FIRSTX= 400\n##LASTX= 99399\n##NPOINTS= 99000\n##XYDATA= (X++(Y..Y))\n", k)
				for i := range 99 {
					fmt.Fprintf(w, "%d ", 400+1000*i)
					writeMany(w, strings.Repeat(" ", 127)+"DE", 500)
					fmt.Fprintln(w)
				}
				fmt.Fprintln(w, "##END=")
			}
			fmt.Fprintln(w, "##END=")
		}, "points in all, and no more than 80000 are fitted"},
		{"UTF-16", func(w io.Writer) { writeMany(w, "\xff\xfe-N", 8_388_000) }, "no rows of numbers"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "export.txt")
			write(t, path, c.export)
			cmd := exec.Command(wane, "quick", "--back", "matched", "--angle", "8", "--replicates", path)
			text, err := cmd.CombinedOutput()
			require.Error(t, err)
			assert.Contains(t, string(text), c.says)
			usage, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage)
			require.True(t, ok)
			peak := float64(usage.Maxrss) / 1000 * 1.024
			t.Logf("%.0f MB", peak)
			assert.Less(t, peak, 200., "MB")
		})
	}
}

func write(t *testing.T, path string, export func(w io.Writer)) {
	t.Helper()
	file, err := os.Create(path)
	require.NoError(t, err)
	w := bufio.NewWriterSize(file, 1<<16)
	export(w)
	require.NoError(t, errors.Join(w.Flush(), file.Close()))
}

// writeMany writes a text so many times; a fault shows when the writer is flushed.
func writeMany(w io.Writer, text string, times int) {
	for range times {
		_, _ = io.WriteString(w, text)
	}
}
