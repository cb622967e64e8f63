package api

import (
	"context"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// dryingCautions stand in every answer on drying.
var dryingCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"A projection is no decision that a piece is finished: weigh it when the day comes. The intervals are claimed to hold the truth in that share of cases, and so do not hold it in the others.",
	"A loss in percent is not a water activity. Whether the product keeps without cooling is shown by a meter or a laboratory, together with its acid and its cure.",
}

// ProjectDryDown answers POST /v1/dry-down/projection.
func (h *handlers) ProjectDryDown(ctx context.Context, req openapi.ProjectDryDownRequestObject) (openapi.ProjectDryDownResponseObject, error) {
	order, err := h.readDryDownOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	projection, err := drying.Project(order)
	if err != nil {
		return nil, err
	}
	return answerDryDown(ctx, order, projection, unitsOf(req.Params.Units))
}

func (h *handlers) readDryDownOrder(w openapi.DryDownOrder) (drying.Order, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	order := h.readDryDown(&bad, w)
	order.Green = readMass(&bad, fault.At("green_weight"), w.GreenWeight)
	order.WeighIns = readWeighIns(&bad, fault.At("weigh_ins"), w.WeighIns)
	return order, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

// readDryDown reads what an order tells beside the weights.
func (h *handlers) readDryDown(bad *fault.Collector, w openapi.DryDownOrder) drying.Order {
	order := drying.Order{Stuffed: w.StuffedAt}
	if w.HungAt != nil {
		order.Hung = *w.HungAt
	}
	if w.AsOfAt != nil {
		order.AsOf = *w.AsOfAt
	}
	order.Target = readKnown(bad, fault.At("target_loss_percent"), quantity.LossPercent, w.TargetLossPercent).Or(quantity.Loss{})
	order.Activity = readKnown(bad, fault.At("target_water_activity"), quantity.NewWaterActivity, w.TargetWaterActivity)
	order.Ratio = readKnown(bad, fault.At("target_moisture_protein_ratio"), quantity.NewRatio, w.TargetMoistureProteinRatio)
	if w.Diameter != nil {
		order.Diameter = readDiameter(bad, fault.At("diameter"), *w.Diameter)
	}
	if w.Room != nil {
		readRoom(bad, *w.Room, &order)
	}
	readAirs(bad, w.Airs, w.AirReadings, w.Equalising, &order)
	if w.Composition != nil {
		order.Composition = readGreenComposition(bad, *w.Composition)
	}
	order.StopsAt = readKnown(bad, fault.At("stops_at_loss_percent"), quantity.LossPercent, w.StopsAtLossPercent)
	order.Learned = readEarlier(bad, w.Earlier)
	return order
}

// readEarlier reads earlier pieces and what they tell.
func readEarlier(bad *fault.Collector, w *openapi.EarlierPieces) drying.Learned {
	if w == nil {
		return drying.Learned{}
	}
	all := *w
	earlier := make([]drying.Earlier, 0, len(all))
	for i, p := range all {
		var of fault.Collector
		o := drying.Order{
			Green: readMass(&of, fault.At("green_weight"), p.GreenWeight), Stuffed: p.StuffedAt, WeighIns: readWeighIns(&of, fault.At("weigh_ins"), p.WeighIns),
		}
		if p.HungAt != nil {
			o.Hung = *p.HungAt
		}
		if p.Diameter != nil {
			o.Diameter = readDiameter(&of, fault.At("diameter"), *p.Diameter)
		}
		if p.Room != nil {
			readRoom(&of, *p.Room, &o)
		}
		readAirs(&of, p.Airs, nil, p.Equalising, &o)
		if p.Composition != nil {
			o.Composition = readGreenComposition(&of, *p.Composition)
		}
		bad.AddError(fault.At("earlier", i), codeInvalidValue, of.Err(codeInvalidValue, "the piece has no meaning as it stands"))
		lot := ""
		if p.Lot != nil {
			lot = *p.Lot
		}
		earlier = append(earlier, drying.Earlier{Lot: lot, Order: o})
	}
	learned, err := drying.Learn(earlier)
	bad.AddError(nil, codeInvalidValue, err)
	return learned
}

func readDiameter(bad *fault.Collector, path fault.Path, w openapi.Length) material.Known[quantity.Length] {
	return material.Is(readIn(bad, path, lengthPerUnit, w.Value, w.Unit))
}

func readWeighIns(bad *fault.Collector, path fault.Path, all []openapi.WeighIn) []drying.WeighIn {
	var weighed []drying.WeighIn
	for i, w := range all {
		weighed = append(weighed, drying.WeighIn{At: w.At, Weight: readMass(bad, fault.At(i, "weight").Under(path), w.Weight)})
	}
	return weighed
}

func readRoom(bad *fault.Collector, w openapi.Room, order *drying.Order) {
	if w.Temperature != nil {
		order.Temperature = material.Is(readTemperature(bad, fault.At("room", "temperature"), *w.Temperature))
	}
	order.Humidity = readKnown(bad, fault.At("room", "relative_humidity_percent"), quantity.HumidityPercent, w.RelativeHumidityPercent)
	order.AirSpeed = readKnown(bad, fault.At("room", "air_speed_m_per_s"), quantity.MetresPerSecond, w.AirSpeedMPerS)
}

// readAirs reads the airs one after the other, and when the piece is sealed.
func readAirs(
	bad *fault.Collector, airs []openapi.DryDownAir, readings []openapi.DryDownAirReading, sealed []openapi.EqualisingTime, order *drying.Order,
) {
	read := func(path fault.Path, from time.Time, t *openapi.Temperature, humidity, speed *float64) drying.Air {
		a := drying.Air{From: from}
		if t != nil {
			a.Temperature = material.Is(readTemperature(bad, fault.At("temperature").Under(path), *t))
		}
		a.Humidity = readKnown(bad, fault.At("relative_humidity_percent").Under(path), quantity.HumidityPercent, humidity)
		a.AirSpeed = readKnown(bad, fault.At("air_speed_m_per_s").Under(path), quantity.MetresPerSecond, speed)
		return a
	}
	for i, a := range airs {
		order.Airs = append(order.Airs, read(fault.At("airs", i), a.FromAt, a.Temperature, a.RelativeHumidityPercent, a.AirSpeedMPerS))
	}
	for i, a := range readings {
		order.Readings = append(order.Readings, read(fault.At("air_readings", i), a.At, a.Temperature, a.RelativeHumidityPercent, a.AirSpeedMPerS))
	}
	for _, p := range sealed {
		order.Equalising = append(order.Equalising, drying.Pause{From: p.FromAt, To: p.ToAt})
	}
}

func readGreenComposition(bad *fault.Collector, w openapi.GreenComposition) drying.Composition {
	part := func(name string, percent *float64) material.Known[quantity.Fraction] {
		return readKnown(bad, fault.At("composition", name), quantity.Percent, percent)
	}
	return drying.Composition{
		Water:   part("water_percent", w.WaterPercent),
		Protein: part("protein_percent", w.ProteinPercent),
		Fat:     part("fat_percent", w.FatPercent),
		Salt:    part("salt_percent", w.SaltPercent),
		Sugar:   part("sugar_percent", w.SugarPercent),
	}
}

// readKnown makes a quantity of a number that may be absent and then is not
// known; what can't be one is recorded at path.
func readKnown[Q any](bad *fault.Collector, path fault.Path, of func(float64) (Q, error), value *float64) material.Known[Q] {
	if value == nil {
		return material.Known[Q]{}
	}
	q, err := of(*value)
	bad.AddError(path, codeInvalidValue, err)
	return material.Is(q)
}

// hanging writes times counted from the hanging of a piece.
type hanging struct{ from time.Time }

// hangingOf returns the hanging of an order, in the offset that it was given in.
func hangingOf(o drying.Order) hanging {
	from := o.Hung
	if from.IsZero() {
		from = o.Stuffed
	}
	return hanging{inOffset(from)}
}

// inOffset returns an instant in its offset alone: a zone of the machine with the
// same offset would change it in summer.
func inOffset(t time.Time) time.Time {
	_, offset := t.Zone()
	return t.In(time.FixedZone("", offset))
}

// at returns an instant, to the minute.
func (h hanging) at(since time.Duration) openapi.Instant { return h.from.Add(since).Round(time.Minute) }

// days returns nil for a time that does not come.
func (h hanging) days(since time.Duration) *openapi.DaysSinceHanging {
	if since == drying.Never {
		return nil
	}
	return pointerTo(shownDays(since))
}

// instant returns nil for a time that does not come.
func (h hanging) instant(since time.Duration) *openapi.Instant {
	if since == drying.Never {
		return nil
	}
	return pointerTo(h.at(since))
}

func shownDays(d time.Duration) float64 { return shown(inDays(d)) }

// answerDryDown writes the answer as what the client accepts.
func answerDryDown(ctx context.Context, o drying.Order, p drying.Projection, u units) (openapi.ProjectDryDownResponseObject, error) {
	switch answerType(ctx) {
	case mediaTypeSVG:
		picture, err := draw(dryDownChart(o, p).SVG)
		if err != nil {
			return nil, err
		}
		return openapi.ProjectDryDown200ImageSvgXMLResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	case mediaTypePNG:
		picture, err := draw(dryDownChart(o, p).PNG)
		if err != nil {
			return nil, err
		}
		return openapi.ProjectDryDown200ImagePngResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	}
	return openapi.ProjectDryDown200JSONResponse{Body: writeDryDownAnswer(o, p, u)}, nil
}

func writeDryDownAnswer(o drying.Order, p drying.Projection, u units) openapi.DryDownAnswer {
	hung := hangingOf(o)
	w := openapi.DryDownAnswer{
		Model: p.Model, Outcome: openapi.DryDownOutcome(p.Outcome.String()), Fitted: p.Fitted, GreenWeight: u.mass(o.Green),
		WeighIns: make([]openapi.JudgedWeighIn, 0, len(p.Weighed)), LostBeforeHangingPercent: shown(p.Hanging.Percent()),
		MeasuredPercentPerDay: writeRate(p.Measured), Now: writePoint(o, hung, p.Now, u),
		Target:             writeDryDownTarget(o, p, u),
		StopsAtLossPercent: writeLosses(p.Stops), FastestPercentPerDay: writeRate(p.Fastest),
		Notes: writeNotes(p.Notes, pointerInBody), Cautions: dryingCautions,
	}
	for _, from := range drying.Sources() {
		w.Sources = append(w.Sources, writeCitation(from))
	}
	for i, weighed := range p.Weighed {
		w.WeighIns = append(w.WeighIns, writeWeighIn(i, weighed, u))
	}
	if p.Latest >= 0 {
		w.Latest = pointerTo(fault.At("weigh_ins", p.Latest).Pointer())
	}
	for _, g := range p.Goals {
		w.Goals = append(w.Goals, openapi.DryDownGoal{
			By: openapi.DryDownGoalBy(g.By.String()), LossPercent: shown(g.Loss.Mid.Percent()),
			LossWithinPercent: openapi.LossInterval{Low: shown(g.Loss.Low.Percent()), High: shown(g.Loss.High.Percent())},
			Outcome:           openapi.DryDownOutcome(g.Outcome.String()), Day: writeTargetDay(hung, g.Day),
		})
	}
	for _, point := range p.Course {
		w.Course = append(w.Course, writePoint(o, hung, point, u))
	}
	return w
}

func writeDryDownTarget(o drying.Order, p drying.Projection, u units) openapi.DryDownTarget {
	return openapi.DryDownTarget{
		LossPercent: shown(p.Target.Percent()), Weight: u.mass(p.Target.Left(o.Green)), Day: writeTargetDay(hangingOf(o), p.Day),
	}
}

func writeWeighIn(i int, weighed drying.Weighed, u units) openapi.JudgedWeighIn {
	w := openapi.JudgedWeighIn{
		Pointer: fault.At("weigh_ins", i).Pointer(), At: weighed.At, SinceHangingDays: shownDays(weighed.Since),
		Weight: u.mass(weighed.Weight), LossPercent: shown(weighed.Loss.Percent()), Counts: weighed.Doubt == "",
	}
	if weighed.Doubt != "" {
		w.Doubt = &openapi.Doubt{Code: weighed.Doubt, Detail: weighed.Why}
	}
	return w
}

func writePoint(o drying.Order, hung hanging, p drying.Point, u units) openapi.DryDownPoint {
	return openapi.DryDownPoint{
		At: hung.at(p.Since), SinceHangingDays: shownDays(p.Since), Weight: u.mass(p.Loss.Median.Left(o.Green)),
		LossPercent: writeLosses(p.Loss), LossPercentPerDay: writeLossRates(p.Rate),
	}
}

func writeTargetDay(hung hanging, d drying.Day) openapi.TargetDay {
	between := func(b quantity.Between[time.Duration]) openapi.DayInterval {
		return openapi.DayInterval{
			LowDays: hung.days(b.Low), LowAt: hung.instant(b.Low), HighDays: hung.days(b.High), HighAt: hung.instant(b.High),
		}
	}
	return openapi.TargetDay{
		MedianDays: hung.days(d.Median), MedianAt: hung.instant(d.Median),
		P50: between(d.P50), P80: between(d.P80), P90: between(d.P90), NotReachedPercent: shown(d.NotReached.Percent()),
	}
}

func writeLosses(b drying.Band[quantity.Loss]) openapi.LossBand {
	between := func(b quantity.Between[quantity.Loss]) openapi.LossInterval {
		return openapi.LossInterval{Low: shown(b.Low.Percent()), High: shown(b.High.Percent())}
	}
	return openapi.LossBand{Median: shown(b.Median.Percent()), P50: between(b.P50), P80: between(b.P80), P90: between(b.P90)}
}

func writeLossRates(b drying.Band[quantity.LossRate]) openapi.LossRateBand {
	between := func(b quantity.Between[quantity.LossRate]) openapi.LossRateInterval {
		return openapi.LossRateInterval{Low: shown(b.Low.PercentPerDay()), High: shown(b.High.PercentPerDay())}
	}
	return openapi.LossRateBand{Median: shown(b.Median.PercentPerDay()), P50: between(b.P50), P80: between(b.P80), P90: between(b.P90)}
}

// writeRate returns nil for a rate that is not known.
func writeRate(r material.Known[quantity.LossRate]) *float64 {
	rate, ok := r.Get()
	if !ok {
		return nil
	}
	return pointerTo(shown(rate.PercentPerDay()))
}
