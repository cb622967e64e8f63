package finish

import (
	"fmt"
	"slices"
	"strings"

	"greenweight/domain/curing"
	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/trichinae"
)

// judge is an order with what is computed once of it.
type judge struct {
	Order

	activity, acid, ratio, brine readings
	acidThen, activityThen       readings // as the fermentation ended
	check                        []finding.Finding
	sheet                        formula.Sheet
	trichinae                    []finding.Finding
	composition                  drying.Composition
	unknown                      []string // what leaves a part of the composition unknown
	fermented                    map[rulebook.Jurisdiction]acidInTime
}

// prepare computes what several rules need. It returns the faults of the formula
// and of the course of the fermentation.
func (o Order) prepare() (*judge, error) {
	j := &judge{
		Order: o, activity: o.activities(Finished), acid: o.acids(Finished), ratio: o.ratios(), brine: o.brines(),
		acidThen: o.acids(AfterFermentation), activityThen: o.activities(AfterFermentation), fermented: map[rulebook.Jurisdiction]acidInTime{},
	}
	var bad fault.Collector
	for i, r := range o.Rulebooks {
		if slices.Index(o.Rulebooks, r) < i {
			bad.Add(fault.At("rulebooks", i), "duplicate", "the rulebook %s is asked for already", r)
		}
	}
	if o.Formula != nil {
		bad.AddError(nil, "invalid-value", j.ofFormula()) // a scaling names the formula itself
	}
	for _, r := range append(slices.Clone(o.Rulebooks), 0) {
		f, err := o.acidInTime(r)
		if err != nil {
			bad.AddError(fault.At("fermentation"), "invalid-value", err)
			break // of every rulebook it is the same course
		}
		j.fermented[r] = f
	}
	return j, bad.Err("invalid-value", "the order has no meaning as it stands")
}

// ofFormula checks the formula, and judges what was done of it.
func (j *judge) ofFormula() error {
	f := *j.Formula
	var err error
	if j.check, err = curing.Find(f, unique(j.Rulebooks), j.Date); err != nil {
		return err
	}
	const fine = 1e-6 // g: nothing is rounded that can be seen
	j.sheet, err = formula.Scale(formula.Order{
		Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(1000)}, Scale: formula.Divisions{{Division: quantity.MustGrams(fine)}},
	})
	if err != nil {
		return err
	}
	if j.composition, j.unknown, err = drying.CompositionOf(f); err != nil {
		return err
	}
	done := f
	done.Parts = slices.Clone(f.Parts)
	for i := range done.Parts {
		done.Parts[i].Freezing = nil // a plan
	}
	done.Plan = formula.Plan{}
	if j.CarriedOut != nil {
		done.Plan = *j.CarriedOut
	}
	j.trichinae = trichinae.JudgeDone(done, j.sheet, unique(j.Rulebooks)...)
	planned := trichinae.Judge(f, j.sheet)[0].Status == finding.Met
	for i := range j.trichinae {
		t := &j.trichinae[i]
		t.Members = placed(t.Members)
		if t.Code == "trichinae" && t.Status != finding.Met && t.Status != finding.NotApplicable && planned {
			t.Reason += "; the plan of the formula has a route whose conditions are met, but it is not stated in carried_out that it was done"
			t.Remedy = "State in carried_out what was done of the plan, as it was done."
		}
	}
	return nil
}

func unique(all []rulebook.Jurisdiction) []rulebook.Jurisdiction {
	var once []rulebook.Jurisdiction
	for _, r := range all {
		if !slices.Contains(once, r) {
			once = append(once, r)
		}
	}
	return once
}

// placed turns paths of a formula into those of an order: its plan is what was
// carried out.
func placed(members [][]string) [][]string {
	all := make([][]string, 0, len(members))
	for _, m := range members {
		if len(m) > 0 && m[0] == "plan" {
			all = append(all, append([]string{"carried_out"}, m[1:]...))
			continue
		}
		all = append(all, append([]string{"formula"}, m...))
	}
	return all
}

// leaf is a condition held against the facts.
type leaf struct {
	status   finding.Status
	reason   string
	remedy   string
	measured finding.Figure
	members  [][]string
	missing  Measurements // what, measured or stated, may show it
}

func notShown(missing Measurements, format string, args ...any) leaf {
	return leaf{status: finding.NotShown, reason: fmt.Sprintf(format, args...), missing: missing}
}

func member(steps ...any) [][]string { return [][]string{fault.At(steps...)} }

// judgeFact holds the facts against a condition of the tree of a jurisdiction.
func (j *judge) judgeFact(n rulebook.Node, of rulebook.Jurisdiction) leaf {
	switch n.Fact {
	case rulebook.CureInside:
		return j.cure(of)
	case rulebook.AcidInTime:
		return j.fermented[of].both()
	case rulebook.DegreeHoursKept:
		return j.fermented[of].hours
	case rulebook.SaltGoesIn:
		return j.salt()
	case rulebook.TrichinaeDealtWith:
		return j.dealtWith()
	case rulebook.MoistureToProtein:
		return bounded(n, j.ratio, only(MeasureMoistureProtein), "moisture to protein", ratioMeasure)
	case rulebook.FinalPH:
		return bounded(n, j.acid, only(MeasurePH), "pH", phMeasure)
	case rulebook.FinalActivity:
		return j.drier(n, bounded(n, j.activity, only(MeasureActivity), "water activity", activityMeasure))
	case rulebook.BrineInside:
		return boundedBelow(n, j.brine, only(MeasureSalt), "salt in the water phase", percentMeasure)
	case rulebook.Smoked:
		return j.smoked()
	case rulebook.WholeOrVacuum:
		return j.packed()
	case rulebook.CureAdded:
		return j.cureAdded(n, of)
	case rulebook.SaltAdded:
		return j.saltAdded(n)
	case rulebook.ByDrying:
		return j.byDrying()
	case rulebook.FermentedTo:
		return j.fermentedTo(n, of)
	case rulebook.FermentedToActivity:
		return j.wetterThen(n)
	}
	return notShown(0, "what it asks is not known here")
}

// bounded holds readings against a bound from above: the highest that any may be
// decides.
func bounded(n rulebook.Node, all readings, asks Measurements, name string, of func(float64) quantity.Measure) leaf {
	worst, whole, known := all.worst()
	if !known {
		if len(all) > 0 {
			return leaf{
				status: finding.NotShown, missing: asks, members: all.members(),
				reason: fmt.Sprintf("%s was only estimated, at %s, which shows nothing", name, all.text()),
			}
		}
		return notShown(asks, "%s was not measured", name)
	}
	l := leaf{status: hold(n.Comparator, worst.span, n.Limit.Value()), measured: worst.figure(of), members: all.measured().members()}
	enough := n.Limit.Value() - (worst.high - worst.value)
	l.reason = fmt.Sprintf("%s %s; %s decides", name, all.measured().text(), worst.text())
	if len(all.measured()) == 1 {
		l.reason = name + " " + worst.text()
	}
	switch {
	case !whole && l.status != finding.NotMet:
		l.status, l.missing = finding.NotShown, asks
		l.reason += "; a piece was measured neither in its core nor as a mixed slice, and the core may be wetter and less sour than what was read"
	case l.status == finding.Near:
		l.reason += nearWords(n, worst.span)
		l.remedy = fmt.Sprintf("As read it is enough at %s.", of(enough))
		if worst.coarse {
			l.missing = asks
			l.remedy = "Read it with a meter, which is off by less. " + l.remedy
		}
	case l.status == finding.NotMet:
		l.remedy = fmt.Sprintf("As read it is enough at %s.", of(enough))
	}
	return l
}

// drier adds to what to do about a water activity at which loss it is reached, as
// far as the composition of the formula tells.
func (j *judge) drier(n rulebook.Node, l leaf) leaf {
	mix, ok := j.mix()
	if l.status != finding.NotMet && l.status != finding.Near || !ok {
		return l
	}
	aw, err := quantity.NewWaterActivity(n.Limit.Value())
	if err != nil {
		return l
	}
	if loss, err := mix.LossAt(aw); err == nil {
		l.remedy += fmt.Sprintf(" By the composition of the formula that is at a loss of about %.3g percent; only a meter tells.", loss.Percent())
	}
	return l
}

// boundedBelow is bounded for a bound from below: the lowest that any may be
// decides.
func boundedBelow(n rulebook.Node, all readings, asks Measurements, name string, of func(float64) quantity.Measure) leaf {
	lowest, found := reading{}, false
	whole := true
	for _, r := range all.measured() {
		if !found || r.low < lowest.low {
			lowest, found = r, true
		}
		whole = whole && r.place.whole()
	}
	if !found {
		return notShown(asks, "%s was not measured", name)
	}
	l := leaf{
		status: hold(n.Comparator, lowest.span, n.Limit.Value()), measured: lowest.figure(of), members: all.measured().members(),
		reason: name + " " + lowest.text(),
	}
	switch {
	case !whole && l.status != finding.NotMet:
		l.status, l.missing = finding.NotShown, asks
		l.reason += "; a piece was measured neither in its core nor as a mixed slice"
	case l.status == finding.Near:
		l.reason += nearWords(n, lowest.span)
	}
	return l
}

func nearWords(n rulebook.Node, s span) string {
	if s.high == s.low {
		return "; that is exactly on a limit that must not be reached"
	}
	return fmt.Sprintf("; the limit %s lies within what the reading may be off", n.Limit)
}

// cure holds what is found of nitrite and nitrate by a rulebook.
func (j *judge) cure(of rulebook.Jurisdiction) leaf {
	if j.Formula == nil {
		return notShown(only(StateFormula), "the formula is not stated, so that no cure is shown")
	}
	status, nitrite, nitrate := finding.NotApplicable, false, false
	var reasons []string
	l := leaf{members: [][]string{{"formula", "additions"}}}
	for _, f := range j.check {
		kind, _, _ := strings.Cut(f.Code, "-")
		if f.Status == finding.Hazard && (kind == "nitrite" || kind == "nitrate" || f.Code == "nitrite-and-nitrate-hazard") {
			status = All(status, finding.NotMet)
			reasons = append(reasons, f.Reason)
			continue
		}
		if f.Rulebook != of.String() || f.Stage != finding.Formula || kind != "nitrite" && kind != "nitrate" || f.Status == finding.NotApplicable {
			continue
		}
		row, _ := rulebook.LimitByID(f.LimitID)
		conditional := row.Applies.OnlyKeepRefrigerated || row.Applies.OnlyNamedProduct != ""
		if f.Status == finding.NotShown && conditional || row.Applies.OnlyKeepRefrigerated {
			continue // a rule for another label, or another name
		}
		status = All(status, f.Status)
		goesIn := !f.Measured.IsZero() && f.Measured.Value.Value() > 0
		nitrite = nitrite || goesIn && f.Measured.Basis.Agent != rulebook.Nitrate.String()
		nitrate = nitrate || goesIn && f.Measured.Basis.Agent == rulebook.Nitrate.String()
		if f.Status == finding.Met || f.Status.NeedsAttention() || f.Status == finding.NotShown {
			reasons = append(reasons, f.Reason)
		}
		if l.measured.IsZero() || f.Status.NeedsAttention() {
			l.measured = f.Measured
		}
	}
	l.status, l.reason = status, strings.Join(reasons, "; ")
	switch {
	case status == finding.NotApplicable:
		l.status, l.reason = j.noCure()
	case nitrite || status == finding.NotMet:
	case nitrate:
		l = j.reduced(l)
	default:
		l.status, l.reason = finding.NotMet, "neither nitrite nor nitrate goes in"
	}
	return l
}

// noCure says why no row on nitrite or nitrate asks anything.
func (j *judge) noCure() (finding.Status, string) {
	i := slices.IndexFunc(j.check, func(f finding.Finding) bool { return f.Code == "cure-present" })
	if i >= 0 && j.check[i].Status == finding.NotShown {
		return finding.NotShown, j.check[i].Reason
	}
	return finding.NotMet, "neither nitrite nor nitrate goes in"
}

// reduced judges that nitrate, the only cure, became nitrite: nitrite that is
// found in the product shows it.
func (j *judge) reduced(l leaf) leaf {
	if j.Residual != nil {
		off := float64(nitriteOff)
		if j.Residual.Off != nil {
			off = j.Residual.Off.MilligramsPerKilogram()
		}
		if j.Residual.Amount.MilligramsPerKilogram() > off {
			l.reason += fmt.Sprintf("; of the nitrate some became nitrite: %s were found in the product", j.Residual.Amount)
			l.members = append(l.members, []string{"residual_nitrite"})
			return l
		}
	}
	i := slices.IndexFunc(j.check, func(f finding.Finding) bool { return f.Code == "nitrate-reduction" })
	l.status = All(l.status, finding.NotShown)
	l.missing = only(MeasureResidualNitrite)
	l.reason += "; nitrate is the only cure, and that it became nitrite is not shown"
	if i >= 0 {
		l.status = All(l.status, j.check[i].Status)
		l.reason += ": " + j.check[i].Reason
	}
	return l
}

// salt holds the salt of the plan: the rule prints no figure for it, so that what
// the trade holds to, known from memory, may withhold and never pass.
func (j *judge) salt() leaf {
	if j.Formula == nil {
		return notShown(only(StateFormula), "the formula is not stated, so that no salt is shown")
	}
	amount := trichinae.SaltOf(j.sheet, trichinae.OfMeat)
	l := leaf{status: finding.Met, members: [][]string{{"formula", "additions"}}}
	l.measured = finding.Figure{Value: amount.Low.In(quantity.UnitPercent), Basis: finding.Basis{
		Agent: rulebook.Salt.String(), Species: rulebook.SodiumChloride.String(), Phase: rulebook.Ingoing.String(), Base: rulebook.MeatBlock.String(),
	}}
	if amount.Low != amount.High {
		l.measured.Range = quantity.Between[quantity.Measure]{Low: amount.Low.In(quantity.UnitPercent), High: amount.High.In(quantity.UnitPercent)}
	}
	if amount.Low.IsZero() {
		l.status, l.reason = finding.NotMet, "no salt goes in"
		return l
	}
	for _, f := range j.check {
		if f.Code == "salt-floor" && (f.Status == finding.NotMet || f.Status == finding.Near) {
			l.status, l.reason, l.remedy = f.Status, f.Reason, f.Remedy
			return l
		}
	}
	l.reason = fmt.Sprintf("%s of the meat; the rule prints no figure, and what the trade holds to does not withhold it", l.measured.Value)
	return l
}

// dealtWith is the summary of what is found on trichinae.
func (j *judge) dealtWith() leaf {
	if j.Formula == nil {
		return notShown(only(StateFormula)|only(StateTrichinae), "the formula is not stated, so that it is not known whether pork, horse or game is in it")
	}
	t := j.trichinae[0]
	l := leaf{status: t.Status, reason: t.Reason, remedy: t.Remedy, members: t.Members}
	if t.Status == finding.NotShown {
		l.missing = only(StateTrichinae)
	}
	return l
}

func (j *judge) smoked() leaf {
	switch {
	case j.Smoked != nil && *j.Smoked:
		return leaf{status: finding.Met, reason: "it was smoked", members: member("smoked")}
	case j.Smoked != nil:
		return leaf{status: finding.NotMet, reason: "it was not smoked", members: member("smoked")}
	case j.CarriedOut != nil && len(j.CarriedOut.Smoke) > 0:
		return leaf{status: finding.Met, reason: "it was smoked", members: member("carried_out", "smoke")}
	default:
		return notShown(only(StateSmoke), "whether it was smoked is not stated")
	}
}

func (j *judge) packed() leaf {
	is := func(b *bool) bool { return b != nil && *b }
	no := func(b *bool) bool { return b != nil && !*b }
	p := j.Packed
	intact := is(p.Intact) && !is(p.Sliced)
	switch {
	case is(p.Vacuum):
		return leaf{status: finding.Met, reason: "packed under vacuum", members: member("packaging", "vacuum")}
	case intact:
		return leaf{status: finding.Met, reason: "in its casing, uncut", members: member("packaging", "intact")}
	case no(p.Vacuum) && (no(p.Intact) || is(p.Sliced)):
		return leaf{status: finding.NotMet, reason: "neither in an intact casing nor under vacuum", members: member("packaging")}
	default:
		return notShown(only(StatePacking), "whether it is whole in its casing, or under vacuum, is not stated")
	}
}

// cureAdded holds what goes in of nitrite and nitrate against the amount that a
// tree asks.
func (j *judge) cureAdded(n rulebook.Node, of rulebook.Jurisdiction) leaf {
	if j.Formula == nil {
		return notShown(only(StateFormula), "the formula is not stated, so that no cure is shown")
	}
	i := slices.IndexFunc(j.check, func(f finding.Finding) bool {
		row, _ := rulebook.LimitByID(f.LimitID)
		return f.Rulebook == of.String() && row.Agent == rulebook.NitriteAndNitrate && row.Kind == rulebook.Floor && row.Phase == rulebook.Ingoing
	})
	l := leaf{members: [][]string{{"formula", "additions"}}}
	if i < 0 {
		l.status, l.reason = j.noCure()
		return l
	}
	f := j.check[i]
	l.measured, l.reason = f.Measured, f.Reason
	if f.Measured.IsZero() {
		l.status, l.reason = j.noCure()
		return l
	}
	s := span{f.Measured.Value.Value(), f.Measured.Value.Value(), f.Measured.Value.Value()}
	if !f.Measured.Range.High.IsZero() {
		s.low, s.high = f.Measured.Range.Low.Value(), f.Measured.Range.High.Value()
	}
	l.status = hold(n.Comparator, s, n.Limit.Value())
	return l
}

// saltAdded holds the salt against the amount that a tree asks, as a share of all
// that is mixed: the text is read in copies that do not say of what, and this
// share is the smaller.
func (j *judge) saltAdded(n rulebook.Node) leaf {
	if j.Formula == nil {
		return notShown(only(StateFormula), "the formula is not stated, so that no salt is shown")
	}
	amount := trichinae.SaltOf(j.sheet, trichinae.OfUnstuffed)
	s := span{amount.Low.Percent(), amount.Low.Percent(), amount.High.Percent()}
	l := leaf{status: hold(n.Comparator, s, n.Limit.Value()), measured: s.figure(percentMeasure), members: [][]string{{"formula", "additions"}}}
	l.measured.Basis = finding.Basis{
		Agent: rulebook.Salt.String(), Species: rulebook.SodiumChloride.String(), Phase: rulebook.Ingoing.String(), Base: rulebook.Batch.String(),
	}
	l.reason = fmt.Sprintf("%s of all that is mixed", l.measured.Value)
	return l
}

// byDrying holds the weights, of which each must have gone down: a piece that did
// not was not dried, whatever is stated.
func (j *judge) byDrying() leaf {
	for i, w := range j.Weights {
		if !w.Now.Plus(w.Division).Less(w.Green) {
			l := notShown(only(WeighPieces), "a piece weighs %s now and weighed %s green: that it was dried is not shown", w.Now, w.Green)
			l.members = member("weights", i)
			return l
		}
	}
	if len(j.Weights) > 0 {
		return leaf{status: finding.Met, reason: "every piece on the scale lost weight since it was stuffed", members: member("weights")}
	}
	if j.CarriedOut != nil && len(j.CarriedOut.Drying) > 0 {
		return leaf{status: finding.Met, reason: "it was dried", members: member("carried_out", "drying")}
	}
	return notShown(only(WeighPieces), "that it was dried is not stated, nor shown by its weight")
}

// wetterThen holds the water activity at the end of the fermentation. Where it was
// not read, what the finished lot still has may withhold: it only dried since.
func (j *judge) wetterThen(n rulebook.Node) leaf {
	then := bounded(n, j.activityThen, only(RecallActivity), "water activity at the end of the fermentation", activityMeasure)
	if len(j.activityThen) > 0 {
		return then
	}
	now := bounded(n, j.activity, 0, "water activity", activityMeasure)
	if now.status != finding.NotMet {
		return then
	}
	now.reason += "; it was not read at the end of the fermentation, and was no lower then"
	now.remedy = ""
	return now
}

func (j *judge) fermentedTo(n rulebook.Node, of rulebook.Jurisdiction) leaf {
	if len(j.acidThen) > 0 || j.Course == nil && j.Stated == nil {
		return bounded(n, j.acidThen, only(RecallPH), "pH at the end of the fermentation", phMeasure)
	}
	l := j.fermented[of].acid
	return l
}

// acidInTime is what is known of a fermentation: its degree-hours, and its acid.
type acidInTime struct {
	hours, acid leaf
	told        []finding.Finding
}

// both is a pH at or below 5.3, inside the limit.
func (a acidInTime) both() leaf {
	l := a.hours
	l.status = All(a.hours.status, a.acid.status)
	l.missing |= a.acid.missing
	if l.status != finding.NotShown {
		l.missing = 0
	}
	l.members = append(slices.Clone(l.members), a.acid.members...)
	switch {
	case a.hours.reason == a.acid.reason:
	case certainty(a.acid.status) < certainty(a.hours.status) || a.hours.status == finding.NotApplicable:
		l.reason, l.remedy, l.measured = a.acid.reason, a.acid.remedy, a.acid.measured
	}
	return l
}

// acidInTime holds the fermentation against the rule of a jurisdiction, or both
// rules where it has none.
func (o Order) acidInTime(of rulebook.Jurisdiction) (acidInTime, error) {
	switch {
	case o.Course != nil:
		c := *o.Course
		c.Rulebook = of
		e, err := fermentation.DegreeHours(c)
		if err != nil {
			return acidInTime{}, err
		}
		return courseOf(e), nil
	case o.Stated != nil:
		return o.Stated.held(of), nil
	}
	unknown := notShown(only(StateFermentation), "how warm the fermentation was, and when a pH of 5.3 was read, is not stated")
	return acidInTime{hours: unknown, acid: unknown}, nil
}

// courseOf takes from a course what decides.
func courseOf(e fermentation.Exposure) acidInTime {
	var a acidInTime
	counting := map[string]bool{}
	for _, s := range e.Counting() {
		counting[s.Set.ID] = true
	}
	first := true
	for _, f := range e.Findings {
		if f.Code == fermentation.CodeDegreeHours && !counting[f.LimitID] {
			continue
		}
		f.Members = under("fermentation", f.Members)
		a.told = append(a.told, f)
		l := leaf{status: f.Status, reason: f.Reason, remedy: f.Remedy, measured: f.Measured, members: f.Members}
		if f.Status == finding.NotShown {
			l.missing = only(StateFermentation)
		}
		switch {
		case f.Code == fermentation.CodeAcid:
			a.acid = l
		case first || All(a.hours.status, l.status) != a.hours.status:
			a.hours, first = l, false
		}
	}
	return a
}

func under(first string, members [][]string) [][]string {
	all := make([][]string, 0, len(members))
	for _, m := range members {
		all = append(all, append([]string{first}, m...))
	}
	return all
}

// held holds a stated result against the rules: a sum in the scale of one rule
// says nothing of the other, whose base and classes do not convert.
func (s StatedFermentation) held(of rulebook.Jurisdiction) acidInTime {
	var a acidInTime
	at := member("stated_fermentation")
	off := phByMeter
	if s.Off != nil {
		off = s.Off.Float()
	}
	for _, set := range rulebook.DegreeHourSets() {
		if own, has := rulebook.DegreeHourSetFor(of); has && own.ID != set.ID {
			continue
		}
		if set.Scale != s.Scale {
			if _, has := rulebook.DegreeHourSetFor(of); has {
				a.hours = notShown(only(StateFermentation), "the degree-hours are stated by another rule, whose base and classes do not convert")
				a.told = append(a.told, finding.Finding{
					Code: fermentation.CodeDegreeHours, Rulebook: set.Jurisdiction.String(), LimitID: set.ID, Status: finding.NotShown, Stage: finding.Process,
					Authority: finding.Guidance, Subject: "degree-hours, as stated", Members: at, Source: set.Source, Reason: a.hours.reason, Remedy: StateFermentation.How(),
				})
			}
			continue
		}
		class := set.ClassOf(s.Highest)
		unit := set.Scale.DegreeHourUnit()
		sum, limit := s.DegreeHours.In(unit), class.Limit.In(unit)
		f := finding.Finding{
			Code: fermentation.CodeDegreeHours, Rulebook: set.Jurisdiction.String(), LimitID: set.ID, Stage: finding.Process, Authority: finding.Guidance,
			Subject: "degree-hours, as stated", Measured: finding.Figure{Value: sum}, Source: set.Source, Members: at,
			Limit:  finding.Limit{Comparator: set.Comparator.String(), Value: limit, Printed: class.Printed},
			Status: hold(set.Comparator, around(sum.Value(), 0), limit.Value()), Reason: fmt.Sprintf("%s, as it is stated, %s for the class of %s", sum, class.Printed, class.Highest),
		}
		if f.Status == finding.NotMet {
			f.Remedy = "Hold the lot and ask the authority; cooking does not undo it."
		}
		a.hours = leaf{status: f.Status, reason: f.Reason, remedy: f.Remedy, measured: f.Measured, members: at}
		a.told = append(a.told, f)
	}
	target := rulebook.DegreeHourSets()[0].TargetPH.Float()
	ph := around(s.PH.Float(), off)
	a.acid = leaf{status: hold(rulebook.AtMost, ph, target), reason: fmt.Sprintf("%s was read, as it is stated", s.PH), measured: ph.figure(phMeasure), members: at}
	if a.acid.status == finding.NotMet {
		a.acid.status, a.acid.missing = finding.NotShown, only(StateFermentation)
		a.acid.reason += ", which is not 5.3 or below"
	}
	f := finding.Finding{
		Code: fermentation.CodeAcid, Status: a.acid.status, Stage: finding.Process, Authority: finding.Guidance, Subject: "acid that stops Staphylococcus aureus",
		Measured: a.acid.measured, Limit: finding.Limit{Comparator: rulebook.AtMost.String(), Value: phMeasure(target), Printed: "pH 5.3"},
		Reason: a.acid.reason, Members: at, Source: rulebook.DegreeHourSets()[0].Source,
	}
	a.told = append(a.told, f)
	return a
}
