package api

import (
	"errors"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/go-playground/validator/v10"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// Codes of the rules between members; the others are the contract's own.
const (
	ruleRequired   = "required"
	ruleAdditional = "additional-member"
	ruleMaximum    = "maximum"
	ruleOneOf      = "oneOf"
	ruleAscending  = "ascending"
	ruleOutOfRange = "out-of-range"
	ruleDuplicate  = "duplicate"
	ruleEnum       = "enum"

	ruleOneCurrency = "one-currency"
)

// codeInvalidValue is the code of the fault that holds broken rules.
const codeInvalidValue = "invalid-value"

// memberRules holds the rules between the members of an order: those that the
// contract's language can't say, and that need nothing of the domain. It does
// not change after newMemberRules.
type memberRules struct{ validate *validator.Validate }

// newMemberRules returns the rules of the types of package openapi.
func newMemberRules() *memberRules {
	v := validator.New(validator.WithRequiredStructEnabled())
	v.RegisterTagNameFunc(func(field reflect.StructField) string {
		name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
		return name
	})
	// The generated types have no tags; this leads into the elements.
	v.RegisterStructValidationMapRules(map[string]string{"Batches": "dive"}, openapi.ShoppingOrder{})
	v.RegisterStructValidationMapRules(map[string]string{"Additions": "dive", "Parts": "dive"}, openapi.Formula{})
	v.RegisterStructValidationMapRules(map[string]string{"Freezing": "dive"}, openapi.Part{})
	v.RegisterStructValidationMapRules(map[string]string{"Freezing": "dive"}, openapi.Plan{})
	v.RegisterStructValidationMapRules(map[string]string{"Cuts": "dive", "Limits": "dive"}, openapi.BlendOrder{})
	v.RegisterStructValidationMapRules(map[string]string{"Sugars": "dive"}, openapi.AcidMixture{})
	v.RegisterStructValidationMapRules(map[string]string{"Places": "dive"}, openapi.AirOrder{})
	v.RegisterStructValidationMapRules(map[string]string{"Analyses": "dive"}, openapi.FinishOrder{})
	v.RegisterStructValidationMapRules(map[string]string{"Courses": "dive"}, openapi.DryingTrial{})
	v.RegisterStructValidationMapRules(map[string]string{"Pieces": "dive"}, openapi.TrialCourse{})
	rule(v, scaleOrderRule)
	rule(v, acidOrderRule)
	rule(v, acidMixtureRule)
	rule(v, cultureDoseRule)
	rule(v, checkOrderRule)
	rule(v, shoppingOrderRule)
	rule(v, casingsRule)
	rule(v, stuffingOrderRule)
	rule(v, densityRule)
	rule(v, amountRule)
	rule(v, additionRule)
	rule(v, cureChoiceRule)
	rule(v, rateRule)
	rule(v, plannedFreezingRule)
	rule(v, trichinaeRouteRule)
	rule(v, degreeHoursOrderRule)
	rule(v, acidProjectionOrderRule)
	rule(v, pathogenOrderRule)
	rule(v, pathogenReadingsRule)
	rule(v, finishOrderRule)
	rule(v, finishAnalysisRule)
	rule(v, statedFermentationRule)
	rule(v, finishStorageRule)
	rule(v, scheduleOrderRule)
	rule(v, blendOrderRule)
	rule(v, blendCutRule)
	rule(v, blendLimitRule)
	rule(v, airPlaceRule)
	rule(v, targetOrderRule)
	rule(v, dryDownOrderRule)
	rule(v, trialPieceRule)
	rule(v, lotOrderRule)
	rule(v, plannedEntryRule)
	rule(v, mixedEntryRule)
	rule(v, stuffedEntryRule)
	rule(v, hungEntryRule)
	rule(v, weighedEntryRule)
	rule(v, measuredEntryRule)
	rule(v, observedEntryRule)
	rule(v, notedEntryRule)
	rule(v, correctedEntryRule)
	rule(v, retractedEntryRule)
	rule(v, confirmedEntryRule)
	return &memberRules{v}
}

// check returns an Invalid [*fault.Error] with every rule that value, a struct
// of package openapi, breaks, or nil. Paths begin at value, by the names of the
// wire.
func (r *memberRules) check(value any) error {
	err := r.validate.Struct(value)
	if err == nil {
		return nil
	}
	var broken validator.ValidationErrors
	if !errors.As(err, &broken) {
		return err // value is no struct
	}
	var found fault.Collector
	for _, b := range broken {
		found.Add(memberPath(b.Namespace()), b.Tag(), "%s", b.Param())
	}
	return found.Err(codeInvalidValue, "members do not go together")
}

// memberPath turns the validator's Order.formula.additions[0].rate into a path
// without the name of the type. Names of the wire have neither dots nor
// brackets.
func memberPath(namespace string) fault.Path {
	_, members, _ := strings.Cut(namespace, ".")
	var path fault.Path
	for step := range strings.FieldsFuncSeq(members, func(r rune) bool { return r == '.' || r == '[' || r == ']' }) {
		path = append(path, step)
	}
	return path
}

// report reports a broken rule at a member of a value, which is named as on the
// wire; "" is the value itself. The detail continues the sentence that the
// pointer begins.
type report func(member, code, detail string)

// rule registers what holds between the members of a T.
func rule[T any](v *validator.Validate, check func(value T, add report)) {
	var zero T
	v.RegisterStructValidation(func(level validator.StructLevel) {
		value, ok := level.Current().Interface().(T)
		if !ok {
			return
		}
		check(value, func(member, code, detail string) {
			level.ReportError(nil, member, member, code, detail)
		})
	}, zero)
}

// keepsRules tells whether a formula keeps all that [memberRules.check] holds of
// it, in a fraction of the time; a test holds one against the other. It is for
// the many formulas of a collection, most of which keep them.
func keepsRules(f *openapi.Formula) bool {
	kept := true
	broken := func(string, string, string) { kept = false }
	for i := range f.Parts {
		for _, while := range f.Parts[i].Freezing {
			plannedFreezingRule(while, broken)
		}
	}
	for i := range f.Additions {
		a := &f.Additions[i]
		additionRule(*a, broken)
		rateRule(a.Rate, broken)
		if a.RehydrationWater != nil {
			rateRule(*a.RehydrationWater, broken)
		}
		if a.Cure != nil {
			cureChoiceRule(*a.Cure, broken)
		}
	}
	if f.Plan == nil {
		return kept
	}
	for _, while := range f.Plan.Freezing {
		plannedFreezingRule(while, broken)
	}
	if f.Plan.TrichinaeRoute != nil {
		trichinaeRouteRule(*f.Plan.TrichinaeRoute, broken)
	}
	return kept
}

// scaleOrderRule holds what goes with what in an order to scale.
func scaleOrderRule(order openapi.ScaleOrder, add report) {
	scalesRule(order.Scale, order.Scales, add)
	filled := order.Amount.Casings != nil
	if filled && order.Stuffing != nil {
		add("stuffing", ruleAdditional, noSecondStuffing)
	}
	if order.CasingPrice != nil && !filled && order.Stuffing == nil {
		add("casing_price", ruleAdditional, "goes only with stuffing, or with casings as the amount")
	}
	prices := make([]pricedMember, 0, len(order.Prices)+1)
	for i, p := range order.Prices {
		prices = append(prices, pricedMember{"prices[" + strconv.Itoa(i) + "].price.currency", p.Price.Currency})
	}
	if order.CasingPrice != nil {
		prices = append(prices, pricedMember{"casing_price.currency", order.CasingPrice.Currency})
	}
	currencyRule(prices, add)
}

func checkOrderRule(order openapi.CheckOrder, add report) { scalesRule(order.Scale, order.Scales, add) }

const noSecondStuffing = "does not go with casings as the amount, which say how it is stuffed"

// shoppingOrderRule holds what goes with what in an order for a shopping list.
func shoppingOrderRule(order openapi.ShoppingOrder, add report) {
	scalesRule(order.Scale, order.Scales, add)
	for i, b := range order.Batches {
		if b.Amount.Casings != nil && b.Stuffing != nil {
			add("batches["+strconv.Itoa(i)+"].stuffing", ruleAdditional, noSecondStuffing)
		}
	}
	var prices []pricedMember
	for i, k := range order.Stock {
		if k.Price != nil {
			prices = append(prices, pricedMember{"stock[" + strconv.Itoa(i) + "].price.currency", k.Price.Currency})
		}
	}
	currencyRule(prices, add)
}

// pricedMember is where the currency of a price stands, and what it is.
type pricedMember struct {
	member   string
	currency openapi.Currency
}

// currencyRule wants all prices in one currency: nothing is converted.
func currencyRule(prices []pricedMember, add report) {
	for _, p := range prices {
		if first := prices[0].currency; p.currency != first {
			add(p.member, ruleOneCurrency, "is "+p.currency+", but the first price is in "+first+", and nothing is converted")
		}
	}
}

func casingsRule(c openapi.CasingsToFill, add report) {
	exactlyOne(add, map[string]bool{"flat_width": c.FlatWidth != nil, "stuffed_diameter": c.StuffedDiameter != nil}, "flat_width or stuffed_diameter")
}

func stuffingOrderRule(o openapi.StuffingOrder, add report) {
	exactlyOne(add, map[string]bool{"flat_width": o.FlatWidth != nil, "stuffed_diameter": o.StuffedDiameter != nil}, "flat_width or stuffed_diameter")
	exactlyOne(add, map[string]bool{"cut_length": o.CutLength != nil, "piece_mass": o.PieceMass != nil}, "cut_length or piece_mass")
}

func densityRule(d openapi.DensityBounds, add report) {
	if d.HighKgPerM3 < d.LowKgPerM3 {
		add("high_kg_per_m3", ruleAscending, "is "+number(d.HighKgPerM3)+", but must be at least the "+number(d.LowKgPerM3)+" of the low end")
	}
}

// scalesRule wants one scale or several.
func scalesRule(scale *openapi.Scale, scales *openapi.Balances, add report) {
	if scale != nil {
		scaleRule("scale", *scale, add)
	}
	if scales == nil {
		return
	}
	if scale != nil {
		add("scales", ruleAdditional, "does not go with scale; give the one scale, or all of them")
	}
	names := map[string]bool{}
	for i, s := range *scales {
		member := "scales[" + strconv.Itoa(i) + "]."
		if names[s.Name] {
			add(member+"name", ruleDuplicate, "is the name of a scale before")
		}
		names[s.Name] = true
		scaleRule(member+"ranges", s.Ranges, add)
	}
}

// scaleRule wants the ranges of a scale to follow each other: each but the last
// ends somewhere, each ends above the one before.
func scaleRule(at string, ranges openapi.Scale, add report) {
	var before quantity.Mass
	for i, r := range ranges {
		member := at + "[" + strconv.Itoa(i) + "].up_to"
		if r.UpTo == nil {
			if i < len(ranges)-1 {
				add(member, ruleRequired, "is missing; only the last range of a scale may have no end")
			}
			continue
		}
		end, err := massOf(*r.UpTo)
		if err != nil {
			add(member, ruleMaximum, err.Error())
			continue
		}
		if i > 0 && !before.Less(end) {
			add(member, ruleAscending, "is "+end.String()+", but must be more than the "+before.String()+" of the range before")
		}
		before = end
	}
}

func amountRule(amount openapi.Amount, add report) {
	exactlyOne(add, map[string]bool{
		"meat": amount.Meat != nil, "batch": amount.Batch != nil, "finished": amount.Finished != nil,
		"on_hand": amount.OnHand != nil, "casings": amount.Casings != nil,
	}, "meat, batch, finished, on_hand and casings")
}

func cureChoiceRule(cure openapi.CureChoice, add report) {
	exactlyOne(add, map[string]bool{"key": cure.Key != nil, "assay": cure.Assay != nil}, "key or assay")
}

// exactlyOne wants one of the members to be given.
func exactlyOne(add report, given map[string]bool, names string) {
	count := 0
	for _, is := range given {
		if is {
			count++
		}
	}
	if count != 1 {
		add("", ruleOneOf, "has "+strconv.Itoa(count)+" of its members, but must have exactly one of "+names)
	}
}

// additionRule holds which members an addition has in its role.
func additionRule(a openapi.Addition, add report) {
	isCure := a.Role == openapi.RoleCure
	switch {
	case isCure && a.Cure == nil:
		add("cure", ruleRequired, "is missing; an addition of role cure says which cure it is")
	case !isCure && a.Cure != nil:
		add("cure", ruleAdditional, notFor("cure", a.Role))
	}
	if a.Role != openapi.RoleCulture {
		if a.Culture != nil {
			add("culture", ruleAdditional, notFor("culture", a.Role))
		}
		if a.RehydrationWater != nil {
			add("rehydration_water", ruleAdditional, notFor("culture", a.Role))
		}
	}
	switch a.Role {
	case openapi.RoleCure:
		if a.Material != nil {
			add("material", ruleAdditional, "is not for an addition of role cure, which names its cure instead")
		}
	case openapi.RoleSalt, openapi.RoleSugar, openapi.RoleAcidulant, openapi.RoleAccelerator, openapi.RoleLiquid:
		if a.Material == nil {
			add("material", ruleRequired, "is missing; an addition of role "+string(a.Role)+" names its material")
		}
	case openapi.RoleCulture, openapi.RoleSpice, openapi.RoleBinder, openapi.RoleOther:
		if a.Material == nil && a.Name == nil {
			add("name", ruleRequired, "is missing; an addition without a material needs a name")
		}
	}
}

func notFor(role string, seen openapi.Role) string {
	return "is only for an addition of role " + role + ", and this one is of role " + string(seen)
}

// rateRule holds what goes with the unit of a rate.
func rateRule(r openapi.Rate, add report) {
	whole, isShare := wholeOf(r.Unit)
	switch {
	case isShare && r.Per != nil:
		add("per", ruleAdditional, "does not go with "+string(r.Unit)+", which is a share of the base")
	case !isShare && r.Per == nil:
		add("per", ruleRequired, "is missing; "+string(r.Unit)+" needs the mass of meat that it is for")
	}
	if r.Base == nil {
		return
	}
	switch {
	case r.Per != nil || !isShare:
		add("base", ruleAdditional, "goes only with a share, and this rate is an amount for a mass of meat")
	case *r.Base == openapi.BaseBatch && r.Value > whole:
		add("value", ruleMaximum, "is "+number(r.Value)+" "+string(r.Unit)+" of the batch, but may be at most "+number(whole))
	}
}

// wholeOf returns what all of the base is in a unit, and whether the unit is a
// share at all.
func wholeOf(unit openapi.RateUnit) (whole float64, isShare bool) {
	switch unit {
	case openapi.RateUnitPercent:
		return 100, true
	case openapi.RateUnitGPerKg:
		return 1000, true
	case openapi.RateUnitMgPerKg:
		return 1_000_000, true
	case openapi.RateUnitKg, openapi.RateUnitG, openapi.RateUnitMg, openapi.RateUnitLb, openapi.RateUnitOz,
		openapi.RateUnitML, openapi.RateUnitL, openapi.RateUnitTsp, openapi.RateUnitTbsp, openapi.RateUnitCup, openapi.RateUnitFloz:
	}
	return 0, false
}

// plannedFreezingRule wants the time once.
func plannedFreezingRule(f openapi.PlannedFreezing, add report) {
	exactlyOne(add, map[string]bool{"days": f.Days != nil, "hours": f.Hours != nil}, "days or hours")
}

// trichinaeRouteRule holds which facts go with a route.
func trichinaeRouteRule(r openapi.TrichinaeRoute, add report) {
	byMethod := r.Route == openapi.TrichinaeRouteKindDryingMethod
	switch {
	case byMethod && r.Method == nil:
		add("method", ruleRequired, "is missing; the route drying-method says which method")
	case !byMethod && r.Method != nil:
		add("method", ruleAdditional, "is only for the route drying-method, and this one is "+string(r.Route))
	}
	if r.IssuedBy != nil && r.Certificate == nil {
		add("issued_by", ruleAdditional, "goes only with certificate")
	}
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// pathogenOrderRule asks for a question, and for the plan that a pH is of.
func pathogenOrderRule(order openapi.PathogenOrder, add report) {
	if order.Formula == nil && order.Measured == nil {
		add("", ruleRequired, "needs a formula, or what was measured, or both")
	}
	if order.FermentedTo != nil && order.Formula == nil {
		add("fermented_to", ruleAdditional, "goes only with a formula, whose plan it is of")
	}
	for i, key := range order.Rulebooks {
		if slices.Index(order.Rulebooks, key) < i {
			add("rulebooks["+strconv.Itoa(i)+"]", ruleDuplicate, "is asked for already")
		}
	}
}

// finishOrderRule wants rulebooks once each, the fermentation once, and with what
// was carried out the formula whose plan it is of.
func finishOrderRule(order openapi.FinishOrder, add report) {
	once(add, "rulebooks", order.Rulebooks, "is asked for already")
	if order.Fermentation != nil && order.StatedFermentation != nil {
		add("stated_fermentation", ruleOneOf, "and fermentation exclude each other: the result is computed from the course")
	}
	if order.CarriedOut != nil && order.Formula == nil {
		add("carried_out", ruleAdditional, "goes only with a formula, whose plan it is of")
	}
	const scale = "is scale, which measures nothing of this"
	for i, s := range order.WaterActivity {
		if s.Method == openapi.MethodScale {
			add("water_activity["+strconv.Itoa(i)+"].method", ruleEnum, scale)
		}
		instantRule(add, "water_activity["+strconv.Itoa(i)+"].at", s.At)
	}
	for i, s := range order.Ph {
		if s.Method == openapi.MethodScale {
			add("ph["+strconv.Itoa(i)+"].method", ruleEnum, scale)
		}
		instantRule(add, "ph["+strconv.Itoa(i)+"].at", s.At)
	}
	if p := order.Packaging; p != nil && given(p.Intact) && given(p.Sliced) {
		add("packaging.intact", ruleOneOf, "and sliced exclude each other")
	}
}

// finishAnalysisRule asks for a share, and keeps what it may be off by with it.
func finishAnalysisRule(a openapi.FinishAnalysis, add report) {
	shares := []struct {
		name       string
		value, off *float64
	}{
		{"moisture_percent", a.MoisturePercent, a.UncertaintyMoisturePercent},
		{"protein_percent", a.ProteinPercent, a.UncertaintyProteinPercent},
		{"salt_percent", a.SaltPercent, a.UncertaintySaltPercent},
		{"fat_percent", a.FatPercent, nil},
	}
	none, sum := true, 0.0
	for _, s := range shares {
		none = none && s.value == nil
		sum += given(s.value)
		if s.value == nil && s.off != nil {
			add("uncertainty_"+s.name, ruleAdditional, "goes only with "+s.name)
		}
	}
	const whole, rounding = 100, 2 // analyses of parts need not come to exactly one
	switch {
	case none:
		add("", ruleRequired, "needs moisture_percent, protein_percent, salt_percent or fat_percent")
	case sum > whole+rounding:
		add("", ruleMaximum, "has parts that come to "+number(sum)+" percent of the sample")
	}
}

func statedFermentationRule(s openapi.StatedFermentation, add report) {
	exactlyOne(add, map[string]bool{"degf_hours": s.DegfHours != nil, "degc_hours": s.DegcHours != nil}, "degf_hours or degc_hours")
}

func finishStorageRule(s openapi.FinishStorage, add report) {
	if s.TemperatureUncertainty != nil && s.Temperature == nil {
		add("temperature_uncertainty", ruleAdditional, "goes only with temperature")
	}
}

// pathogenReadingsRule asks for a reading, and keeps what it may be off by with
// it.
func pathogenReadingsRule(m openapi.PathogenReadings, add report) {
	if m.Ph == nil && m.WaterActivity == nil && m.Temperature == nil {
		add("", ruleRequired, "needs ph, water_activity or temperature")
	}
	for _, r := range []struct {
		member     string
		alone      bool
		isMeasured string
	}{
		{"uncertainty_ph", m.UncertaintyPh != nil && m.Ph == nil, "ph"},
		{"uncertainty_water_activity", m.UncertaintyWaterActivity != nil && m.WaterActivity == nil, "water_activity"},
		{"temperature_uncertainty", m.TemperatureUncertainty != nil && m.Temperature == nil, "temperature"},
	} {
		if r.alone {
			add(r.member, ruleAdditional, "goes only with "+r.isMeasured)
		}
	}
}

// degreeHoursOrderRule holds what goes with steps and what with a log.
func degreeHoursOrderRule(order openapi.DegreeHoursOrder, add report) {
	steps, log := len(order.Steps) > 0, len(order.Log) > 0
	exactlyOne(add, map[string]bool{"steps": steps, "log": log}, "steps or log")
	if order.BetweenReadings != nil && !log {
		add("between_readings", ruleAdditional, "goes only with a log")
	}
	if order.LongestGapHours != nil && !log {
		add("longest_gap_hours", ruleAdditional, "goes only with a log")
	}
	stated := func(member string, t *openapi.StatedTime) {
		if t == nil {
			return
		}
		instantRule(add, member+"at", t.At)
		if steps != log {
			timeRule(add, member+"after_hours", t.AfterHours != nil, steps, "steps, whose time counts from their start")
			timeRule(add, member+"at", t.At != nil, log, "a log, which has moments")
		}
	}
	stated("clock_start.", order.ClockStart)
	stated("stated_end.", order.StatedEnd)
	for i, r := range order.Log {
		instantRule(add, "log["+strconv.Itoa(i)+"].at", &r.At)
	}
	for i, r := range order.PHReadings {
		member := "ph_readings[" + strconv.Itoa(i) + "]."
		instantRule(add, member+"at", r.At)
		if steps == log {
			continue
		}
		timeRule(add, member+"after_hours", r.AfterHours != nil, steps, "steps, whose time counts from their start")
		timeRule(add, member+"at", r.At != nil, log, "a log, which has moments")
	}
}

func acidProjectionOrderRule(order openapi.AcidProjectionOrder, add report) {
	steps, log := len(order.Steps) > 0, len(order.Log) > 0
	if steps && log {
		add("log", ruleOneOf, "and steps exclude each other")
	}
	if !steps && !log && len(order.Ahead) == 0 {
		add("ahead", ruleRequired, "is missing; without steps or a log it says how warm the chamber is to be")
	}
	if order.BetweenReadings != nil && !log {
		add("between_readings", ruleAdditional, "goes only with a log")
	}
	for i, r := range order.Log {
		instantRule(add, "log["+strconv.Itoa(i)+"].at", &r.At)
	}
	for i, r := range order.PHReadings {
		member := "ph_readings[" + strconv.Itoa(i) + "]."
		instantRule(add, member+"at", r.At)
		if steps && log {
			continue
		}
		timeRule(add, member+"after_hours", r.AfterHours != nil, !log, "steps or a plan, whose time counts from their start")
		timeRule(add, member+"at", r.At != nil, log, "a log, which has moments")
	}
}

// scheduleOrderRule wants cultures and rulebooks once each.
func scheduleOrderRule(order openapi.ScheduleOrder, add report) {
	once(add, "cultures", order.Cultures, "is named already")
	once(add, "rulebooks", order.Rulebooks, "is asked for already")
}

// once wants each of some values once.
func once[T comparable](add report, member string, values []T, said string) {
	for i, v := range values {
		if slices.Index(values, v) < i {
			add(member+"["+strconv.Itoa(i)+"]", ruleDuplicate, said)
		}
	}
}

// timeRule wants a time, such as that of a pH, to be given as its temperatures are.
func timeRule(add report, member string, given, wanted bool, beside string) {
	switch {
	case given && !wanted:
		add(member, ruleAdditional, "goes only with "+beside)
	case !given && wanted:
		add(member, ruleRequired, "is missing; it goes with "+beside)
	}
}

func dryDownOrderRule(order openapi.DryDownOrder, add report) {
	instantRule(add, "stuffed_at", &order.StuffedAt)
	instantRule(add, "hung_at", order.HungAt)
	instantRule(add, "as_of_at", order.AsOfAt)
	for i, w := range order.WeighIns {
		instantRule(add, "weigh_ins["+strconv.Itoa(i)+"].at", &w.At)
	}
}

func trialPieceRule(piece openapi.TrialPiece, add report) {
	instantRule(add, "stuffed_at", &piece.StuffedAt)
	instantRule(add, "hung_at", piece.HungAt)
	for i, w := range piece.WeighIns {
		instantRule(add, "weigh_ins["+strconv.Itoa(i)+"].at", &w.At)
	}
}

func blendOrderRule(order openapi.BlendOrder, add report) { scalesRule(order.Scale, nil, add) }

func blendCutRule(cut openapi.BlendCut, add report) {
	if cut.Material == nil && cut.Name == nil {
		add("name", ruleRequired, "is missing; a cut without a material needs a name")
	}
}

// blendLimitRule holds which ends a limit has by what it is on.
func blendLimitRule(limit openapi.BlendLimit, add report) {
	isRatio, isSpecies := limit.Of == openapi.BlendSubjectWaterProteinRatio, limit.Of == openapi.BlendSubjectSpecies
	switch {
	case isSpecies && limit.Species == nil:
		add("species", ruleRequired, "is missing; a limit on a species names it")
	case !isSpecies && limit.Species != nil:
		add("species", ruleAdditional, "goes only with a limit on species")
	}
	count := 0
	for _, end := range []struct {
		member       string
		given, ratio bool
	}{
		{"min_percent", limit.MinPercent != nil, false}, {"max_percent", limit.MaxPercent != nil, false},
		{"exact_percent", limit.ExactPercent != nil, false}, {"min_ratio", limit.MinRatio != nil, true}, {"max_ratio", limit.MaxRatio != nil, true},
	} {
		switch {
		case !end.given:
		case end.ratio != isRatio:
			add(end.member, ruleAdditional, "does not go with a limit on "+string(limit.Of))
		default:
			count++
		}
	}
	if count == 0 {
		add("", ruleRequired, "limits nothing; it needs a min, a max or an exact figure that goes with "+string(limit.Of))
	}
	if limit.ExactPercent != nil && count > 1 {
		add("exact_percent", ruleAdditional, "does not go with another end")
	}
}

func lotOrderRule(o openapi.LotOrder, add report)         { instantRule(add, happenedAt, o.HappenedAt) }
func plannedEntryRule(e openapi.PlannedEntry, add report) { instantRule(add, happenedAt, e.HappenedAt) }
func mixedEntryRule(e openapi.MixedEntry, add report)     { instantRule(add, happenedAt, e.HappenedAt) }
func hungEntryRule(e openapi.HungEntry, add report)       { instantRule(add, happenedAt, e.HappenedAt) }
func observedEntryRule(e openapi.ObservedEntry, add report) {
	instantRule(add, happenedAt, e.HappenedAt)
}
func notedEntryRule(e openapi.NotedEntry, add report) { instantRule(add, happenedAt, e.HappenedAt) }
func correctedEntryRule(e openapi.CorrectedEntry, add report) {
	instantRule(add, happenedAt, e.HappenedAt)
}
func retractedEntryRule(e openapi.RetractedEntry, add report) {
	instantRule(add, happenedAt, e.HappenedAt)
}
func confirmedEntryRule(e openapi.ConfirmedEntry, add report) {
	instantRule(add, happenedAt, e.HappenedAt)
}

const (
	happenedAt   = "happened_at"
	calibratedAt = "calibrated_at"
)

func stuffedEntryRule(e openapi.StuffedEntry, add report) {
	instantRule(add, happenedAt, e.HappenedAt)
	for i, p := range e.Pieces {
		instantRule(add, "pieces["+strconv.Itoa(i)+"]."+calibratedAt, p.CalibratedAt)
	}
}

func weighedEntryRule(e openapi.WeighedEntry, add report) {
	instantRule(add, happenedAt, e.HappenedAt)
	instantRule(add, calibratedAt, e.CalibratedAt)
}

// measuredEntryRule wants something to be measured, and what is said of how
// well to stand beside it.
func measuredEntryRule(e openapi.MeasuredEntry, add report) {
	instantRule(add, happenedAt, e.HappenedAt)
	instantRule(add, calibratedAt, e.CalibratedAt)
	values := []struct {
		name  string
		given bool
		with  map[string]bool // what goes only with it, and whether it is given
	}{
		{"temperature", e.Temperature != nil, map[string]bool{
			"temperature_uncertainty": e.TemperatureUncertainty != nil, "temperature_division": e.TemperatureDivision != nil, "place": e.Place != nil,
		}},
		{"relative_humidity_percent", e.RelativeHumidityPercent != nil, map[string]bool{
			"humidity_uncertainty_percent": e.HumidityUncertaintyPercent != nil, "humidity_division_percent": e.HumidityDivisionPercent != nil,
		}},
		{"air_speed_m_per_s", e.AirSpeedMPerS != nil, nil},
		{"ph", e.Ph != nil, map[string]bool{"uncertainty_ph": e.UncertaintyPh != nil, "division_ph": e.DivisionPh != nil}},
		{"water_activity", e.WaterActivity != nil, map[string]bool{
			"uncertainty_water_activity": e.UncertaintyWaterActivity != nil, "division_water_activity": e.DivisionWaterActivity != nil,
		}},
	}
	names, measured := make([]string, 0, len(values)), false
	for _, v := range values {
		names = append(names, v.name)
		measured = measured || v.given
		for name, given := range v.with {
			if given && !v.given {
				add(name, ruleAdditional, "goes only with "+v.name)
			}
		}
	}
	if !measured {
		add("", ruleRequired, "measures nothing; it needs at least one of "+strings.Join(names, ", "))
	}
}

// instantRule wants a moment to be of our time: a slip in the year would
// otherwise put an answer beyond what a moment can be written in.
func instantRule(add report, member string, at *openapi.Instant) {
	const first, last = 1970, 2199
	if at == nil {
		return
	}
	if year := at.UTC().Year(); year < first || year > last {
		add(member, ruleOutOfRange, "is in the year "+strconv.Itoa(year)+", but must be from "+strconv.Itoa(first)+" to "+strconv.Itoa(last))
	}
}
