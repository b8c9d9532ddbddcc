package store

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"

	"wane/study"
)

// errorsFields are the columns of what the uncertainties of a fit are made of: see schema7.sql. The names of effects,
// of which none has a comma, colon or semicolon, are read before the numbers.
var errorsFields = fields[study.Fit]{
	{name: "effects", verbatim: true,
		get: func(f *study.Fit) any { return nullText(effectWords(f.Errors.Shared)) },
		set: func(f *study.Fit, x any) error {
			f.Errors.Shared = effectsOf(textOf(x))
			return nil
		}},
	{name: "joint_fit", verbatim: true,
		get: func(f *study.Fit) any {
			for i := range f.Errors.Shared {
				if s := &f.Errors.Shared[i]; s.Owner == study.OwnerJoint {
					return nullText(s.Of)
				}
			}
			return nil
		},
		set: func(f *study.Fit, x any) error {
			for i := range f.Errors.Shared {
				if s := &f.Errors.Shared[i]; s.Owner == study.OwnerJoint {
					s.Of = textOf(x)
				}
			}
			return nil
		}},
	{name: "errors",
		get: func(f *study.Fit) any {
			if !f.Errors.Known() {
				return nil
			}
			return packErrors(&f.Errors)
		},
		set: func(f *study.Fit, x any) error { return unpackErrors(&f.Errors, bytesOf(x)) }},
}

// effectWords returns the effects as a text, those of one owner in a row together.
func effectWords(effects []study.Sensitivity) string {
	var b strings.Builder
	for i := range effects {
		s := &effects[i]
		switch {
		case i > 0 && s.Owner == effects[i-1].Owner:
			b.WriteByte(',')
		case i > 0:
			b.WriteByte(';')
			fallthrough
		default:
			b.WriteString(string(s.Owner) + ":")
		}
		b.WriteString(s.Name)
	}
	return b.String()
}

// effectsOf returns the effects that a text names.
func effectsOf(text string) (effects []study.Sensitivity) {
	if text == "" {
		return nil
	}
	effects = make([]study.Sensitivity, 0, 1+strings.Count(text, ";")+strings.Count(text, ","))
	for part := range strings.SplitSeq(text, ";") {
		owner, names, _ := strings.Cut(part, ":")
		for name := range strings.SplitSeq(names, ",") {
			effects = append(effects, study.Sensitivity{Effect: study.Effect{Owner: study.Owner(owner), Name: name}})
		}
	}
	return effects
}

// packErrors returns the numbers of errors. Those of effects whose degrees of freedom are few are not among them: fits
// have none.
func packErrors(e *study.Errors) []byte {
	packed := make([]byte, 0, 4*(len(e.Shared)*int(study.NumberOfOutputs)+len(e.Own)))
	add := func(values []float64) {
		for _, v := range values {
			packed = binary.LittleEndian.AppendUint32(packed, math.Float32bits(float32(v)))
		}
	}
	for i := range e.Shared {
		add(e.Shared[i].By[:])
	}
	add(e.Own[:])
	return packed
}

// unpackErrors reads what packErrors wrote into errors whose effects are named already.
func unpackErrors(e *study.Errors, packed []byte) error {
	if len(packed) == 0 && len(e.Shared) == 0 {
		return nil
	}
	if want := 4 * (len(e.Shared)*int(study.NumberOfOutputs) + len(e.Own)); len(packed) != want {
		return fmt.Errorf("%d bytes instead of %d", len(packed), want)
	}
	take := func(values []float64) {
		for i := range values {
			values[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(packed)))
			packed = packed[4:]
		}
	}
	for i := range e.Shared {
		take(e.Shared[i].By[:])
	}
	take(e.Own[:])
	return nil
}
