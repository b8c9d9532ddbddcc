package report

import (
	"strconv"
	"strings"

	"wane/study/bench"
	"wane/study/report/paper"
)

// Labels are labels of coupons to stick on, the first ones of the first page being used up. began is when the
// study did, RFC 3339.
func Labels(labels []bench.Label, skip int, began string, size paper.Size) *paper.Document {
	d := &paper.Document{Title: "Labels", Size: size, Made: moment(began)}
	block := paper.Labels{Skip: skip}
	for _, l := range labels {
		label := paper.Label{Code: l.Code}
		if c := l.Coupon; c != nil {
			if c.Exposure != "" {
				label.Below = append(label.Below, "exposure "+c.Exposure)
			}
			label.Below = append(label.Below, describe(*c))
		}
		label.Below = append(label.Below, l.Study)
		block.Labels = append(block.Labels, label)
	}
	d.Blocks = []paper.Block{block}
	return d
}

// RackPages are the pages that hang beside coupons, one for each. began is when the study did, RFC 3339.
func RackPages(pages []bench.Rack, began string, size paper.Size) *paper.Document {
	d := &paper.Document{Title: "Pages for the rack", Size: size, Made: moment(began)}
	for i := range pages {
		if i > 0 {
			d.Blocks = append(d.Blocks, paper.NewPage{})
		}
		d.Blocks = append(d.Blocks, rackPage(&pages[i])...)
		d.Footer = pages[i].Study + ", pages for the rack"
	}
	return d
}

func rackPage(r *bench.Rack) []paper.Block {
	spots, turned := "as on the template", ""
	if len(r.Spots) > 0 {
		spots = strings.Join(r.Spots, ", ") + ", as on the template"
	}
	if len(r.Turned) > 0 {
		turned = ", read turned by " + strings.Join(r.Turned, ", ") + " degrees"
	}
	table := paper.Table{Columns: []paper.Column{{Head: "pull", Width: 10}, {Head: "dose / " + r.Of.DoseUnit, Width: 24},
		{Head: "planned for", Width: 26}, {Head: "came in (day, hour, by)", Width: 42}, {Head: "went out (day, hour, by)", Width: 42},
		{Head: "seen on it", Width: 40}}}
	for _, p := range r.Pulls {
		table.Groups = append(table.Groups, []paper.Row{{{Text: strconv.Itoa(p.Pull), Bold: true}, {Text: number(p.Dose)}, {Text: p.Date},
			{}, {}, {}}})
	}
	blocks := []paper.Block{paper.Heading{Text: "Coupon " + r.Coupon.Coupon, Level: 1},
		paper.Banner{Code: r.Coupon.Coupon, Below: []string{describe(r.Coupon), "study " + r.Study}},
		paper.Fields{{Label: "exposure", Value: r.Of.Exposure}, {Label: "protocol", Value: orWords(r.Followed, r.Of.Protocol)},
			{Label: "site", Value: r.Of.Site}, {Label: "start", Value: r.Of.Start},
			{Label: "place on the rack", Value: r.Position}, {Label: "controls and blanks kept in the dark",
				Value: strings.Join(r.Companion, ", ")},
			{Label: "spots: never touch, clamp or mark them", Value: spots},
			{Label: "orientation", Value: "marked edge up, front to the exposure" + turned}},
		table, cautions(r.Protocol)}
	if r.Protocol == nil {
		return append(blocks,
			paper.Text("The exposure follows no protocol that the study keeps. Follow the rules of your laboratory for it."))
	}
	return append(blocks, paper.Heading{Text: "The run is worth nothing if", Level: 2}, paper.List{Items: r.Protocol.InvalidIf},
		paper.Text("If it is damaged, lost or broken: write down the day and what happened, and report it. Do not put another one in its "+
			"place under its code."))
}
