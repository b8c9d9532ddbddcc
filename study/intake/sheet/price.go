package sheet

import (
	"fmt"

	"wane/study"
)

// Price is what a coating costs, in the one currency of its table.
type Price struct {
	Line          int
	Coating       string
	Price         float64 // per kWp
	Cleanings     float64 // a year
	CleaningPrice float64 // of one cleaning, per kWp
	CleaningLoss  float64 // pp of gain lost by each
}

var (
	priceColumns    = []string{"coating", "price_per_kwp"}
	cleaningColumns = []string{"cleanings_per_year", "price_per_cleaning", "loss_per_cleaning_pp"}
)

// ReadPrices reads what coatings cost: the header coating,price_per_kwp and, where wanted, cleanings_per_year,
// price_per_cleaning (per kWp) and loss_per_cleaning_pp, then a row for each coating. Empty cells of the latter are
// 0. Every error is a [*study.Refusal].
func ReadPrices(name string, data []byte) ([]Price, error) {
	s, err := open(name, data)
	if err != nil {
		return nil, err
	}
	if err := s.names(priceColumns, cleaningColumns); err != nil {
		return nil, err
	}
	var all []Price
	lines := map[string]int{}
	for i := range s.rows {
		r := &s.rows[i]
		r.needed("price_per_kwp")
		p := Price{Line: r.Line, Coating: r.needed("coating"), Price: r.upTo("price_per_kwp", 1e6),
			Cleanings: r.upTo("cleanings_per_year", 366), CleaningPrice: r.upTo("price_per_cleaning", 1e6),
			CleaningLoss: r.upTo("loss_per_cleaning_pp", 10)}
		if line := lines[p.Coating]; line > 0 {
			r.Refuse("coating", "give each coating once", "%q stands in line %d already", p.Coating, line)
		}
		if lines[p.Coating] = r.Line; r.Err != nil {
			return nil, r.Err
		}
		all = append(all, p)
	}
	if len(all) == 0 {
		return nil, &study.Refusal{File: name, Fault: "the table has no rows",
			Try: fmt.Sprintf("write a row for each coating below %s,%s", priceColumns[0], priceColumns[1])}
	}
	return all, nil
}

// upTo returns a number from 0 to most; 0 where the cell is empty.
func (r *Row) upTo(column string, most float64) float64 {
	v := r.number(column)
	if !v.Valid() {
		return 0
	}
	if !(v >= 0 && float64(v) <= most) {
		r.Refuse(column, "give a number of at least 0", "%g is outside 0 to %g", float64(v), most)
	}
	return float64(v)
}
