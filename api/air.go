package api

import (
	"context"

	"greenweight/api/drawing"
	"greenweight/domain/air"
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// airCautions stand in every answer on air.
var airCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"A hygrometer is the weakest instrument of the trade: near the end of drying a few points are half of what dries. Check it over a paste of salt and water before trusting these figures.",
	"Air says how strongly water is drawn from a surface. How fast it gets there from inside is another question, and after the first week mostly the one that counts.",
}

// TellAir answers POST /v1/air.
func (h *handlers) TellAir(ctx context.Context, req openapi.TellAirRequestObject) (openapi.TellAirResponseObject, error) {
	order, err := h.readAirOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	answer, err := air.Tell(order)
	if err != nil {
		return nil, err
	}
	return answerAir(ctx, order, answer, unitsOf(req.Params.Units))
}

func airPlaceRule(p openapi.AirPlace, add report) {
	exactlyOne(add, map[string]bool{
		"relative_humidity_percent": p.RelativeHumidityPercent != nil, "dew_point": p.DewPoint != nil, "wet_bulb": p.WetBulb != nil, "coil": p.Coil != nil,
	}, "relative_humidity_percent, dew_point, wet_bulb or coil")
	if p.HygrometerUncertaintyPercent != nil && p.RelativeHumidityPercent == nil {
		add("hygrometer_uncertainty_percent", ruleAdditional, "goes only with relative_humidity_percent, which it is of")
	}
}

func (h *handlers) readAirOrder(w openapi.AirOrder) (air.Order, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	var o air.Order
	for i, p := range w.Places {
		o.Places = append(o.Places, readAirPlace(&bad, fault.At("places", i), p))
	}
	if p := w.Product; p != nil {
		o.Product = &air.Product{
			Diameter:    readOptionalLength(&bad, fault.At("product", "diameter"), p.Diameter),
			Temperature: readOptionalTemperature(&bad, fault.At("product", "temperature"), p.Temperature),
		}
		if aw := readOptional(&bad, fault.At("product", "water_activity"), quantity.NewWaterActivity, &p.WaterActivity); aw != nil {
			o.Product.Surface = *aw
		}
	}
	if a := w.Wanted; a != nil {
		drive, noDrive := quantity.Kilopascals(a.DriveKpa)
		bad.AddError(fault.At("wanted", "drive_kpa"), codeInvalidValue, noDrive)
		surface, noSurface := quantity.NewWaterActivity(a.WaterActivity)
		bad.AddError(fault.At("wanted", "water_activity"), codeInvalidValue, noSurface)
		o.Wanted = &air.Wanted{Drive: drive, Surface: surface}
	}
	for i, c := range w.SaltChecks {
		o.Checks = append(o.Checks, readSaltCheck(&bad, fault.At("salt_checks", i), c))
	}
	return o, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func readAirPlace(bad *fault.Collector, path fault.Path, w openapi.AirPlace) air.Place {
	at := func(member string) fault.Path { return below(path, member) }
	p := air.Place{
		Name: w.Name, Temperature: readTemperature(bad, at("temperature"), w.Temperature),
		Humidity: air.Humidity{
			Relative: readOptional(bad, at("relative_humidity_percent"), quantity.HumidityPercent, w.RelativeHumidityPercent),
			DewPoint: readOptionalTemperature(bad, at("dew_point"), w.DewPoint),
			WetBulb:  readOptionalTemperature(bad, at("wet_bulb"), w.WetBulb),
		},
		AirSpeed:   readOptional(bad, at("air_speed_m_per_s"), quantity.MetresPerSecond, w.AirSpeedMPerS),
		Hygrometer: readOptional(bad, at("hygrometer_uncertainty_percent"), quantity.HumidityPercent, w.HygrometerUncertaintyPercent),
	}
	if c := w.Coil; c != nil {
		p.Humidity.Coil = &air.Coil{
			Temperature: readTemperature(bad, fault.At("coil", "temperature").Under(path), c.Temperature), Iced: c.Iced != nil && *c.Iced,
		}
	}
	if d := w.ThermometerUncertainty; d != nil {
		p.Thermometer = pointerTo(readIn(bad, at("thermometer_uncertainty"), differencePerUnit, d.Value, d.Unit))
	}
	return p
}

func readSaltCheck(bad *fault.Collector, path fault.Path, w openapi.SaltCheck) air.SaltCheck {
	c := air.SaltCheck{Temperature: readTemperature(bad, below(path, "temperature"), w.Temperature)}
	if w.Name != nil {
		c.Name = *w.Name
	}
	c.Salt, _ = air.ParseSalt(string(w.Salt))
	var err error
	c.Reading, err = quantity.HumidityPercent(w.ReadingPercent)
	bad.AddError(below(path, "reading_percent"), codeInvalidValue, err)
	return c
}

// readOptional makes a quantity of a number that may be absent, and then is nil.
func readOptional[Q any](bad *fault.Collector, path fault.Path, of func(float64) (Q, error), value *float64) *Q {
	if value == nil {
		return nil
	}
	q, err := of(*value)
	bad.AddError(path, codeInvalidValue, err)
	return &q
}

func readOptionalTemperature(bad *fault.Collector, path fault.Path, t *openapi.Temperature) *quantity.Temperature {
	if t == nil {
		return nil
	}
	return pointerTo(readTemperature(bad, path, *t))
}

func readOptionalLength(bad *fault.Collector, path fault.Path, l *openapi.Length) *quantity.Length {
	if l == nil {
		return nil
	}
	return pointerTo(readIn(bad, path, lengthPerUnit, l.Value, l.Unit))
}

// answerAir writes the answer as what the client accepts.
func answerAir(ctx context.Context, o air.Order, a air.Answer, u units) (openapi.TellAirResponseObject, error) {
	switch answerType(ctx) {
	case mediaTypeSVG:
		picture, err := drawAir(o, a, u, (drawing.RoomAir).SVG)
		if err != nil {
			return nil, err
		}
		return openapi.TellAir200ImageSvgXMLResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	case mediaTypePNG:
		picture, err := drawAir(o, a, u, (drawing.RoomAir).PNG)
		if err != nil {
			return nil, err
		}
		return openapi.TellAir200ImagePngResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	}
	return openapi.TellAir200JSONResponse{Body: writeAirAnswer(o, a, u)}, nil
}

func writeAirAnswer(o air.Order, a air.Answer, u units) openapi.AirAnswer {
	w := openapi.AirAnswer{
		Places: make([]openapi.AirState, 0, len(a.States)), Comparisons: make([]openapi.AirComparison, 0, len(a.Comparisons)),
		SaltChecks: make([]openapi.SaltCheckAnswer, 0, len(a.Checks)), Notes: writeNotes(a.Notes, pointerInBody), Cautions: airCautions,
	}
	if p := o.Product; p != nil {
		w.EquilibriumHumidityPercent = pointerTo(shown(p.Surface.Humidity().Percent()))
	}
	for _, s := range a.States {
		w.Places = append(w.Places, writeAirState(s, u))
	}
	for _, c := range a.Comparisons {
		w.Comparisons = append(w.Comparisons, writeAirComparison(c, u))
	}
	for _, c := range a.Checks {
		w.SaltChecks = append(w.SaltChecks, openapi.SaltCheckAnswer{
			Name: optional[string](c.Check.Name), Salt: openapi.CheckSalt(c.Check.Salt.String()), Temperature: u.temperature(c.Check.Temperature),
			ReadingPercent: shown(c.Check.Reading.Percent()), ExpectedPercent: shown(c.Should.Percent()), AddPercent: shown(c.Add.Percent()),
		})
	}
	for _, from := range air.Sources() {
		w.Sources = append(w.Sources, writeCitation(from))
	}
	return w
}

func writeAirState(s air.State, u units) openapi.AirState {
	w := openapi.AirState{
		Name: s.Place.Name, Temperature: u.temperature(s.Place.Temperature), ThermometerUncertainty: u.temperatureDifference(s.Thermometer),
		RelativeHumidity: writeHumidity(s.Humidity), VapourPressure: writePressure(s.Vapour), SaturationPressure: writePressure(s.Saturation),
		AbsoluteHumidity: openapi.VapourFigure{
			ValueGPerM3: inGramsPerM3(s.Density.Value), LowGPerM3: inGramsPerM3(s.Density.Within.Low), HighGPerM3: inGramsPerM3(s.Density.Within.High),
		},
		DewPoint: writePoints(s.DewPoint, u), WetBulb: writePoints(s.WetBulb, u),
	}
	if h := s.Hygrometer; h != nil {
		w.HygrometerUncertaintyPercent = pointerTo(shown(h.Percent()))
	}
	if s.Wanted != nil {
		w.HumidityForWanted = pointerTo(writeHumidity(*s.Wanted))
	}
	if s.Effect != nil {
		w.Product = pointerTo(writeAirEffect(*s.Effect))
	}
	return w
}

func inGramsPerM3(d quantity.Density) float64 {
	const millilitresPerM3 = 1e6
	return shown(d.GramsPerMillilitre() * millilitresPerM3)
}

func writeHumidity(f air.Figure[quantity.RelativeHumidity]) openapi.HumidityFigure {
	return openapi.HumidityFigure{
		ValuePercent: shown(f.Value.Percent()), LowPercent: shown(f.Within.Low.Percent()), HighPercent: shown(f.Within.High.Percent()),
	}
}

func writePressure(f air.Figure[quantity.Pressure]) openapi.PressureFigure {
	return openapi.PressureFigure{
		ValueKpa: shown(f.Value.Kilopascals()), LowKpa: shown(f.Within.Low.Kilopascals()), HighKpa: shown(f.Within.High.Kilopascals()),
	}
}

func writePoints(p air.Points, u units) openapi.PointFigure {
	at := func(t *quantity.Temperature) *openapi.Temperature {
		if t == nil {
			return nil
		}
		return pointerTo(u.temperature(*t))
	}
	return openapi.PointFigure{Value: at(p.Value), Low: at(p.Low), High: at(p.High)}
}

func writeAirEffect(e air.Effect) openapi.AirEffect {
	w := openapi.AirEffect{
		Drive: openapi.DriveFigure{
			ValueKpa: shown(signedDrive(e.Drive.Value)), LowKpa: shown(signedDrive(e.Drive.Within.Low)), HighKpa: shown(signedDrive(e.Drive.Within.High)),
		},
		Gap: openapi.GapFigure{
			ValuePercent: shown(e.Gap.Value.Percent()), LowPercent: shown(e.Gap.Within.Low.Percent()), HighPercent: shown(e.Gap.Within.High.Percent()),
		},
		GainsWater: openapi.ToldOrNot(e.Gains.String()),
	}
	if e.Drips != nil {
		w.Drips = pointerTo(openapi.ToldOrNot(e.Drips.String()))
	}
	if f := e.Film; f != nil {
		w.FilmConductance = &openapi.FilmFigure{
			ValueMPerS: shown(f.Value.MetresPerSecond()), LowMPerS: shown(f.Within.Low.MetresPerSecond()), HighMPerS: shown(f.Within.High.MetresPerSecond()),
		}
	}
	if f := e.Most; f != nil {
		w.MostLoss = &openapi.MostLossFigure{
			ValuePercentPerDay: shown(f.Value.PercentPerDay()), LowPercentPerDay: shown(f.Within.Low.PercentPerDay()), HighPercentPerDay: shown(f.Within.High.PercentPerDay()),
		}
	}
	return w
}

// signedDrive returns a drive in kPa, negative where it wets.
func signedDrive(d air.Drive) float64 {
	if d.Wetting {
		return -d.Pressure.Kilopascals()
	}
	return d.Pressure.Kilopascals()
}

func writeAirComparison(c air.Comparison, u units) openapi.AirComparison {
	w := openapi.AirComparison{
		Place: fault.At("places", c.Place).Pointer(), Diffusivity: writeRatio(c.Diffusivity),
		VapourMoves: openapi.VapourMovement(c.Moves.String()),
	}
	if c.Vapour != nil {
		w.VapourPressure = pointerTo(writeOpenRatio(*c.Vapour))
	}
	if c.Drive != nil {
		w.Drive = pointerTo(writeOpenRatio(*c.Drive))
	}
	if c.Film != nil {
		w.FilmConductance = pointerTo(writeRatio(*c.Film))
	}
	if d := c.DewPoint; d != nil {
		w.DewPointDifference = &openapi.TemperatureDifferenceFigure{
			Value: u.signedDifference(d.Value), Low: u.signedDifference(d.Within.Low), High: u.signedDifference(d.Within.High),
		}
	}
	if s := c.Same; s != nil {
		w.DriesAsFirst = &openapi.HumidityAsFirst{Possible: openapi.ToldOrNot(s.Possible.String())}
		if s.Humidity != nil {
			w.DriesAsFirst.RelativeHumidity = pointerTo(writeHumidity(*s.Humidity))
		}
	}
	return w
}

func (u units) signedDifference(d quantity.TemperatureDelta) openapi.SignedTemperatureDifference {
	return openapi.SignedTemperatureDifference(u.temperatureDifference(d))
}

func writeRatio(f air.Figure[quantity.Ratio]) openapi.RatioFigure {
	return openapi.RatioFigure{ValueRatio: shown(f.Value.Float()), LowRatio: shown(f.Within.Low.Float()), HighRatio: shown(f.Within.High.Float())}
}

func writeOpenRatio(b air.Bounded) openapi.OpenRatioFigure {
	end := func(r *quantity.Ratio) *float64 {
		if r == nil {
			return nil
		}
		return pointerTo(shown(r.Float()))
	}
	return openapi.OpenRatioFigure{ValueRatio: shown(b.Value.Float()), LowRatio: end(b.Low), HighRatio: end(b.High)}
}
