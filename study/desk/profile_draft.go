package desk

import (
	"path/filepath"

	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/text"
)

// DraftProfile writes a profile of that name, which may be empty, from one export for a
// person to finish, as [intake.Draft] does. An export that cannot be read whatever is answered
// gives its refusal, a [*study.Refusal]. others are more exports of the same kind, which show what varies.
func DraftProfile(profile, sample string, data []byte, others ...DraftSample) (string, error) {
	var samples []placing.Sample
	for _, s := range append([]DraftSample{{sample, data}}, others...) {
		x, asked, err := intake.ReadTrying(s.Path, s.Data)
		if err != nil {
			return "", err
		}
		says := intake.Explain(filepath.Base(s.Path), s.Data, text.Stated{})
		samples = append(samples,
			placing.Sample{Path: s.Path, Says: says, Header: x.Header, Asked: asked, Spectra: x.Spectra, Skipped: x.Skipped})
	}
	return placing.Draft(profile, samples[0], samples[1:]...), nil
}

// DraftSample is an export that a profile is drafted from.
type DraftSample struct {
	Path string
	Data []byte
}
