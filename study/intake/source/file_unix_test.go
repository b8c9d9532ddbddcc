//go:build unix

package source_test

import (
	"errors"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/source"
)

// What is no file is refused before it is opened, which might wait without an end. The
// device never ends.
func TestReadFileRefusesWhatIsNoFile(t *testing.T) {
	from, to, err := os.Pipe()
	require.NoError(t, err)
	defer func() { require.NoError(t, errors.Join(from.Close(), to.Close())) }()
	for name, fault := range map[string]string{
		filepath.Join("/dev/fd", strconv.Itoa(int(from.Fd()))): "this is no file but a pipe",
		"/dev/zero":                     "this is no file but a device",
		listening(t):                    "this is no file but a socket",
		t.TempDir():                     "could not read the file: it is a folder",
		filepath.Join(t.TempDir(), "x"): "there is no such file",
	} {
		_, err := source.ReadFile(name)
		refusedAs(t, err, fault)
		_, err = source.Open(name)
		refusedAs(t, err, fault)
		var files source.Files
		_, err = files.Read(name)
		refusedAs(t, err, fault)
		assert.Zero(t, files.Size(name))
		require.NoError(t, files.Close())
	}
}

// listening makes a socket and returns its path, which some systems want short.
func listening(t *testing.T) string {
	t.Helper()
	folder, err := os.MkdirTemp("", "")
	require.NoError(t, err)
	path := filepath.Join(folder, "s")
	l, err := net.Listen("unix", path)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, errors.Join(l.Close(), os.RemoveAll(folder))) })
	return path
}

// A picture is a file in the folder of the table or below it: neither a name with .. nor a
// link takes another file of this machine into a study.
func TestPicturesStayInTheirFolder(t *testing.T) {
	above := t.TempDir()
	folder := filepath.Join(above, "in")
	at := func(name string) string { return filepath.Join(folder, name) }
	require.NoError(t, os.MkdirAll(at("below"), 0o755))
	for _, path := range []string{filepath.Join(above, "secret.png"), at("own.png"), at("below/own.png")} {
		require.NoError(t, os.WriteFile(path, []byte("made up"), 0o600))
	}
	for link, to := range map[string]string{"out.png": "../secret.png", "root.png": filepath.Join(above, "secret.png"),
		"up": "..", "within.png": "below/own.png"} {
		require.NoError(t, os.Symlink(to, at(link)))
	}
	require.NoError(t, syscall.Mkfifo(at("pipe.png"), 0o600))
	for _, name := range []string{"own.png", "below/own.png", "below/../own.png", "within.png"} {
		data, err := source.ReadPicture(folder, name)
		require.NoError(t, err, name)
		assert.Equal(t, "made up", string(data))
	}
	for name, fault := range map[string]string{
		"../secret.png": "this leads out of the folder of the table", "out.png": "this leads out of the folder of the table",
		"root.png":      "this leads out of the folder of the table",
		"up/secret.png": "this leads out of the folder of the table", "pipe.png": "this is no file but a pipe",
		"below": "could not read the file: it is a folder", "none.png": "there is no such file",
	} {
		_, err := source.ReadPicture(folder, name)
		refusedAs(t, err, fault)
	}
}
