package main

import (
	"fmt"
	"math"
	"strings"

	"wane/study"
	"wane/study/ageing"
	"wane/study/drawn"
	"wane/study/report/document"
	"wane/study/series"
)

// budgetPart says what the uncertainty of the mean changes comes from.
func budgetPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "budget", Title: "Where the uncertainty comes from"}
	data, err := w.series()
	if err != nil {
		block, err := cannot("The budget cannot be told from these data", err)
		p.Blocks = append(p.Blocks, block)
		return p, err
	}
	if w.o.audience == "research" {
		t, err := sensitivityTable(data)
		if err != nil {
			return p, err
		}
		p.Blocks = append(p.Blocks, t)
	}
	budgets := data.Budgets(groupNameOf(w.o.by))
	if len(budgets) == 0 {
		p.Blocks = append(p.Blocks, document.Notice("The budget cannot be told from these data, because no exposed coupon "+
			"has a change with known errors yet. Next: take more pulls in and run wane fit."))
		return p, nil
	}
	p.Blocks = append(p.Blocks, document.Text(fmt.Sprintf("What errors of measurement add to the mean change of %s of "+
		"each group at its last pull. What coupons share (such as a session) does not shrink with their number; where the "+
		"change of controls is taken off, what both share has cancelled already. The scatter between coupons stands "+
		"beside: it holds what coupons truly differ by, and their own errors.", data.Quantity.Name)))
	f := drawn.Budget(budgets, data.Quantity.Unit, len(w.of.Roster.Exposures) > 1)
	var parts [][]series.Part
	for i := range budgets {
		parts = append(parts, budgets[i].Parts)
	}
	owners := drawn.Owners(parts)
	columns := budgetColumns(owners, data.Quantity.Unit)
	t, err := tableOf("budget", "Standard uncertainties by the errors of each owner", columns, columns, pointers(budgets))
	if err != nil {
		return p, err
	}
	if len(f.Means) <= mostBudgets {
		figure, err := drawnBlock("budget", "Standard uncertainty of the mean change of each group, by whose errors it comes "+
			"from.",
			"A row for each owner of errors, with a mark for each group. The table below has the numbers.", f)
		if err != nil {
			return p, err
		}
		p.Blocks = append(p.Blocks, figure)
	}
	p.Blocks = append(p.Blocks, t)
	return p, nil
}

// mostBudgets is how many groups the figure has at most.
const mostBudgets = 8

func budgetColumns(owners []study.Owner, unit string) listing[*series.MeanBudget] {
	head := func(name string) string { return strings.TrimSuffix(name+" / "+unit, " / ") }
	columns := listing[*series.MeanBudget]{
		valueColumn("group", func(b *series.MeanBudget) any { return b.Group }),
		valueColumn("exposure", func(b *series.MeanBudget) any { return orEmpty(b.Exposure) }),
		valueColumn("pull", func(b *series.MeanBudget) any { return b.Pull }),
		valueColumn("coupons", func(b *series.MeanBudget) any { return b.Coupons }),
	}
	number := func(name, title string, of func(*series.MeanBudget) float64) {
		columns = append(columns, valueColumn(name, func(b *series.MeanBudget) any { return orNil(study.Num(of(b))) }).
			Ranked(1, head(title), func(b *series.MeanBudget) string { return decimal(study.Num(of(b)), 4) }))
	}
	for _, owner := range owners {
		name := string(owner)
		if name == "" {
			name = "own"
		}
		number("u_by_"+name, drawn.OwnerNames[owner], func(b *series.MeanBudget) float64 { return b.U(owner) })
	}
	number("u_by_errors", "all errors", func(b *series.MeanBudget) float64 { return math.Sqrt(b.Variance()) })
	number("se_by_scatter", "scatter between coupons", func(b *series.MeanBudget) float64 { return b.Scatter })
	return columns
}

// groupNameOf is the group of a coupon by a grouping of results.
func groupNameOf(by string) func(*series.Coupon) string {
	return func(c *series.Coupon) string {
		switch ageing.By(by) {
		case ageing.ByLot:
			return c.Lot
		case ageing.BySupplier:
			return c.Supplier
		case ageing.ByExposure:
			return c.Exposure
		}
		return c.Coating
	}
}

// sensitivity is how far a change moves with one error that may be behind it, or what it has of its own.
type sensitivity struct {
	coupon *series.Coupon
	point  *series.Point
	effect study.Effect // without an owner: of this change alone
	by     float64
}

var sensitivityColumns = listing[sensitivity]{
	valueColumn("coupon", func(s sensitivity) any { return s.coupon.Coupon }),
	valueColumn("pull", func(s sensitivity) any { return s.point.Pull }),
	valueColumn("change", func(s sensitivity) any { return orNil(study.Num(s.point.Change.Value)) }),
	valueColumn("owner", func(s sensitivity) any { return orEmpty(string(s.effect.Owner)) }),
	valueColumn("of", func(s sensitivity) any { return orEmpty(s.effect.Of) }),
	valueColumn("error", func(s sensitivity) any { return orEmpty(s.effect.Name) }),
	valueColumn("moves_by", func(s sensitivity) any { return orNil(study.Num(s.by)) }),
}

// sensitivityTable has, of each change, what its errors are made of: by it whoever has the file can work out the
// uncertainty of any sum or difference of changes.
func sensitivityTable(d *series.Data) (document.Table, error) {
	var rows []sensitivity
	for i := range d.Coupons {
		c := &d.Coupons[i]
		for k := range c.Points {
			p := &c.Points[k]
			if p.Baseline || math.IsNaN(p.Change.Value) || !p.Change.Known {
				continue
			}
			for _, share := range p.Change.Shared {
				rows = append(rows, sensitivity{c, p, d.Effects[share.Effect], share.By})
			}
			rows = append(rows, sensitivity{coupon: c, point: p, by: math.Sqrt(p.Change.Own)})
		}
	}
	return tableOf("sensitivities", "How far each change moves when an error is off by one of its standard uncertainties, and "+
		"without an owner what is of the change alone; of two changes, the products over the errors that both have add up to "+
		"their covariance, and the squares of one to its variance:", nil, sensitivityColumns, rows)
}
