//go:build unix

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// process is the program in a process of its own, not started yet. The test binary is the
// program where it is called so (TestMain).
func process(t *testing.T, args ...string) (cmd *exec.Cmd, stderr *bytes.Buffer) {
	t.Helper()
	binary, err := os.Executable()
	require.NoError(t, err)
	name := filepath.Join(t.TempDir(), "wane")
	require.NoError(t, os.Symlink(binary, name))
	cmd = exec.Command(name, args...)
	stderr = &bytes.Buffer{}
	cmd.Stderr = stderr
	return cmd, stderr
}

// manyPoints makes a study in this folder with one export of so many columns of 401 points,
// of which the last is headed "%R the last one".
func manyPoints(t *testing.T, columns int) {
	t.Helper()
	coupons, places, head := couponHead, "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n", "nm"
	for i := range columns {
		coupons += fmt.Sprintf("C%04d,control,m,K,1,soda-lime,3.2,matched,\n", i)
		places += fmt.Sprintf("e.csv,#%d,C%04d,0,1,8,u,R,percent\n", i+2, i)
		if i < columns-1 {
			head += fmt.Sprintf(",%%R %d", i)
		}
	}
	rows := strings.Builder{}
	rows.WriteString(head + ",%R the last one\n")
	for nm := 400; nm <= 800; nm++ {
		fmt.Fprintf(&rows, "%d", nm)
		for i := range columns {
			fmt.Fprintf(&rows, ",%d.%03d", 2+(nm+i)%3, (nm*7+i*13)%1000)
		}
		rows.WriteString("\n")
	}
	for file, text := range map[string]string{"coupons.csv": coupons, "map.csv": places, "e.csv": rows.String(),
		"exposures.csv": "exposure,protocol,site,dose_unit,start\nroof,rack,nowhere,days,2026-01-01\n",
		"pulls.csv":     "exposure,pull,dose,date\nroof,0,0,2026-01-01\n"} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	}
	for _, line := range []string{"new s.wane", "enrol coupons.csv exposures.csv pulls.csv", "intake --map map.csv"} {
		code, _, stderr := wane(t, strings.Split(line, " ")...)
		require.Equal(t, exitDone, code, "%s: %s", line, stderr)
	}
}

// The points of a study go out as they are read: no temporary file is made, and what is
// damaged is found before the first of them.
func TestSpectraStream(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	const columns = 380
	manyPoints(t, columns)
	t.Setenv("TMPDIR", "nowhere")
	code, stdout, stderr := wane(t, "export", "--spectra")
	require.Equal(t, exitDone, code, stderr)
	require.Greater(t, len(stdout), spoolMemory, "more than would be kept in memory")
	assert.Equal(t, 1+401*columns, strings.Count(stdout, "\n"))
	assert.True(t, regexp.MustCompile(`counted,1,(,[^\n]*)?\n$`).MatchString(stdout), stdout[len(stdout)-60:])
	code, stdout, stderr = wane(t, "export", "--spectra", "nowhere.csv")
	assert.Equal(t, exitRefused, code)
	assert.Empty(t, stdout)
	assert.Contains(t, stderr, "no export, table or picture")

	data, err := os.ReadFile("s.wane")
	require.NoError(t, err)
	require.Contains(t, string(data), "the last one")
	require.NoError(t,
		os.WriteFile("s.wane", bytes.ReplaceAll(data, []byte("the last one"), []byte("the lost one")), 0o600))
	code, stdout, stderr = wane(t, "export", "--spectra")
	assert.Equal(t, exitRefused, code)
	assert.Empty(t, stdout, "nothing of a damaged study")
	assert.Contains(t, stderr, "the study file is damaged here: table reading")
}

// Each signal that ends a program ends a command as Ctrl-C does, also while it waits for
// somebody to read what it prints: exit code 1, and it says so.
func TestSignalsEndAsCtrlC(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	manyPoints(t, 40)
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
		cmd, stderr := process(t, "export", "--spectra")
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		_, err = io.ReadFull(out, make([]byte, 100)) // it is at it, and the pipe is full soon
		require.NoError(t, err)
		require.NoError(t, cmd.Process.Signal(s))
		state, err := cmd.Process.Wait()
		require.NoError(t, err)
		require.NoError(t, out.Close())
		require.Error(t, cmd.Wait(), "it was waited for; this ends the copying of stderr")
		assert.Equal(t, exitRefused, state.ExitCode(), "%v: %v", s, state)
		assert.Equal(t, "wane: stopped before the end\n  try: run it again: what was finished is kept\n", stderr.String(),
			"%v", s)
	}
}

// A command that was told to outlive its session does.
func TestHangupMayBeIgnored(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	manyPoints(t, 40)
	cmd, stderr := process(t, "export", "--spectra")
	sh := exec.Command("sh", "-c", `trap "" HUP; exec "$0" export --spectra`, cmd.Path)
	sh.Stderr = stderr
	out, err := sh.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, sh.Start())
	in := bufio.NewReader(out)
	_, err = in.ReadString('\n')
	require.NoError(t, err)
	require.NoError(t, sh.Process.Signal(syscall.SIGHUP))
	rest, err := io.ReadAll(in)
	require.NoError(t, err)
	require.NoError(t, sh.Wait(), stderr.String())
	assert.Equal(t, 401*40, bytes.Count(rest, []byte("\n")))
}

// An intake that is ended by a signal keeps the exports that were finished, and the next
// one does the rest.
func TestIntakeKeepsWhatWasFinished(t *testing.T) {
	t.Setenv("WANE_OPERATOR", "ada")
	const exports = 1000
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
		t.Chdir(t.TempDir())
		places := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n"
		for i := range exports {
			file := fmt.Sprintf("e%04d.csv", i)
			places += fmt.Sprintf("%s,#2,C,0,%d,8,u,R,percent\n", file, i)
			rows := "nm,%R\n"
			for nm := 400; nm <= 500; nm++ {
				rows += fmt.Sprintf("%d,%d.%d%d\n", nm, 2+nm%2, i, nm)
			}
			require.NoError(t, os.WriteFile(file, []byte(rows), 0o600))
		}
		for file, text := range map[string]string{"coupons.csv": couponHead + "C,control,m,K,1,soda-lime,3.2,matched,\n",
			"map.csv":       places,
			"exposures.csv": "exposure,protocol,site,dose_unit,start\nroof,rack,nowhere,days,2026-01-01\n",
			"pulls.csv":     "exposure,pull,dose,date\nroof,0,0,2026-01-01\n"} {
			require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		}
		for _, line := range []string{"new s.wane", "enrol coupons.csv exposures.csv pulls.csv"} {
			code, _, stderr := wane(t, strings.Split(line, " ")...)
			require.Equal(t, exitDone, code, stderr)
		}
		cmd, stderr := process(t, "intake", "--map", "map.csv", "--workers", "1")
		var stdout bytes.Buffer
		cmd.Stdout = &stdout
		require.NoError(t, cmd.Start())
		for written() < 100_000 { // until the first batch is in
			time.Sleep(time.Millisecond)
		}
		require.NoError(t, cmd.Process.Signal(s))
		var exit *exec.ExitError
		require.ErrorAs(t, cmd.Wait(), &exit, "%v: it was stopped: %s", s, stdout.String())
		assert.Equal(t, exitRefused, exit.ExitCode(), "%v", s)
		assert.Empty(t, stdout.String())
		in := 0
		_, err := fmt.Sscanf(stderr.String(), "note stored before the command stopped: %d exports", &in)
		require.NoError(t, err, stderr.String())
		assert.Equal(t, fmt.Sprintf("note stored before the command stopped: %d exports with %d curves\n"+
			"wane: stopped before the end\n  try: run it again: what was finished is kept\n", in, in), stderr.String())
		code, said, fault := wane(t, "verify")
		require.Equal(t, exitDone, code, "%s%s", said, fault)
		code, said, fault = wane(t, "intake", "--map", "map.csv")
		require.Equal(t, exitDone, code, fault)
		var files, curves, known int
		_, err = fmt.Sscanf(said, "taken in: %d exports with %d curves; known already: %d;", &files, &curves, &known)
		require.NoError(t, err, said)
		assert.Equal(t, in, known, "what was said to be in")
		assert.Positive(t, files)
		assert.Equal(t, exports, files+known)
	}
}

// A fit that is stopped keeps what it evaluated, and says how much that is.
func TestFitKeepsWhatWasFinished(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	const spots = 50
	manyPoints(t, spots)
	cmd, stderr := process(t, "fit", "--workers", "1")
	require.NoError(t, cmd.Start())
	for written() < 5*4120 { // until the first batch is in: to open the study takes one frame
		time.Sleep(time.Millisecond)
	}
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	var exit *exec.ExitError
	require.ErrorAs(t, cmd.Wait(), &exit)
	assert.Equal(t, exitRefused, exit.ExitCode())
	in := 0
	_, err := fmt.Sscanf(stderr.String(), "note stored before the command stopped: %d spots evaluated", &in)
	require.NoError(t, err, stderr.String())
	assert.Equal(t, fmt.Sprintf("note stored before the command stopped: %d spots evaluated\n"+
		"wane: stopped before the end\n  try: run it again: what was finished is kept\n", in), stderr.String())
	code, said, fault := wane(t, "fit")
	require.Equal(t, exitDone, code, fault)
	assert.Equal(t, fmt.Sprintf("evaluated: %d spots; up to date already: %d\n", spots-in, in), said)
}

// written returns how many bytes stand in the write-ahead log of the study.
func written() int64 {
	info, err := os.Stat("s.wane-wal")
	if err != nil {
		return 0
	}
	return info.Size()
}

// Whatever is no file is refused at once, wherever a path is opened: a pipe would be
// waited for, and a device may never end.
func TestOnlyFilesAreOpened(t *testing.T) {
	data, err := os.ReadFile("../../testdata/exports/g07-fresh.csv")
	require.NoError(t, err)
	folder, err := os.MkdirTemp("", "") // short enough for a socket
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(folder)) })
	t.Chdir(folder)
	t.Setenv("WANE_OPERATOR", "ada")
	for _, name := range []string{"pipe", "pipe.csv", "pipe.yaml", "pipe.zip", "pipe.study", "pipe.svg"} {
		require.NoError(t, syscall.Mkfifo(name, 0o600))
	}
	l, err := net.Listen("unix", "socket")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, l.Close()) })
	for file, text := range map[string]string{
		"e.csv":          string(data),
		"coupons.csv":    couponHead + "C,control,m,K,1,soda-lime,3.2,matched,\n",
		"more.csv":       couponHead + "E,control,m,K,1,soda-lime,3.2,matched,\n",
		"pulls.csv":      "exposure,pull,dose,date\nroof,0,0,2026-01-01\n",
		"exposures.csv":  "exposure,protocol,site,dose_unit,start\nroof,rack,nowhere,days,2026-01-01\n",
		"glass.csv":      couponHead + "D,control,m,K,1,./pipe.csv,3.2,matched,\n",
		"references.csv": "reference,serial,certificate,issued,expires,u_scale,values\nM,4,C,2026-01-01,,0.004,pipe.csv\n",
		"map.csv": "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n" +
			"pipe.csv,#2,C,0,1,8,u,R,percent\n",
		"zipmap.csv": "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n" +
			"pipe.zip/a.csv,#2,C,0,1,8,u,R,percent\n",
		"b.yaml": "profile: b\ncurves:\n- {column: \"#2\", coupon: C, pull: 0, spot: 1, angle: 8, polarisation: u}\n",
		"m.csv":  measuredHead + "C,0,1,haze,1,,percent,meter,2026-01-02,ada,pipe,\n",
	} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	}
	for _, line := range []string{"new s.wane", "enrol coupons.csv exposures.csv pulls.csv"} {
		code, _, stderr := wane(t, strings.Split(line, " ")...)
		require.Equal(t, exitDone, code, stderr)
	}
	for _, line := range []string{
		"quick pipe.csv --back matched", "quick e.csv pipe.csv --one-spot --back matched", "quick socket --back matched",
		"quick /dev/zero --back matched",
		"quick e.csv --back matched --glass pipe.csv", "quick e.csv --back matched --profile pipe.yaml",
		"quick pipe.csv --back matched --explain",
		"plan --angles 8 --back matched --thickness 118 --porosity 0.36 --glass pipe.csv",
		"enrol pipe.csv", "enrol glass.csv", "enrol references.csv", "enrol socket", "enrol /dev/zero",
		"intake --map pipe.csv", "intake --map socket", "intake --map map.csv", "intake pipe.csv --map map.csv",
		"intake --map zipmap.csv", "intake pipe.zip/a.csv --map zipmap.csv",
		"intake pipe.zip --map map.csv", "intake e.csv --profile pipe.yaml", "intake pipe.csv --profile b.yaml",
		"intake /dev/zero --profile b.yaml",
		"measure pipe.csv", "measure m.csv", "profile add pipe.yaml", "profile draft pipe.csv",
		"profile check pipe.yaml e.csv",
		"log --study pipe.study", "log --study socket", "verify --study /dev/zero", "verify --against pipe.study",
		"quick e.csv --back matched --figure pipe.svg",
	} {
		code, stdout, stderr := wane(t, strings.Split(line, " ")...)
		assert.Equal(t, exitRefused, code, "%s: %s%s", line, stdout, stderr)
		assert.Empty(t, stdout, line)
		assert.NotContains(t, stderr, "stopped", line)
	}
	// they show what would be refused
	for _, line := range []string{"intake pipe.csv --profile b.yaml --preview", "profile check b.yaml pipe.csv"} {
		code, stdout, stderr := wane(t, strings.Split(line, " ")...)
		assert.Equal(t, exitDone, code, "%s: %s%s", line, stdout, stderr)
		assert.Contains(t, stdout, "this is no file but a pipe")
	}
	_, _, stderr := wane(t, "measure", "m.csv")
	assert.Contains(t, stderr, "try: write what comes from there into a file, and name that file instead")
	require.NoError(t, os.WriteFile("picture.png", data, 0o600))
	named := measuredHead + "C,0,1,haze,1,,percent,meter,2026-01-02,ada,picture.png,\n"
	require.NoError(t, os.WriteFile("m.csv", []byte(named), 0o600))
	code, _, stderr := wane(t, "measure", "m.csv")
	assert.Equal(t, exitDone, code, stderr)

	for _, name := range []string{"pipe", "socket"} { // which no row of the map names
		code, _, stderr := wane(t, "intake", name, "--map", "map.csv")
		assert.Equal(t, exitRefused, code)
		assert.Contains(t, stderr, name+": this is no file but a "+name)
	}
	t.Setenv("WANE_WITNESS", "pipe")
	for _, line := range []string{"enrol more.csv", "verify"} {
		code, stdout, stderr := wane(t, strings.Split(line, " ")...)
		assert.Equal(t, exitRefused, code, "%s: %s%s", line, stdout, stderr)
		assert.Contains(t, stderr, "try: name a new file or a witness in WANE_WITNESS, or unset it")
	}
	t.Setenv("WANE_WITNESS", "witness.txt")
	code, _, stderr = wane(t, "enrol", "more.csv")
	assert.Equal(t, exitDone, code, stderr)
	info, err := os.Lstat("pipe.svg")
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeNamedPipe, "no figure takes the place of a pipe")
}
