package store

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"wane/study"
)

// A witness is a text file of the user's choice, best on another disk or in other hands. Each
// commit appends a line to it: time, study, line of the log and its hash, with a tab between.
// Who alters the study later, and all its hashes with it, does not alter the witness.

// SetWitness names the file to which the head of each commit is appended from now on; empty:
// none.
func (s *Store) SetWitness(path string) { s.witness = path }

// Witnessed reports whether there is a witness.
func (s *Store) Witnessed() bool { return s.witness != "" }

// CheckWitness refuses a file that cannot be the witness of the study at path, before
// anything is done to the study. Nothing is written; without a witness there is no check.
func CheckWitness(path, witness string) error {
	if witness == "" {
		return nil
	}
	return (&Store{path: path, witness: witness}).checkWitness()
}

// WitnessReady is CheckWitness for a study that is not made yet. It makes sure also that
// lines can be appended.
func WitnessReady(path, witness string) error {
	f, err := (&Store{path: path, witness: witness}).openWitness()
	if f == nil {
		return err
	}
	return f.Close()
}

// openWitness opens the witness before anything is written, nil if there is none. One that
// cannot be written is a failure: what is not witnessed is not done.
func (s *Store) openWitness() (*os.File, error) {
	if s.witness == "" {
		return nil, nil
	}
	if err := s.checkWitness(); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(s.witness, os.O_RDWR|os.O_APPEND|os.O_CREATE, 0o644)
	if err != nil {
		return nil, s.failing("the witness (WANE_WITNESS) cannot be written, so nothing was done", tryWitness, err)
	}
	return f, nil
}

// checkWitness refuses a file that cannot be a witness. One that is not there is made
// later.
func (s *Store) checkWitness() error {
	info, err := os.Stat(s.witness)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return s.failing("the witness (WANE_WITNESS) cannot be read, so nothing was done", tryWitness, err)
	}
	for _, tail := range []string{"", "-wal", "-shm"} {
		if own, err := os.Stat(s.path + tail); err == nil && os.SameFile(own, info) {
			return s.failing("the witness (WANE_WITNESS) is the study itself, so nothing was done", tryOther, nil)
		}
	}
	if !info.Mode().IsRegular() {
		return s.failing("the witness (WANE_WITNESS) is not a file, so nothing was done", tryOther, nil)
	}
	is, err := isWitness(s.witness)
	if err != nil {
		return s.failing("the witness (WANE_WITNESS) cannot be read, so nothing was done", tryWitness, err)
	}
	if !is {
		const fault = "this file is not a witness: its first line is not one that wane wrote, so nothing was done"
		return s.failing(fault, tryOther, nil)
	}
	return nil
}

// mostWitnessLine is more bytes than a line of a witness has: most of it is a path.
const mostWitnessLine = 64 << 10

// isWitness reports whether the file is empty or begins with a line of a witness.
func isWitness(path string) (bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return false, err
	}
	defer f.Close() // it was only read
	first, err := bufio.NewReader(io.LimitReader(f, mostWitnessLine)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return false, err
	}
	_, is := parseWitnessLine(first)
	return first == "" || is, nil
}

const (
	tryWitness = "make its folder and the right to write there, name another file, or unset WANE_WITNESS"
	tryOther   = "name a new file or a witness in WANE_WITNESS, or unset it"
)

// appendToWitness appends the head that is now the end of the log. What was committed stays, also if
// this fails.
func (s *Store) appendToWitness(f *os.File, entry *study.Entry) error {
	if f == nil {
		return nil
	}
	line := s.witnessLine(entry)
	if torn, err := isTorn(f); err != nil {
		return s.unwitnessed(line, err)
	} else if torn {
		line = "\n" + line
	}
	_, err := f.WriteString(line + "\n")
	if err == nil {
		err = f.Sync()
	}
	if err != nil {
		return s.unwitnessed(strings.TrimPrefix(line, "\n"), err)
	}
	return nil
}

// unwitnessed says that a commit is in the study and not in the witness.
func (s *Store) unwitnessed(line string, cause error) error {
	return s.failing("the work is in the study, and its line could not be appended to this witness: "+line,
		"make room there and append that line by hand; what was done need not be done again", cause)
}

func (s *Store) failing(fault, try string, cause error) error {
	return &study.Failure{File: s.witness, Fault: fault, Try: try, Cause: cause}
}

// isTorn reports whether the witness ends within a line.
func isTorn(f *os.File) (bool, error) {
	info, err := f.Stat()
	if err != nil || info.Size() == 0 {
		return false, err
	}
	last := make([]byte, 1)
	_, err = f.ReadAt(last, info.Size()-1)
	return last[0] != '\n', err
}

func (s *Store) witnessLine(entry *study.Entry) string {
	return fmt.Sprintf("%s\t%s\t%d\t%x", entry.At, s.witnessName(), entry.Number, entry.Hash)
}

// witnessName is the whole path of the study, in quotation marks if it holds what would
// break a line.
func (s *Store) witnessName() string {
	whole, err := filepath.Abs(s.path)
	if err != nil {
		whole = s.path
	}
	if resolved, err := filepath.EvalSymlinks(whole); err == nil {
		whole = resolved
	}
	if strings.ContainsAny(whole, "\t\n\r\"") {
		return strconv.Quote(whole)
	}
	return whole
}

// WitnessHead appends the head of the log as it is now to the witness.
func (s *Store) WitnessHead(ctx context.Context) error {
	f, err := s.openWitness()
	if f == nil || err != nil {
		return err
	}
	defer f.Close()
	var last study.Entry
	if err := s.Log(ctx, func(e study.Entry) error { last = e; return nil }); err != nil {
		return err
	}
	return s.appendToWitness(f, &last)
}

// WitnessReport is what a witness says of a study.
type WitnessReport struct {
	Lines    int      // that name the study by its path
	Others   int      // that name another study, and a line of this log with its hash: it was moved or copied
	Last     int64    // the highest line of the log that the witness names; 0: none
	Behind   int64    // lines of the log after that one
	Findings []string // what contradicts the log, in words
}

// CompareWitness compares the log with the witness: each line of the log that the witness names
// under the path of this study must be there with the hash that it had.
func (s *Store) CompareWitness(ctx context.Context) (*WitnessReport, error) {
	if err := s.checkWitness(); err != nil {
		return nil, err
	}
	f, err := os.Open(s.witness)
	if errors.Is(err, fs.ErrNotExist) {
		const try = "name the file that commits were appended to, or unset WANE_WITNESS"
		return nil, s.failing("there is no such witness (WANE_WITNESS)", try, nil)
	}
	if err != nil {
		return nil, s.failing("the witness (WANE_WITNESS) cannot be read", "check the name and the rights", err)
	}
	defer f.Close()
	heads, err := s.Heads(ctx)
	if err != nil {
		return nil, err
	}
	hashes, last := map[int64][sha256.Size]byte{}, int64(0)
	for _, h := range heads {
		hashes[h.Number], last = h.Hash, max(last, h.Number)
	}
	t, in, number := &WitnessReport{}, bufio.NewReader(f), 0
	for {
		text, err := in.ReadString('\n')
		if text != "" {
			number++
			t.compareLine(text, s.witnessName(), hashes, fmt.Sprintf("%s:%d", s.witness, number))
		}
		if errors.Is(err, io.EOF) {
			t.Behind = last - min(t.Last, last)
			return t, nil
		}
		if err != nil {
			return nil, err
		}
	}
}

// witnessed is what a line of a witness says of a commit.
type witnessed struct {
	at, study string
	number    int64
	hash      [sha256.Size]byte
}

// parseWitnessLine reads a line of a witness and reports whether it is one.
func parseWitnessLine(text string) (line witnessed, is bool) {
	cells := strings.Split(strings.TrimRight(text, "\r\n"), "\t")
	if len(cells) != 4 {
		return line, false
	}
	number, err := strconv.ParseInt(cells[2], 10, 64)
	hash, wrong := hex.DecodeString(cells[3])
	if err != nil || wrong != nil || number < 1 || len(hash) != sha256.Size {
		return line, false
	}
	return witnessed{cells[0], cells[1], number, [sha256.Size]byte(hash)}, true
}

// compareLine compares one line of a witness.
func (t *WitnessReport) compareLine(text, name string, hashes map[int64][sha256.Size]byte, at string) {
	if strings.TrimRight(text, "\r\n") == "" {
		return
	}
	line, is := parseWitnessLine(text)
	if !is {
		t.find("%s: this is not a line of a witness", at)
		return
	}
	own, there := hashes[line.number]
	same := there && own == line.hash
	if line.study != name {
		if same {
			t.Others++
		}
		return
	}
	t.Lines++
	t.Last = max(t.Last, line.number)
	switch {
	case !there:
		t.find("%s: line %d of the history was committed at %s, and is not there now", at, line.number, line.at)
	case !same:
		t.find("%s: line %d of the history had the hash %x at %s, and has %x now",
			at, line.number, line.hash, line.at, own)
	}
}

func (t *WitnessReport) find(format string, args ...any) {
	t.Findings = append(t.Findings, fmt.Sprintf(format, args...))
}
