package intake

import (
	"regexp"
	"strings"
	"unicode"

	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// declaration is what the header declares of the numbers below it.
type declaration struct {
	what  string // points, start, stop, step, maximum, factor, or an end of a range: range from, range to
	text  string // of a factor
	value float64
	nm    bool // the value has nm behind it
	at    text.Position
}

// declaredOf returns what a key, as letters only, declares, or "".
func declaredOf(key string) string {
	if isCount(key) {
		return "points"
	}
	switch strings.TrimSuffix(strings.TrimSuffix(key, "innm"), "nm") {
	case "start", "startwavelength", "wavelengthstart", "startnm", "startx", "xstart", "first", "firstx",
		"firstwavelength", "startingwavelength",
		"anfang", "startwert", "startwellenlänge", "anfangswellenlänge", "début", "inicio", "inizio":
		return "start"
	case "stop", "stopwavelength", "wavelengthstop", "stopnm", "stopx", "xstop", "end", "endwavelength", "endnm", "endx",
		"xend", "last", "lastx", "lastwavelength", "endingwavelength",
		"ende", "endwert", "endwellenlänge", "stoppwellenlänge", "stopwellenlänge", "fin":
		return "stop"
	case "step", "stepsize", "stepnm", "stepwidth", "xstep", "deltax", "datainterval", "interval", "increment",
		"wavelengthstep", "samplinginterval",
		"schritt", "schrittweite", "intervall", "datenintervall", "pas", "paso", "passo":
		return "step"
	case "max", "maximum", "maxvalue", "maximumvalue", "maxy", "maximumy":
		return "maximum"
	}
	return ""
}

// isCount reports whether a key, as letters only, is that of a count of points, whatever
// an instrument calls them: Number of pixels in spectrum, X values, Anzahl Messpunkte.
// Values, rows and wavelengths without a word for a number may be anything.
func isCount(key string) bool {
	counted := numberOf.ReplaceAllString(inSpectrum.ReplaceAllString(key, ""), "")
	switch counted {
	case "points", "datapoints", "spectralpoints", "wavelengthpoints", "measuredpoints", "pts", "pixels",
		"spectrumpixels", "activepixels", "xvalues", "yvalues", "datavalues", "datarows", "valeursx", "wertepaare",
		"punktzahl", "punktezahl", "punktanzahl",
		"channels", "spectralchannels", "punkte", "messpunkte", "datenpunkte", "xwerte", "messwerte", "kanäle",
		"pointsdemesure", "puntos", "pontos", "punti", "punten", "meetpunten", "mätpunkter":
		return true
	case "point", "pixel", "values", "rows", "wavelengths", "werte", "valeurs", "valores", "valori", "waarden":
		return counted != key
	}
	return false
}

// What is before and behind the thing that is counted, as letters only: number of
// sampled ... in processed spectrum.
var (
	numberOf = regexp.MustCompile(`^(total)?` +
		`((numberof|numof|number|anzahlder|anzahl|nombredes|nombrede|n[uú]merode|numerodi|numero|aantal|antal|` +
		`noof|nrof|nbde|of|num|nb|nr|no|n)(measurement|measuring|scan)?)?` +
		`(total|sampled|measured|recorded|valid|used|active)?`)
	inSpectrum = regexp.MustCompile(`((in|per)(the|this|processed|raw|measured)?(spectrum|scan|file|trace)|total|count)$`)
)

// leastChannels is how many channels a spectrum has at least: fewer are those of an
// instrument, for a sample and a reference. Common practice, no source.
const leastChannels = 32

// sectionOf returns the name of the section that a line begins, as letters only: of
// [Detector], -- Detector -- or === Detector ===. ok is false if it begins none.
func sectionOf(text string) (name heading.Key, ok bool) {
	body := strings.TrimSpace(text)
	inner := strings.Trim(body, "=-*#<> ")
	decorated := len(body)-len(inner) >= 4 && strings.HasPrefix(body, body[:1]) && strings.ContainsRune("=-*#<",
		rune(body[0])) && strings.ContainsAny(body[len(body)-1:], "=-*#>")
	if !heading.Bracketed(body) && !(decorated && !strings.ContainsAny(inner, ":=,;\t0123456789")) {
		return "", false
	}
	return heading.KeyOf(body), true
}

// isOfOther reports whether a section, as letters only, is about something else than the
// rows: what is declared there is a setting of that.
func isOfOther(section heading.Key) bool {
	for _, word := range []string{"smooth", "glätt", "filter", "boxcar", "averag", "detector", "lamp", "light", "correct",
		"calibrat", "dark", "reference", "baseline", "blank", "white",
		"background", "derivat", "peak", "interpol", "accessor", "display", "plot", "print", "graph", "chart", "temperat",
		"grating", "slit"} {
		if strings.Contains(string(section), word) {
			return true
		}
	}
	return section.IsOtherAngle()
}

// noteDeclaration keeps a declaration, if the value is a number with a unit of
// wavelength behind it at most: Start: 10:30 is none.
func (h *header) noteDeclaration(key, value string, at text.Position) {
	what := declaredOf(key)
	if what == "" || isOfOther(h.section) {
		return
	}
	mark := byte('.')
	if strings.Contains(value, ",") {
		mark = ','
	}
	if n := grouped([]byte(value), mark); what == "points" && n > 0 { // 2,048 points
		value = strings.ReplaceAll(value[:n], string(mark), "") + value[n:]
	}
	v, n := text.ParseNumber([]byte(value), mark, 0)
	if n == 0 {
		return
	}
	unit := strings.Trim(value[n:], " []()")
	if what == "points" && heading.IsAny(unit, "px", "pixel", "pixels", "values", "channels", "pts", "data points",
		"Punkte") {
		unit = ""
	}
	if !heading.IsAny(unit, "", "nm", "um", "cm-1", "%", "points") || heading.IsAny(key, "channels", "numberofchannels",
		"kanäle", "anzahlkanäle") && v < leastChannels {
		return
	}
	h.declared = append(h.declared, declaration{what: what, value: v, nm: unit == "nm", at: at})
}

// noteRange keeps both ends that a line such as Range: 350,0 to 900,0 declares. A
// range without a unit below any wavelength in nm is one of values.
func (h *header) noteRange(s string, at text.Position) {
	i := strings.IndexFunc(s, unicode.IsDigit)
	if i < 0 || isOfOther(h.section) {
		return
	}
	key := string(heading.KeyOf(s[:i]))
	sure := heading.IsAny(strings.TrimSuffix(key, "nm"), "range", "rangefrom", "wavelengthrange", "scanrange",
		"spectralrange", "xrange",
		"bereich", "bereichvon", "wellenlängenbereich", "wellenlängenbereichvon", "spektralbereich", "plage", "plagede",
		"plagespectrale", "plagedelongueursdonde", "plagedelongueurdonde", "rango", "rangoespectral")
	if !sure && !heading.IsAny(key, "scan", "scanfrom", "from", "wavelengths", "wavelengthsfrom", "measuredfrom",
		"spectrum", "region", "spectralregion") {
		return
	}
	for _, mark := range []byte(".,") {
		rest := rangeWords.Replace(strings.ToLower(s[i:]))
		from, unit, rest, ok := cutWavelength(rest, mark)
		rest, to := strings.CutPrefix(rest, "to")
		last, lastUnit, rest, also := cutWavelength(strings.TrimLeft(rest, " "), mark)
		if lastUnit != "" {
			unit = lastUnit
		}
		if !ok || !to || !also || strings.Trim(rest, " .,;\t\"") != "" || unit == "" && (!sure ||
			min(from, last) < leastNM) {
			continue
		}
		if unit == "um" {
			from, last = 1000*from, 1000*last
		}
		nm := heading.IsAny(unit, "nm", "um")
		h.declared = append(h.declared, declaration{what: "range from", value: from, nm: nm, at: at},
			declaration{what: "range to", value: last, nm: nm, at: at})
		return
	}
}

// noteSentence keeps what a line without a sign between key and value declares, with
// its unit: Interval 10 nm, 401 points.
func (h *header) noteSentence(text string, at text.Position) {
	i := strings.IndexFunc(text, unicode.IsDigit)
	if i < 0 || strings.ContainsAny(text, ":=,;\t") {
		return
	}
	n := len(text[i:]) - len(strings.TrimLeft(text[i:], digits))
	words := string(heading.KeyOf(text[:i])) + strings.ToLower(strings.TrimSpace(text[i+n:]))
	if heading.IsAny(words, "points", "data points", "pixels", "punkte", "messpunkte", "puntos", "punti") {
		h.noteDeclaration("points", text[i:i+n], at) // 401 points
		return
	}
	key := heading.KeyOf(text[:i])
	if key.IsFactor() { // Multiplied by 100
		h.noteFactor(key, text, strings.TrimSpace(text[i:]), at)
		return
	}
	if _, unit, rest, ok := cutWavelength(strings.ToLower(text[i:]), '.'); ok && rest == "" && (unit != "" ||
		declaredOf(string(key)) == "points") {
		h.noteDeclaration(string(key), strings.TrimSpace(text[i:]), at)
	}
}

// rangeWords writes what is between the ends of a range as to; the dash in cm-1
// is none of that.
var rangeWords = strings.NewReplacer("...", " to ", "..", " to ", "…", " to ", "–", " to ", "—", " to ", "cm-1",
	"cm-1", "-", " to ", "µm", "um", "μm", "um", " bis ", " to ", " à ", " to ", " hasta ", " to ")

// cutWavelength cuts a number off a text, with the unit behind it.
func cutWavelength(s string, mark byte) (v float64, unit, rest string, ok bool) {
	v, n := text.ParseNumber([]byte(s), mark, 0)
	rest = strings.TrimLeft(s[n:], " [(")
	for _, u := range []string{"nm", "um", "cm-1"} {
		if after, found := strings.CutPrefix(rest, u); found {
			unit, rest = u, strings.TrimLeft(after, " ])")
			break
		}
	}
	return v, unit, rest, n > 0
}
