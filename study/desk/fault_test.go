package desk

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// A panic of a worker, of the items or of the function that takes the results ends the work with an error,
// and no goroutine waits for ever.
func TestInOrderTurnsPanicsIntoFaults(t *testing.T) {
	items := make([]int, 500)
	for i := range items {
		items[i] = i
	}
	pass := func(_ context.Context, _ int, i int) (int, error) { return i, nil }
	take := func(int) error { return nil }
	for _, workers := range []int{1, 4} {
		for name, err := range map[string]error{
			"a worker": inOrder(context.Background(), workers, slices.Values(items),
				func(_ context.Context, _ int, i int) (int, error) {
					if i == 70 {
						panic("made up")
					}
					return i, nil
				}, take),
			"the items": inOrder(context.Background(), workers, func(yield func(int) bool) {
				for i := range 70 {
					yield(i)
				}
				panic("made up")
			}, pass, take),
			"what takes the results": inOrder(context.Background(), workers, slices.Values(items), pass, func(i int) error {
				if i == 70 {
					panic("made up")
				}
				return nil
			}),
		} {
			var fault *study.Fault
			require.ErrorAs(t, err, &fault, name)
			assert.Equal(t, "made up", fault.Value)
			assert.Regexp(t, `^study/desk/fault_test\.go:\d+$`, fault.Place(), name)
		}
	}
}

// An export on which the reader panics is refused with its name, and the other exports are taken in. A
// preview shows the same and changes nothing.
func TestIntakeContinuesAfterAPanic(t *testing.T) {
	ctx, opt := context.Background(), IntakeOptions{Workers: 2}
	f := newFolder(t)
	d := f.start()
	f.export("a.csv", 120, 0, 1)
	f.export("b.csv", 110, 0, 2)
	f.export("c.csv", 119, 0, 3)
	m := f.write("map.csv", mapHeader+rows("a.csv", "E1", 0)+rows("b.csv", "B1", 0)+rows("c.csv", "C1", 0))
	broken := func(name string, data []byte, stated text.Stated) (*intake.Export, error) {
		if strings.HasSuffix(name, "b.csv") {
			return nil, errors.New([]string{}[len(data)])
		}
		return intake.Read(name, data, stated)
	}
	p, err := d.planIntake(ctx, m, nil, opt)
	require.NoError(t, err)
	p.parser = broken
	in, err := p.takeIn(ctx, opt)
	require.NoError(t, err)
	require.NoError(t, p.close())
	assert.Equal(t, 2, in.Files)
	require.Len(t, in.Refused, 1)
	var fault *study.Fault
	require.ErrorAs(t, in.Refused[0], &fault)
	assert.Regexp(t,
		`b\.csv: this is a fault of wane, please report: runtime error: index out of range \[\d+\] with length 0, `+
			`at study/desk/fault_test\.go:\d+$`, fault.Error())

	before := dump(t, d)
	p, err = d.planIntake(ctx, m, nil, opt)
	require.NoError(t, err)
	p.parser, p.previewOnly, p.placesShown = broken, true, map[study.Place]string{}
	for j := range p.jobs() {
		shown, err := p.preview(ctx, j)
		require.NoError(t, err)
		assert.Equal(t, strings.HasSuffix(j.path, "b.csv"), errors.As(shown.Refused, &fault), "%s: %v", j.path, shown.Refused)
	}
	require.NoError(t, p.close())
	assert.Equal(t, before, dump(t, d))

	again, err := d.Intake(ctx, m, nil, opt)
	require.NoError(t, err)
	assert.Equal(t, []int{1, 2, 0}, []int{again.Files, again.Known, len(again.Refused)}, "the export itself is good")
}

// A panic during an evaluation ends the fit with a fault that names the spot.
func TestFitTurnsAPanicIntoAFault(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	f.export("a.csv", 120, 0, 1)
	_, err := d.Intake(ctx, f.write("map.csv", mapHeader+rows("a.csv", "E1", 0)), nil, IntakeOptions{Workers: 2})
	require.NoError(t, err)
	roster, err := d.store.Roster(ctx)
	require.NoError(t, err)
	units, err := d.store.Units(ctx)
	require.NoError(t, err)
	w, err := d.newWorkspace(roster, units, 2)
	require.NoError(t, err)
	w.evaluators = nil // a worker then has none
	err = inOrder(ctx, 2, slices.Values(w.jobs()), w.fit, func(fitOutcome) error { return nil })
	var fault *study.Fault
	require.ErrorAs(t, err, &fault)
	assert.Regexp(t,
		`^coupon E1, pull 0, spot 1: this is a fault of wane, please report: runtime error: index out of range `+
			`\[\d\] with length 0, at study/desk/fit_workspace\.go:\d+$`, err.Error())
}
