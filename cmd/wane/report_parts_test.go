package main

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/desk"
	"wane/study/report/document"
)

// Where a verb refuses, the report has its reason and its remedy once; a failure is no reason.
func TestReportSaysWhyItCannotTell(t *testing.T) {
	for _, c := range []struct {
		err  error
		want document.Notice
	}{
		{&study.Refusal{Fault: "cannot be told from these data, because one coupon has no scatter", Try: "expose more"},
			"The rate cannot be told from these data, because one coupon has no scatter. Next: expose more."},
		{&study.Refusal{Fault: "there is no exposure", Try: "enrol one"},
			"The rate cannot be told from these data: there is no exposure. Next: enrol one."},
		{&desk.UsageError{Fault: "there is nothing", Try: "name it"},
			"The rate cannot be told from these data: there is nothing. Next: name it."},
	} {
		block, err := cannot("The rate cannot be told from these data", c.err)
		assert.NoError(t, err)
		assert.Equal(t, c.want, block)
	}
	failed := &study.Failure{}
	_, err := cannot("The rate cannot be told", failed)
	assert.ErrorIs(t, err, failed)
	_, err = cannot("The rate cannot be told", errors.New("the disk is full"))
	assert.EqualError(t, err, "the disk is full")
}

// A column whose cells are all numbers, with their uncertainty or their unit-free intervals, stands at its right end; one
// without any cell is left out; dates, codes and words are no numbers.
func TestReportAlignsNumbers(t *testing.T) {
	rows := [][]string{{"2031-05-12", "1.2 ± 0.3", "-", "12 full", "-0.1 to 0.2"}, {"2031-05-13", "-", "-", "3 full", "-"}}
	var got []document.Column
	for i, head := range []string{"date", "value", "none", "spots", "interval"} {
		got = append(got, columnOf(head, rows, i))
	}
	assert.Equal(t, []document.Column{{Head: "date", Whole: true}, {Head: "value", Number: true, Whole: true},
		{Head: "none", Whole: true}, {Head: "spots", Whole: true}, {Head: "interval", Number: true, Whole: true}}, got)
	table := document.Table{Columns: got, Rows: rows}
	withoutEmpty(&table)
	assert.Len(t, table.Columns, 4)
	assert.Equal(t, []string{"2031-05-12", "1.2 ± 0.3", "12 full", "-0.1 to 0.2"}, table.Rows[0])
}
