package intake_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// Lines that say another quantity, or that nothing was compared to a reference, and nothing
// else.
var saysOther = []string{
	// below a key of any kind
	"Data mode,%T", "Type: %T", "Messart;%T", "Einheit: %T", "Einheit: A", "Unité: %T", "Unidad: %T", "Y: %T",
	"Parameter: %T",
	"Display mode: %T", "Sample,G07,Mode,%T", "Sample;G07;Mode;A;Lamp;on", "Type: A", "Y: A", "\"Type\",\"%T\"",
	"Einheit: W/m²", "Unit: cps",
	"Y units: a.u.", "Einheit: V", "Unit: mV", "Einheit: cts", "Processing: first derivative", "Mode: Trans", "Mode: EQE",
	"Mode: Haze", "Measurement mode: Single beam", "Photometric mode: Energy", "Typ: Ext", "Signal: V",
	"Grandeur : Densité optique",
	// in a line of its own
	"%T mode", "Scan in %T", "Measured in transmission", "%Trans", "%Trans.", "Trans.", "Ext.", "Optische Dichte",
	"Densité optique",
	"Densidad óptica", "Optical density", "F(R)", "K/M", "K/S", "-log R", "log(1/R)", "[log(1/R)]", "log10(1/R)", "1-R",
	"100-%R", "(1-R)",
	"Kubelka-Munk", "First derivative", "2nd derivative", "1. Ableitung", "Erste Ableitung", "коэффициент пропускания",
	"Пропускание, %",
	"Поглощение", "cps", "[counts/s]", "counts per second", "photons/s", "nW/nm", "W/sr/m2", "[W/(m2 sr nm)]", "PAR",
	"EQE", "EQE (%)",
	"Quantum efficiency", "Emission", "Type; Emission", "Emission spectrum", "Photocurrent", "Single beam", "Energy",
	"Signal (V)", "[mV]", "Voltage (mV)", "Haze", "Haze (%)",
	// no reference
	"White reference not taken", "White reference was not taken", "Reference not measured", "Ref: none",
	"Reference spectrum loaded: No",
	"Reference spectrum: N/A", "Reference spectrum: -", "Reference spectrum,-", "WhiteRef: no", "Blanc de référence: non",
	"Pas de blanc",
	"Weißstandard nicht gemessen", "Weißstandard: nicht gemessen", "Kein Weißstandard", "Reference missing",
}

// Such a line is held against a heading that names reflectance, above the rows and behind
// them, and against --quantity below one that names nothing.
func TestReadAsksAboutLinesThatSayNothingElse(t *testing.T) {
	for _, line := range saysOther {
		for head, stated := range map[string]text.Stated{"nm;%R": {}, "nm;Value": {Quantity: "R", Unit: "percent"}} {
			for number, text := range map[string]string{
				"1": line + "\nmade up\n" + head + "\n400;4.12\n401;4.07\n402;4.03\n",
				"6": "made up\n\n" + head + "\n400;4.12\n401;4.07\n402;4.03\n" + line + "\n",
			} {
				if number == "6" {
					number = "7"
				}
				_, err := intake.Read("g.txt", []byte(text), stated)
				var refusal *study.Refusal
				require.ErrorAs(t, err, &refusal, "%s %s", line, head)
				require.Len(t, refusal.Choices, 1, line)
				assert.Equal(t, "declared", refusal.Choices[0].Name, line)
				assert.Equal(t, number, refusal.Choices[0].Value, line)
				settled := stated
				settled.Declared = number
				export, err := intake.Read("g.txt", []byte(text), settled)
				require.NoError(t, err, line)
				assert.Equal(t, g07[0].values, export.Spectra[0].Values)
			}
		}
	}
	// What the header says elsewhere does not settle it.
	_, err := intake.Read("g.txt", []byte("Quantity: R\nUnit: percent\nType: %T\nnm;Value\n400;4.12\n401;4.07\n"),
		text.Stated{})
	require.EqualError(t, err, `g.txt:3: line 3 says "Type: %T", and the header says reflectance`)
}

// Near misses say nothing of the values, below either heading.
func TestReadDoesNotAskAboutNearMisses(t *testing.T) {
	for _, line := range []string{
		"Plate: A", "Revision: A", "Side: A", "Channel: A", "Grade: T", "Batch: T", "Sample,A,Operator,T", "Plate,A,Run,T",
		"S: A", "Data mode,%R", "Type: %R",
		"Einheit: %R", "Einheit: %", "Unit: percent", "Display mode: %R", "%R mode", "Scan in %R", "Trigger: Ext",
		"Sync: Ext.", "Transfer: done",
		"Ext: 5", "Extended range", "Transient: none", "Optics: single beam", "Single beam instrument", "Double beam",
		"Energy: 3 mJ", "Energy (eV): 3.1",
		"Lamp voltage: 12 V", "Supply: V", "Haze: 0.3", "Haze number 3", "PAR sensor", "Operator: PAR", "EQE bench 2",
		"Rack K/M 2", "Derivative: off",
		"Derivative: none", "Ableitung: 0", "Kubelka-Munk: off", "Absorbance correction: no", "Optical bench 2",
		"Dichte: 2.5 g/cm3", "Density: 2.5 g/cm3",
		"Scan speed: 300 nm/min", "Photons: yes", "S/N: 400", "Spot 1-R2", "1/2", "White: none", "Reference file: none",
		"Reference: no. 12", "Reference: taken",
		"White reference taken", "Weißstandard gemessen", "Blanc de référence: oui", "Ref: W1", "Reference spectrum: W1",
		"Reference spectrum loaded: Yes",
		"Reference not changed", "Reference lamp not used", "Format: CSV", "Type: coated", "Mode: specular",
		"Signal: 30000 counts", "Log file: none", "F(x)", "K: 3",
		"Filter: 50 %T neutral", "Log: R", "Type: R", "Pasted by: blanc", "Unit: 3", "Gloss: 85 GU",
	} {
		for _, head := range []string{"nm;%R", "nm;Value"} {
			export, err := intake.Read("g.txt", []byte(line+"\n"+head+"\n400;4.12\n401;4.07\n402;4.03\n"), overruled(""))
			require.NoError(t, err, "%s %s", line, head)
			assert.Equal(t, g07[0].values, export.Spectra[0].Values, line)
		}
	}
}

// A row of units below the names says what the values are: A is absorbance, V and mV are a
// signal. Several different letters are names.
func TestReadHeedsARowOfUnits(t *testing.T) {
	for head, fault := range map[string]string{
		"Wavelength;Reflectance\nnm;A": `column "Reflectance A" is absorbance; this needs reflectance`,
		"Wavelength;%R\nnm;V":          `column "%R V" contains raw values, not compared to a reference; this needs reflectance`,
		"Wavelength;%R\n[nm];[mV]": `column "%R [mV]" contains raw values, not compared to a reference; this needs ` +
			`reflectance`,
		"Wavelength;Value\nnm;Abs": `column "Value Abs" is absorbance; this needs reflectance`,
		"nm;Reflexionsverlust " +
			"[%]": `column "Reflexionsverlust [%]" is computed, scaled or in a unit that is not read; this needs the ` +
			`reflectance itself`,
		"nm;Pertes par réflexion " +
			"(%)": `column "Pertes par réflexion (%)" is computed, scaled or in a unit that is not read; this needs the ` +
			`reflectance itself`,
	} {
		_, err := intake.Read("g.txt", []byte(head+"\n400;4.12\n401;4.07\n402;4.03\n"), text.Stated{Quantity: "R",
			Unit: "percent"})
		require.ErrorContains(t, err, fault, head)
	}
	for _, head := range []string{"Wavelength;Reflectance\nnm;%", "Wavelength;%R\nnm;-", "Wavelength;Reflexion [%]\nnm;",
		"nm;Reflexionsgrad [%]"} {
		export, err := intake.Read("g.txt", []byte(head+"\n400;4.12\n401;4.07\n402;4.03\n"), text.Stated{Quantity: "R",
			Unit: "percent"})
		require.NoError(t, err, head)
		assert.Equal(t, g07[0].values, export.Spectra[0].Values)
	}
	for _, head := range []string{"Wavelength;%R;%R\nnm;A;B", "x;A;V\nnm;%R;%R", "Wavelength;%R;%R\nnm;A;V"} {
		export, err := intake.Read("g.txt", []byte(head+"\n400;4.12;5\n401;4.07;5\n402;4.03;6\n"), text.Stated{Quantity: "R",
			Unit: "percent"})
		require.NoError(t, err, head)
		assert.Len(t, export.Spectra, 2, head)
	}
}
