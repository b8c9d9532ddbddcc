package desk

import (
	"fmt"
	"strings"

	"wane/study"
)

const readmeBegin = `# Export of a study

Everything that the study contained, as it was at the last line of the table 'log'. To check the files:
sha256sum -c SHA256SUMS

- %s: the tables below, in each format. CSV is UTF-8 with commas; an empty cell is null; a text that a
  spreadsheet would take for a formula has a ' before it. In JSON a table is an array of objects.
- originals/: the files that instruments and people wrote, byte for byte. Their SHA-256 are those of the
  table 'export'.
- rows/: all rows as the study stores them, a line of JSON for each, in the order of their numbers, without
  what is null. A number with a point or an exponent is a float64 and any other an int64, {"base64":"..."}
  are bytes, and crc is the CRC-32C of the row. rows/schema.sql is the SQL that makes their tables, with
  comments. Of these files alone an equal study is made: wane new COPY.wane --from THIS_FOLDER

Null means that nothing was stated, or that it does not apply; where it means more, the column says so.
Numbers have the digits that read back as the same float64. Reflectance and transmittance are fractions;
pp are percentage points; u is a standard uncertainty (k = 1).
%s
A list of numbers, as the points of a spectrum, is a list in JSON and Parquet; in CSV each number has a row
of its own. With DuckDB, one row for each point:

    select coupon, pull, spot, angle_deg, unnest(wavelength_nm) as nm, unnest(value) as value
    from 'parquet/spectra.parquet'
`

// readmeOf is the page of an export: what is in it, and what the columns of its tables mean.
func readmeOf(tables []exportTable, opt ExportOptions) string {
	var b strings.Builder
	history := "\nRows that others superseded are in rows/ only: export with --history to have them in these tables.\n"
	if opt.History {
		history = "\nRows that others superseded are in these tables too: their superseded_by is not null. A row that was amended has a\n" +
			"row for each state: it said so from the line from_log of the log on until the line until_log.\n"
	}
	folders := strings.Join(opt.Formats, "/, ") + "/"
	fmt.Fprintf(&b, readmeBegin, folders, history)
	for _, t := range tables {
		fmt.Fprintf(&b, "\n## %s\n\nA row is %s.\n\n| column | type | unit | meaning |\n|---|---|---|---|\n", t.name, t.about)
		for _, f := range t.fields {
			fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", f.Name, f.Kind, unitShown(f), f.About)
		}
	}
	return b.String()
}

func unitShown(f study.Field) string {
	if f.Unit == "" {
		return "-"
	}
	return f.Unit
}
