package desk

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/source"
	"wane/study/scenario"
	"wane/study/store"
)

// rehearsedSuffix is what the name of the file of a rehearsal has after that of its plan.
const rehearsedSuffix = ".rehearsed"

// madeStudy is what one made-up study gave: a line of the file of a rehearsal.
type madeStudy struct {
	Scene  string `json:"scene"`
	Number int    `json:"n"`
	Files  bool   `json:"files,omitempty"` // it went through exports, intake and store
	Lost   int    `json:"lost,omitempty"`  // coupons
	Capped int    `json:"capped,omitempty"`
	Soiled int    `json:"soiled,omitempty"` // readings
	Faulty int    `json:"faulty,omitempty"` // instruments and blanks with a fault
	Held   int    `json:"held,omitempty"`   // readings that the guards held

	Pairs []madePair `json:"pairs,omitempty"` // in the order of the coatings
	Rule  string     `json:"rule,omitempty"`  // the verdict
	U     float64    `json:"u,omitempty"`     // mean standard uncertainty of the losses judged, pp; 0: none was

	// Chances are those of acceptance, rejection and neither by package power, at the uncertainties that the coupons had; nil where
	// the plan has what the formula leaves out.
	Chances *[3]float64 `json:"chances,omitempty"`
}

// madePair is what a study says of two coatings.
type madePair struct {
	Verdict    string  `json:"verdict"`
	Difference float64 `json:"d,omitempty"` // pp
	U          float64 `json:"u,omitempty"`

	// Chance is that to be called different by package power, at the uncertainties that the coupons had; nil where the plan has what
	// the formula leaves out.
	Chance *float64 `json:"chance,omitempty"`
}

// rehearsedHead is the first line of the file.
type rehearsedHead struct {
	Rehearsal int    `json:"wane_rehearsal"` // version of the form of the file
	Plan      string `json:"plan_sha256"`
	Model     int    `json:"model"`
}

// rehearsedForm is raised when the lines change, or what they mean.
const rehearsedForm = 1

// rehearsed are the studies that are finished, and the file that keeps them.
type rehearsed struct {
	path  string
	file  *os.File
	byKey map[studyKey]*madeStudy
	found int  // that were there when it was opened
	stale bool // there were some of another plan or model, which are gone
}

type studyKey struct {
	scene  string
	number int
}

// openRehearsed opens the file of a rehearsal, and begins it where there is none or one of another plan or model. A file that is
// something else is refused.
func openRehearsed(path string, p *scenario.Plan) (*rehearsed, error) {
	sum := sha256.Sum256([]byte(p.Text))
	head := rehearsedHead{rehearsedForm, hex.EncodeToString(sum[:]), evaluate.ModelVersion()}
	r := &rehearsed{path: path, byKey: map[studyKey]*madeStudy{}}
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		text, err := source.ReadFile(path)
		if err != nil {
			return nil, err
		}
		var found rehearsedHead
		first, rest, _ := bytes.Cut(text, []byte("\n"))
		if json.Unmarshal(first, &found) != nil || found.Rehearsal == 0 {
			return nil, &study.Refusal{File: path, Fault: "this is no file of a rehearsal, and one has to stand here",
				Try: "move it elsewhere, or give the plan another name"}
		}
		if r.stale = found != head; !r.stale {
			r.take(rest)
		}
	}
	return r, r.begin(head)
}

// take takes the lines of studies. A last line that is not whole is one that was cut off.
func (r *rehearsed) take(lines []byte) {
	for line := range bytes.Lines(lines) {
		var m madeStudy
		if bytes.HasSuffix(line, []byte("\n")) && json.Unmarshal(line, &m) == nil && r.of(m.Scene, m.Number) == nil {
			r.byKey[studyKey{m.Scene, m.Number}] = &m
			r.found++
		}
	}
}

// begin writes the file with what is finished, and leaves it open for more.
func (r *rehearsed) begin(head rehearsedHead) (err error) {
	var b bytes.Buffer
	line := func(v any) {
		text, failed := json.Marshal(v)
		err = errors.Join(err, failed)
		b.Write(append(text, '\n'))
	}
	line(head)
	keys := slices.SortedFunc(maps.Keys(r.byKey), func(a, b studyKey) int {
		return cmp.Or(strings.Compare(a.scene, b.scene), cmp.Compare(a.number, b.number))
	})
	for _, k := range keys {
		line(r.byKey[k])
	}
	if err == nil {
		err = store.Replace(r.path, 0, b.Bytes())
	}
	if err == nil {
		r.file, err = os.OpenFile(r.path, os.O_WRONLY|os.O_APPEND, 0)
	}
	return r.refusal(err)
}

// refusal says that the file cannot be written.
func (r *rehearsed) refusal(err error) error {
	if err == nil {
		return nil
	}
	return &study.Refusal{File: r.path, Fault: "could not write what is finished of the rehearsal",
		Try: "check the room on the disk and the permissions of the folder, or copy the plan into another one", Cause: err}
}

// of returns a study that is finished, nil if it is not.
func (r *rehearsed) of(scene string, number int) *madeStudy { return r.byKey[studyKey{scene, number}] }

// add keeps a study.
func (r *rehearsed) add(m *madeStudy) error {
	text, err := json.Marshal(m)
	if err != nil {
		return err
	}
	r.byKey[studyKey{m.Scene, m.Number}] = m
	_, err = r.file.Write(append(text, '\n'))
	return r.refusal(err)
}

func (r *rehearsed) close() error {
	if r.file == nil {
		return nil
	}
	return r.refusal(r.file.Close())
}
