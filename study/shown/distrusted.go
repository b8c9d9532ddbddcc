package shown

import (
	"fmt"

	"wane/study/ageing"
)

// DistrustedWords says how many rows of groups, a row a spot and pull, were read in sessions that
// are not trusted, and how many are compared with a pull 0 that was; nothing if none.
func DistrustedWords(groups []ageing.Group) string {
	var said string
	switch d := ageing.CountDistrusted(groups); {
	case d.Suspect+d.SuspectBase == 0:
		return ""
	case d.SuspectBase == 0:
		said = fmt.Sprintf("%d of %d rows were read in sessions that are not trusted", d.Suspect, d.Spots)
	case d.Suspect == 0:
		said = fmt.Sprintf("the change of %d of %d rows is from a baseline in a session that is not trusted", d.SuspectBase,
			d.Spots)
	default:
		said = fmt.Sprintf("%d of %d rows were read in sessions that are not trusted, and the change of %d is from a "+
			"baseline in one", d.Suspect, d.Spots, d.SuspectBase)
	}
	return said + "; see wane check"
}
