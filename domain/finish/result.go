package finish

import (
	"fmt"
	"slices"

	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Analyte is what a laboratory looked for. The zero value is invalid.
type Analyte int

// The analytes.
const (
	Enterotoxin Analyte = iota + 1 // of Staphylococcus aureus
	StaphylococcusAureus
	EscherichiaColi // O157:H7 and others that make Shiga toxin
	Salmonella
	Listeria // monocytogenes
	ClostridiumBotulinum
)

var analyteWords = []string{
	"", "enterotoxin", "staphylococcus-aureus", "escherichia-coli-o157-h7", "salmonella", "listeria-monocytogenes", "clostridium-botulinum",
}

var analyteNames = []string{
	"", "enterotoxin of Staphylococcus aureus", "Staphylococcus aureus", "Escherichia coli O157:H7", "Salmonella", "Listeria monocytogenes", "Clostridium botulinum",
}

// String returns the word used on the wire.
func (a Analyte) String() string { return word(analyteWords, int(a)) }

// ParseAnalyte reads the word used on the wire.
func ParseAnalyte(s string) (Analyte, bool) { return parse[Analyte](analyteWords, s) }

// Analytes returns all of them, in order.
func Analytes() []Analyte {
	return []Analyte{Enterotoxin, StaphylococcusAureus, EscherichiaColi, Salmonella, Listeria, ClostridiumBotulinum}
}

func (a Analyte) name() string { return analyteNames[max(0, min(int(a), len(analyteNames)-1))] }

// Result is what a laboratory found of one thing.
type Result struct {
	Of      Analyte
	Found   bool
	Count   *quantity.CellCount // the highest of the samples; nil where it was not counted
	Samples int                 // how many were taken; 0 when it is not stated
	Report  string              // its number; empty when it is not stated
}

// manyStaphylococci is from where a lot whose fermentation was too warm, and
// which holds no toxin, is not to be sold as it is.
const manyStaphylococci = 1e4

var (
	failedBatch = source.Citation{
		Title:   "Canadian Food Inspection Agency, Meat Hygiene Manual of Procedures, chapter 4 (archived)",
		Section: "4.16, what becomes of a lot that exceeded its degree-hours", Trust: source.Memory,
		Note: "that each excess must be notified was read; what is sampled and what becomes of it is recalled",
	}
	listeriaCount = source.Citation{
		Title: "Commission Regulation (EC) No 2073/2005 on microbiological criteria for foodstuffs", Year: 2005, Section: "annex I, chapter 1, points 1.2 and 1.3", Trust: source.Read,
		Note: "the limit of 100 CFU/g was read; that it is held against 5 samples, of which none may exceed it, is recalled",
	}
)

// The codes of findings that no decision overrides, beside the hazards of a formula.
const (
	codeEnterotoxin = "enterotoxin-found"
	codePathogen    = "pathogen-found"
	codeTooWarm     = "degree-hours-exceeded"
)

// results tells what a laboratory found. That it found nothing in some samples
// does not show that there is nothing.
func (j *judge) results() []finding.Finding {
	var all []finding.Finding
	for i, r := range j.Results {
		f := finding.Finding{
			Code: r.Of.String() + "-result", Status: finding.NotShown, Stage: finding.Finish, Authority: finding.Guidance,
			Subject: r.Of.name() + ", by a laboratory", Members: member("laboratory", i), Source: failedBatch,
		}
		if r.Of == Listeria {
			f.Source = listeriaCount
		}
		if r.Count != nil {
			f.Measured = finding.Figure{Value: r.Count.Measure()}
		}
		many := r.Count != nil && r.Count.CFUPerGram() >= manyStaphylococci
		switch {
		case r.Found && r.Of == Enterotoxin:
			f.Code, f.Status, f.Reason = codeEnterotoxin, finding.Hazard, "the toxin was found; it survives cooking, drying and acid"
			f.Remedy = "Destroy the lot, and tell the authority."
		case r.Of == StaphylococcusAureus && many:
			f.Status = finding.NotMet
			f.Limit = finding.Limit{Comparator: "<", Value: quantity.MustCFUPerGram(manyStaphylococci).Measure(), Printed: "10^4 CFU/g"}
			f.Reason = fmt.Sprintf("%s, of a limit of 10^4; without toxin it is for a cooked product alone whose heat kills it", r.Count)
			f.Remedy = "Have the enterotoxin looked for, hold the lot and ask the authority."
		case r.Found && r.Of != StaphylococcusAureus:
			f.Code, f.Status, f.Reason = codePathogen, finding.Hazard, r.Of.name()+" was found"
			f.Remedy = "Hold the lot, and ask the authority what may become of it."
			if r.Of == Listeria {
				f.Reason += "; the criterion of up to 100 CFU/g, for a product that is shown not to support its growth, is for an authority to grant and not judged here"
			}
		case r.Found:
			f.Reason = "it was found, in a number that is not stated or is below 10^4 CFU/g; the limit is known from memory, so that this shows nothing"
		default:
			f.Reason = fmt.Sprintf("not found in %s; that does not show that there is none, and the number of samples that a law wants (5) is known from memory only", samples(r.Samples))
		}
		if r.Report != "" {
			f.Reason += "; report " + r.Report
		}
		all = append(all, f)
	}
	return all
}

func samples(n int) string {
	switch n {
	case 0:
		return "samples whose number is not stated"
	case 1:
		return "1 sample"
	default:
		return fmt.Sprintf("%d samples", n)
	}
}

// cleared reports whether a laboratory looked for all that a lot is sampled for
// whose fermentation was too warm, and found none of it.
func (j *judge) cleared() bool {
	for _, a := range Analytes() {
		clean := slices.ContainsFunc(j.Results, func(r Result) bool {
			few := a == StaphylococcusAureus && r.Count != nil && r.Count.CFUPerGram() < manyStaphylococci
			return r.Of == a && (!r.Found || few)
		})
		bad := slices.ContainsFunc(j.Results, func(r Result) bool {
			few := a == StaphylococcusAureus && r.Count != nil && r.Count.CFUPerGram() < manyStaphylococci
			return r.Of == a && r.Found && !few
		})
		if !clean || bad {
			return false
		}
	}
	return true
}

// tooWarm tells that the limit on degree-hours of a rulebook is exceeded, which
// nothing but a laboratory answers: a hazard until it did.
func (j *judge) tooWarm() []finding.Finding {
	var all []finding.Finding
	seen := map[string]bool{}
	for _, r := range j.ruled() {
		for _, t := range j.fermented[r].told {
			if t.Code != fermentation.CodeDegreeHours || t.Status != finding.NotMet || seen[t.LimitID] {
				continue
			}
			seen[t.LimitID] = true
			f := finding.Finding{
				Code: codeTooWarm, Rulebook: t.Rulebook, LimitID: t.LimitID, Status: finding.Hazard, Stage: finding.Finish, Authority: finding.Guidance,
				Subject: "a fermentation that was warm for too long", Measured: t.Measured, Limit: t.Limit, Members: t.Members, Source: failedBatch,
				Reason: t.Reason + "; Staphylococcus aureus may have made its toxin, which nothing done since takes away",
				Remedy: "Hold the lot, tell the authority, and after drying have the outer part examined for Staphylococcus aureus and its enterotoxin, and for " +
					"Escherichia coli O157:H7, Salmonella, Clostridium botulinum and Listeria monocytogenes.",
			}
			if j.cleared() {
				f.Status = finding.NotMet
				f.Reason = t.Reason + "; a laboratory found none of what is looked for then"
				f.Remedy = "Ask the authority. As it is recalled, such a lot may be sold, and is labelled to be kept refrigerated."
			}
			all = append(all, f)
		}
	}
	return all
}

// barred returns the codes of what no decision overrides.
func barred(findings []finding.Finding) []string {
	var codes []string
	for _, f := range findings {
		if f.Status == finding.Hazard && !slices.Contains(codes, f.Code) {
			codes = append(codes, f.Code)
		}
	}
	return codes
}
