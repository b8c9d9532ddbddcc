package intake_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake"
	"wane/study/intake/text"
)

// polarisations reads a made-up file and returns what its curves are said to
// hold.
func polarisations(t *testing.T, text string) []string {
	t.Helper()
	export, err := intake.Read("g07.txt", []byte(text), allStated)
	require.NoError(t, err)
	var found []string
	for _, s := range export.Spectra {
		found = append(found, s.Polarisation)
	}
	return found
}

// The notation is that of the trade: R_s and s-pol are common practice without a
// source; TE is s and TM is p in M. Born, E. Wolf, Principles of Optics, 7th ed.
// (1999), 1.6.1 (from memory).
func TestReadPolarisations(t *testing.T) {
	for _, c := range []struct {
		want     string
		headings []string
	}{
		{"s", []string{
			"60 deg s-pol %R", "60° S-Pol. (%R)", "R 60 deg s polarised", "s-polarized %R 8 deg", "%R pol. s", "R (pol=s) 8 deg",
			"R polarisation s", "R_s 8 deg (%)", "R_S (%)", "Rs", "%Rs", "Rs60deg", "Rs_60deg", "R(s) 60°", "R(s, 60 deg)",
			"R_{s} [%]", "R[s]",
			"G07 Rs (%)", "blank Rs (%)", "blank s pol %R", "bare glass Rs (%)", "bare glass s-pol 8 deg %R", "spot s s-pol %R",
			"spot p s-pol 8 deg %R", "sample s-pol %R",
			"60 deg s %R", "8°s %R", "%R s", "R s (%)", "R 60 deg s (%)", "Reflectance s", "G07 8 deg s %R",
			"total reflectance, s, 8 deg",
			"TE", "60 deg TE %R", "R_TE", "R(TE) 60 deg", "TE-pol %R", "te-polarised R", "G07 TE %R", "TE mode 60 deg %R",
			"s-pol TE %R", "R polariser s",
			"p07 s-pol %R", "s-pol P07 %R",
			"%R perp", "perp %R", "R_perp (%)", "R(perp) 60°", "%R perpendicular", "%R ⊥", "R⊥ (%)", "%R senkrecht",
			"60 deg perp-pol %R", "Rₛ",
		}},
		{"p", []string{
			"60 deg p-pol %R", "8 deg p %R", "Rp", "R_p", "Rp (57.5°)", "R(p)", "p-polarisiert R", "TM", "R_TM 60 deg",
			"reflectance p 8 deg (%)", "%R (p)",
			"%R par", "R_par (%)", "%R parallel", "%R ∥", "parallel polarised %R", "Rₚ 8°",
		}},
		{"u", []string{
			"unpolarised", "R unpolarized 8 deg", "8 deg depolarised %R", "depolarized R", "unpol. R", "R depol",
			"bare glass unpolarised %R",
			"u-pol %R", "R pol. u", "R unpolarised (s+p)/2", "R unpolarisiert",
			"%R un-polarized", "%R non-polarised", "%R not polarised", "nonpolarised R", "8 deg %R nicht polarisiert",
		}},
		{"", []string{
			"R", "8 deg %R", "R polarised", "polarised light R", "R pol 8 deg", "R polariser 45 deg", "R not depolarised",
			"partly unpolarised R", "polished glass R",
			"spot s 8 deg %R", "spot p %R", "blank s %R", "8 deg white p %R", "8 deg spot s %R", "sample p", "sample p %R",
			"sample s (8 deg) %R", "sample_p_R_8deg", "plate Rs (%)", "plate R_s", "spot TE %R",
			"s", "p", "s %R", "p %R", "p 8 deg %R", "s8 %R", "P2 %R", "R s3", "R p 3", "Rs7 %R", "G07 s 8 deg %R", "G07s %R",
			"G07-s %R", "G07 p %R", "p-type R",
			"8 deg S %R", "RS 8 deg", "rs", "R S", "te %R", "Te film %R", "TE coating %R", "TM3 %R", "R p side", "R(p side)",
			"R s glass",
			"R 10 s", "R 60 deg 10s", "60s %R", "8 deg s+p %R", "R mean of s and p", "spot s, pol 45 deg %R", "R s/n",
			"specular %R", "R pulse", "R 8 deg s, p",
			"depolarisation R", "%R parallel beam", "%R perpendicular incidence", "%R par 3", "%R not unpolarised", "%R S",
			"S %R", "%R s 45 deg pol",
		}},
	} {
		for _, heading := range c.headings {
			t.Run(heading, func(t *testing.T) {
				assert.Equal(t, []string{c.want}, polarisations(t, "nm;"+heading+"\n400;4.12\n401;4.07\n"))
			})
		}
	}
}

// What a heading states holds for its column, whatever is in the others.
func TestReadPolarisationsOfColumns(t *testing.T) {
	for _, c := range []struct {
		name, heading string // above rows with a wavelength and two values
		want          []string
	}{
		{"indices", "nm,R_s,R_p", []string{"s", "p"}},
		{"one of two", "nm,60 deg s-pol %R,8 deg %R", []string{"s", ""}},
		{"names above units", "nm,R s,R p\n[nm],[%],[%]", []string{"s", "p"}},
		{"angles and letters above units", ",60 deg s,60 deg p\nnm,%R,%R", []string{"s", "p"}},
		{"letters alone may be samples", ",s,p\nnm,%R,%R", []string{"", ""}},
		{"samples", "Sample,s-pol,TM\nnm,%R,%R", []string{"s", "p"}},
		{"a row of polarisations", "Polarisation,s,TM\nnm,%R,%R", []string{"s", "p"}},
		{"a row of polarisations above angles", "Pol.,s,p\nnm,60 deg %R,70 deg %R", []string{"s", "p"}},
		{"a row that also says something else", "Polarisation,s,45 deg\nnm,%R,%R", []string{"", ""}},
		{"a row of polarisations in words", "Polarisation,un-polarised,parallel\nnm,%R,%R", []string{"u", "p"}},
		{"a row below the headings", "nm,%R,%R\nPolarisation,p,s", []string{"p", "s"}},
		{"a row of polarisations above one of angles", "Polarisation,p,s\nAngle (deg),8,60\nnm,%R,%R", []string{"p", "s"}},
		{"a row of angles above one of polarisations", "Angle,8 deg,60 deg\nPolarisation,p,s\nnm,%R,%R", []string{"p", "s"}},
		{"samples above rows of polarisations and angles", "Sample,G07,G08\nPolarisation,p,s\nAngle (deg),8,60\nnm,%R,%R",
			[]string{"p", "s"}},
		{"spots named by letters", "nm,8 deg n %R,8 deg s %R", []string{"", ""}},
		{"letters beside a wavelength called x", "x,8 deg p %R,8 deg s %R", []string{"p", "s"}},
		{"spots named by letters, with words of polarisation", "nm,n p-pol %R,s p-pol %R", []string{"p", "p"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, polarisations(t, c.heading+"\n400,4.12,5\n401,4.07,6\n"))
		})
	}
}

// Headings between spaces are joined from words.
func TestReadPolarisationsBetweenSpaces(t *testing.T) {
	for _, c := range []struct {
		heading string
		columns []string
		want    []string
	}{
		{"nm Rs Rp", []string{"Rs", "Rp"}, []string{"s", "p"}},
		{"nm R s R p", []string{"R s", "R p"}, []string{"s", "p"}},
		{"nm Rs (%) 60 deg Rp (%) 60 deg", []string{"Rs (%) 60 deg", "Rp (%) 60 deg"}, []string{"s", "p"}},
		{"# nm 60 deg s-pol %R 60 deg p-pol %R", []string{"60 deg s-pol %R", "60 deg p-pol %R"}, []string{"s", "p"}},
		{"nm 8 deg s %R 8 deg p %R", []string{"8 deg s %R", "8 deg p %R"}, []string{"s", "p"}},
		{"nm R (%) pol. s R (%) pol. p", []string{"R (%) pol. s", "R (%) pol. p"}, []string{"s", "p"}},
	} {
		t.Run(c.heading, func(t *testing.T) {
			text := c.heading + "\n400 4.12 5\n401 4.07 6\n"
			export, err := intake.Read("g07.txt", []byte(text), allStated)
			require.NoError(t, err)
			require.Len(t, export.Spectra, 2)
			assert.Equal(t, c.columns, []string{export.Spectra[0].Heading, export.Spectra[1].Heading})
			assert.Equal(t, c.want, polarisations(t, text))
		})
	}
}

// A line of the header states the polarisation of every curve, or nothing.
func TestReadPolarisationInTheHeader(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"Polarisation: s", "s"}, {"Polarization = p", "p"}, {"Pol.: u", "u"}, {"POL,TE", "s"}, {"polarisation\tTM", "p"},
		{"Polarisation;S", "s"},
		{"# Polarisation: P-polarised", "p"}, {"Polarisation: unpolarised", "u"}, {"Polarization: Depolarized", "u"},
		{"Polarisation: te", "s"}, {"Polarisation,s,,", "s"},
		{"Polariser: s", "s"}, {"Mode: R, s-pol", "s"}, {"Polarisation: parallel", "p"}, {"Polarisation: perp.", "s"},
		{"Pol: ⊥", "s"}, {"Polarisation: non-polarised", "u"},
		{"Polarisation: p-s", ""},
		{"Polarisation: 45", ""}, {"Polarisation: 0 deg", ""}, {"Polariser: off", ""}, {"Polarisation: s and p", ""},
		{"Polarisation: s/p", ""}, {"Polarisation: ", ""},
		{"Polarisation s", ""}, {"Sample: s", ""}, {"Spot: p", ""}, {"Police: s", ""}, {"Mode: R", ""},
	} {
		t.Run(c.line, func(t *testing.T) {
			text := c.line + "\nmade up\nnm,8 deg %R,60 deg %R\n400,4.12,5\n401,4.07,6\n"
			assert.Equal(t, []string{c.want, c.want}, polarisations(t, text))
			assert.Equal(t, []string{c.want}, polarisations(t, c.line+"\nnm\t%R\n400\t4.12\n401\t4.07\n"),
				"right above the headings")
		})
	}
	t.Run("with a heading that agrees", func(t *testing.T) {
		text := "Polarisation: s\nnm,R_s,60 deg %R\n400,4.12,5\n401,4.07,6\n"
		assert.Equal(t, []string{"s", "s"}, polarisations(t, text))
	})
	t.Run("without headings", func(t *testing.T) {
		assert.Equal(t, []string{"p"}, polarisations(t, "Polarisation,p\n400,4.12\n401,4.07\n"))
	})
	t.Run("of a column left out", func(t *testing.T) {
		s := "nm;R (%);white Rp (%)\n400;4.12;98\n401;4.07;98.1\n"
		export, err := intake.Read("g07.txt", []byte(s), text.Stated{Columns: "2"})
		require.NoError(t, err)
		require.Len(t, export.Skipped, 1)
		assert.Equal(t, "p", export.Skipped[0].Spectrum.Polarisation, "a person may name it all the same")
	})
}
