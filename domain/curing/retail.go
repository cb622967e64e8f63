package curing

import (
	"greenweight/domain/finding"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// retail says what a rulebook asks of who cures for sale over the counter, which
// no formula shows. It reports false where nothing is known of that, or nothing
// is cured.
func (q question) retail(j rulebook.Jurisdiction) (finding.Finding, bool) {
	if j != rulebook.UnitedStates || !q.has(rulebook.NitriteAndNitrate) {
		return finding.Finding{}, false
	}
	return finding.Finding{
		Code: "retail-curing", Rulebook: j.String(), Status: finding.NotShown, Stage: finding.Process, Authority: finding.Law,
		Subject: "a variance and a HACCP plan, where meat is cured at retail",
		Reason: "where the Food Code is adopted, a retail shop that cures meat needs a variance from the regulatory authority and a HACCP plan before it begins; " +
			"a formula does not show whether there is one, or whether the meat is cured at retail",
		Source: source.Citation{
			Title: "FDA, Food Code", Year: 2022, Section: "sections 3-502.11 and 3-502.12", Trust: source.Memory,
			Note: "recalled, not read; states and localities adopt it with changes",
		},
	}, true
}
