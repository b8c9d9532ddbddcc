package desk

import (
	"path/filepath"

	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/text"
)

// DraftProfile writes a profile of that name, which may be empty, from one export for a
// person to finish, as [intake.Draft] does. An export that cannot be read whatever is answered
// gives its refusal, a [*study.Refusal].
func DraftProfile(profile, sample string, data []byte) (string, error) {
	x, asked, err := intake.ReadTrying(sample, data)
	if err != nil {
		return "", err
	}
	says := intake.Explain(filepath.Base(sample), data, text.Stated{})
	return placing.Draft(profile,
		placing.Sample{Path: sample, Says: says, Asked: asked, Spectra: x.Spectra, Skipped: x.Skipped}), nil
}
