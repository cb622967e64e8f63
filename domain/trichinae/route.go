package trichinae

import (
	"fmt"
	"slices"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// onlyAPlan ends what is met.
const onlyAPlan = "as planned; that it was carried out is for the record of the lot to show"

// condition is one thing that a route asks for.
type condition struct {
	code     string // ends the code of its finding
	status   finding.Status
	measured quantity.Measure // zero when nothing is
	limit    finding.Limit
	reason   string
	remedy   string
	members  [][]string
}

// attempt is a route that a plan takes for some of the parts, held against its
// conditions.
type attempt struct {
	code       string // begins the codes of its findings
	id         string // row
	subject    string
	route      formula.Route
	authority  finding.Authority
	source     source.Citation
	conditions []condition
	covers     func(at int) bool // whether it is for a part
	method     bool              // held against the conditions of a method, and not only against its animals
	says       string            // what is planned, when all conditions are met
}

// status returns the worst of the conditions, as far as the row is verified.
func (a attempt) status() finding.Status {
	worst := finding.Met
	rank := func(s finding.Status) int {
		switch s {
		case finding.NotMet:
			return 3
		case finding.NotShown:
			return 2
		case finding.Near:
			return 1
		default:
			return 0
		}
	}
	for _, c := range a.conditions {
		if rank(c.status) > rank(worst) {
			worst = c.status
		}
	}
	if worst == finding.Met && a.source.Trust == source.Memory {
		return finding.NotShown
	}
	return worst
}

// short counts the conditions that are not met, those that are shown not to be
// first.
func (a attempt) short() (notMet, notShown int) {
	for _, c := range a.conditions {
		switch c.status {
		case finding.NotMet:
			notMet++
		case finding.Met:
		default:
			notShown++
		}
	}
	return notMet, notShown
}

// findings returns what of the route is not met, or that all of it is.
func (a attempt) findings() []finding.Finding {
	of := func(code string) finding.Finding {
		return finding.Finding{
			Code: code, LimitID: a.id, Stage: finding.Process, Authority: a.authority, Subject: a.subject, Source: a.source,
		}
	}
	var found []finding.Finding
	for _, c := range a.conditions {
		if c.status == finding.Met {
			continue
		}
		f := of(a.code + "-" + c.code)
		f.Status, f.Limit, f.Reason, f.Remedy, f.Members = c.status, c.limit, c.reason, c.remedy, c.members
		f.Measured = finding.Figure{Value: c.measured}
		found = append(found, f)
	}
	if len(found) > 0 {
		return found
	}
	f := of(a.code)
	f.Status, f.Reason = a.status(), a.says+", "+onlyAPlan
	if f.Status != finding.Met {
		f.Reason = a.says + "; but the rule is known from memory only and not verified, so this shows nothing"
		f.Remedy = "Take a route whose rule was read: " + freezeFirst
	}
	for _, c := range a.conditions {
		if !c.limit.IsZero() && (f.Limit.IsZero() || c.code == "days") {
			f.Measured, f.Limit = finding.Figure{Value: c.measured}, c.limit
		}
		f.Members = withMembers(f.Members, c.members)
	}
	return []finding.Finding{f}
}

// withMembers adds members that are not there yet.
func withMembers(all, more [][]string) [][]string {
	for _, m := range more {
		if !slices.ContainsFunc(all, func(n []string) bool { return slices.Equal(m, n) }) {
			all = append(all, m)
		}
	}
	return all
}

// nearest returns one finding on a method that nobody chose: what the drying as
// it is planned lacks of the method that it comes nearest to.
func (a attempt) nearest() finding.Finding {
	var lacks, mend []string
	f := finding.Finding{
		Code: a.code, LimitID: a.id, Status: finding.NotShown, Stage: finding.Process, Authority: a.authority, Subject: a.subject, Source: a.source,
	}
	for _, c := range a.conditions {
		if c.status == finding.Met {
			continue
		}
		lacks, mend = append(lacks, c.reason), append(mend, c.remedy)
		f.Members = withMembers(f.Members, c.members)
		if f.Measured.IsZero() && !c.limit.IsZero() {
			f.Measured, f.Limit = finding.Figure{Value: c.measured}, c.limit
		}
	}
	f.Reason = "no method is chosen; of this one, which the plan comes nearest to, it lacks: " + strings.Join(lacks, "; ")
	f.Remedy = strings.Join(mend, " ")
	return f
}

// question is a formula and its sheet.
type question struct {
	formula formula.Formula
	sheet   formula.Sheet
}

func (q question) plan() formula.Plan { return q.formula.Plan }

func at(steps ...any) [][]string { return [][]string{fault.At(steps...)} }

// holdAgainst makes a condition of a measure and a limit.
func holdAgainst(code string, status finding.Status, measured quantity.Measure, c rulebook.Comparator, limit quantity.Measure, printed string) condition {
	return condition{
		code: code, status: status, measured: measured, limit: finding.Limit{Comparator: c.String(), Value: limit, Printed: printed},
	}
}

// Paper routes.

func (q question) paper(r RouteRow, hosts []host) []attempt {
	a := attempt{
		code: "trichinae-" + r.ID, id: r.ID, subject: r.Subject, route: r.Route, authority: finding.Law, source: r.Source,
		says:   "shown by what is stated of it: " + paperOf(q.plan().Trichinae),
		covers: func(part int) bool { return r.Game || swine(hosts, part) && !game(hosts, part) },
	}
	certificate := condition{code: "certificate", status: finding.Met, members: at("plan", "trichinae_route")}
	if q.plan().Trichinae.Certificate == "" {
		certificate.status = finding.NotShown
		certificate.reason = "the plan takes this route, and says nothing of the paper that shows it"
		certificate.remedy = "State in certificate the number of the report, mark or certificate, and keep 1 copy with the lot."
	}
	a.conditions = append(a.conditions, certificate)
	all := []attempt{a}
	for _, h := range hosts {
		if !r.Game && h.known && h.row.Game {
			all = append(all, a.notFor(h, finding.NotMet, h.name+" is not of domestic pigs, which alone this route is for"))
		}
	}
	return all
}

// paperOf names the paper of a route.
func paperOf(r formula.TrichinaeRoute) string {
	if r.IssuedBy == "" {
		return r.Certificate
	}
	return r.Certificate + ", issued by " + r.IssuedBy
}

// notFor is the same route tried for a part whose animal it is not for.
func (a attempt) notFor(h host, status finding.Status, reason string) attempt {
	a.covers, a.method = func(part int) bool { return part == h.at }, false
	a.conditions = []condition{{code: "animal", status: status, reason: reason, remedy: gameRemedy(h), members: at("parts", h.at, "material")}}
	return a
}

// freezeFirst is the shortest way for pork from a house freezer.
const freezeFirst = "freeze the pork 20 days at -15 °C (5 °F) or colder before it is cut, in pieces, layers or boxes of at most 152 mm (6 in)."

// freezing holds the freezing of one part against the tables.
func (q question) freezing(h host) attempt {
	history := q.formula.Frozen(q.formula.Parts[h.at])
	a := attempt{
		code: "trichinae-freezing", id: freezings[0].ID, subject: "freezing of " + h.name + " against trichinae", route: formula.RouteFreezing,
		authority: finding.Guidance, source: freezingSource, covers: func(part int) bool { return part == h.at },
	}
	members := at("plan", "freezing")
	if len(q.formula.Parts[h.at].Freezing) > 0 {
		members = at("parts", h.at, "freezing")
	}
	if h.known && h.row.Game {
		a.source, a.id = coldHardy, ""
		return a.notFor(h, finding.NotMet, h.name+" may carry trichinae that survive freezing (Trichinella nativa, T. britovi): no freezing counts for it")
	}
	if len(history) == 0 {
		a.conditions = []condition{{
			code: "days", status: finding.NotShown, reason: "no freezing of " + h.name + " is planned", remedy: "State it: " + freezeFirst,
		}}
		return a
	}
	a.take(bestFreezing(history), members)
	return a
}

// frozen is how near a history comes to one row.
type frozen struct {
	id       string
	source   source.Citation
	warmest  quantity.Temperature
	measured quantity.Measure
	limit    quantity.Measure
	printed  string
	status   finding.Status
	missing  float64 // of what the row asks, as a share
	reason   string
	remedy   string
}

// take makes the conditions of the route from the row that it comes nearest to.
func (a *attempt) take(f frozen, members [][]string) {
	a.id, a.source = f.id, f.source
	c := holdAgainst("days", f.status, f.measured, rulebook.AtLeast, f.limit, f.printed)
	c.reason, c.remedy, c.members = f.reason, f.remedy, members
	a.says = f.reason
	a.conditions = []condition{c}
}

// bestFreezing returns the row that a history meets, or the one that it comes
// nearest to.
func bestFreezing(history []formula.Freezing) frozen {
	var best *frozen
	better := func(f frozen) {
		if best == nil || f.status == finding.Met && best.status != finding.Met ||
			f.status == finding.NotShown && best.status == finding.NotMet ||
			f.status == best.status && f.missing < best.missing {
			best = &f
		}
	}
	for _, r := range freezings {
		if f, ok := frozenBy(history, r); ok {
			better(f)
		}
	}
	for _, r := range centres {
		if f, ok := frozenAtCentre(history, r); ok {
			better(f)
		}
	}
	if best != nil {
		return *best
	}
	return tooWarm(history)
}

// frozenBy holds a history against a row of the table by thickness: the longest
// unbroken time that is as cold, at the thickest piece of it. Nothing when none
// of it is as cold, or the meat is too thick.
func frozenBy(history []formula.Freezing, r FreezingRow) (frozen, bool) {
	run, thickest, unknown := coldRun(history, r.Warmest, false)
	if run == 0 || thickest.Compare(r.Thickest) > 0 || r.Group > 1 && !unknown && thickest.Compare(freezings[0].Thickest) <= 0 {
		return frozen{}, false
	}
	needed := hours(24 * r.Days)
	f := frozen{
		id: r.ID, source: r.Source, warmest: r.Warmest, measured: quantity.SpanIn(run, quantity.UnitDays), limit: quantity.SpanIn(needed, quantity.UnitDays),
		printed: fmt.Sprintf("%d days at %s or colder, up to %s thick", r.Days, both(r.Warmest), bothLengths(r.Thickest)),
		status:  finding.Met, missing: float64(needed-run) / float64(needed),
	}
	f.reason = fmt.Sprintf("%s frozen at %s or colder, against %s", f.measured, both(r.Warmest), f.printed)
	switch {
	case run < needed:
		f.status = finding.NotMet
		f.remedy = fmt.Sprintf("Freeze it %s longer at %s or colder.", daysUp(needed-run), both(r.Warmest))
	case unknown:
		f.status, f.missing = finding.NotShown, 0
		f.reason += "; how thick the pieces are is not stated"
		f.remedy = fmt.Sprintf("State the thickness of the thickest piece, layer or box: at most %s.", bothLengths(r.Thickest))
	}
	return f, true
}

// frozenAtCentre is frozenBy for the table by the temperature of the centre.
func frozenAtCentre(history []formula.Freezing, r CentreRow) (frozen, bool) {
	run, _, _ := coldRun(history, r.Warmest, true)
	if run == 0 {
		return frozen{}, false
	}
	f := frozen{
		id: r.ID, source: r.Source, warmest: r.Warmest, measured: quantity.SpanIn(run, quantity.UnitHours), limit: quantity.SpanIn(r.Span, quantity.UnitHours),
		printed: fmt.Sprintf("%s with the centre at %s or colder", quantity.SpanIn(r.Span, quantity.UnitHours), both(r.Warmest)),
		status:  finding.Met, missing: float64(r.Span-run) / float64(r.Span),
	}
	f.reason = fmt.Sprintf("%s with the centre at %s or colder, against %s", f.measured, both(r.Warmest), f.printed)
	if run < r.Span {
		f.status = finding.NotMet
		f.remedy = fmt.Sprintf("Keep it %s longer with the centre at %s or colder.", quantity.SpanIn(r.Span-run, quantity.UnitHours), both(r.Warmest))
	}
	return f, true
}

// tooWarm is the answer for a history that no row is as warm as, or whose meat
// is too thick for all.
func tooWarm(history []formula.Freezing) frozen {
	r := freezings[0]
	coldest := history[0]
	for _, f := range history {
		if f.Temperature.Compare(coldest.Temperature) < 0 {
			coldest = f
		}
	}
	f := frozen{
		id: r.ID, source: r.Source, status: finding.NotMet, measured: quantity.SpanIn(0, quantity.UnitDays),
		limit:   quantity.SpanIn(hours(24*r.Days), quantity.UnitDays),
		printed: fmt.Sprintf("%d days at %s or colder, up to %s thick", r.Days, both(r.Warmest), bothLengths(r.Thickest)), missing: 1,
		reason: fmt.Sprintf("the coldest that is planned is %s, and no row of the tables is warmer than %s", both(coldest.Temperature), both(r.Warmest)),
		remedy: strings.ToUpper(freezeFirst[:1]) + freezeFirst[1:],
	}
	if coldest.Temperature.Compare(r.Warmest) <= 0 {
		f.reason = fmt.Sprintf("pieces of %s are thicker than any row of the tables", bothLengths(coldest.Thickness))
	}
	return f
}

// coldRun returns the longest unbroken time of a history that is as cold, the
// thickest piece in it, and whether a thickness is not stated. atCentre counts
// only what was read at the centre.
func coldRun(history []formula.Freezing, warmest quantity.Temperature, atCentre bool) (most span, thickest quantity.Length, unknown bool) {
	var now span
	var thick quantity.Length
	var open bool
	for _, f := range history {
		if f.Temperature.Compare(warmest) > 0 || atCentre && !f.AtCentre {
			now, thick, open = 0, quantity.Length{}, false
			continue
		}
		now += f.Span
		open = open || f.Thickness.IsZero()
		if thick.Less(f.Thickness) {
			thick = f.Thickness
		}
		if now > most {
			most, thickest, unknown = now, thick, open
		}
	}
	return most, thickest, unknown
}

// heating holds the steps in warm air and smoke against the table: the core, held.
func (q question) heating(hosts []host) []attempt {
	a := attempt{
		code: "trichinae-heating", id: heatings[len(heatings)-1].ID, subject: "heating against trichinae", route: formula.RouteHeating,
		authority: finding.Guidance, source: heatingSource,
		covers: func(part int) bool { return swine(hosts, part) },
	}
	best := condition{
		code: "core", status: finding.NotShown, reason: "no step is planned of which the temperature of the core is stated",
		remedy: "Heat the core to 62.2 °C (144 °F), or hold it 60 minutes at 53.4 °C (128 °F), and state it.",
	}
	for _, l := range []struct {
		name  string
		steps []formula.Warmth
	}{{"smoke", q.plan().Smoke}, {"heat", q.plan().Heat}} {
		for i, s := range l.steps {
			core, known := s.Core.Get()
			if !known {
				continue
			}
			c, id := cooked(core, s.CoreHeld)
			c.members = at("plan", l.name, i, "core_temperature")
			if best.limit.IsZero() || c.status < best.status {
				best, a.id = c, id
			}
		}
	}
	a.says = best.reason
	a.conditions = append(a.conditions, best)
	all := []attempt{a}
	for _, h := range hosts {
		if h.known && !h.row.Swine {
			all = append(all, a.notFor(h, finding.NotShown, "the table is for pork; that it holds for "+h.name+" is not known here"))
		}
	}
	return all
}

// cooked holds a core, held so long, against the row that it reaches.
func cooked(core quantity.Temperature, held span) (condition, string) {
	surely, ok := HeatingFor(core)
	r, least := heatingFor(core, func(f Floor) quantity.Temperature { return f.Least })
	if !least {
		r = heatings[0]
		c := holdAgainst("core", finding.NotMet, core.In(quantity.UnitDegC), rulebook.AtLeast, r.Core.Surely.In(quantity.UnitDegC), r.Core.Printed)
		c.reason = fmt.Sprintf("a core of %s is cooler than any row of the table, which begins at %s", both(core), r.Core.Printed)
		c.remedy = "Heat the core to 62.2 °C (144 °F), or hold it 60 minutes at 53.4 °C (128 °F)."
		return c, r.ID
	}
	status := finding.NotMet
	switch {
	case ok && held >= surely.Span:
		status, r = finding.Met, surely
	case held >= r.Span:
		status = finding.Near
	case held == 0:
		status = finding.NotShown
	case ok:
		r = surely
	}
	c := holdAgainst("core", status, quantity.SpanIn(held, quantity.UnitHours), rulebook.AtLeast, quantity.SpanIn(r.Span, quantity.UnitHours),
		fmt.Sprintf("%s with the core at %s", quantity.SpanIn(r.Span, quantity.UnitHours), r.Core.Printed))
	c.reason = fmt.Sprintf("core held %s at %s, against %s", quantity.SpanIn(held, quantity.UnitHours), both(core), c.limit.Printed)
	switch status {
	case finding.NotMet:
		c.remedy = fmt.Sprintf("Hold the core %s longer.", quantity.SpanIn(r.Span-held, quantity.UnitHours))
	case finding.Near:
		c.reason += "; the texts do not print the same temperature"
		c.remedy = fmt.Sprintf("Heat the core to %s.", both(r.Core.Surely))
	case finding.NotShown:
		c.reason = fmt.Sprintf("a core of %s, and how long it is held is not stated; %s", both(core), c.limit.Printed)
		c.remedy = fmt.Sprintf("Hold the core %s at that, and state it.", quantity.SpanIn(r.Span, quantity.UnitHours))
	case finding.Met, finding.NotApplicable, finding.Hazard:
	}
	return c, r.ID
}

// swine reports whether a part is known to be of pigs, wild or not.
func swine(hosts []host, part int) bool {
	for _, h := range hosts {
		if h.at == part {
			return h.known && h.row.Swine
		}
	}
	return false
}

// gameRemedy is what deals with meat of game.
func gameRemedy(h host) string {
	if h.row.Species == material.WildBoar {
		return "Have every carcass tested (100 percent of them), or heat the core to 62.2 °C (144 °F)."
	}
	return "Have every carcass tested (100 percent of them)."
}
