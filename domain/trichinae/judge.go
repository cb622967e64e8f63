package trichinae

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// span is a time.
type span = time.Duration

func hours(h int) span { return time.Duration(h) * time.Hour }

// both prints a temperature in both scales.
func both(t quantity.Temperature) string {
	return short(t.Celsius()) + " °C (" + short(t.Fahrenheit()) + " °F)"
}

// bothLengths prints a length in both units.
func bothLengths(l quantity.Length) string {
	return short(l.Millimetres()) + " mm (" + short(l.Inches()) + " in)"
}

// short prints a number to a hundredth.
func short(v float64) string {
	const hundredths = 100
	return strconv.FormatFloat(math.Round(v*hundredths)/hundredths+0, 'f', -1, 64)
}

// daysUp prints a time in days, rounded up to a tenth.
func daysUp(d span) string {
	const tenths = 10
	return strconv.FormatFloat(math.Ceil(d.Hours()/24*tenths-1e-9)/tenths, 'f', -1, 64) + " days"
}

// host is a part that may carry trichinae.
type host struct {
	at    int // in the formula
	name  string
	row   Host
	known bool // false: it is not known of which animal it is
}

// hostsOf returns the parts that carry a risk, or may.
func hostsOf(f formula.Formula) []host {
	var found []host
	for i, p := range f.Parts {
		if p.Share.IsZero() {
			continue
		}
		if p.Material.Species == 0 || p.Material.Species == material.NoSpecies {
			found = append(found, host{at: i, name: p.Name})
			continue
		}
		for _, h := range hosts {
			if h.Species == p.Material.Species {
				found = append(found, host{at: i, name: p.Name, row: h, known: true})
			}
		}
	}
	return found
}

// Judge holds the plan of a formula against the routes that deal with trichinae.
// The sheet is the formula scaled, for its salt. The first finding, with the code
// trichinae-plan, says whether every part that may carry trichinae has a route
// whose conditions are all met; the others say what is missing of each route
// that is chosen or planned, or that nothing is. Where a rulebook of the European
// Union or of Great Britain is asked for, one more finding says whether the
// examination that the law there wants of each carcass, or what it takes in its
// stead, is stated.
func Judge(f formula.Formula, s formula.Sheet, asked ...rulebook.Jurisdiction) []finding.Finding {
	summary := finding.Finding{
		Code: "trichinae-plan", Stage: finding.Process, Authority: finding.Guidance, Subject: "trichinae in pork and game", Source: regulation,
	}
	carriers := hostsOf(f)
	if len(carriers) == 0 {
		summary.Status, summary.Reason = finding.NotApplicable, "no pork, horse or game is in the formula"
		return []finding.Finding{summary}
	}
	q := question{f, s}
	attempts := q.attempts(carriers)
	summary.Status, summary.Reason, summary.Remedy = q.summarise(carriers, attempts)
	for _, h := range carriers {
		summary.Members = append(summary.Members, fault.At("parts", h.at))
	}
	found := []finding.Finding{summary}
	for _, a := range attempts {
		found = append(found, q.tell(a, summary.Status)...)
	}
	if d, ok := q.publishedData(); ok && summary.Status != finding.Met {
		found = append(found, d)
	}
	for _, j := range asked {
		if j == rulebook.EuropeanUnion || j == rulebook.GreatBritain {
			found = append(found, examination(j, carriers, attempts))
		}
	}
	return found
}

// examination holds the plan against the law of the European Union, kept in Great
// Britain: meat of swine, wild boar and horse is examined for trichinae, unless
// it is of domestic pigs under controlled housing, or frozen under the eye of the
// authority. No treatment in the kitchen replaces that.
func examination(j rulebook.Jurisdiction, carriers []host, attempts []attempt) finding.Finding {
	f := finding.Finding{
		Code: "trichinae-examination", Rulebook: j.String(), Status: finding.Met, Stage: finding.Process, Authority: finding.Law,
		Subject: "examination of the carcass for trichinae", Source: european,
		Reason: "examined, or of controlled housing, by the paper that is stated, " + onlyAPlan,
	}
	for _, h := range carriers {
		by := func(a attempt) bool {
			paper := a.route == formula.RouteCarcassTesting || a.route == formula.RouteControlledHousing
			return paper && a.covers(h.at) && a.status() == finding.Met
		}
		f.Members = append(f.Members, fault.At("parts", h.at))
		if !slices.ContainsFunc(attempts, by) {
			f.Status = finding.NotShown
			f.Reason = "nothing is stated that shows it for " + h.name + "; freezing replaces it for domestic pigs alone, and only under the eye of the authority"
			f.Remedy = "Buy meat with the health mark of an approved slaughterhouse, or have the carcass examined; state the route and its certificate."
		}
	}
	return f
}

// tell returns what is found of a route: all of it where it is met or chosen. Of
// one that is not, nothing where another is chosen or all is dealt with.
func (q question) tell(a attempt, all finding.Status) []finding.Finding {
	chosen := q.plan().Trichinae.Route
	switch {
	case a.status() == finding.Met || a.route == chosen:
		return a.findings()
	case chosen != 0 || all == finding.Met:
		return nil
	case a.route == formula.RouteDryingMethod && a.method:
		if notMet, notShown := a.short(); notMet+notShown > 0 {
			return []finding.Finding{a.nearest()}
		}
	}
	return a.findings()
}

// attempts returns the routes that are chosen or planned, for the parts that each
// is for.
func (q question) attempts(carriers []host) []attempt {
	var all []attempt
	chosen := q.plan().Trichinae.Route
	for _, h := range carriers {
		if len(q.formula.Frozen(q.formula.Parts[h.at])) > 0 || chosen == formula.RouteFreezing {
			all = append(all, q.freezing(h))
		}
	}
	if chosen == formula.RouteHeating || q.cooks() {
		all = append(all, q.heating(carriers)...)
	}
	if chosen == formula.RouteDryingMethod || len(q.plan().Drying) > 0 {
		all = append(all, q.drying(carriers)...)
	}
	for _, r := range papers {
		if r.Route == chosen {
			all = append(all, q.paper(r, carriers)...)
		}
	}
	return slices.DeleteFunc(all, func(a attempt) bool {
		return !slices.ContainsFunc(carriers, func(h host) bool { return a.covers(h.at) })
	})
}

// cooks reports whether a core becomes hot enough, in some step, for the table to
// have a row.
func (q question) cooks() bool {
	for _, steps := range [][]formula.Warmth{q.plan().Smoke, q.plan().Heat} {
		for _, s := range steps {
			if core, known := s.Core.Get(); known && core.Compare(heatings[0].Core.Least) >= 0 {
				return true
			}
		}
	}
	return false
}

// summarise returns the status of the whole: that of the part that is dealt with
// least.
func (q question) summarise(carriers []host, attempts []attempt) (status finding.Status, reason, remedy string) {
	var met, open []string
	status = finding.Met
	for _, h := range carriers {
		s, by := q.partStatus(h, attempts)
		if s == finding.Met {
			met = append(met, h.name+": "+by)
			continue
		}
		open = append(open, h.name+": "+by)
		if remedy == "" || h.row.Game {
			remedy = q.whatToDo(h, len(attempts) > 0)
		}
		if status == finding.Met || s == finding.NotMet || s == finding.NotShown && status == finding.Near {
			status = s
		}
	}
	if status == finding.Met {
		return status, strings.Join(clip(met), "; ") + "; " + onlyAPlan, ""
	}
	return status, strings.Join(clip(open), "; "), remedy
}

// clip keeps a reason readable.
func clip(lines []string) []string {
	const most = 6
	if len(lines) <= most {
		return lines
	}
	return append(lines[:most:most], fmt.Sprintf("and %d parts more", len(lines)-most))
}

// partStatus returns how far a part is dealt with, and by what: by a route that
// is met, else by the one that is chosen. Where none is chosen it is not shown:
// what the plan does not tell, such as a carcass that was tested, may deal with
// it.
func (q question) partStatus(h host, attempts []attempt) (finding.Status, string) {
	if !h.known {
		for _, a := range attempts {
			if a.route == formula.RouteCarcassTesting && a.status() == finding.Met {
				return finding.Met, "carcass-testing"
			}
		}
		return finding.NotShown, "of which animal it is is not known"
	}
	status, by := finding.NotShown, "no route is planned; salting, fermenting and drying alone do not show it"
	if h.row.Species == material.Venison {
		by = "no route is planned; deer seldom carry trichinae, and no text that was read says that they never do"
	}
	for _, a := range attempts {
		if !a.covers(h.at) {
			continue
		}
		switch s := a.status(); {
		case s == finding.Met:
			return s, a.route.String()
		case a.route == q.plan().Trichinae.Route:
			status, by = s, a.route.String()+" is chosen, and "+shortfall(s)
		case q.plan().Trichinae.Route == 0:
			by = "no route is chosen, and what is planned does not show it"
		}
	}
	return status, by
}

func shortfall(s finding.Status) string {
	switch s {
	case finding.NotMet:
		return "a condition of it is not met"
	case finding.Near:
		return "only just meets it"
	default:
		return "does not show it yet"
	}
}

// whatToDo is the remedy for a part, by whether any route is planned.
func (q question) whatToDo(h host, planned bool) string {
	switch {
	case !h.known:
		return "State the material, so that the animal is known."
	case h.row.Game:
		return gameRemedy(h)
	case q.formula.Product == rulebook.CookedSausage || q.formula.Product == rulebook.SterilisedSausage:
		return "State the step in heat with its core_temperature: 62.2 °C (144 °F), or 60 minutes at 53.4 °C (128 °F)."
	case planned:
		return "Meet what the findings on the planned route ask for, or " + freezeFirst
	default:
		return "Choose a route in trichinae_route; for instance " + freezeFirst
	}
}

// inThePast turns what is said of a plan into what is said of what was done.
var inThePast = strings.NewReplacer(
	onlyAPlan, "as it is stated to have been done", "the plan takes this route", "this route is stated", "is planned", "is stated", "is chosen", "is stated",
)

// tooLate is the remedy for what was not done, of a sausage that is made.
const tooLate = "State all that was done, as it was done. What was not done can't be made up for in the finished sausage, but of pork by heating the core to 62.2 °C (144 °F)."

// JudgeDone is Judge for what was done and not only planned: the plan of the
// formula is then the record of it. The summary has the code trichinae. What a
// study saw is left out, since of what was done more is known than of a plan: see
// [PublishedFor].
func JudgeDone(f formula.Formula, s formula.Sheet, asked ...rulebook.Jurisdiction) []finding.Finding {
	var done []finding.Finding
	for _, found := range Judge(f, s, asked...) {
		switch found.Code {
		case "trichinae-published-data":
			continue
		case "trichinae-plan":
			found.Code = "trichinae"
		}
		found.Stage, found.Reason = finding.Finish, inThePast.Replace(found.Reason)
		if found.Status == finding.NotMet || found.Status == finding.Near || found.Code == "trichinae" && found.Status == finding.NotShown {
			found.Remedy = tooLate
		}
		done = append(done, found)
	}
	return done
}
