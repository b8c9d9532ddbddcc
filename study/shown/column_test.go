package shown_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/desk"
	"wane/study/shown"
)

type row struct {
	code string
	pull int
}

func columns() shown.List[row] {
	return shown.List[row]{
		shown.Value("coupon", func(r row) any { return r.code }).Ranked(1, "code", nil),
		shown.Value("pull", func(r row) any { return float64(r.pull) }),
		shown.Cell("line", 2, "", func(r row) string { return r.code + "!" }),
	}
}

func TestChooseByFormat(t *testing.T) {
	table, err := columns().Choose("table", nil)
	require.NoError(t, err)
	assert.Equal(t, []string{"coupon", "line"}, table.Names(true))
	csv, err := columns().Choose("csv", nil)
	require.NoError(t, err)
	assert.Equal(t, []string{"coupon", "pull"}, csv.Names(true))
}

func TestChooseByName(t *testing.T) {
	named, err := columns().Choose("table", []string{"pull", "line"})
	require.NoError(t, err)
	assert.Equal(t, []string{"pull", "line"}, named.Names(true))
	assert.Equal(t, "3", named[0].Words(row{"A01", 3}))
	assert.Equal(t, "A01!", named[1].Words(row{"A01", 3}))

	var usage *desk.UsageError
	_, err = columns().Choose("csv", []string{"line"})
	require.ErrorAs(t, err, &usage)
	assert.Contains(t, usage.Fault, "exists only in the table")
	_, err = columns().Choose("csv", []string{"cupon"})
	require.ErrorAs(t, err, &usage)
	assert.Contains(t, usage.Try, "coupon")
}
