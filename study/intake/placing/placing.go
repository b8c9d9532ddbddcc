package placing

import "wane/study/intake/sheet"

// Placing is a row of a map or a curve of a profile, whose File is the path of the export.
// What a profile says of a column only once the export is read is filled in by [Place];
// until then it has only File, Column and Stated.
type Placing struct {
	sheet.MapRow
	rule *ruleFor // of a profile, until it is matched against a column
}

// Literal reports whether the line says where a curve belongs before its file is read:
// that of a map does, and that of a profile once it is matched.
func (p *Placing) Literal() bool { return p.rule == nil }
