package study

import "crypto/sha256"

// KeptRule is a rule of acceptance as the study keeps it. Its name is used once.
type KeptRule struct{ Rule, Text string }

// IssuedVerdict is what a rule said of a group of coupons when it was judged.
type IssuedVerdict struct {
	Group   string
	Line    int64             // the last one of the log when it was judged
	Digest  [sha256.Size]byte // of what went in
	Verdict string
	Looked  string // the readings that were looked at, in JSON
	Row     string // as it was printed, in JSON
}
