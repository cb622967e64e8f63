package trichinae

import (
	"fmt"
	"math"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// drying returns the method that is chosen, or the one that the plan meets or
// comes nearest to: of those for sausage, one whose rule was read, since only it
// can be met.
func (q question) drying(hosts []host) []attempt {
	var all []attempt
	nearest := -1
	for _, m := range methods {
		chosen := q.plan().Trichinae.Route == formula.RouteDryingMethod && q.plan().Trichinae.Method != 0
		fits := q.suits(m) && (m.wholeMuscle() || m.Source.Trust != source.Memory)
		if chosen && m.Method != q.plan().Trichinae.Method || !chosen && !fits {
			continue
		}
		a := q.method(m, hosts)
		if nearest < 0 || nearer(a, all[nearest]) {
			nearest = len(all)
		}
		all = append(all, a)
	}
	if nearest < 0 {
		return nil
	}
	tried := []attempt{all[nearest]}
	for _, h := range hosts {
		if h.known && h.row.Game {
			tried = append(tried, all[nearest].notFor(h, finding.NotShown, "the method is for pork; that it holds for "+h.name+" was not shown"))
		}
	}
	return tried
}

// nearer reports whether a has fewer conditions to mend than b: one that is met
// is the nearest.
func nearer(a, b attempt) bool {
	aNot, aOpen := a.short()
	bNot, bOpen := b.short()
	if aNot != bNot {
		return aNot < bNot
	}
	if aOpen != bOpen {
		return aOpen < bOpen
	}
	return a.status() == finding.Met && b.status() != finding.Met
}

func (m Method) wholeMuscle() bool { return m.LargestPiece.IsZero() }

// suits reports whether a method is for the product at all: those for sausage
// are for what is chopped, salted dry, stuffed and dried; those for whole pieces
// for what is cured dry.
func (q question) suits(m Method) bool {
	if m.wholeMuscle() {
		return q.formula.Product == rulebook.DryCuredMuscle || q.formula.Product == rulebook.DryCuredBacon
	}
	switch q.formula.Product {
	case rulebook.DrySausage, rulebook.SemiDrySausage:
		return true
	case rulebook.TraditionalProduct:
		return q.formula.Tradition.Sausage()
	default:
		return false
	}
}

// product withholds a method that is for another kind of product.
func (q question) product(m Method) condition {
	what := "sausage that is salted dry, stuffed and dried"
	if m.wholeMuscle() {
		what = "whole pieces in dry cure"
	}
	return condition{
		code: "product", status: finding.NotShown,
		reason: fmt.Sprintf("the method is for %s; that it holds for this %s was not shown", what, q.formula.Product),
		remedy: "Choose a route that is for this product; for instance " + freezeFirst, members: at("product"),
	}
}

// method holds the plan against one method.
func (q question) method(m Method, hosts []host) attempt {
	a := attempt{
		code: "trichinae-" + m.ID, id: m.ID, subject: "drying against trichinae: " + m.ID + ", " + m.Subject, route: formula.RouteDryingMethod,
		authority: finding.Guidance, source: m.Source, method: true, covers: func(part int) bool { return swine(hosts, part) && !game(hosts, part) },
	}
	if !q.suits(m) {
		a.conditions = append(a.conditions, q.product(m))
		return a
	}
	if !m.wholeMuscle() {
		a.conditions = append(a.conditions, q.pieces(m))
	}
	a.conditions = append(a.conditions, q.salt(m))
	for _, w := range m.Before {
		a.conditions = append(a.conditions, q.before(m, w))
	}
	a.conditions = append(a.conditions, q.room(m)...)
	a.says = m.ID + ": every condition of it is planned"
	return a
}

func game(hosts []host, part int) bool {
	for _, h := range hosts {
		if h.at == part {
			return h.row.Game
		}
	}
	return false
}

// pieces holds the grind against the largest piece.
func (q question) pieces(m Method) condition {
	largest := q.plan().Grind.Largest()
	if largest.IsZero() {
		return condition{
			code: "pieces", status: finding.NotShown, reason: "how small the meat is cut is not stated",
			remedy: fmt.Sprintf("State the plate or the largest piece: at most %s.", bothLengths(m.LargestPiece)),
		}
	}
	status := finding.Met
	if largest.Compare(m.LargestPiece) > 0 {
		status = finding.NotMet
	}
	c := holdAgainst("pieces", status, largest.In(quantity.UnitMillimetres), rulebook.AtMost, m.LargestPiece.In(quantity.UnitMillimetres), bothLengths(m.LargestPiece))
	c.reason = fmt.Sprintf("pieces of up to %s, against at most %s", bothLengths(largest), bothLengths(m.LargestPiece))
	c.remedy, c.members = fmt.Sprintf("Cut to at most %s.", bothLengths(m.LargestPiece)), at("plan", "grind")
	return c
}

// salt holds the salt against the floor of the method, at its low end. Method 6
// goes by a lower floor, at which it asks for the most days.
func (q question) salt(m Method) condition {
	floor := m.Salt
	if m.Method == formula.Method6 {
		floor = quantity.MustPPM(20000)
	}
	salt := SaltOf(q.sheet, m.SaltBase)
	status := finding.Near
	switch {
	case salt.Low.Compare(floor) >= 0:
		status = finding.Met
	case salt.High.Compare(floor) < 0:
		status = finding.NotMet
	}
	c := holdAgainst("salt", status, salt.Low.In(quantity.UnitPercent), rulebook.AtLeast, floor.In(quantity.UnitPercent), m.SaltPrinted)
	c.measured = salt.Low.In(quantity.UnitPercent)
	c.reason = fmt.Sprintf("%s %% of salt (%s), against at least %s %%: %s", short(salt.Low.Percent()), m.SaltBase.phrase(), short(floor.Percent()), m.SaltPrinted)
	if status == finding.Met {
		return c
	}
	for _, l := range q.sheet.Lines {
		if l.Addition != nil && l.Addition.Unknown() && status == finding.NotMet {
			c.status, c.reason = finding.NotShown, c.reason+"; what "+l.Name+" brings is not known"
			break
		}
	}
	c.remedy = fmt.Sprintf("Use %s g more of salt for this batch of %s.", tenthsUp(q.saltMissing(m.SaltBase, floor)), q.sheet.Batch())
	return c
}

func (b SaltBase) phrase() string {
	switch b {
	case OfMeat:
		return "of the meat"
	case WithoutDryGoods:
		return "of the batch without salt, sugar, spices and cure"
	default:
		return "of the unstuffed sausage"
	}
}

// saltMissing returns the salt that lacks to a share f of the base, itself in the
// base where that is the batch: (f B - S) / (1 - f), or f B - S.
func (q question) saltMissing(base SaltBase, floor quantity.PPM) quantity.Mass {
	salt, of := saltAndBase(q.sheet, base)
	missing := floor.Of(of.High).Minus(salt.Low)
	if base != OfUnstuffed {
		return missing
	}
	more, err := missing.DividedBy(quantity.MustRatio(1 - floor.Percent()/100))
	if err != nil {
		return missing
	}
	return more
}

// tenthsUp prints a mass in grams, rounded up to a tenth.
func tenthsUp(m quantity.Mass) string {
	const tenths = 10
	return short(math.Ceil(m.Grams()*tenths-1e-9) / tenths)
}

// before holds what is planned before the drying against what a method asks for.
func (q question) before(m Method, w While) condition {
	whiles, what := q.whiles(w)
	r := added(whiles, w.Floor)
	needed := w.Span
	if w.Of == OfSchedule {
		needed = stageAndAfter(m, w)
	}
	unit := quantity.UnitHours
	if w.Of == OfDryCure || w.Of == OfSausage || w.Of == OfMixture && needed >= 5*day {
		unit = quantity.UnitDays
	}
	c := holdAgainst(w.Of.String(), r.status(needed), quantity.SpanIn(r.surely, unit), rulebook.AtLeast, quantity.SpanIn(needed, unit),
		fmt.Sprintf("%s at %s or warmer", quantity.SpanIn(needed, unit), w.Floor.Printed))
	c.reason = fmt.Sprintf("%s: %s at %s or warmer, against at least %s", what, c.measured, w.Floor.Printed, quantity.SpanIn(needed, unit))
	if !w.Deepest.IsZero() {
		c.reason += fmt.Sprintf(", at most %s deep", bothLengths(w.Deepest))
	}
	if w.Of == OfSchedule {
		c.code += "-" + short(w.Floor.Least.Fahrenheit()) + "f"
	}
	c.remedy = fmt.Sprintf("Plan %s more of it, at %s or warmer.", quantity.SpanIn(max(needed-r.surely, 0), unit), both(w.Floor.Surely))
	if c.status == finding.NotShown {
		c.remedy = fmt.Sprintf("State how warm and how long: at least %s at %s.", quantity.SpanIn(needed, unit), both(w.Floor.Surely))
	}
	return c
}

// stageAndAfter returns the time of a stage and of the warmer ones after it: time
// in those counts for it.
func stageAndAfter(m Method, stage While) span {
	var all span
	for _, w := range m.Before {
		if w.Of == OfSchedule && w.Floor.Least.Compare(stage.Floor.Least) >= 0 {
			all += w.Span
		}
	}
	return all
}

// whiles returns what is planned of what a While is about, and its name.
func (q question) whiles(w While) ([]while, string) {
	p := q.plan()
	switch w.Of {
	case OfMixture:
		return holdsOf(p.Hold, w.Deepest, formula.Mixed), "the mixture, held before stuffing"
	case OfDryCure:
		return holdsOf(p.Hold, w.Deepest, formula.InDryCure), "the meat in dry cure"
	case OfSmoke:
		return warmthsOf(p.Smoke), "smoke"
	case OfSausage:
		return concat(holdsOf(p.Hold, w.Deepest, formula.Stuffed), stepsOf(p.Fermentation), warmthsOf(p.Smoke), stepsOf(p.Drying)), "the sausages, held after stuffing"
	case OfSchedule:
		return concat(stepsOf(p.Fermentation), warmthsOf(p.Smoke), warmthsOf(p.Heat)), "fermentation, smoke and heat, stage by stage"
	default:
		return concat(holdsOf(p.Hold, w.Deepest, formula.Mixed, formula.Stuffed), stepsOf(p.Fermentation), warmthsOf(p.Smoke)), "from the cure to the drying room"
	}
}

func concat(lists ...[]while) []while {
	var all []while
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

// room holds the drying against the floor of the room, the days there, and the
// days in all.
func (q question) room(m Method) []condition {
	row, diameter := q.diameter(m)
	var all []condition
	if diameter.code != "" {
		all = append(all, diameter)
	}
	r := unbroken(stepsOf(q.plan().Drying), m.Room)
	if warm, cold := q.tooCold(m, r); cold {
		all = append(all, warm)
	}
	if diameter.code != "" && diameter.status != finding.Met {
		return all
	}
	if dry, ok := q.daysIn(m, row); ok {
		c := holdAgainst("days", r.status(hours(24*dry)), quantity.SpanIn(r.surely, quantity.UnitDays), rulebook.AtLeast, quantity.SpanIn(hours(24*dry), quantity.UnitDays),
			fmt.Sprintf("%d days at %s or warmer", dry, m.Room.Printed))
		c.reason = fmt.Sprintf("%s in a room of %s or warmer, against at least %d days", c.measured, m.Room.Printed, dry)
		c.members = q.dryingMember()
		switch c.status {
		case finding.NotMet:
			c.remedy = fmt.Sprintf("Dry it %s longer at %s or warmer.", daysUp(hours(24*dry)-r.surely), both(m.Room.Surely))
		case finding.Near:
			c.remedy = fmt.Sprintf("Keep the room at %s or warmer.", both(m.Room.Surely))
		default:
			c.remedy = fmt.Sprintf("State the drying: at least %d days at %s or warmer.", dry, both(m.Room.Surely))
		}
		all = append(all, c)
	}
	if row.Total > 0 {
		all = append(all, q.total(m, row))
	}
	return all
}

func (q question) dryingMember() [][]string {
	if len(q.plan().Drying) == 0 {
		return nil
	}
	return at("plan", "drying")
}

// tooCold is the condition on the room where no step of the drying is as warm as
// its floor.
func (q question) tooCold(m Method, r reach) (condition, bool) {
	var warmest quantity.Temperature
	for _, s := range q.plan().Drying {
		if t, known := s.Temperature.Get(); known && (warmest.IsZero() || t.Compare(warmest) > 0) {
			warmest = t
		}
	}
	if warmest.IsZero() || r.least > 0 || r.possible > 0 || warmest.Compare(m.Room.Least) >= 0 {
		return condition{}, false
	}
	c := holdAgainst("room", finding.NotMet, warmest.In(quantity.UnitDegC), rulebook.AtLeast, m.Room.Surely.In(quantity.UnitDegC), m.Room.Printed)
	c.reason = fmt.Sprintf("the warmest drying is at %s, against a room of at least %s; a refrigerator is colder than that", both(warmest), m.Room.Printed)
	c.remedy = fmt.Sprintf("Dry at %s or warmer, or %s", both(m.Room.Surely), freezeFirst)
	c.members = q.dryingMember()
	return c, true
}

// diameter holds the diameter at stuffing against the rows of a method. The
// condition has no code for a method of any diameter.
func (q question) diameter(m Method) (DryingRow, condition) {
	last := m.Rows[len(m.Rows)-1]
	if last.UpTo.IsZero() {
		return last, condition{}
	}
	d, stated := q.plan().Casing.Stuffed()
	if d.IsZero() {
		return last, condition{
			code: "diameter", status: finding.NotShown, reason: "the diameter at stuffing is not stated, on which the days depend",
			remedy: fmt.Sprintf("State it in casing: at most %s.", bothLengths(last.UpTo)),
		}
	}
	row, ok := m.RowFor(d)
	status := finding.Met
	if !ok {
		status, row = finding.NotMet, last
	}
	c := holdAgainst("diameter", status, d.In(quantity.UnitMillimetres), rulebook.AtMost, row.UpTo.In(quantity.UnitMillimetres), bothLengths(row.UpTo))
	c.reason = fmt.Sprintf("%s at stuffing, against at most %s", bothLengths(d), bothLengths(row.UpTo))
	if !stated {
		c.reason += " (from the flat width, with a tenth for stretching)"
	}
	c.remedy, c.members = fmt.Sprintf("Use a casing of at most %s.", bothLengths(last.UpTo)), at("plan", "casing")
	return row, c
}

// daysIn returns the days in the drying room, and false for a method without.
func (q question) daysIn(m Method, row DryingRow) (int, bool) {
	if m.Method != formula.Method6 {
		return row.Dry, row.Dry > 0
	}
	d, ok := DaysByMethod6(row.UpTo, q.warmest6(), SaltOf(q.sheet, WithoutDryGoods).Low)
	return d.Days, ok
}

// warmest6 returns the hold before drying that takes most off the days of method
// 6: of the holds, the fermentation or the smoke, each alone, at each of the
// temperatures of the table.
func (q question) warmest6() Held {
	var best Held
	p := q.plan()
	for _, list := range [][]while{holdsOf(p.Hold, quantity.Length{}, formula.Mixed, formula.Stuffed), stepsOf(p.Fermentation), warmthsOf(p.Smoke)} {
		for _, c := range columns {
			h := Held{Coldest: c, Span: unbroken(list, Floor{Least: c, Surely: c}).surely}
			if ReductionFor(h) > ReductionFor(best) {
				best = h
			}
		}
	}
	return best
}

// total holds the days since the cure was added against the least of a row.
// Smoke and warm water do not count in method 4.
func (q question) total(m Method, row DryingRow) condition {
	p := q.plan()
	lists := [][]while{holdsOf(p.Hold, quantity.Length{}, formula.Mixed, formula.Stuffed, formula.InDryCure), stepsOf(p.Fermentation), stepsOf(p.Drying)}
	if m.Method != formula.Method4 {
		lists = append(lists, warmthsOf(p.Smoke), warmthsOf(p.Heat))
	}
	var all span
	open := false
	for _, w := range concat(lists...) {
		all += w.span
		open = open || w.open
	}
	needed := hours(24 * row.Total)
	status := finding.NotMet
	switch {
	case all >= needed:
		status = finding.Met
	case open:
		status = finding.NotShown
	}
	c := holdAgainst("total", status, quantity.SpanIn(all, quantity.UnitDays), rulebook.AtLeast, quantity.SpanIn(needed, quantity.UnitDays),
		fmt.Sprintf("%d days since the cure was added", row.Total))
	c.reason = fmt.Sprintf("%s from the cure to the end of drying, against at least %d", c.measured, row.Total)
	c.remedy, c.members = fmt.Sprintf("Keep it in the room %s longer.", daysUp(max(needed-all, 0))), q.dryingMember()
	if status == finding.NotShown {
		c.remedy = fmt.Sprintf("State how long each step lasts: %d days at least in all.", row.Total)
	}
	return c
}

// publishedData tells of the study where the plan is inside its process: that
// what is measured then may show it. A plan alone never does, since the pH is
// measured and not planned.
func (q question) publishedData() (finding.Finding, bool) {
	at := func(steps []formula.Step, floor quantity.Temperature) span {
		return unbroken(stepsOf(steps), Floor{Least: floor, Surely: floor}).surely
	}
	p := q.plan()
	if len(p.Fermentation) == 0 || len(p.Drying) == 0 {
		return finding.Finding{}, false
	}
	salt := SaltOf(q.sheet, OfUnstuffed).Low
	studied := published[0]
	planned := at(p.Fermentation, studied.Ferment) + at(p.Drying, studied.Dry)
	row, ok := PublishedFor(Process{PH: quantity.MustPH(5.2), Salt: salt, Fermentation: studied.Ferment, Drying: studied.Dry})
	if !ok || at(p.Fermentation, row.Ferment) == 0 || at(p.Drying, row.Dry) == 0 {
		return finding.Finding{}, false
	}
	needed := hours(24 * row.Days)
	f := finding.Finding{
		Code: "trichinae-published-data", LimitID: row.ID, Stage: finding.Process, Authority: finding.Practice, Subject: "trichinae in a study of fermented sausage",
		Status: finding.NotShown, Source: row.Source, Measured: finding.Figure{Value: quantity.SpanIn(planned, quantity.UnitDays)},
		Limit: finding.Limit{
			Comparator: rulebook.AtLeast.String(), Value: quantity.SpanIn(needed, quantity.UnitDays),
			Printed: fmt.Sprintf("%d days at pH above 4.6 to 5.2 with this salt", row.Days),
		},
		Reason: fmt.Sprintf("the plan is as warm as the study, with %s %% of salt: there all larvae of Trichinella spiralis were dead after %d days at a pH above 4.6 to 5.2; "+
			"the pH is measured and not planned, so this shows nothing of a plan, and nothing of game", short(salt.Percent()), row.Days),
		Remedy: "Measure the pH: 4.6 to 5.2 at the end of fermentation.",
	}
	return f, true
}
