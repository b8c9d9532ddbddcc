package study_test

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// fall panics on an index that depends on the data.
func fall(cells []int, at int) (n int, err error) {
	defer study.Catch("G07.csv", &err)
	return cells[at], nil
}

// A panic becomes an error that says what it happened at and where in the program, in one
// line, and is nothing that a caller may take for a refusal.
func TestCatchMakesAFault(t *testing.T) {
	n, err := fall([]int{4, 5}, 1)
	require.NoError(t, err)
	assert.Equal(t, 5, n)

	_, err = fall([]int{4, 5}, 2)
	var fault *study.Fault
	require.ErrorAs(t, err, &fault)
	assert.Regexp(t, `^G07\.csv: this is a fault of wane, please report: `+
		`runtime error: index out of range \[2\] with length 2, `+
		`at study_test/fault_test\.go:\d+$`, err.Error())
	assert.Regexp(t, `wane/study_test\.fall\n\t.*fault_test\.go:\d+\n`, fault.Trace())
	var refusal *study.Refusal
	assert.False(t, errors.As(err, &refusal))
}

// What a panic says stays on one line, and a refusal that was raised is no refusal.
func TestAFaultIsOneLine(t *testing.T) {
	raise := func(v any) (err error) {
		defer study.Catch("", &err)
		panic(v)
	}
	assert.Regexp(t, `^this is a fault of wane, please report: two lines, at study_test/`, raise("two\n lines").Error())
	var refusal *study.Refusal
	err := raise(&study.Refusal{Fault: "raised"})
	assert.False(t, errors.As(err, &refusal), "%v", err)
	assert.Contains(t, err.Error(), "report: raised")
}

// carried is a panic that another goroutine handed over.
type carried struct{ fault *study.Fault }

func (c carried) Origin() (any, []uintptr) { return fmt.Sprint(c.fault.Value), nil }

// A panic that is raised again keeps what the first one said; without calls it has no place.
func TestCatchKeepsTheOrigin(t *testing.T) {
	raise := func() (err error) {
		defer study.Catch("spot 1", &err)
		panic(carried{&study.Fault{Value: "the first"}})
	}
	assert.EqualError(t, raise(), "spot 1: this is a fault of wane, please report: the first")
}
