package web

import (
	"bytes"
	"context"
	"html/template"
	"io"

	"wane/study/report"
)

// drawing is what study/report draws.
type drawing interface {
	Write(w io.Writer, format string) error
}

// picture is a figure that stands in a page, for wide and for narrow windows. It has no style of its own.
type picture struct{ Wide, Narrow template.HTML }

// pictureOf draws a figure for a page.
func pictureOf(ctx context.Context, d drawing) (p picture, err error) {
	for format, to := range map[string]*template.HTML{report.FormatPage: &p.Wide, report.FormatNarrow: &p.Narrow} {
		if err := ctx.Err(); err != nil {
			return p, err
		}
		var out bytes.Buffer
		if err := d.Write(&out, format); err != nil {
			return p, err
		}
		*to = template.HTML(out.String()) // all texts in it are escaped there
	}
	return p, nil
}
