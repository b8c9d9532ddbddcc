package study_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"wane/study"
)

func TestStamp(t *testing.T) {
	day := time.Date(2031, 5, 7, 23, 30, 0, 0, time.FixedZone("", -3600)) // the 8th in UTC
	for want, s := range map[string]study.Stamp{
		"": {},
		"Study roof.wane, 2031-05-08, log line 41, head ab0000000001": {Study: "roof.wane", Made: day, Line: 41,
			Head: [32]byte{0xab, 5: 0x01, 6: 0xff}},
		"2031-05-08":                {Made: day},
		`Study "a\x1b", 2031-05-08`: {Study: "a\x1b", Made: day},
	} {
		assert.Equal(t, want, s.String())
	}
}
