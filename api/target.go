package api

import (
	"context"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/wateractivity"
	"greenweight/openapi"
)

// targetCautions stand in every answer on the loss for a target.
var targetCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"A water activity that is estimated shows of no rule that it is met: a meter or a laboratory does, on core and rim.",
	"Moisture to protein tells what a product may be called. It says nothing of whether it keeps: that takes its water activity, its acid and its cure.",
}

// FindTargetLoss answers POST /v1/dry-down/target.
func (h *handlers) FindTargetLoss(_ context.Context, req openapi.FindTargetLossRequestObject) (openapi.FindTargetLossResponseObject, error) {
	order, err := h.readTargetOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	answer, err := drying.LossForTarget(order)
	if err != nil {
		return nil, err
	}
	return openapi.FindTargetLoss200JSONResponse{Body: writeTargetAnswer(order, answer, unitsOf(req.Params.Units))}, nil
}

func targetOrderRule(o openapi.TargetOrder, add report) {
	if o.Formula == nil && o.Composition == nil {
		add("", ruleRequired, "has neither formula nor composition; it needs one of them or both")
	}
	if o.WaterActivity == nil && o.MoistureProteinRatio == nil {
		add("", ruleRequired, "wants nothing; it needs water_activity, moisture_protein_ratio or both")
	}
	if o.HygrometerUncertaintyPercent != nil && o.RelativeHumidityPercent == nil {
		add("hygrometer_uncertainty_percent", ruleAdditional, "goes only with relative_humidity_percent, which it is of")
	}
}

func (h *handlers) readTargetOrder(w openapi.TargetOrder) (drying.TargetOrder, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	var o drying.TargetOrder
	if w.Formula != nil {
		o.Formula = pointerTo(readFormula(&bad, *w.Formula))
	}
	if w.Composition != nil {
		o.Composition = readGreenComposition(&bad, *w.Composition)
	}
	for i, d := range w.Dissolved {
		solute, _ := wateractivity.ParseSolute(string(d.Kind))
		share, err := quantity.Percent(d.Percent)
		bad.AddError(fault.At("dissolved", i, "percent"), codeInvalidValue, err)
		o.Dissolved = append(o.Dissolved, drying.Dissolved{Solute: solute, Share: share})
	}
	if w.GreenWeight != nil {
		o.Green = material.Is(readMass(&bad, fault.At("green_weight"), *w.GreenWeight))
	}
	o.WaterActivity = readKnown(&bad, fault.At("water_activity"), quantity.NewWaterActivity, w.WaterActivity)
	o.Ratio = readKnown(&bad, fault.At("moisture_protein_ratio"), quantity.NewRatio, w.MoistureProteinRatio)
	o.Humidity = readKnown(&bad, fault.At("relative_humidity_percent"), quantity.HumidityPercent, w.RelativeHumidityPercent)
	o.Hygrometer = readKnown(&bad, fault.At("hygrometer_uncertainty_percent"), quantity.HumidityPercent, w.HygrometerUncertaintyPercent)
	for i, percent := range w.AtLossesPercent {
		loss, err := quantity.LossPercent(percent)
		bad.AddError(fault.At("at_losses_percent", i), codeInvalidValue, err)
		o.AtLosses = append(o.AtLosses, loss)
	}
	return o, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

// weighing writes what a loss leaves of a green weight, where that is known.
type weighing struct {
	green material.Known[quantity.Mass]
	units units
}

func (g weighing) after(loss quantity.Loss) *openapi.Mass {
	green, known := g.green.Get()
	if !known {
		return nil
	}
	return pointerTo(g.units.mass(loss.Left(green)))
}

func writeTargetAnswer(o drying.TargetOrder, a drying.TargetAnswer, u units) openapi.TargetAnswer {
	g := weighing{o.Green, u}
	part := func(f quantity.Fraction, from drying.Origin) openapi.TargetPart {
		return openapi.TargetPart{Percent: shown(f.Percent()), Origin: openapi.PartOrigin(from.String())}
	}
	w := openapi.TargetAnswer{
		Model: a.Model,
		Composition: openapi.TargetComposition{
			Water: part(a.Green.Mix.Water, a.Green.Water), Protein: part(a.Green.Mix.Protein, a.Green.Protein), Fat: part(a.Green.Mix.Fat, a.Green.Fat),
			Salt: part(a.Green.Mix.Salt, a.Green.Salt), Sugar: part(a.Green.Mix.Sugar, a.Green.Sugar),
		},
		WaterActivity: g.aim(a.WaterActivity), MoistureProteinRatio: g.aim(a.Ratio), Both: g.aim(a.Both),
		Table: g.makeups(a.Table), AtLosses: g.makeups(a.Asked), Notes: writeNotes(a.Notes, pointerInBody), Cautions: targetCautions,
	}
	if a.Stops != nil {
		w.StopsAtLossPercent = pointerTo(writeTargetBand(*a.Stops))
		w.HygrometerUncertaintyPercent = pointerTo(shown(a.Hygrometer.Percent()))
	}
	for _, from := range drying.TargetSources() {
		w.Sources = append(w.Sources, writeCitation(from))
	}
	return w
}

func (g weighing) aim(a *drying.Aim) *openapi.TargetLoss {
	if a == nil {
		return nil
	}
	w := openapi.TargetLoss{LossPercent: writeTargetBand(a.Loss), Already: a.Already}
	if loss, known := a.Loss.Median.Get(); known {
		w.Weight = g.after(loss)
	}
	low, lowKnown := a.Loss.P80.Low.Get()
	high, highKnown := a.Loss.P80.High.Get()
	if green, known := g.green.Get(); known && lowKnown && highKnown {
		w.WeightP80 = g.units.massRange(quantity.Between[quantity.Mass]{Low: high.Left(green), High: low.Left(green)})
	}
	if a.Reached != 0 {
		w.ReachedInRoom = pointerTo(openapi.ToldOrNot(a.Reached.String()))
	}
	if a.There != nil {
		w.There = pointerTo(g.makeup(*a.There))
	}
	return &w
}

func writeTargetBand(b drying.LossBand) openapi.TargetLossBand {
	at := func(l material.Known[quantity.Loss]) *openapi.LossPercent {
		loss, known := l.Get()
		if !known {
			return nil
		}
		return pointerTo(shown(loss.Percent()))
	}
	between := func(b quantity.Between[material.Known[quantity.Loss]]) openapi.OpenLossInterval {
		return openapi.OpenLossInterval{Low: at(b.Low), High: at(b.High)}
	}
	return openapi.TargetLossBand{Median: at(b.Median), P80: between(b.P80), P95: between(b.P95)}
}

func (g weighing) makeups(of []drying.Makeup) []openapi.Makeup {
	w := make([]openapi.Makeup, 0, len(of))
	for _, m := range of {
		w = append(w, g.makeup(m))
	}
	return w
}

func (g weighing) makeup(m drying.Makeup) openapi.Makeup {
	w := openapi.Makeup{
		LossPercent: shown(m.Loss.Percent()), Weight: g.after(m.Loss), MoisturePercent: shown(m.Moisture.Percent()),
		ProteinPercent: shown(m.Protein.Percent()), FatPercent: shown(m.Fat.Percent()), SaltPercent: shown(m.Salt.Percent()),
		WaterPhaseSaltPercent: shown(m.WaterPhaseSalt.Percent()), SaltInWaterPercent: shown(m.SaltToWater.Percent()),
	}
	if ratio, known := m.Ratio.Get(); known {
		w.MoistureProteinRatio = pointerTo(shown(ratio.Float()))
	}
	if aw, known := m.SaltAlone.Get(); known {
		w.SaltAloneWaterActivity = pointerTo(shown(aw.Float()))
	}
	if narrow, wide := m.WaterActivity, m.Wide; narrow != nil {
		w.Estimate = &openapi.ActivityEstimate{
			WaterActivity: shown(narrow.Mid.Float()),
			P80:           openapi.ActivityInterval{LowWaterActivity: shown(narrow.Low.Float()), HighWaterActivity: shown(narrow.High.Float())},
			P95:           openapi.ActivityInterval{LowWaterActivity: shown(wide.Low.Float()), HighWaterActivity: shown(wide.High.Float())},
		}
	}
	return w
}
