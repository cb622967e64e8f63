package rulebook

import (
	"slices"
	"strings"

	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Identity is a limit on moisture to protein that goes with a name on a label. It
// says what a product may be called, and never how long it keeps.
type Identity struct {
	ID           string
	Jurisdiction Jurisdiction
	Subject      string
	Comparator   Comparator
	Ratio        quantity.Ratio
	Traditions   []Tradition // that it is for; none for the names of the United States
	Authority    finding.Authority
	Source       source.Citation
	Note         string
}

// identityPrefix begins the ids of the names.
const identityPrefix = "mpr-"

// Key returns the word of the name on the wire; empty for a row that goes with
// traditions.
func (i Identity) Key() string {
	key, named := strings.CutPrefix(i.ID, identityPrefix)
	if !named {
		return ""
	}
	return key
}

// SourOnly reports whether the name is for a product with a pH of 5.0 or less.
func (i Identity) SourOnly() bool { return i.ID == sourIdentity }

const sourIdentity = identityPrefix + "semi-dry-sausage-shelf-stable"

// Identities returns the rows. They are copies, free to be changed.
func Identities() []Identity {
	all := slices.Clone(identities)
	for i := range all {
		all[i].Traditions = slices.Clone(all[i].Traditions)
	}
	return all
}

// IdentityFor returns the row of a name by its word on the wire, and false where
// there is none.
func IdentityFor(key string) (Identity, bool) {
	for _, i := range Identities() {
		if key != "" && i.Key() == key {
			return i, true
		}
	}
	return Identity{}, false
}

// IdentitiesOf returns the rows of a jurisdiction for a tradition.
func IdentitiesOf(j Jurisdiction, t Tradition) []Identity {
	var all []Identity
	for _, i := range Identities() {
		if i.Jurisdiction == j && slices.Contains(i.Traditions, t) {
			all = append(all, i)
		}
	}
	return all
}

const unroundedRatio = "the ratio is compared unrounded"

func named(key, subject string, ratio float64, trust source.Trust, note string) Identity {
	from := source.Citation{Title: "FSIS, Food Standards and Labeling Policy Book", Section: "moisture to protein of " + subject, Trust: trust}
	switch trust {
	case source.Read:
		from.Note = "seen in the table of an article on shelf-stable meat products by J. B. Wenther, which prints the figures of the book"
	case source.ReadSecondary:
		from.Note = "read as quoted elsewhere"
	default:
		from.Note = "recalled, not read: verify before relying on it"
	}
	return Identity{
		ID: identityPrefix + key, Jurisdiction: UnitedStates, Subject: subject, Comparator: AtMost, Ratio: quantity.MustRatio(ratio),
		Authority: finding.Guidance, Source: from, Note: note,
	}
}

// identities is the table. It is never handed out, only copies of its rows are.
var identities = []Identity{
	named("jerky", "jerky", 0.75, source.Read, unroundedRatio+"; a name and no test of safety. The entry was deleted by FSIS, as read elsewhere."),
	named("pepperoni", "pepperoni", 1.6, source.Read, unroundedRatio),
	named("dry-sausage", "dry sausage", 1.9, source.Read, unroundedRatio),
	named("italian-salami", "Italian salami", 1.9, source.Read, unroundedRatio),
	named("hard-salami", "hard salami", 1.9, source.Memory, unroundedRatio),
	named("kippered-beef", "kippered beef", 2.03, source.Read, unroundedRatio),
	named("dried-meat-chipped-beef", "dried meat or chipped beef", 2.04, source.Read, unroundedRatio),
	named("genoa-salami", "Genoa salami", 2.3, source.Read, unroundedRatio),
	named("thuringer", "Thuringer", 3.7, source.Read, unroundedRatio),
	named("sicilian-salami", "Sicilian salami", 2.3, source.Memory, unroundedRatio),
	named("semi-dry-sausage-shelf-stable", "semi-dry sausage, shelf-stable with a pH of 5.0 or less", 3.1, source.ReadSecondary, unroundedRatio),
	named("farmer-summer-sausage", "farmer summer sausage", 1.9, source.Memory, unroundedRatio),
	{
		ID: "eu-wp", Jurisdiction: EuropeanUnion, Subject: "water to protein of a named sausage made with nitrate alone", Comparator: Below, Ratio: quantity.MustRatio(1.7),
		Traditions: []Tradition{RohwurstTradition, SaucissonSecTradition}, Authority: finding.Law,
		Source: source.Citation{
			Title: "Regulation (EC) No 1333/2008 on food additives, consolidated text of 18 August 2026", Year: 2026,
			Section: "Annex II, part E, category 08.3.4.3, Rohwürste (salami, Kantwurst) and saucisson sec", Trust: source.Read,
		},
		Note: "not asked of salchichón and chorizo de larga curación, which mature 30 days at least instead",
	},
}
