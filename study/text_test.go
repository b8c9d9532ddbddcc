package study_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// hiding are characters of each of the four categories, with their names in the Unicode
// Character Database.
var hiding = map[string]rune{
	"LINE FEED": '\n', "CARRIAGE RETURN": '\r', "CHARACTER TABULATION": '\t', "ESCAPE": 0x1b, "NULL": 0, "DELETE": 0x7f,
	"NEXT LINE":                   0x85,
	"CONTROL SEQUENCE INTRODUCER": 0x9b, "SOFT HYPHEN": 0xad, "ZERO WIDTH SPACE": 0x200b, "ZERO WIDTH JOINER": 0x200d,
	"RIGHT-TO-LEFT OVERRIDE": 0x202e,
	"LEFT-TO-RIGHT ISOLATE":  0x2066, "WORD JOINER": 0x2060, "ZERO WIDTH NO-BREAK SPACE": 0xfeff,
	"TAG LATIN SMALL LETTER A": 0xe0061,
	"LINE SEPARATOR":           0x2028, "PARAGRAPH SEPARATOR": 0x2029,
}

// What a person can read passes, in any script.
var readable = []string{"", "A-01", "ÄÖ ß µm ±2°", "測定 1", "проба №7", "قطعة", "naïve “quoted” – dash",
	"a\u00a0b", "emoji 🙂", "\ufffd"}

func TestCheckText(t *testing.T) {
	for name, c := range hiding {
		assert.True(t, study.Hides(c), name)
		for _, text := range []string{string(c), "A" + string(c), string(c) + "1", "é" + string(c) + "9"} {
			fault, try := study.CheckText(text)
			assert.Contains(t, fault, "contains U+", name)
			assert.NotEmpty(t, try)
			assert.False(t, strings.ContainsFunc(fault, study.Hides), "the message hides nothing itself: %q", fault)
		}
	}
	for _, text := range readable {
		fault, _ := study.CheckText(text)
		assert.Empty(t, fault, text)
		assert.Equal(t, text, study.Shown(text))
		assert.Equal(t, text, study.OneLine(text))
	}
	fault, _ := study.CheckText("A\xff1")
	assert.Equal(t, `"A\xff1" is not UTF-8 text`, fault)
	fault, _ = study.CheckText(strings.Repeat("x", 1000) + "\n")
	assert.Less(t, len(fault), 150, "a long text is cut")
}

// Characters that are not drawn, by their names in the Unicode Character Database. Source:
// Unicode, DerivedCoreProperties.txt, Default_Ignorable_Code_Point, those of them that are
// no format characters (from memory); and White_Space of PropList.txt.
var unseen = map[string]rune{
	"COMBINING GRAPHEME JOINER": 0x34f, "HANGUL CHOSEONG FILLER": 0x115f, "HANGUL JUNGSEONG FILLER": 0x1160,
	"HANGUL FILLER": 0x3164, "HALFWIDTH HANGUL FILLER": 0xffa0,
	"KHMER VOWEL INHERENT AQ": 0x17b4, "MONGOLIAN FREE VARIATION SELECTOR ONE": 0x180b,
	"MONGOLIAN FREE VARIATION SELECTOR FOUR": 0x180f, "VARIATION SELECTOR-1": 0xfe00,
	"VARIATION SELECTOR-16": 0xfe0f, "VARIATION SELECTOR-17": 0xe0100, "VARIATION SELECTOR-256": 0xe01ef,
	"reserved U+2065": 0x2065, "reserved U+FFF0": 0xfff0, "reserved U+E0080": 0xe0080,
	"NO-BREAK SPACE": 0xa0, "OGHAM SPACE MARK": 0x1680, "EN QUAD": 0x2000, "THIN SPACE": 0x2009, "HAIR SPACE": 0x200a,
	"NARROW NO-BREAK SPACE": 0x202f, "MEDIUM MATHEMATICAL SPACE": 0x205f,
	"IDEOGRAPHIC SPACE": 0x3000,
}

func TestCheckCode(t *testing.T) {
	for _, hidden := range []map[string]rune{hiding, unseen} {
		for name, c := range hidden {
			fault, try := study.CheckCode("A" + string(c) + "1")
			assert.Contains(t, fault, fmt.Sprintf("contains %U, ", c), name)
			assert.NotEmpty(t, try)
		}
	}
	for _, text := range []string{"", "A 01", "\u00c4\u00d6 \u00df \u00b5m", "\u6e2c\u5b9a 1",
		"\u0642\u0637\u0639\u0629", "q\u0307", "\U0001f642"} {
		fault, _ := study.CheckCode(text)
		assert.Empty(t, fault, "%+q", text)
	}
	for text, want := range map[string]string{"Mu\u0308ller": `"Mu\u0308ller" contains an accent as a character of its own`,
		"5 \u2126": `"5 \u2126" contains a character that Unicode writes in another way too`} {
		for _, check := range []func(string) (string, string){study.CheckCode, study.CheckWords} {
			fault, try := check(text)
			assert.Equal(t, want, fault)
			assert.Contains(t, try, "type it again")
		}
	}
	fault, _ := study.CheckWords("10\u00a0mm \u2713\ufe0f")
	assert.Empty(t, fault, "a reason may be set with such spaces")
}

// What others chose is shown so that it stays in its line, and what can be read stays as
// it is.
func TestShown(t *testing.T) {
	for _, c := range []struct{ text, shown, line string }{
		{"probe é.csv", "probe é.csv", "probe é.csv"},
		{"a\nb", `"a\nb"`, `a\nb`},
		{"\x1b[2Jx", `"\x1b[2Jx"`, `\x1b[2Jx`},
		{"exe\u202egpj.é", `"exe\u202egpj.é"`, `exe\u202egpj.é`},
		{"say \"hi\"\u200b", `"say \"hi\"\u200b"`, `say "hi"\u200b`},
		{"\xff\\é\n", `"\xff\\é\n"`, `\xff\é\n`},
		{"it's\t", `"it's\t"`, `it's\t`},
	} {
		assert.Equal(t, c.shown, study.Shown(c.text))
		assert.Equal(t, c.line, study.OneLine(c.text))
	}
}

// Spreadsheets take what begins with = + - @, a tab or a carriage return for a formula.
// Source: OWASP, CSV Injection (from memory).
func TestSheetText(t *testing.T) {
	for _, c := range []struct{ text, cell string }{
		{"", ""}, {"A01", "A01"}, {"a=b", "a=b"}, {"=1+1", "'=1+1"}, {"+41", "'+41"}, {"-x", "'-x"}, {"@A1", "'@A1"},
		{"\tx", `"\tx"`}, {"\r", `"\r"`}, {"#7", "'#7"},
		{"'", "'"}, {"'x'", "'x'"}, {"'=1", "''=1"}, {"''", "'''"}, {"''=1", "'''=1"}, {"-", "'-"},
		{"a\x1b[2J", `"a\x1b[2J"`}, {"exe\u202egpj", `"exe\u202egpj"`}, {"é\u200b", `"é\u200b"`}, {"\ufeffx", `"\ufeffx"`},
		{"a\u00adb", `"a\u00adb"`}, {"\xff", `"\xff"`},
		{`"a\x1b[2J"`, `"\"a\\x1b[2J\""`}, {`"a b"`, `"a b"`}, {`"a\u00e9"`, `"a\u00e9"`}, {`"`, `"`}, {"=\n", `"=\n"`},
	} {
		assert.Equal(t, c.cell, study.SheetText(c.text))
		assert.Equal(t, c.text, study.FromSheet(c.cell))
	}
	random := rand.New(rand.NewPCG(7, 1))
	for range 20_000 {
		text := ""
		for range random.IntN(7) {
			text += string([]rune("'=+-@#\t\rx é\u202e\"\\tu2")[random.IntN(17)])
		}
		cell := study.SheetText(text)
		require.Equal(t, text, study.FromSheet(cell))
		require.False(t, strings.ContainsFunc(cell, study.Hides), "%q", cell)
		require.False(t, cell != "" && strings.ContainsRune("=+-@\t\r\n#", rune(cell[0])), "%q", cell)
	}
}

func TestRefusalsQuoteNames(t *testing.T) {
	r := &study.Refusal{File: "a\n\u202eb.csv", Line: 3, Column: 2, Fault: "it is wrong"}
	assert.Equal(t, `"a\n\u202eb.csv":3:2: it is wrong`, r.Error())
	r.File = "é b.csv"
	assert.Equal(t, "é b.csv:3:2: it is wrong", r.Error())
}
