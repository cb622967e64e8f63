package api

import (
	"context"
	"time"

	"greenweight/domain/acidity"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// cultureCautions stand in every answer on the dose of a culture.
var cultureCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"The label of the culture in hand decides its dose, its warmth and how it is kept.",
	"Cells that are added show no acid: that it came, and in time, is shown by a pH that was read.",
}

// DoseCulture answers POST /v1/fermentation/culture-dose.
func (h *handlers) DoseCulture(_ context.Context, req openapi.DoseCultureRequestObject) (openapi.DoseCultureResponseObject, error) {
	order, err := h.readCultureDose(*req.Body)
	if err != nil {
		return nil, err
	}
	dose, err := acidity.DoseOf(order)
	if err != nil {
		return nil, err
	}
	return openapi.DoseCulture200JSONResponse{Body: writeCultureDose(order, dose, unitsOf(req.Params.Units))}, nil
}

func (h *handlers) readCultureDose(w openapi.CultureDoseOrder) (acidity.DoseOrder, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	order := acidity.DoseOrder{Batch: readMass(&bad, fault.At("batch"), w.Batch)}
	cells := func(member string, n *float64) quantity.CellCount {
		if n == nil {
			return quantity.CellCount{}
		}
		c, err := quantity.CFUPerGram(*n)
		bad.AddError(fault.At(member), codeInvalidValue, err)
		return c
	}
	order.Activity, order.Target = cells("activity_cfu_per_g", w.ActivityCFUPerG), cells("target_cfu_per_g", w.TargetCFUPerG)
	if w.Amount != nil {
		order.Amount = quantity.Exactly(readMass(&bad, fault.At("amount"), *w.Amount))
	}
	if w.Spoons != nil {
		order.Spoons = readIn(&bad, fault.At("spoons"), volumePerUnit, w.Spoons.Value, w.Spoons.Unit)
	}
	if w.DoseGPerKg != nil {
		const milligrams = 1000
		var err error
		order.Share, err = quantity.PartsPerMillion(*w.DoseGPerKg * milligrams)
		bad.AddError(fault.At("dose_g_per_kg"), codeInvalidValue, err)
	}
	if w.RehydrationWater != nil {
		v := readIn(&bad, fault.At("rehydration_water"), volumePerUnit, w.RehydrationWater.Value, w.RehydrationWater.Unit)
		order.Water = material.Water().BulkDensity.High.Of(v)
	}
	return order, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func writeCultureDose(o acidity.DoseOrder, d acidity.Dose, u units) openapi.CultureDoseAnswer {
	w := openapi.CultureDoseAnswer{
		RulebookVersion: rulebook.Version(), Batch: u.mass(o.Batch), Culture: *u.massRange(d.Culture),
		LowGPerKg: shown(d.Share.Low.GramsPerKilogram()), HighGPerKg: shown(d.Share.High.GramsPerKilogram()),
		Target: writeCells(d.Target), PackDose: *u.massRange(d.Pack), WaterPercent: shown(d.Water.Percent()),
		Notes: writeNotes(d.Notes, pointerInBody), Cautions: cultureCautions,
	}
	if d.Cells != nil {
		w.Cells = pointerTo(writeCells(*d.Cells))
	}
	if d.Lag != nil {
		warmer, cooler := acidity.GrowthTemperatures()
		lag := func(t quantity.Temperature, l quantity.Between[time.Duration]) openapi.CultureLag {
			return openapi.CultureLag{
				Temperature: u.temperature(t), LowHours: shown(l.Low.Hours()), HighHours: shown(l.High.Hours()),
				Source: writeCitation(acidity.GrowthSource()),
			}
		}
		w.Lag = []openapi.CultureLag{lag(warmer, d.Lag.Warm), lag(cooler, d.Lag.Cool)}
	}
	return w
}

func writeCells(c quantity.Between[quantity.CellCount]) openapi.CellRange {
	return openapi.CellRange{LowCFUPerG: shown(c.Low.CFUPerGram()), HighCFUPerG: shown(c.High.CFUPerGram())}
}

// writeDosing writes how cultures are dosed, woken and kept.
func writeDosing(d rulebook.CultureDosing) *openapi.CultureDosing {
	cells := func(g rulebook.CultureGuide[quantity.CellCount]) openapi.CellGuide {
		w := openapi.CellGuide{HighCFUPerG: shown(g.High.CFUPerGram()), Source: writeCitation(g.Source)}
		if g.Low.CFUPerGram() > 0 {
			w.LowCFUPerG = pointerTo(shown(g.Low.CFUPerGram()))
		}
		return w
	}
	u := units{}
	return &openapi.CultureDosing{
		Target: cells(d.Target), Natural: cells(d.Natural), FreezeDried: cells(d.FreezeDried), Frozen: cells(d.Frozen),
		Pack: openapi.PackDose{
			LowGPerKg: shown(d.Pack.Low.GramsPerKilogram()), HighGPerKg: shown(d.Pack.High.GramsPerKilogram()), Source: writeCitation(d.Pack.Source),
		},
		HalfTeaspoon: openapi.SpoonGuide{Weight: *u.massRange(d.Spoon.Between), Source: writeCitation(d.Spoon.Source)},
		Water: openapi.WaterGuide{
			Enough:   openapi.Volume{Value: significant(d.Water.Low.Millilitres(), spoonDigits), Unit: openapi.VolumeUnitML},
			Generous: openapi.Volume{Value: significant(d.Water.High.Millilitres(), spoonDigits), Unit: openapi.VolumeUnitML}, GenerousPercent: shown(d.MostWater.High.Percent()),
			Source: writeCitation(d.Water.Source),
		},
		Waking:  openapi.WakingGuide{LowHours: shown(d.Waking.Low.Hours()), HighHours: shown(d.Waking.High.Hours()), Source: writeCitation(d.Waking.Source)},
		Storage: openapi.StorageGuide{AtMost: u.temperature(d.Store.High), Source: writeCitation(d.Store.Source)},
	}
}
