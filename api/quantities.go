package api

import (
	"fmt"
	"math"
	"strconv"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
	"greenweight/openapi"
)

// shownDigits is how many significant digits an answer shows: one more than
// any scale or analysis of the trade resolves.
const shownDigits = 6

// scaleDigits keeps every division of a scale, and drops the last bits of a
// float that a multiple of 0.1 g is not exact in.
const scaleDigits = 12

// spoonDigits is how well anyone fills a spoon.
const spoonDigits = 3

// massPerUnit builds masses from the units of the wire.
var massPerUnit = map[openapi.MassUnit]func(float64) (quantity.Mass, error){
	openapi.MassUnitKg: quantity.Kilograms,
	openapi.MassUnitG:  quantity.Grams,
	openapi.MassUnitMg: quantity.Milligrams,
	openapi.MassUnitLb: quantity.Pounds,
	openapi.MassUnitOz: quantity.Ounces,
}

// volumePerUnit builds volumes from the units of the wire.
var volumePerUnit = map[openapi.VolumeUnit]func(float64) (quantity.Volume, error){
	openapi.VolumeUnitML:   quantity.Millilitres,
	openapi.VolumeUnitL:    quantity.Litres,
	openapi.VolumeUnitTsp:  quantity.Teaspoons,
	openapi.VolumeUnitTbsp: quantity.Tablespoons,
	openapi.VolumeUnitCup:  quantity.Cups,
	openapi.VolumeUnitFloz: quantity.FluidOunces,
}

// lengthPerUnit builds lengths from the units of the wire.
var lengthPerUnit = map[openapi.LengthUnit]func(float64) (quantity.Length, error){
	openapi.LengthUnitMm: quantity.Millimetres,
	openapi.LengthUnitCm: quantity.Centimetres,
	openapi.LengthUnitM:  quantity.Metres,
	openapi.LengthUnitIn: quantity.Inches,
	openapi.LengthUnitFt: quantity.Feet,
}

// temperaturePerUnit builds temperatures from the units of the wire.
var temperaturePerUnit = map[openapi.TemperatureUnit]func(float64) (quantity.Temperature, error){
	openapi.TemperatureUnitDegC: quantity.Celsius,
	openapi.TemperatureUnitDegF: quantity.Fahrenheit,
}

// differencePerUnit builds differences of temperatures from the units of the
// wire, which then are the size of the degrees.
var differencePerUnit = map[openapi.TemperatureUnit]func(float64) (quantity.TemperatureDelta, error){
	openapi.TemperatureUnitDegC: quantity.CelsiusDegrees,
	openapi.TemperatureUnitDegF: quantity.FahrenheitDegrees,
}

// massOf returns a mass of the contract; an error for what can't be one.
func massOf(m openapi.PositiveMass) (quantity.Mass, error) {
	of, ok := massPerUnit[m.Unit]
	if !ok {
		return quantity.Mass{}, fmt.Errorf("%q is no unit of mass", m.Unit)
	}
	return of(m.Value)
}

// readMass reads a mass; what can't be one is recorded at path.
func readMass(bad *fault.Collector, path fault.Path, m openapi.PositiveMass) quantity.Mass {
	mass, err := massOf(m)
	bad.AddError(path, "invalid-value", err)
	return mass
}

// readIn makes a quantity of a number and its unit; what can't be one is recorded
// at path.
func readIn[Q any, U ~string](bad *fault.Collector, path fault.Path, perUnit map[U]func(float64) (Q, error), value float64, unit U) Q {
	of, ok := perUnit[unit]
	if !ok {
		bad.Add(fault.At("unit").Under(path), "enum", "%q is no unit of this", unit)
		var none Q
		return none
	}
	q, err := of(value)
	bad.AddError(fault.At("value").Under(path), "invalid-value", err)
	return q
}

func readTemperature(bad *fault.Collector, path fault.Path, t openapi.Temperature) quantity.Temperature {
	return readIn(bad, path, temperaturePerUnit, t.Value, t.Unit)
}

// massIn returns a mass in a unit of the wire.
func massIn(m quantity.Mass, u openapi.MassUnit) float64 {
	switch u {
	case openapi.MassUnitKg:
		return m.Kilograms()
	case openapi.MassUnitMg:
		return m.Milligrams()
	case openapi.MassUnitLb:
		return m.Pounds()
	case openapi.MassUnitOz:
		return m.Ounces()
	default:
		return m.Grams()
	}
}

// volumeIn returns a volume in a unit of the wire.
func volumeIn(v quantity.Volume, u openapi.VolumeUnit) float64 {
	switch u {
	case openapi.VolumeUnitL:
		return v.Litres()
	case openapi.VolumeUnitTsp:
		return v.Teaspoons()
	case openapi.VolumeUnitTbsp:
		return v.Tablespoons()
	case openapi.VolumeUnitCup:
		return v.Cups()
	case openapi.VolumeUnitFloz:
		return v.FluidOunces()
	default:
		return v.Millilitres()
	}
}

// units writes quantities in the units that the question asked for.
type units struct{ us bool }

// unitsOf reads the parameter units, which is metric when absent.
func unitsOf(asked *openapi.UnitSystem) units {
	return units{us: asked != nil && *asked == openapi.UnitSystemUs}
}

// unit picks the unit in which a mass reads well: grams below a kilogram and
// kilograms above, or ounces below a pound and pounds above.
func (u units) unit(m quantity.Mass) openapi.MassUnit {
	switch {
	case u.us && shown(math.Abs(m.Pounds())) >= 1:
		return openapi.MassUnitLb
	case u.us:
		return openapi.MassUnitOz
	case shown(math.Abs(m.Grams())) >= 1000:
		return openapi.MassUnitKg
	default:
		return openapi.MassUnitG
	}
}

func (u units) mass(m quantity.Mass) openapi.Mass {
	unit := u.unit(m)
	return openapi.Mass{Value: shown(massIn(m, unit)), Unit: unit}
}

// exactMass is mass with as many digits as a scale may show, for what is to be
// weighed or asked again.
func (u units) exactMass(m quantity.Mass) openapi.Mass {
	unit := u.unit(m)
	return openapi.Mass{Value: significant(massIn(m, unit), scaleDigits), Unit: unit}
}

func (u units) difference(m quantity.Mass) openapi.MassDifference {
	unit := u.unit(m)
	return openapi.MassDifference{Value: shown(massIn(m, unit)), Unit: unit}
}

func (u units) massRange(m quantity.Between[quantity.Mass]) *openapi.MassRange {
	return &openapi.MassRange{Low: u.mass(m.Low), High: u.mass(m.High)}
}

// temperature picks the scale that the question asked for.
func (u units) temperature(t quantity.Temperature) openapi.Temperature {
	if u.us {
		return openapi.Temperature{Value: shown(t.Fahrenheit()), Unit: openapi.TemperatureUnitDegF}
	}
	return openapi.Temperature{Value: shown(t.Celsius()), Unit: openapi.TemperatureUnitDegC}
}

func (u units) temperatureDifference(d quantity.TemperatureDelta) openapi.TemperatureDifference {
	if u.us {
		return openapi.TemperatureDifference{Value: shown(d.FahrenheitDegrees()), Unit: openapi.TemperatureUnitDegF}
	}
	return openapi.TemperatureDifference{Value: shown(d.CelsiusDegrees()), Unit: openapi.TemperatureUnitDegC}
}

// length picks millimetres or inches.
func (u units) length(l quantity.Length) openapi.Length {
	if u.us {
		return openapi.Length{Value: shown(l.Inches()), Unit: openapi.LengthUnitIn}
	}
	return openapi.Length{Value: shown(l.Millimetres()), Unit: openapi.LengthUnitMm}
}

// shown rounds a number for display, to shownDigits significant digits; what is
// left of a difference of equal floats is nothing.
func shown(v float64) float64 {
	const noise = 1e-9
	if math.Abs(v) < noise {
		return 0
	}
	return significant(v, shownDigits)
}

func significant(v float64, digits int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// optional returns nil for the zero value, so that an absent member stays
// absent.
func optional[W ~string](s string) *W {
	if s == "" {
		return nil
	}
	w := W(s)
	return &w
}

func pointerTo[T any](v T) *T { return &v }

// pointing gives the JSON pointer of a member that the domain names by its path.
type pointing func(member []string) openapi.Pointer

// pointerInFormula returns the JSON pointer of a member of the formula.
func pointerInFormula(member []string) openapi.Pointer {
	return fault.Path(member).Under(fault.At("formula")).Pointer()
}

// pointerInBody returns the JSON pointer of a member of the question.
func pointerInBody(member []string) openapi.Pointer { return fault.Path(member).Pointer() }

func writeCitation(c source.Citation) openapi.Citation {
	w := openapi.Citation{
		Title: c.Title, Section: optional[string](c.Section), Trust: openapi.Trust(c.Trust.String()), Note: optional[openapi.Text](c.Note),
	}
	if c.Year != 0 {
		w.Year = &c.Year
	}
	return w
}

func writeNotes(notes []finding.Note, at pointing) openapi.Notes {
	w := make(openapi.Notes, 0, len(notes))
	for _, n := range notes {
		note := openapi.Note{Code: n.Code, Text: n.Text}
		if n.Member != nil {
			note.Pointer = pointerTo(at(n.Member))
		}
		if n.Source != (source.Citation{}) {
			note.Source = pointerTo(writeCitation(n.Source))
		}
		w = append(w, note)
	}
	return w
}

func writeFigure(f finding.Figure) openapi.Figure {
	w := openapi.Figure{
		Value: shown(f.Value.Value()), Unit: openapi.FigureUnit(f.Value.Unit().String()),
		Agent: optional[string](f.Basis.Agent), Species: optional[openapi.Species](f.Basis.Species),
		Phase: optional[openapi.Phase](f.Basis.Phase), Base: optional[openapi.LimitBase](f.Basis.Base),
	}
	if !f.Range.High.IsZero() {
		w.Low, w.High = pointerTo(shown(f.Range.Low.Value())), pointerTo(shown(f.Range.High.Value()))
	}
	return w
}

func writeFigures(figures []finding.Figure) []openapi.Figure {
	w := make([]openapi.Figure, 0, len(figures))
	for _, f := range figures {
		w = append(w, writeFigure(f))
	}
	return w
}

func writeFindings(findings []finding.Finding, at pointing) []openapi.Finding {
	w := make([]openapi.Finding, 0, len(findings))
	for _, f := range findings {
		w = append(w, writeFinding(f, at))
	}
	return w
}

func writeFinding(f finding.Finding, at pointing) openapi.Finding {
	w := openapi.Finding{
		Code: f.Code, Rulebook: optional[openapi.RulebookKey](f.Rulebook), LimitID: optional[string](f.LimitID),
		GuideID: optional[string](f.GuideID),
		Status:  openapi.FindingStatus(f.Status.String()), Stage: openapi.Stage(f.Stage.String()),
		Authority: openapi.Authority(f.Authority.String()), Subject: f.Subject, Reason: f.Reason,
		Remedy: optional[openapi.Text](f.Remedy), Source: pointerTo(writeCitation(f.Source)),
	}
	if !f.Measured.IsZero() {
		w.Measured = pointerTo(writeFigure(f.Measured))
	}
	if !f.Limit.IsZero() {
		w.Limit = &openapi.FindingLimit{
			Comparator: openapi.Comparator(f.Limit.Comparator), Value: significant(f.Limit.Value.Value(), scaleDigits),
			Unit: openapi.FigureUnit(f.Limit.Value.Unit().String()), Printed: f.Limit.Printed,
			Species: optional[openapi.Species](f.Limit.Basis.Species), Phase: optional[openapi.Phase](f.Limit.Basis.Phase),
			Base: optional[openapi.LimitBase](f.Limit.Basis.Base),
		}
	}
	if len(f.Also) > 0 {
		w.Also = writeFigures(f.Also)
	}
	for _, m := range f.Members {
		w.Pointers = append(w.Pointers, at(m))
	}
	return w
}
