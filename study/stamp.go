package study

import (
	"encoding/hex"
	"fmt"
	"strings"
	"time"
)

// Stamp says on a figure what it was drawn from: the study, the day, and the last line of the log up to which the study
// was read. The same study and day give the same stamp. The zero Stamp says nothing.
type Stamp struct {
	Study string    // the name of the file; empty: of no study
	Made  time.Time // UTC
	Line  int64     // the last line of the log
	Head  [32]byte  // its hash
}

// stampDigits is how many digits of a hash a stamp has: `wane verify --contains` finds the line by them.
const stampDigits = 12

// String returns the stamp in one line.
func (s Stamp) String() string {
	var parts []string
	if s.Study != "" {
		parts = append(parts, "Study "+Shown(s.Study))
	}
	if !s.Made.IsZero() {
		parts = append(parts, s.Made.UTC().Format(time.DateOnly))
	}
	if s.Line > 0 {
		parts = append(parts, fmt.Sprintf("log line %d, head %s", s.Line, hex.EncodeToString(s.Head[:])[:stampDigits]))
	}
	return strings.Join(parts, ", ")
}
