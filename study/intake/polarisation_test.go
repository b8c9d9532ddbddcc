package intake_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake"
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

// The notation is that of the trade (common practice, no source): R_s, s-pol, TE
// for s and TM for p.
func TestReadPolarisations(t *testing.T) {
	for _, c := range []struct {
		want     string
		headings []string
	}{
		{"s", []string{
			"60 deg s-pol %R", "60° S-Pol. (%R)", "R 60 deg s polarised", "s-polarized %R 8 deg", "%R pol. s", "R (pol=s) 8 deg",
			"R polarisation s", "R_s 8 deg (%)", "R_S (%)", "Rs", "%Rs", "Rs60deg", "Rs_60deg", "R(s) 60°", "R(s, 60 deg)", "R_{s} [%]", "R[s]",
			"G07 Rs (%)", "bare glass Rs (%)", "bare glass s-pol 8 deg %R", "spot s s-pol %R", "spot p s-pol 8 deg %R", "sample s-pol %R",
			"60 deg s %R", "8°s %R", "%R s", "R s (%)", "R 60 deg s (%)", "Reflectance s", "G07 8 deg s %R", "total reflectance, s, 8 deg",
			"TE", "60 deg TE %R", "R_TE", "R(TE) 60 deg", "TE-pol %R", "te-polarised R", "G07 TE %R", "TE mode 60 deg %R", "s-pol TE %R", "R polariser s",
			"p07 s-pol %R", "s-pol P07 %R",
		}},
		{"p", []string{
			"60 deg p-pol %R", "8 deg p %R", "Rp", "R_p", "Rp (57.5°)", "R(p)", "p-polarisiert R", "TM", "R_TM 60 deg", "reflectance p 8 deg (%)", "%R (p)",
		}},
		{"u", []string{
			"unpolarised", "R unpolarized 8 deg", "8 deg depolarised %R", "depolarized R", "unpol. R", "R depol", "bare glass unpolarised %R",
			"u-pol %R", "R pol. u", "R unpolarised (s+p)/2", "R unpolarisiert",
		}},
		{"", []string{
			"R", "8 deg %R", "R polarised", "polarised light R", "R pol 8 deg", "R polariser 45 deg", "R not depolarised", "partly unpolarised R", "polished glass R",
			"spot s 8 deg %R", "spot p %R", "8 deg spot s %R", "sample p", "sample p %R", "sample s (8 deg) %R", "sample_p_R_8deg", "plate Rs (%)", "plate R_s", "spot TE %R",
			"s", "p", "s %R", "p %R", "p 8 deg %R", "s8 %R", "P2 %R", "R s3", "R p 3", "Rs7 %R", "G07 s 8 deg %R", "G07s %R", "G07-s %R", "G07 p %R", "p-type R",
			"8 deg S %R", "RS 8 deg", "rs", "R S", "te %R", "Te film %R", "TE coating %R", "TM3 %R", "R p side", "R(p side)", "R s glass",
			"R 10 s", "R 60 deg 10s", "60s %R", "8 deg s+p %R", "R mean of s and p", "spot s, pol 45 deg %R", "R s/n", "specular %R", "R pulse", "R 8 deg s, p",
			"depolarisation R",
		}},
	} {
		for _, heading := range c.headings {
			t.Run(heading, func(t *testing.T) {
				assert.Equal(t, []string{c.want}, polarisations(t, "nm;"+heading+"\n400;4.12\n401;4.07\n"))
			})
		}
	}
}
