package api

import (
	"context"
	"slices"

	"greenweight/domain/acidity"
	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// acidCautions stand in every answer on acid.
var acidCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"How low the pH ends says nothing of when it gets there: that acid came in time is shown by a pH that was read, and by the degree-hours until then.",
	"Every figure here is computed of figures that nobody measured in this meat: read the pH.",
}

// EstimateAcid answers POST /v1/fermentation/acid.
func (h *handlers) EstimateAcid(_ context.Context, req openapi.EstimateAcidRequestObject) (openapi.EstimateAcidResponseObject, error) {
	order, err := h.readAcidOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	answer, err := acidity.Estimate(order)
	if err != nil {
		return nil, placesOf(*req.Body).onWire(err)
	}
	return openapi.EstimateAcid200JSONResponse{Body: writeAcidAnswer(placesOf(*req.Body), answer, unitsOf(req.Params.Units))}, nil
}

func acidOrderRule(o openapi.AcidOrder, add report) {
	exactlyOne(add, map[string]bool{"formula": o.Formula != nil, "mixture": o.Mixture != nil}, "formula or mixture")
	if o.UncertaintyPh != nil && o.StartPh == nil {
		add("uncertainty_ph", ruleAdditional, "goes only with start_ph, which it is of")
	}
}

func acidMixtureRule(m openapi.AcidMixture, add report) {
	exactlyOne(add, map[string]bool{"lean_percent": m.LeanPercent != nil, "fat_percent": m.FatPercent != nil}, "lean_percent or fat_percent")
}

func cultureDoseRule(o openapi.CultureDoseOrder, add report) {
	count := 0
	for _, given := range []bool{o.Amount != nil, o.Spoons != nil, o.DoseGPerKg != nil, o.TargetCFUPerG != nil} {
		if given {
			count++
		}
	}
	if count > 1 {
		add("", ruleOneOf, "has more than one of amount, spoons, dose_g_per_kg and target_cfu_per_g")
	}
	if o.TargetCFUPerG != nil && o.ActivityCFUPerG == nil {
		add("activity_cfu_per_g", ruleRequired, "is missing; a target in cells takes the cells in a gram of the culture")
	}
}

func (h *handlers) readAcidOrder(w openapi.AcidOrder) (acidity.Order, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	var order acidity.Order
	switch {
	case w.Formula != nil:
		order.Formula = readFormula(&bad, *w.Formula)
	case w.Mixture != nil:
		order.Formula, order.Culture = readMixture(&bad, fault.At("mixture"), *w.Mixture)
	}
	if w.Meat != nil {
		order.Meat = readMass(&bad, fault.At("meat"), *w.Meat)
	}
	if w.StartPh != nil {
		off := 0.0
		if w.UncertaintyPh != nil {
			off = *w.UncertaintyPh
		}
		low, err := quantity.NewPH(*w.StartPh - off)
		bad.AddError(fault.At("start_ph"), codeInvalidValue, err)
		high, err := quantity.NewPH(*w.StartPh + off)
		bad.AddError(fault.At("start_ph"), codeInvalidValue, err)
		order.Start = &quantity.Between[quantity.PH]{Low: low, High: high}
	}
	if w.WantedPh != nil {
		wanted, err := quantity.NewPH(*w.WantedPh)
		bad.AddError(fault.At("wanted_ph"), codeInvalidValue, err)
		order.Wanted = &wanted
	}
	return order, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

// readMixture makes a formula of the few figures of a mixture: one meat of that
// lean, and the sugars; and the species of its culture.
func readMixture(bad *fault.Collector, path fault.Path, w openapi.AcidMixture) (formula.Formula, *[]rulebook.CultureSpecies) {
	meat := material.Material{Key: "meat", Description: "Meat", Group: material.PorkMeat, Species: material.NoSpecies}
	switch {
	case w.LeanPercent != nil:
		lean, err := quantity.Percent(*w.LeanPercent)
		bad.AddError(below(path, "lean_percent"), codeInvalidValue, err)
		meat.Composition.Fat = material.Is(lean.Complement())
	case w.FatPercent != nil:
		fat, err := quantity.Percent(*w.FatPercent)
		bad.AddError(below(path, "fat_percent"), codeInvalidValue, err)
		meat.Composition.Fat = material.Is(fat)
	}
	whole, err := quantity.Percent(100)
	bad.AddError(path, codeInvalidValue, err)
	f := formula.Formula{
		Name: "Mixture", Product: rulebook.DrySausage,
		Parts: []formula.Part{{Name: meat.Description, Material: meat, Share: whole}},
	}
	for i, s := range w.Sugars {
		at := fault.At("sugars", i).Under(path)
		m := readMaterial(bad, below(at, "material"), s.Material)
		if m == nil {
			continue
		}
		if sugars := m.Composition.Sugars.Or(quantity.Fraction{}); sugars.IsZero() {
			bad.Add(below(at, "material"), "wrong-role", "%q brings no sugar that is known", m.Key)
		}
		f.Additions = append(f.Additions, formula.Addition{
			Name: m.Description, Role: formula.Sugar, Material: m, Rate: readRate(bad, below(at, "rate"), s.Rate),
		})
	}
	species := make([]rulebook.CultureSpecies, 0, len(w.Species))
	for _, key := range w.Species {
		if s, ok := rulebook.CultureByKey(string(key)); ok {
			species = append(species, s)
		}
	}
	return f, &species
}

// places names members as in the question: those of a mixture are not those of
// the formula that is made of it.
type places struct{ mixture bool }

func placesOf(w openapi.AcidOrder) places { return places{mixture: w.Mixture != nil} }

// member returns the path of a member of the question, from one of the order of
// the domain down.
func (p places) member(path fault.Path) fault.Path {
	const first, second = 0, 1
	switch {
	case len(path) > 0 && path[first] == "amount":
		return fault.At("meat")
	case !p.mixture || len(path) <= second || path[first] != "formula":
		return path
	case path[second] == "additions":
		return slices.Concat(fault.At("mixture", "sugars"), path[second+1:])
	default:
		return fault.At("mixture")
	}
}

func (p places) pointer(path []string) openapi.Pointer {
	return p.member(fault.Path(path).Under(fault.At("formula"))).Pointer()
}

// onWire returns a fault of the domain with its members named as in the
// question.
func (p places) onWire(err error) error {
	return renamed(err, p.member)
}

func writeAcidAnswer(at places, a acidity.Answer, u units) openapi.AcidAnswer {
	w := openapi.AcidAnswer{
		RulebookVersion: rulebook.Version(), Meat: u.mass(a.Meat), Batch: u.mass(a.Batch), LeanPercent: shown(a.Lean.Percent()),
		Start: writePHRange(a.Start), StartRead: a.StartRead, MakesAcid: openapi.AcidAnswerMakesAcid(a.Sours.String()),
		Sugars: make([]openapi.AcidSugar, 0, len(a.Sugars)),
		LacticAcid: openapi.LacticAcid{
			OnMeat: writeAcid(a.Acid.OnMeat), OnLean: writeAcid(a.Acid.OnLean), OnBatch: writeAcid(a.Acid.OnBatch),
		},
		FinalPh:    openapi.FinalPH{Low: writeFinalEnd(a.Final.Low), High: writeFinalEnd(a.Final.High)},
		HandbookPh: writePHRange(a.Handbook), EitherRulePh: writePHRange(a.EitherRule()), Assumptions: writeAssumptions(a.By), Notes: writeNotes(a.Notes, at.pointer), Cautions: acidCautions,
	}
	for _, s := range a.Sugars {
		w.Sugars = append(w.Sugars, openapi.AcidSugar{
			Pointer: at.pointer(s.Member), Name: s.Name, Sugar: openapi.Sugar(s.Sugar.String()),
			LowGPerKg: shown(s.OnMeat.Low.GramsPerKilogram()), HighGPerKg: shown(s.OnMeat.High.GramsPerKilogram()),
			Acid: writeAcid(s.Acid), Slow: s.Slow,
		})
	}
	if a.Wanted != nil {
		w.Wanted = writeWanted(*a.Wanted, u)
	}
	return w
}

func writePHRange(r quantity.Between[quantity.PH]) openapi.PHRange {
	return openapi.PHRange{Low: shown(r.Low.Float()), High: shown(r.High.Float())}
}

func writeAcid(a quantity.Between[quantity.AcidContent]) openapi.AcidAmount {
	grams := func(of quantity.AcidContent) float64 {
		p, err := acidity.InGrams(of)
		if err != nil {
			return 0 // no acid of the contract is so much
		}
		return shown(p.GramsPerKilogram())
	}
	return openapi.AcidAmount{
		LowMmolPerKg: shown(a.Low.MillimolesPerKilogram()), HighMmolPerKg: shown(a.High.MillimolesPerKilogram()),
		LowGPerKg: grams(a.Low), HighGPerKg: grams(a.High),
	}
}

func writeFinalEnd(e acidity.End) openapi.FinalPHEnd {
	w := openapi.FinalPHEnd{
		Ph: shown(e.PH.Float()), LimitedBy: openapi.FinalPHEndLimitedBy(e.Limit.String()), Because: e.Because(), StartPh: shown(e.Start.Float()),
	}
	if e.Limit == acidity.SugarUsed || e.Limit == acidity.AcidStops {
		w.SugarGPerKg, w.OwnSugarGPerKg = pointerTo(shown(e.Sugar.GramsPerKilogram())), pointerTo(shown(e.OwnSugar.GramsPerKilogram()))
		w.EfficiencyPercent = pointerTo(shown(e.Efficiency.Percent()))
		w.BufferMmolPerKg = pointerTo(shown(e.Buffer.MillimolesPerKilogramPH()))
		w.UndissociatedPercent = pointerTo(shown(e.Undissociated.Percent()))
	}
	return w
}

func writeWanted(a acidity.Wanted, u units) *openapi.WantedAcid {
	w := &openapi.WantedAcid{Ph: shown(a.PH.Float()), Reach: openapi.WantedAcidReach(a.Reach.String()), Because: a.Because}
	if a.Reach != acidity.CanNot {
		from := acidity.Sources()
		w.ByStoichiometry = writeDextrose(a.Stoichiometry, u)
		w.ByStoichiometry.Source = writeCitation(from.Chemistry)
		w.ByHandbook = writeDextrose(a.Handbook, u)
		w.ByHandbook.Source = writeCitation(from.Handbook)
	}
	return w
}

func writeDextrose(d acidity.Dextrose, u units) *openapi.DextroseNeed {
	return &openapi.DextroseNeed{
		Least: openapi.DextroseAmount{OnMeatGPerKg: shown(d.OnMeat.Low.GramsPerKilogram()), Mass: u.mass(d.Mass.Low), Missing: u.mass(d.Missing.Low)},
		Most:  openapi.DextroseAmount{OnMeatGPerKg: shown(d.OnMeat.High.GramsPerKilogram()), Mass: u.mass(d.Mass.High), Missing: u.mass(d.Missing.High)},
	}
}

func writeAssumptions(a acidity.Assumptions) openapi.AcidAssumptions {
	from := acidity.Sources()
	return openapi.AcidAssumptions{
		Buffer: openapi.BufferAssumption{
			LowMmolPerKg: shown(a.Buffer.Low.MillimolesPerKilogramPH()), HighMmolPerKg: shown(a.Buffer.High.MillimolesPerKilogramPH()), Source: writeCitation(from.Buffer),
		},
		Efficiency: openapi.EfficiencyAssumption{
			LowPercent: shown(a.Efficiency.Low.Percent()), HighPercent: shown(a.Efficiency.High.Percent()), Source: writeCitation(from.Efficiency),
		},
		OwnSugar: openapi.OwnSugarAssumption{
			LowGPerKg: shown(a.OwnSugar.Low.GramsPerKilogram()), HighGPerKg: shown(a.OwnSugar.High.GramsPerKilogram()), Source: writeCitation(from.OwnSugar),
		},
		Stop:      openapi.PHAssumption{LowPh: a.Stop.Low.Float(), HighPh: a.Stop.High.Float(), Source: writeCitation(from.Stop)},
		RawMeat:   openapi.PHAssumption{LowPh: a.Start.Low.Float(), HighPh: a.Start.High.Float(), Source: writeCitation(from.Start)},
		Chemistry: writeCitation(from.Chemistry), Handbook: writeCitation(from.Handbook),
	}
}
