package rulebook

import "greenweight/domain/finding"

// guidance are the rows that no law sets, by id: a directive or a manual of an
// authority, or an indicative amount.
var guidance = map[string]bool{
	"us-nitrite-min-keeprefrig": true, // FSIS Directive 7620.3: policy, no regulation
	"ca-curing-floor":           true, // archived manual of the CFIA
	"ca-curing-ceiling":         true, // the same
	"ca-sidebacon":              true, // the same
}

// Authority returns who asks for what the row says: law, or the guidance of an
// authority.
func (l Limit) Authority() finding.Authority {
	if guidance[l.ID] {
		return finding.Guidance
	}
	return finding.Law
}
