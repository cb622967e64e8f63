package api

import (
	"context"
	"slices"
	"strconv"
	"sync"
	"time"

	"github.com/oapi-codegen/runtime/types"

	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// These cautions stand in every answer that bears on safety.
const (
	notSafe    = "Nothing here says that food is safe to eat. A finding says that a limit is met, not met or not shown; what is missing shows nothing."
	localCodes = "Local codes and licensed practice decide, and a food-safety authority where the product is sold."
)

// formulaCautions stand in every answer on a formula.
var formulaCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"Nitrite and nitrate are poisons in small amounts: the assay on the label of the cure in hand decides the dose, weighed and not spooned, and kept away from what looks like it.",
	"What goes in is one part of it: acid in time, drying, temperature, trichinae and hygiene have to be shown too.",
}

// ScaleFormula answers POST /v1/formulas/scale.
func (h *handlers) ScaleFormula(_ context.Context, req openapi.ScaleFormulaRequestObject) (openapi.ScaleFormulaResponseObject, error) {
	order, err := h.readScaleOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	answer, err := order.scale()
	if err != nil {
		return nil, err
	}
	return openapi.ScaleFormula200JSONResponse{Body: writeScaleAnswer(*req.Body, answer, unitsOf(req.Params.Units))}, nil
}

// CheckFormula answers POST /v1/formulas/check.
func (h *handlers) CheckFormula(_ context.Context, req openapi.CheckFormulaRequestObject) (openapi.CheckFormulaResponseObject, error) {
	order, err := h.readCheckOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	answer, err := curing.Check(order)
	if err != nil {
		return nil, err
	}
	body := writeCheckAnswer(*req.Body, order, answer, unitsOf(req.Params.Units))
	if req.Params.Statuses != nil {
		body.Findings = ofStatuses(body.Findings, req.Params.Statuses)
	}
	return openapi.CheckFormula200JSONResponse{Body: body}, nil
}

// ofStatuses returns the findings of the statuses that are asked for.
func ofStatuses(findings []openapi.Finding, asked []openapi.FindingStatus) []openapi.Finding {
	return slices.DeleteFunc(findings, func(f openapi.Finding) bool { return !slices.Contains(asked, f.Status) })
}

func (h *handlers) readCheckOrder(w openapi.CheckOrder) (curing.Order, error) {
	var bad fault.Collector
	bad.AddError(nil, "invalid-value", h.rules.check(w))
	order := curing.Order{
		Scaling: formula.Order{
			Formula: readFormula(&bad, w.Formula), Scale: readScale(&bad, fault.At("scale"), w.Scale), Scales: readBalances(&bad, w.Scales),
		},
		Date: h.clock().UTC().Truncate(24 * time.Hour),
	}
	order.Scaling.Amount = readAmount(&bad, w.Amount, order.Scaling.Formula)
	if w.Date != nil {
		order.Date = w.Date.Time
	}
	for _, key := range w.Rulebooks {
		j, _ := rulebook.ParseJurisdiction(string(key))
		order.Rulebooks = append(order.Rulebooks, j)
	}
	return order, bad.Err("invalid-value", "the order has no meaning as it stands")
}

// readFormula reads the formula of an order.
func readFormula(bad *fault.Collector, w openapi.Formula) formula.Formula {
	return readFormulaAt(bad, fault.At("formula"), w)
}

// readFormulaAt reads a formula that stands at a path. Where the path is nil what
// is wrong with the formula is recorded without its place, and less work is done
// for one that is right.
func readFormulaAt(bad *fault.Collector, path fault.Path, w openapi.Formula) formula.Formula {
	return readFormulaInto(bad, path, w, nil, nil)
}

// readFormulaInto reads a formula into lists that are at hand.
func readFormulaInto(
	bad *fault.Collector, path fault.Path, w openapi.Formula, parts []formula.Part, additions []formula.Addition,
) formula.Formula {
	product, _ := rulebook.ParseClass(string(w.Product))
	f := formula.Formula{
		Name: w.Name, Product: product, HomeCure: w.HomeCure != nil && *w.HomeCure, Parts: parts[:0], Additions: additions[:0],
	}
	if w.TraditionalName != nil {
		f.Tradition, _ = rulebook.ParseTradition(string(*w.TraditionalName))
	}
	if w.Pickle != nil {
		f.Pickle = readPickle(bad, below(path, "pickle"), *w.Pickle)
	}
	for i, p := range w.Parts {
		f.Parts = append(f.Parts, readPart(bad, below(path, "parts", strconv.Itoa(i)), p))
	}
	for i, a := range w.Additions {
		f.Additions = append(f.Additions, readAddition(bad, below(path, "additions", strconv.Itoa(i)), a))
	}
	if w.Plan != nil {
		f.Plan = readPlan(bad, below(path, "plan"), *w.Plan)
	}
	return f
}

func readPickle(bad *fault.Collector, path fault.Path, w openapi.PickleFacts) *formula.Pickle {
	p := &formula.Pickle{}
	p.Method, _ = formula.ParsePickleMethod(string(w.Method))
	var err error
	if w.UptakePercent != nil {
		p.Uptake, err = quantity.Percent(*w.UptakePercent)
		bad.AddError(below(path, "uptake_percent"), "invalid-value", err)
	}
	if w.DensityKgPerM3 != nil {
		p.Density, err = quantity.GramsPerMillilitre(*w.DensityKgPerM3 / 1000)
		bad.AddError(below(path, "density_kg_per_m3"), "invalid-value", err)
	}
	return p
}

// below returns the path of a member; nil below nil.
func below(path fault.Path, steps ...string) fault.Path {
	if path == nil {
		return nil
	}
	return slices.Concat(path, steps)
}

func readPart(bad *fault.Collector, path fault.Path, w openapi.Part) formula.Part {
	m := readMaterial(bad, below(path, "material"), w.Material)
	if m != nil && !m.Meat() {
		bad.Add(below(path, "material"), "not-meat", "%q is not meat or fat: it belongs in the additions", w.Material)
	}
	share, err := quantity.Percent(w.SharePercent)
	bad.AddError(below(path, "share_percent"), "invalid-value", err)
	p := formula.Part{Share: share, SkinOn: w.SkinOn != nil && *w.SkinOn, SkinOpen: w.SkinOn == nil}
	if m != nil {
		p.Material, p.Name = *m, m.Description
	}
	if w.Name != nil {
		p.Name = *w.Name
	}
	p.Freezing = readFreezing(bad, below(path, "freezing"), w.Freezing)
	if w.Received != nil {
		p.Received = readReceipt(bad, below(path, "received"), *w.Received)
	}
	return p
}

// readMaterial looks a material up; what can't go into a formula is recorded and
// nil.
func readMaterial(bad *fault.Collector, path fault.Path, key string) *material.Material {
	m, ok := materials()[key]
	if !ok {
		bad.Add(path, "unknown-material", "%q is not a key of /v1/reference/materials", key)
		return nil
	}
	if !m.Ingredient() {
		bad.Add(path, "not-an-ingredient", "%q is a finished product to compare with, it can't go into a formula", key)
		return nil
	}
	return m
}

// materials are the materials by key. Formulas share them, and nobody changes
// them.
var materials = sync.OnceValue(func() map[string]*material.Material {
	all := material.All()
	byKey := make(map[string]*material.Material, len(all))
	for i := range all {
		byKey[all[i].Key] = &all[i]
	}
	return byKey
})

// cultureMaterial is what a culture counts as when its material is not named.
const cultureMaterial = "culture-carrier"

func readAddition(bad *fault.Collector, path fault.Path, w openapi.Addition) formula.Addition {
	role, _ := formula.ParseRole(string(w.Role))
	a := formula.Addition{Role: role, Rate: readRate(bad, below(path, "rate"), w.Rate)}
	at := below(path, "material")
	switch {
	case w.Material != nil:
		a.Material = readMaterial(bad, at, *w.Material)
	case role == formula.Culture:
		a.Material = readMaterial(bad, at, cultureMaterial)
	}
	if w.Cure != nil {
		a.Cure = readCure(bad, below(path, "cure"), w)
	}
	a.Name = nameOf(w, a)
	if a.Material != nil && a.Material.Meat() {
		bad.Add(at, "is-meat", "%q is meat or fat: it belongs in the parts, which are the base of the rates", *w.Material)
	}
	if a.Material != nil && a.Material.CuringSalt() {
		bad.Add(at, "is-cure", "%q is a curing salt: give it the role cure and say it in cure, so that it is counted", *w.Material)
	}
	checkRole(bad, at, a)
	a.BringsNone = w.BringsNone != nil && *w.BringsNone
	if w.Culture != nil {
		readCulture(bad, below(path, "culture"), *w.Culture, &a)
	}
	if w.RehydrationWater != nil {
		r := readRate(bad, below(path, "rehydration_water"), *w.RehydrationWater)
		a.RehydrationWater = &r
	}
	return a
}

// checkRole records a salt that is no salt and a sugar that is no sugar: what
// they bring would be counted, but not what the maker means.
func checkRole(bad *fault.Collector, at fault.Path, a formula.Addition) {
	const most = 0.5 // of its mass: a choice of this project, no salt or sugar of the table is near it
	if a.Material == nil {
		return
	}
	switch a.Role { //nolint:exhaustive // the others say nothing of what they bring
	case formula.Salt:
		if a.Material.AddedSalt().Float() < most {
			bad.Add(at, "wrong-role", "%q is not salt", a.Material.Key)
		}
	case formula.Sugar:
		sugars := a.Material.FermentableSugar().Or(quantity.Fraction{}).Float() + a.Material.Lactose().Or(quantity.Fraction{}).Float()
		if sugars < most {
			bad.Add(at, "wrong-role", "%q is not sugar", a.Material.Key)
		}
	}
}

// nameOf returns the maker's name for an addition, or what it is.
func nameOf(w openapi.Addition, a formula.Addition) string {
	switch {
	case w.Name != nil:
		return *w.Name
	case a.Cure != nil:
		return a.Cure.Name
	case a.Material != nil:
		return a.Material.Description
	default:
		return string(w.Role)
	}
}

func readCulture(bad *fault.Collector, path fault.Path, w openapi.CultureFacts, a *formula.Addition) {
	var err error
	if w.ActivityCFUPerG != nil {
		a.Activity, err = quantity.CFUPerGram(*w.ActivityCFUPerG)
		bad.AddError(below(path, "activity_cfu_per_g"), "invalid-value", err)
	}
	if w.LabelDoseGPerKg != nil {
		a.LabelDose, err = quantity.PartsPerMillion(*w.LabelDoseGPerKg * 1000)
		bad.AddError(below(path, "label_dose_g_per_kg"), "invalid-value", err)
	}
	for _, key := range w.Species {
		if s, ok := rulebook.CultureByKey(string(key)); ok {
			a.Species = append(a.Species, s)
		}
	}
}

func readCure(bad *fault.Collector, path fault.Path, w openapi.Addition) *rulebook.Cure {
	if w.Cure.Key != nil {
		c, ok := rulebook.CureByKey(*w.Cure.Key)
		if !ok {
			bad.Add(below(path, "key"), "unknown-cure", "%q is not a key of /v1/reference/cures; state the assay of its label instead", *w.Cure.Key)
			return nil
		}
		return &c
	}
	if w.Cure.Assay == nil {
		return nil // the rules of the members have said so
	}
	at := below(path, "assay")
	part := func(name string, percent *float64) quantity.Fraction {
		if percent == nil {
			return quantity.Fraction{}
		}
		f, err := quantity.Percent(*percent)
		bad.AddError(below(at, name), "invalid-value", err)
		return f
	}
	assay := w.Cure.Assay
	name := "Cure by assay"
	if w.Name != nil {
		name = *w.Name
	}
	c, err := rulebook.NewCure(name, rulebook.Assay{
		SodiumNitrite:    part("sodium_nitrite_percent", assay.SodiumNitritePercent),
		PotassiumNitrite: part("potassium_nitrite_percent", assay.PotassiumNitritePercent),
		SodiumNitrate:    part("sodium_nitrate_percent", assay.SodiumNitratePercent),
		PotassiumNitrate: part("potassium_nitrate_percent", assay.PotassiumNitratePercent),
		SodiumChloride:   part("salt_percent", assay.SaltPercent),
	})
	if bad.AddError(at, "invalid-value", err) {
		return nil
	}
	return &c
}

// sharePerUnit is what one of the share units is of its base.
var sharePerUnit = map[openapi.RateUnit]float64{
	openapi.RateUnitPercent: 1e-2, openapi.RateUnitGPerKg: 1e-3, openapi.RateUnitMgPerKg: 1e-6,
}

func readRate(bad *fault.Collector, path fault.Path, w openapi.Rate) formula.Rate {
	if share, ok := sharePerUnit[w.Unit]; ok {
		return readShare(bad, path, w, share)
	}
	if w.Per == nil {
		return formula.Rate{} // the rules of the members have said so
	}
	per := readMass(bad, below(path, "per"), *w.Per)
	var rate formula.Rate
	var err error
	if volume, ok := volumePerUnit[openapi.VolumeUnit(w.Unit)]; ok {
		v, wrong := volume(w.Value)
		bad.AddError(below(path, "value"), "invalid-value", wrong)
		rate, err = formula.VolumePer(v, per)
	} else {
		m := readMass(bad, path, openapi.PositiveMass{Value: w.Value, Unit: openapi.MassUnit(w.Unit)})
		rate, err = formula.MassPer(m, per)
	}
	bad.AddError(below(path, "per"), "minimum", err)
	return rate
}

func readShare(bad *fault.Collector, path fault.Path, w openapi.Rate, unit float64) formula.Rate {
	at := below(path, "value")
	if w.Base != nil && *w.Base == openapi.BaseBatch {
		f, err := quantity.NewFraction(w.Value * unit)
		bad.AddError(at, "maximum", err)
		return formula.ShareOfBatch(f)
	}
	r, err := quantity.NewRatio(w.Value * unit)
	bad.AddError(at, "invalid-value", err)
	return formula.ShareOfMeat(r)
}

// askedRate returns the rate of a line as the question gave it.
func askedRate(w openapi.Formula, l formula.Line) *openapi.Rate {
	for i, a := range w.Additions {
		at := fault.At("additions", i)
		if slices.Equal(l.Member, at) {
			return &a.Rate
		}
		if slices.Equal(l.Member, fault.At("rehydration_water").Under(at)) {
			return a.RehydrationWater
		}
	}
	return nil
}

// writeSpoons shows a spooned volume in the largest spoon of which it is at
// least one.
func writeSpoons(l formula.Line) *openapi.Volume {
	for _, unit := range []openapi.VolumeUnit{openapi.VolumeUnitCup, openapi.VolumeUnitTbsp} {
		if v := volumeIn(l.Spoons, unit); v >= 1 {
			return &openapi.Volume{Value: significant(v, spoonDigits), Unit: unit}
		}
	}
	return &openapi.Volume{Value: significant(l.Spoons.Teaspoons(), spoonDigits), Unit: openapi.VolumeUnitTsp}
}

func percentOf(part, whole quantity.Mass) float64 {
	r, err := part.Over(whole)
	if err != nil {
		return 0
	}
	return shown(r.Percent())
}

func writeCheckAnswer(asked openapi.CheckOrder, order curing.Order, a curing.Answer, u units) openapi.CheckAnswer {
	w := openapi.CheckAnswer{
		RulebookVersion: rulebook.Version(), Date: types.Date{Time: order.Date}, CheckedAs: openapi.CheckAnswerCheckedAsAsWeighed,
		Meat: u.mass(a.Meat), Batch: u.mass(a.Batch), Ingoing: writeFigures(a.Ingoing), Findings: writeFindings(a.Findings, pointerInFormula),
		Summary: writeSummary(finding.Summarise(a.Findings)), Remedies: make([]openapi.Remedy, 0, len(a.Remedies)), Notes: writeNotes(a.Notes, pointerInFormula),
		Cautions: formulaCautions,
	}
	if order.AsWritten() {
		w.CheckedAs = openapi.CheckAnswerCheckedAsAsWritten
	}
	for _, r := range a.Remedies {
		w.Remedies = append(w.Remedies, writeRemedy(asked, r, u))
	}
	return w
}

func writeSummary(s finding.Summary) []openapi.StatusCounts {
	counts := make([]openapi.StatusCounts, 0, len(s))
	for _, t := range s {
		counts = append(counts, openapi.StatusCounts{
			Rulebook: optional[openapi.RulebookKey](t.Rulebook), Stage: openapi.Stage(t.Stage.String()),
			Authority: openapi.Authority(t.Authority.String()),
			Met:       t.Of(finding.Met), Near: t.Of(finding.Near), NotMet: t.Of(finding.NotMet), NotShown: t.Of(finding.NotShown),
			NotApplicable: t.Of(finding.NotApplicable), Hazard: t.Of(finding.Hazard),
		})
	}
	return counts
}

func writeRemedy(asked openapi.CheckOrder, r curing.Remedy, u units) openapi.Remedy {
	w := openapi.Remedy{
		When: openapi.RemedyWhen(r.When.String()), Text: r.Text, Resolves: r.Resolves, Unresolved: r.Unresolved, Breaks: r.Breaks,
	}
	for _, j := range r.Rulebooks {
		w.Rulebooks = append(w.Rulebooks, openapi.RulebookKey(j.String()))
	}
	for _, c := range r.Changes {
		w.Changes = append(w.Changes, writeChange(asked, c, u))
	}
	for _, f := range r.Rechecked {
		w.Rechecked = append(w.Rechecked, openapi.Recheck{
			Code: f.Code, Rulebook: optional[openapi.RulebookKey](f.Rulebook), LimitID: optional[string](f.LimitID),
			Status: openapi.FindingStatus(f.Status.String()), Measured: pointerTo(writeFigure(f.Measured)),
		})
	}
	return w
}

func writeChange(asked openapi.CheckOrder, c curing.Change, u units) openapi.Change {
	unit := scaleUnit(askedRanges(asked.Scale, asked.Scales), c.Division)
	w := openapi.Change{
		Name: c.Name, From: u.mass(c.From), To: u.exactMass(c.To), Change: u.difference(c.To.Minus(c.From)),
		OnScale:  openapi.OnScale{Value: significant(massIn(c.OnScale, unit), scaleDigits), Unit: unit},
		Division: openapi.Mass{Value: significant(massIn(c.Division, unit), scaleDigits), Unit: unit},
	}
	if c.Member != nil {
		w.Pointer = pointerTo(pointerInFormula(c.Member))
	}
	if c.Spooned {
		w.Spooned = pointerTo(true)
	}
	return w
}
