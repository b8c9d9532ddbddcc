package intake_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// The answer that is offered first never deletes what may have been measured: values of
// few digits that are equal, and zeros beside small values. Zeros that stand off their
// neighbours, as a detector without light has none, are offered as missing first.
func TestFillerIsOfferedAsMissingOnlyWhereItMustBe(t *testing.T) {
	falling := func(i int) string { return fmt.Sprintf("%.2f", 4.5-0.03*float64(i)) }
	for name, c := range map[string]struct {
		value func(i int) string
		first string
	}{
		"zeros at the end": {func(i int) string {
			if i >= 45 {
				return "0.00"
			}
			return falling(i)
		}, "missing"},
		"zeros in between": {func(i int) string {
			if i >= 20 && i < 32 {
				return "0"
			}
			return falling(i)
		}, "missing"},
		"a minimum rounded to zero": {func(i int) string { return fmt.Sprintf("%.1f", 0.0006*float64((i-30)*(i-30))) },
			"keep"},
		"few digits": {func(i int) string { return fmt.Sprintf("%.1f", 4.14+0.001*float64(i)) }, "keep"},
		"saturation": {func(i int) string { return fmt.Sprintf("%.2f", max(4.2, 4.5-0.03*float64(i))) },
			"keep"},
		"zeros and equal values": {func(i int) string {
			if i >= 45 {
				return "0.00"
			}
			return fmt.Sprintf("%.2f", max(4.2, 4.5-0.03*float64(i)))
		}, "keep"},
	} {
		t.Run(name, func(t *testing.T) {
			s := "nm,%R\n"
			for i := range 60 {
				s += fmt.Sprintf("%d,%s\n", 400+i, c.value(i))
			}
			_, err := intake.Read("g.csv", []byte(s), text.Stated{})
			var refusal *study.Refusal
			require.ErrorAs(t, err, &refusal)
			require.Len(t, refusal.Choices, 2)
			assert.Equal(t, "filler", refusal.Choices[0].Name)
			assert.Equal(t, c.first, refusal.Choices[0].Value)
			assert.True(t, strings.HasPrefix(refusal.Try, "state --filler "+c.first+" (or "), refusal.Try)
		})
	}
}

// Values of which nothing is said are asked for as reflectance; a question of unit shows the numbers. Transmittance is stated by
// whoever knows of it.
func TestQuestionsOfferWhatIsTaken(t *testing.T) {
	_, err := intake.Read("g.csv", []byte("Wavelength;G07\n400;4,12\n401;4,07\n402;3,9\n"), text.Stated{})
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t,
		`the unit of wavelength is not stated (the numbers run from 400 to 402); column "G07" does not say that it contains `+
			`reflectance; `+
			`column "G07" does not say percent or fraction (its values run from 3.9 to 4.12)`, refusal.Fault)
	assert.Equal(t, "state --wavelength-unit nm (or um or cm-1), --quantity R and --unit percent (or fraction)",
		refusal.Try)

	_, err = intake.Read("g.csv", []byte("nm;G07 (%)\n400;4,12\n401;4,07\n402;3,9\n"), text.Stated{})
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, []study.Choice{{Name: "quantity", Value: "R", Meaning: "reflectance"}}, refusal.Choices)
}
