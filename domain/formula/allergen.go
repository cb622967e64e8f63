package formula

import (
	"fmt"
	"slices"
	"strings"

	"greenweight/domain/finding"
	"greenweight/domain/material"
	"greenweight/domain/source"
)

// AllergenStatus returns the status of [Sheet.JudgeAllergens] without its words.
func (s Sheet) AllergenStatus() finding.Status {
	for _, l := range s.Lines {
		if l.mixed() && (l.Addition.Material == nil || !l.Addition.Material.AllergensCertain()) {
			return finding.NotShown
		}
	}
	return finding.Met
}

// mixed reports whether a line is an addition that may bring an allergen: meat,
// water and cures bring none.
func (l Line) mixed() bool {
	return l.Role != Meat && l.Role != RehydrationWater && l.Addition.Cure == nil
}

// JudgeAllergens names the allergens that the materials of a formula bring. It
// is met when every addition is known and none only may bring one: then all that
// the materials bring is named here. What they picked up from other goods is for
// the suppliers and the maker to know.
func (s Sheet) JudgeAllergens() finding.Finding {
	f := finding.Finding{
		Code: "allergens-named", Stage: finding.Formula, Authority: finding.Law, Subject: "allergens that the materials bring, named",
		Source: source.Citation{
			Title:   "Regulation (EU) No 1169/2011, annex II (fourteen) and United States Code, title 21, 321(qq) (nine)",
			Section: "allergens", Trust: source.Derived, Note: "which material brings which follows from what it is made of",
		},
	}
	brings, may, unknown := map[material.Allergen][]string{}, []string{}, []string{}
	for _, l := range s.Lines {
		switch {
		case !l.mixed():
		case l.Addition.Material == nil:
			unknown = append(unknown, brief(l.Name))
			f.Members = append(f.Members, l.Member)
		default:
			for _, b := range l.Addition.Material.AllergensBrought() {
				if b.Certain {
					brings[b.Allergen] = append(brings[b.Allergen], brief(l.Name))
				} else {
					may = append(may, fmt.Sprintf("%s of %s (%s)", named(b.Allergen), brief(l.Name), b.Why))
				}
				if len(f.Members) == 0 || !slices.Equal(f.Members[len(f.Members)-1], l.Member) {
					f.Members = append(f.Members, l.Member)
				}
			}
		}
	}
	f.Status, f.Reason = s.AllergenStatus(), allergensToName(brings)
	if len(may) > 0 {
		f.Reason += "; not known: " + shortened(may)
	}
	if len(unknown) > 0 {
		f.Reason += "; only the name is known of " + shortened(unknown) + ", which may bring any, mustard and celery above all"
	}
	if f.Status == finding.NotShown {
		f.Remedy = "Ask the supplier for the allergens, and name the material where there is one."
	}
	f.Reason += ". What came in contact with other goods is not judged."
	return f
}

// A reason lists so many things at most, by so much of their names, so that it
// stays readable.
const (
	mostListed = 5
	mostOfName = 30
)

// brief cuts a name short.
func brief(name string) string {
	if letters := []rune(name); len(letters) > mostOfName {
		return string(letters[:mostOfName-1]) + "…"
	}
	return name
}

func shortened(things []string) string {
	if len(things) > mostListed {
		return fmt.Sprintf("%s and %d more", strings.Join(things[:mostListed], ", "), len(things)-mostListed)
	}
	return strings.Join(things, ", ")
}

// named is an allergen, with where it counts when it is not everywhere.
func named(a material.Allergen) string {
	if !a.UnitedStates() {
		return a.String() + " (European Union)"
	}
	return a.String()
}

func allergensToName(brings map[material.Allergen][]string) string {
	var list []string
	for _, a := range material.Allergens() {
		if of := brings[a]; len(of) > 0 {
			list = append(list, named(a)+" from "+shortened(of))
		}
	}
	if len(list) == 0 {
		return "no material is known to bring one"
	}
	return "to name: " + strings.Join(list, "; ")
}
