package api

import (
	"context"
	"math"

	"greenweight/domain/blend"
	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// blendCautions stand in every answer on a blend.
var blendCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"Figures of cuts are averages, and trim differs by 8 points of fat either way: what was measured, or the supplier states, wins.",
	"A blend says nothing of cure, salt or culture. They are dosed on the meat block as it is weighed, and checked anew when its parts change.",
}

// BlendParts answers POST /v1/formulas/blend.
func (h *handlers) BlendParts(_ context.Context, req openapi.BlendPartsRequestObject) (openapi.BlendPartsResponseObject, error) {
	order, err := h.readBlendOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	answer, err := blend.Solve(order)
	if err != nil {
		return nil, err
	}
	return openapi.BlendParts200JSONResponse{Body: writeBlendAnswer(*req.Body, answer, unitsOf(req.Params.Units))}, nil
}

func (h *handlers) readBlendOrder(w openapi.BlendOrder) (blend.Order, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	order := blend.Order{Scale: readScale(&bad, fault.At("scale"), w.Scale), Total: readKnownMass(&bad, fault.At("total"), w.Total)}
	for i, c := range w.Cuts {
		order.Cuts = append(order.Cuts, readBlendCut(&bad, fault.At("cuts", i), c))
	}
	for i, l := range w.Limits {
		order.Limits = append(order.Limits, readBlendLimit(&bad, fault.At("limits", i), l))
	}
	for _, s := range w.SpeciesOrder {
		order.SpeciesOrder = append(order.SpeciesOrder, readAnimal(&s))
	}
	if w.Objective != nil {
		order.Objective, _ = blend.ParseObjective(string(*w.Objective))
	}
	return order, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func readAnimal(w *openapi.Animal) material.Species {
	if w == nil {
		return 0
	}
	s, _ := material.ParseSpecies(string(*w))
	return s
}

func readBlendCut(bad *fault.Collector, path fault.Path, w openapi.BlendCut) blend.Cut {
	under := func(member string) fault.Path { return fault.At(member).Under(path) }
	part := func(member string, v *float64) material.Known[quantity.Fraction] {
		return readKnown(bad, under(member), quantity.Percent, v)
	}
	c := blend.Cut{
		Species: readAnimal(w.Species),
		Fat:     part("fat_percent", w.FatPercent), Moisture: part("moisture_percent", w.MoisturePercent),
		Protein:  part("protein_percent", w.ProteinPercent),
		OnHand:   readKnownMass(bad, under("on_hand"), w.OnHand),
		AtLeast:  readKnownMass(bad, under("at_least"), w.AtLeast),
		Fixed:    readKnownMass(bad, under("fixed"), w.Fixed),
		MinShare: part("min_share_percent", w.MinSharePercent), MaxShare: part("max_share_percent", w.MaxSharePercent),
		WishedShare: part("wished_share_percent", w.WishedSharePercent),
	}
	if w.Material != nil {
		c.Material = readMaterial(bad, under("material"), *w.Material)
	}
	if c.Material != nil {
		c.Name = c.Material.Description
		if !c.Material.Meat() {
			bad.Add(under("material"), "not-meat", "%q is not meat or fat: it belongs in the additions", *w.Material)
		}
	}
	if w.Name != nil {
		c.Name = *w.Name
	}
	if w.Price != nil {
		c.Price = readBlendPrice(bad, under("price"), *w.Price)
	}
	return c
}

func readBlendPrice(bad *fault.Collector, path fault.Path, w openapi.Price) material.Known[quantity.Price] {
	currency, _ := quantity.ParseCurrency(w.Currency)
	money, err := quantity.ParseMoney(w.Value, currency)
	bad.AddError(fault.At("value").Under(path), codeInvalidValue, err)
	at := fault.At("per").Under(path)
	price, err := money.Per(readMass(bad, at, w.Per))
	bad.AddError(at, codeInvalidValue, err)
	return material.Is(price)
}

func readBlendLimit(bad *fault.Collector, path fault.Path, w openapi.BlendLimit) blend.Limit {
	part := func(member string, v *float64) material.Known[quantity.Fraction] {
		return readKnown(bad, fault.At(member).Under(path), quantity.Percent, v)
	}
	ratio := func(member string, v *float64) material.Known[quantity.Ratio] {
		return readKnown(bad, fault.At(member).Under(path), quantity.NewRatio, v)
	}
	of, _ := blend.ParseSubject(string(w.Of))
	return blend.Limit{
		Of: of, Species: readAnimal(w.Species),
		Min: part("min_percent", w.MinPercent), Max: part("max_percent", w.MaxPercent), Exact: part("exact_percent", w.ExactPercent),
		MinRatio: ratio("min_ratio", w.MinRatio), MaxRatio: ratio("max_ratio", w.MaxRatio),
	}
}

func writeBlendAnswer(asked openapi.BlendOrder, a blend.Answer, u units) openapi.BlendAnswer {
	w := openapi.BlendAnswer{
		Objective: openapi.BlendObjective(a.Objective.String()), Unique: a.Unique, Total: u.mass(a.Total),
		Cuts: make([]openapi.BlendedCut, 0, len(a.Cuts)), Composition: writeBlendComposition(a.Composition),
		Price: u.knownPrice(a.Price), Cost: knownMoney(a.Cost), DeviationPercent: knownPercent(a.Deviation, quantity.Ratio.Percent),
		Binding: make([]openapi.BindingLimit, 0, len(a.Binding)), Parts: writeBlendParts(asked, a.Parts),
		Notes: writeNotes(a.Notes, pointerInBody), Cautions: blendCautions,
	}
	if a.Then != 0 {
		w.Then = pointerTo(openapi.BlendObjective(a.Then.String()))
	}
	for i, c := range a.Cuts {
		w.Cuts = append(w.Cuts, writeBlendedCut(asked, pointerInBody(fault.At("cuts", i)), c, u))
	}
	for _, b := range a.Binding {
		w.Binding = append(w.Binding, writeBinding(b, u))
	}
	if a.Square != nil {
		w.Square = &openapi.BlendSquare{FirstRatio: shown(a.Square.A.Float()), SecondRatio: shown(a.Square.B.Float())}
	}
	if a.Rounded != nil {
		w.Rounded = writeRounded(*a.Rounded, u)
	}
	return w
}

func writeBlendedCut(asked openapi.BlendOrder, pointer openapi.Pointer, c blend.Used, u units) openapi.BlendedCut {
	w := openapi.BlendedCut{
		Pointer: pointer, Name: c.Cut.Name, Mass: u.mass(c.Mass), SharePercent: shown(c.Share.Percent()), Cost: knownMoney(c.Cost),
		CheaperBy:  u.knownPrice(c.CheaperBy),
		FatPercent: knownFigure(c.Figures.Fat), MoisturePercent: knownFigure(c.Figures.Moisture), ProteinPercent: knownFigure(c.Figures.Protein),
		FiguresFrom: openapi.FigureOrigins{
			Fat: openapi.FigureOrigin(c.Figures.Fat.Origin.String()), Moisture: openapi.FigureOrigin(c.Figures.Moisture.Origin.String()),
			Protein: openapi.FigureOrigin(c.Figures.Protein.Origin.String()),
		},
	}
	if c.Cut.Material != nil {
		w.Material = pointerTo(c.Cut.Material.Key)
	}
	division, _ := c.Division.Get()
	if m, ok := c.OnScale.Get(); ok {
		unit := scaleUnit(askedRanges(asked.Scale, nil), division)
		if massIn(m, unit) > mostMass {
			unit = openapi.MassUnitKg // tonnes on a scale in milligrams
		}
		w.OnScale = &openapi.Mass{Value: significant(massIn(m, unit), scaleDigits), Unit: unit}
		w.Division = &openapi.Mass{Value: significant(massIn(division, unit), scaleDigits), Unit: unit}
	}
	return w
}

func knownFigure(f blend.Figure) *float64 { return knownPercent(f.Part, quantity.Fraction.Percent) }

// knownPercent writes what is known in percent.
func knownPercent[T any](v material.Known[T], percent func(T) float64) *float64 {
	q, ok := v.Get()
	if !ok {
		return nil
	}
	return pointerTo(shown(percent(q)))
}

func writeBlendComposition(c blend.Composition) openapi.BlendComposition {
	return openapi.BlendComposition{
		FatPercent: knownPercent(c.Fat, quantity.Fraction.Percent), MoisturePercent: knownPercent(c.Moisture, quantity.Fraction.Percent),
		ProteinPercent: knownPercent(c.Protein, quantity.Fraction.Percent), WaterProteinRatio: within(mostRatio, knownPercent(c.WaterProtein, quantity.Ratio.Float)),
	}
}

// The largest numbers that the contract shows of what a limit costs, and of
// water to protein; what is more is left out.
const (
	mostShown = 1e14
	mostRatio = 1e6
	mostMass  = 1e11 // in its unit
)

func writeBinding(b blend.Binding, u units) openapi.BindingLimit {
	w := openapi.BindingLimit{
		Pointer: pointerInBody(b.Member), Limit: b.Says, Step: openapi.LimitStep(b.Shadow.Step.String()), Price: u.knownPrice(b.Shadow.Price),
	}
	if m, ok := b.Shadow.Mass.Get(); ok {
		if d := u.difference(m); math.Abs(d.Value) <= mostMass {
			w.Mass = &d
		}
	}
	w.MassRatio = within(mostShown, knownPercent(b.Shadow.Times, quantity.Ratio.Float))
	w.DeviationPercent = within(mostShown, knownPercent(b.Shadow.Points, quantity.Ratio.Float))
	if u.us && w.DeviationPercent != nil && b.Shadow.Step == blend.OneOfAMass {
		w.DeviationPercent = within(mostShown, pointerTo(shown(*w.DeviationPercent*poundKilograms)))
	}
	return w
}

// within leaves out what is beyond the contract.
func within(most float64, v *float64) *float64 {
	if v == nil || math.Abs(*v) > most {
		return nil
	}
	return v
}

func writeRounded(r blend.Rounded, u units) *openapi.RoundedBlend {
	w := &openapi.RoundedBlend{Total: u.mass(r.Total), Composition: writeBlendComposition(r.Composition), Misses: make([]openapi.MissedLimit, 0, len(r.Misses))}
	for _, m := range r.Misses {
		w.Misses = append(w.Misses, openapi.MissedLimit{Pointer: pointerInBody(m.Member), Text: m.Says})
	}
	return w
}

// writeBlendParts writes the parts of a formula; none when there are more than a
// formula may have.
func writeBlendParts(asked openapi.BlendOrder, parts []formula.Part) []openapi.Part {
	const most = 40 // Formula.parts in the contract
	if len(parts) > most {
		return nil
	}
	named := map[string]bool{}
	for _, c := range asked.Cuts {
		if c.Name != nil {
			named[*c.Name] = true
		}
	}
	var w []openapi.Part
	for _, p := range parts {
		part := openapi.Part{Material: p.Material.Key, SharePercent: shown(p.Share.Percent())}
		if named[p.Name] {
			part.Name = pointerTo(p.Name)
		}
		w = append(w, part)
	}
	return w
}

func knownMoney(m material.Known[quantity.Money]) *openapi.Money {
	money, ok := m.Get()
	if !ok || math.Abs(money.Units()) > mostUnits {
		return nil
	}
	return &openapi.Money{Value: money.Decimal(money.Currency().Decimals()), Currency: money.Currency().String()}
}

const (
	mostUnits      = 1e38 // of a currency, that the contract has digits for
	moreDecimals   = 2    // of a price, more than its currency has
	poundKilograms = 0.45359237
)

// ofPrice returns the mass that a computed price is for.
func (u units) ofPrice() openapi.PositiveMass {
	if u.us {
		return openapi.PositiveMass{Value: 1, Unit: openapi.MassUnitLb}
	}
	return openapi.PositiveMass{Value: 1, Unit: openapi.MassUnitKg}
}

// knownPrice writes a price of a kilogram, or of a pound.
func (u units) knownPrice(p material.Known[quantity.Price]) *openapi.ComputedPrice {
	price, ok := p.Get()
	if !ok {
		return nil
	}
	per := u.ofPrice()
	mass, err := massOf(per)
	money := price.Of(mass)
	if err != nil || math.Abs(money.Units()) > mostUnits {
		return nil
	}
	c := money.Currency()
	return &openapi.ComputedPrice{Value: money.Decimal(c.Decimals() + moreDecimals), Currency: c.String(), Per: per}
}
