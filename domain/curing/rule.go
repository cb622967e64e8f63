package curing

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// rule is a limit that a formula is held against: a row of a rulebook, or a
// guide value of the trade put into the form of a row.
type rule struct {
	row     rulebook.Limit
	code    string
	guide   string       // id of the guide value; empty for a row of a rulebook
	limit   quantity.PPM // what amounts are held against
	limited bool         // whether there is such an amount
	verify  string       // what must be verified before it is known that the row is for a product; nothing for most

	potassium     quantity.PPM           // what is printed for the potassium salt
	printsOther   bool                   // whether it is
	concentration quantity.Concentration // the limit of a row that counts by the volume of a pickle
	byVolume      bool                   // whether it is one

	replacers []*rule // those that take its place where they apply
}

// newRule returns the rule that a row makes.
func newRule(row rulebook.Limit, code, guide string) *rule {
	limit, ok := row.Value.PPM()
	r := &rule{row: row, code: code, guide: guide, limit: limit, limited: ok}
	r.potassium, r.printsOther = row.Potassium.PPM()
	r.concentration, r.byVolume = row.Concentration()
	r.limited = ok || r.byVolume
	switch named, process := row.Applies.OnlyNamedProduct, row.Applies.OnlyUnderProcessRules; {
	case named != "" && process != "":
		r.verify = fmt.Sprintf("it holds for %s, made under %s; whether this is one must be verified", named, process)
	case named+process != "":
		r.verify = fmt.Sprintf("it holds for %s; whether this is one must be verified", named+process)
	}
	return r
}

// ceiling reports whether the rule asks for less, or for none.
func (r *rule) ceiling() bool {
	return r.row.Comparator == rulebook.AtMost || r.row.Comparator == rulebook.Below || r.row.Kind == rulebook.Prohibited
}

// floor reports whether the rule asks for more.
func (r *rule) floor() bool {
	return r.row.Comparator == rulebook.AtLeast || r.row.Comparator == rulebook.Above
}

// required reports whether the rule asks for one amount, no more and no less.
func (r *rule) required() bool { return r.row.Kind == rulebook.Required }

// demand is what a rule asks of a sheet.
type demand struct {
	species rulebook.Species
	limit   quantity.PPM
	printed string
	missing string // what is not stated, without which it asks for no amount; nothing for most
}

// demand returns the amount that the rule asks for, as which species: of nitrite
// that is all potassium nitrite the figure that the row prints for that salt,
// never one recomputed; in a pickle what the row prints for a pump of 10 percent,
// at the pump of the formula.
func (r *rule) demand(s *formula.Sheet) demand {
	d := demand{species: r.row.Species, limit: r.limit, printed: r.row.Value.Printed}
	if r.printsOther && onlyPotassium(s) {
		d.species, d.limit, d.printed = rulebook.PotassiumNitrite, r.potassium, r.row.Potassium.Printed
	}
	if r.row.Base != rulebook.Pickle {
		return d
	}
	if s.Pickle == nil || s.Pickle.Uptake.IsZero() {
		d.missing = "the row is for a pickle at a pump of 10 percent, and the formula states no pump"
		return d
	}
	if r.byVolume {
		if s.Pickle.Density.IsZero() {
			d.missing = "the row counts by the volume of the pickle, whose density is not stated"
			return d
		}
		limit, err := r.concentration.In(s.Pickle.Density)
		if err != nil {
			d.missing = "the density of the pickle makes no amount of it"
			return d
		}
		d.limit = limit
	}
	k, err := quantity.NewRatio(printedPump / s.Pickle.Uptake.Float())
	if err == nil {
		d.limit, err = d.limit.Times(k)
	}
	if err != nil {
		d.missing = "the pump makes no amount of it"
	}
	d.printed += ", at a pump of 10 percent"
	return d
}

// onlyPotassium reports whether all nitrite of a sheet is that of potassium.
func onlyPotassium(s *formula.Sheet) bool {
	some := false
	for i := range s.Lines {
		if holds(&s.Lines[i], rulebook.CompoundNaNO2) {
			return false
		}
		some = some || holds(&s.Lines[i], rulebook.CompoundKNO2)
	}
	return some
}

// compare holds an amount of a sheet against what the rule asks for. See
// [compare]; a required amount is met when both ends come to the printed whole
// milligram, and near when no weight of the scale is nearer to it.
func (r *rule) compare(s *formula.Sheet, amount quantity.Between[quantity.PPM], limit quantity.PPM) (finding.Status, quantity.PPM) {
	switch {
	case r.row.Kind == rulebook.Prohibited:
		return compare(rulebook.AtMost, amount, limit)
	case !r.required():
		return compare(r.row.Comparator, amount, limit)
	}
	const printed = 0.5 // mg/kg: the figures are printed as whole ones
	wanted, low, high := limit.MilligramsPerKilogram(), amount.Low.MilligramsPerKilogram(), amount.High.MilligramsPerKilogram()
	step := high * coarsest(s, r.row.Agent)
	counts := amount.High
	if low < wanted && wanted-low > high-wanted {
		counts = amount.Low
	}
	return status(low >= wanted-printed && high < wanted+printed, high+step < wanted-printed || low-step > wanted+printed), counts
}

// coarsest returns one division of the scale as a part of what is weighed, of
// the line that brings an agent and is the coarsest.
func coarsest(s *formula.Sheet, agent rulebook.Agent) float64 {
	most := 0.0
	for i := range s.Lines {
		l := &s.Lines[i]
		if c, ok := contentOf(l, agent, rulebook.AsAdded); !ok || c.isZero() || l.Spooned() || l.OnScale().IsZero() {
			continue
		}
		most = max(most, l.Division.Grams()/l.OnScale().Grams())
	}
	return most
}

// ofCure reports whether the rule is about nitrite or nitrate.
func (r *rule) ofCure() bool { return ofCure(r.row.Agent) }

func ofCure(a rulebook.Agent) bool {
	return a == rulebook.Nitrite || a == rulebook.Nitrate || a == rulebook.NitriteAndNitrate
}

// kept reports whether a sheet keeps the rule, which must be one that is judged
// by an amount.
func (r *rule) kept(s formula.Sheet) bool {
	if !r.limited {
		return true
	}
	d := r.demand(&s)
	in, ok := IngoingOf(s, r.row.Agent, d.species, r.row.Base)
	if !ok || d.missing != "" {
		return true
	}
	status, _ := r.compare(&s, in.Amount, d.limit)
	return status == finding.Met
}

// keptAll reports whether a sheet keeps every rule.
func keptAll(s formula.Sheet, rules []*rule) bool {
	return !slices.ContainsFunc(rules, func(r *rule) bool { return !r.kept(s) })
}

// compare holds an amount against a limit: met when both ends keep it, not met
// when neither does, near when the limit lies between, or when the amount is
// exactly on a limit that must not be reached. It returns the end that counts.
func compare(c rulebook.Comparator, amount quantity.Between[quantity.PPM], limit quantity.PPM) (finding.Status, quantity.PPM) {
	low, high := amount.Low.Compare(limit), amount.High.Compare(limit)
	switch c {
	case rulebook.AtMost:
		return status(high <= 0, low > 0), amount.High
	case rulebook.Below:
		return status(high < 0, low > 0), amount.High
	case rulebook.AtLeast:
		return status(low >= 0, high < 0), amount.Low
	case rulebook.Above:
		return status(low > 0, high < 0), amount.Low
	case rulebook.Equal:
		return status(low == 0 && high == 0, low > 0 || high < 0), amount.High
	default:
		return finding.NotShown, amount.High
	}
}

func status(met, notMet bool) finding.Status {
	switch {
	case met:
		return finding.Met
	case notMet:
		return finding.NotMet
	default:
		return finding.Near
	}
}

// sentence is a reason that is put into words only when somebody reads it: of
// the many rules that a formula is held against most ask nothing of it.
type sentence struct {
	format string
	args   []any
}

func because(format string, args ...any) sentence { return sentence{format, args} }

// String puts it into words.
func (s sentence) String() string {
	if len(s.args) == 0 {
		return s.format
	}
	return fmt.Sprintf(s.format, s.args...)
}

// judgement is what a rule says of a sheet.
type judgement struct {
	rule    *rule
	status  finding.Status
	binding bool // the rule is judged by an amount, and is known to be for the product

	reason  sentence       // why; of an amount that was held against the limit, what withholds it
	held    bool           // whether an amount was held against the limit
	against finding.Status // what that found, before anything was withheld
	in      *Ingoing
	asks    demand       // what it was held against
	counts  quantity.PPM // the end of the amount that counts
	meant   bool         // the rule is known to be for the product, though the amount is not known
	members []fault.Path // what a condition is about
	remedy  string
}

// covers returns the agent whose dose the judgement shows to be allowed or not:
// that of a ceiling on what goes in, or of a required amount.
func (j *judgement) covers() agents {
	l := &j.rule.row
	if !j.binding && !j.meant || l.Phase != rulebook.Ingoing {
		return 0
	}
	switch l.Kind {
	case rulebook.Ceiling, rulebook.Required, rulebook.Prohibited:
		return 1 << l.Agent
	default:
		return 0
	}
}

// saltRules returns what the trade holds to for salt in raw sausage: the range
// for dry fermented sausage, and for what is dried less only the least.
func saltRules(product rulebook.Class) []*rule {
	ends, _ := rulebook.GuideByID("salt-range")
	least := ends
	if product != rulebook.DrySausage {
		least, _ = rulebook.GuideByID("salt-least")
	}
	row := func(g rulebook.Guide) rulebook.Limit {
		return rulebook.Limit{
			Subject: "salt on the meat, that of the cure counted", Agent: g.Agent, Species: g.Species, Phase: g.Phase, Base: g.Base,
			Unit: g.Unit, Source: g.Source,
		}
	}
	floor, ceiling := row(least), row(ends)
	floor.Kind, floor.Comparator, floor.Value = rulebook.Floor, rulebook.AtLeast, least.Low
	ceiling.Kind, ceiling.Comparator, ceiling.Value = rulebook.Ceiling, rulebook.AtMost, ends.High
	return []*rule{newRule(floor, "salt-floor", least.ID), newRule(ceiling, "salt-ceiling", ends.ID)}
}

// replaced returns the id of a row that applies and takes the place of a rule,
// or nothing.
func (q question) replaced(r *rule) string {
	for _, by := range r.replacers {
		if q.whyNot(&by.row) == "" && q.whyNotShown(by) == "" {
			return by.row.ID
		}
	}
	return ""
}

// judgeAll judges the rows of a rulebook.
func (q question) judgeAll(j rulebook.Jurisdiction) []judgement {
	rules := q.rules.of(j, q.formula.HomeCure)
	all := make([]judgement, 0, len(rules))
	for _, r := range rules {
		all = append(all, q.judge(r, q.replaced(r)))
	}
	return all
}

// judge says what a rule finds. replacedBy is the row that takes its place, or
// empty.
func (q question) judge(r *rule, replacedBy string) judgement {
	l := &r.row
	set := func(s finding.Status, reason sentence) judgement {
		return judgement{rule: r, status: s, reason: reason}
	}
	if why := q.whyNot(l); why != "" {
		return set(finding.NotApplicable, because(why))
	}
	if replacedBy != "" {
		return set(finding.NotApplicable, because("the row %s takes its place for this product", replacedBy))
	}
	switch {
	case l.Kind == rulebook.Floor && ofCure(l.Agent) && q.heated() && !q.has(rulebook.NitriteAndNitrate):
		return q.none(set(finding.NotApplicable, because("it is for cured products, and nothing that cures is added to this, which is heat-treated")))
	case l.Kind == rulebook.Absent && !q.has(rulebook.Nitrite):
		return set(finding.NotApplicable, because("no nitrite is added"))
	case l.Kind == rulebook.Absent:
		return set(finding.NotShown, because("the rulebook has no provision to hold the formula against: %s", l.Value.Printed))
	case l.Kind == rulebook.Condition:
		return q.none(q.condition(r))
	case l.Phase != rulebook.Ingoing && !q.hasFor(l):
		return q.none(set(finding.NotApplicable, because(q.noneAdded(l.Agent))))
	case stays(l):
		// What does not leave is computed by mass balance, below.
	case l.Phase != rulebook.Ingoing && q.whyNotShown(r) != "":
		return set(finding.NotShown, because("%s; and a formula does not show what is %s", q.whyNotShown(r), where(*l)))
	case l.Phase != rulebook.Ingoing:
		return set(finding.NotShown, because("a formula does not show what is %s; an analysis of the product has to: of %s, as %s, against %s %s",
			where(*l), l.Agent, speciesName(l.Species.String()), l.Comparator, l.Value.Printed))
	}
	asks := r.demand(&q.sheet)
	in, computed := q.ingoing(l.Agent, asks.species, l.Base)
	switch {
	case !computed && !q.has(l.Agent), computed && in.IsZero() && l.Kind == rulebook.Ceiling:
		return q.none(set(finding.NotApplicable, because(q.noneAdded(l.Agent))))
	case !computed:
		j := set(finding.NotShown, because(q.whyNoAmount(l)))
		j.meant = q.whyNotShown(r) == ""
		return j
	case !r.limited:
		return set(finding.NotShown, because("the row has no amount to hold the formula against: %s", l.Value.Printed))
	case asks.missing != "":
		j := set(finding.NotShown, because(asks.missing))
		j.meant = q.whyNotShown(r) == ""
		return j
	}
	return q.held(r, in, asks)
}

// stays reports whether a row about the finished product counts what does not
// leave a product by drying: then a mass balance shows it.
func stays(l *rulebook.Limit) bool {
	return l.Phase == rulebook.Finished && l.Agent == rulebook.Phosphates
}

// whyNoAmount says why a formula does not show an amount on the base of a row.
func (q question) whyNoAmount(l *rulebook.Limit) string {
	switch {
	case q.sheet.Pickle == nil && needsPickle(q.sheet.Product):
		return "the formula does not state how the pickle comes into the meat: say in pickle how much of it is pumped in or picked up, or that it is left until both are alike"
	case l.Base == rulebook.FinishedProduct && q.sheet.Loss == nil:
		return "it counts in the finished product, and no loss is planned; with one it follows by mass balance, since it does not leave"
	default:
		return fmt.Sprintf("the amount counts %s, which a formula does not show", where(*l))
	}
}

// noneAdded says that none of an agent goes in, and when that is so only because
// the scale can't weigh what the formula asks for.
func (q question) noneAdded(agent rulebook.Agent) string {
	if q.sums.lost && q.asked().has(agent) {
		return "none goes in: what the formula asks for rounds to nothing on this scale"
	}
	return "none is added"
}

// none withholds that none is added while nobody knows what an addition brings.
func (q question) none(j judgement) judgement {
	if unknown := q.unknown(); j.status == finding.NotApplicable && unknown != "" {
		j.status = finding.NotShown
		j.reason = because("none is counted; what %s brings is not known", unknown)
	}
	return j
}

// held holds a computed amount against the limit of a rule. What is met turns
// into not shown where the limit, the weight of a spoonful or what an addition
// brings is not known well enough to pass anything.
func (q question) held(r *rule, in *Ingoing, asks demand) judgement {
	j := judgement{rule: r, held: true, in: in, asks: asks}
	j.status, j.counts = r.compare(&q.sheet, in.Amount, asks.limit)
	if r.row.Kind == rulebook.Investigate && j.status == finding.NotMet {
		j.status = finding.Near // no ban: above it the maker has to find out why
	}
	j.against = j.status
	short := j.status != finding.Met && in.Amount.High.Less(asks.limit)
	unknown := q.unknown()
	withhold := func(reason sentence) judgement {
		j.status, j.reason = finding.NotShown, reason
		return j
	}
	if why := q.whyNotShown(r); why != "" {
		return withhold(because(why))
	}
	if unknown != "" && (r.floor() && j.status != finding.Met || r.required() && (short || j.status == finding.Near)) {
		return withhold(because("; but what %s brings is not known and not counted, so this shows nothing", unknown))
	}
	j.binding = true
	if r.row.Kind == rulebook.Prohibited && j.status != finding.Met {
		j.remedy = leaveNitrateOut
	}
	switch {
	case j.status != finding.Met:
		return j
	case r.row.Base == rulebook.SkinlessBelly && !r.floor() && q.skinDecides(r, in, asks):
		return withhold(because("; but whether the belly is weighed with its skin is not stated (skin_on), and with it the amount would be more: this shows nothing"))
	case stays(&r.row):
		return withhold(because("; but that is by mass balance at the planned loss, with what the formula adds and not what the meat has of itself, so this shows nothing"))
	case r.row.Source.Trust == source.Memory:
		return withhold(because(notVerified))
	case in.Recalled != "":
		return withhold(because("; but what a spoonful of %s weighs is known from memory only, so this shows nothing: weigh it", in.Recalled))
	case !r.floor() && unknown != "":
		return withhold(because("; but what %s brings is not known: name its material, or state that it brings none", unknown))
	default:
		return j
	}
}

// skinDecides reports whether a belly of which it is not stated that it has a
// skin would not keep the rule with one.
func (q question) skinDecides(r *rule, in *Ingoing, asks demand) bool {
	if !slices.ContainsFunc(q.formula.Parts, func(p formula.Part) bool { return p.SkinOpen && !p.Share.IsZero() }) {
		return false
	}
	more := in.Amount
	var errLow, errHigh error
	with := quantity.MustRatio(1 / skinless)
	more.Low, errLow = more.Low.Times(with)
	more.High, errHigh = more.High.Times(with)
	s, _ := r.compare(&q.sheet, more, asks.limit)
	return s != finding.Met || errLow != nil || errHigh != nil
}

// words puts judgements into words.
func (q question) words(judged []judgement) []finding.Finding {
	found := make([]finding.Finding, 0, len(judged)+1)
	for _, j := range judged {
		found = append(found, q.finding(&j))
	}
	return found
}

// finding puts a judgement into words.
func (q *question) finding(j *judgement) finding.Finding {
	l := &j.rule.row
	f := finding.Finding{
		Code: j.rule.code, GuideID: j.rule.guide, LimitID: l.ID, Status: j.status, Stage: stageOf(*l), Authority: j.rule.authority(),
		Subject: l.Subject, Source: l.Source, Reason: j.reason.String(), Remedy: j.remedy,
	}
	if j.rule.guide == "" {
		f.Rulebook = l.Jurisdiction.String()
	}
	if !j.held {
		if j.members != nil {
			f.Members = members(j.members)
		}
		return f
	}
	f.Measured, f.Limit = j.figures(&q.sheet)
	if !q.short {
		f.Also = others(forms(q.sheet, l.Agent, false), f.Measured.Basis)
	}
	f.Members = members(bringing(q.sheet, l.Agent))
	f.Reason = verdict(j.against, f.Measured, f.Limit)
	switch {
	case j.status == j.against:
	case !j.binding && !strings.HasPrefix(j.reason.format, ";"):
		f.Reason = fmt.Sprintf("%s. If it is: %s, which is %s", j.reason, f.Reason, j.against)
	default:
		f.Reason += j.reason.String()
	}
	return f
}

// figures returns the amount and what it was held against, in the unit that the
// row is printed in.
func (j *judgement) figures(s *formula.Sheet) (finding.Figure, finding.Limit) {
	l := &j.rule.row
	unit := quantity.UnitMilligramsPerKilogram
	if l.Unit == rulebook.PercentOfBase {
		unit = quantity.UnitPercent
	}
	measured := j.in.figure(j.counts, unit)
	measured.Basis.Phase = l.Phase.String()
	limit := finding.Limit{
		Comparator: l.Comparator.String(), Value: j.asks.limit.In(unit), Printed: j.asks.printed,
		Basis: finding.Basis{
			Agent: l.Agent.String(), Species: j.asks.species.String(), Phase: l.Phase.String(), Base: l.Base.String(),
		},
	}
	if j.rule.byVolume && s.Pickle != nil {
		by := func(p quantity.PPM) quantity.Measure { return s.Pickle.Density.Holding(p).Measure() }
		measured.Value, limit.Value = by(j.counts), by(j.asks.limit)
		if !measured.Range.High.IsZero() {
			measured.Range = quantity.Between[quantity.Measure]{Low: by(j.in.Amount.Low), High: by(j.in.Amount.High)}
		}
	}
	return measured, limit
}

// leaveNitrateOut is the remedy where a rulebook allows none.
const leaveNitrateOut = "Leave the nitrate out: use a cure that brings nitrite only."

// notVerified is why a rule known from memory passes nothing.
const notVerified = "; but the rule is known from memory only and not verified, so this shows nothing"

// unverified withholds what was met by a rule that is known from memory only.
func unverified(f finding.Finding, from source.Citation) finding.Finding {
	if f.Status == finding.Met && from.Trust == source.Memory {
		f.Status = finding.NotShown
		f.Reason += notVerified
	}
	return f
}

// unknown returns the name of an addition of which nothing is known but that
// name, and which may bring anything; or nothing.
func (q question) unknown() string { return q.sums.unknown }

// whyNot returns why a row asks nothing of the formula, or nothing when it
// does.
func (q question) whyNot(l *rulebook.Limit) string {
	switch {
	case l.Applies.OnlyWithoutNitrite && q.has(rulebook.Nitrite):
		return "it is for products made without added nitrite, and nitrite is added"
	case l.Applies.OnlyKeepRefrigerated && q.formula.Plan.LabelStorageIsKnown && !q.formula.Plan.KeepRefrigerated:
		return "it is for products whose label says to keep them refrigerated, and the plan says that it will not"
	case l.Agent == rulebook.Salt && l.Jurisdiction == 0 && !q.rawSausage():
		return "it is for raw sausage"
	case l.Kind == rulebook.Required && l.Agent == rulebook.AscorbateOrErythorbate && !q.has(rulebook.Nitrite):
		return "it goes with nitrite, and none is added"
	case q.formula.Tradition != 0:
		if names, is := l.ReservedFor(q.formula.Tradition); names && !is {
			return fmt.Sprintf("it is for %s, and the formula names another product", l.Applies.OnlyNamedProduct)
		}
		return ""
	default:
		return ""
	}
}

// rawSausage reports whether the product is chopped and raw, and held for days.
func (q question) rawSausage() bool {
	switch q.formula.Product {
	case rulebook.DrySausage, rulebook.SemiDrySausage, rulebook.SpreadableRawSausage:
		return true
	case rulebook.TraditionalProduct:
		return q.formula.Tradition.Sausage()
	default:
		return false
	}
}

// ripens returns why it is not known whether the plan is what a row asks of the
// process of the product it names, or nothing when it is.
func (q question) ripens(l *rulebook.Limit) string {
	asked := l.RipeningOf(q.formula.Tradition)
	if asked.Days == 0 && !asked.Another {
		return ""
	}
	planned, known := q.formula.Plan.Span()
	process := l.Applies.OnlyUnderProcessRules
	const day = 24 * time.Hour
	switch {
	case !known:
		return fmt.Sprintf("it asks for %s; the plan does not say how long the product ripens", process)
	case planned < time.Duration(asked.Days)*day:
		return fmt.Sprintf("it asks for %s; the plan has %.3g days in all", process, planned.Hours()/day.Hours())
	case asked.Another:
		return fmt.Sprintf("it asks for %s; the plan is long enough, but not all of that is in a formula", process)
	default:
		return ""
	}
}

// whyNotShown returns why it is not known whether a row asks anything of the
// formula, or nothing when it is known.
func (q question) whyNotShown(r *rule) string {
	if r.row.Applies.OnlyKeepRefrigerated && !q.formula.Plan.LabelStorageIsKnown && r.verify == "" {
		return "it holds for products whose label says to keep them refrigerated; the plan does not say whether this is one"
	}
	if r.verify == "" {
		return ""
	}
	if names, is := r.row.ReservedFor(q.formula.Tradition); names && is && q.formula.Product == rulebook.TraditionalProduct {
		return q.ripens(&r.row)
	}
	return r.verify
}

// heated reports whether the product is heat-treated.
func (q question) heated() bool {
	return q.formula.Product == rulebook.CookedSausage || q.formula.Product == rulebook.SterilisedSausage
}

// has reports whether any of an agent is added.
func (q question) has(agent rulebook.Agent) bool { return q.sums.goesIn.has(agent) }

// hasFor reports whether anything is added that can end as the agent of a row
// about the product: nitrate turns into nitrite there, and nitrite partly into
// nitrate.
func (q question) hasFor(l *rulebook.Limit) bool {
	if ofCure(l.Agent) {
		return q.has(rulebook.NitriteAndNitrate)
	}
	return q.has(l.Agent)
}

// condition judges the rows that have no amount: that nitrite comes only
// blended with salt, and that accelerators go with a cure.
func (q question) condition(r *rule) judgement {
	l, j := &r.row, judgement{rule: r}
	var kept bool
	switch {
	case !q.has(l.Agent):
		j.status, j.reason = finding.NotApplicable, because(q.noneAdded(l.Agent))
		return j
	case l.Phase == rulebook.PlacingOnMarket && l.Agent == rulebook.Nitrite:
		undiluted, saltless := undiluted(q.sheet), withoutSalt(q.sheet)
		kept, j.reason = len(undiluted) == 0, because("every cure of the formula is a blend with salt")
		switch {
		case !kept:
			j.members, j.reason = undiluted, because("a cure of the formula is undiluted nitrite; the rule: %s", l.Value.Printed)
			j.remedy = useABlend
		case len(saltless) > 0:
			j.members, j.status = saltless, finding.NotShown
			j.reason = because("the assay of a cure with nitrite names no salt, so that it is not shown to be a blend with salt; the rule: %s", l.Value.Printed)
			j.remedy = "State the salt of the cure in its assay, or " + strings.ToLower(useABlend[:1]) + useABlend[1:]
			return j
		}
	case l.Agent == rulebook.CureAccelerators:
		kept, j.reason = q.has(rulebook.NitriteAndNitrate), because("a cure is added too")
		if !kept {
			j.reason = because("no cure is added; the rule: %s", l.Value.Printed)
			j.remedy = "Leave the accelerator out, or add a cure within the rulebook."
		}
	default:
		j.status, j.reason = finding.NotShown, because("what it asks is not in a formula: %s", l.Value.Printed)
		return j
	}
	j.status = status(kept, !kept)
	// A mix of unknown content may be undiluted nitrite, or the cure that is
	// missed; what is seen to be there stays so whatever the mix brings.
	seen := kept == (l.Agent == rulebook.CureAccelerators)
	switch unknown := q.unknown(); {
	case !seen && unknown != "":
		j.status, j.remedy = finding.NotShown, ""
		j.reason = because("%s; but what %s brings is not known, so this shows nothing", j.reason, unknown)
	case j.status == finding.Met && l.Source.Trust == source.Memory:
		j.status, j.reason = finding.NotShown, because("%s"+notVerified, j.reason)
	}
	return j
}

// uncovered returns a finding for each additive that goes in and that the
// rulebook has no row for: nothing then shows that the dose is allowed.
func (q question) uncovered(j rulebook.Jurisdiction, covered agents) []finding.Finding {
	var found []finding.Finding
	add := func(code, what string, lines []fault.Path) {
		found = append(found, finding.Finding{
			Code: code, Rulebook: j.String(), Status: finding.NotShown, Stage: finding.Formula, Authority: finding.Law,
			Subject: "ingoing " + what, Members: members(lines),
			Reason: fmt.Sprintf("the rulebook %s as held here has no limit on ingoing %s that is known to be for this %s: nothing here shows that the dose is allowed",
				j, what, q.formula.Product),
			Source: source.Citation{Title: "The rows of this project's rulebook " + rulebook.Version(), Trust: source.Derived},
		})
	}
	for _, agent := range []rulebook.Agent{rulebook.Nitrite, rulebook.Nitrate} {
		if q.has(agent) && !covered.has(agent) && !covered.has(rulebook.NitriteAndNitrate) {
			add(agent.String()+"-ingoing-ceiling", agent.String(), bringing(q.sheet, agent))
		}
	}
	for i := range q.sheet.Lines {
		l := &q.sheet.Lines[i]
		if l.Addition == nil || l.Addition.Material == nil {
			continue
		}
		if agents := broughtBy(l) &^ (1 << rulebook.CureAccelerators); agents != 0 && agents&covered == 0 {
			add("additive-ingoing-ceiling", l.Addition.Material.Description, []fault.Path{l.Member})
		}
	}
	return found
}

// rulebook returns what a rulebook finds.
func (q question) rulebook(j rulebook.Jurisdiction) []finding.Finding {
	judged := q.judgeAll(j)
	var covered agents
	for _, x := range judged {
		covered |= x.covers()
	}
	found := append(q.words(judged), q.uncovered(j, covered)...)
	if f, ok := q.retail(j); ok {
		found = append(found, f)
	}
	return found
}

func verdict(s finding.Status, measured finding.Figure, limit finding.Limit) string {
	ends := ""
	if !measured.Range.High.IsZero() {
		ends = " (from " + measured.Range.Low.String() + " to " + measured.Range.High.String() + ")"
	}
	text := measured.Value.String() + ends + " of " + measured.Basis.Agent + " as " + speciesName(measured.Basis.Species) +
		" on the " + baseName(measured.Basis.Base) + ", against " + limit.Comparator + " " + limit.Value.String()
	if s == finding.Near {
		text += "; the limit lies inside what is known of the amount, or the amount exactly on it"
	}
	return text
}

func speciesName(species string) string {
	if species == rulebook.AsAdded.String() {
		return "weighed in"
	}
	return species
}

func baseName(base string) string {
	switch base {
	case rulebook.MeatBlock.String():
		return "meat block"
	case rulebook.SkinlessBelly.String():
		return "belly without its skin"
	case rulebook.FinishedProduct.String():
		return "finished product"
	case rulebook.WaterPhase.String():
		return "water phase"
	default:
		return base
	}
}

// codeOf names the rule of a row alike in every rulebook.
func codeOf(l rulebook.Limit) string {
	return l.Agent.String() + "-" + l.Phase.String() + "-" + l.Kind.String()
}

// authority returns whose rule it is.
func (r *rule) authority() finding.Authority {
	if r.guide != "" {
		return finding.Practice
	}
	return r.row.Authority()
}

func stageOf(l rulebook.Limit) finding.Stage {
	if l.Phase == rulebook.Ingoing || l.Phase == rulebook.PlacingOnMarket {
		return finding.Formula
	}
	return finding.Finish
}

// where says what an amount of a row counts in.
func where(l rulebook.Limit) string {
	switch l.Phase {
	case rulebook.Residual:
		return "left in the product"
	case rulebook.Finished:
		return "in the finished product"
	default:
		return "on the base " + l.Base.String()
	}
}
