package api

import (
	"strconv"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// readPlan reads how a formula is meant to be made.
func readPlan(bad *fault.Collector, path fault.Path, w openapi.Plan) formula.Plan {
	p := formula.Plan{
		Freezing: readFreezing(bad, below(path, "freezing"), w.Freezing), Smoke: readWarmths(bad, below(path, "smoke"), w.Smoke),
		Heat: readWarmths(bad, below(path, "heat"), w.Heat), LowAcid: given(w.LowAcidTraditional),
	}
	if w.LossPercent != nil {
		loss, err := quantity.Percent(*w.LossPercent)
		bad.AddError(below(path, "loss_percent"), codeInvalidValue, err)
		p.Loss = &loss
	}
	if w.LabelKeepRefrigerated != nil {
		p.LabelStorageIsKnown, p.KeepRefrigerated = true, *w.LabelKeepRefrigerated
	}
	if w.WantedPh != nil {
		ph, err := quantity.NewPH(*w.WantedPh)
		bad.AddError(fault.At("wanted_ph").Under(path), codeInvalidValue, err)
		p.WantedPH = &ph
	}
	for i, s := range w.Fermentation {
		p.Fermentation = append(p.Fermentation, readStep(bad, below(path, "fermentation", strconv.Itoa(i)),
			s.Temperature, s.RelativeHumidityPercent, nil, inHours(given(s.Hours))))
	}
	for i, s := range w.Drying {
		p.Drying = append(p.Drying, readStep(bad, below(path, "drying", strconv.Itoa(i)),
			s.Temperature, s.RelativeHumidityPercent, s.AirSpeedMPerS, inHours(24*given(s.Days))))
	}
	if w.Grind != nil {
		at := below(path, "grind")
		p.Grind = formula.Grind{
			Plate: readLength(bad, below(at, "plate"), w.Grind.Plate), LargestPiece: readLength(bad, below(at, "largest_piece"), w.Grind.LargestPiece),
		}
	}
	if w.Casing != nil {
		at := below(path, "casing")
		p.Casing = formula.PlannedCasing{
			Diameter:  readLength(bad, below(at, "stuffed_diameter"), w.Casing.StuffedDiameter),
			FlatWidth: readLength(bad, below(at, "flat_width"), w.Casing.FlatWidth),
		}
		p.Casing.Kind, _ = formula.ParseCasingKind(string(given(w.Casing.Kind)))
	}
	for i, h := range w.Hold {
		p.Hold = append(p.Hold, readHold(bad, below(path, "hold", strconv.Itoa(i)), h))
	}
	if r := w.TrichinaeRoute; r != nil {
		p.Trichinae = formula.TrichinaeRoute{Certificate: given(r.Certificate), IssuedBy: given(r.IssuedBy)}
		p.Trichinae.Route, _ = formula.ParseRoute(string(r.Route))
		p.Trichinae.Method, _ = formula.ParseDryingMethod(string(given(r.Method)))
	}
	return p
}

func readStep(bad *fault.Collector, path fault.Path, t *openapi.Temperature, humidity, speed *float64, span time.Duration) formula.Step {
	s := formula.Step{
		Humidity: readKnown(bad, below(path, "relative_humidity_percent"), quantity.HumidityPercent, humidity),
		AirSpeed: readKnown(bad, below(path, "air_speed_m_per_s"), quantity.MetresPerSecond, speed),
		Span:     span,
	}
	if t != nil {
		s.Temperature = material.Is(readTemperature(bad, below(path, "temperature"), *t))
	}
	return s
}

func readFreezing(bad *fault.Collector, path fault.Path, w []openapi.PlannedFreezing) []formula.Freezing {
	var all []formula.Freezing
	for i, s := range w {
		at := below(path, strconv.Itoa(i))
		span := inHours(24 * given(s.Days))
		if s.Hours != nil {
			span = inHours(*s.Hours)
		}
		all = append(all, formula.Freezing{
			Temperature: readTemperature(bad, below(at, "temperature"), s.Temperature), Span: span,
			AtCentre:  given(s.MeasuredIn) == openapi.PlannedFreezingMeasuredInCentre,
			Thickness: readLength(bad, below(at, "thickness"), s.Thickness),
		})
	}
	return all
}

func readHold(bad *fault.Collector, path fault.Path, w openapi.PlannedHold) formula.Hold {
	h := formula.Hold{
		Temperature: readKnownTemperature(bad, below(path, "temperature"), w.Temperature),
		Humidity:    readKnown(bad, below(path, "relative_humidity_percent"), quantity.HumidityPercent, w.RelativeHumidityPercent),
		Span:        inHours(given(w.Hours)), Depth: readLength(bad, below(path, "depth"), w.Depth),
	}
	h.Of, _ = formula.ParseHoldOf(string(w.Of))
	return h
}

func readWarmths(bad *fault.Collector, path fault.Path, w []openapi.PlannedWarmth) []formula.Warmth {
	var all []formula.Warmth
	for i, s := range w {
		at := below(path, strconv.Itoa(i))
		all = append(all, formula.Warmth{
			Temperature: readKnownTemperature(bad, below(at, "temperature"), s.Temperature),
			Humidity:    readKnown(bad, below(at, "relative_humidity_percent"), quantity.HumidityPercent, s.RelativeHumidityPercent),
			Span:        inHours(given(s.Hours)), Core: readKnownTemperature(bad, below(at, "core_temperature"), s.CoreTemperature),
			CoreHeld: inHours(given(s.CoreHours)),
		})
	}
	return all
}

func readReceipt(bad *fault.Collector, path fault.Path, w openapi.Receipt) formula.Receipt {
	return formula.Receipt{
		Temperature: readKnownTemperature(bad, below(path, "temperature"), w.Temperature),
		PH:          readKnown(bad, below(path, "ph"), quantity.NewPH, w.Ph),
	}
}

func readKnownTemperature(bad *fault.Collector, path fault.Path, w *openapi.Temperature) material.Known[quantity.Temperature] {
	if w == nil {
		return material.Known[quantity.Temperature]{}
	}
	return material.Is(readTemperature(bad, path, *w))
}

// readLength reads a length that need not be stated: then it is none.
func readLength(bad *fault.Collector, path fault.Path, w *openapi.Length) quantity.Length {
	if w == nil {
		return quantity.Length{}
	}
	return readIn(bad, path, lengthPerUnit, w.Value, w.Unit)
}
