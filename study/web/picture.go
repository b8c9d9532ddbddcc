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

// image is a figure that a page names, for wide and for narrow windows, since it is slow to draw or large.
type image struct{ Wide, Narrow, Alt string }

// imageOf is the figure of a page at an address.
func imageOf(at, alt string, query ...string) *image {
	return &image{withQuery(at+".svg", append(query, "as", "page")...), withQuery(at+".svg", append(query, "as", "phone")...),
		alt}
}

// imageFormat is the format of a figure that is asked for as a file: a page asks for it in its own look.
func (q *request) imageFormat() string {
	switch as := q.URL.Query().Get("as"); {
	case q.format == "svg" && as == "page":
		return report.FormatImage
	case q.format == "svg" && as == "phone":
		return report.FormatImageNarrow
	}
	return q.format
}

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
