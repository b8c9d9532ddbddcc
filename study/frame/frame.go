// Package frame hands rows of results to researchers who work with data frames in Go.
package frame

import (
	"strings"

	"github.com/go-gota/gota/dataframe"
	"github.com/go-gota/gota/series"

	"wane/study"
)

// Of returns rows of results as a data frame, for researchers who group and
// summarise in Go: one column for each of [study.Columns], in their order. Columns of
// numbers are float columns in which NaN is null; flags are one string, joined by
// spaces.
//
// The frame is for reckoning. gota rounds floats to six decimals where it prints
// them; what wane prints comes from the rows themselves.
func Of(rows []*study.Result) dataframe.DataFrame {
	columns := study.Columns()
	all := make([]series.Series, len(columns))
	for i, c := range columns {
		if c.Num != nil {
			v := make([]float64, len(rows))
			for k, r := range rows {
				v[k] = float64(c.Num(r))
			}
			all[i] = series.New(v, series.Float, c.Name)
			continue
		}
		v := make([]string, len(rows))
		for k, r := range rows {
			if c.Text != nil {
				v[k] = c.Text(r)
			} else {
				v[k] = strings.Join(c.Words(r), " ")
			}
		}
		all[i] = series.New(v, series.String, c.Name)
	}
	return dataframe.New(all...)
}
