package api

import (
	"cmp"
	"context"
	"slices"
	"time"

	"github.com/oapi-codegen/runtime/types"

	"greenweight/domain/acidification"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
	"greenweight/openapi"
)

// ListRulebooks answers GET /v1/reference/rulebooks.
func (h *handlers) ListRulebooks(_ context.Context, req openapi.ListRulebooksRequestObject) (openapi.ListRulebooksResponseObject, error) {
	body := openapi.Rulebooks{RulebookVersion: rulebook.Version(), Limits: []openapi.LimitRow{}, Guides: []openapi.GuideRow{}}
	for _, l := range rulebook.Limits() {
		if req.Params.Rulebook != nil && string(*req.Params.Rulebook) != l.Jurisdiction.String() ||
			req.Params.Date != nil && !l.On(req.Params.Date.Time) {
			continue
		}
		body.Limits = append(body.Limits, writeLimit(l))
	}
	slices.SortFunc(body.Limits, func(a, b openapi.LimitRow) int { return cmp.Compare(a.ID, b.ID) })
	for _, set := range rulebook.DegreeHourSets() {
		if req.Params.Rulebook == nil || string(*req.Params.Rulebook) == set.Jurisdiction.String() {
			body.DegreeHours = append(body.DegreeHours, writeDegreeHourSet(set))
		}
	}
	for _, g := range rulebook.Guides() {
		body.Guides = append(body.Guides, writeGuide(g))
	}
	for _, c := range rulebook.Calculations() {
		body.Calculations = append(body.Calculations, openapi.CalculationRow{
			ID: c.ID, Subject: c.Subject, Expression: c.Expression, Basis: optional[string](c.Basis), Source: writeCitation(c.Source),
			Note: optional[openapi.Text](c.Note),
		})
	}
	return openapi.ListRulebooks200JSONResponse{Body: body}, nil
}

func writeLimit(l rulebook.Limit) openapi.LimitRow {
	w := openapi.LimitRow{
		ID: l.ID, Rulebook: openapi.RulebookKey(l.Jurisdiction.String()), Authority: openapi.Authority(l.Authority().String()),
		Subject: l.Subject, Agent: openapi.Agent(l.Agent.String()), Species: openapi.Species(l.Species.String()),
		Phase: openapi.Phase(l.Phase.String()), Base: openapi.LimitBase(l.Base.String()), Kind: openapi.RowKind(l.Kind.String()),
		Comparator: openapi.Comparator(l.Comparator.String()), Unit: openapi.RowUnit(l.Unit.String()), Value: *writeValue(l.Value),
		Potassium: writeValue(l.Potassium), Replaces: optional[string](l.Replaces),
		OnlyNamedProduct:      optional[string](l.Applies.OnlyNamedProduct),
		OnlyUnderProcessRules: optional[string](l.Applies.OnlyUnderProcessRules),
		From:                  writeDay(l.From), Until: writeDay(l.Until), Source: writeCitation(l.Source), Note: optional[openapi.Text](l.Note),
	}
	if l.Applies.OnlyWithoutNitrite {
		w.OnlyWithoutNitrite = pointerTo(true)
	}
	if l.Applies.OnlyKeepRefrigerated {
		w.OnlyKeepRefrigerated = pointerTo(true)
	}
	for _, c := range l.Classes {
		w.Products = append(w.Products, openapi.ProductClass(c.String()))
	}
	return w
}

func writeDegreeHourSet(set rulebook.DegreeHourSet) openapi.DegreeHourRow {
	w := openapi.DegreeHourRow{
		ID: set.ID, Rulebook: openapi.RulebookKey(set.Jurisdiction.String()), Base: inScale(set.Scale, set.Base), TargetPh: set.TargetPH.Float(),
		Source: writeCitation(set.Source), Note: optional[openapi.Text](set.Note),
	}
	for _, c := range set.Classes {
		w.Classes = append(w.Classes, writeDegreeHourClass(set, c))
	}
	return w
}

func writeDay(t time.Time) *types.Date {
	if t.IsZero() {
		return nil
	}
	return &types.Date{Time: t}
}

// writeValue returns nil for a value that says nothing.
func writeValue(v rulebook.Value) *openapi.LimitValue {
	if v.IsZero() {
		return nil
	}
	w := &openapi.LimitValue{Printed: v.Printed}
	if v.Amount != nil {
		exact, _ := v.Amount.Float64()
		w.Exact, w.Fraction = &exact, pointerTo(v.Amount.RatString())
	}
	return w
}

func writeGuide(g rulebook.Guide) openapi.GuideRow {
	return openapi.GuideRow{
		ID: g.ID, Subject: g.Subject, Kind: openapi.RowKind(g.Kind.String()), Unit: openapi.RowUnit(g.Unit.String()),
		Agent: openapi.Agent(g.Agent.String()), Species: openapi.Species(g.Species.String()), Phase: openapi.Phase(g.Phase.String()),
		Base: openapi.LimitBase(g.Base.String()), Low: writeValue(g.Low), High: writeValue(g.High),
		Source: writeCitation(g.Source), Note: optional[openapi.Text](g.Note),
	}
}

// ListCures answers GET /v1/reference/cures.
func (h *handlers) ListCures(context.Context, openapi.ListCuresRequestObject) (openapi.ListCuresResponseObject, error) {
	body := openapi.Cures{RulebookVersion: rulebook.Version()}
	for _, c := range rulebook.Cures() {
		body.Cures = append(body.Cures, writeCure(c))
	}
	slices.SortFunc(body.Cures, func(a, b openapi.Cure) int { return cmp.Compare(a.Key, b.Key) })
	return openapi.ListCures200JSONResponse{Body: body}, nil
}

func writeCure(c rulebook.Cure) openapi.Cure {
	w := openapi.Cure{
		Key: c.Key, Name: c.Name, Undiluted: c.Undiluted(), Source: writeCitation(c.Source), Note: optional[openapi.Text](c.Note),
		Spoon: writeSpoon(c.BulkDensity, c.DensitySource),
	}
	for _, s := range []struct {
		compound  rulebook.Compound
		substance openapi.CureContentSubstance
	}{
		{rulebook.CompoundNaNO2, openapi.CureContentSubstanceSodiumNitrite},
		{rulebook.CompoundKNO2, openapi.CureContentSubstancePotassiumNitrite},
		{rulebook.CompoundNaNO3, openapi.CureContentSubstanceSodiumNitrate},
		{rulebook.CompoundKNO3, openapi.CureContentSubstancePotassiumNitrate},
		{rulebook.CompoundNaCl, openapi.CureContentSubstanceSalt},
	} {
		if f := c.Content(s.compound); !f.High.IsZero() {
			w.Contents = append(w.Contents, openapi.CureContent{
				Substance: s.substance, LowPercent: shown(f.Low.Percent()), HighPercent: shown(f.High.Percent()),
			})
		}
	}
	return w
}

// ListCultures answers GET /v1/reference/cultures.
func (h *handlers) ListCultures(context.Context, openapi.ListCulturesRequestObject) (openapi.ListCulturesResponseObject, error) {
	body := openapi.Cultures{RulebookVersion: rulebook.Version(), Dosing: writeDosing(rulebook.Dosing())}
	for _, c := range rulebook.Cultures() {
		body.Cultures = append(body.Cultures, writeCulture(c))
	}
	slices.SortFunc(body.Cultures, func(a, b openapi.CultureSpecies) int { return cmp.Compare(a.Key, b.Key) })
	return openapi.ListCultures200JSONResponse{Body: body}, nil
}

func writeCulture(c rulebook.CultureSpecies) openapi.CultureSpecies {
	between := func(t quantity.Between[quantity.Temperature]) openapi.TemperatureRange {
		u := units{}
		return openapi.TemperatureRange{Low: u.temperature(t.Low), High: u.temperature(t.High)}
	}
	w := openapi.CultureSpecies{
		Key: openapi.CultureKey(c.Key), Name: c.Name, Acidifies: c.Acidifies, ReducesNitrate: c.Reduces,
		Organism: pointerTo(openapi.CultureSpeciesOrganism(c.Organism.String())), Surface: &c.Surface,
		Least: between(c.Least), Most: between(c.Most), Source: writeCitation(c.Source), Note: optional[openapi.Text](c.Note),
	}
	if c.LeastPH != nil {
		w.LeastPh = pointerTo(shown(c.LeastPH.Float()))
	}
	if c.LeastWaterActivity != nil {
		w.LeastWaterActivity = pointerTo(shown(c.LeastWaterActivity.Float()))
	}
	for _, s := range c.Slow {
		w.SlowSugars = append(w.SlowSugars, openapi.Sugar(s.String()))
	}
	if c.GrowthSource.Title != "" {
		w.GrowthSource = pointerTo(writeCitation(c.GrowthSource))
	}
	if !c.Best.High.IsZero() {
		w.Best = pointerTo(between(c.Best))
	}
	if h, ok := acidification.HabitOf(c.Key); ok {
		w.Acid = &openapi.CultureAcid{LagHours: shown(h.Lag.Hours()), UntilPH53Hours: shown(h.Until.Hours()), Source: writeCitation(h.Source)}
	}
	return w
}

// ListMaterials answers GET /v1/reference/materials.
func (h *handlers) ListMaterials(_ context.Context, req openapi.ListMaterialsRequestObject) (openapi.ListMaterialsResponseObject, error) {
	body := openapi.Materials{Materials: []openapi.Material{}}
	for _, m := range material.All() {
		if req.Params.Group == nil || string(*req.Params.Group) == m.Group.String() {
			body.Materials = append(body.Materials, writeMaterial(m))
		}
	}
	for _, c := range material.AllergenSources() {
		body.AllergenSources = append(body.AllergenSources, writeCitation(c))
	}
	slices.SortFunc(body.Materials, func(a, b openapi.Material) int { return cmp.Compare(a.Key, b.Key) })
	return openapi.ListMaterials200JSONResponse{Body: body}, nil
}

func writeMaterial(m material.Material) openapi.Material {
	c := m.Composition
	w := openapi.Material{
		Key: m.Key, Group: openapi.MaterialGroup(m.Group.String()), Description: m.Description,
		WaterPercent: writePercent(c.Water), ProteinPercent: writePercent(c.Protein), FatPercent: writePercent(c.Fat),
		AshPercent: writePercent(c.Ash), CarbohydratePercent: writePercent(c.Carbohydrate), SugarsPercent: writePercent(c.Sugars),
		AlcoholPercent: writePercent(c.Alcohol), FermentableSugarPercent: writePercent(m.FermentableSugar()),
		Source: writeCitation(m.Source), Note: optional[openapi.Text](m.Note), Spoon: writeSpoon(m.BulkDensity, m.DensitySource),
	}
	if m.Group == material.SaltOrSugar || !m.AddedSalt().IsZero() {
		w.SaltPercent = pointerTo(shown(m.AddedSalt().Percent()))
	}
	for _, b := range m.AllergensBrought() {
		w.Allergens = append(w.Allergens, openapi.MaterialAllergen{
			Allergen: openapi.MaterialAllergenAllergen(b.Allergen.String()), Certain: b.Certain, InUs: b.Allergen.UnitedStates(),
			InEu: b.Allergen.EuropeanUnion(), Why: optional[openapi.Text](b.Why),
		})
	}
	return w
}

func writePercent(f material.Known[quantity.Fraction]) *openapi.PercentOfMaterial {
	v, ok := f.Get()
	if !ok {
		return nil
	}
	return pointerTo(shown(v.Percent()))
}

// writeSpoon returns what a level teaspoon weighs, nil when it is not known.
func writeSpoon(d quantity.Between[quantity.Density], from source.Citation) *openapi.SpoonWeight {
	if d.High.IsZero() {
		return nil
	}
	teaspoon, err := quantity.Teaspoons(1)
	if err != nil {
		return nil
	}
	u := units{}
	return &openapi.SpoonWeight{Low: u.mass(d.Low.Of(teaspoon)), High: u.mass(d.High.Of(teaspoon)), Source: writeCitation(from)}
}
